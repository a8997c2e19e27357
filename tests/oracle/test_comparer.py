# SPDX-License-Identifier: MIT
"""The comparer itself: what is changed on purpose must be reported, in its category, and nowhere else."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any, Callable

import compare
import editor
import made_board
import pytest
import shapely
from mismatch import Mismatch, listing
from shapely import affinity

from lineworthy.model import Board, Net, Pad, Part, Side
from lineworthy_kicad.reader import read_board

pytestmark = pytest.mark.editor

Change = Callable[[Board], Board]


@pytest.fixture(scope="module")
def made(ask: Callable[[Path], editor.Facts], tmp_path_factory: pytest.TempPathFactory) -> tuple[Board, editor.Facts]:
    path = made_board.write(tmp_path_factory.mktemp("made"))
    return read_board(path), ask(path)


def moved(shapes: Mapping[Any, Any], dx: float) -> dict[Any, Any]:
    return {key: affinity.translate(shape, dx, 0) for key, shape in shapes.items()}


def with_pad(board: Board, pick: Callable[[Pad], bool], change: Callable[[Pad], Pad]) -> Board:
    """The board with one pad of its first part changed."""
    part = board.parts[0]
    index = next(i for i, pad in enumerate(part.pads) if pick(pad))
    pads = (*part.pads[:index], change(part.pads[index]), *part.pads[index + 1 :])
    return replace(board, parts=(replace(part, pads=pads), *board.parts[1:]))


def with_part(board: Board, change: Callable[[Part], Part]) -> Board:
    return replace(board, parts=(change(board.parts[0]), *board.parts[1:]))


def with_first(board: Board, name: str, **changes: Any) -> Board:
    """The board with the first item of a kind changed."""
    items = getattr(board, name)
    return replace(board, **{name: (replace(items[0], **changes), *items[1:])})


def copper_shifted_20_um(board: Board) -> Board:
    return with_pad(board, lambda p: bool(p.copper), lambda p: replace(p, copper=moved(p.copper, 0.02)))


def copper_on_one_layer_lost(board: Board) -> Board:
    return with_pad(board, lambda p: len(p.copper) > 1, lambda p: replace(p, copper=dict(list(p.copper.items())[:-1])))


def mask_opening_grown_10_um(board: Board) -> Board:
    grown = lambda p: {side: shape.buffer(0.01) for side, shape in p.mask.items()}  # noqa: E731
    return with_pad(board, lambda p: bool(p.mask), lambda p: replace(p, mask=grown(p)))


def paste_lost(board: Board) -> Board:
    return with_pad(board, lambda p: bool(p.paste), lambda p: replace(p, paste={}))


def hole_widened_5_um(board: Board) -> Board:
    def widened(pad: Pad) -> Pad:
        assert pad.hole is not None
        return replace(pad, hole=replace(pad.hole, size=(pad.hole.size[0] + 0.005, pad.hole.size[1])))

    return with_pad(board, lambda p: p.hole is not None, widened)


def courtyard_swapped(board: Board) -> Board:
    return with_part(board, lambda p: replace(p, courtyard={Side.BOTTOM: p.courtyard[Side.TOP]}))


def outline_without_cutout(board: Board) -> Board:
    area = board.outline.area
    assert isinstance(area, shapely.Polygon)
    return replace(board, outline=replace(board.outline, area=shapely.Polygon(area.exterior, area.interiors[1:])))


def fill_corner_moved(board: Board) -> Board:
    pour = next(area for area in board.areas if area.rings)
    ring = pour.rings[0].copy()
    ring[0] += 0.05
    rest = tuple(area for area in board.areas if area is not pour)
    return replace(board, areas=(replace(pour, rings=(ring, *pour.rings[1:])), *rest))


def text_scaled(board: Board) -> Board:
    text = board.markings[0]
    return with_first(board, "markings", extents=affinity.scale(text.extents, 1.2, 1.2))


CHANGES: tuple[tuple[str, Change, str], ...] = (
    ("20 um shift of copper", copper_shifted_20_um, "pad_copper"),
    ("copper of one layer lost", copper_on_one_layer_lost, "pad_copper"),
    ("mask opening 10 um larger", mask_opening_grown_10_um, "mask_openings"),
    ("paste lost", paste_lost, "paste_openings"),
    ("hole 5 um longer", hole_widened_5_um, "holes"),
    ("pad net", lambda b: with_pad(b, lambda p: bool(p.net), lambda p: replace(p, net="other")), "pads"),
    ("pad pin name", lambda b: with_pad(b, lambda p: bool(p.net), lambda p: replace(p, pin_name="X")), "pads"),
    ("part lost", lambda b: replace(b, parts=b.parts[1:]), "counts"),
    ("pad lost", lambda b: with_part(b, lambda p: replace(p, pads=p.pads[1:])), "counts"),
    ("part moved 1 um", lambda b: with_part(b, lambda p: replace(p, at=(p.at[0] + 0.001, p.at[1]))), "parts"),
    ("part turned", lambda b: with_part(b, lambda p: replace(p, rotation=p.rotation + 90)), "parts"),
    ("part to the other side", lambda b: with_part(b, lambda p: replace(p, side=p.side.other)), "parts"),
    ("part not fitted", lambda b: with_part(b, lambda p: replace(p, fitted=not p.fitted)), "parts"),
    ("field", lambda b: with_part(b, lambda p: replace(p, fields={**p.fields, "MPN": "other"})), "parts"),
    ("courtyard on the other side", courtyard_swapped, "courtyards"),
    ("track lost", lambda b: replace(b, tracks=b.tracks[1:]), "counts"),
    ("track net", lambda b: with_first(b, "tracks", net="other"), "tracks"),
    ("track 1 um wider", lambda b: with_first(b, "tracks", width=b.tracks[0].width + 0.001), "tracks"),
    ("track layer", lambda b: with_first(b, "tracks", layer="B.Cu"), "tracks"),
    ("via drill", lambda b: with_first(b, "vias", drill=b.vias[0].drill + 0.01), "vias"),
    ("via tenting", lambda b: with_first(b, "vias", tented=frozenset({Side.BOTTOM})), "vias"),
    ("fill corner", fill_corner_moved, "fills"),
    ("area priority", lambda b: with_first(b, "areas", priority=9), "fills"),
    ("keep-out bans", lambda b: with_first(b, "keepouts", bans=frozenset()), "keepouts"),
    ("cut-out lost", outline_without_cutout, "outline"),
    ("text", lambda b: with_first(b, "markings", text="other"), "texts"),
    ("text layer", lambda b: with_first(b, "markings", layer=b.graphics[0].layer, hidden=True), "texts"),
    ("text box 20 % larger", text_scaled, "text_boxes"),
    (
        "artwork shifted",
        lambda b: with_first(b, "graphics", shape=affinity.translate(b.graphics[0].shape, 0.1)),
        "artwork",
    ),
    ("net lost", lambda b: replace(b, nets={n: v for n, v in b.nets.items() if n != "GND"}), "document"),
    ("net added", lambda b: replace(b, nets={**b.nets, "more": Net("more")}), "document"),
    ("revision", lambda b: replace(b, title=replace(b.title, revision="X")), "document"),
)


def keys(found: dict[str, list[Mismatch]]) -> set[tuple[str, str, str]]:
    return {(category, m.item, m.what) for category, mismatches in found.items() for m in mismatches}


@pytest.fixture(scope="module")
def before(made: tuple[Board, editor.Facts]) -> set[tuple[str, str, str]]:
    board, facts = made
    return keys(compare.compare(board, facts))


@pytest.mark.parametrize(("change", "category"), [c[1:] for c in CHANGES], ids=[c[0] for c in CHANGES])
def test_a_change_is_reported(
    made: tuple[Board, editor.Facts], before: set[tuple[str, str, str]], change: Change, category: str
) -> None:
    board, facts = made
    new = {name for name, _, _ in keys(compare.compare(change(board), facts)) - before}
    assert category in new, "not reported"
    assert new <= {category, "counts"}, "reported elsewhere, too"


def test_every_category_is_proven() -> None:
    assert {category for _, _, category in CHANGES} == set(compare.LOOKS)


def test_missing_editor_says_how_to_install_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(editor.shutil, "which", lambda name: None)
    with pytest.raises(RuntimeError, match=r"install-editor\.sh") as caught:
        editor.interpreter.__wrapped__()
    assert "\n" not in str(caught.value)


def test_list_is_short_and_worst_first() -> None:
    many = sorted((Mismatch(f"item {i}", "width", "1", "2", float(i)) for i in range(50)), key=lambda m: -m.size)
    rows = listing(many).splitlines()
    assert rows[0] == "50 mismatches, worst first"
    assert rows[1].startswith("item 49:")
    assert rows[-1] == "... and 30 more"
    assert len(rows) == 22
