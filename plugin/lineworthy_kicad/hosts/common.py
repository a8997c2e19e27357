# SPDX-License-Identifier: MIT
"""What the hosts of the running editor share: its units and frame, and how its refusals are said.

Imports nothing when it is loaded that the editor's own Python may lack.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Optional

if TYPE_CHECKING:
    from collections.abc import Sequence

    from lineworthy.amend.amendment import Amendment

UNTITLED = "untitled board"
"""What a board that was never saved is called."""

NM_PER_MM = 1_000_000
TOLERANCE_NM = 1
"""What the editor's own rounding may move an inserted item by."""


def nm(mm: float) -> int:
    """Millimetres to the editor's nanometres, rounded: cutting off would lose one in 50 whole micrometres."""
    return round(mm * NM_PER_MM)


def place(at: tuple[float, float]) -> tuple[int, int]:
    """A position of the model (mm, y up) as the editor's (nm, y down)."""
    return nm(at[0]), nm(-at[1])


def near(one: tuple[int, int], other: tuple[int, int]) -> bool:
    """Whether two positions or sizes in nm are the same."""
    return all(abs(a - b) <= TOLERANCE_NM for a, b in zip(one, other))


def text_angle(rotation: float, bottom: bool) -> float:
    """The editor's angle of a text, which is counted counter-clockwise from the top, whichever side reads it."""
    return (-rotation if bottom else rotation) % 360


def project_text(board: str) -> Optional[str]:
    """Text of the project file beside a board file; None where there is none, or the board was never saved.

    Raises:
        HostError: there is one, and it cannot be read: without it other net classes and texts would be reviewed.
    """
    from lineworthy.errors import InputError  # noqa: PLC0415 - see above
    from lineworthy_kicad.hosts.host import HostError  # noqa: PLC0415 - see above
    from lineworthy_kicad.reader import read_project_text  # noqa: PLC0415 - see above

    try:
        return read_project_text(Path(board)) if board else None
    except InputError as error:
        raise HostError(str(error)) from None


def one_line(fault: object) -> str:
    """The message of an error without line breaks, cut to what fits a message box."""
    words = " ".join(str(fault).split())
    return words if len(words) <= 300 else f"{words[:299]}…"


def taken(amendments: Sequence[Amendment], references: set[str]) -> str:
    """Why some references cannot be used; empty when they are all free."""
    wanted = [name for name in (getattr(amendment, "reference", "") for amendment in amendments) if name]
    for name in wanted:
        if name in references:
            return f"{name} is on the board already; review again"
        if wanted.count(name) > 1:
            return f"{name} would be inserted twice"
    return ""
