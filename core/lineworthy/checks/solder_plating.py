# SPDX-License-Identifier: MIT
"""What a lead is soldered into: a plated hole, and a land on the side where the solder comes from."""

from __future__ import annotations

from lineworthy.finding import Consequence, Place
from lineworthy.knowledge.leadholes import NO_LEAD, is_soldered_lead, parting
from lineworthy.knowledge.marks import Marks
from lineworthy.knowledge.packages import Family, Packages
from lineworthy.knowledge.routing import Land, land_order
from lineworthy.knowledge.wording import counted, listed, pad_name
from lineworthy.model import Board, Pad, PadKind, Part, Side
from lineworthy.registry import Answers, Check, check

_NOT_SOLDERED = (Family.MECHANICAL, Family.ANTENNA)

_AS_OTHERS = "most holes of leads on the board are plated"


@check("solder/lead-hole-unplated")
def lead_hole_unplated(board: Board, packages: Packages, marks: Marks) -> Answers:
    """Are holes of leads that carry a net made without plating?

    Why it matters: a hole without plating joins nothing from one side of the board to the other, and no solder rises in
    it. Where copper of both sides ends in its lands, the net is open on every board, though the editor counts it as
    joined.
    What to do: make the hole a plated one in the part's properties, in the library, too.
    Blind spots: holes with a land and a net, in a part whose other leads have plated holes, or without which copper of
    several layers is not joined; where both are true the job is on hold, because a board made without plating may have
    its leads soldered on both sides. Where all leads of a part are alike, those with lands on both sides of a board
    whose other leads mostly have plated holes. Left out are parts that are not fitted or only on the board, pegs,
    press-fit pins and test points.
    Source: geometry; that a lead with a net goes into a plated hole where its neighbours do is common practice, no
    source.
    """
    bare = _unplated(board, packages, marks)
    open_ends = {id(pad) for _, pad in parting(board, bare)} if bare else set()
    plated = sum(1 for _, pad in board.pads if is_soldered_lead(pad)) > len(bare)
    groups: dict[tuple[Consequence, str], list[Land]] = {}
    for part, pad in bare:
        is_odd = any(is_soldered_lead(other) for other in part.pads)
        if id(pad) in open_ends:
            kind = Consequence.HOLD if is_odd else Consequence.QUERY
            alone = "" if is_odd else ", unless the lead is soldered on both sides"
            groups.setdefault((kind, f"nothing else joins the copper of its net{alone}"), []).append((part, pad))
        elif is_odd:
            groups.setdefault((Consequence.QUERY, "other leads of the part have plated holes"), []).append((part, pad))
        elif plated and {board.top_copper, board.bottom_copper} <= set(pad.copper):
            groups.setdefault((Consequence.QUERY, _AS_OTHERS), []).append((part, pad))
    for (kind, why), lands in sorted(groups.items(), key=lambda item: (item[0][0].rank, item[0][1])):
        lands.sort(key=land_order)
        what = "The hole of a lead is" if len(lands) == 1 else f"{len(lands)} holes of leads are"
        yield lead_hole_unplated.finding(
            kind,
            f"{what} made without plating, and {why}: {listed(f'{_label(land)} on {land[1].net}' for land in lands)}",
            items=lands,
            places=[Place(pad.at, part.side, _label((part, pad))) for part, pad in lands],
            detail=why,
        )


def _unplated(board: Board, packages: Packages, marks: Marks) -> list[Land]:
    """Pads with a land, a net and a hole without plating."""
    return [
        (part, pad)
        for part, pad in board.pads
        if pad.kind is PadKind.UNPLATED and pad.net and pad.copper and pad.role not in NO_LEAD
        if part.fitted and not part.board_only and not marks.is_test_point(pad)
        if packages.of(part).family not in _NOT_SOLDERED or _joins_nets(part)
    ]


def _joins_nets(part: Part) -> bool:
    """Whether a part has several nets: where all of its holes are unplated it looks like a bare hole otherwise."""
    return len({pad.net for pad in part.pads if pad.net}) > 1 and part.in_parts_list


@check("solder/lead-without-land")
def lead_without_land(board: Board, packages: Packages, marks: Marks) -> Answers:
    """Do leads have no land on the side where they are soldered?

    Why it matters: wave, pot and iron bring the solder to the side where the lead comes out. Without copper there it
    has nothing to wet but the wall of the hole: a joint without a fillet, which inspection turns down and the first
    pull on the lead loosens.
    What to do: give the pad a land on both sides; where the editor is told to remove lands that join nothing, have it
    keep those of the outer layers.
    Blind spots: the side opposite to the part is taken for the one where it is soldered. Left out are leads that are
    printed with paste, parts that are not fitted, press-fit pins, pegs, test points, and holes as small as vias.
    Source: common practice, no source.
    """
    found: dict[Side, list[Land]] = {side: [] for side in Side}
    for part in board.parts:
        facts, far = packages.of(part), part.side.other
        if part.fitted and not part.board_only and facts.family not in _NOT_SOLDERED:
            found[far] += [(part, pad) for pad in facts.leads if _lacks_land(board, pad, far, marks)]
    for far, lands in found.items():
        if lands:
            lands.sort(key=land_order)
            has, are = ("has", "it is") if len(lands) == 1 else ("have", "they are")
            yield lead_without_land.finding(
                Consequence.QUERY,
                f"{counted(len(lands), 'lead')} {has} no land on the {far.value}, where {are} soldered:"
                f" {listed(_label(land) for land in lands)}",
                items=lands,
                places=[Place(pad.at, far, _label((part, pad))) for part, pad in lands],
                detail=far.value,
            )


def _lacks_land(board: Board, pad: Pad, far: Side, marks: Marks) -> bool:
    is_lead = is_soldered_lead(pad) and not pad.paste and not marks.is_test_point(pad)
    return is_lead and board.copper_on(far) not in pad.copper


def _label(land: Land) -> str:
    part, pad = land
    return pad_name(part.reference, pad.number)


CHECKS: tuple[Check, ...] = (lead_hole_unplated, lead_without_land)
