# SPDX-License-Identifier: MIT
"""What the drill files of a release drill: the board's holes, by place, size and plating."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Optional

from lineworthy.finding import Consequence, Place
from lineworthy.intake.drill import Hit
from lineworthy.knowledge.made import Drill
from lineworthy.knowledge.wording import counted, listed, mm
from lineworthy.plans.agreement import NO_FOLDER, Agreement
from lineworthy.plans.drill_match import Pair
from lineworthy.registry import Answers, check

SHOWN = 12


@check("release/drill-displaced")
def drill_displaced(agreement: Optional[Agreement]) -> Answers:
    """Are all holes of a drill file moved, mirrored, or in another unit?

    Why it matters: drilling is the first step nobody can undo. A file from another origin drills beside every pad.
    What to do: write the drill file again from the same origin and in the same unit as the plots.
    Blind spots: fewer than half of the holes being wrong counts as wrong holes, not as a wrong file.
    Source: the board itself.
    """
    if agreement is None:
        yield drill_displaced.not_run(*NO_FOLDER)
        return
    units = {drill.name: drill.unit for drill in agreement.own_drills}
    home = agreement.plots.origin
    for name, move in sorted(agreement.drills.moves.items()):
        if move.name == "moved":
            x, y = -move.offset[0] - home[0], -move.offset[1] - home[1]
            how = f"moved by {mm(x)}, {mm(y)} mm against the plots"
        else:
            how = move.name
        unit = f"; it says its unit is {units[name]}" if "25.4" in how and units[name] else ""
        yield drill_displaced.finding(Consequence.HOLD, f"{name}: all holes are {how}{unit}", detail=f"{name} {how}")


@check("release/drill-differs")
def drill_differs(agreement: Optional[Agreement]) -> Answers:
    """Are holes missing, too many, of another size, or plated when they must not be, or the other way round?

    Why it matters: a lead that does not fit or a hole without plating is found when the boards are made.
    What to do: write the drill files again from the saved board.
    Blind spots: places may be 0.02 mm off and sizes as well. Ways of a cutter with corners are not compared. A second
    hit in the same place is not noticed.
    Source: the board itself.
    """
    if agreement is None:
        yield drill_differs.not_run(*NO_FOLDER)
        return
    drills = agreement.drills
    if not agreement.own_drills:
        return
    missing = drills.missing if agreement.drills_are_whole else ()
    if missing or drills.extra:
        # holes that were moved after the files were written are both
        said = []
        if missing:
            sizes = _sizes(drill.hole.diameter for drill in missing)
            said.append(f"{counted(len(missing), 'hole')} of the board in no drill file ({sizes})")
        if drills.extra:
            sizes = _sizes(hit.diameter for hit in drills.extra)
            said.append(f"{counted(len(drills.extra), 'hole')} drilled where the board has none ({sizes})")
        yield drill_differs.finding(
            Consequence.HOLD,
            ", ".join(said),
            places=[
                *_drill_places(missing, "not drilled"),
                *(Place(hit.at, None, f"hole of {mm(hit.diameter)} mm") for hit in _first(drills.extra)),
            ],
            detail="missing" if missing else "extra",
        )
    if drills.wrong_size:
        yield drill_differs.finding(
            Consequence.HOLD,
            f"{counted(len(drills.wrong_size), 'hole')} of another size: {_changes(drills.wrong_size)}",
            places=_drill_places([pair.drill for pair in drills.wrong_size], "of another size"),
            detail="size",
        )
    if drills.wrong_plating:
        plated = [pair.drill for pair in drills.wrong_plating if pair.drill.hole.plated]
        bare = [pair.drill for pair in drills.wrong_plating if not pair.drill.hole.plated]
        said = []
        if plated:
            said.append(f"{counted(len(plated), 'plated hole')} drilled as unplated")
        if bare:
            said.append(f"{counted(len(bare), 'unplated hole')} drilled as plated")
        yield drill_differs.finding(
            Consequence.HOLD,
            " and ".join(said),
            places=_drill_places([*plated, *bare], "plating"),
            detail="plating",
        )


def _sizes(diameters: Iterable[float]) -> str:
    count: dict[str, int] = {}
    for diameter in diameters:
        count[mm(diameter)] = count.get(mm(diameter), 0) + 1
    if len(count) == 1:
        return f"{next(iter(count))} mm"
    return listed(f"{times} of {size} mm" for size, times in count.items())


def _changes(pairs: Sequence[Pair]) -> str:
    return listed(
        f"{_size(pair.drill)} drilled {mm(pair.hit.diameter)}{' as a slot' if len(pair.hit.points) > 1 else ''} mm"
        for pair in pairs
    )


def _size(drill: Drill) -> str:
    hole = drill.hole
    return f"{mm(min(hole.size))} x {mm(max(hole.size))}" if hole.is_slot else mm(hole.diameter)


def _drill_places(drills: Sequence[Drill], what: str) -> list[Place]:
    ordered = sorted(drills, key=lambda drill: (drill.label, drill.hole.at))
    return [Place(d.hole.at, None, f"{d.label or 'via'} {mm(d.hole.diameter)} mm {what}") for d in ordered[:SHOWN]]


def _first(hits: Sequence[Hit]) -> list[Hit]:
    return sorted(hits, key=lambda hit: hit.at)[:SHOWN]


CHECKS = (drill_displaced, drill_differs)
