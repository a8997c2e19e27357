# SPDX-License-Identifier: MIT
"""Placement files as editors and people write them, and what is refused or told as unread."""

from __future__ import annotations

import pytest

from lineworthy.errors import InputError
from lineworthy.intake.placement import Placed, PlacementFile, read_placement
from lineworthy.model import Side


def read(text: str, encoding: str = "utf-8") -> PlacementFile:
    return read_placement("pos.csv", text.encode(encoding))


EDITOR = 'Ref,Val,Package,PosX,PosY,Rot,Side\n"C1","100n","C_0402",127.100000,-100.850000,90.000000,top\n'
TEXT = """### Footprint positions - created on 2026-11-28 ###
### Printed by KiCad version 9.0
## Unit = mm, Angle = deg.
## Side : All
# Ref     Val       Package    PosX       PosY       Rot  Side
C1        100n      C_0402     127.1000   -100.8500  90.0000  top
U1        LM 317 T  SOT-223    10.0000     20.0000 -180.0000  bottom
## End
"""


def test_the_editors_table() -> None:
    """Its header line is exactly ``Ref,Val,Package,PosX,PosY,Rot,Side`` (the editor's source)."""
    found = read(EDITOR)
    assert found.placed == (Placed("C1", (127.1, -100.85), 90, Side.TOP, "100n", "C_0402", 2),)
    assert (found.unit, found.unread) == ("", ())


def test_the_editors_text() -> None:
    found = read(TEXT)
    first, second = found.placed
    assert first == Placed("C1", (127.1, -100.85), 90, Side.TOP, "100n", "C_0402", 6)
    assert (second.reference, second.at, second.rotation, second.side) == ("U1", (10, 20), -180, Side.BOTTOM)
    assert second.package == "SOT-223"
    assert found.unit == "mm"


def test_the_editors_text_in_inches() -> None:
    found = read(TEXT.replace("Unit = mm", "Unit = inch"))
    assert found.unit == "inch"
    assert found.placed[0].at == pytest.approx((127.1 * 25.4, -100.85 * 25.4))
    assert found.placed[0].rotation == pytest.approx(90)


def test_an_empty_text_of_the_editor_is_a_placement_of_nothing() -> None:
    lines = TEXT.splitlines(keepends=True)
    assert read("".join([*lines[:5], lines[-1]])).placed == ()
    with pytest.raises(InputError, match="no placement line that can be read"):
        read("".join(lines[:5]))


SHAPES = {
    "units in the header": ("Designator,Mid X (mm),Mid Y (mm),Rotation,Layer\nR1,1.5,2.5,90,TopLayer\n", "mm"),
    "mils": ("RefDes,X (mil),Y (mil),Angle,Side\nR1,59.0551,98.4252,90,T\n", "mil"),
    "inches": ("Part;PosX [inch];PosY [inch];Rot;Side\nR1;0.0590551;0.0984252;90;top\n", "inch"),
    "units with each number": ("Designator\tCenter-X\tCenter-Y\tRotation\tLayer\nR1\t1.5mm\t2.5mm\t90\tTop\n", "mm"),
    "mils with each number": ("Designator,Mid X,Mid Y,Rotation,Layer\nR1,59.0551mil,98.4252mil,90,TopLayer\n", "mil"),
    "European": ("Bauteil;X;Y;Winkel;Seite\nR1;1,5;2,5;90,0;oben\n", ""),
    "a line on top": ("Board 12,revision B\nUnits: mm\nRef,X,Y,Rot,Side\nR1,1.5,2.5,90,top\n", "mm"),
    "place of a pad, too": ("Ref,Pad X,Pad Y,Mid X,Mid Y,Rot,Layer\nR1,9,9,1.5,2.5,90,1\n", ""),
    "turn with its unit": ("Ref,X,Y,Rot,Side\nR1,1.5,2.5,90°,F.Cu\n", ""),
    "byte order mark": ("\ufeffRef,X,Y,Rot,Side\nR1,1.5,2.5,90,Front\n", ""),
    "columns apart": ("Side,Comment,Y,X,Rot,Ref\nTop,10k,2.5,1.5,90,R1\n", ""),
}


@pytest.mark.parametrize("name", SHAPES)
def test_shapes_of_tables(name: str) -> None:
    text, unit = SHAPES[name]
    found = read(text)
    (placed,) = found.placed
    assert placed.reference == "R1"
    assert placed.at == pytest.approx((1.5, 2.5), abs=1e-4)
    assert (placed.rotation, placed.side) == (90, Side.TOP)
    assert found.unit == unit
    assert found.unread == ()


@pytest.mark.parametrize("encoding", ["utf-16", "cp1252", "utf-8-sig"])
def test_encodings(encoding: str) -> None:
    (placed,) = read("Bauteil;X;Y;Winkel;Lötseite;Seite\nR1;1;2;0;;Lötseite\n", encoding).placed
    assert placed.side is Side.BOTTOM


@pytest.mark.parametrize(
    ("word", "side"),
    [("top", Side.TOP), ("T", Side.TOP), ("Top Layer", Side.TOP), ("F", Side.TOP), ("Component Side", Side.TOP),
     ("bottom", Side.BOTTOM), ("B", Side.BOTTOM), ("BottomLayer", Side.BOTTOM), ("Back", Side.BOTTOM),
     ("2", Side.BOTTOM), ("solder_side", Side.BOTTOM), ("inside", None), ("", None)],
)  # fmt: skip
def test_sides(word: str, side: object) -> None:
    assert read(f"Ref,X,Y,Rot,Side\nR1,1,2,0,{word}\n").placed[0].side is side


def test_units_that_do_not_agree_are_told() -> None:
    assert read("Ref,X,Y\nR1,1mm,2mm\nR2,10mil,20mil\n").unit == "mixed units"


def test_lines_that_cannot_be_read_are_named() -> None:
    found = read("Ref,X,Y,Rot,Side\nR1,1,2,0,top\nR2,here,2,0,top\nR3,1,,0,top\n\nR4,1e9,0,0,top\n,5,5,0,top\n")
    assert [placed.reference for placed in found.placed] == ["R1"]
    assert [(line.line, line.reason) for line in found.unread] == [
        (3, "no coordinates"),
        (4, "no coordinates"),
        (6, "no coordinates"),
    ]
    text = read(TEXT.replace("127.1000   -100.8500", "127.1000"))
    assert [line.line for line in text.unread] == [6]


@pytest.mark.parametrize(
    "text", ["", "a,b,c\n1,2,3\n", "Ref,Value,Quantity\nR1,10k,1\n", "Ref,X,Rot\nR1,1,2\n"],
    ids=["nothing", "no header", "a parts list", "no y"],
)  # fmt: skip
def test_what_is_no_placement_file(text: str) -> None:
    with pytest.raises(InputError) as caught:
        read(text)
    assert str(caught.value).startswith("pos.csv: ")
    assert "\n" not in str(caught.value)
