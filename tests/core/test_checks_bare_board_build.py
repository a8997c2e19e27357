# SPDX-License-Identifier: MIT
"""What the board is made of: stated, without contradiction, mirrored about its middle, fit for plugging."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Optional

import pytest

import build
from asking import ask
from lineworthy import Board, Consequence
from lineworthy.checks import bare_board_build as checks
from lineworthy.geometry import TOL_MM
from lineworthy.model import PadKind, PadRole, StackLayer, Stackup, TitleBlock
from lineworthy.sheet import built_in

SHEET = built_in()
FOUR = ("top", "in1", "in2", "bottom")


def copper(name: str, thickness: Optional[float] = 0.035) -> StackLayer:
    return StackLayer(name, "copper", thickness)


def sheet(kind: str, thickness: Optional[float], material: str = "FR4") -> StackLayer:
    return StackLayer("dielectric", kind, thickness, material)


TWO_STACK = (copper("top"), sheet("core", 1.53), copper("bottom"))
FOUR_STACK = (
    copper("top"),
    sheet("prepreg", 0.2),
    copper("in1"),
    sheet("core", 1.06),
    copper("in2"),
    sheet("prepreg", 0.2),
    copper("bottom"),
)


def built(layers: Sequence[StackLayer], thickness: float = 1.6, finish: str = "ENIG", **more) -> Board:
    count = sum(layer.kind == "copper" for layer in layers)
    names = FOUR if count == 4 else ("top", "bottom")
    return build.board(**{"copper_layers": names, "stackup": Stackup(thickness, tuple(layers), finish), **more})


@pytest.mark.parametrize("layers", [TWO_STACK, FOUR_STACK])
def test_a_board_that_states_all_of_it_says_nothing(layers: Sequence[StackLayer]) -> None:
    board = built(layers)
    assert [found for check in checks.CHECKS for found in ask(check, board)] == []


# --- vias that end inside


def ending(*spans: tuple[str, str], **more) -> Board:
    made = [replace(build.via((5 + n, 5), 0.6, 0.3), span=span) for n, span in enumerate(spans)]
    return built(FOUR_STACK, vias=tuple(made), **more)


def test_vias_that_end_inside_want_a_word() -> None:
    through = ("top", "bottom")
    assert ask(checks.process_unstated, ending(through, ("bottom", "top"))) == []
    (finding,) = ask(checks.process_unstated, ending(through, ("top", "in1"), ("in2", "in1"), ("in1", "top")))
    assert finding.consequence is Consequence.QUERY
    assert finding.message == (
        "3 vias of 4 end inside of the board, and no note speaks of blind or buried vias: "
        "top to in1 (2), in1 to in2 (1)"
    )
    assert [place.at[0] for place in finding.places] == [6, 8, 7]


@pytest.mark.parametrize(
    ("text", "told"),
    [("Blind vias L1-L2 filled", False), ("microvia, lasered", False), ("HDI 1+2+1", False), ("MICRO USB", True)],
)
def test_any_note_on_such_vias_is_the_word(text: str, told: bool) -> None:
    note = build.marking(text, (20, 20), layer=build.DRAWING)
    assert bool(ask(checks.process_unstated, ending(("top", "in1"), markings=(note,)))) is told
    said = ending(("top", "in1"), title=TitleBlock(comments=(text,)))
    assert bool(ask(checks.process_unstated, said)) is told


def test_half_holes_want_a_word() -> None:
    half = build.through_pad("1", (0, 20), 1.6, 0.8, role=PadRole.CASTELLATED)
    made = built(TWO_STACK, parts=(build.part("M1", (5, 20), [half]),))
    (finding,) = ask(checks.process_unstated, made)
    assert finding.consequence is Consequence.NOTE
    assert finding.message == "1 pad of M1 marked as castellated, and neither set-up nor notes speak of it"
    assert ask(checks.process_unstated, replace(made, stackup=replace(made.stackup, castellated=True))) == []
    note = build.marking("Castellated holes on the left", (20, 20), layer=build.DRAWING)
    assert ask(checks.process_unstated, replace(made, markings=(note,))) == []


# --- finish


@pytest.mark.parametrize("finish", ["", "None", "none", "User defined"])
def test_no_finish_is_said(finish: str) -> None:
    (finding,) = ask(checks.build_not_stated, built(TWO_STACK, finish=finish))
    assert finding.message == "The board does not state its finish"
    assert finding.consequence is Consequence.NOTE


def test_a_note_on_the_board_states_the_finish() -> None:
    note = build.marking("Finish: immersion tin", layer=build.DRAWING)
    assert ask(checks.build_not_stated, built(TWO_STACK, finish="None", markings=(note,))) == []
    hidden = replace(note, hidden=True)
    assert len(ask(checks.build_not_stated, built(TWO_STACK, finish="None", markings=(hidden,)))) == 1


def test_what_is_missing_is_one_finding() -> None:
    (finding,) = ask(checks.build_not_stated, build.board())
    assert finding.message == "The board does not state its layers and its finish"
    vague = (copper("top", None), sheet("core", 0.0, ""), copper("bottom"))
    (finding,) = ask(checks.build_not_stated, built(vague))
    assert finding.message == (
        "The board does not state the thickness of its copper, the thickness of its dielectrics"
        " and the material of its dielectrics"
    )


@pytest.mark.parametrize(("thickness", "found"), [(1.6, 0), (1.65, 0), (1.55, 0), (1.651, 1), (1.549, 1), (0.8, 1)])
def test_layers_that_do_not_make_up_the_thickness(thickness: float, found: int) -> None:
    answers = ask(checks.stackup_contradictory, built(TWO_STACK, thickness))
    assert len(answers) == found
    if found:
        assert answers[0].consequence is Consequence.QUERY
        assert answers[0].message == (
            f"The stack-up contradicts the board: layers of 1.60 mm in all make a board {checks.mm(thickness)} mm thick"
        )


def test_other_contradictions() -> None:
    def said(board: Board) -> str:
        (finding,) = ask(checks.stackup_contradictory, board)
        return finding.message.removeprefix("The stack-up contradicts the board: ")

    assert said(built(TWO_STACK, copper_layers=FOUR)) == "2 copper layers of 4"
    other = (copper("top"), sheet("core", 1.53), copper("back"))
    assert said(built(other)) == "no copper layer bottom"
    turned = (copper("bottom"), sheet("core", 1.53), copper("top"))
    assert said(built(turned)) == "copper layers in the order bottom, top"
    assert said(built((copper("top", 0.8), copper("bottom", 0.8)))) == "nothing between top and bottom"
    assert said(build.board(stackup=Stackup(0.0))) == "a board 0.00 mm thick"


def test_unknown_thicknesses_contradict_nothing() -> None:
    assert ask(checks.stackup_contradictory, built((copper("top"), sheet("core", None), copper("bottom")))) == []
    assert ask(checks.stackup_contradictory, build.board()) == []


@pytest.mark.parametrize(("below", "found"), [(0.2, 0), (0.22, 0), (0.18, 0), (0.23, 1), (0.1, 1), (None, 0)])
def test_a_stackup_that_does_not_mirror(below: Optional[float], found: int) -> None:
    layers = [*FOUR_STACK[:5], sheet("prepreg", below), FOUR_STACK[6]]
    answers = ask(checks.stackup_asymmetric, built(layers))
    assert len(answers) == found
    if found:
        assert answers[0].consequence is Consequence.NOTE
        assert f"dielectric 0.20 mm 'FR4' against dielectric {checks.mm(below)} mm 'FR4'" in answers[0].message


def test_other_materials_and_other_kinds_do_not_mirror() -> None:
    layers = [*FOUR_STACK[:5], sheet("prepreg", 0.2, "PTFE"), FOUR_STACK[6]]
    assert len(ask(checks.stackup_asymmetric, built(layers))) == 1
    unnamed = [*FOUR_STACK[:5], sheet("prepreg", 0.2, ""), FOUR_STACK[6]]
    assert ask(checks.stackup_asymmetric, built(unnamed)) == []
    three = (copper("top"), sheet("core", 0.7), copper("in1"), sheet("core", 0.8))
    assert len(ask(checks.stackup_asymmetric, built(three))) == 1


# --- thick copper ------------------------------------------------------------------------------------------------


def heavy(thickness: Optional[float], width: float, gap: float = 1.0, layer: str = "top") -> Board:
    y = 10 + width + gap
    tracks = (
        build.track((10, 10), (30, 10), width, layer=layer, net="A"),
        build.track((10, y), (30, y), width, layer=layer, net="B"),
    )
    return built((copper("top", thickness), sheet("core", 1.5), copper("bottom")), tracks=tracks)


@pytest.mark.parametrize(
    ("thickness", "width", "gap", "found"),
    [
        (0.07, 0.2, 0.2, 0),
        (0.07, 0.2 - TOL_MM / 2, 0.2, 0),
        (0.07, 0.199, 0.2, 1),
        (0.07, 0.2, 0.199, 1),
        (0.105, 0.15, 0.15, 1),
        (0.035, 0.15, 0.15, 0),
        (0.0699, 0.15, 0.15, 1),
        (0.069, 0.15, 0.15, 0),
        (None, 0.15, 0.15, 0),
    ],
)
def test_fine_tracks_in_thick_copper(thickness: Optional[float], width: float, gap: float, found: int) -> None:
    answers = ask(checks.copper_too_thick, heavy(thickness, width, gap))
    assert len(answers) == found
    if found:
        assert answers[0].consequence is Consequence.QUERY
        assert answers[0].measured == pytest.approx(min(width, gap))


def test_thick_copper_counts_on_its_own_layer() -> None:
    (finding,) = ask(checks.copper_too_thick, heavy(0.07, 0.15, 0.18))
    assert finding.message == (
        "top is 0.07 mm thick and has 2 tracks and 1 gap down to 0.15 mm; 0.20 mm needed for 0.07 mm and more"
    )
    assert ask(checks.copper_too_thick, heavy(0.07, 0.15, 0.18, "bottom")) == []


# --- fingers -----------------------------------------------------------------------------------------------------


def plug(finish: str, to_edge: float = 0.5, count: int = 4, kind: PadKind = PadKind.CONNECTOR, **more) -> Board:
    pads = [build.pad(str(n), (20 + 2.5 * n, to_edge + 3), (1.5, 6), kind=kind, paste=False) for n in range(count)]
    return built(TWO_STACK, finish=finish, parts=(build.part("J1", (25, 5), pads),), **more)


def test_fingers_want_gold() -> None:
    (finding,) = ask(checks.finger_finish, plug("HAL lead-free"))
    assert finding.message == "J1: contacts at the board edge want hard gold, and the board states 'HAL lead-free'"
    assert finding.consequence is Consequence.QUERY
    (finding,) = ask(checks.finger_finish, plug("None"))
    assert finding.consequence is Consequence.NOTE
    for finish in ("ENIG", "Hard gold", "Immersion gold", "ENEPIG"):
        assert ask(checks.finger_finish, plug(finish)) == []
    note = build.marking("J1: hard gold, 20 deg bevel", layer=build.DRAWING)
    assert ask(checks.finger_finish, plug("HAL lead-free", markings=(note,))) == []


def test_what_is_no_row_of_fingers() -> None:
    assert ask(checks.finger_finish, plug("OSP", count=3)) == []
    assert ask(checks.finger_finish, plug("OSP", to_edge=1.5)) != []
    assert ask(checks.finger_finish, plug("OSP", to_edge=1.6)) == [], "pads that a probe lands on"
    assert ask(checks.finger_finish, plug("OSP", kind=PadKind.SURFACE)) == []
