# SPDX-License-Identifier: MIT
"""The review: binds inputs to checks, runs them, sorts what they answer.

A review is a pure function of its inputs: the same inputs give the same findings in the same order.
"""

from __future__ import annotations

import difflib
import time
import traceback
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import Callable, Optional

from lineworthy.beside import Beside
from lineworthy.checks import CHECKS
from lineworthy.collector import uncollected
from lineworthy.concessions import UNMATCHED, Concession, Matched, match
from lineworthy.errors import UnknownCheckError
from lineworthy.finding import Consequence, Finding, NotRun
from lineworthy.inputs import Inputs
from lineworthy.knowledge.wording import counted
from lineworthy.model import Board
from lineworthy.plans.supply import SupplyRun
from lineworthy.registry import AREAS, Check
from lineworthy.sheet import Sheet, built_in

Progress = Callable[[int, int, str], None]
"""Called as (checks done, checks in all, id of the check that starts)."""


@dataclass(frozen=True)
class Crash:
    """A check that failed by a fault of ours; the rest of the review stands."""

    check: str
    error: str
    trace: str = field(repr=False)


@dataclass(frozen=True)
class Review:
    """The answer to "can this board go to production?".

    Attributes:
        findings: those that count, by area, then gravest first, in a stable order.
        conceded: those a person has accepted, in the same order, each with the concession; they count nowhere.
        not_run: what could not be looked at, and why.
        crashed: checks that failed by a fault of ours.
        checks: ids of the checks that were asked.
        beside: what was given besides board and sheet.
        revision: the revision the board states, empty when it states none.
        matched: all findings in their common order set against the concessions.
        supply: the supply run behind the findings on supply; None when those were not asked for, or lacked something.
        seconds: time each check took, by id; not part of the comparison of two reviews.
    """

    board: Board
    sheet: Sheet
    findings: tuple[Finding, ...]
    not_run: tuple[NotRun, ...]
    crashed: tuple[Crash, ...]
    checks: tuple[str, ...]
    conceded: tuple[tuple[Finding, Concession], ...] = ()
    beside: Beside = field(default_factory=Beside, compare=False, repr=False)
    revision: str = ""
    matched: Matched = UNMATCHED
    supply: Optional[SupplyRun] = field(default=None, compare=False, repr=False)
    seconds: dict[str, float] = field(default_factory=dict, compare=False, repr=False)

    def count(self, consequence: Consequence, area: Optional[str] = None) -> int:
        """Findings of one consequence, in one area or in all."""
        return sum(f.consequence is consequence and area in (None, f.area) for f in self.findings)

    @property
    def every(self) -> tuple[tuple[Finding, Optional[Concession]], ...]:
        """All findings in their common order, those conceded with the concession."""
        everything = [*((finding, None) for finding in self.findings), *self.conceded]
        if self.conceded:
            order = _order(self.checks)
            everything.sort(key=lambda pair: order(pair[0]))
        return tuple(everything)

    @property
    def verdict(self) -> str:
        """One line: whether a factory would start, ask, or stop, and how much of it a person has accepted."""
        said = self._verdict()
        return f"{said[:-1]}; {len(self.conceded)} conceded." if self.conceded else said

    def _verdict(self) -> str:
        holds, queries, notes = (self.count(c) for c in Consequence)
        if self.crashed:
            return f"Incomplete: {counted(len(self.crashed), 'check')} failed and must be run again."
        if holds:
            more = counted(queries, "more query", "more queries")
            return f"On hold: {counted(holds, 'finding')} would stop the job, {more}."
        if queries:
            return f"Expect questions: {counted(queries, 'query', 'queries')}, nothing that stops the job."
        if notes:
            return f"Lineworthy: nothing stops or delays the job, {counted(notes, 'note')}."
        return "Lineworthy: nothing found."


@uncollected()
def review(
    board: Board,
    sheet: Optional[Sheet] = None,
    *,
    beside: Optional[Beside] = None,
    only: Sequence[str] = (),
    skip: Sequence[str] = (),
    strict: bool = False,
    progress: Optional[Progress] = None,
    checks: Sequence[Check] = CHECKS,
) -> Review:
    """Reviews a board.

    Args:
        board: the board.
        sheet: limits; the built-in standard sheet when None.
        beside: what else was given: parts list, offers, release folder, settings.
        only: check ids or areas to restrict to; all when empty.
        skip: check ids or areas to leave out; wins over `only`.
        strict: let an exception in a check through instead of reporting it as a crash.
        progress: told before each check.
        checks: the checks to choose from.

    Raises:
        UnknownCheckError: `only` or `skip` names no check and no area.
    """
    inputs = Inputs(board, sheet or built_in(), beside or Beside())
    asked = select(checks, only, skip)
    run = _Run(strict, [], [], [], {})
    for done, item in enumerate(_early(asked)):
        if progress:
            progress(done, len(asked), item.id)
        run.ask(item, inputs)
    return _concluded(run, inputs, asked, checks, progress)


def reconsider(before: Review, beside: Beside, checks: Sequence[Check] = CHECKS) -> Review:
    """The same review with other concessions on file or on another day; only what these raise is asked again.

    Args:
        before: a review.
        beside: what was given to it, with other concessions.
        checks: the checks `before` chose from.
    """
    asked = [item for item in checks if item.id in before.checks]
    late = {item.id for item in _late(asked)}
    run = _Run(
        False,
        [finding for finding, _ in before.every if finding.check not in late],
        [item for item in before.not_run if item.check not in late],
        [crash for crash in before.crashed if crash.check not in late],
        dict(before.seconds),
    )
    return _concluded(run, Inputs(before.board, before.sheet, beside), asked, checks, None)


def against(
    before: Review, board: Board, progress: Optional[Progress] = None, only: Sequence[str] = ()
) -> tuple[tuple[Finding, ...], tuple[Finding, ...]]:
    """All that was found before, and all that is found on a changed state of the same board, by checks that compare.

    Left out are what was released and the concessions: they are about the board as it was, and any change contradicts
    them.

    Args:
        before: the review of the board as it was.
        board: the board as it would be.
        progress: told before each check.
        only: ids of checks to restrict to; all when empty.
    """
    beside = replace(before.beside, folder=None, released=None, concessions=())
    now = review(board, before.sheet, beside=beside, only=only, progress=progress)
    left = {item.check for item in now.not_run} - {item.check for item in before.not_run}
    left |= {item.id for item in _late(CHECKS)}
    left |= {item.id for item in CHECKS if only and item.id not in only}
    was = tuple(finding for finding, _ in before.every if finding.check not in left)
    return was, tuple(finding for finding in now.findings if finding.check not in left)


@dataclass
class _Run:
    """What the checks have answered so far."""

    strict: bool
    findings: list[Finding]
    not_run: list[NotRun]
    crashed: list[Crash]
    seconds: dict[str, float]

    def ask(self, item: Check, inputs: Inputs) -> None:
        """Asks one check."""
        start = time.perf_counter()
        try:
            for answer in item.ask(**{name: getattr(inputs, name) for name in item.inputs}):
                (self.not_run if isinstance(answer, NotRun) else self.findings).append(answer)  # type: ignore[arg-type]
        except Exception as error:  # one broken check must not take the other answers with it
            if self.strict:
                raise
            self.crashed.append(Crash(item.id, f"{type(error).__name__}: {error}", traceback.format_exc()))
        self.seconds[item.id] = time.perf_counter() - start

    def undecided(self, asked: Sequence[Check], checks: Sequence[Check]) -> set[str]:
        """Checks whose silence says nothing: not asked, or not in full."""
        left = {item.id for item in checks} - {item.id for item in asked}
        return left | {item.check for item in self.not_run} | {crash.check for crash in self.crashed}


def _concluded(
    run: _Run, inputs: Inputs, asked: Sequence[Check], checks: Sequence[Check], progress: Optional[Progress]
) -> Review:
    """Takes the concessions into account, asks the checks that are about them, and sorts."""
    crashed = {crash.check for crash in run.crashed}
    # one that could not be made has crashed every check that asks for it, and must not take the rest with it
    supply = inputs.supply if any("supply" in item.inputs and item.id not in crashed for item in asked) else None
    accepted, today, revision = inputs.beside.concessions, inputs.today, inputs.printed.stated_revision
    late = _late(asked)
    # what was accepted of the checks still to come is not known to be unused yet
    undecided = run.undecided(asked, checks) | {item.id for item in late}
    inputs = replace(inputs, matched=match(run.findings, accepted, revision, today, undecided))
    for done, item in enumerate(late, len(asked) - len(late)):
        if progress:
            progress(done, len(asked), item.id)
        run.ask(item, inputs)
    run.findings.sort(key=_order([item.id for item in checks]))
    matched = match(run.findings, accepted, revision, today, run.undecided(asked, checks))
    pairs = list(zip(run.findings, matched.conceded))
    return Review(
        board=inputs.board,
        sheet=inputs.sheet,
        findings=tuple(finding for finding, concession in pairs if concession is None),
        not_run=tuple(run.not_run),
        crashed=tuple(run.crashed),
        checks=tuple(item.id for item in asked),
        conceded=tuple((finding, concession) for finding, concession in pairs if concession is not None),
        beside=inputs.beside,
        revision=revision,
        matched=matched,
        supply=supply,
        seconds=run.seconds,
    )


_MATCHED = "matched"
"""The input that only checks about concessions ask for: it is there when all others have run."""


def _early(checks: Iterable[Check]) -> list[Check]:
    return [item for item in checks if _MATCHED not in item.inputs]


def _late(checks: Iterable[Check]) -> list[Check]:
    return [item for item in checks if _MATCHED in item.inputs]


def _order(checks: Iterable[str]) -> Callable[[Finding], tuple[int, int, int, str, str]]:
    """How findings are sorted: by area, then gravest first, then as the checks are."""
    place = {check_id: n for n, check_id in enumerate(checks)}
    return lambda f: (
        AREAS.index(f.area),
        f.consequence.rank,
        place.get(f.check, len(place)),
        f.message,
        f.fingerprint,
    )


def select(checks: Iterable[Check], only: Sequence[str], skip: Sequence[str]) -> list[Check]:
    """The checks an ``--only`` and a ``--skip`` list leave, in their own order."""
    known = list(checks)
    names = {item.id for item in known} | {item.area for item in known} | set(AREAS)
    for name in (*only, *skip):
        if name not in names:
            raise UnknownCheckError(f"no check or area is called {name!r}; {_nearest(name, names)}")
    return [c for c in known if (not only or {c.id, c.area} & set(only)) and not {c.id, c.area} & set(skip)]


def find(check_id: str, checks: Sequence[Check] = CHECKS) -> Check:
    """The check with this id; UnknownCheckError names the nearest one."""
    for item in checks:
        if item.id == check_id:
            return item
    raise UnknownCheckError(f"no check is called {check_id!r}; {_nearest(check_id, {c.id for c in checks})}")


def _nearest(name: str, names: Iterable[str]) -> str:
    near = difflib.get_close_matches(name.casefold(), sorted(names), n=1)
    return f"nearest is {near[0]!r}" if near else f"areas are {', '.join(AREAS)}, 'lineworthy explain' lists the checks"
