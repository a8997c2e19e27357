# SPDX-License-Identifier: MIT
"""Lead times against the build date, as a picture: every part's time counted back from the day assembly begins.

A bar that reaches back beyond *today* had to be ordered before; the room between *today* and a bar is the time left.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from lineworthy.knowledge.wording import counted
from lineworthy.plans.supply import SupplyRun
from lineworthy.plans.supply_line import SupplyLine, weeks
from lineworthy.report.supply_facts import mood
from lineworthy.safe import markup

MOST_ROWS = 45
"""More parts than this are not drawn one by one."""

_WIDTH, _LEFT, _RIGHT, _ROW, _TOP = 1100, 270, 190, 24, 46


@dataclass(frozen=True)
class _Scale:
    """Days to units across the picture."""

    first: date
    last: date

    def x(self, day: date) -> float:
        """Where a day lies."""
        room = _WIDTH - _LEFT - _RIGHT
        return round(_LEFT + room * (day - self.first).days / max((self.last - self.first).days, 1), 1)


def draw(run: SupplyRun) -> str:
    """The picture as SVG markup; empty when no part has a time."""
    dated = sorted(
        (line for line in run.lines if line.order_by), key=lambda line: (line.order_by or date.max, line.label)
    )
    slow = [line for line in dated if line.late_days or any(not buy.from_stock for buy in line.buys)]
    unknown = [line for line in run.lines if not line.order_by]
    if not dated and not unknown:
        return ""
    drawn = slow[:MOST_ROWS]
    stocked = [line for line in dated if line not in slow]
    rows = len(drawn) + min(len(unknown), MOST_ROWS) + bool(stocked)
    first = min([run.today, *(line.order_by for line in dated if line.order_by)])
    scale = _Scale(first - timedelta(days=3), max(run.build, run.today) + timedelta(days=5))
    height = _TOP + rows * _ROW + 14
    body = [*_days(scale, height)]
    at = _TOP
    for line in drawn:
        body += _bar(run, line, scale, at)
        at += _ROW
    for line in unknown[:MOST_ROWS]:
        body += _no_time(line, scale, at, run)
        at += _ROW
    if stocked:
        body += _stocked(run, stocked, scale, at)
    body += _lines(run, scale, height)
    title = f"Lead times of {counted(rows, 'row')} of parts, counted back from {run.build.isoformat()}"
    return (
        f'<svg class="times" viewBox="0 0 {_WIDTH} {height}" role="img" aria-label="{markup(title)}">'
        + "".join(body)
        + "</svg>"
    )


def _days(scale: _Scale, height: int) -> Iterator[str]:
    """Grid and names of months, or of weeks where the time is short."""
    span = (scale.last - scale.first).days
    day = scale.first + timedelta(days=1)
    step = 7 if span <= 90 else 0
    while day <= scale.last:
        if (step and day.weekday() == 0) or (not step and day.day == 1):
            x = scale.x(day)
            # every other month where they would run into each other
            shown = step or span < 500 or day.month % (span // 500 * 3 + 1) == 1
            yield f'<line class="grid" x1="{x}" x2="{x}" y1="{_TOP - 8}" y2="{height - 10}"/>'
            if shown:
                name = day.isoformat() if step else day.isoformat()[:7]
                yield f'<text class="day" x="{x + 3}" y="{_TOP - 12}">{name}</text>'
        day += timedelta(days=1)


def _label(line: SupplyLine, at: int) -> str:
    text = line.label if len(line.label) <= 40 else line.label[:38] + "..."
    return f'<text class="name" x="{_LEFT - 8}" y="{at + 12}">{markup(text)}</text>'


def _bar(run: SupplyRun, line: SupplyLine, scale: _Scale, at: int) -> Iterator[str]:
    assert line.order_by is not None
    arrives = line.order_by + timedelta(days=line.lead_days or 0)
    begin, middle, end = scale.x(line.order_by), scale.x(arrives), scale.x(run.build)
    kind = mood(line)
    said = f"{line.label}: order by {line.order_by.isoformat()}, lead time {weeks(line.lead_days)}"
    yield f'<g class="{kind}"><title>{markup(said)}</title>{_label(line, at)}'
    yield f'<rect class="lead" x="{begin}" y="{at}" width="{max(middle - begin, 1):.1f}" height="14" rx="2"/>'
    yield f'<rect class="steps" x="{middle}" y="{at + 3}" width="{max(end - middle, 1):.1f}" height="8"/>'
    late = f", {line.late_days} d late" if line.late_days else ""
    yield f'<text class="due" x="{_WIDTH - _RIGHT + 8}" y="{at + 12}">{line.order_by.isoformat()}{late}</text></g>'


def _no_time(line: SupplyLine, scale: _Scale, at: int, run: SupplyRun) -> Iterator[str]:
    x, end = scale.x(run.today), scale.x(run.build)
    yield f'<g class="hold"><title>{markup(line.label)}: {line.standing.value}</title>{_label(line, at)}'
    yield f'<rect class="open" x="{min(x, end)}" y="{at}" width="{abs(end - x):.1f}" height="14" rx="2"/>'
    yield f'<text class="due" x="{_WIDTH - _RIGHT + 8}" y="{at + 12}">{line.standing.value}</text></g>'


def _stocked(run: SupplyRun, lines: Sequence[SupplyLine], scale: _Scale, at: int) -> Iterator[str]:
    day = min(line.order_by for line in lines if line.order_by)
    arrives = day + timedelta(days=max(line.lead_days or 0 for line in lines))
    begin, middle, end = scale.x(day), scale.x(arrives), scale.x(run.build)
    what = f"{counted(len(lines), 'part')} from stock"
    yield f'<g class="clear"><text class="name" x="{_LEFT - 8}" y="{at + 12}">{what}</text>'
    yield f'<rect class="lead" x="{begin}" y="{at}" width="{max(middle - begin, 1):.1f}" height="14" rx="2"/>'
    yield f'<rect class="steps" x="{middle}" y="{at + 3}" width="{max(end - middle, 1):.1f}" height="8"/>'
    yield f'<text class="due" x="{_WIDTH - _RIGHT + 8}" y="{at + 12}">{day.isoformat()}</text></g>'


def _lines(run: SupplyRun, scale: _Scale, height: int) -> Iterator[str]:
    for day, word, kind in ((run.today, "today", "today"), (run.build, "build", "build")):
        x = scale.x(day)
        anchor = "end" if kind == "build" and x > _WIDTH - _RIGHT - 60 else "start"
        yield f'<line class="{kind}" x1="{x}" x2="{x}" y1="{_TOP - 30}" y2="{height - 6}"/>'
        shift = -4 if anchor == "end" else 4
        where = f'text-anchor="{anchor}" x="{x + shift}" y="{_TOP - 26}"'
        yield f'<text class="mark {kind}" {where}>{word} {day.isoformat()}</text>'
