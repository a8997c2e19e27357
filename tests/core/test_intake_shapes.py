# SPDX-License-Identifier: MIT
"""Parts lists in the shapes people keep them: each is understood, or refused with the line named."""

from __future__ import annotations

import io
from dataclasses import dataclass, field
from typing import Optional

import pytest

from lineworthy.errors import InputError
from lineworthy.intake.parts_file import parts_list_in
from lineworthy.intake.parts_list import PartsList


@dataclass
class Shape:
    """A file and what must be made of it: references per line, those not fitted, lines that cannot be read."""

    name: str
    data: bytes
    lines: list[str] = field(default_factory=list)
    absent: str = ""
    unread: list[int] = field(default_factory=list)
    refused: str = ""
    parts: Optional[dict[str, str]] = None
    understood: str = ""


def text(rows: str, encoding: str = "utf-8") -> bytes:
    return rows.strip("\n").encode(encoding)


def xlsx(*sheets: tuple[str, list[list[object]]], hidden: str = "") -> bytes:
    from openpyxl import Workbook

    book = Workbook()
    book.remove(book.active)
    for name, rows in sheets:
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(row)
        if name == hidden:
            sheet.sheet_state = "hidden"
    file = io.BytesIO()
    book.save(file)
    return file.getvalue()


ROWS = [
    ["Ref", "Qty", "Value", "MPN"],
    ["R1-R3", 3, "10k", "RC-10K"],
    ["C1,C2", 2.0, "100n", "CC-100N"],
    ["U1", 1, "logic", 7443551],
]

SHAPES = [
    Shape(
        "plain commas",
        text('Reference,Value,Footprint,Qty\n"C1,C2,C3",100n,C_0402,3\nR1,10k,R_0402,1\n'),
        ["C1 C2 C3", "R1"],
    ),
    Shape(
        "semicolons, decimal commas, letterhead, German",
        text(
            "Stückliste Frostwächter;;;\nRev. B;;;\n;;;\nPos.;Bezeichner;Menge;Wert;Gehäuse;Herstellernummer;Preis\n"
            "1;R1-R4, R7;5;4,7k;0402;A-1;0,012\n2;C1..C3;3;1,0u;0603;A-2;0,02\n"
        ),
        ["R1 R2 R3 R4 R7", "C1 C2 C3"],
        parts={"R1": "A-1", "C3": "A-2"},
    ),
    Shape(
        "the same in Windows-1252",
        text("Bezeichner;Stück;Gehäuse;Wert\nR1;1;0402;10 kΩ\n".replace("Ω", "Ohm"), "cp1252"),
        ["R1"],
        understood="Windows-1252",
    ),
    Shape(
        "byte order mark", b"\xef\xbb\xbf" + text("Designator,Comment,MPN\nU1,amp,X-100\n"), ["U1"], understood="UTF-8"
    ),
    Shape("UTF-16 with tabs", text("Ref\tQty\tValue\nR1 R2\t2\t1µ\n", "utf-16"), ["R1 R2"], understood="UTF-16"),
    Shape("UTF-16 without a mark", text("Ref\tQty\tValue\nR1 R2\t2\t1u\n", "utf-16-le"), ["R1 R2"]),
    Shape("tabs and old line ends", b"Ref\tQty\tValue\rR1\t1\t1k\rR2\t1\t2k", ["R1", "R2"]),
    Shape("bars", text("Refdes|Count|Value\nR1|1|1k\n"), ["R1"], understood="bars"),
    Shape(
        "announced separator",
        text("sep=;\nRef;Qty;Value\nR1;1;1k\nR2,R3;2;2,2k\n"),
        ["R1", "R2 R3"],
        understood="line 2",
    ),
    Shape(
        "one row per part, Chinese",
        text("位号,数量,值,封装,厂家型号\nR1,1,10k,0402,RC-1\nR2,1,10k,0402,RC-1\n", "gb18030"),
        ["R1", "R2"],
        parts={"R2": "RC-1"},
        understood="GB 18030",
    ),
    Shape(
        "French, references over several lines in a cell",
        text('Repère,Quantité,Valeur,Boîtier,Référence fabricant\n"R1\nR2\nR3",3,1k,0402,FR-1\n"C9",1,1n,0402,FR-2\n'),
        ["R1 R2 R3", "C9"],
        parts={"C9": "FR-2"},
    ),
    Shape(
        "a long row of references goes on below",
        text('Item,Qty,Reference,Part Number\n1,6,"C1,C2,C3,",CC-1\n,,"C4,C5,C6",\n2,1,R1,RC-1\n'),
        ["C1 C2 C3 C4 C5 C6", "R1"],
    ),
    Shape(
        "a column of do-not-fit",
        text("Ref,Value,MPN,DNP\nR1,1k,RC-1,\nR2,1k,RC-1,DNP\nR3,2k,RC-2,no\nR4,3k,RC-3,x\n"),
        ["R1", "R2", "R3", "R4"],
        absent="R2 R4",
    ),
    Shape(
        "a column of fitted, with yes and no",
        text("Ref,Value,Fitted\nR1,1k,yes\nR2,1k,No\nR3,2k,\n"),
        ["R1", "R2", "R3"],
        absent="R2",
    ),
    Shape(
        "a column of fitted that only ticks",
        text("Ref,Value,Populate\nR1,1k,x\nR2,1k,\nR3,2k,x\n"),
        ["R1", "R2", "R3"],
        absent="R2",
        understood="only ticks",
    ),
    Shape(
        "marks in values, quantities and notes",
        text(
            "Ref,Qty,Value,Notes\nR1,1,DNP,\nR2,1,10k (DNF),\nR3,0,10k,\nC4,1,100 NF,\nC5,1,10p NP0,\n"
            "R6,1,1k,Do not fit\n"
            "R7,1,NF,\nR8,DNI,1k,\nR9,1,4k7/NF,\n"
        ),
        ["R1", "R2", "R3", "C4", "C5", "R6", "R7", "R8", "R9"],
        absent="R1 R2 R3 R6 R7 R8 R9",
    ),
    Shape(
        "a title over what is not fitted",
        text("Ref,Qty,Value\nFitted:,,\nR1,1,1k\nNot fitted:,,\nR2,1,1k\n"),
        ["R1", "R2"],
        absent="R2",
    ),
    Shape(
        "titles, totals and the header again",
        text("Ref,Qty,Value\nResistors,,\nR1,1,1k\n,,\nRef,Qty,Value\nC1,1,1n\nTotal,2,\n"),
        ["R1", "C1"],
    ),
    Shape(
        "second parts in rows of their own",
        text("Ref,Qty,Value,Manufacturer,MPN\nR1,1,1k,Ash,A-1\n,,,Birch,B-1\nC1,1,1n,Ash,A-2\n"),
        ["R1", "C1"],
        parts={"R1": "A-1 B-1", "C1": "A-2"},
    ),
    Shape(
        "columns for second parts",
        text("Ref,Value,MPN,MPN 2,Alternate\nR1,1k,A-1,B-1,C-1\nR2,2k,A-2,,\n"),
        ["R1", "R2"],
        parts={"R1": "A-1 B-1 C-1", "R2": "A-2"},
    ),
    Shape(
        "places under a name that may be anything",
        text("Qty;Value;Device;Package;Parts;Description\n2;10k;R-EU;R0402;R1, R2;resistor\n1;LED;LED;0603;D1;red\n"),
        ["R1 R2", "D1"],
    ),
    Shape(
        "screws and labels without a place",
        text("Ref,Qty,Description,MPN\nR1,1,resistor,RC-1\n,4,screw M3x8,S-M3\n,0.5,tape,T-1\n"),
        ["R1", "", ""],
    ),
    Shape("workbook", xlsx(("BOM", ROWS)), ["R1 R2 R3", "C1 C2", "U1"], parts={"U1": "7443551"}),
    Shape(
        "workbook with a cover sheet, a letterhead and a hidden sheet",
        xlsx(
            ("Old", [["Ref", "Qty", "Value", "MPN", "Package"], ["X1", 1, "x", "y", "z"]]),
            ("Cover", [["Frost alarm"], ["Revision", "B"]]),
            ("Parts", [["Frost alarm parts"], [], [None, None], *ROWS]),
            hidden="Old",
        ),
        ["R1 R2 R3", "C1 C2", "U1"],
        understood="'Parts'",
    ),
    Shape(
        "workbook with numbers for sizes, and truth values",
        xlsx(("S", [["Ref", "Value", "Package", "Fitted"], ["R1", 4700, 402, True], ["R2", "=1+1", 603, False]])),
        ["R1", "R2"],
        absent="R2",
    ),
    Shape(
        "workbook of two lists: one is read, the other named",
        xlsx(("Top", ROWS), ("Bottom", [["Ref", "Qty", "Value", "MPN"], ["R9", 1, "1k", "Z"]])),
        ["R1 R2 R3", "C1 C2", "U1"],
        understood="not read: 'Bottom'",
    ),
    Shape(
        "formulas that make text of a number",
        text('Ref,Qty,Value,Package\nR1,1,10k,"=""0402"""\n'),
        ["R1"],
    ),
    Shape(
        "lines that cannot be read are named",
        text(
            "Ref,Qty,Value\nR1,1,1k\nsee drawing,1,1k\nR2-C9,8,1k\nR?,1,1k\nR3,three,1k\n,,1k\n,7,\nR4,1,1k\n"
            "R1-R90000,1,1k\n"
        ),
        ["R1", "R4"],
        unread=[3, 4, 5, 6, 7, 8, 10],
    ),
    Shape(
        "a quote that is never closed",
        text('Ref,Qty,Value\nR1,1,1k\nR2,1,"2k\nR3,1,3k\nR4,1,4k\n'),
        ["R1"],
        unread=[3],
    ),
    Shape("no header", text("R1,1,10k\nR2,1,10k\n"), refused="no header of a parts list"),
    Shape("header too far down", text("remark\n" * 25 + "Ref,Qty,Value\nR1,1,1k\n"), refused="no header"),
    Shape("empty", b" \n", refused="is empty"),
    Shape("a letter", text("Dear buyer,\nplease find the parts below.\n"), refused="no header"),
    Shape("a web page", b"<html><table><tr><td>Ref</td></tr></table></html>", refused="not a table"),
    Shape("an old workbook", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600), refused="old or encrypted Excel"),
    Shape("a picture", b"\x89PNG\r\n\x1a\n" + bytes(200), refused="not text"),
]


def shown(parts: PartsList) -> list[str]:
    return [" ".join(line.references) for line in parts.lines]


@pytest.mark.parametrize("shape", SHAPES, ids=lambda shape: shape.name)
def test_every_shape_is_understood_or_refused(shape: Shape) -> None:
    if shape.refused:
        with pytest.raises(InputError, match=shape.refused) as caught:
            parts_list_in(shape.data, "parts.csv")
        assert str(caught.value).startswith("parts.csv: ")
        assert "\n" not in str(caught.value)
        return
    parts = parts_list_in(shape.data, "parts.csv")
    assert shown(parts) == shape.lines
    assert sorted(parts.not_fitted) == sorted(shape.absent.split())
    assert [item.line for item in parts.unread] == shape.unread
    assert shape.understood in "; ".join(parts.understood)
    for reference, numbers in (shape.parts or {}).items():
        (line,) = parts.by_reference[reference]
        assert [line.maker_part, *(other.maker_part for other in line.alternates)] == numbers.split()


def test_there_are_twenty_five_shapes_and_more() -> None:
    assert len({shape.name for shape in SHAPES}) >= 25


def test_no_line_of_any_shape_is_dropped_without_a_word() -> None:
    """Rows of text files are lines, alternates, continuations, unread or remarks; here for the one that has all."""
    rows = "Ref,Qty,Value,MPN\nR1,1,1k,A\n,,,B\nTitle,,,\n???,1,1k,C\nR2,1,2k,D\nTotal,2,,\n"
    parts = parts_list_in(text(rows), "f")
    alternates = sum(len(line.alternates) for line in parts.lines)
    assert len(parts.lines) + alternates + len(parts.unread) + len(parts.remarks) == 6
    assert [str(item) for item in parts.unread] == ["line 5: '???' is no reference (???, 1, 1k, C)"]
    assert [item.reason for item in parts.remarks] == ["a title", "a total"]


def test_quantities_that_are_not_the_number_of_places() -> None:
    parts = parts_list_in(text("Ref,Qty,Value\nR1-R4,5,1k\nR5,1,1k\nR6,0,DNP\n,3,screw\n"), "f")
    assert [line.miscounted for line in parts.lines] == [True, False, False, False]
    assert [line.per_board for line in parts.lines] == [4, 1, 1, 3]


def test_what_j1_2_is_its_quantity_says() -> None:
    parts = parts_list_in(text("Ref,Qty,Value\nJ1-2,1,plug\nR1-2,2,1k\n"), "f")
    assert shown(parts) == ["J1-2", "R1 R2"]


def test_columns_that_are_not_used_are_said() -> None:
    parts = parts_list_in(text("Ref,Qty,Value,Colour,Unit Price\nR1,1,1k,red,0.1\n"), "f")
    assert parts.ignored == ("Colour", "Unit Price")
    assert parts.lines[0].others == {"Colour": "red", "Unit Price": "0.1"}


def test_repeated_places_are_found() -> None:
    parts = parts_list_in(text('Ref,Qty,Value\n"R1,R2",2,1k\nR2,1,2k\nR10,1,1k\nR10,1,1k\n'), "f")
    assert parts.repeated == ("R2", "R10")
