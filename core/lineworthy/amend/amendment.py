# SPDX-License-Identifier: MIT
"""Something to insert into a board, as plain data; a host turns it into the editor's items.

Frame and units as in `lineworthy.model`: mm, y up, seen from the top.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Union

from lineworthy.model import Side
from lineworthy.shapes import Point


@dataclass(frozen=True)
class FiducialMark:
    """Round bare copper in a mask opening, without net, paste, or a place in the parts list.

    `local` marks serve one part instead of the whole side.
    """

    reference: str
    at: Point
    side: Side
    diameter: float
    opening: float
    local: bool = False

    @property
    def package(self) -> str:
        """Name of its land pattern, by which every host and the review recognise it."""
        return f"Fiducial_{'Local_' if self.local else ''}{self.diameter:g}mm_Mask{self.opening:g}mm"

    @property
    def keep_out(self) -> float:
        """Diameter of the courtyard."""
        return self.opening

    @property
    def ring(self) -> float:
        """Width of the clear ring. Hosts give it to the pad as its clearance, so that pours keep out of it."""
        return round((self.opening - self.diameter) / 2, 6)

    @property
    def title(self) -> str:
        """What it is, for a list of proposals."""
        return f"{'local ' if self.local else ''}fiducial {self.reference}, {self.diameter:g} mm, {self.side.value}"


@dataclass(frozen=True)
class MarkingText:
    """A text on the legend, readable from its own side.

    Attributes:
        text: what will be printed.
        source: what is written into the document; differs from `text` where it is a variable that follows the
            title block (``${REVISION}``).
        at: centre of the text.
        height: of the letters; `stroke` is the pen.
        rotation: degrees counter-clockwise as read on its own side; 0 or 90.
    """

    text: str
    source: str
    at: Point
    side: Side
    height: float
    stroke: float
    rotation: float = 0.0

    @property
    def title(self) -> str:
        """What it is, for a list of proposals."""
        return f"text {self.text!r} on the legend, {self.height:g} mm high, {self.side.value}"


@dataclass(frozen=True)
class ProbePad:
    """Round bare copper on a net for a probe, without paste; joins the same-net copper it lies on.

    Hosts connect it to pours solidly: nothing is soldered to it, and spokes could be cut off by what lies near.
    """

    reference: str
    at: Point
    side: Side
    diameter: float
    net: str

    @property
    def package(self) -> str:
        """Name of its land pattern, by which every host and the review recognise it."""
        return f"TestPoint_Pad_D{self.diameter:.1f}mm"

    @property
    def keep_out(self) -> float:
        """Diameter of the courtyard."""
        return round(self.diameter + 0.5, 6)

    @property
    def title(self) -> str:
        """What it is, for a list of proposals."""
        return f"probe pad {self.reference} on {self.net}, {self.diameter:g} mm, {self.side.value}"


@dataclass(frozen=True)
class ToolingHole:
    """An unplated hole for a fixture's guide pin."""

    reference: str
    at: Point
    diameter: float

    @property
    def package(self) -> str:
        """Name of its land pattern, by which every host and the review recognise it."""
        return f"ToolingHole_{self.diameter:g}mm"

    @property
    def keep_out(self) -> float:
        """Diameter of the courtyard, on both sides."""
        return round(self.diameter + 1.0, 6)

    @property
    def title(self) -> str:
        """What it is, for a list of proposals."""
        return f"tooling hole {self.reference}, {self.diameter:g} mm"


Amendment = Union[FiducialMark, MarkingText, ProbePad, ToolingHole]
