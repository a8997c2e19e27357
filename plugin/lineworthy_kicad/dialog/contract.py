# SPDX-License-Identifier: MIT
"""What presenter and view promise each other. Plain data and two protocols; no widgets, no editor.

All text in here may come off the board: it has been made visible (no control characters), and a view that renders
markup must still escape it.
"""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass, field
from enum import Enum
from typing import Callable, Optional, Protocol

from lineworthy.finding import Consequence
from lineworthy.model import Side
from lineworthy.picture import Picture
from lineworthy.shapes import Point
from lineworthy_kicad.dialog.settings import Layout


class Tone(Enum):
    """How grave the verdict is."""

    HOLD = "hold"
    QUERY = "query"
    NOTE = "note"
    CLEAR = "clear"
    INCOMPLETE = "incomplete"


@dataclass(frozen=True)
class AreaCount:
    """An area with its findings that count, for the area choice."""

    area: str
    title: str
    count: int


@dataclass(frozen=True)
class Headline:
    """The top of the window.

    Attributes:
        title: the board's name, for the title of the window.
        board: name and revision; `facts` is size, layers and parts in a line.
        counts: findings that count, by consequence; conceded ones are in `conceded` only.
        cautions: lines a person must not miss, such as a damaged concession file.
    """

    title: str
    verdict: str
    tone: Tone
    board: str
    facts: str
    counts: tuple[tuple[Consequence, int], ...]
    conceded: int
    areas: tuple[AreaCount, ...]
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True)
class Row:
    """One line of the findings list: a finding, or the heading of an area (`number` 0)."""

    number: int
    text: str
    consequence: Optional[Consequence] = None
    places: int = 0
    conceded: bool = False


@dataclass(frozen=True)
class PlaceLine:
    """A place of a finding that can be gone to on the map."""

    text: str
    at: Point
    side: Side


@dataclass(frozen=True)
class Detail:
    """Everything about one finding.

    Attributes:
        facts: (label, value) pairs: measured, limit, whose limit, its source ...
        sections: (heading, text) pairs of the check's documentation.
    """

    number: int
    consequence: Consequence
    message: str
    check: str
    facts: tuple[tuple[str, str], ...]
    places: tuple[PlaceLine, ...]
    sections: tuple[tuple[str, str], ...]
    conceded: bool = False


@dataclass(frozen=True)
class NotRunLine:
    """A check, or a part of one, that lacked an input."""

    check: str
    missing: str
    how: str


@dataclass(frozen=True)
class ConcessionLine:
    """A concession on file. `applies` says in words whether it accepts a finding of this review."""

    check: str
    reason: str
    name: str
    date: str
    revision: str
    applies: str
    number: int = 0


@dataclass(frozen=True)
class Flag:
    """A numbered flag on the map with the places its stems lead to; `at` None: places only."""

    number: int
    consequence: Consequence
    spots: tuple[Point, ...]
    at: Optional[Point]
    half_width: float


@dataclass(frozen=True)
class Ghost:
    """Something to be inserted, drawn over the map: discs of these diameters, or a text in a box."""

    at: Point
    diameters: tuple[float, ...] = ()
    text: str = ""
    size: tuple[float, float] = (0.0, 0.0)
    rotation: float = 0.0


@dataclass(frozen=True, eq=False)
class SideMap:
    """One side, ready to paint. `flags` places the flags of what the list shows, given half a flag's height in mm."""

    picture: Picture
    flags: Callable[[float], tuple[Flag, ...]] = field(default=lambda size: ())
    ghosts: tuple[tuple[int, Ghost], ...] = ()

    @property
    def side(self) -> Side:
        """Which side it shows."""
        return self.picture.side


@dataclass(frozen=True)
class ConcessionForm:
    """What a person is asked before a finding is accepted; the answer is the same form, filled in.

    Attributes:
        expires: last day it holds, as text like 2027-03-01; empty for as long as the revision does.
    """

    finding: str
    revision: str
    date: str
    file: str
    name: str = ""
    reason: str = ""
    expires: str = ""

    @property
    def expiry(self) -> Optional[datetime.date]:
        """The last day it holds, None when it does not end.

        Raises:
            ValueError: what is written is no date.
        """
        return datetime.date.fromisoformat(self.expires.strip()) if self.expires.strip() else None

    @property
    def is_complete(self) -> bool:
        """Whether name and reason are given, and the last day is a date that is not over."""
        try:
            last = self.expiry
        except ValueError:
            return False
        over = last is not None and last.isoformat() < self.date
        return bool(self.name.strip() and self.reason.strip()) and not over


@dataclass(frozen=True, eq=False)
class InsertForm:
    """What can be inserted, with both sides of the board (`SideMap.ghosts` carry the position of their offer).

    Attributes:
        offers: a title each.
        cures: the findings that go when all of it is inserted.
        cannot: in words, what was wanted and could not be placed, and why.
    """

    offers: tuple[str, ...]
    cures: tuple[str, ...]
    cannot: tuple[str, ...]
    maps: tuple[SideMap, ...]


@dataclass(frozen=True)
class ReportForm:
    """Where to write a report: a suggested file, and the formats as (name, file ending)."""

    folder: str
    name: str
    formats: tuple[tuple[str, str], ...]
    format: str


class View(Protocol):
    """The window, as the presenter sees it. Every method is called on the main thread, except `post`."""

    def post(self, call: Callable[[], None]) -> None:
        """Runs `call` on the main thread soon; may be called from any thread; dropped when the window is gone."""

    def after_paint(self, call: Callable[[], None]) -> None:
        """Runs `call` on the main thread once what was shown last is on the screen; for calls that take their time."""

    def show_progress(self, share: float, what: str) -> None:
        """Work goes on: a bar at `share` (0 to 1), what is being done, and Cancel."""

    def show_stopped(self, line: str, details: str = "") -> None:
        """No review to show: why, in one line, and a button to try again. `details` is for a report of a fault."""

    def show_review(
        self,
        headline: Headline,
        not_run: Sequence[NotRunLine],
        concessions: Sequence[ConcessionLine],
    ) -> None:
        """A review is there; rows, map and detail follow by their own calls."""

    def show_rows(self, rows: Sequence[Row], shown: str) -> None:
        """The findings that pass the filter; `shown` says how many of how many."""

    def show_maps(self, maps: Sequence[SideMap]) -> None:
        """Top and bottom; replaces what is drawn and keeps the place that is looked at."""

    def select(self, number: int) -> None:
        """Marks a finding in list and map; 0 for none. Does not call back."""

    def show_detail(self, detail: Optional[Detail]) -> None:
        """Everything about the selected finding; None for nothing selected."""

    def centre(self, places: Sequence[PlaceLine]) -> None:
        """Brings places into view on the map."""

    def show_status(self, line: str, is_error: bool = False) -> None:
        """One line on what just happened."""

    def show_sheets(self, names: Sequence[str], chosen: int) -> None:
        """The capability sheets to choose from."""

    def ask_sheet(self) -> Optional[str]:
        """A capability sheet's file; None when the person thinks better of it."""

    def ask_concession(self, form: ConcessionForm) -> Optional[ConcessionForm]:
        """The form filled in; None when the person thinks better of it."""

    def ask_insert(self, form: InsertForm) -> Sequence[int]:
        """Positions of the offers chosen; empty when the person thinks better of it."""

    def ask_report(self, form: ReportForm) -> Optional[tuple[str, str]]:
        """File and format; None when the person thinks better of it."""

    def confirm(self, question: str, yes: str) -> bool:
        """Whether the person agrees; `yes` names the act."""

    def layout(self) -> Layout:
        """Sizes as they are now, to be remembered."""

    def close(self) -> None:
        """Takes the window away."""


class Actions(Protocol):
    """What a person can do, as the view calls it; all on the main thread."""

    def review_again(self) -> None:
        """Reads the board again and reviews it."""

    def cancel(self) -> None:
        """Stops the work that goes on."""

    def filter(self, consequences: frozenset[Consequence], conceded: bool, area: str, words: str) -> None:
        """Restricts the list: which consequences, whether conceded findings too, one area or all (empty), words."""

    def select(self, number: int) -> None:
        """A finding was chosen in list or map; 0 for none."""

    def show_on_board(self) -> None:
        """Shows the items of the selected finding in the editor."""

    def concede(self) -> None:
        """Records a concession for the selected finding, or withdraws the one it has."""

    def insert(self) -> None:
        """Offers what can be inserted."""

    def write_report(self) -> None:
        """Writes a report."""

    def choose_sheet(self, position: int) -> None:
        """Takes another capability sheet, by its position in `View.show_sheets`."""

    def close(self) -> None:
        """The person is done."""
