# SPDX-License-Identifier: MIT
"""A stage for the presenter: a host, a view and a runner that do what the test says, and a small board document."""

from __future__ import annotations

import datetime
import queue
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Callable, Optional
from unittest.mock import create_autospec

from lineworthy.amend import Amendment, Offer, Proof
from lineworthy.review import Review
from lineworthy_kicad.dialog.contract import View
from lineworthy_kicad.dialog.presenter import Presenter
from lineworthy_kicad.dialog.settings import Layout, Store
from lineworthy_kicad.hosts.host import Applied, DocumentText

DAY = datetime.date(2026, 3, 14)


STACK_UP = (
    '(setup (stackup (layer "F.Cu" (type "copper") (thickness 0.035)) (layer "dielectric 1" (type "core")'
    ' (thickness 1.53) (material "FR4") (epsilon_r 4.5)) (layer "B.Cu" (type "copper") (thickness 0.035))'
    ' (copper_finish "ENIG")))'
)
"""So that the boards of these tests have the findings the tests are about, and no others."""


def chip(reference: str, x: float, y: float, uid: str = "") -> str:
    """A 0402 resistor."""
    pads = "".join(
        f'(pad "{n}" smd rect (at {dx} 0) (size 0.56 0.62) (layers "F.Cu" "F.Mask" "F.Paste") (net {n} "N{n}")'
        f' (uuid "{reference}-{n}"))'
        for n, dx in ((1, -0.51), (2, 0.51))
    )
    body = "".join(
        f'(fp_rect (start -{x} -{y}) (end {x} {y}) (stroke (width 0.1) (type solid)) (fill no) (layer "{layer}"))'
        for x, y, layer in ((0.5, 0.25, "F.Fab"), (0.93, 0.47, "F.CrtYd"))
    )
    return (
        f'(footprint "Resistor_SMD:R_0402_1005Metric" (layer "F.Cu") (uuid "{uid or reference}") (at {x} {y})'
        f' (property "Reference" "{reference}" (at 0 -1 0) (layer "F.SilkS")'
        "  (effects (font (size 0.8 0.8) (thickness 0.12))))"
        f' (property "Value" "10k" (at 0 1 0) (layer "F.Fab") (effects (font (size 0.8 0.8) (thickness 0.12))))'
        f" (attr smd) {body} {pads})"
    )


def tracks(gap: float) -> list[str]:
    """What joins the five chips of a document: net N1 between the two rows, net N2 round them."""
    first, second = [20, 20 + gap], [30, 40, 50]
    ways = [("N1", (19.49, 24), (49.49, 24)), ("N2", (20.51, 18), (54, 18)), ("N2", (30.51, 32), (54, 32))]
    ways += [("N2", (54, 18), (54, 32))]
    for x in first:
        ways += [("N1", (x - 0.51, 20), (x - 0.51, 24)), ("N2", (x + 0.51, 20), (x + 0.51, 18))]
    for x in second:
        ways += [("N1", (x - 0.51, 30), (x - 0.51, 24)), ("N2", (x + 0.51, 30), (x + 0.51, 32))]
    return [
        f'(segment (start {a[0]} {a[1]}) (end {b[0]} {b[1]}) (width 0.25) (layer "F.Cu") (net {net[1]}) (uuid "t{n}"))'
        for n, (net, a, b) in enumerate(ways)
    ]


def document(*, revision: str = "A", outline: bool = True, gap: float = 5.0) -> str:
    """A board of 60 x 40 mm without marks, with five chips; `gap` is the pitch of the first two."""
    corners = [(0, 0), (60, 0), (60, 40), (0, 40)]
    edges = [
        f"(gr_line (start {a[0]} {a[1]}) (end {b[0]} {b[1]}) (stroke (width 0.1) (type default))"
        f' (layer "Edge.Cuts") (uuid "e{n}"))'
        for n, (a, b) in enumerate(zip(corners, corners[1:] + corners[:1]))
    ]
    chips = [chip("R1", 20, 20), chip("R2", 20 + gap, 20), *(chip(f"R{n}", 10 * n, 30) for n in (3, 4, 5))]
    return (
        "\n\t".join(
            [
                '(kicad_pcb (version 20241229) (generator "test") (general (thickness 1.6)) (paper "A4")',
                f'(title_block (title "Widget") (rev "{revision}"))',
                '(layers (0 "F.Cu" signal) (2 "B.Cu" signal) (25 "Edge.Cuts" user)',
                ' (5 "F.SilkS" user) (31 "F.CrtYd" user) (35 "F.Fab" user))',
                STACK_UP,
                '(net 0 "") (net 1 "N1") (net 2 "N2")',
                *(edges if outline else []),
                *chips,
                *tracks(gap),
            ]
        )
        + "\n)\n"
    )


class StageHost:
    """A host whose board and moods the test sets."""

    title = "widget.kicad_pcb"

    def __init__(self, path: str = "", text: str = "") -> None:
        self.text = text or document()
        self.path = path
        self.fault: Optional[Exception] = None
        self.finds = True
        self.shown: list[tuple[str, ...]] = []
        self.applied: list[tuple[tuple[Amendment, ...], str]] = []
        self.after_apply: Optional[str] = None

    def document(self) -> DocumentText:
        self._mood()
        return DocumentText(self.text, "widget.kicad_pcb", self.path)

    def show(self, uids: Sequence[str]) -> bool:
        self._mood()
        self.shown.append(tuple(uids))
        return self.finds

    def apply(self, amendments: Sequence[Amendment], label: str) -> tuple[Applied, ...]:
        self._mood()
        self.applied.append((tuple(amendments), label))
        self.text = self.after_apply or self.text
        return tuple(Applied(amendment, f"new-{n}") for n, amendment in enumerate(amendments))

    def refill(self) -> None:
        self._mood()

    def _mood(self) -> None:
        if self.fault is not None:
            raise self.fault


class StagePlanner:
    """Offers what the test says."""

    def __init__(self) -> None:
        self.answer = Offer((), (), Proof((), ()))
        self.objects: Sequence[str] = ()
        self.fault: Optional[Exception] = None

    def offer(self, review: Review, tell: Callable[[float, str], None]) -> Offer:
        tell(0.5, "Looking")
        if self.fault is not None:
            raise self.fault
        return self.answer

    def objections(
        self, review: Review, chosen: Sequence[Amendment], tell: Callable[[float, str], None]
    ) -> Sequence[str]:
        return self.objects


class Stage:
    """Presenter with its doubles. Nothing in the background runs until `work`, nothing posted until `settle`."""

    def __init__(self, tmp_path: Path, *, saved: bool = True, text: str = "", store: Optional[Store] = None) -> None:
        self.folder = tmp_path
        self.host = StageHost(str(tmp_path / "widget.kicad_pcb") if saved else "", text)
        self.view: Any = create_autospec(View, instance=True)
        self.view.layout.return_value = Layout(900, 700)
        self.posted: queue.Queue[Callable[[], None]] = queue.Queue()
        self.view.post.side_effect = self.posted.put
        self.view.after_paint.side_effect = self.posted.put
        self.jobs: list[Callable[[], None]] = []
        self.planner = StagePlanner()
        self.store = store or Store(tmp_path / "dialog.json")
        self.reviews: list[Review] = []
        self.presenter = Presenter(
            self.host,
            self.view,
            self.store,
            self.jobs.append,
            self.planner,
            today=lambda: DAY,
            reviewed=self.reviews.append,
        )

    def settle(self) -> None:
        """Runs what was posted to the main thread."""
        while not self.posted.empty():
            self.posted.get()()

    def run(self) -> None:
        """Runs everything that waits, in the background and on the main thread, until nothing does."""
        self.settle()
        while self.jobs:
            self.jobs.pop(0)()
            self.settle()

    def open(self) -> Stage:
        """Opens the dialog and brings the first review on screen."""
        self.presenter.open()
        self.run()
        return self

    # -- what is on screen

    @property
    def headline(self) -> Any:
        return self.view.show_review.call_args.args[0]

    @property
    def not_run(self) -> Any:
        return self.view.show_review.call_args.args[1]

    @property
    def concessions(self) -> Any:
        return self.view.show_review.call_args.args[2]

    @property
    def rows(self) -> Any:
        return self.view.show_rows.call_args.args[0]

    @property
    def numbers(self) -> list[int]:
        return [row.number for row in self.rows if row.number]

    @property
    def detail(self) -> Any:
        return self.view.show_detail.call_args.args[0]

    @property
    def status(self) -> str:
        return str(self.view.show_status.call_args.args[0])

    @property
    def is_complaint(self) -> bool:
        return bool(self.view.show_status.call_args.kwargs.get("is_error", False))

    def number_of(self, check: str) -> int:
        """Number of the first finding of a check."""
        findings = [row for area in self._grouped() for row in area]
        return next(row.number for row in findings if row.finding.check == check)

    def _grouped(self) -> list[list[Any]]:
        from lineworthy.report.facts import grouped

        return [[row for group in area.groups for row in group.rows] for area in grouped(self.reviews[-1])]
