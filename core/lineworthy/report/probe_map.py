# SPDX-License-Identifier: MIT
"""A probe plan as a map: both sides as their probes see them, each probe in its size, and what is not reached."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from lineworthy.geometry import exceeds
from lineworthy.knowledge.titleblock import title_block
from lineworthy.knowledge.wording import counted, mm, natural
from lineworthy.model import Board, LayerKind, Side
from lineworthy.picture import Picture, Role
from lineworthy.picture import draw as picture_of
from lineworthy.plans.probe_force import INCH_MM
from lineworthy.plans.probe_plan import GROUND, RAIL, SENSE, Probe, ProbePlan, Uncovered
from lineworthy.report.probe_facts import SIZES, VIEWS, cares, spot
from lineworthy.report.probe_text import verdict
from lineworthy.report.svg import Frame, painted
from lineworthy.safe import markup
from lineworthy.shapes import Point

RADII_MM = {100: 0.85, 75: 0.64, 50: 0.43, None: 0.3}
"""Discs in proportion to the classes; two of them never overlap where their classes are allowed."""

DRAWN = (Role.BOARD, Role.LAND, Role.BODY, Role.HOLE, Role.EDGE)

NAMES_MAX = 80
"""Nets named in each list of what is not reached; the rest is counted."""

_STYLE = """\
text { font-family: "Segoe UI", "Noto Sans", Arial, sans-serif; fill: #1b2328 }
.paper, .r-hole { fill: #fff } .r-hole { stroke: #fff }
.r-board { fill: #e9eee9; stroke: #66717a } .r-board .fill { stroke-width: 8 }
.r-land { fill: #dcc998; stroke: #dcc998 } .r-edge { fill: #7a5c00 }
.r-body .fill { fill: #fff; fill-opacity: .5; stroke: #aab3b8; stroke-width: 5 }
.line { fill: none; stroke-linecap: round; stroke-linejoin: round }
.p100 { fill: #1f5fae } .p75 { fill: #b85c00 } .p50 { fill: #b3261e } .pfine { fill: #7a1fa2 }
.mark { stroke: #fff; stroke-width: 6 }
.care { fill: none; stroke: #1b2328; stroke-width: 12; stroke-dasharray: 24 16 }
.probe text, .miss text { fill: #fff; text-anchor: middle; dominant-baseline: central; font-weight: 600 }
.miss circle { fill: #fff; fill-opacity: .7; stroke: #a8241c; stroke-width: 14; stroke-dasharray: 36 20 }
.miss text, .bad { fill: #a8241c } .soft { fill: #505b62 } .head { font-weight: 600 }
.datum { fill: none; stroke: #1b2328; stroke-width: 14 } .inch { fill: none; stroke: #a8241c; stroke-width: 16 }"""


def draw(plan: ProbePlan) -> str:
    """The map as an SVG file of its own."""
    sheet = _Sheet.of(plan)
    body = [*_heading(plan, sheet)]
    for side, left, top in sheet.pictures:
        body += _side(plan, side, sheet, left, top)
    body += _key(plan, sheet)
    lines, height = _list(plan, sheet)
    body += lines
    size = f'viewBox="0 0 {sheet.width} {height}"'
    return "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" {size} role="img" aria-labelledby="title">',
            f'<title id="title">Probe plan of {markup(plan.board.name)}</title>',
            f"<style>{_STYLE}</style>",
            f'<rect class="paper" width="{sheet.width}" height="{height}"/>',
            *body,
            "</svg>\n",
        ]
    )


@dataclass(frozen=True)
class _Sheet:
    """Where things are, in drawing units of 0.01 mm.

    Attributes:
        letter: height of a letter.
        pictures: each side with the upper left corner of its picture; the planned side first.
        below: where the pictures end.
    """

    views: tuple[Picture, Picture]
    frame: Frame
    letter: int
    width: int
    pictures: tuple[tuple[Side, int, int], ...]
    below: int

    @classmethod
    def of(cls, plan: ProbePlan) -> _Sheet:
        """Side by side, or one above the other where the board is wide."""
        bare = _bare(plan.board)
        views = (picture_of(bare, Side.TOP), picture_of(bare, Side.BOTTOM))
        bounds = views[0].bounds.padded(max(views[0].bounds.span * 0.02, 1.0))
        frame = Frame(bounds)
        wide, tall = frame.lengths(bounds.right - bounds.left, bounds.top - bounds.bottom)
        beside = wide < 1.8 * tall
        letter = max(round((2 * wide if beside else wide) * 0.0125), round(0.6 * 100))
        head, gap = 5 * letter, 2 * letter
        first = (plan.side, gap, head + 2 * letter)
        second = (plan.side.other, 2 * gap + wide, head + 2 * letter)
        width, below = 3 * gap + 2 * wide, head + 2 * letter + tall
        if not beside:
            second = (plan.side.other, gap, head + tall + 5 * letter)
            width, below = 2 * gap + wide, head + 2 * tall + 5 * letter
        return cls(views, frame, letter, width, (first, second), below)

    @property
    def size(self) -> tuple[int, ...]:
        """Width and height of each picture."""
        bounds = self.frame.bounds
        return self.frame.lengths(bounds.right - bounds.left, bounds.top - bounds.bottom)

    def view(self, side: Side) -> Picture:
        """The picture of a side."""
        return self.views[0 if side is Side.TOP else 1]

    def units(self, side: Side, at: Point) -> tuple[int, int]:
        """A place of the board in its side's picture: the bottom is seen from below."""
        bounds = self.view(side).bounds
        x = at[0] if side is Side.TOP else bounds.left + bounds.right - at[0]
        return self.frame.point((x, at[1]))

    def text(self, x: int, y: int, words: str, kind: str = "", size: float = 1.0) -> str:
        """A line of text; `y` is its base line."""
        named = f' class="{kind}"' if kind else ""
        return f'<text{named} x="{x}" y="{y}" font-size="{round(self.letter * size)}">{markup(words)}</text>'

    def fitting(self, words: str, width: int) -> str:
        """Words cut to a width, by an average letter."""
        room = max(int(width / (0.56 * self.letter)), 8)
        return words if len(words) <= room else f"{words[: room - 1]}…"


def _bare(board: Board) -> Board:
    """The board without what a map of probes does not show."""
    outline = tuple(g for g in board.graphics if g.layer.kind is LayerKind.OUTLINE)
    return replace(board, areas=(), tracks=(), vias=(), markings=(), keepouts=(), graphics=outline)


def _heading(plan: ProbePlan, sheet: _Sheet) -> Iterator[str]:
    board, gap = plan.board, 2 * sheet.letter
    stated = title_block(board).revision
    revision = f" rev {stated}" if stated else ""
    width = sheet.width - 2 * gap
    yield sheet.text(gap, 2 * sheet.letter, sheet.fitting(f"Probe plan of {board.name}{revision}", width), "head", 1.4)
    kind = "bad" if plan.missed_keys else "soft"
    yield sheet.text(gap, 4 * sheet.letter, sheet.fitting(verdict(plan), width), kind)


def _side(plan: ProbePlan, side: Side, sheet: _Sheet, left: int, top: int) -> Iterator[str]:
    probes = plan.on(side)
    what = VIEWS[side][:1].upper() + VIEWS[side][1:]
    yield sheet.text(left, top - sheet.letter // 2, f"{what}: {counted(len(probes), 'probe')}", "head")
    # an inner svg cuts off what hangs over the board's rim
    width, height = sheet.size
    yield f'<svg x="{left}" y="{top}" width="{width}" height="{height}">'
    yield from (painted(coat, sheet.frame) for coat in sheet.view(side).coats if coat.role in DRAWN)
    if side is plan.side:
        yield from _inch(plan, sheet)
        for row, miss in enumerate(plan.missed_keys, 1):
            yield from _room(plan, miss, row, sheet)
    for hole in plan.datum:
        yield _datum(sheet.units(side, hole.at), round(hole.diameter * 50))
    for probe in probes:
        yield _probe(probe, sheet.units(side, probe.target.at), plan)
    yield "</svg>"


def _probe(probe: Probe, at: tuple[int, int], plan: ProbePlan) -> str:
    x, y = at
    radius = round(RADII_MM[probe.size] * 100)
    size = f"p{probe.size}" if probe.size else "pfine"
    said = [f"P{probe.number} {probe.net}", probe.purpose, probe.target.label, SIZES[probe.size]]
    said += [spot(plan, probe.target.at), cares(probe)]
    shape = f'<circle class="mark" cx="{x}" cy="{y}" r="{radius}"/>'
    if probe.purpose == GROUND:
        half = round(radius * 0.89)
        shape = f'<rect class="mark" x="{x - half}" y="{y - half}" width="{2 * half}" height="{2 * half}"/>'
    elif probe.purpose == RAIL:
        corners = f"{x} {y - radius} {x + radius} {y} {x} {y + radius} {x - radius} {y}"
        shape = f'<polygon class="mark" points="{corners}"/>'
    elif probe.purpose == SENSE:
        shape += f'<circle cx="{x}" cy="{y}" r="{round(radius * 0.72)}" fill="#fff"/>'
    if probe.in_the_way or probe.is_guided:
        shape += f'<circle class="care" cx="{x}" cy="{y}" r="{radius + 10}"/>'
    font = round(radius * (0.95 if probe.number < 100 else 0.75))
    ink = ' style="fill:#1b2328"' if probe.purpose == SENSE else ""
    label = f'<text x="{x}" y="{y}" font-size="{font}"{ink}>{probe.number}</text>'
    title = markup(", ".join(words for words in said if words))
    return f'<g class="probe {size}"><title>{title}</title>{shape}{label}</g>'


def _room(plan: ProbePlan, miss: Uncovered, row: int, sheet: _Sheet) -> Iterator[str]:
    if miss.room is None:
        return
    x, y = sheet.units(plan.side, miss.room.at)
    radius = round(plan.sheet.test_access.target_preferred_mm * 50)
    yield (
        f'<g class="miss"><title>{markup(miss.facts.name)}: room for a pad</title><circle cx="{x}" cy="{y}" '
        f'r="{radius}"/><text x="{x}" y="{y}" font-size="{round(radius * 0.9)}">N{row}</text></g>'
    )


def _inch(plan: ProbePlan, sheet: _Sheet) -> Iterator[str]:
    """The square inch with the most force, where it is too much."""
    dense = plan.load.densest
    if not exceeds(dense.force, plan.load.cap):
        return
    (x, y), (corner_x, corner_y) = dense.corner, (dense.corner[0] + INCH_MM, dense.corner[1] + INCH_MM)
    one, other = sheet.units(plan.side, (x, y)), sheet.units(plan.side, (corner_x, corner_y))
    left, top, side = min(one[0], other[0]), min(one[1], other[1]), abs(one[0] - other[0])
    words = f"{dense.force:.0f} N in a square inch, {plan.load.cap:g} N allowed"
    yield f'<g><title>{words}</title><rect class="inch" x="{left}" y="{top}" width="{side}" height="{side}"/></g>'


def _datum(at: tuple[int, int], radius: int) -> str:
    x, y = at
    far = radius + 60
    cross = f"M{x - far} {y}h{2 * far}M{x} {y - far}v{2 * far}"
    ring = f'<circle class="datum" cx="{x}" cy="{y}" r="{radius}"/>'
    return f'<g><title>datum hole</title>{ring}<path class="datum" d="{cross}"/></g>'


def _key(plan: ProbePlan, sheet: _Sheet) -> Iterator[str]:
    """What the marks mean; only those that are there."""
    step = sheet.letter
    x, y = 2 * step, sheet.below + 2 * step
    for shape, words in _entries(plan, step):
        length = round(len(words) * 0.56 * step) + 3 * step
        if x + length > sheet.width - 2 * step and x > 2 * step:
            x, y = 2 * step, y + round(1.7 * step)
        yield f'<g transform="translate({x + step // 2} {y - step // 3})">{shape}</g>'
        yield sheet.text(x + round(1.4 * step), y, words)
        x += length


def _entries(plan: ProbePlan, step: int) -> Iterator[tuple[str, str]]:
    radius = round(step * 0.45)
    disc = f'<circle r="{radius}"/>'
    for size, words in SIZES.items():
        if any(probe.size == size for probe in plan.probes):
            kind = f"p{size}" if size else "pfine"
            yield f'<g class="{kind}">{disc}</g>', f"{words} probe" if size else "too near for any class"
    shapes = {
        GROUND: (f'<rect x="-{radius}" y="-{radius}" width="{2 * radius}" height="{2 * radius}"/>', "ground"),
        RAIL: (f'<polygon points="0 -{radius} {radius} 0 0 {radius} -{radius} 0"/>', "rail"),
        SENSE: (f'{disc}<circle r="{round(radius * 0.7)}" fill="#fff"/>', "sense of a rail"),
    }
    for purpose, (shape, words) in shapes.items():
        if any(probe.purpose == purpose for probe in plan.probes):
            yield shape, words
    thin = f'fill="none" stroke-width="{max(radius // 5, 1)}"'
    if any(probe.in_the_way or probe.is_guided for probe in plan.probes):
        yield (
            f'<circle r="{radius}" {thin} stroke="#1b2328" stroke-dasharray="{radius // 2} {radius // 3}"/>',
            "asks for care",
        )
    if any(miss.room for miss in plan.missed_keys):
        yield f'<circle r="{radius}" {thin} stroke="#a8241c"/>', "room for a pad a net below needs"
    if plan.datum:
        yield f'<path d="M-{radius} 0h{2 * radius}M0 -{radius}v{2 * radius}" {thin} stroke="#1b2328"/>', "datum hole"
    if exceeds(plan.load.densest.force, plan.load.cap):
        box = f'<rect x="-{radius}" y="-{radius}" width="{2 * radius}" height="{2 * radius}" {thin} stroke="#a8241c"/>'
        yield box, "square inch with too much force"


def _list(plan: ProbePlan, sheet: _Sheet) -> tuple[list[str], int]:
    """The nets that are not reached: those that test needs, then the others; also how tall the sheet is with them."""
    step = sheet.letter
    top = sheet.below + 2 * step + round(1.7 * step) * 3
    keys = [f"N{row}  {_missed(miss)}" for row, miss in enumerate(plan.missed_keys, 1)]
    others = sorted(
        (miss.facts.name for miss in plan.uncovered if not miss.is_key), key=lambda name: (natural(name), name)
    )
    if not plan.uncovered:
        return [], top
    heading = f"Not reached: {counted(len(plan.uncovered), 'net')}, {len(keys)} of them needed by test"
    lines = [sheet.text(2 * step, top, heading, "head")]
    for names, columns, kind in ((keys, 2, "bad"), (others, 4, "soft")):
        more, top = _columns(names, columns, kind, sheet, top)
        lines += more
    return lines, top + 2 * step


def _columns(names: Sequence[str], columns: int, kind: str, sheet: _Sheet, top: int) -> tuple[list[str], int]:
    """Names in columns below a line, and the line after them."""
    step, line = sheet.letter, round(1.5 * sheet.letter)
    shown = list(names[:NAMES_MAX])
    if len(names) > NAMES_MAX:
        shown.append(f"and {len(names) - NAMES_MAX} more, in the JSON file")
    rows = -(-len(shown) // columns)
    width = (sheet.width - 4 * step) // columns
    lines = []
    for n, name in enumerate(shown):
        x, y = 2 * step + n // rows * width, top + (n % rows + 1) * line
        lines.append(sheet.text(x, y, sheet.fitting(name, width - step), kind))
    return lines, top + rows * line


def _missed(miss: Uncovered) -> str:
    room = "no room for a pad" if miss.room is None else "room on it"
    if miss.room is not None and miss.room.away > 0:
        room = f"room {mm(round(miss.room.away, 2))} mm away"
    return f"{miss.facts.name} ({miss.facts.kind.value}): {room}"
