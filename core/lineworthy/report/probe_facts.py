# SPDX-License-Identifier: MIT
"""How a probe plan is put into words and figures, shared by its table, its map and its summary."""

from __future__ import annotations

from lineworthy.knowledge.surroundings import Hurdle
from lineworthy.knowledge.targets import Target
from lineworthy.knowledge.wording import mm
from lineworthy.model import Side, Via
from lineworthy.plans.probe_force import VACUUM_KEY
from lineworthy.plans.probe_plan import Probe, ProbePlan, Uncovered
from lineworthy.shapes import Point

FRAME = (
    "x to the right, y up, in mm, both sides as seen from the top of the board (the bottom is not mirrored); "
    "counted from the origin of drill and placement files"
)

SIZES = {100: "100 mil", 75: "75 mil", 50: "50 mil", None: "finer"}
"""The size classes in words; None stands for probes finer than any class."""

VIEWS = {Side.TOP: "top, seen from above", Side.BOTTOM: "bottom, seen from below"}
"""Maps show each side as its probes see it."""


def place(plan: ProbePlan, at: Point) -> Point:
    """A place in the frame of the outputs, to a micrometre."""
    x, y = plan.board.origin
    return round(at[0] - x, 3) + 0.0, round(at[1] - y, 3) + 0.0


def spot(plan: ProbePlan, at: Point) -> str:
    """A place in words."""
    x, y = place(plan, at)
    return f"x {x:.2f}, y {y:.2f}"


def part_and_pad(target: Target) -> tuple[str, str]:
    """The reference and pad number of a target, ``via`` and nothing for a via."""
    if isinstance(target.item, Via):
        return "via", ""
    part, pad = target.item
    return part.reference, pad.number


def cares(probe: Probe) -> str:
    """What asks for care at a probe: hurdles, a small target, a neighbour too near."""
    said = [care(hurdle) for hurdle in probe.hurdles]
    if probe.is_guided:
        said.append(f"{mm(probe.target.diameter)} mm target, guided tip")
    if probe.size is None and probe.apart is not None:
        said.append(f"next probe {mm(probe.apart)} mm away, nearer than any size class allows")
    return "; ".join(said)


def care(hurdle: Hurdle) -> str:
    """One hurdle in words."""
    by = f" ({hurdle.by})" if hurdle.by else " (vacuum seal only)" if hurdle.limit_key == VACUUM_KEY else ""
    return f"{hurdle.kind.value}{by}: {mm(max(hurdle.measured, 0.0))} mm, {mm(hurdle.limit)} mm wanted"


def why(miss: Uncovered, plan: ProbePlan) -> str:
    """Why a net is not reached, and what would help."""
    said = [miss.lack]
    if miss.other is not None:
        said.append(f"{miss.other.label} could be probed from the {miss.other.side.value}")
    need = mm(plan.sheet.test_access.target_preferred_mm)
    if miss.room is None:
        said.append(f"no room for a {need} mm pad on the {plan.side.value}")
    elif miss.room.away > 0:
        where = spot(plan, miss.room.at)
        said.append(
            f"a {need} mm pad fits on the {plan.side.value} at {where}, {mm(miss.room.away)} mm from its copper"
        )
    else:
        said.append(f"a {need} mm pad fits on its own copper on the {plan.side.value}, at {spot(plan, miss.room.at)}")
    return "; ".join(said)
