# SPDX-License-Identifier: MIT
"""Which way parts lie: for the people who fit them by hand, and for the solder wave."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence

import numpy as np

from lineworthy.finding import Consequence, Finding, places_of
from lineworthy.geometry import exceeds, falls_short, width_and_length
from lineworthy.knowledge.joints import Joints, Land
from lineworthy.knowledge.packages import Family, PackageFacts, Packages
from lineworthy.knowledge.wording import counted, listed, mm, natural
from lineworthy.model import Board, Part, Side
from lineworthy.registry import Answers, Check, check
from lineworthy.sheet import Sheet

TRAVEL_KEY = "solder.wave_travel_deg"
PITCH_KEY, HEIGHT_KEY, LENGTH_KEY = (
    "solder.wave_pitch_min_mm",
    "solder.wave_height_max_mm",
    "solder.wave_length_min_mm",
)

ALIKE_MIN = 6
ALIKE_SHARE = 0.75
"""So many parts of one kind, and so large a share of them, make a habit: one that lies otherwise is put in wrongly."""

ASKEW_DEG = 30.0
"""Up to this much a part may lie askew of the wave."""

_LEADED = frozenset({Family.SMALL_OUTLINE, Family.SOT, Family.QUAD_FLAT})
_UNDER_BODY = frozenset({Family.NO_LEAD, Family.ARRAY})


@check("solder/polarised-part-turned")
def polarised_part_turned(board: Board, packages: Packages) -> Answers:
    """Do a few polarised parts that people fit by hand lie the other way round than all others of their kind?

    Why it matters: hands follow habit. Where ten diodes point left, the eleventh, which points right, is put in
    wrongly, and inspection overlooks it for the same reason.
    What to do: turn the part where the layout allows; otherwise mark its polarity so that it is seen beside the part.
    Blind spots: parts with leads, two ends and a polarity, of the same package on the same side, six or more of which
    three quarters lie alike; only what lies the very other way round is told, not what lies across. Parts that a
    machine places are left out: it does not care.
    Source: common practice, no source.
    """
    kinds: dict[tuple[str, Side], list[Part]] = defaultdict(list)
    for part in board.parts:
        facts = packages.of(part)
        if part.fitted and facts.polarised and facts.leads and not facts.machine_placed and part.package:
            kinds[part.package, part.side].append(part)
    for (package, side), parts in sorted(kinds.items(), key=lambda item: (item[0][0], item[0][1].value)):
        turns = Counter(_turn(part) for part in parts)
        usual, count = min(turns.items(), key=lambda item: (-item[1], item[0]))
        odd = [part for part in parts if _turn(part) == (usual + 180) % 360]
        odd.sort(key=lambda part: (natural(part.reference), part.uid))
        if odd and len(parts) >= ALIKE_MIN and count >= ALIKE_SHARE * len(parts):
            yield polarised_part_turned.finding(
                Consequence.NOTE,
                f"{listed(part.reference for part in odd)} ({package}): the other way round than {count} of the"
                f" kind on the {side.value}",
                items=odd,
                places=places_of(odd),
            )


def _turn(part: Part) -> int:
    return round(part.rotation) % 360


@check("solder/unsuited-for-wave", limits=(TRAVEL_KEY, PITCH_KEY, HEIGHT_KEY, LENGTH_KEY))
def unsuited_for_wave(board: Board, sheet: Sheet, packages: Packages, joints: Joints) -> Answers:
    """Are there surface parts on the bottom that a solder wave cannot solder, or that lie wrongly for it?

    Why it matters: the wave bridges fine pitches, does not reach lands under a body, washes over tall parts, and
    solders the trailing end of a part in its shadow.
    What to do: move such parts to the top or to a pallet's pocket; turn chips so that both ends meet the wave together,
    and small-outline packages so that their rows lie along the travel, with a solder thief at the end.
    Blind spots: asked only where the sheet says that surface parts on the bottom go through the wave, and in which
    direction the board travels. Glue dots and solder thieves are not looked at. Parts of unknown height are not judged
    by height.
    Source: length, height and pitch: articles on layout for wave soldering (trade texts); orientation of chips: a trade
    mailing list, 2007; of small-outline packages: common practice, no source.
    """
    travel = float(sheet.value(TRAVEL_KEY))
    if travel < 0.0:
        return
    told: dict[tuple[Consequence, str, str], list[tuple[Part, float]]] = defaultdict(list)
    for part in board.parts:
        lands = [land for land in joints.of(part) if land.is_printed or land.is_bare]
        if part.side is Side.BOTTOM and part.fitted and lands and packages.of(part).family is not Family.MECHANICAL:
            for kind, key, text, measured in _unsuited(packages.of(part), lands, sheet, travel):
                told[kind, key, text].append((part, measured))
    for (kind, key, text), rows in sorted(told.items(), key=lambda item: (item[0][0].rank, item[0][1:])):
        yield _wave_finding(kind, key, text, rows, sheet)


def _unsuited(
    facts: PackageFacts, lands: Sequence[Land], sheet: Sheet, travel: float
) -> Iterator[tuple[Consequence, str, str, float]]:
    """What keeps a part from being soldered by the wave: consequence, limit, words, measured."""
    limits = sheet.solder
    length = 0.0 if facts.body.is_empty else width_and_length(facts.body)[1]
    if facts.family in _UNDER_BODY:
        yield Consequence.QUERY, "", "lands under the body, which the wave does not reach", 0.0
    elif facts.family in _LEADED and facts.pitch is not None and falls_short(facts.pitch, limits.wave_pitch_min_mm):
        yield Consequence.QUERY, PITCH_KEY, f"pitch below {mm(limits.wave_pitch_min_mm)} mm, which bridges", facts.pitch
    if facts.height is not None and exceeds(facts.height, limits.wave_height_max_mm):
        yield Consequence.QUERY, HEIGHT_KEY, f"taller than {mm(limits.wave_height_max_mm)} mm", facts.height
    if length and falls_short(length, limits.wave_length_min_mm):
        yield Consequence.QUERY, LENGTH_KEY, f"shorter than {mm(limits.wave_length_min_mm)} mm", length
    if facts.family is Family.CHIP and len(lands) == 2:
        off = _angle(lands[0].at, lands[1].at, travel + 90.0)
        if off > 90.0 - ASKEW_DEG:
            yield Consequence.NOTE, TRAVEL_KEY, "one end behind the other on the way over the wave", off
    elif facts.family is Family.SMALL_OUTLINE and len(lands) >= 6:
        off = _angle(*_row(lands), travel)
        if off > ASKEW_DEG:
            yield Consequence.NOTE, TRAVEL_KEY, "rows across the way over the wave", off


def _angle(one: tuple[float, float], other: tuple[float, float], direction: float) -> float:
    """Degrees between a line and a direction, 0 to 90."""
    across = np.degrees(np.arctan2(other[1] - one[1], other[0] - one[0])) - direction
    return round(float(abs((across + 90.0) % 180.0 - 90.0)), 3)


def _row(lands: Sequence[Land]) -> tuple[tuple[float, float], tuple[float, float]]:
    """Two neighbours in a row: the nearest two lands."""
    spots = np.array([land.at for land in lands])
    apart = np.hypot(*(spots[:, None] - spots[None]).transpose(2, 0, 1)) + np.eye(len(spots)) * 1e9
    i, j = np.unravel_index(int(apart.argmin()), apart.shape)
    return lands[int(i)].at, lands[int(j)].at


def _wave_finding(kind: Consequence, key: str, text: str, rows: Sequence[tuple[Part, float]], sheet: Sheet) -> Finding:
    rows = sorted(rows, key=lambda row: (natural(row[0].reference), row[0].uid))
    parts = [row[0] for row in rows]
    worst = max if key in (HEIGHT_KEY, TRAVEL_KEY) else min
    by_length = key in (PITCH_KEY, HEIGHT_KEY, LENGTH_KEY)
    return unsuited_for_wave.finding(
        kind,
        f"{counted(len(parts), 'part')} on the bottom ({listed(part.reference for part in parts)}): {text}",
        items=parts,
        places=places_of(parts),
        measured=worst(row[1] for row in rows) if by_length else None,
        limit=float(sheet.value(key)) if by_length else None,
        limit_key=key,
        detail=text,
    )


CHECKS: tuple[Check, ...] = (polarised_part_turned, unsuited_for_wave)
