# SPDX-License-Identifier: MIT
"""The drawings of a panel plan: kept ones byte for byte, texts that lie on nothing, DXF read back by its library."""

from __future__ import annotations

import builtins
import io
from dataclasses import replace
from itertools import combinations
from typing import Any
from xml.etree import ElementTree

import pytest
import shapely
from shapely import affinity

from lineworthy.model import TitleBlock
from lineworthy.report import panel_dxf, panel_svg
from lineworthy.report.panel_drawing import drawing
from panel_cases import GOLDEN, KEPT, cases, plan_of, planned

ezdxf = pytest.importorskip("ezdxf")

NARROW = 0.45
"""Width of letters, as a share of their height, that all usual fonts reach: boxes are rather too small."""


@pytest.mark.parametrize(("name", "number"), [(name, number) for name, ones in KEPT.items() for number in ones])
def test_kept_drawings(name: str, number: int) -> None:
    """After a wanted change: ``python tests/panel_cases.py`` draws them again; look at each before you commit.

    Older versions of the geometry library begin rings elsewhere: with them texts and their places are compared.
    """
    kept = (GOLDEN / f"{name}-{number}.svg").read_text(encoding="utf-8")
    drawn = panel_svg.draw(plan_of(name), number)
    if shapely.geos_version >= (3, 13):
        assert drawn == kept
    else:
        assert _texts(drawn) == _texts(kept)


def _texts(drawing: str) -> list[tuple[object, ...]]:
    found = ElementTree.fromstring(drawing).iter("{http://www.w3.org/2000/svg}text")
    return [(item.text, item.get("x"), item.get("y")) for item in found]


def test_every_board_has_a_kept_drawing() -> None:
    assert set(KEPT) == set(cases())
    assert {path.name for path in GOLDEN.iterdir()} == {f"{name}-{n}.svg" for name, ones in KEPT.items() for n in ones}


@pytest.mark.parametrize("name", KEPT)
def test_no_text_lies_on_another(name: str) -> None:
    for number in range(1, len(plan_of(name).arrays) + 1):
        boxes = list(_boxes(ElementTree.fromstring(panel_svg.draw(plan_of(name), number))))
        page = shapely.box(0, 0, 42000, 1e6)
        for words, box in boxes:
            assert page.covers(box), words
        for (one, box), (other, box2) in combinations(boxes, 2):
            assert not box.intersects(box2), f"{name} {number}: {one!r} on {other!r}"


def _boxes(root: ElementTree.Element) -> Any:
    for item in root.iter("{http://www.w3.org/2000/svg}text"):
        x, y, size, words = float(item.get("x")), float(item.get("y")), float(item.get("font-size")), item.text or ""
        wide = NARROW * size * len(words)
        left = x - wide / 2 if item.get("class") in ("mid", "num") else x
        box = shapely.box(left, y - 0.7 * size, left + wide, y)
        if item.get("transform"):
            box = affinity.rotate(box, -90, origin=(x, y))
        yield words, box


def test_text_of_a_board_is_escaped() -> None:
    made = planned(replace(cases()["rectangle"], name="</svg><script>&", title=TitleBlock(revision='"\x1b[2J\u202e')))
    text = panel_svg.draw(made, 1)
    ElementTree.fromstring(text)
    assert "<script>" not in text
    assert "\u202e" not in text


# --- DXF


def read_back(text: str) -> Any:
    return ezdxf.read(io.StringIO(text))


@pytest.mark.parametrize("name", ["rectangle", "plug", "l-shape", "round", "cut-outs", "tiny"])
def test_dxf_is_sound_and_its_dimensions_are_those_of_the_array(name: str) -> None:
    made = plan_of(name)
    array = made.arrays[0]
    document = read_back(panel_dxf.draw(made, 1))
    audit = document.audit()
    assert not audit.errors
    assert not audit.fixes
    assert document.units == ezdxf.units.MM
    space = document.modelspace()
    measured = sorted(round(float(one.get_measurement()), 3) for one in space.query("DIMENSION"))
    assert measured == sorted(round(one.length, 3) for one in drawing(array).dimensions)
    assert round(array.sizing.length, 3) in measured
    assert round(array.sizing.width, 3) in measured


def test_dxf_holds_every_board_score_hole_and_mark() -> None:
    for number, array in enumerate(plan_of("rectangle").arrays, 1):
        space = read_back(panel_dxf.draw(plan_of("rectangle"), number)).modelspace()
        boards = space.query('LWPOLYLINE[layer=="BOARD"]')
        assert len(boards) == array.sizing.boards
        corners = sorted(min((x, y) for x, y, *_ in board.get_points()) for board in boards)
        assert corners == sorted(outline.bounds[:2] for outline in array.outlines)
        assert len(space.query('LINE[layer=="SCORE"]')) == len(array.scores)
        assert len(space.query('CIRCLE[layer=="BREAK_HOLE"]')) == sum(len(tab.holes) for tab in array.tabs)
        holes = space.query('CIRCLE[layer=="TOOLING_HOLE"]')
        assert sorted((hole.dxf.center.x, hole.dxf.center.y) for hole in holes) == sorted(h.at for h in array.holes)
        assert {round(2 * hole.dxf.radius, 6) for hole in holes} == {3.0}
        assert len(space.query('CIRCLE[layer=="MARK"]')) == 3


def test_routed_edges_in_dxf_enclose_what_is_left_standing() -> None:
    number, array = next((n, one) for n, one in enumerate(plan_of("rectangle").arrays, 1) if one.tabs)
    space = read_back(panel_dxf.draw(plan_of("rectangle"), number)).modelspace()
    rings = [
        shapely.Polygon([point[:2] for point in ring.get_points()])
        for ring in space.query('LWPOLYLINE[layer=="ROUTED"]')
    ]
    outer = max(rings, key=lambda ring: ring.area)
    standing = outer.area - sum(ring.area for ring in rings if ring is not outer)
    # rails and boards and tabs, added up by hand: 202 x 10 twice, 4 boards of 100 x 80, tabs of 2.54 x 2
    by_hand = 2 * 202 * 10 + 4 * 100 * 80 + len(array.tabs) * 2.54 * 2 - (4 - 3.14159) * 2**2
    assert standing == pytest.approx(by_hand, abs=0.1)


def test_dxf_is_the_same_every_time_and_text_in_it_is_only_text() -> None:
    assert panel_dxf.draw(plan_of("plug"), 1) == panel_dxf.draw(planned(cases()["plug"]), 1)
    made = planned(replace(cases()["rectangle"], name="%%c\n0\nLINE\n8\nX \udcff"))
    document = read_back(panel_dxf.draw(made, 1))
    assert not document.audit().errors
    assert not document.modelspace().query('LINE[layer=="X"]')
    texts = [text.dxf.text for text in document.modelspace().query("TEXT")]
    assert not any("%%" in text for text in texts)
    assert any("extraction" in text for text in texts)


def test_without_the_library_one_line_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    plain = builtins.__import__

    def refuse(name: str, *more: Any, **named: Any) -> Any:
        if name.startswith("ezdxf"):
            raise ImportError(name)
        return plain(name, *more, **named)

    monkeypatch.setattr(builtins, "__import__", refuse)
    with pytest.raises(panel_dxf.DxfMissingError, match="needs the Python package ezdxf"):
        panel_dxf.draw(plan_of("rectangle"), 1)
