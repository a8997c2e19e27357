# SPDX-License-Identifier: MIT
"""3D models: how tall they make a part, and what cannot be told of them. The files are our own."""

from __future__ import annotations

import dataclasses
import time
from pathlib import Path

import numpy as np
import pytest

from build import board, chip
from lineworthy.beside import Beside
from lineworthy.intake import models
from lineworthy.intake.models import measured, placed, step_points, vrml_points
from lineworthy.knowledge.packages import HeightOrigin, Packages
from lineworthy.model import Model
from lineworthy.project import Project

BOX = """#VRML V2.0 utf8
Shape { geometry IndexedFaceSet { coord Coordinate { point [ 0 0 0, 1 0 0, 0 2 0, 0 0 %s ] } coordIndex [ 0,2,1,-1 ] } }
"""
HEAD = "ISO-10303-21;\nHEADER;\nENDSEC;\nDATA;\n#1=(LENGTH_UNIT()NAMED_UNIT(*)SI_UNIT(.MILLI.,.METRE.));\n"


def step(*entities: str, head: str = HEAD) -> bytes:
    lines = [f"#{n}={entity};" for n, entity in enumerate(entities, 10)]
    return (head + "\n".join(lines) + "\nENDSEC;\nEND-ISO-10303-21;\n").encode()


def corner(x: float, y: float, z: float, n: int) -> tuple[str, str]:
    return f"CARTESIAN_POINT('',({x},{y},{z}))", f"VERTEX_POINT('',#{n})"


CORNERS = (*corner(-1.0, -0.5, 0.0, 10), *corner(1.0, 0.5, 0.45, 12))


def test_corners_of_a_step_file_are_its_extent_and_other_points_are_not() -> None:
    points = step_points(step(*CORNERS, "CARTESIAN_POINT('axis',(0.,0.,5000.))"))
    assert points is not None
    assert points.max(axis=0) == pytest.approx([1.0, 0.5, 0.45])


def test_a_lying_cylinder_reaches_as_high_as_its_round_edge() -> None:
    """Axial resistor of 2.5 mm diameter along x, its edge a full circle with one corner half way up."""
    points = step_points(
        step(
            "CARTESIAN_POINT('',(3.15,1.25,1.25))",
            "VERTEX_POINT('',#10)",
            "CARTESIAN_POINT('',(3.15,0.,1.25))",
            "DIRECTION('',(1.,0.,0.))",
            "DIRECTION('',(0.,1.,0.))",
            "AXIS2_PLACEMENT3D('',#12,#13,#14)",
            "CIRCLE('',#15,1.25)",
            "EDGE_CURVE('',#11,#11,#16,.T.)",
            "AXIS2_PLACEMENT2D('',#19,#20)",  # a circle on a surface, as editors of solids write beside each edge
            "CIRCLE('',#18,99.0)",
        )
    )
    assert points is not None
    assert points[:, 2].max() == pytest.approx(2.5)
    assert points[:, 2].min() == pytest.approx(0.0)
    assert points[:, 0].max() == pytest.approx(3.15)


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"ISO-10303-21;",
        b"\x00" * 100,
        step(*CORNERS, head=HEAD.replace(".MILLI.", "$")),
        step(*CORNERS, "CONVERSION_BASED_UNIT('INCH',#3)"),
        step("VERTEX_POINT('',#99)"),
        step("CARTESIAN_POINT('',(1.2.3,0,0))", "VERTEX_POINT('',#10)"),
        step(
            *CORNERS,
            "AXIS2_PLACEMENT3D('',#10,$,$)",
            "AXIS2_PLACEMENT3D('',#12,$,$)",
            "ITEM_DEFINED_TRANSFORMATION('','',#14,#15)",
        ),
    ],
    ids=["empty", "no data", "zeros", "metres", "inches", "no such point", "no number", "pieces moved"],
)
def test_a_step_file_that_nobody_can_be_sure_of_tells_nothing(data: bytes) -> None:
    assert step_points(data) is None


def test_vrml_is_in_tenths_of_an_inch_and_all_its_points_count() -> None:
    points = vrml_points((BOX % 3).encode())
    assert points is not None
    assert points.max(axis=0) == pytest.approx([2.54, 5.08, 7.62])


@pytest.mark.parametrize(
    ("more", "told"),
    [
        ("translation 0 0 0", True),
        ("scale 1 1 1", True),
        ("rotation 0 0 1 0", True),
        ("translation 0 0 1", False),
        ("scale 0.39 0.39 0.39", False),
        ("rotation 1 0 0 1.57", False),
        ("point [ 1 2 three ]", False),
        ("translation 0 0 1.2.3", False),
        ("point [ 1 2 ]", False),
    ],
)
def test_vrml_that_moves_its_points_or_is_broken_tells_nothing(more: str, told: bool) -> None:
    assert (vrml_points((BOX % 3 + more).encode()) is not None) is told


def test_quarter_turns_place_a_model_as_expected() -> None:
    """Clockwise when the axis points at the eye: a quarter turn about x lays z on y, one about z lays y on x."""
    up = np.array([[0.0, 0.0, 1.0]])
    assert placed(up, Model("", rotation=(90, 0, 0)))[0] == pytest.approx([0, 1, 0])
    assert placed(np.array([[0.0, 1.0, 0.0]]), Model("", rotation=(0, 0, 90)))[0] == pytest.approx([1, 0, 0])
    assert placed(up, Model("", scale=(1, 1, 2), offset=(1, 2, 3)))[0] == pytest.approx([1, 2, 5])


@pytest.fixture
def folders(tmp_path: Path) -> tuple[Path, Path]:
    library, own = tmp_path / "library", tmp_path / "board"
    (library / "R.3dshapes").mkdir(parents=True)
    own.mkdir()
    (library / "R.3dshapes" / "R_0603.step").write_bytes(step(*CORNERS))
    (own / "tall.wrl").write_text(BOX % 3, encoding="ascii")
    (tmp_path / "secret.wrl").write_text(BOX % 3, encoding="ascii")
    return library, own


def height(folders: tuple[Path, Path], *given: Model) -> object:
    (part,) = measured(board(parts=(chip("R1", models=given),)), *folders).parts
    return part.model_height


@pytest.mark.parametrize(
    ("path", "expected"),
    [
        ("${KICAD9_3DMODEL_DIR}/R.3dshapes/R_0603.step", 0.45),
        ("${KICAD9_3DMODEL_DIR}/R.3dshapes/R_0603.wrl", 0.45),  # only the other kind is there
        ("$(KISYS3DMOD)/R.3dshapes/R_0603.stp", 0.45),
        (":OURS:R.3dshapes/R_0603.step", 0.45),
        ("${KIPRJMOD}/tall.wrl", 7.62),
        ("tall.wrl", 7.62),
        ("${KIPRJMOD}\\tall.wrl", 7.62),
        ("${KIPRJMOD}/missing.wrl", None),
        ("${KIPRJMOD}/../secret.wrl", None),
        ("/etc/passwd", None),
        ("/dev/zero.wrl", None),
        ("${KIPRJMOD}", None),
        ("", None),
        ("\0.wrl", None),
        ("x" * 5000 + ".wrl", None),
        ("tall.txt", None),
    ],
)
def test_models_are_looked_for_in_two_folders_and_nowhere_else(folders, path: str, expected) -> None:
    assert height(folders, Model(path)) == (None if expected is None else pytest.approx(expected))


def test_a_link_out_of_the_folders_is_not_followed(folders, tmp_path: Path) -> None:
    (folders[1] / "link.wrl").symlink_to(tmp_path / "secret.wrl")
    assert height(folders, Model("link.wrl")) is None


def test_the_highest_of_several_models_counts_unless_one_is_missing(folders) -> None:
    low, tall = Model("${X}/R.3dshapes/R_0603.step"), Model("tall.wrl")
    assert height(folders, low, tall) == pytest.approx(7.62)
    assert height(folders, low, dataclasses.replace(tall, hidden=True)) == pytest.approx(0.45)
    assert height(folders, low, Model("missing.step")) is None
    assert height(folders) is None
    assert height(folders, dataclasses.replace(tall, offset=(0, 0, 1.5))) == pytest.approx(9.12)
    assert height(folders, dataclasses.replace(tall, offset=(0, 0, 500.0))) is None
    assert height(folders, dataclasses.replace(tall, rotation=(-90, 0, 0))) == pytest.approx(5.08)


def test_large_files_are_left_alone(folders, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(models, "FILE_BYTES_MAX", 50)
    assert height(folders, Model("tall.wrl")) is None


@pytest.mark.parametrize(
    "data",
    [
        step("CARTESIAN_POINT('" * 200_000),
        step("#" * 1_000_000),
        step("#1=CARTESIAN_POINT(" + " " * 1_000_000),
        step("EDGE_CURVE('',#1," * 200_000),
        b"point [" * 300_000,
        b"scale " + b"1 " * 1_000_000,
    ],
)
def test_hostile_files_take_no_time(data: bytes) -> None:
    start = time.perf_counter()
    step_points(data)
    vrml_points(data)
    assert time.perf_counter() - start < 5.0


def test_a_models_height_comes_after_names_and_before_the_table(folders) -> None:
    model = (Model("tall.wrl"),)
    parts = (
        chip("R1", package="R_0603_1608Metric", models=model),
        chip("R2", package="RESC1608X55N", models=model),
        chip("R3", package="R_0603_1608Metric", models=model, fields={"Height": "2 mm"}),
        chip("R4", package="R_0603_1608Metric"),
    )
    known = board(parts=parts)
    silent = Beside(project=Project())
    assert silent.measured(known) is known
    seen = Beside(project=Project(source=str(folders[1] / "b.lineworthy.toml"), models=folders[0])).measured(known)
    facts = [Packages(seen).of(part) for part in seen.parts]
    assert [(fact.height, fact.height_origin) for fact in facts] == [
        (pytest.approx(7.62), HeightOrigin.MODEL),
        (pytest.approx(0.55), HeightOrigin.NAME_CODE),
        (pytest.approx(2.0), HeightOrigin.FIELD),
        (pytest.approx(0.55), HeightOrigin.TABLE),
    ]
