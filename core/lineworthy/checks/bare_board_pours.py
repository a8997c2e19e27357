# SPDX-License-Identifier: MIT
"""Copper by the area: how it is shared between layers, pieces that nothing joins, slivers, acute joins."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence

from lineworthy.finding import Consequence, Place
from lineworthy.geometry import exceeds
from lineworthy.knowledge.coverage import copper_shares
from lineworthy.knowledge.flatness import allowed_percent, bow_mm
from lineworthy.knowledge.gaps import Layer
from lineworthy.knowledge.islands import Island, islands
from lineworthy.knowledge.wording import counted, mm, natural
from lineworthy.model import Board
from lineworthy.registry import Answers, check
from lineworthy.sheet import Sheet

BALANCE = "bare-board.copper_balance_max_percent"
BOW_SURFACE, BOW_OTHER = "bare-board.bow_surface_max_percent", "bare-board.bow_other_max_percent"

SHOWN = 40
"""Places of one finding on the map; more of the same kind help nobody."""

STIFF_MM = 1.0
"""A board of two layers is one sheet of cured laminate; from this thickness on it stays flat whatever is etched."""

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
    Boards of two layers are asked below 1.0 mm thickness only. No bow is predicted: what is allowed is told, so that
    the two can be weighed.
    Source: common practice: mirrored layers within 10 to 15 percent; IPC-6012B 3.4.3, as quoted in a trade text: bow
    and twist up to 0.75 % with surface parts, 1.5 % without.
    """
    layers = board.copper_layers
    if len(layers) < 2 or (len(layers) == 2 and board.stackup.thickness >= STIFF_MM):
        return
    if unfilled := _unfilled(board):
        yield copper_unbalanced.not_run(
            f"Filled pours; they are not on {', '.join(unfilled)}", "Fill the pours in the editor and save the board"
        )
        return
    shares = copper_shares(board, copper)
    if not shares:
        yield copper_unbalanced.not_run("A closed board outline", "Close the outline; see bare-board/outline-open")
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
    found = [island for island in islands(board, copper) if island.size >= ISLAND_MIN_MM2]
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
            items=list(dict.fromkeys(island.area for island in found)),
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


CHECKS = (copper_unbalanced, copper_isolated)
