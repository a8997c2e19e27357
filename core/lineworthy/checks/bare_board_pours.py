# SPDX-License-Identifier: MIT
"""Copper by the area: how it is shared between layers, pieces that nothing joins, slivers, acute joins."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence

from lineworthy.finding import Consequence, Place
from lineworthy.geometry import exceeds
from lineworthy.knowledge.coverage import copper_shares
from lineworthy.knowledge.flatness import allowed_percent, bow_mm
from lineworthy.knowledge.gaps import Layer, in_order
from lineworthy.knowledge.islands import Island, islands
from lineworthy.knowledge.joins import sharp_joins
from lineworthy.knowledge.slivers import Sliver, slivers
from lineworthy.knowledge.wording import counted, listed, mm, natural
from lineworthy.model import Board, CopperArea
from lineworthy.registry import Answers, check
from lineworthy.sheet import Sheet

BALANCE = "bare-board.copper_balance_max_percent"
BOW_SURFACE, BOW_OTHER = "bare-board.bow_surface_max_percent", "bare-board.bow_other_max_percent"

OUTER_TRACK, INNER_TRACK = "bare-board.track_outer_min_mm", "bare-board.track_inner_min_mm"

SHOWN = 40
"""Places of one finding on the map; more of the same kind help nobody."""

SHARP_DEG = 45.0
"""What a router draws; only sharper joins of tracks are told (common practice, no source)."""

STIFF_MM = 1.0
"""A board of two layers is one sheet of cured laminate; from this thickness on it stays flat whatever is etched."""

FLEXIBLE_MM = 0.3
"""A thinner board is flexible, and flatness is no matter for it."""

UNFILLED_MAX_RATIO = 0.05
"""Pours without copper that together take more of the board than this leave its balance unknown."""

ISLAND_MIN_MM2 = 1.0
"""Smaller pieces of copper that nothing joins are not worth a look (common practice, no source)."""


@check("bare-board/copper-unbalanced", limits=(BALANCE, BOW_SURFACE, BOW_OTHER))
def copper_unbalanced(board: Board, sheet: Sheet, copper: Sequence[Layer]) -> Answers:
    """Do layers that mirror each other about the middle of the board hold unlike amounts of copper?

    Why it matters: where copper is missing, more resin flows when the layers are pressed, and it shrinks more than
    copper as it cures. A board whose halves shrink unlike bows, and a bowed board prints, places and solders badly.
    What to do: pour copper on the barer layer of the pair, or move planes so that the layers pair up.
    Blind spots: shares are of the whole board, looked up on 20,000 spots; uneven sharing within a layer is not seen.
    Boards of two layers are asked from 0.3 to 1.0 mm thickness only. No bow is predicted: what is allowed is told, so
    that the two can be weighed.
    Source: common practice: mirrored layers within 10 to 15 percent; IPC-6012B 3.4.3, as quoted in a trade text: bow
    and twist up to 0.75 % with surface parts, 1.5 % without.
    """
    layers, thickness = board.copper_layers, board.stackup.thickness
    if len(layers) < 2 or (len(layers) == 2 and thickness >= STIFF_MM) or thickness < FLEXIBLE_MM:
        return
    if unfilled := _unfilled(board):
        yield copper_unbalanced.not_run(
            f"no filled pours on {', '.join(unfilled)}", "Fill the pours in the editor and save the board"
        )
        return
    shares = copper_shares(board, copper)
    if not shares:
        yield copper_unbalanced.not_run("no closed board outline", "Close the outline; see bare-board/outline-open")
        return
    need = sheet.bare_board.copper_balance_max_percent
    apart = [(abs(shares[one] - shares[other]), one, other) for one, other in _mirrored(layers)]
    apart = [pair for pair in apart if exceeds(pair[0], need)]
    if apart:
        told = ", ".join(f"{one} {shares[one]:.0f} % and {other} {shares[other]:.0f} %" for _, one, other in apart)
        left, bottom, right, top = board.outline.area.bounds
        length, flat = max(right - left, top - bottom), allowed_percent(board, sheet.bare_board)
        yield copper_unbalanced.finding(
            Consequence.NOTE,
            f"Mirrored layers hold unlike shares of copper: {told}; {need:g} points of difference allowed."
            f" A bow of {mm(bow_mm(length, flat))} mm, {flat:g} % of {length:.0f} mm, is accepted",
            measured=max(pair[0] for pair in apart),
            limit=need,
            unit="%",
            limit_key=BALANCE,
            detail=" ".join(f"{one} {other}" for _, one, other in apart),
        )


def _unfilled(board: Board) -> list[str]:
    """Layers where so much copper is still to be poured that their share says nothing."""
    waiting: dict[str, float] = defaultdict(float)
    for area in board.areas:
        if area.unfilled:
            waiting[area.layer] += area.boundary.area
    much = UNFILLED_MAX_RATIO * board.outline.area.area
    return sorted((layer for layer, size in waiting.items() if size > much), key=natural)


def _mirrored(layers: Sequence[str]) -> list[tuple[str, str]]:
    return list(zip(layers[: len(layers) // 2], reversed(layers)))


@check("bare-board/copper-isolated")
def copper_isolated(board: Board, copper: Sequence[Layer]) -> Answers:
    """Are there pieces of pours that touch nothing of their net, or pours without any net?

    Why it matters: copper that leads nowhere shields nothing, couples what passes by, and may lift off when it is
    small. On a net's pour it is mostly the sign of a missing via.
    What to do: join the piece with a via or track, let the editor remove islands when it fills, or give the pour a net.
    Blind spots: copper that belongs to a part is taken as meant, and so are drawings. Pieces below 1 mm² are left out.
    Source: common practice, no source.
    """
    found = [island for island in islands(copper) if island.size >= ISLAND_MIN_MM2]
    if found:
        counts = Counter((island.area.net, island.area.layer) for island in found)
        names = sorted(counts, key=lambda key: (natural(key[0]), natural(key[1])))
        told = [f"{net or 'no net'} on {layer} ({counts[net, layer]})" for net, layer in names[:5]]
        more = f" and {len(names) - 5} more" if len(names) > 5 else ""
        total = sum(island.size for island in found)
        yield copper_isolated.finding(
            Consequence.NOTE,
            f"{counted(len(found), 'piece')} of pours joined to nothing, {total:.1f} mm² in all:"
            f" {', '.join(told)}{more}",
            items=in_order(island.area for island in found),
            places=[
                Place(
                    island.at, board.side_of(island.area.layer), f"{island.area.net or 'no net'}, {island.size:.1f} mm²"
                )
                for island in found[:SHOWN]
            ],
            detail=" ".join(f"{net} {layer}" for net, layer in names),
        )


def _label(island: Island) -> str:
    return f"{island.area.net or 'no net'}, {island.size:.1f} mm²"


@check("bare-board/copper-sliver", limits=(OUTER_TRACK, INNER_TRACK))
def copper_sliver(board: Board, sheet: Sheet, copper: Sequence[Layer]) -> Answers:
    """Are pours or drawings in copper thinner somewhere than a track may be?

    Why it matters: a neck below the width of a track is etched through in places, and a tongue or ring that thin peels
    off and lies down across its neighbours.
    What to do: set the least width of the pour to the factory's track width and fill again; draw with a wider pen.
    Blind spots: pours that are set to keep at least that width are believed to. Places on other copper of the same net
    are passed over. Lands of custom shape and lettering are not looked at. Curves are known within 5 um on either side,
    and that much is granted.
    Source: common practice: slivers below 0.10 to 0.15 mm may peel.
    """
    for key, outer in ((OUTER_TRACK, True), (INNER_TRACK, False)):
        need = float(sheet.value(key))
        asked = [layer for layer in copper if (board.side_of(layer.name) is not None) is outer]
        found = [sliver for layer in asked for sliver in slivers(layer, need)]
        if found:
            where = "outer" if outer else "inner"
            found.sort(key=lambda one: (round(one.width, 6), natural(one.layer), one.at))
            yield copper_sliver.finding(
                Consequence.NOTE,
                f"{counted(len(found), 'place')} of {_owners(board, found)} on {listed(one.layer for one in found)}"
                f" down to {mm(found[0].width)} mm wide; {mm(need)} mm needed on {where} layers",
                items=in_order(one.owner for one in found),
                places=[Place(one.at, board.side_of(one.layer), f"{mm(one.width)} mm wide") for one in found[:SHOWN]],
                measured=found[0].width,
                limit=need,
                limit_key=key,
                detail=where,
            )


def _owners(board: Board, found: Sequence[Sliver]) -> str:
    """``pours of GND and drawings of FID1, J2``."""
    pours = [one.owner.net or "no net" for one in found if isinstance(one.owner, CopperArea)]
    drawings = [one.owner for one in found if not isinstance(one.owner, CopperArea)]
    parts = [board.part_by_uid[one.part_uid].reference for one in drawings if one.part_uid in board.part_by_uid]
    told = [f"pours of {listed(pours)}"] if pours else []
    if drawings:
        told.append(f"drawings of {listed(parts)}" if parts else "drawings")
    return " and ".join(told)


@check("bare-board/join-too-sharp")
def join_too_sharp(board: Board, copper: Sequence[Layer]) -> Answers:
    """Do tracks meet at less than 45 degrees in the open?

    Why it matters: etchant that stays in a narrow corner eats further than it should. Spray etching has made this rare,
    so it is a matter of neatness, and of thin tracks in thick copper.
    What to do: nothing for a board that runs; else move the end of one track, or add a teardrop.
    Blind spots: only ends that meet are seen, not tracks that end in the middle of others. Corners on lands and under
    pours are filled and do not count; tracks at less than 10 degrees lie on each other.
    Source: an engineer's answer on a forum for electronics: no defect with present spray etching.
    """
    found = sharp_joins(copper, SHARP_DEG)
    if found:
        layers = listed(join.one.layer for join in found)
        yield join_too_sharp.finding(
            Consequence.NOTE,
            f"{counted(len(found), 'join')} of tracks on {layers} down to {found[0].angle:.0f} degrees;"
            f" {SHARP_DEG:.0f} degrees and more have no narrow corner",
            items=in_order(track for join in found for track in (join.one, join.other)),
            places=[
                Place(join.at, board.side_of(join.one.layer), f"{join.angle:.0f} degrees") for join in found[:SHOWN]
            ],
            measured=found[0].angle,
            limit=SHARP_DEG,
            unit="degrees",
        )


CHECKS = (copper_unbalanced, copper_isolated, copper_sliver, join_too_sharp)
