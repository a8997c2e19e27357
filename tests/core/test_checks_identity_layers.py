# SPDX-License-Identifier: MIT
"""A text in copper that names another layer than its own."""

from __future__ import annotations

import pytest

from asking import ask, only
from build import BOTTOM, COPPER_BOTTOM, COPPER_TOP, LEGEND_TOP, MASK_TOP, board, chip, marking
from lineworthy import Consequence
from lineworthy.checks.identity_layers import layer_named_wrong
from lineworthy.model import Layer, LayerKind

INNER = Layer("in1", LayerKind.COPPER)
STACK = ("top", "in1", "in2", "bottom")
PARTS = tuple(chip(f"R{n}", (5 * n, 30), value="10k") for n in range(1, 4))


def found(text: str, layer: Layer, *others, **more):
    more = {"parts": PARTS, "copper_layers": STACK, **more}
    return ask(layer_named_wrong, board(markings=(marking(text, layer=layer), *others), **more))


@pytest.mark.parametrize(
    ("text", "layer"),
    [
        ("BOTTOM", COPPER_TOP),
        ("Bot", COPPER_TOP),
        ("WIDGET\nBOT", COPPER_TOP),
        ("BOTTOM LAYER", COPPER_TOP),
        ("TOP", COPPER_BOTTOM),
        ("TOP", INNER),
        ("SOLDER SIDE", COPPER_TOP),
        ("Component Side", COPPER_BOTTOM),
        ("COMP. SIDE", COPPER_BOTTOM),
        ("LAYER 2", COPPER_TOP),
        ("L3", INNER),
        ("L1", INNER),
    ],
)
def test_another_layer_is_named(text: str, layer: Layer) -> None:
    finding = only(found(text, layer))
    assert finding.consequence is Consequence.QUERY
    assert finding.message == f"'{' '.join(text.split())}' stands in the copper of {layer.name}"
    assert finding.places[0].side is layer.side


@pytest.mark.parametrize(
    ("text", "layer"),
    [
        ("TOP", COPPER_TOP),
        ("BOTTOM", COPPER_BOTTOM),
        ("WIDGET\nBOT", COPPER_BOTTOM),
        ("Component Side", COPPER_TOP),
        ("LAYER 1", COPPER_TOP),
        ("LAYER 04", COPPER_BOTTOM),
        ("L2", INNER),
        ("L2", COPPER_TOP),  # a coil's, perhaps
        ("LAYER 9", COPPER_TOP),
        ("2", INNER),
        ("BOTTOM", LEGEND_TOP),
        ("BOTTOM", MASK_TOP),
        ("TOP/BOTTOM", COPPER_TOP),
        ("SFP BOTTOM", COPPER_TOP),
        ("STOP", COPPER_BOTTOM),
    ],
)
def test_its_own_layer_or_something_else(text: str, layer: Layer) -> None:
    assert not found(text, layer)


def test_both_words_on_one_layer_name_something_else() -> None:
    assert not found("BOTTOM", COPPER_TOP, marking("TOP", (30, 30), COPPER_TOP))
    assert found("BOTTOM", COPPER_TOP, marking("TOP", (30, 30), LEGEND_TOP))


def test_texts_of_parts_and_hidden_ones_say_nothing() -> None:
    assert not ask(
        layer_named_wrong,
        board(markings=(marking("BOTTOM", layer=COPPER_TOP, part_uid=PARTS[0].uid),), parts=PARTS),
    )
    assert not ask(layer_named_wrong, board(markings=(marking("BOTTOM", layer=COPPER_TOP, hidden=True),)))


def test_the_component_side_is_where_the_parts_are() -> None:
    below = tuple(chip(f"R{n}", (5 * n, 30), side=BOTTOM) for n in range(1, 4))
    assert not found("Component Side", COPPER_BOTTOM, parts=below)
    assert found("Component Side", COPPER_TOP, parts=below)
    assert not found("Component Side", COPPER_BOTTOM, parts=())
