# SPDX-License-Identifier: MIT
"""Colours: the system's for everything it has, and our own few for consequences and the map, light and dark."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import wx

from lineworthy.finding import Consequence
from lineworthy.picture import Role
from lineworthy_kicad.dialog.contract import Tone


@dataclass(frozen=True)
class Palette:
    """One theme. `map` holds fill and line colours by role; `words` and `labels` are texts on the map."""

    tones: Mapping[str, wx.Colour]
    on_tone: wx.Colour
    conceded: wx.Colour
    paper: wx.Colour
    map: Mapping[Role, wx.Colour]
    words: wx.Colour
    labels: wx.Colour
    ghost: wx.Colour

    def tone(self, of: Tone) -> wx.Colour:
        """The colour of a verdict."""
        return self.tones["hold" if of is Tone.INCOMPLETE else of.value]

    def consequence(self, of: Consequence) -> wx.Colour:
        """The colour of a finding."""
        return self.tones[of.value]


_LIGHT = {
    Role.BOARD: "#dfe7df",
    Role.POUR: "#d0dbd1",
    Role.COPPER: "#b4c6b7",
    Role.OPENING: "#f2e9cf",
    Role.LAND: "#c9a44c",
    Role.COURTYARD: "#98a39f",
    Role.BODY: "#66717a",
    Role.UNFITTED: "#66717a",
    Role.LEGEND: "#7b868c",
    Role.HOLE: "#ffffff",
    Role.EDGE: "#7a5c00",
}
_DARK = {
    Role.BOARD: "#26332c",
    Role.POUR: "#2d3d34",
    Role.COPPER: "#3d5446",
    Role.OPENING: "#4a4630",
    Role.LAND: "#b08f45",
    Role.COURTYARD: "#5a6864",
    Role.BODY: "#8e9a9f",
    Role.UNFITTED: "#8e9a9f",
    Role.LEGEND: "#94a0a2",
    Role.HOLE: "#10151a",
    Role.EDGE: "#e0c060",
}


def is_dark() -> bool:
    """Whether the system's windows are dark, judged by what they look like: not every system says so."""
    paper = system(wx.SYS_COLOUR_WINDOW)
    ink = system(wx.SYS_COLOUR_WINDOWTEXT)
    return _luminance(paper) < _luminance(ink)


def palette() -> Palette:
    """The colours that go with the system's theme."""
    if is_dark():
        tones = {"hold": "#ff9086", "query": "#f0b64f", "note": "#8dbcff", "clear": "#7bd39a"}
        rest = ("#14191c", "#8e9a9f", "#1d2428", _DARK, "#b9c3c3", "#ced6d4", "#ff9be0")
    else:
        tones = {"hold": "#a8241c", "query": "#8a5200", "note": "#2a5592", "clear": "#1f6b3a"}
        rest = ("#ffffff", "#66717a", "#ffffff", _LIGHT, "#525c62", "#3c474d", "#b0107f")
    on_tone, conceded, paper, roles, words, labels, ghost = rest
    return Palette(
        tones={name: wx.Colour(value) for name, value in tones.items()},
        on_tone=wx.Colour(on_tone),
        conceded=wx.Colour(conceded),
        paper=wx.Colour(paper),
        map={role: wx.Colour(value) for role, value in roles.items()},
        words=wx.Colour(words),
        labels=wx.Colour(labels),
        ghost=wx.Colour(ghost),
    )


def system(which: int) -> wx.Colour:
    """One of the system's colours."""
    return wx.SystemSettings.GetColour(which)


def hexed(colour: wx.Colour) -> str:
    """The colour for markup."""
    return str(colour.GetAsString(wx.C2S_HTML_SYNTAX))


def _luminance(colour: wx.Colour) -> float:
    return 0.299 * float(colour.Red()) + 0.587 * float(colour.Green()) + 0.114 * float(colour.Blue())
