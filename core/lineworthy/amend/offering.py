# SPDX-License-Identifier: MIT
"""From what is wanted to what is offered: planned on the true shapes, then proven by a second review."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Optional

from lineworthy.amend.amendment import Amendment, FiducialMark, MarkingText, ProbePad
from lineworthy.amend.fiducials import TOO_FEW, plan_fiducials
from lineworthy.amend.local_fiducials import NO_PAIR, plan_local_fiducials
from lineworthy.amend.plan import Measure, Plan, Proposal, Refusal, Wanted
from lineworthy.amend.probes import plan_ground_pad, plan_test_pads
from lineworthy.amend.proof import Proof, prove
from lineworthy.amend.texts import ANSWERED, plan_marking
from lineworthy.amend.tooling import plan_tooling_holes
from lineworthy.beside import Beside
from lineworthy.inputs import Inputs
from lineworthy.model import Board, Side
from lineworthy.review import Progress, Review, review
from lineworthy.sheet import Sheet


@dataclass(frozen=True)
class Offer:
    """What may be inserted, what may not and why, and the proof for all of it together."""

    amendments: tuple[Amendment, ...]
    refusals: tuple[Refusal, ...]
    proof: Proof


def propose(board: Board, sheet: Sheet, wanted: Wanted, measure: Measure, beside: Optional[Beside] = None) -> Proposal:
    """Places for what is wanted and missing.

    Args:
        board: the board as it is.
        sheet: limits.
        wanted: what to look for places for.
        measure: size of a text in the host's font.
        beside: what is given beside the board; the settings may say what a net is.

    Returns:
        Amendments that fit on the true shapes, and reasons for what does not fit. Nothing is proven yet: see `offer`.
    """
    plan = Plan(Inputs(board, sheet, beside or Beside()), measure)
    if wanted.tooling_holes:  # the largest first, as they find places hardest
        plan_tooling_holes(plan)
    if wanted.fiducials:
        plan_fiducials(plan)
        plan_local_fiducials(plan)
    if wanted.ground_pad:
        plan_ground_pad(plan)
    if wanted.test_pads:
        plan_test_pads(plan, wanted.test_pads)
    if wanted.revision:
        sides = (wanted.text_side,) if wanted.text_side else tuple(Side)
        plan_marking(plan, wanted, sides)
    return Proposal(tuple(plan.amendments), tuple(plan.refusals))


def offer(
    board: Board,
    sheet: Sheet,
    wanted: Wanted,
    measure: Measure,
    *,
    before: Optional[Review] = None,
    beside: Optional[Beside] = None,
    progress: Optional[Progress] = None,
) -> Offer:
    """Plans, proves, and keeps what holds; what does not comes back as a refusal with the finding it would cause.

    Args:
        board: the board as it is.
        sheet: limits.
        wanted: what to look for places for.
        measure: size of a text in the host's font.
        before: the review of the board as it is, to save doing it again.
        beside: what is given beside the board, where `before` is not given.
        progress: told before each check of the proof.
    """
    beside = before.beside if before else beside
    proposal = propose(board, sheet, wanted, measure, beside)
    if not proposal.amendments:
        return Offer((), proposal.refusals, Proof((), ()))
    before = before or review(board, sheet, beside=beside)
    proof = prove(board, sheet, proposal.amendments, measure, before=before, progress=progress)
    if not proof.new and not _idle(proposal.amendments, proof):
        return Offer(proposal.amendments, proposal.refusals, proof)
    asked = {TOO_FEW, NO_PAIR, *ANSWERED}
    while True:
        # which amendments are to blame shows in the checks that found something; what is left is proven in full
        asked |= {finding.check for finding in proof.new}
        trial = _Trial(board, sheet, measure, before, tuple(sorted(asked)))
        trial.keep(_groups(proposal.amendments))
        refusals = (*proposal.refusals, *trial.refusals)
        if not trial.kept:
            return Offer((), refusals, Proof((), ()))
        proof = prove(board, sheet, trial.kept, measure, before=before)
        if {finding.check for finding in proof.new} <= asked:
            return Offer(tuple(trial.kept), refusals, proof)


@dataclass
class _Trial:
    """Finds out which groups of amendments hold, by some checks only."""

    board: Board
    sheet: Sheet
    measure: Measure
    before: Review
    asked: tuple[str, ...]
    kept: list[Amendment] = field(default_factory=list)
    refusals: list[Refusal] = field(default_factory=list)

    def keep(self, groups: Sequence[list[Amendment]]) -> None:
        """Keeps the groups that hold with those kept so far, because two harmless things can do harm together.

        All at once if they do, otherwise one half and then the other: few of many are to blame, mostly.
        """
        more = [amendment for group in groups for amendment in group]
        together = [*self.kept, *more]
        tried = prove(self.board, self.sheet, together, self.measure, before=self.before, only=self.asked)
        if not tried.new and not _idle(together, tried):
            self.kept = together
        elif len(groups) > 1:
            self.keep(groups[: len(groups) // 2])
            self.keep(groups[len(groups) // 2 :])
        elif tried.new:
            self.refusals.append(Refusal(_titles(more), f"it would cause: {tried.new[0].message}"))
        else:
            self.refusals.append(Refusal(_titles(more), "the finding it should answer would still be there"))


def _titles(group: Sequence[Amendment]) -> str:
    return ", ".join(amendment.title for amendment in group)


def _idle(amendments: Sequence[Amendment], proof: Proof) -> bool:
    """Whether a marking or the marks of a side answer nothing; pads and holes are wanted for their own sake."""
    gone = [finding.check for finding in proof.gone]
    marks = [amendment for amendment in amendments if isinstance(amendment, FiducialMark)]
    sides = {mark.side for mark in marks if not mark.local}
    local_sides = {mark.side for mark in marks if mark.local}
    has_text = any(isinstance(amendment, MarkingText) for amendment in amendments)
    said = not has_text or bool(ANSWERED & set(gone))
    return not said or gone.count(TOO_FEW) < len(sides) or gone.count(NO_PAIR) < len(local_sides)


def _groups(amendments: Sequence[Amendment]) -> list[list[Amendment]]:
    """What is proven together: marks of a side, each text, each pad, all guide holes."""
    groups: dict[object, list[Amendment]] = {}
    for amendment in amendments:
        key: object = type(amendment)
        if isinstance(amendment, FiducialMark):
            key = (amendment.side, amendment.local)
        elif isinstance(amendment, (MarkingText, ProbePad)):
            key = amendment
        groups.setdefault(key, []).append(amendment)
    return list(groups.values())
