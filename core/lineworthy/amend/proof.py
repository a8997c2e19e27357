# SPDX-License-Identifier: MIT
"""The proof: the amended board, reviewed again. What was found must be gone, and nothing new appear."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Optional, Union

from lineworthy.amend.amendment import Amendment, FiducialMark, MarkingText, ProbePad, ToolingHole
from lineworthy.amend.plan import Measure
from lineworthy.amend.pours import POUR_GAP_MM, pulled_back, touching
from lineworthy.amend.probes import MASK_MARGIN_MM
from lineworthy.amend.texts import text_box
from lineworthy.finding import Consequence, Finding
from lineworthy.model import (
    Board,
    Hole,
    Layer,
    LayerKind,
    Marking,
    Mount,
    Pad,
    PadKind,
    PadRole,
    PadShape,
    Part,
    Side,
)
from lineworthy.review import Progress, Review, against, review
from lineworthy.shapes import Point, disc
from lineworthy.sheet import Sheet


@dataclass(frozen=True)
class Proof:
    """What inserting changes in the review: findings that go, and findings that come (none, or it is not offered).

    A finding of the same check that is no graver than one that went, and is about less, did not come: it is what is
    left of that. So is a note where a hold of the same area went: the job starts, and somebody has a look.
    """

    gone: tuple[Finding, ...]
    new: tuple[Finding, ...]

    @property
    def holds(self) -> bool:
        """Whether nothing new appears."""
        return not self.new


def prove(
    board: Board,
    sheet: Sheet,
    amendments: Sequence[Amendment],
    measure: Measure,
    *,
    before: Optional[Review] = None,
    progress: Optional[Progress] = None,
    only: Sequence[str] = (),
) -> Proof:
    """Reviews the board with the amendments in it.

    Args:
        board: the board as it is.
        sheet: limits.
        amendments: what would be inserted.
        measure: size of a text.
        before: the review of the board as it is, to save doing it again.
        progress: told before each check.
        only: ids of checks to restrict to, for a first look; all when empty.
    """
    old, new = against(before or review(board, sheet), amended(board, amendments, measure), progress, only)
    went, came = _only_in(old, new), _only_in(new, old)
    left: list[Finding] = []
    holds = {(f.area, f.consequence) for f in went}
    for finding in came:
        source = next(
            (f for f in went if f.check == finding.check and f.consequence.rank <= finding.consequence.rank), None
        )
        eased = finding.consequence is Consequence.NOTE and (finding.area, Consequence.HOLD) in holds
        if source is None:
            left += [] if eased else [finding]
        elif finding.consequence is source.consequence and len(finding.places) >= len(source.places):
            went.remove(source)  # as grave as before and about no less: nothing is gained
    return Proof(tuple(went), tuple(left))


def _only_in(some: Iterable[Finding], others: Iterable[Finding]) -> list[Finding]:
    known = {(f.check, f.fingerprint, f.consequence) for f in others}
    return [f for f in some if (f.check, f.fingerprint, f.consequence) not in known]


def amended(board: Board, amendments: Sequence[Amendment], measure: Measure) -> Board:
    """The board as it will be read with the amendments inserted and its pours filled again."""
    parts: list[Part] = []
    markings: list[Marking] = []
    discs: dict[int, list[tuple[Point, float]]] = {}
    for amendment in amendments:
        if isinstance(amendment, MarkingText):
            markings.append(_marking(board, amendment, measure))
            continue
        parts.append(_part(board, amendment))
        layers, radius, net = _keeps_off(board, amendment)
        for layer in layers:
            for area in touching(board, layer, amendment.at, radius, net):
                discs.setdefault(id(area), []).append((amendment.at, radius))
    return replace(
        board,
        parts=(*board.parts, *parts),
        markings=(*board.markings, *markings),
        # all at once: to draw a pour again takes the longer the larger it is, however little is taken out of it
        areas=tuple(pulled_back(area, *discs[id(area)]) if id(area) in discs else area for area in board.areas),
    )


def overrun(board: Board, amendments: Sequence[Amendment]) -> bool:
    """Whether pours of other nets still run through what was inserted: nobody has filled them again yet."""
    lands = [amendment for amendment in amendments if not isinstance(amendment, MarkingText)]
    return any(
        touching(board, layer, land.at, land.diameter / 2, net)
        for land in lands
        for layers, _, net in (_keeps_off(board, land),)
        for layer in layers
    )


def _keeps_off(board: Board, amendment: Amendment) -> tuple[tuple[str, ...], float, str]:
    """Layers on which pours give way, how far, and the net whose pours need not."""
    if isinstance(amendment, FiducialMark):
        return (board.copper_on(amendment.side),), amendment.opening / 2, ""
    if isinstance(amendment, ProbePad):
        return (board.copper_on(amendment.side),), amendment.diameter / 2 + POUR_GAP_MM, amendment.net
    assert isinstance(amendment, ToolingHole)
    return board.copper_layers, amendment.diameter / 2 + POUR_GAP_MM, ""


def _part(board: Board, amendment: Amendment) -> Part:
    assert not isinstance(amendment, MarkingText)
    is_hole = isinstance(amendment, ToolingHole)
    side = Side.TOP if isinstance(amendment, ToolingHole) else amendment.side
    return Part(
        uid=f"amendment-{amendment.reference}",
        reference=amendment.reference,
        at=amendment.at,
        side=side,
        value=amendment.package,
        package=amendment.package,
        mount=Mount.OTHER if is_hole else Mount.SURFACE,
        in_parts_list=False,
        in_placement=False,
        board_only=True,
        courtyard=dict.fromkeys(Side if is_hole else (side,), disc(amendment.at, amendment.keep_out)),
        pads=(_hole(amendment) if isinstance(amendment, ToolingHole) else _land(board, amendment),),
    )


def _land(board: Board, amendment: Amendment) -> Pad:
    assert isinstance(amendment, (FiducialMark, ProbePad))
    is_mark = isinstance(amendment, FiducialMark)
    opening = amendment.opening if isinstance(amendment, FiducialMark) else amendment.diameter + 2 * MASK_MARGIN_MM
    return Pad(
        uid=f"amendment-{amendment.reference}-pad",
        number="" if is_mark else "1",
        at=amendment.at,
        kind=PadKind.SURFACE,
        copper={board.copper_on(amendment.side): disc(amendment.at, amendment.diameter)},
        mask={amendment.side: disc(amendment.at, opening)},
        role=_role(amendment),
        shape=PadShape.CIRCLE,
        size=(amendment.diameter, amendment.diameter),
        net=amendment.net if isinstance(amendment, ProbePad) else "",
    )


def _role(amendment: Union[FiducialMark, ProbePad]) -> PadRole:
    if isinstance(amendment, ProbePad):
        return PadRole.TEST_POINT
    return PadRole.FIDUCIAL_LOCAL if amendment.local else PadRole.FIDUCIAL_GLOBAL


def _hole(amendment: ToolingHole) -> Pad:
    size = (amendment.diameter, amendment.diameter)
    return Pad(
        uid=f"amendment-{amendment.reference}-pad",
        number="",
        at=amendment.at,
        kind=PadKind.UNPLATED,
        mask=dict.fromkeys(Side, disc(amendment.at, amendment.diameter)),
        hole=Hole(amendment.at, size, plated=False),
        shape=PadShape.CIRCLE,
        size=size,
    )


def _marking(board: Board, amendment: MarkingText, measure: Measure) -> Marking:
    return Marking(
        uid=f"amendment-{amendment.text}",
        text=amendment.text,
        layer=_legend(board, amendment.side),
        at=amendment.at,
        height=amendment.height,
        stroke=amendment.stroke,
        extents=text_box(amendment, measure(amendment.text, amendment.height, amendment.stroke)),
        source=amendment.source,
        rotation=amendment.rotation if amendment.side is Side.TOP else -amendment.rotation % 360.0,
        mirrored=amendment.side is Side.BOTTOM,
    )


def _legend(board: Board, side: Side) -> Layer:
    for layer in (item.layer for items in (board.markings, board.graphics) for item in items):
        if layer.kind is LayerKind.LEGEND and layer.side is side:
            return layer
    return Layer(f"{side.value} legend", LayerKind.LEGEND, side)
