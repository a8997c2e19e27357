# SPDX-License-Identifier: MIT
"""The document's head: title block, stack-up, set-up."""

from __future__ import annotations

from typing import Optional

from lineworthy.model import StackLayer, Stackup, TitleBlock
from lineworthy.shapes import Point
from lineworthy_kicad.reader.copper import Protection
from lineworthy_kicad.reader.points import xy
from lineworthy_kicad.reader.sexpr import Node, each, kids, maybe_number, maybe_word


def title_block(node: Node) -> TitleBlock:
    """From ``(title_block (title ..) (rev ..) (comment 1 ..))``."""
    inner = kids(node)
    comments = [""] * 9
    for comment in each(node, "comment"):
        index = maybe_word(comment)
        if index.isdigit() and 1 <= int(index[:2]) <= 9:
            comments[int(index[:2]) - 1] = maybe_word(comment, 2)
    while comments and not comments[-1]:
        comments.pop()
    return TitleBlock(
        title=maybe_word(inner.get("title")),
        revision=maybe_word(inner.get("rev")),
        date=maybe_word(inner.get("date")),
        company=maybe_word(inner.get("company")),
        comments=tuple(comments),
    )


def stackup(thickness: float, setup: Optional[Node]) -> Stackup:
    """From the thickness in ``(general ..)`` and the layers in ``(setup (stackup ..))``."""
    node = kids(setup).get("stackup") if setup else None
    if node is None:
        return Stackup(thickness)
    inner = kids(node)
    return Stackup(
        thickness=thickness,
        layers=tuple(layer for entry in each(node, "layer") for layer in _layers(entry)),
        finish=maybe_word(inner.get("copper_finish")),
        castellated=maybe_word(inner.get("castellated_pads")) == "yes",
        edge_plated=maybe_word(inner.get("edge_plating")) == "yes",
    )


def _layers(entry: Node) -> list[StackLayer]:
    """One entry of the stack-up; a dielectric may have several sheets, divided by the word ``addsublayer``."""
    sheets: list[Node] = [["layer"]]
    for part in entry[2:]:
        if part == "addsublayer":
            sheets.append(["layer"])
        else:
            sheets[-1].append(part)
    kind = maybe_word(kids(entry).get("type"))
    made: list[StackLayer] = []
    for sheet in sheets:
        inner = kids(sheet)
        made.append(
            StackLayer(
                name=maybe_word(entry),
                kind=maybe_word(inner.get("type"), default=kind),
                thickness=maybe_number(inner["thickness"], 0.0) if "thickness" in inner else None,
                material=maybe_word(inner.get("material")),
                permittivity=maybe_number(inner["epsilon_r"], 1.0) if "epsilon_r" in inner else None,
                colour=maybe_word(inner.get("color")),
            )
        )
    return made


def via_protection(setup: Node) -> Protection:
    """How vias are closed unless they say otherwise: set-up entries since 9; before, tenting was a plot option."""
    inner = kids(setup)
    plot = kids(inner.get("pcbplotparams", ["pcbplotparams"]))
    if "tenting" not in inner and maybe_word(plot.get("viasonmask")) in ("yes", "true"):
        return Protection(tented=frozenset()).overridden(inner)
    return Protection().overridden(inner)


def file_origin(setup: Optional[Node]) -> Point:
    """Where drill and placement files count from; the page's origin where none is set."""
    placed = kids(setup).get("aux_axis_origin") if setup is not None else None
    return (0.0, 0.0) if placed is None else xy(placed)
