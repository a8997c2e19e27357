# SPDX-License-Identifier: MIT
"""The two states of the board: as it was first sent out, and corrected.

Everything that differs between the two is in this file; `planted.toml` says what a review must find.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Callable

import drawing
import layout
import pcbnew
from circuit import NUMBER, REVISION, Placed
from parts import all_parts

Footprints = dict[str, pcbnew.FOOTPRINT]


def _nothing(_board: pcbnew.BOARD, _footprints: Footprints) -> None:
    """No change."""


@dataclass(frozen=True)
class State:
    """One board to build."""

    name: str
    parts: tuple[Placed, ...]
    texts: tuple[tuple, ...]
    mark_clear_mm: float = 1.6
    retouch: Callable[[pcbnew.BOARD, Footprints], None] = _nothing
    finish: Callable[[pcbnew.BOARD, Footprints], None] = _nothing
    comments: tuple[str, ...] = ()


CORRECTED = State(
    "frost-alarm-corrected",
    all_parts(),
    (
        *((*entry, pcbnew.F_SilkS) for entry in layout.SILK_TOP + layout.NAMEPLATE),
        *((*entry, pcbnew.Dwgs_User) for entry in layout.notes(*layout.NOTES, layout.PANEL_NOTE)),
    ),
    comments=(layout.PANEL_NOTE,),
)

# The programming header was struck off to save its price, and with it the way to load the processor.
LEFT_OUT = ("FID2", "FID3", "J2", "TP7", "TP8")
UNNAMED = ("L1", "U6", "K1")
# The USB resistor slipped towards the receptacle, the sensor's capacitor towards the board's edge.
MOVED = {"R8": ((49.5, 54.875), 0), "C31": ((81.75, 62.2), 0)}
ON_TOP = {"TP4": (69, 33), "TP5": (26, 34), "TP9": (55, 33.5)}


def _first(part: Placed) -> Placed:
    if part.ref in UNNAMED:
        return part.moved(maker="", number="")
    if part.ref in MOVED:
        place, rotation = MOVED[part.ref]
        return part.moved(at=place, rotation=rotation)
    return part.moved(at=ON_TOP[part.ref], bottom=False) if part.ref in ON_TOP else part


def _first_retouch(_board: pcbnew.BOARD, footprints: Footprints) -> None:
    """The mark got the mask opening of a test pad; the radio's paste windows came from a thin-foil library."""
    drawing.fiducial_opening(footprints["FID1"], 0.2, 0.25)
    drawing.small_windows(footprints["U4"], 0.28, 0.5, 4)


def _first_finish(board: pcbnew.BOARD, _footprints: Footprints) -> None:
    """A guard track along the edge, and one via from another board's library."""
    for a, b in (((46, 1.0), (46, 0.3)), ((46, 0.3), (60, 0.3)), ((60, 0.3), (60, 1.0))):
        drawing.track(board, pcbnew.F_Cu, 0.2, a, b, "GND")
    drawing.via(board, (33, 58), 0.45, 0.3, "GND")


FIRST = State(
    "frost-alarm",
    tuple(_first(part) for part in all_parts() if part.ref not in LEFT_OUT),
    (
        *((*entry, pcbnew.F_SilkS) for entry in layout.SILK_TOP),
        *((*entry, pcbnew.Dwgs_User) for entry in layout.notes(*layout.NOTES)),
        (NUMBER, 28, 59, 1.5, 0, pcbnew.F_Fab),
        (f"REV {REVISION}", 28, 61.5, 1.5, 0, pcbnew.Cmts_User),
    ),
    mark_clear_mm=0.0,
    retouch=_first_retouch,
    finish=_first_finish,
)
STATES = (FIRST, CORRECTED)
