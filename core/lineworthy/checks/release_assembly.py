# SPDX-License-Identifier: MIT
"""What the assembly files of a release say: every part once, in its place, on its side, turned as it is."""

from __future__ import annotations

from collections.abc import Sequence
from math import hypot
from typing import Optional

from lineworthy.finding import Consequence, Place
from lineworthy.intake.parts_list import PartsList
from lineworthy.knowledge.wording import counted, listed, mm, natural
from lineworthy.model import Mount, Part, Side
from lineworthy.plans.agreement import NO_FOLDER, Agreement
from lineworthy.plans.placement_match import PLACE_MM, TURN_DEG, Couple
from lineworthy.registry import Answers, check

_NO_PLACEMENT = ("no placement file in the release folder", "write one from the board into the folder")
_NO_LIST = ("no parts list in the release folder", "put the parts list that the factory gets into the folder")


@check("release/placement-incomplete")
def placement_incomplete(agreement: Optional[Agreement]) -> Answers:
    """Does the placement file lack parts, name parts the board does not have, or name one twice?

    Why it matters: a part that is not in the file does not get placed, and is noticed at the test.
    What to do: write the placement file again from the saved board.
    Blind spots: parts marked as not to be placed are not expected. Files that leave out all parts with leads, or all
    that are not surface parts, are taken as meant.
    Source: the board itself; that references agree is common practice, no source.
    """
    if agreement is None or not agreement.folder.placements:
        yield placement_incomplete.not_run(*(NO_FOLDER if agreement is None else _NO_PLACEMENT))
        return
    match = agreement.placement
    if match.missing:
        yield placement_incomplete.finding(
            Consequence.QUERY,
            f"{_parts(match.missing)} not in the placement file: {listed(part.reference for part in match.missing)}",
            items=match.missing,
            places=_at(match.missing),
            detail="missing",
        )
    for side in match.missing_sides:
        yield placement_incomplete.finding(
            Consequence.QUERY, f"the placement file places nothing on the {side.value}", detail=side.value
        )
    if match.unknown:
        names = listed(placed.reference for placed in match.unknown)
        yield placement_incomplete.finding(
            Consequence.QUERY,
            f"{counted(len(match.unknown), 'line')} of the placement file for parts the board does not have: {names}",
            detail="unknown",
        )
    if match.repeated:
        yield placement_incomplete.finding(
            Consequence.QUERY, f"more than once in the placement file: {listed(match.repeated)}", detail="repeated"
        )


@check("release/placement-not-fitted")
def placement_not_fitted(agreement: Optional[Agreement]) -> Answers:
    """Does the placement file place parts that are not to be fitted?

    Why it matters: the machine places what its file says. A part that was left out for a reason is then there.
    What to do: write the placement file without do-not-fit parts.
    Blind spots: variants that only the parts list knows are not known here.
    Source: the board itself; common practice, no source.
    """
    if agreement is None or not agreement.folder.placements:
        yield placement_not_fitted.not_run(*(NO_FOLDER if agreement is None else _NO_PLACEMENT))
        return
    parts = [couple.part for couple in agreement.placement.not_fitted]
    if parts:
        yield placement_not_fitted.finding(
            Consequence.QUERY,
            f"{_parts(parts)} marked as do-not-fit and placed all the same: {listed(part.reference for part in parts)}",
            items=parts,
            places=_at(parts),
        )


@check("release/placement-differs")
def placement_differs(agreement: Optional[Agreement]) -> Answers:
    """Does the placement file put parts elsewhere, on the other side, or turned otherwise than the board?

    Why it matters: machines place where the file says; parts turned by 180 degrees look right in a row of others.
    What to do: write the placement file again from the saved board, and do not edit it by hand.
    Blind spots: the file's origin, mirroring of the bottom and way of counting turns are taken from what most of its
    parts agree on. Where most packages are turned from another zero, a package with one part cannot be judged. A place
    may be the land pattern's origin or the middle of its lands or body, within 0.05 mm.
    Source: the board itself; IPC-7351B and IEC 61188-7 know several zero orientations (from memory).
    """
    if agreement is None or not agreement.folder.placements:
        yield placement_differs.not_run(*(NO_FOLDER if agreement is None else _NO_PLACEMENT))
        return
    match = agreement.placement
    sides = match.wrong_side
    if match.couples and len(sides) == len(match.couples) and len(sides) > 2:
        yield placement_differs.finding(
            Consequence.HOLD, f"the placement file puts all {len(sides)} parts on the other side", detail="sides"
        )
    elif sides:
        parts = [couple.part for couple in sides]
        where = listed(f"{c.part.reference} is on the {c.part.side.value}" for c in sides)
        yield placement_differs.finding(
            Consequence.HOLD,
            f"{_parts(parts)} placed on the wrong side: {where}",
            items=parts,
            places=_at(parts),
            detail="side",
        )
    if match.convention.share < 0.5 and match.couples:
        yield placement_differs.finding(
            Consequence.HOLD,
            f"the placement file fits this board nowhere: {counted(len(match.displaced), 'part')} of "
            f"{len(match.couples)} are elsewhere",
            detail="nowhere",
        )
        return
    yield from _single_parts(match.displaced, match.wrong_turn)


def _single_parts(displaced: Sequence[Couple], turned: Sequence[Couple]) -> Answers:
    if displaced:
        ordered = sorted(displaced, key=lambda couple: (-couple.off, natural(couple.part.reference)))
        parts = [couple.part for couple in ordered]
        yield placement_differs.finding(
            Consequence.HOLD,
            f"{_parts(parts)} placed elsewhere: "
            + listed(f"{couple.part.reference} by {mm(couple.off)} mm" for couple in ordered),
            items=parts,
            places=_at(parts),
            measured=ordered[0].off,
            limit=PLACE_MM,
            detail="place",
        )
    if turned:
        ordered = sorted(turned, key=lambda couple: natural(couple.part.reference))
        parts = [couple.part for couple in ordered]
        yield placement_differs.finding(
            Consequence.HOLD,
            f"{_parts(parts)} turned otherwise: "
            + listed(f"{couple.part.reference} by {couple.turn or 0:.4g} degrees" for couple in ordered),
            items=parts,
            places=_at(parts),
            measured=max(abs(couple.turn or 0) for couple in ordered),
            limit=TURN_DEG,
            unit="degrees",
            detail="turn",
        )


@check("release/placement-convention")
def placement_convention(agreement: Optional[Agreement]) -> Answers:
    """Is the placement file in another unit, from another origin, or turned otherwise than the plots beside it?

    Why it matters: the factory has to find out by trial how the file is meant; a mirrored or turned bottom side is
    found on the first board.
    What to do: write plots, drill and placement from one origin, in mm, and say in the file what is unusual.
    Blind spots: a bottom with mirrored x is a usual convention and is not reported; nor is an origin that drill file
    and plots share. Conventions are worked out from what most parts agree on.
    Source: common practice, no source.
    """
    if agreement is None or not agreement.folder.placements:
        yield placement_convention.not_run(*(NO_FOLDER if agreement is None else _NO_PLACEMENT))
        return
    match = agreement.placement
    found = match.convention
    if not match.couples or found.share < 0.5:
        return
    if found.scale_name:
        stated = {file.unit for file in agreement.folder.placements}
        said = f", it says {listed(stated)}" if any(stated) else ", and does not say so"
        yield placement_convention.finding(
            Consequence.QUERY, f"the placement file counts in {found.scale_name}{said}", detail="unit"
        )
    home = agreement.plots.origin
    for side, origin in found.origins[:1]:
        if side is Side.TOP or not found.mirrored:
            off = (origin[0] - home[0], origin[1] - home[1])
            if hypot(*off) > PLACE_MM:
                yield placement_convention.finding(
                    Consequence.NOTE,
                    f"the placement file counts from another origin than the plots: by {off[0]:.3f}, {off[1]:.3f} mm",
                    detail="origin",
                )
    if found.bottom_turn:
        yield placement_convention.finding(
            Consequence.NOTE, f"the placement file gives parts on the bottom {found.bottom_turn}", detail="turn"
        )
    if match.other_zeros:
        yield placement_convention.finding(
            Consequence.NOTE,
            "the placement file counts the turns of most packages from another zero than the board",
            detail="zeros",
        )


@check("release/parts-list-differs")
def parts_list_differs(agreement: Optional[Agreement]) -> Answers:
    """Does the parts list in the folder name other parts than the board has fitted?

    Why it matters: what is not on the list is not bought; what is on it and not on the board is bought for nothing,
    or is a part somebody thinks is there.
    What to do: write the list again from the same state of the design as the board.
    Blind spots: only references are compared here, not what is bought for them. Parts of the board that are marked as
    not on the list (holes, marks, test lands) are not expected.
    Source: common practice, no source.
    """
    if agreement is None or not agreement.folder.parts_lists:
        yield parts_list_differs.not_run(*(NO_FOLDER if agreement is None else _NO_LIST))
        return
    for parts in agreement.folder.parts_lists:
        yield from _list_against_board(agreement, parts)


def _list_against_board(agreement: Agreement, parts: PartsList) -> Answers:
    board = agreement.board
    known = {part.reference for part in board.parts}
    wanted = [part for part in board.parts if part.fitted and part.in_parts_list and not part.board_only and part.pads]
    missing = [part for part in wanted if part.reference not in parts.by_reference and part.mount is not Mount.OTHER]
    if missing:
        yield parts_list_differs.finding(
            Consequence.HOLD,
            f"{parts.source}: {_parts(missing)} of the board not on it: {listed(part.reference for part in missing)}",
            items=missing,
            places=_at(missing),
            detail=f"{parts.source} missing",
        )
    unknown = [name for name in parts.fitted if name not in known]
    if unknown:
        yield parts_list_differs.finding(
            Consequence.QUERY,
            f"{parts.source}: {counted(len(unknown), 'reference')} the board does not have: {listed(unknown)}",
            detail=f"{parts.source} unknown",
        )
    against = [part for part in board.parts if not part.fitted and part.reference in parts.fitted]
    against += [part for part in wanted if part.reference in parts.not_fitted]
    if against:
        yield parts_list_differs.finding(
            Consequence.QUERY,
            f"{parts.source}: {_parts(against)} fitted on one and not on the other: "
            + listed(part.reference for part in against),
            items=against,
            places=_at(against),
            detail=f"{parts.source} fitted",
        )


def _parts(parts: Sequence[Part]) -> str:
    return f"{counted(len(parts), 'part')} {'is' if len(parts) == 1 else 'are'}"


def _at(parts: Sequence[Part]) -> list[Place]:
    return [Place(part.at, part.side, part.reference) for part in parts[:12]]


CHECKS = (placement_incomplete, placement_not_fitted, placement_differs, placement_convention, parts_list_differs)
