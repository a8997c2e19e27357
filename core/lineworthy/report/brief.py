# SPDX-License-Identifier: MIT
"""The assembly brief: the page that goes with the release folder and tells the factory what the files do not say.

What the board is, what is special in building it, what a person accepted, what is still open, and what we ask.
Made to be printed.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Optional

from lineworthy import __version__
from lineworthy.finding import Consequence
from lineworthy.knowledge.holes import HoleUse
from lineworthy.knowledge.marks import Marks
from lineworthy.knowledge.netfacts import NetKind
from lineworthy.knowledge.nets import Nets
from lineworthy.knowledge.packages import Family, PackageFacts, Packages
from lineworthy.knowledge.titleblock import title_block
from lineworthy.knowledge.wording import counted, mm, natural
from lineworthy.model import Board, PadRole, Part, Side
from lineworthy.plans.first_pass import estimate
from lineworthy.project import Project
from lineworthy.release.manifest import Manifest
from lineworthy.report.cautions import cautions
from lineworthy.report.facts import accepted_by, board_line, conceded, numbered
from lineworthy.report.html import page
from lineworthy.review import Review
from lineworthy.safe import markup

FINE_PITCH_MM = 0.5
"""At or below this the solder print decides (common practice, no source)."""

TALL_MM = 10.0
"""Taller parts are named: they decide on the order of the work and on clearances (common practice, no source)."""

NAMED = 40
"""More references than this are counted instead of named."""


def render(review: Review, manifest: Manifest) -> str:
    """The page.

    Args:
        review: the review that the release went through.
        manifest: what is released.
    """
    facts = _Facts(review.board, review.beside.project)
    body = [
        *_header(review, manifest),
        '<main id="main">',
        *_table("The board", _board_rows(review.board)),
        *_table("Building it", _build_rows(facts)),
        *_table("Aligning and testing it", _access_rows(facts)),
        *_table("First-pass yield, an estimate", _yield_rows(facts, review)),
        *_list("What we ask", _questions(facts)),
        *_list("Open when this was released", _open(review)),
        *_list("Accepted, please do not mend", _accepted(review)),
        *_files(manifest),
        *_cautions(review),
        "</main>",
        f"<footer><p>Lineworthy {__version__}. Written by a program from the board: where it and a drawing of ours "
        "differ, ask.</p></footer>",
    ]
    return page(f"{review.board.name}: assembly brief", body)


@dataclass(frozen=True, eq=False)
class _Facts:
    """What the brief says of a board, worked out once."""

    board: Board
    project: Project

    @cached_property
    def packages(self) -> Packages:
        return Packages(self.board)

    @cached_property
    def marks(self) -> Marks:
        return Marks(self.board)

    @cached_property
    def nets(self) -> Nets:
        return Nets(self.board, self.project.nets, self.project.key_nets, self.project.key_net_classes)

    @cached_property
    def built(self) -> list[tuple[Part, PackageFacts]]:
        """Fitted parts that are bought, with their packages, in natural order."""
        parts = [p for p in self.board.parts if p.fitted and p.in_parts_list and not p.board_only]
        return [(part, self.packages.of(part)) for part in sorted(parts, key=lambda part: natural(part.reference))]

    def placed(self, side: Side) -> list[tuple[Part, PackageFacts]]:
        return [(part, facts) for part, facts in self.built if part.side is side and facts.machine_placed]

    @cached_property
    def leaded(self) -> list[tuple[Part, PackageFacts]]:
        return [(part, facts) for part, facts in self.built if facts.through_hole]

    @cached_property
    def arrays(self) -> list[Part]:
        return [part for part, facts in self.built if facts.family is Family.ARRAY]


def _header(review: Review, manifest: Manifest) -> Iterator[str]:
    title = title_block(review.board)
    facts = {
        "Title": title.title,
        "Revision": manifest.revision or "none stated",
        "Released": manifest.released or "no date given",
        "Company": title.company,
        "Digest": manifest.digest[:16],
        "Review": review.verdict,
    }
    yield '<header class="top"><p class="brand">Lineworthy</p>'
    yield f"<h1>{markup(review.board.name)}<small>Assembly brief</small></h1>"
    yield '<dl class="facts">'
    for name, value in facts.items():
        if value:
            yield f"<div><dt>{name}</dt><dd>{markup(value)}</dd></div>"
    yield "</dl></header>"


Rows = Iterable[tuple[str, str]]


def _table(title: str, rows: Rows) -> Iterator[str]:
    yield f'<section><h2>{title}</h2><div class="scroll"><table class="list brief"><tbody>'
    for name, value in rows:
        yield f'<tr><th scope="row">{markup(name)}</th><td>{markup(value)}</td></tr>'
    yield "</tbody></table></div></section>"


def _list(title: str, items: Iterable[str]) -> Iterator[str]:
    lines = list(items)
    yield f"<section><h2>{title}</h2>"
    yield (
        "<ol>" + "".join(f"<li>{n}. {markup(line)}</li>" for n, line in enumerate(lines, 1)) + "</ol>"
        if lines
        else "<p>Nothing.</p>"
    )
    yield "</section>"


def _board_rows(board: Board) -> Iterator[tuple[str, str]]:
    stackup = board.stackup
    yield "Size, layers, parts", board_line(board)
    yield "Thickness", f"{mm(stackup.thickness)} mm"
    yield "Finish", stackup.finish or "not stated"
    if stackup.layers:
        yield "Stack-up", "; ".join(_layer(layer.name, layer.kind, layer.thickness) for layer in stackup.layers)
    else:
        yield "Stack-up", "not stated"
    edges = ((stackup.castellated, "castellated"), (stackup.edge_plated, "plated"))
    if any(given for given, _ in edges):
        yield "Edge", ", ".join(word for given, word in edges if given)


def _layer(name: str, kind: str, thickness: Optional[float]) -> str:
    return f"{name or kind}{f' {mm(thickness)} mm' if thickness else ''}"


def _build_rows(facts: _Facts) -> Iterator[tuple[str, str]]:
    for side in Side:
        placed = facts.placed(side)
        yield f"Placed by machine, {side.value}", counted(len(placed), "part")
    yield "Leads through the board", _parts([part for part, _ in facts.leaded])
    sizes = sorted({f.chip_size for _, f in facts.built if f.chip_size}, key=natural)
    if sizes:
        yield "Smallest chip", sizes[0]
    fine = [(part, f.pitch) for part, f in facts.built if f.pitch is not None and f.pitch <= FINE_PITCH_MM + 1e-6]
    if fine:
        finest = min(pitch for _, pitch in fine if pitch is not None)
        yield "Fine pitch", f"{_parts([part for part, _ in fine])}; finest {mm(finest)} mm"
    if facts.arrays:
        yield "Joints under the body", _parts(facts.arrays)
    yield "Polarised, two terminals", _parts([part for part, f in facts.built if f.polarised])
    tall = [part for part, f in facts.built if f.height is not None and f.height > TALL_MM]
    if tall:
        yield f"Taller than {TALL_MM:g} mm", _parts(tall)
    pressed = [p for p, _ in facts.built if any(pad.role is PadRole.PRESS_FIT for pad in p.pads)]
    if pressed:
        yield "Pressed in", _parts(pressed)
    bare = [part for part in facts.board.parts if not part.fitted and part.in_parts_list and not part.board_only]
    yield "Not fitted", _parts(sorted(bare, key=lambda part: natural(part.reference)))


def _parts(parts: Sequence[Part]) -> str:
    if not parts:
        return "none"
    if len(parts) > NAMED:
        return counted(len(parts), "part")
    return ", ".join(part.reference or "a part without a reference" for part in parts)


def _access_rows(facts: _Facts) -> Iterator[tuple[str, str]]:
    left, bottom = facts.board.outline.area.bounds[:2] if facts.board.outline.is_closed else (0.0, 0.0)
    for side in Side:
        marks = facts.marks.fiducials_on(side)
        spots = [f"{mark.at[0] - left:.2f}, {mark.at[1] - bottom:.2f}" for mark in marks]
        yield f"Fiducials, {side.value} (mm, from the lower left corner)", "; ".join(spots) or "none"
    holes = [hole for hole in facts.marks.holes if hole.use is HoleUse.TOOLING]
    yield "Tooling holes", counted(len(holes), "hole") if holes else "none"
    yield "Test points", counted(len(facts.marks.test_points), "pad") if facts.marks.test_points else "none"


def _yield_rows(facts: _Facts, review: Review) -> Iterator[tuple[str, str]]:
    made = estimate(facts.board, facts.packages, review.sheet.line_yield)
    for step in made.steps:
        rate = f"{step.defects:g} defects in a million"
        yield (
            step.name.capitalize(),
            f"{step.opportunities} a board, {rate}: {100 * step.share_good:.1f} % without a fault",
        )
    source = review.sheet.source("line-yield.placement_defects_count")
    yield "Boards without a fault", f"{100 * made.share_good:.1f} %, no more than these rates are worth ({source})"


def _questions(facts: _Facts) -> Iterator[str]:
    """What a factory decides, and this board does not say."""
    board = facts.board
    if not board.stackup.finish:
        yield "The board states no surface finish: which one do you propose, and for which reason?"
    if not board.stackup.layers:
        yield "The board states no stack-up: which layers and materials will you use for this thickness?"
    yield "In which panel will you build it: how many boards, which rails, scored or routed, broken out how?"
    if not any(facts.marks.fiducials_on(side) for side in Side):
        yield "The board carries no fiducials: will the rails of your panel, and is that enough for these parts?"
    if facts.arrays:
        yield f"{_parts(facts.arrays)}: joints under the body. How will you inspect them?"
    if facts.placed(Side.TOP) and facts.placed(Side.BOTTOM):
        yield "Parts are placed on both sides: which side do you solder first?"
    if facts.leaded:
        yield "How will the leads through the board be soldered, and do you need more room round them?"
    if facts.nets.of_kind(NetKind.PROGRAMMING):
        yield "The board takes a program: at which step, by whom, and with which fixture?"
    if not facts.marks.test_points:
        yield "The board has no test points: how will you know that a board works before it leaves?"


def _open(review: Review) -> Iterator[str]:
    for row in numbered(review):
        if row.concession is None and row.finding.consequence is not Consequence.NOTE:
            yield f"{row.finding.consequence.value}: {row.finding.message}"


def _accepted(review: Review) -> Iterator[str]:
    for row in conceded(review):
        if row.concession is not None:
            yield f"{row.finding.message}. {row.concession.reason} ({accepted_by(row.concession)})"


def _files(manifest: Manifest) -> Iterator[str]:
    if not manifest.files:
        return
    yield '<section><h2>Files</h2><div class="scroll"><table class="list"><thead><tr><th scope="col">File</th>'
    yield '<th scope="col" class="n">Bytes</th><th scope="col">SHA-256, first half</th></tr></thead><tbody>'
    for file in manifest.files:
        yield f"<tr><td>{markup(file.name)}</td><td class=n>{file.size}</td><td>{markup(file.sha256[:32])}</td></tr>"
    yield "</tbody></table></div></section>"


def _cautions(review: Review) -> Iterator[str]:
    yield '<section><h2>Cautions</h2><dl class="cautions">'
    for caution in cautions(review):
        source = f"<small>({markup(caution.source)})</small>"
        yield f"<div><dt>{caution.topic}</dt><dd>{markup(caution.text)}{source}</dd></div>"
    yield "</dl></section>"
