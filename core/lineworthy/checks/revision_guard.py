# SPDX-License-Identifier: MIT
"""What was released once keeps its revision: is this board still the one that was released?"""

from __future__ import annotations

from typing import Optional

from lineworthy.finding import Consequence
from lineworthy.knowledge.printed import Printed
from lineworthy.knowledge.wording import counted
from lineworthy.model import Board
from lineworthy.registry import Answers, check
from lineworthy.release.changes import changes_of
from lineworthy.release.manifest import Manifest, revision_of
from lineworthy.release.record import record

TOLD = 5
"""Changes named in the message; all of them are among the places."""


@check("release/changed-since-released")
def changed_since_released(board: Board, printed: Printed, released: Optional[Manifest]) -> Answers:
    """Does the board differ from what was released under the same revision?

    Why it matters: two different boards with one revision cannot be told apart on a shelf, in a repair or in a recall;
    the factory builds whichever files it finds. Nobody sees which board has which fault.
    What to do: give the changed board the next revision, on the board and in the title block; or take the change back.
    Blind spots: compared is what is made, not how it is drawn; a part's fields count only where they say what to buy.
    A pour filled again by another version of the editor differs by a hair; that alone is a query.
    Source: the manifest written at the release. That a changed product takes a new revision: configuration management,
    ISO 10007 (from memory).
    """
    if released is None:
        yield changed_since_released.not_run(
            "no manifest of an earlier release",
            "write one with 'lineworthy release ... --manifest', and name it as 'released' in the project's settings",
        )
        return
    if record(board).digest == released.digest or revision_of(printed) != released.revision:
        return
    named = f"revision {released.revision}" if released.revision else "no revision"
    since = f" on {released.released}" if released.released else ""
    if released.record is None:
        yield changed_since_released.finding(
            Consequence.HOLD,
            f"the board differs from what was released as {named}{since}; the record that would tell how is missing",
        )
        return
    found, origin = changes_of(released.record, board)
    told = "; ".join(change.message for change in found[:TOLD])
    more = f"; and {len(found) - TOLD} more" if len(found) > TOLD else ""
    places = [place for change in found if (place := change.place(origin)) is not None]
    yield changed_since_released.finding(
        Consequence.QUERY if all(change.small for change in found) else Consequence.HOLD,
        f"{counted(len(found), 'change')} since this was released as {named}{since}: {told}{more}",
        places=places,
        detail=released.digest,
    )


CHECKS = (changed_since_released,)
