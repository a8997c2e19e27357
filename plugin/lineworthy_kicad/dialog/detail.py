# SPDX-License-Identifier: MIT
"""The detail pane: one finding in full, as text that can be read, selected and copied."""

from __future__ import annotations

import html
from typing import Callable, Optional

import wx
import wx.html

from lineworthy_kicad.dialog.colours import Palette, hexed, system
from lineworthy_kicad.dialog.contract import Detail, PlaceLine

PLACES_SHOWN = 40

_HINT = (
    "<p>Choose a finding in the list or a flag on the map. Enter or a double click shows it in the editor.</p>"
    "<p><b>hold</b>: the job stops until somebody answers.<br><b>query</b>: a question comes back, or they work around "
    "it at your cost.<br><b>note</b>: worth a look; nobody stops.</p>"
)


class DetailPane:
    """A page about one finding."""

    def __init__(self, parent: wx.Window, on_place: Callable[[PlaceLine], None]) -> None:
        self.widget = wx.html.HtmlWindow(parent, style=wx.html.HW_SCROLLBAR_AUTO | wx.BORDER_THEME)
        self.widget.SetStandardFonts(self.widget.GetFont().GetPointSize())
        self.widget.SetBorders(self.widget.FromDIP(10))
        self._places: tuple[PlaceLine, ...] = ()
        self._on_place = on_place
        self.widget.Bind(wx.html.EVT_HTML_LINK_CLICKED, self._on_link)

    def show(self, detail: Optional[Detail], palette: Palette) -> None:
        """Sets the page."""
        self._places = detail.places if detail else ()
        body = _page(detail, palette) if detail else _HINT
        self._set(body)

    def show_text(self, text: str) -> None:
        """Plain text, for what a person may want to copy into a report of a fault."""
        self._places = ()
        self._set(f"<pre>{html.escape(text)}</pre>" if text else "")

    def _set(self, body: str) -> None:
        ink, paper = hexed(system(wx.SYS_COLOUR_WINDOWTEXT)), hexed(system(wx.SYS_COLOUR_WINDOW))
        link = hexed(system(wx.SYS_COLOUR_HOTLIGHT))
        self.widget.SetPage(f'<html><body bgcolor="{paper}" text="{ink}" link="{link}">{body}</body></html>')

    def _on_link(self, event: wx.html.HtmlLinkEvent) -> None:
        target = event.GetLinkInfo().GetHref()
        if target.isdigit() and int(target) < len(self._places):
            self._on_place(self._places[int(target)])


def _page(detail: Detail, palette: Palette) -> str:
    colour = hexed(palette.conceded if detail.conceded else palette.consequence(detail.consequence))
    kind = f"{detail.consequence.value}, conceded" if detail.conceded else detail.consequence.value
    lines = [
        f'<p><font color="{colour}"><b>{detail.number} &nbsp; {kind}</b></font> &nbsp; {html.escape(detail.check)}</p>',
        f'<p><font size="+1"><b>{html.escape(detail.message)}</b></font></p>',
    ]
    if detail.facts:
        lines.append('<table cellspacing="0" cellpadding="2" border="0">')
        for label, value in detail.facts:
            lines.append(
                f'<tr><td valign="top" nowrap>{html.escape(label)}&nbsp;&nbsp;</td><td>{html.escape(value)}</td></tr>'
            )
        lines.append("</table>")
    sections = [f"<p><b>{html.escape(title)}</b><br>{html.escape(text)}</p>" for title, text in detail.sections]
    return "\n".join([*lines, *sections[:1], *_places(detail), *sections[1:]])


def _places(detail: Detail) -> list[str]:
    if not detail.places:
        return []
    links = [f'<a href="{n}">{html.escape(p.text)}</a>' for n, p in enumerate(detail.places[:PLACES_SHOWN])]
    more = len(detail.places) - PLACES_SHOWN
    rest = f"<br>and {more} more on the map" if more > 0 else ""
    origin = "mm from the lower left corner of the board, seen from the top"
    return [f"<p><b>Where</b>, {origin}<br>{'<br>'.join(links)}{rest}</p>"]
