# SPDX-License-Identifier: MIT
"""What the files of a release say about themselves: one revision, one moment, one program, and the board's."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from datetime import datetime, timedelta
from pathlib import PurePosixPath
from typing import Optional

from lineworthy.finding import Consequence
from lineworthy.intake.folder import Header
from lineworthy.knowledge.printed import Printed
from lineworthy.knowledge.revisions import read_revisions
from lineworthy.knowledge.wording import counted, listed
from lineworthy.plans.agreement import NO_FOLDER, Agreement
from lineworthy.registry import Answers, check

APART = timedelta(hours=1)
"""Writing a release takes minutes; a file this much older than the newest was made on another occasion (common
practice, no source)."""

SLACK = timedelta(minutes=2)
"""Clocks of a file server and of the program that writes into the file need not agree to the second."""

_UNSET = re.compile(r"(?:rev(?:ision)?)?[?\s._-]*\Z", re.IGNORECASE)


@check("release/revision-disagrees")
def revision_disagrees(agreement: Optional[Agreement], printed: Printed) -> Answers:
    """Do the files of the release name another revision than the board, or than each other?

    Why it matters: the factory files the job under one of them. A repeat order then fetches the wrong one.
    What to do: set the revision in the title block, then write all files again.
    Blind spots: files that name no revision are passed over, as many have nowhere to say it. Names of files and of the
    folder are read only where they spell out a revision.
    Source: Gerber layer format, attribute .ProjectId, 5.6.8 (as cited); that marking, title block and file names agree
    is common practice, no source.
    """
    if agreement is None:
        yield revision_disagrees.not_run(*NO_FOLDER)
        return
    said = _by_revision(_own(agreement))
    board = printed.stated_revision
    if not said:
        return
    home = board if any(_same(board, value) for value in said) else max(said, key=lambda value: len(said[value]))
    for value, names in sorted(said.items()):
        if not _same(value, home):
            yield revision_disagrees.finding(
                Consequence.HOLD,
                f"{_files(names)} revision {value!r}, the other files {_is(home)}",
                detail=f"among {value}",
            )
    if board and not _same(home, board):
        yield revision_disagrees.finding(
            Consequence.HOLD, f"The files say revision {home!r}, the title block {board!r}", detail="title block"
        )
    elif not board and not _UNSET.match(home):
        yield revision_disagrees.finding(
            Consequence.QUERY, f"The files say revision {home!r}, the title block none", detail="no title block"
        )


def _by_revision(headers: Mapping[str, Header]) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for name, header in headers.items():
        if header.project or header.revision:
            found.setdefault(header.revision, []).append(name)
    return found


def _same(a: str, b: str) -> bool:
    """Whether two revisions are one, or both are none: an empty one is written as ``rev?``."""
    if _UNSET.match(a) and _UNSET.match(b):
        return True
    return a.strip().casefold() == b.strip().casefold()


def _is(value: str) -> str:
    return "none" if _UNSET.match(value) else repr(value)


def _files(names: list[str]) -> str:
    return f"{listed(names)} {'says' if len(names) == 1 else 'say'}"


@check("release/name-disagrees")
def name_disagrees(agreement: Optional[Agreement], printed: Printed) -> Answers:
    """Does the name of the folder or of a file spell out another revision than the board has?

    Why it matters: people go by names. A folder called rev B with files of rev C gets ordered as rev B.
    What to do: rename the folder or file, or set the revision in the title block and write the files again.
    Blind spots: only names that say revision or version before it are read; a bare letter or number is not.
    Source: common practice, no source.
    """
    if agreement is None:
        yield name_disagrees.not_run(*NO_FOLDER)
        return
    board = printed.stated_revision
    if not board:
        return
    wrong: dict[str, list[str]] = {}
    for name in (agreement.folder.name, *agreement.folder.file_names):
        for value in _spelt_out(PurePosixPath(name).name, agreement.board.name):
            if not _alike(value, board):
                wrong.setdefault(value, []).append(name)
    for value, names in sorted(wrong.items()):
        yield name_disagrees.finding(
            Consequence.QUERY,
            f"named revision {value!r}: {listed(names)}; the title block says {board!r}",
            detail=value,
        )


def _spelt_out(name: str, board: str) -> Iterator[str]:
    """Revisions a name says in words, apart from what the board's own name holds."""
    rest = re.sub(re.escape(board), " ", name, flags=re.IGNORECASE)
    rest = re.sub(r"\.[A-Za-z]\w{0,6}\Z", "", rest)
    for revision in read_revisions(re.sub(r"[_-]+", " ", rest)):
        if revision.sure and re.match(r"(?i)rev|ver|v\.?\s*\d", revision.quote):
            yield revision.value


def _alike(a: str, b: str) -> bool:
    """``1`` and ``v1.0`` and ``01`` are one."""
    plain = [re.sub(r"^(?:rev|ver|v)?[ ._-]*0*(?=\d)|(?:[._]0)+\Z", "", text.strip().casefold()) for text in (a, b)]
    return plain[0] == plain[1] or _same(a, b)


@check("release/software-mixed")
def software_mixed(agreement: Optional[Agreement]) -> Answers:
    """Were the files written by different programs, or versions of one?

    Why it matters: another version fills pours and draws lettering a little differently, and a file of another version
    is mostly a file from another day.
    What to do: write all files again with one program.
    Blind spots: files that do not name their program are passed over.
    Source: Gerber layer format, attribute .GenerationSoftware, 5.6 (as cited); common practice, no source.
    """
    if agreement is None:
        yield software_mixed.not_run(*NO_FOLDER)
        return
    found: dict[str, list[str]] = {}
    shown: dict[str, str] = {}
    for name, header in _own(agreement).items():
        if header.software and name not in agreement.differing:
            found.setdefault(header.software.casefold(), []).append(name)
            shown.setdefault(header.software.casefold(), header.software)
    if len(found) < 2:
        return
    home = max(sorted(found), key=lambda software: len(found[software]))
    for software, names in sorted(found.items()):
        if software != home:
            yield software_mixed.finding(
                Consequence.QUERY,
                f"{listed(names)} {_was(names)} written by {shown[software]}, the other files by {shown[home]}",
                detail=software,
            )


@check("release/dates-apart")
def dates_apart(agreement: Optional[Agreement]) -> Answers:
    """Are files of the release older than the others, or than the board?

    Why it matters: a file from before the last change shows the board as it was.
    What to do: write all files again, in one go, from the saved board.
    Blind spots: only files that state their time with its zone are compared, and tables do not. When the board file was
    saved is taken from the file system, unless no file of the release is as old there as it says: then all of them were
    copied or checked out. A copy of the board alone looks newer than it is, so that all files being older is a note.
    Source: Gerber layer format, attribute .CreationDate, 5.6 (as cited); the hour is common practice, no source.
    """
    if agreement is None:
        yield dates_apart.not_run(*NO_FOLDER)
        return
    headers = {name: header for name, header in _own(agreement).items() if name not in agreement.differing}
    made = {name: when for name, header in headers.items() if (when := header.when) is not None}
    if not made:
        return
    newest = _usual(made.values())
    saved = agreement.folder.saved
    late = [name for name in made if abs(made[name] - newest) > APART]
    before = [name for name in made if saved is not None and made[name] < saved - SLACK]
    if late:
        times = listed(sorted({_said(made[name]) for name in late}))
        old = " before the board was last saved" if set(late) <= set(before) and set(before) != set(made) else ""
        yield dates_apart.finding(
            Consequence.QUERY,
            f"{listed(late)} {_was(late)} made {times}{old}, the other files {_said(newest)}",
            detail=listed(late, 99),
        )
    elif before and saved is not None:
        all_of_them = len(before) == len(made)
        names = "all dated files" if all_of_them else listed(before)
        yield dates_apart.finding(
            Consequence.NOTE if all_of_them else Consequence.QUERY,
            f"{names} {_was(before)} made {_said(min(made[name] for name in before))}, before the board was last saved"
            f" {_said(saved)}",
            detail="board",
        )
    undated = [name for name, header in headers.items() if header.created and header.when is None]
    if undated:
        yield dates_apart.finding(
            Consequence.NOTE,
            f"{counted(len(undated), 'file')} with a time of creation that is misspelt or lacks its zone: "
            + listed(undated),
            detail="undated",
        )


def _usual(times: Iterable[datetime]) -> datetime:
    """The moment most files were made at, within `APART`; of equals the latest."""
    ordered = sorted(times, reverse=True)
    count = Counter({moment: sum(abs(other - moment) <= APART for other in ordered) for moment in ordered})
    return max(ordered, key=lambda moment: (count[moment], moment))


def _own(agreement: Agreement) -> dict[str, Header]:
    return {name: header for name, header in agreement.folder.headers.items() if name not in agreement.strangers}


def _said(moment: datetime) -> str:
    return moment.strftime("%Y-%m-%d %H:%M UTC")


def _was(names: list[str]) -> str:
    return "was" if len(names) == 1 else "were"


CHECKS = (revision_disagrees, name_disagrees, software_mixed, dates_apart)
