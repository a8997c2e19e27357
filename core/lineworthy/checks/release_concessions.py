# SPDX-License-Identifier: MIT
"""Area *release*: concessions that no longer accept anything. They ask when all other checks have answered."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Optional

from lineworthy.concessions import Concession, Matched
from lineworthy.finding import Consequence
from lineworthy.knowledge.wording import counted, listed
from lineworthy.registry import Answers, Check, check


@check("release/concession-unused")
def concession_unused(matched: Matched) -> Answers:
    """Are there concessions for findings that are not there?

    Why it matters: a list of accepted risks is read at every release. What it holds beyond the risks that are there
    hides them, and would accept one that comes back without anybody having looked at it again.
    What to do: withdraw it, if the board was mended. If the same finding is there again in another form, because the
    part or its value was changed, look at it and decide anew.
    Blind spots: a check that was not asked, or could not run in full, says nothing about its concessions.
    Source: the concession file; the practice of keeping concessions reviewed, ISO 9000 vocabulary.
    """
    yield from _told(concession_unused, matched.unused, ("accepts nothing found", "accept nothing found"))


@check("release/concession-outgrown")
def concession_outgrown(matched: Matched) -> Answers:
    """Are there findings that are graver than what was accepted?

    Why it matters: a person who accepted a question has not accepted that the job stops. What was moved or changed
    since has made it another risk, under the same name.
    What to do: look at it again: mend it, or concede it as it is now.
    Blind spots: a concession written by hand without its consequence accepts any. That a distance shrank further
    without making the finding graver is not noticed.
    Source: the concession file.
    """
    said = ("accepted something less grave", "accepted something less grave")
    yield from _told(concession_outgrown, matched.outgrown, said)


@check("release/concession-outdated")
def concession_outdated(matched: Matched) -> Answers:
    """Are there findings that were accepted for another revision of the board only?

    Why it matters: a concession holds for the revision it was given for. The finding counts again until somebody
    decides for this revision, because what made it acceptable may have changed with the board.
    What to do: decide again: mend it, or concede it for this revision.
    Blind spots: only the title block's revision is looked at.
    Source: the concession file.
    """
    by_revision: dict[str, list[Concession]] = {}
    for concession in matched.outdated:
        by_revision.setdefault(concession.revision or "", []).append(concession)
    for revision in sorted(by_revision):
        of = f"given for revision {revision}" if revision else "given for a board without revision"
        told = (f"was {of} and holds no longer", f"were {of} and hold no longer")
        yield from _told(concession_outdated, by_revision[revision], told)


@check("release/concession-expired")
def concession_expired(matched: Matched, today: Optional[date]) -> Answers:
    """Are there findings whose concession has run out?

    Why it matters: a risk accepted until a day was accepted for a reason that ends, such as stock to be used up. The
    finding counts again until somebody decides.
    What to do: mend it, or concede it anew with a new day.
    Blind spots: the day is that of the computer the review runs on, unless it is given.
    Source: the concession file.
    """
    if today is None and matched.undated:
        yield concession_expired.not_run(
            f"no day of the review, to know whether {counted(len(matched.undated), 'concession')} still holds",
            "give the day of the review (today)",
        )
    yield from _told(concession_expired, matched.expired, ("has expired", "have expired"))


def _told(item: Check, lapsed: Sequence[Concession], said: tuple[str, str]) -> Answers:
    """One note for all: the findings they were for count, each with its own consequence."""
    if lapsed:
        names = listed(f"{c.check} ({c.name}, {c.expires or c.date:%Y-%m-%d})" for c in lapsed)
        yield item.finding(
            Consequence.NOTE,
            f"{counted(len(lapsed), 'concession')} {said[len(lapsed) > 1]}: {names}",
            detail="\n".join(sorted(" ".join(c.key) for c in lapsed)),
        )


CHECKS = (concession_unused, concession_outgrown, concession_outdated, concession_expired)
