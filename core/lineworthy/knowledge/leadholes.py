# SPDX-License-Identifier: MIT
"""Which holes of parts take a lead that is soldered, and what unplated ones leave open."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence

from lineworthy.knowledge.gaps import layers
from lineworthy.knowledge.packages_pads import VIA_MAX_MM
from lineworthy.knowledge.routing import Land, Routing
from lineworthy.model import Board, Pad, PadKind, PadRole

NO_LEAD = (PadRole.PRESS_FIT, PadRole.MECHANICAL, PadRole.TEST_POINT, PadRole.CASTELLATED, PadRole.THERMAL)
"""Pads that no lead is soldered into, by what they are declared to be."""


def is_soldered_lead(pad: Pad) -> bool:
    """Whether a lead is soldered into a plated hole: no press-fit pin, peg, test point or via drawn as a pad."""
    wide = pad.hole is not None and pad.hole.diameter > VIA_MAX_MM
    return pad.kind is PadKind.THROUGH and pad.role not in NO_LEAD and wide


def parting(board: Board, bare: Sequence[Land]) -> list[Land]:
    """Which of some unplated holes part their net: copper at one end of the hole is not joined to that at the other."""
    halves = {
        id(pad): [dataclasses.replace(pad, copper={layer: shape}) for layer, shape in pad.copper.items()]
        for _, pad in bare
    }
    split = _split(board, {pad.net for _, pad in bare} | {""}, halves)
    routing = Routing(split, list(layers(split)))
    found = []
    for part, pad in bare:
        own = {id(half) for half in halves[id(pad)]}
        pieces = [{id(land) for _, land in piece} for piece in routing.pieces(split.pads_by_net[pad.net])]
        # an end where nothing else is joined is missed by nobody
        if sum(1 for piece in pieces if piece & own and piece - own) > 1:
            found.append((part, pad))
    return found


def _split(board: Board, nets: set[str], halves: dict[int, list[Pad]]) -> Board:
    """The copper of some nets, with the given pads taken apart into what each has on a layer."""
    parts = []
    for part in board.parts:
        pads = tuple(half for pad in part.pads if pad.net in nets for half in halves.get(id(pad), [pad]))
        # the halves have one number, and are not what the part is said to join
        whole = not any(id(pad) in halves for pad in part.pads)
        parts.append(dataclasses.replace(part, pads=pads, joined=part.joined if whole else ()))
    return dataclasses.replace(
        board,
        parts=tuple(parts),
        tracks=tuple(track for track in board.tracks if track.net in nets),
        vias=tuple(via for via in board.vias if via.net in nets),
        areas=tuple(area for area in board.areas if area.net in nets),
    )
