# SPDX-License-Identifier: MIT
"""What fits on a fabricator's panel, and how far a panel sags: arithmetic that can be checked by hand. Lengths mm."""

from __future__ import annotations

from dataclasses import dataclass

from lineworthy.geometry import TOL_MM
from lineworthy.knowledge.depanel import MODULUS_GPA

BORDER_MM = 12.7
BORDER_MULTILAYER_MM = 19.05
"""Lost at each edge of a working panel with one or two layers, and with more (Design007 Magazine, June 2021)."""

DENSITY = 1.85e-6
"""Mass of FR-4, kg/mm3 (property table in an encyclopaedia)."""

GRAVITY = 9.81


@dataclass(frozen=True)
class Fit:
    """How many boards fit: `columns` side by side, `rows` above one another, each turned by 90 degrees or not."""

    columns: int
    rows: int
    turned: bool

    @property
    def count(self) -> int:
        """Boards in all."""
        return self.columns * self.rows


def usable(size: tuple[float, float], copper_layers: int) -> tuple[float, float]:
    """What a working panel leaves for boards, mm.

    >>> usable((457.2, 609.6), 4)
    (419.1, 571.5)
    """
    border = BORDER_MM if copper_layers <= 2 else BORDER_MULTILAYER_MM
    return round(size[0] - 2 * border, 6), round(size[1] - 2 * border, 6)


def along(room: float, length: float, gap: float) -> int:
    """How many pieces of a length fit in a row with a gap between them: ``floor((U + s) / (b + s))``."""
    return max(int((room + gap + TOL_MM) // (length + gap)), 0)


def fit(room: tuple[float, float], board: tuple[float, float], gap: float, turned: bool) -> Fit:
    """How many boards fit in a rectangle, all turned alike.

    >>> [fit((419.1, 571.5), (100, 80), 2.5, turned).count for turned in (False, True)]
    [24, 25]
    """
    width, height = board[::-1] if turned else board
    return Fit(along(room[0], width, gap), along(room[1], height, gap), turned)


def best_fit(room: tuple[float, float], board: tuple[float, float], gap: float) -> Fit:
    """The better of the two ways of turning; the one that is not turned where they are equal."""
    return max((fit(room, board, gap, turned) for turned in (False, True)), key=lambda one: one.count)


def utilisation(count: int, board_area: float, panel: tuple[float, float]) -> float:
    """Share of a panel's area that boards fill; say whether the panel is taken gross or as its usable part."""
    return count * board_area / (panel[0] * panel[1])


def sag(thickness: float, span: float, modulus: float = MODULUS_GPA, parts_mass: float = 0.0) -> float:
    """How far a board that lies on two opposite edges hangs down in the middle, mm.

    ``5 (rho g + q / t) L^4 / (32 E t^2)``, from memory: beam theory, freely supported strip under its own weight.

    Args:
        thickness: of the board, mm.
        span: between the two edges, mm.
        modulus: stiffness of the board, GPa; see `depanel.MODULUS_HOT_GPA` for the oven.
        parts_mass: what stands on the board, spread evenly, kg/mm2.

    >>> round(sag(1.6, 250.0), 2)
    0.18
    """
    load = (DENSITY + parts_mass / thickness) * GRAVITY  # N/mm3
    return 5 * load * span**4 / (32 * modulus * 1e3 * thickness**2)
