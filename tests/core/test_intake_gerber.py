# SPDX-License-Identifier: MIT
"""Gerber files: geometry by areas worked out by hand, attributes, the specification's examples, and what is refused.

Areas of single shapes are plain geometry. The rules they show (what a withdrawn mode means, in which order an aperture
is mirrored, turned and scaled) are those of the Gerber layer format specification (Ucamco), from memory.
"""

from __future__ import annotations

import hashlib
from math import asin, cos, pi, sin, sqrt

import pytest
import shapely
from shapely import LineString, Point, Polygon, box

from lineworthy.errors import InputError
from lineworthy.intake.gerber import GerberFile, looks_like_gerber, read_gerber
from lineworthy.intake.plotnames import layer_of

MM = "%FSLAX46Y46*%\n%MOMM*%\n"
INCH = "%FSLAX25Y25*%\n%MOIN*%\n"
END = "M02*\n"


def read(text: str) -> GerberFile:
    return read_gerber("sample.gbr", text.encode())


def strip(width: float, radius: float) -> float:
    """Area of a strip of this width through the middle of a disc, one half of its length."""
    half = width / 2
    return half * sqrt(radius**2 - half**2) + radius**2 * asin(half / radius)


SQUARE = "X0Y0D02*G01*X2000000D01*Y2000000D01*X0D01*Y0D01*"
AREAS = {
    "circle": (MM + "%ADD10C,2*%D10*X0Y0D03*", pi),
    "circle with a hole": (MM + "%ADD10C,4X2*%D10*X0Y0D03*", 3 * pi),
    "a hole covers nothing": (MM + "%ADD10C,4X2*%%ADD11C,3*%D11*X0Y0D03*D10*X0Y0D03*", 4 * pi),
    "rectangle": (MM + "%ADD10R,2X3*%D10*X0Y0D03*", 6),
    "obround": (MM + "%ADD10O,2X5*%D10*X0Y0D03*", pi + 2 * 3),
    "polygon": (MM + "%ADD10P,2X6X15*%D10*X0Y0D03*", 6 * sqrt(3) / 4),
    "polygon with a hole": (MM + "%ADD10P,2X4X0X1*%D10*X0Y0D03*", 2 - pi / 4),
    "stroke": (MM + "%ADD10C,1*%D10*X0Y0D02*G01*X5000000D01*", 5 + pi / 4),
    "stroke of no length": (MM + "%ADD10C,1*%D10*X0Y0D02*G01*X0Y0D01*", pi / 4),
    "stroke with a square": (MM + "%ADD10R,1X1*%D10*X0Y0D02*G01*X5000000D01*", 6),
    "stroke with a square, aslant": (MM + "%ADD10R,1X1*%D10*X0Y0D02*G01*X3000000Y3000000D01*", 1 + 2 * 3),
    "pen of no width": (MM + "%ADD10C,0*%D10*X0Y0D02*G01*X5000000D01*", 0),
    "quarter arc": (MM + "%ADD10C,0.1*%D10*G75*X1000000Y0D02*G03*X0Y1000000I-1000000J0D01*", pi * 0.05 + pi * 0.0025),
    "arc the long way": (
        MM + "%ADD10C,0.1*%D10*G75*X1000000Y0D02*G02*X0Y1000000I-1000000J0D01*",
        3 * pi * 0.05 + pi * 0.0025,
    ),
    "full circle": (MM + "%ADD10C,0.1*%D10*G75*X1000000Y0D02*G03*X1000000Y0I-1000000J0D01*", 2 * pi * 0.1),
    "single-quadrant arc": (
        MM + "%ADD10C,0.1*%D10*G74*X1000000Y0D02*G03*X0Y1000000I1000000J0D01*",
        pi * 0.05 + pi * 0.0025,
    ),
    "single-quadrant arc without way": (MM + "%ADD10C,1*%D10*G74*X0Y0D02*G03*X0Y0I1000000J0D01*", pi / 4),
    "region": (MM + "G36*" + SQUARE + "G37*", 4),
    "region with arcs": (MM + "G75*G36*X1000000Y0D02*G03*X1000000Y0I-1000000J0D01*G37*", pi),
    "two contours in one region": (
        MM + "G36*" + SQUARE + "X3000000Y0D02*G01*X4000000D01*Y1000000D01*X3000000D01*Y0D01*G37*",
        5,
    ),
    "contours that overlap": (MM + "G36*" + SQUARE + SQUARE.replace("X0Y0D02", "X0Y0D02") + "G37*", 4),
    "region with a hole by a cut": (
        MM + "G36*X0Y0D02*G01*X10000000D01*Y10000000D01*X0D01*Y5000000D01*X2000000D01*Y8000000D01*X8000000D01*"
        "Y2000000D01*X2000000D01*Y5000000D01*X0D01*Y0D01*G37*",
        64,
    ),
    "clear": (MM + "%ADD10R,4X4*%%ADD11C,2*%D10*X0Y0D03*%LPC*%D11*X0Y0D03*", 16 - pi),
    "dark again on clear": (MM + "%ADD10R,4X4*%%ADD11R,2X2*%D10*X0Y0D03*%LPC*%X0D03*%LPD*%D11*X0Y0D03*", 4),
    "clear region": (MM + "%ADD10R,8X8*%D10*X0Y0D03*%LPC*%G36*" + SQUARE + "G37*", 60),
    "turned": (MM + "%ADD10R,2X1*%%LR45*%D10*X0Y0D03*", 2),
    "scaled": (MM + "%ADD10R,2X1*%%LS2*%D10*X0Y0D03*", 8),
    "scaled stroke": (MM + "%ADD10C,0.5*%%LS2*%D10*X0Y0D02*G01*X5000000D01*", 5 + pi / 4),
    "repeats": (MM + "%ADD10R,1X1*%%SRX3Y2I2J3*%D10*X0Y0D03*%SR*%X20000000D03*", 7),
    "repeats that touch": (MM + "%ADD10R,1X1*%%SRX3Y1I0.5J0*%D10*X0Y0D03*%SR*%", 2),
    "repeat left open": (MM + "%ADD10R,1X1*%%SRX3Y2I2J3*%D10*X0Y0D03*", 6),
    "repeat after repeat": (MM + "%ADD10R,1X1*%D10*%SRX2Y1I2J0*%X0Y0D03*%SRX1Y3I0J2*%X9000000Y0D03*%SR*%", 5),
    "clear within a repeat": (MM + "%ADD10R,2X2*%%ADD11R,1X1*%%SRX2Y1I5J0*%D10*X0Y0D03*%LPC*%D11*X0D03*%LPD*%%SR*%", 6),
    "block": (MM + "%ADD10R,1X1*%%ABD12*%D10*X0Y0D03*X2000000D03*%AB*%D12*X0Y0D03*Y5000000D03*", 4),
    "block in a block": (
        MM + "%ADD10R,1X1*%%ABD12*%%ABD13*%D10*X0Y0D03*%AB*%D13*X0D03*X2000000D03*%AB*%D12*X0Y0D03*Y9000000D03*",
        4,
    ),
    "block flashed clear": (
        MM + "%ADD10R,1X1*%%ADD11R,9X9*%%ABD12*%D10*X0Y0D03*X2000000D03*%AB*%D11*X0Y0D03*%LPC*%D12*X0Y0D03*",
        79,
    ),
    "block of a hole, turned about": (
        MM + "%ADD10R,4X4*%%ADD11R,1X1*%%ABD12*%D10*X0Y0D03*%LPC*%D11*X0D03*%LPD*%%AB*%%LR30*%D12*X0Y0D03*",
        15,
    ),
    "inches": (INCH + "%ADD10C,0.1*%D10*X0Y0D03*", pi / 4 * 2.54**2),
    "inches by G70": ("%FSLAX25Y25*%G70*%ADD10C,0.1*%D10*X0Y0D03*", pi / 4 * 2.54**2),
    "mm by G71": ("%FSLAX46Y46*%G71*%ADD10C,2*%D10*X0Y0D03*", pi),
    "trailing zeros left out": ("%FSTAX24Y24*%%MOIN*%%ADD10R,0.1X0.1*%D10*X0Y0D02*G01*X01Y0D01*", 25.4**2 * 0.11),
    "from point to point": ("%FSLIX46Y46*%%MOMM*%%ADD10R,1X1*%D10*X2000000Y0D03*X2000000Y0D03*X200000D03*", 2.2),
    "from point to point by G91": (MM + "%ADD10R,1X1*%G91*D10*X2000000Y0D03*X2000000D03*G90*X2000000D03*", 2),
    "operation carried over": (MM + "%ADD10R,1X1*%G54D10*G55X0Y0D03*X2000000*Y2000000*", 3),
    "stroke carried over": (MM + "%ADD10R,1X1*%D10*X0Y0D02*G01*X2000000D01*Y2000000*", 5),
    "several codes in a word": ("%FSLAX46Y46*%%MOMM*%%ADD10R,1X1*%G90G71*G01G75X0Y0D02*G54D10*G01X2000000Y0D01*", 3),
    "neutral withdrawn commands": (
        "%IPPOS*%%OFA0.0000B0.0000*%%MIA0B0*%%SFA1.00000B1.00000*%%IR0*%%ASAXBY*%%LNtop*%%INboard*%"
        + MM
        + "%ADD10R,1X1*%D10*X0Y0D03*",
        1,
    ),
    "several commands between two percent signs": ("%FSLAX46Y46*MOMM*ADD10R,1X1*%D10*X0Y0D03*", 1),
}
"""Stream without its end -> area in mm2."""

MACROS = {
    "circle": ("1,1,2,5,5", pi),
    "circle turned about the origin": ("1,1,2,5,0,90", pi),
    "vector line": ("20,1,0.5,0,0,4,3,0", 2.5),
    "vector line, its old code": ("2,1,0.5,0,0,4,3,0", 2.5),
    "centre line": ("21,1,3,2,1,1,30", 6),
    "line by its corner, withdrawn": ("22,1,3,2,0,0,10", 6),
    "outline": ("4,1,3,0,0,2,0,0,1,0,0,0", 1),
    "polygon": ("5,1,8,0,0,2,22.5", 2 * sqrt(2)),
    "thermal": ("7,0,0,0.8,0.55,0.125,45", pi / 4 * (0.8**2 - 0.55**2) - 4 * (strip(0.125, 0.4) - strip(0.125, 0.275))),
    "moire, no hair": ("6,0,0,4,0.3,0.3,3,0,0,0", pi / 4 * (16 - 3.4**2 + 2.8**2 - 2.2**2 + 1.6**2 - 1)),
    "clear in a macro": ("1,1,4,0,0*1,0,2,0,0", 3 * pi),
    "dark after clear": ("1,1,4,0,0*1,0,2,0,0*1,1,1,0,0", 3.25 * pi),
    "comment": ("0 a comment, with $1*21,1,1,1,0,0,0", 1),
    "variables": ("$4=$1x0.75*$5=($2+$3)/2*21,1,$4,$5,0,0,0", 1.5),
    "signs and order": ("21,1,-1+$1x2-1,-(1-$2)+1/2,0,0,0", 2 * 0.5),
    "unset variable is zero": ("21,1,2+$9,1,0,0,0", 2),
}
"""Body of a macro that is called with 2, 1 and 1 -> area in mm2."""


@pytest.mark.parametrize("name", AREAS)
def test_areas(name: str) -> None:
    text, area = AREAS[name]
    assert read(text + END).area.area == pytest.approx(area, rel=0.002, abs=1e-9)


@pytest.mark.parametrize("name", MACROS)
def test_areas_of_macros(name: str) -> None:
    body, area = MACROS[name]
    for unit, factor in ((MM, 1.0), (INCH, 25.4**2)):
        found = read(f"{unit}%AMT*\n{body}*%\n%ADD10T,2X1X1*%\nD10*X0Y0D03*{END}")
        assert found.area.area == pytest.approx(area * factor, rel=0.002)


@pytest.mark.parametrize("line_end", ["", "\n", "\r\n", "\r"])
def test_line_ends_mean_nothing(line_end: str) -> None:
    text = (MM + "%ADD10R,2X1*%D10*X0Y0D02*G01*X2000000D01*" + END).replace("\n", "").replace("*", "*" + line_end)
    assert read(text).area.area == pytest.approx(4)


def test_aperture_is_mirrored_then_turned_then_put_down() -> None:
    corner = "%AMT*4,1,3,0,0,2,0,0,1,0,0,0*%%ADD10T*%D10*"  # a triangle in the first quadrant
    mirrored = read(MM + corner + "%LMX*%X5000000Y5000000D03*" + END)
    assert mirrored.area.equals(Polygon([(5, 5), (3, 5), (5, 6)]))
    both = read(MM + corner + "%LMX*%%LR90*%X0Y0D03*" + END).area  # to the left, then a quarter turn: downwards
    assert shapely.symmetric_difference(both, Polygon([(0, 0), (0, -2), (-1, 0)])).area == pytest.approx(0, abs=1e-9)


def test_inches_and_mm_are_the_same_board() -> None:
    inch = read(INCH + "%ADD10C,0.05*%D10*X100000Y0D02*G01*X200000Y100000D01*" + END)
    mm = read(MM + "%ADD10C,1.27*%D10*X25400000Y0D02*G01*X50800000Y25400000D01*" + END)
    assert (inch.unit, mm.unit) == ("inch", "mm")
    assert shapely.symmetric_difference(inch.area, mm.area).area == pytest.approx(0, abs=1e-6)


def test_leading_zeros_may_be_there() -> None:
    assert read(MM + "%ADD10R,1X1*%D10*X0002000000Y-0003000000D03*" + END).area.bounds == (1.5, -3.5, 2.5, -2.5)


# the specification's own examples


TWO_BOXES = """G04 Ucamco ex. 1: Two square boxes*
%FSLAX26Y26*%
%MOMM*%
%TF.Part,Other,example*%
%LPD*%
%ADD10C,0.010*%
D10*
X0Y0D02*
G01*
X5000000Y0D01*
Y5000000D01*
X0D01*
Y0D01*
X6000000D02*
X11000000D01*
Y5000000D01*
X6000000D01*
Y0D01*
M02*
"""


def test_example_of_two_square_boxes() -> None:
    """Gerber layer format specification, example 1 (from memory)."""
    found = read(TWO_BOXES)
    outline = shapely.union_all([box(0, 0, 5, 5).exterior, box(6, 0, 11, 5).exterior]).buffer(0.005)
    assert shapely.symmetric_difference(found.area, outline).area < 1e-4
    assert found.enclosed.area == pytest.approx(50)
    assert found.attributes == {".Part": ("Other", "example")}
    assert len(found.drawn) == 8
    assert found.is_complete
    assert found.remarks == ()


SHAPES = """G04 Ucamco ex. 2: Shapes*
%MOMM*%
%FSLAX36Y36*%
%TF.FileFunction,Other,Sample*%
%AMTHERMAL80*
7,0,0,0.800,0.550,0.125,45*%
%ADD10C,0.1*%
%ADD11C,0.6*%
%ADD12R,0.6X0.6*%
%ADD13R,0.4X1.00*%
%ADD14R,1.00X0.4*%
%ADD15O,0.4X01.00*%
%ADD16P,1.00X3*%
%ADD19THERMAL80*%
D10*
X0Y2500000D02*
G01*
X0Y0D01*
X2500000Y0D01*
X10000000Y10000000D02*
X15000000D01*
X20000000Y15000000D01*
X25000000D02*
Y10000000D01*
D11*
X10000000Y10000000D03*
X20000000D03*
X25000000D03*
Y15000000D03*
X20000000D03*
D12*
X10000000Y15000000D03*
D13*
X30000000Y15000000D03*
D14*
Y12500000D03*
D15*
Y10000000D03*
D10*
X37500000Y10000000D02*
G75*
G03*
X37500000Y10000000I2500000J0D01*
D16*
X34000000Y10000000D03*
X35000000Y9000000D03*
G36*
X5000000Y20000000D02*
G01*
Y37500000D01*
X37500000D01*
Y20000000D01*
X5000000D01*
G37*
%LPC*%
G36*
X10000000Y25000000D02*
Y30000000D01*
G02*
X12500000Y32500000I2500000J0D01*
G01*
X30000000D01*
G02*
X30000000Y25000000I0J-3750000D01*
G01*
X10000000D01*
G37*
%LPD*%
D10*
X15000000Y28750000D02*
X20000000D01*
D11*
X15000000Y28750000D03*
X20000000D03*
D19*
X28750000Y28750000D03*
M02*
"""


def test_example_of_shapes() -> None:
    """Gerber layer format specification, example 2: apertures, a region with a clear region in it, a thermal."""

    def around(x: float, y: float, diameter: float) -> shapely.Geometry:
        return Point(x, y).buffer(diameter / 2, quad_segs=64)

    def stroked(*points: tuple[float, float]) -> shapely.Geometry:
        return LineString(points).buffer(0.05, quad_segs=64)

    def triangle(x: float, y: float) -> Polygon:
        return Polygon([(x + 0.5, y), (x - 0.25, y + sqrt(3) / 4), (x - 0.25, y - sqrt(3) / 4)])

    opening = (
        box(10, 25, 30, 32.5)
        .difference(box(10, 30, 12.5, 32.5))
        .union(around(12.5, 30, 5).intersection(box(10, 30, 13, 33)))
    )
    opening = opening.union(around(30, 28.75, 7.5).intersection(box(30, 25, 40, 33)))
    cross = LineString([(-1, -1), (1, 1)]).buffer(0.0625).union(LineString([(-1, 1), (1, -1)]).buffer(0.0625))
    thermal = around(0, 0, 0.8).difference(around(0, 0, 0.55)).difference(cross)
    wanted = shapely.union_all(
        [
            stroked((0, 2.5), (0, 0), (2.5, 0)),
            stroked((10, 10), (15, 10), (20, 15)),
            stroked((25, 15), (25, 10)),
            *(around(x, y, 0.6) for x, y in ((10, 10), (20, 10), (25, 10), (25, 15), (20, 15))),
            box(9.7, 14.7, 10.3, 15.3),
            box(29.8, 14.5, 30.2, 15.5),
            box(29.5, 12.3, 30.5, 12.7),
            LineString([(30, 9.7), (30, 10.3)]).buffer(0.2, quad_segs=64),
            around(40, 10, 5.1).difference(around(40, 10, 4.9)),
            triangle(34, 10),
            triangle(35, 9),
            box(5, 20, 37.5, 37.5).difference(opening),
            stroked((15, 28.75), (20, 28.75)),
            around(15, 28.75, 0.6),
            around(20, 28.75, 0.6),
            shapely.affinity.translate(thermal, 28.75, 28.75),
        ]
    )
    found = read(SHAPES)
    assert found.area.area == pytest.approx(wanted.area, rel=1e-3)
    assert shapely.hausdorff_distance(found.area.boundary, wanted.boundary) < 0.02
    assert shapely.symmetric_difference(found.area, wanted).area < 2e-3 * wanted.area
    assert found.attributes[".FileFunction"] == ("Other", "Sample")
    assert found.remarks == ()


# attributes


def test_project_of_the_specification() -> None:
    """`.ProjectId`, Gerber layer format specification 5.6.8 (as cited)."""
    found = read(MM + "%TF.ProjectId,My PCB,f81d4fae-7dec-11d0-a765-00a0c91e6bf6,2*%" + END)
    assert found.attributes[".ProjectId"] == ("My PCB", "f81d4fae-7dec-11d0-a765-00a0c91e6bf6", "2")


SET_OF_FOUR = {
    "Legend,Top": "top legend",
    "Soldermask,Top": "top mask",
    "Copper,L1,Top": "copper layer 1, top",
    "Copper,L2,Inr,Plane": "copper layer 2",
    "Copper,L3,Inr,Plane": "copper layer 3",
    "Copper,L4,Bot": "copper layer 4, bottom",
    "Soldermask,Bot": "bottom mask",
    "Profile,NP": "profile",
    "Paste,Top": "top paste",
    "Drillmap": "",
    "NonPlated,1,4,NPTH,Drill": "",
    "Plated,1,4,PTH": "",
}
"""Functions of the files of a four-layer board, and the layer each one is; none is the layer of a drill file or map."""


@pytest.mark.parametrize("function", SET_OF_FOUR)
def test_file_functions(function: str) -> None:
    """Functions of the specification's four-layer set (5.6.3, from memory)."""
    found = layer_of(read(MM + f"%TF.FileFunction,{function}*%" + END).attributes[".FileFunction"])
    assert (found.title if found else "") == SET_OF_FOUR[function]


def test_spellings_of_the_job_file_mean_the_same_layers() -> None:
    """The editor's job files say ``SolderMask``, the specification ``Soldermask`` (both published)."""
    assert layer_of(("SolderMask", "Top")) == layer_of(("Soldermask", "Top"))
    assert layer_of(("SolderPaste", "Bot")) == layer_of(("Paste", "Bot"))


def test_attributes_in_comments_escapes_and_deletes() -> None:
    found = read(
        "G04 #@! TF.FileFunction,Copper,L1,Top*\n%TF.Part,Other,\\u00B5C \\u002C1*%"
        + MM
        + "%TA.AperFunction,ViaPad*%%ADD10C,1*%%TD.AperFunction*%%ADD11C,1*%%TO.N,GND*%D10*X0Y0D03*%TD*%D11*X1D03*"
        + END
    )
    assert found.attributes == {".FileFunction": ("Copper", "L1", "Top"), ".Part": ("Other", "\u00b5C ,1")}
    first, second = found.drawn
    assert (first.function, first.about) == (("ViaPad",), {".N": ("GND",)})
    assert (second.function, second.about) == ((), {})


@pytest.mark.parametrize("line_end", ["\n", "\r\n"])
@pytest.mark.parametrize("end", [END, ""])
def test_checksum_ignores_line_ends_and_the_end_of_the_file(line_end: str, end: str) -> None:
    """`.MD5`, Gerber layer format specification 5.6 (as cited): line ends and M02 do not count."""
    text = MM + "%ADD10C,1*%\nD10*\nX0Y0D03*\n"
    digest = hashlib.md5(text.replace("\n", "").encode()).hexdigest()
    whole = (text + f"%TF.MD5,{digest}*%\n" + end).replace("\n", line_end)
    assert read(whole).is_unaltered is True
    assert read(whole.replace("D03", "D02", 1)).is_unaltered is False
    assert read(text + END).is_unaltered is None


# what is not read


REFUSED = {
    "nothing": ("", "says no coordinate format"),
    "another text": ("<html><body>not found</body></html>", "says no coordinate format"),
    "coordinates before their format": ("%MOMM*%\n%ADD10C,1*%\nD10*\nX0Y0D03*", "line 4: a coordinate comes before"),
    "bad format": ("%FSLAXY*%\n", "line 1: 'FSLAXY' is no coordinate format"),
    "different formats": ("%FSLAX24Y25*%\n", "line 1: x and y have different coordinate formats"),
    "unknown unit": ("%FSLAX46Y46*%\n%MOCM*%", "line 2: the unit is neither MM nor IN"),
    "undefined aperture": (MM + "D10*", "line 3: aperture D10 is not defined"),
    "undefined macro": (MM + "%ADD10STAR*%", "line 3: macro 'STAR' is not defined"),
    "number under ten": (MM + "%ADD9C,1*%", "line 3: 'ADD9C,1' defines no aperture"),
    "size missing": (MM + "%ADD10R,1*%", "line 3: shape R needs 2 numbers, not 1"),
    "size is no number": (MM + "%ADD10C,wide*%", "line 3: could not convert"),
    "size is endless": (MM + "%ADD10C,inf*%", "line 3: a size is no number"),
    "size is negative": (MM + "%ADD10C,-1*%", "line 3: a size is negative"),
    "two corners": (MM + "%ADD10P,1X2*%", "line 3: a polygon has 3 to 12 corners, not 2"),
    "nothing chosen": (MM + "X0Y0D03*", "line 3: something is drawn before an aperture is chosen"),
    "flash in a region": (MM + "%ADD10C,1*%D10*G36*X0Y0D03*", "line 3: a flash inside a region"),
    "no operation": (MM + "%ADD10C,1*%D10*X0Y0*", "line 3: a coordinate without an operation"),
    "unknown primitive": (MM + "%AMT*99,1,2*%\n%ADD10T*%", "line 4: primitive '99' is unknown"),
    "primitive too short": (MM + "%AMT*1,1,2*%\n%ADD10T*%", "line 4: primitive 1 needs 4 numbers, not 2"),
    "outline too short": (MM + "%AMT*4,1,3,0,0,1,1,0*%\n%ADD10T*%", "line 4: an outline does not have the points"),
    "division by zero": (MM + "%AMT*1,1,1/0,0,0*%\n%ADD10T*%", "line 4: an expression divides by zero"),
    "nested too deep": (
        MM + f"%AMT*1,1,{'(' * 99}1{')' * 99},0,0*%\n%ADD10T*%",
        "line 4: an expression ends too early",
    ),
    "bracket left open": (MM + "%AMT*1,1,(1,0,0*%\n%ADD10T*%", "line 4: a bracket is not closed"),
    "block closed twice": (MM + "%AB*%", "line 3: a block is closed that was not opened"),
    "bad repeat": (MM + "%SRX0Y2I1J1*%", "line 3: 0 x 2 repeats"),
    "endless repeat": (MM + "%SRX99999Y99999I1J1*%", "line 3: 99999 x 99999 repeats are more than any panel has"),
    "polarity": (MM + "%LPX*%", "line 3: polarity 'X' is neither dark nor clear"),
    "mirroring": (MM + "%LMZ*%", "line 3: mirroring 'Z' is unknown"),
    "scale": (MM + "%LS0*%", "line 3: LS0 is no turn or scale"),
    "negative image": ("%IPNEG*%" + MM, "line 1: the withdrawn command 'IPNEG' is not read"),
    "moved image": ("%OFA1.5B0*%" + MM, "line 1: the withdrawn command 'OFA1.5B0' is not read"),
    "scaled image": ("%SFA2B2*%" + MM, "line 1: the withdrawn command 'SFA2B2' is not read"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_what_is_refused_says_the_line(name: str) -> None:
    text, reason = REFUSED[name]
    with pytest.raises(InputError) as caught:
        read(text)
    message = str(caught.value)
    assert message.startswith("sample.gbr: ")
    assert reason in message
    assert "\n" not in message


def test_more_than_any_board_holds_is_refused() -> None:
    """Ten million discs in a file of a few lines."""
    few, many = "%SRX50Y20I2J2*%", "%SRX100Y100I200J200*%"
    text = MM + f"%ADD10C,1*%D10*%ABD11*%{few}X0Y0D03*%SR*%%AB*%D11*{many}X0Y0D03*%SR*%" + END
    with pytest.raises(InputError, match="more than any board holds"):
        read(text)


def test_a_region_that_crosses_itself_over_and_over_is_refused() -> None:
    """A star whose every step crosses nearly every other, 4 million crossings in 60 kB; one of 40 steps is drawn."""
    for steps, is_drawn in ((41, True), (4001, False)):
        turns = [2 * pi * (n * (steps // 2) % steps) / steps for n in range(steps + 1)]
        corners = "".join(f"X{cos(turn) * 1e8:.0f}Y{sin(turn) * 1e8:.0f}D01*" for turn in turns)
        text = MM + f"G36*X100000000Y0D02*{corners}G37*" + END
        if is_drawn:
            assert read(text).area.area > 1000
        else:
            with pytest.raises(InputError, match="a region crosses itself over and over"):
                read(text)


def test_what_is_not_of_the_format_is_remarked_and_passed_over() -> None:
    found = read(MM + "%ADD10R,1X1*%D10*X0Y0D03*Q99*%ZZ1*%X1.5Y2D03*" + END)
    assert found.area.area == 1
    assert len(found.remarks) == 3
    changed = read(MM + "%MOIN*%" + END)
    assert changed.remarks == ("the unit changes within the file",)


def test_a_file_that_ends_early_says_so() -> None:
    assert not read(MM + "%ADD10R,1X1*%D10*X0Y0D03*").is_complete
    assert read(MM + END + "nothing after it counts").is_complete


@pytest.mark.parametrize(
    ("head", "is_one"),
    [
        ("%FSLAX46Y46*%", True),
        ("G04 made by hand*\n%MOMM*%", True),
        ("%TF.FileFunction,Profile,NP*%", True),
        ("M48\nMETRIC\n; G04 not one*", False),
        ("Ref,Val,Package,PosX,PosY,Rot,Side", False),
        ("", False),
    ],
)
def test_telling_a_plot_from_other_files(head: str, is_one: bool) -> None:
    assert looks_like_gerber(head) is is_one
