# SPDX-License-Identifier: MIT
"""A probe plan as data: a table with a line per probe (CSV, UTF-8, commas), and everything else as JSON."""

from __future__ import annotations

import csv
import io
import json
from typing import Any, Optional

from lineworthy import __version__
from lineworthy.knowledge.targets import Target
from lineworthy.knowledge.titleblock import title_block
from lineworthy.plans.probe_force import MODULUS_MPA, STRAIN_BUDGET
from lineworthy.plans.probe_plan import Load, Probe, ProbePlan, Uncovered
from lineworthy.report.json import number
from lineworthy.report.probe_facts import FRAME, cares, part_and_pad, place, why
from lineworthy.safe import cell
from lineworthy.shapes import Point

FORMAT = "lineworthy-probe-plan"
VERSION = 1

HEADER = (
    "probe",
    "net",
    "net class",
    "needed by test",
    "purpose",
    "x mm",
    "y mm",
    "side",
    "target",
    "part",
    "pad",
    "target mm",
    "probe mil",
    "next probe mm",
    "force N",
    "x from datum mm",
    "y from datum mm",
    "care",
)
"""Places are seen from the top on both sides; ``probe mil`` is empty where not even 50 mil fits."""


def table(plan: ProbePlan) -> str:
    """One line per probe, main side first, in the order of the probes' numbers."""
    out = io.StringIO()
    lines = csv.writer(out, lineterminator="\n")
    lines.writerow(HEADER)
    for probe in plan.probes:
        lines.writerow(_line(plan, probe))
    return _written(out.getvalue())


def _line(plan: ProbePlan, probe: Probe) -> list[str]:
    target = probe.target
    part, pad = part_and_pad(target)
    x, y = place(plan, target.at)
    from_x, from_y = _from_datum(plan, target.at) or ("", "")
    return [
        f"P{probe.number}",
        cell(probe.net),
        cell(_kind(probe)),
        "yes" if probe.is_key else "",
        probe.purpose,
        f"{x:.3f}",
        f"{y:.3f}",
        target.side.value,
        target.kind.value,
        cell(part),
        cell(pad),
        f"{target.diameter:.3f}",
        str(probe.size or ""),
        "" if probe.apart is None else f"{probe.apart:.3f}",
        f"{plan.load.probe:.2f}",
        from_x,
        from_y,
        cell(cares(probe)),
    ]


def _kind(probe: Probe) -> str:
    return " ".join(word for word in (probe.facts.kind.value, probe.facts.bus) if word)


def _from_datum(plan: ProbePlan, at: Point) -> Optional[tuple[str, str]]:
    if not plan.datum:
        return None
    zero = plan.datum[0].at
    return f"{at[0] - zero[0] + 0.0:.3f}", f"{at[1] - zero[1] + 0.0:.3f}"


def document(plan: ProbePlan) -> str:
    """The whole plan as JSON: the same plan gives the same bytes."""
    made = {
        "format": FORMAT,
        "version": VERSION,
        "tool": {"name": "lineworthy", "version": __version__},
        "board": {"name": plan.board.name, "revision": title_block(plan.board).revision},
        "sheet": {"name": plan.sheet.name},
        "frame": FRAME,
        "side": plan.side.value,
        "second_side": {
            "side": plan.side.other.value,
            "probes": len(plan.on(plan.side.other)),
            "needed_for": list(plan.forced),
            "would_reach": [miss.facts.name for miss in plan.uncovered if miss.other is not None],
        },
        "datum": [
            {**_at(plan, hole.at), "diameter_mm": number(hole.diameter), "use": hole.use.value} for hole in plan.datum
        ],
        "probes": [_probe(plan, probe) for probe in plan.probes],
        "plugs": [{"net": plug.facts.name, "needed": plug.is_key, **_target(plan, plug.target)} for plug in plan.plugs],
        "uncovered": [_miss(plan, miss) for miss in plan.uncovered],
        "left_bare": [{"net": facts.name, "kind": facts.kind.value} for facts in plan.left_bare],
        "ground": _ground(plan),
        "load": _load(plan, plan.load),
    }
    return _written(json.dumps(made, indent=2, ensure_ascii=False, allow_nan=False) + "\n")


def _written(text: str) -> str:
    """Text that UTF-8 can hold, whatever half a surrogate pair a name has."""
    return text.encode("utf-8", "replace").decode("utf-8")


def _probe(plan: ProbePlan, probe: Probe) -> dict[str, Any]:
    return {
        "probe": f"P{probe.number}",
        "net": probe.net,
        "kind": probe.facts.kind.value,
        "bus": probe.facts.bus,
        "evidence": list(probe.facts.evidence),
        "needed": probe.is_key,
        "purpose": probe.purpose,
        **_target(plan, probe.target),
        "size_mil": probe.size,
        "next_probe_mm": number(probe.apart),
        "force_n": number(plan.load.probe),
        "care": cares(probe),
    }


def _target(plan: ProbePlan, target: Target) -> dict[str, Any]:
    part, pad = part_and_pad(target)
    named = {"side": target.side.value, "target": target.kind.value, "part": part, "pad": pad}
    return {**_at(plan, target.at), **named, "target_mm": number(target.diameter)}


def _at(plan: ProbePlan, at: Point) -> dict[str, Any]:
    x, y = place(plan, at)
    return {"x_mm": x, "y_mm": y}


def _miss(plan: ProbePlan, miss: Uncovered) -> dict[str, Any]:
    room = miss.room
    return {
        "net": miss.facts.name,
        "kind": miss.facts.kind.value,
        "needed": miss.is_key,
        "why": why(miss, plan),
        "room": None if room is None else {**_at(plan, room.at), "side": room.side.value, "away_mm": number(room.away)},
    }


def _ground(plan: ProbePlan) -> dict[str, Any]:
    far = plan.far_signal
    return {
        "probes": sum(probe.purpose == "ground" for probe in plan.probes),
        "wanted": plan.grounds_wanted,
        "farthest_signal": f"P{far[0].number}" if far else None,
        "farthest_mm": number(far[1]) if far else None,
    }


def _load(plan: ProbePlan, load: Load) -> dict[str, Any]:
    return {
        "probe_n": number(load.probe),
        "total_n": number(load.total),
        "densest_inch": {
            **_at(plan, load.densest.corner),
            "probes": load.densest.probes,
            "force_n": number(load.densest.force),
            "max_n": number(load.cap),
        },
        "vacuum_holds_probes": load.vacuum,
        "estimate": {
            "of": "a strip held along the board's two long edges, the force spread evenly",
            "span_mm": number(load.span),
            "thickness_mm": number(plan.board.stackup.thickness),
            "modulus_mpa": MODULUS_MPA,
            "sag_mm": number(load.sag),
            "strain": None if load.strain is None else round(load.strain, 9),
            "strain_budget": STRAIN_BUDGET,
            "supports_apart_mm": number(load.supports),
        },
    }
