# SPDX-License-Identifier: MIT
"""Notes on the board that speak of another build than its stack-up.

The notes are worded as people write them; what they mean needs no source. That an ounce of copper counts as 35 um is
common practice: 28.35 g on 929 cm2 at 8.96 g/cm3 (density from memory) is 34.1 um.
"""

from __future__ import annotations

import dataclasses

import pytest

from build import COPPER_TOP, DRAWING, FAB_TOP, LEGEND_TOP, board, chip, marking
from lineworthy import Consequence
from lineworthy.checks.bare_board_notes import notes_contradict_stackup
from lineworthy.knowledge.buildnotes import Topic, read_notes
from lineworthy.model import MarkingRole, StackLayer, Stackup, TitleBlock

FOUR = ("top", "in1", "in2", "bottom")
STACK = Stackup(
    1.6,
    (
        StackLayer("F.SilkS", "Top Silk Screen", colour="White"),
        StackLayer("F.Mask", "Top Solder Mask", 0.01, colour="Green"),
        StackLayer("top", "copper", 0.035),
        StackLayer("d1", "prepreg", 0.2),
        StackLayer("in1", "copper", 0.0175),
        StackLayer("d2", "core", 1.1),
        StackLayer("in2", "copper", 0.0175),
        StackLayer("d3", "prepreg", 0.2),
        StackLayer("bottom", "copper", 0.035),
        StackLayer("B.Mask", "Bottom Solder Mask", 0.01, colour="Green"),
        StackLayer("B.SilkS", "Bottom Silk Screen", colour="White"),
    ),
    finish="ENIG",
)


def asked(*texts, stack: Stackup = STACK, layer=FAB_TOP, **more):
    markings = tuple(
        text if not isinstance(text, str) else marking(text, (10, 5 + 3 * n), layer) for n, text in enumerate(texts)
    )
    made = board(markings=markings, copper_layers=FOUR, stackup=stack, **more)
    return list(notes_contradict_stackup.ask(board=made))


WRONG = [
    ("2 layers", "'2 layers' on F.Fab, the board has 4 copper layers"),
    ("Layers: 2", "the board has 4 copper layers"),
    ("Copper Layer Count: 6", "the board has 4 copper layers"),
    ("number of layers = 8", "the board has 4 copper layers"),
    ("Six layer PCB, FR4", "the board has 4 copper layers"),
    ("1. 2-layer board", "the board has 4 copper layers"),
    ("thickness 0.8 mm", "the board is 1.60 mm thick"),
    ("Board thickness: 0.8mm +/-10%", "the board is 1.60 mm thick"),
    ("1.0mm Thick", "the board is 1.60 mm thick"),
    ("Thickness of the PCB shall be 2,4 mm", "the board is 1.60 mm thick"),
    ('FINISHED THICKNESS 0.031"', "the board is 1.60 mm thick"),
    ("PCB thickness 93 mil", "the board is 1.60 mm thick"),
    ("surface finish HASL", "the finish is 'ENIG'"),
    ("Non-Lead HASL", "the finish is 'ENIG'"),
    ("finish: immersion tin", "the finish is 'ENIG'"),
    ("OSP finish", "the finish is 'ENIG'"),
    ("copper 105 um", "the copper is 0.0175 and 0.035 mm thick"),
    ("Copper Weight: 3oz", "the copper is 0.0175 and 0.035 mm thick"),
    ("Outer layers 2 oz copper", "the outer copper is 0.035 mm thick"),
    ("inner copper: 70 µm", "the inner copper is 0.0175 mm thick"),
    ("black solder mask", "the solder mask is green"),
    ("Solder Mask: Red", "the solder mask is green"),
    ("soldermask colour: blue", "the solder mask is green"),
    ("Silkscreen: black", "the legend is white"),
]


@pytest.mark.parametrize(("text", "told"), WRONG, ids=[text for text, _ in WRONG])
def test_notes_that_contradict_are_told(text: str, told: str) -> None:
    [finding] = asked("orchard frost alarm", text)
    assert finding.consequence is Consequence.QUERY
    assert told in finding.message.replace("0.018", "0.0175")
    assert len(finding.places) == 1


@pytest.mark.parametrize(
    "text",
    [
        "4 layers",
        "Layers: 4",
        "4-layer, controlled stack",
        "thickness 1.6 mm",
        "1.6mm Thick",
        '0.062" thick',
        "board thickness 1.57 mm",
        "thickness 1.44 mm",  # a tenth less: exactly on the tolerance
        "ENIG",
        "finish: immersion gold",
        "Copper: 1 oz",
        "1/2 oz copper inner",
        "outer copper 35 um, inner copper 18 um",
        "copper 60 um finished",  # 35 um and 25 um of plating
        "green solder mask",
        "Silkscreen: White",
    ],
)
def test_notes_that_agree_pass(text: str) -> None:
    assert not asked(text)


@pytest.mark.parametrize(
    "text",
    [
        "Impedance controlled layers: Top, L3",
        "2 inner layers",
        "top 2 layers",
        "2 layers of tape",
        "layer 2",
        "Layers 1-2",
        "Layers: 2-3 laser",
        "keep 3 layers free",
        "copper thickness 0.035 mm",
        "dielectric thickness 0.2 mm",
        "stencil thickness 0.12 mm",
        "stiffener 0.3 mm thick",
        "0.2 mm thick FR4 core",
        "Thickness (mm)",
        "80.4000 mm",
        "max. thickness 0.8 mm",
        "hard gold on fingers",
        "HASL or OSP",
        "no HASL",
        "HAL 9000",
        "hole wall copper 25 um min",
        "25 um copper plating in holes",
        "solder mask over bare copper",
        "mask defined pads",
        "remove mask",
        "red LED",
        "black wire",
        "White Rabbit",
        "gold",
        "2 layers?",
    ],
)
def test_texts_that_speak_of_something_else_pass(text: str) -> None:
    assert not asked(text)


@pytest.mark.parametrize("layer", [DRAWING, LEGEND_TOP, COPPER_TOP])
def test_notes_count_on_any_layer(layer) -> None:
    [finding] = asked("2 layers", layer=layer)
    assert f"on {layer.name}" in finding.message


def test_several_notes_are_one_finding_with_their_places() -> None:
    [finding] = asked("Layers: 2\nThickness: 1.6mm\nFinish: OSP", "Solder Mask: Red")
    assert finding.message.startswith("3 notes against the board's set-up: 'Layers: 2' on F.Fab, the board has 4")
    assert len(finding.places) == 2


def test_a_label_and_its_value_may_be_two_texts() -> None:
    """As in the editor's own table of board characteristics."""
    label, value = marking("Copper Layer Count: ", (20, 10), DRAWING), marking("2", (40, 10), DRAWING)
    below = marking("4", (40, 7), DRAWING)
    [finding] = asked(label, value, below)
    assert "'Layer Count: 2' on Dwgs.User" in finding.message
    assert not asked(label, dataclasses.replace(value, text="4"), below)
    assert not asked(label, dataclasses.replace(value, layer=FAB_TOP), below)


def test_hidden_texts_values_and_texts_of_components_do_not_count() -> None:
    note = marking("2 layers", layer=FAB_TOP)
    part = chip("U1", (10, 10))
    assert not asked(dataclasses.replace(note, hidden=True))
    assert not asked(dataclasses.replace(note, role=MarkingRole.VALUE))
    assert not asked(dataclasses.replace(note, part_uid=part.uid), parts=(part,))


def test_comments_of_the_title_block_count() -> None:
    [finding] = asked(title=TitleBlock(comments=("", "2 layers")))
    assert "'2 layers' in the title block" in finding.message


@pytest.mark.parametrize("text", ["finish OSP", "red solder mask", "copper 3 oz", "legend: yellow"])
def test_what_the_set_up_leaves_open_contradicts_nothing(text: str) -> None:
    assert not asked(text, stack=Stackup(1.6))
    odd = tuple(dataclasses.replace(layer, thickness=None, colour="#104000FF") for layer in STACK.layers)
    assert not asked(text, stack=Stackup(1.6, odd, finish="User defined"))


def test_units_mean_the_same() -> None:
    texts = [marking(text, (10, 3 * n), FAB_TOP) for n, text in enumerate(["1 oz copper", "35 um copper"])]
    assert pytest.approx(0.035, abs=0.001) == 28.35 / (30.48**2 * 8.96) * 10  # g, cm2, g/cm3: mm
    sizes = [note.value for note in read_notes(board(markings=tuple(texts))) if note.topic is Topic.COPPER]
    assert sizes == pytest.approx([0.035, 0.035], abs=0.0005)


def test_long_texts_without_sense_are_read_quickly() -> None:
    """Text off a board is hostile: no pattern may take longer than in proportion."""
    assert not asked("the " * 20000 + "thickness", "copper " * 20000, "1" * 50000 + " layers", "mask " * 20000)
