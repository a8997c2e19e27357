# SPDX-License-Identifier: MIT
"""Boards of many outlines, small and made by hand, whose panel plans are looked at and kept."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any, Optional

import shapely

from build import BOTTOM, board, chip, part, rectangle, through_pad
from lineworthy.knowledge.marks import Marks
from lineworthy.knowledge.packages import Packages
from lineworthy.model import Board, Outline, Part, Stackup
from lineworthy.plans.panel import plan
from lineworthy.plans.panel_plan import PanelPlan
from lineworthy.report import panel_svg
from lineworthy.shapes import Area, disc, quad_segs
from lineworthy.sheet import Sheet, built_in


def shaped(name: str, area: Area, parts: tuple[Part, ...] = (), **items: Any) -> Board:
    """A board with an outline of its own."""
    left, low, right, high = area.bounds
    return board(right - left, high - low, name=name, outline=Outline(area, uids=("outline",)), parts=parts, **items)


def rounded(width: float, height: float, radius: float) -> Area:
    """A rectangle with round corners, its lower left corner at (0, 0)."""
    inner = shapely.box(radius, radius, width - radius, height - radius)
    return inner.buffer(radius, quad_segs=quad_segs(radius))


def capacitor(reference: str, at: tuple[float, float], rotation: float = 0.0) -> Part:
    """A ceramic capacitor large enough to crack."""
    return chip(reference, at, rotation=rotation, package="C_0805_2012Metric")


def plug(reference: str, at: tuple[float, float], size: tuple[float, float]) -> Part:
    """A part with a body of a size about `at`, held by one lead in its middle."""
    return part(
        reference,
        at=at,
        pads=(through_pad("1", (at[0] - 5, at[1] - 2), 1.6, 0.8), through_pad("2", (at[0] - 5, at[1] + 2), 1.6, 0.8)),
        body=rectangle(at, *size),
        package="USB_A_Plug_Horizontal",
    )


def l_shape() -> Area:
    """Two arms of 20 mm."""
    return shapely.union(shapely.box(0, 0, 60, 20), shapely.box(0, 0, 20, 60))


def half_holes() -> tuple[Part, ...]:
    """Plated holes cut in two by the left and right edge of a 20 x 26 mm module."""
    pads = [
        through_pad(str(n), (x, 5 + 2.0 * (n % 9)), 1.2, 0.8, uid=f"half-{n}")
        for n in range(18)
        for x in ((0.0,) if n < 9 else (20.0,))
    ]
    return (part("U1", at=(10, 13), pads=tuple(pads), package="Module"), chip("R1", (10, 13)))


def cases() -> dict[str, Board]:
    """Every board by its name."""
    window = rounded(90, 70, 3).difference(rounded(30, 20, 2).buffer(0)).difference(disc((70, 50), 12))
    made = (
        board(100, 80, name="rectangle", parts=(chip("R1", (50, 40)), chip("R2", (20, 30), side=BOTTOM))),
        board(160, 100, name="large", parts=(chip("R1", (50, 40)),)),
        shaped("l-shape", l_shape(), (chip("R1", (10, 10)),)),
        shaped("round", disc((30, 30), 60), (chip("R1", (30, 30)),)),
        board(20, 26, name="half-holes", parts=half_holes()),
        board(50, 18, name="plug", parts=(plug("J1", (52, 9), (16, 12)), chip("R1", (15, 9)))),
        board(15, 15, name="tiny", parts=(chip("R1", (7.5, 7.5)),)),
        board(300, 40, name="long", parts=(chip("R1", (150, 20)),)),
        shaped("cut-outs", window, (chip("R1", (60, 20)),)),
        board(
            80,
            60,
            name="crowded",
            parts=(
                *(capacitor(f"C{n}", (5 + 6.0 * n, 2.0), 90) for n in range(12)),
                *(capacitor(f"C{20 + n}", (78.0, 8 + 10.0 * n)) for n in range(3)),
                chip("R1", (40, 30)),
            ),
        ),
        board(60, 45, name="thin", parts=(chip("R1", (30, 20)),), stackup=Stackup(thickness=0.6)),
        shaped("turned", shapely.affinity.rotate(shapely.box(0, 0, 70, 40), 20), (chip("R1", (20, 30)),)),
    )
    return {one.name: one for one in made}


GOLDEN = Path(__file__).parent / "golden" / "panels"

KEPT = {
    **dict.fromkeys(("large", "round", "half-holes", "tiny", "long", "crowded", "thin", "turned"), (1,)),
    "rectangle": (1, 2, 3),
    "l-shape": (1, 2),
    "plug": (1, 2, 3),
    "cut-outs": (1, 3),
}
"""Which proposals of each board are kept as drawings."""


def planned(made: Board, sheet: Optional[Sheet] = None) -> PanelPlan:
    """The plan of a board within a sheet, or the standard one."""
    return plan(made, sheet or built_in(), marks=Marks(made), packages=Packages(made))


@cache
def plan_of(name: str) -> PanelPlan:
    """The plan of a kept board within the standard sheet, made once in a test run."""
    return planned(cases()[name])


def write_golden() -> None:
    """Draws the kept drawings again: run this file, look at every one, then commit."""
    GOLDEN.mkdir(exist_ok=True)
    for name in cases():
        for number in KEPT[name]:
            (GOLDEN / f"{name}-{number}.svg").write_text(panel_svg.draw(plan_of(name), number), encoding="utf-8")


if __name__ == "__main__":
    write_golden()
