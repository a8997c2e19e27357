# SPDX-License-Identifier: MIT
"""Drill files: units, zeros left out, slots and routes, plating, and what is refused.

Rules of the format are those of IPC-NC-349 and its subset XNC (from memory), as layout editors write them.
"""

from __future__ import annotations

import re
from math import hypot, sqrt

import pytest

from lineworthy.errors import InputError
from lineworthy.intake import drill
from lineworthy.intake.drill import DrillFile, Hit, drill_of, looks_like_drill, named_plated, read_drill
from lineworthy.intake.gerber import read_gerber


def read(text: str, name: str = "board.drl") -> DrillFile:
    return read_drill(name, text.encode())


def program(body: str, unit: str = "METRIC", tools: str = "T1C0.600\n", head: str = "") -> str:
    return f"M48\n{head}{unit}\n{tools}%\nG05\nT1\n{body}\nT0\nM30\n"


def places(file: DrillFile) -> list[tuple[float, ...]]:
    return [tuple(round(value, 4) for point in hit.points for value in point) for hit in file.hits]


def test_a_plain_program() -> None:
    """The skeleton of an XNC file (from memory)."""
    found = read("M48\nMETRIC\nT01C0.600\nT02C3.2\n%\nG05\nT01\nX1.0Y2.0\nX-3.5\nT02\nX10.0Y0\nM30\n")
    assert places(found) == [(1, 2), (-3.5, 2), (10, 0)]
    assert [hit.diameter for hit in found.hits] == [0.6, 0.6, 3.2]
    assert (found.unit, found.is_complete, found.plated, found.span, found.remarks) == ("mm", True, None, None, ())


NUMBERS = {
    # header, digits for x, mm
    "explicit point": ("METRIC", "12.5", 12.5),
    "explicit point, inches": ("INCH", "0.5", 12.7),
    "metric, leading zeros left out": ("METRIC,TZ", "12500", 12.5),
    "metric, trailing zeros left out": ("METRIC,LZ", "0125", 12.5),
    "metric, all zeros": ("METRIC,TZ", "012500", 12.5),
    "metric, trailing left out, negative": ("METRIC,LZ", "-0125", -12.5),
    "metric, four and two": ("METRIC,TZ,0000.00", "1250", 12.5),
    "inch, leading zeros left out": ("INCH,TZ", "5000", 12.7),
    "inch, trailing zeros left out": ("INCH,LZ", "005", 12.7),
    "inch, all zeros": ("INCH,LZ", "005000", 12.7),
    "inch, two and three": ("INCH,TZ,00.000", "500", 12.7),
    "inch, plus sign": ("INCH,TZ", "+5000", 12.7),
    "M71": ("M71", "12.5", 12.5),
    "M72": ("M72", "0.5", 12.7),
}


@pytest.mark.parametrize("name", NUMBERS)
def test_zeros_and_units(name: str) -> None:
    unit, digits, wanted = NUMBERS[name]
    (hit,) = read(program(f"X{digits}Y0", unit)).hits
    assert hit.at == pytest.approx((wanted, 0))


@pytest.mark.parametrize(
    ("comment", "digits", "wanted"),
    [
        (";FILE_FORMAT=2:5", "050000", 12.7),
        ("; FORMAT={2:4/ absolute / inch / suppress leading zeros}", "5000", 12.7),
        ("; FORMAT={2:4/ absolute / inch / suppress trailing zeros}", "005", 12.7),
        ("; FORMAT={2:4/ absolute / inch / keep zeros}", "005000", 12.7),
        ("; FORMAT={-:-/ absolute / inch / decimal}", "0.5", 12.7),
    ],
)
def test_what_programs_say_of_their_numbers_in_comments(comment: str, digits: str, wanted: float) -> None:
    (hit,) = read(program(f"X{digits}Y0", "INCH", "T1C0.02\n", f"{comment}\n")).hits
    assert hit.at == pytest.approx((wanted, 0))
    assert hit.diameter == pytest.approx(0.508)


def test_inches_read_as_mm_would_be_off() -> None:
    mm, inch = (read(program("X1.0Y1.0", unit)).hits[0] for unit in ("METRIC", "INCH"))
    assert hypot(*inch.at) == pytest.approx(25.4 * hypot(*mm.at))
    assert inch.diameter == pytest.approx(25.4 * mm.diameter)


BODIES = {
    "modal coordinates": ("X1Y2\nX3\nY4", [(1, 2), (3, 2), (3, 4)]),
    "incremental": ("G91\nX1Y1\nX1\nY1\nG90\nX1", [(1, 1), (2, 1), (2, 2), (1, 2)]),
    "slot in one line": ("X1.0Y2.0G85X4.0Y2.0", [(1, 2, 4, 2)]),
    "slot to a modal end": ("X1.0Y2.0G85X4.0", [(1, 2, 4, 2)]),
    "hole after a slot": ("X1Y2G85X4Y2\nX6", [(1, 2, 4, 2), (6, 2)]),
    "route": ("G00X1Y2\nM15\nG01X4Y2\nM16\nG05\nX9Y9", [(1, 2, 4, 2), (9, 9)]),
    "route with a corner": ("G00X1Y2\nM15\nG01X4Y2\nG01X4Y6\nM17\nG05", [(1, 2, 4, 2, 4, 6)]),
    "two routes": ("G00X0Y0\nM15\nG01X1\nM16\nG00X5Y5\nM15\nG01X6\nM16", [(0, 0, 1, 0), (5, 5, 6, 5)]),
    "move with the cutter up cuts nothing": ("G00X0Y0\nG01X5Y5\nG05\nX1Y1", [(1, 1)]),
    "cutter left down": ("G00X0Y0\nM15\nG01X5Y0", [(0, 0, 5, 0)]),
    "repeat": ("X1Y1\nR3X2", [(1, 1), (3, 1), (5, 1), (7, 1)]),
    "drill mode by G81": ("G81\nX1Y1", [(1, 1)]),
    "what cutters heed and holes do not": ("G40\nM97\nX1Y1", [(1, 1)]),
}


def pointed(body: str) -> str:
    """Coordinates with a decimal point."""
    return re.sub(r"([XY])(-?\d+)(?![\d.])", r"\1\2.0", body)


@pytest.mark.parametrize("name", BODIES)
def test_bodies(name: str) -> None:
    body, wanted = BODIES[name]
    found = read(program(pointed(body)))
    assert places(found) == wanted
    assert found.remarks == ()


def test_incremental_by_the_header() -> None:
    assert places(read(program("X1.0Y1.0\nX1.0Y1.0", head="ICI,ON\n"))) == [(1, 1), (2, 2)]


@pytest.mark.parametrize(
    "move",
    ["G03X-1.0Y0I-1.0J0", "G03X-1.0Y0A1.0"],
    ids=["centre", "radius"],
)
def test_routed_arcs(move: str) -> None:
    """Half a circle of radius 1 about the origin, over the top."""
    (hit,) = read(program(f"G00X1.0Y0\nM15\n{move}\nM16")).hits
    assert all(hypot(*point) == pytest.approx(1, abs=1e-6) for point in hit.points)
    assert max(y for _, y in hit.points) == pytest.approx(1, abs=0.01)
    assert min(y for _, y in hit.points) >= -1e-9


def test_a_quarter_by_its_radius_clockwise() -> None:
    (hit,) = read(program("G00X0Y0\nM15\nG02X1.0Y1.0A1.0\nM16")).hits  # about 1, 0
    assert all(hypot(x - 1, y) == pytest.approx(1, abs=1e-6) for x, y in hit.points)
    assert any(hypot(x - (1 - sqrt(0.5)), y - sqrt(0.5)) < 0.05 for x, y in hit.points)


def test_a_full_circle_routed() -> None:
    (hit,) = read(program("G00X1.0Y0\nM15\nG02X1.0Y0I-1.0J0\nM16")).hits
    assert min(x for x, _ in hit.points) == pytest.approx(-1, abs=0.01)


def test_tools_with_feeds_and_leading_zeros() -> None:
    found = read("M48\nMETRIC\nT01F200S65C0.3\nT2C0.8F10\n%\nT1\nX0Y0\nT02\nX1Y0\nT001\nX2Y0\nM30\n")
    assert [hit.diameter for hit in found.hits] == [0.3, 0.8, 0.3]


@pytest.mark.parametrize(
    ("function", "plated", "span"),
    [
        ("Plated,1,4,PTH", True, (1, 4)),
        ("NonPlated,1,2,NPTH", False, (1, 2)),
        ("Plated,2,1,Blind,Drill", True, (1, 2)),
        ("MixedPlating,1,2", None, (1, 2)),
        ("", None, None),
    ],
)
def test_plating_of_the_file(function: str, plated: object, span: object) -> None:
    found = read(program("X1Y1", head=f"; #@! TF.FileFunction,{function}\n" if function else ""))
    assert (found.plated, found.span) == (plated, span)
    assert found.attributes == ({".FileFunction": tuple(function.split(","))} if function else {})


def test_plating_by_tool() -> None:
    tools = (
        "; #@! TA.AperFunction,Plated,PTH,ViaDrill\nT1C0.3\n; #@! TA.AperFunction,NonPlated,NPTH,ComponentDrill\nT2C3\n"
        "; #@! TD\nT3C1\n;TYPE=NON_PLATED\nT4C2\n;TYPE=PLATED\nT5C2\n"
    )
    found = read(program("X1Y1\nT2\nX2Y2\nT3\nX3Y3\nT4\nX4Y4\nT5\nX5Y5", tools=tools))
    assert [hit.plated for hit in found.hits] == [True, False, None, False, True]


@pytest.mark.parametrize(
    ("name", "plated"),
    [
        ("board-PTH.drl", True),
        ("board-NPTH.drl", False),
        ("drill/board_npth.drl", False),
        ("board.non-plated.drl", False),
        ("NonPlated holes.xln", False),
        ("plated.drl", True),
        ("board.drl", None),
        ("PTH and NPTH.drl", None),
        ("depth.drl", None),
        ("unplated-depth.drl", None),
    ],
)
def test_plating_by_name(name: str, plated: object) -> None:
    """Names that layout editors give, common practice, no source; anything else says nothing."""
    assert named_plated(name) is plated
    assert read(program("X1Y1"), name).plated is plated
    said = read(program("X1Y1", head="; #@! TF.FileFunction,MixedPlating,1,2\n"), name)
    assert said.plated is None  # what the file says itself stands


def test_holes_of_a_gerber_file() -> None:
    """Drill data as a Gerber layer: flashes are holes, strokes are slots."""
    text = (
        "%TF.FileFunction,Plated,1,2,PTH*%%FSLAX46Y46*%%MOMM*%%TA.AperFunction,ComponentDrill*%%ADD10C,0.8*%%TD*%"
        "%ADD11R,1X1*%D10*X1000000Y2000000D03*X3000000Y0D02*G01*X5000000D01*D11*X9D03*M02*"
    )
    found = drill_of(read_gerber("board-PTH-drl.gbr", text.encode()))
    assert found.hits == (Hit(((1, 2),), 0.8, True), Hit(((3, 0), (5, 0)), 0.8, True))
    assert (found.plated, found.span, found.unit, found.is_complete) == (True, (1, 2), "mm", True)
    assert found.hits[1].at == (4, 0)


REFUSED = {
    "tool without size": ("M48\nMETRIC\nT1C0.6\n%\nT7\nX1Y1\nM30", "line 5: tool T7 has no size"),
    "hole without tool": ("M48\nMETRIC\n%\nX1Y1\nM30", "line 4: a hole before a tool is chosen"),
    "hole after the tool was put away": ("M48\nMETRIC\nT1C1\n%\nT1\nX1Y1\nT0\nX2Y2\nM30", "line 8: a hole before"),
    "number of two points": ("M48\nMETRIC\nT1C1\n%\nT1\nX1.2.3Y1\nM30", "line 6: could not convert"),
    "size of two points": ("M48\nMETRIC\nT1C1.2.3\n%\nM30", "line 3: could not convert"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_what_is_refused_says_the_line(name: str) -> None:
    text, reason = REFUSED[name]
    with pytest.raises(InputError) as caught:
        read(text)
    message = str(caught.value)
    assert message.startswith("board.drl: ")
    assert reason in message
    assert "\n" not in message


def test_more_holes_than_any_board_has(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(drill, "HITS_MAX", 1000)
    assert len(read(program("X0Y0\nR999X0.1")).hits) == 1000
    with pytest.raises(InputError, match="line 8: more holes than any board has"):
        read(program("X0Y0\nR99999X0.1"))


def test_what_is_odd_is_remarked() -> None:
    assert read(program("M25\nX1Y1")).remarks == ("M25 is not read",)
    assert read("M48\nT1C1\n%\nT1\nX1Y1\nM30\n").remarks == ("the file does not say its unit; taken as mm",)
    assert read("M48\nMETRIC\nINCH\nM30\n").remarks == ("the unit changes within the file",)
    assert not read("M48\nMETRIC\nT1C1\n%\nT1\nX1Y1\n").is_complete


@pytest.mark.parametrize(
    ("head", "is_one"),
    [
        ("M48\nMETRIC", True),
        ("; DRILL file\n; more\nM48\n", True),
        ("%\nM48\n", True),
        ("(comment)\nM48", True),
        ("%FSLAX46Y46*%", False),
        ("Ref,x,y\nM48,1,2", False),
        ("", False),
    ],
)
def test_telling_a_drill_file_from_others(head: str, is_one: bool) -> None:
    assert looks_like_drill(head) is is_one
