# SPDX-License-Identifier: MIT
"""A supply run in short, for the terminal."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from lineworthy.plans.supply import SupplyRun
from lineworthy.plans.supply_line import SupplyLine
from lineworthy.report.supply_facts import purchases, risks, summary
from lineworthy.safe import visible

RISKY_SHOWN = 30
"""Parts at risk named one by one; the files hold all."""

_LABEL = 16


def render(run: SupplyRun, width: int = 100) -> str:
    """The run as text, wrapped to a width within 60 and 120 columns."""
    width = min(max(width, 60), 120)
    lines: list[str] = []
    for label, words in _rows(run):
        pad = " " * _LABEL
        lines += textwrap.wrap(
            visible(words), width, initial_indent=f"{label:<{_LABEL}}", subsequent_indent=pad, break_on_hyphens=False
        ) or [label]
    return "\n".join(lines) + "\n"


def _rows(run: SupplyRun) -> Iterator[tuple[str, str]]:
    yield (
        "Supply run",
        f"{run.board}: {run.boards} boards, assembly from {run.build.isoformat()}, as of {run.today.isoformat()}",
    )
    yield "", run.verdict
    yield from summary(run)
    risky = [line for line in run.lines if line.is_risky]
    if risky:
        yield "", ""
        yield "At risk", ""
    for line in risky[:RISKY_SHOWN]:
        yield line.standing.value, f"{line.label}: {risks(line)}"
        yield "", _figures(run, line)
    if len(risky) > RISKY_SHOWN:
        yield "", f"and {len(risky) - RISKY_SHOWN} more; --out writes all of them"


def _figures(run: SupplyRun, line: SupplyLine) -> str:
    stock = "unknown" if line.stock is None else f"{line.stock:,}"
    words = f"needs {line.needed:,} ({line.placed:,} and {line.spare:,} spare), stock {stock}"
    if line.buys:
        words += f"; buy {purchases(line)}"
    if line.order_by is not None and not line.late_days:
        words += f"; order by {line.order_by.isoformat()}"
    again = run.reorder_at(line)
    return words + (f"; order again at {again:,}" if again is not None else "")
