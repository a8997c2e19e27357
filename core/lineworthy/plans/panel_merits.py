# SPDX-License-Identifier: MIT
"""What speaks for and against an array. Points put them in an order a person can follow; they are no prices.

The base is the working panel's utilisation in percent. Everything else adds or takes a few points: all of them are
rules of thumb (common practice, no source), and each is shown with its points.
"""

from __future__ import annotations

from collections.abc import Iterator

from lineworthy.geometry import exceeds, falls_short
from lineworthy.knowledge import panelfit
from lineworthy.knowledge.depanel import MODULUS_GPA, MODULUS_HOT_GPA
from lineworthy.knowledge.wording import counted, listed
from lineworthy.plans.panel_board import Unit
from lineworthy.plans.panel_plan import Bearing, Merit, Method, Rails, Sizing
from lineworthy.sheet import Sheet

HANDLING = 15.0
"""Points for handling many boards at once: a half of it for two, three quarters for four ..."""

MILLING = {Method.SCORED: 0.0, Method.MIXED: 1.0, Method.ROUTED: 3.0, Method.FRAMED: 4.0}
"""Points off for what is milled."""

BENT = 8.0
"""Points off for ceramic capacitors beside a score."""

UNUSUAL = 10.0
"""Points off for a size that runs, but not well."""

NO_RAILS = 6.0
WEAK_RAILS = 2.0
NOTCHES = 2.0
SAG = 4.0


def merits(unit: Unit, one: Sizing, sheet: Sheet) -> Iterator[Merit]:
    """Everything that makes the points of an array."""
    fit = one.fit
    percent = 100 * fit.gross
    yield Merit(percent, f"boards fill {percent:.1f} % of the working panel")
    if one.boards > 1:
        yield Merit(HANDLING * (1 - 1 / one.boards), f"{one.boards} boards are handled at once")
    if MILLING[one.way.method]:
        yield Merit(-MILLING[one.way.method], "slots are milled")
    if one.way.rails is Rails.NONE:
        yield Merit(-NO_RAILS, "no rails: no place for panel marks and tooling holes")
    yield from _of_size(one, sheet)
    yield from _of_scores(unit, one)
    bearing = bearing_of(unit, one.width, sheet)
    if exceeds(bearing.hot, bearing.hot_limit) or exceeds(bearing.cold, bearing.cold_limit):
        yield Merit(-SAG, "it sags on the conveyor: centre support")


def bearing_of(unit: Unit, span: float, sheet: Sheet) -> Bearing:
    """How far an array hangs down that lies on its long sides, without its parts."""
    thickness = unit.board.stackup.thickness
    cold, hot = (panelfit.sag(thickness, span, modulus) for modulus in (MODULUS_GPA, MODULUS_HOT_GPA))
    return Bearing(span, cold, hot, sheet.panel.sag_max_mm, sheet.panel.sag_hot_max_percent / 100 * span)


def _of_size(one: Sizing, sheet: Sheet) -> Iterator[Merit]:
    panel = sheet.panel
    small = min(one.length, one.width)
    if falls_short(small, panel.array_preferred_min_mm):
        yield Merit(-UNUSUAL, f"smaller than the {panel.array_preferred_min_mm:g} mm that run well")
    if exceeds(one.length, panel.array_preferred_length_mm) or exceeds(one.width, panel.array_preferred_width_mm):
        size = f"{panel.array_preferred_length_mm:g} x {panel.array_preferred_width_mm:g} mm"
        yield Merit(-UNUSUAL, f"larger than the {size} that run well")


def _of_scores(unit: Unit, one: Sizing) -> Iterator[Merit]:
    rims = [unit.rim(name, one.way.quarters) for name in one.scored_sides]
    bent = sorted({reference for rim in rims for reference in rim.ceramics})
    if bent:
        verb = "stands" if len(bent) == 1 else "stand"
        yield Merit(-BENT, f"{counted(len(bent), 'ceramic capacitor')} {verb} where scores bend: {listed(bent)}")
    if any(rim.notched for rim in rims):
        yield Merit(-NOTCHES, "notches are milled before scoring")
    if one.way.method is Method.SCORED and one.columns > 1 and one.way.rails is not Rails.NONE:
        yield Merit(-WEAK_RAILS, "scores cut into the rails, too, and make the array limp")
