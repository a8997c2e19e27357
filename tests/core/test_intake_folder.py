# SPDX-License-Identifier: MIT
"""The release folder: files told apart by what is in them, headers, layers by attribute, job file and name."""

from __future__ import annotations

import json
import os
import zipfile
from datetime import datetime, timedelta, timezone
from pathlib import Path
from typing import Optional, Union

import pytest

from lineworthy.intake.archive import Member
from lineworthy.intake.folder import ReleaseFolder, folder_of, read_folder
from lineworthy.intake.plotnames import LAST, layer_by_name
from lineworthy.knowledge.made import MadeLayer
from lineworthy.model import LayerKind, Side

HEAD = "%FSLAX46Y46*%\n%MOMM*%\n"
DRILL = "M48\nMETRIC\nT1C0.6\n%\nT1\nX1.0Y1.0\nM30\n"
PLACEMENT = "Ref,Val,Package,PosX,PosY,Rot,Side\nR1,10k,R_0402,1,2,0,top\n"
PARTS = "Reference,Value,Quantity,Manufacturer Part\nR1,10k,1,RC0402\n"


def plot(function: str = "", **more: str) -> str:
    said = {".FileFunction": function, **{f".{key}": value for key, value in more.items()}}
    return "".join(f"%TF{name},{value}*%\n" for name, value in said.items() if value) + HEAD + "M02*\n"


def folder(**files: Union[str, bytes]) -> ReleaseFolder:
    """A folder of these files; ``__`` in their names is a dot."""
    members = ((name.replace("__", "."), data) for name, data in files.items())
    return folder_of(
        "release", tuple(Member(name, data.encode() if isinstance(data, str) else data) for name, data in members)
    )


def test_files_are_told_apart_by_what_is_in_them() -> None:
    found = folder(
        top__txt=plot("Copper,L1,Top"),
        holes__txt=DRILL,
        plated__gbr=plot("Plated,1,2,PTH"),
        job__json=json.dumps({"Header": {}, "GeneralSpecs": {"LayerNumber": 2}}),
        places__csv=PLACEMENT,
        list__csv=PARTS,
        assembly__pdf="%PDF-1.7",
        board__step=b"ISO-10303-21;",
        README__txt="Build it well.",
    )
    assert [p.name for p in found.plots] == ["top.txt"]
    assert sorted(d.name for d in found.drills) == ["holes.txt", "plated.gbr"]
    assert [job.layers for job in found.jobs] == [2]
    assert [file.name for file in found.placements] == ["places.csv"]
    assert [parts.source for parts in found.parts_lists] == ["list.csv"]
    assert (found.drawings, found.unread) == (("assembly.pdf",), ())
    assert found.others == ("board.step", "README.txt")
    assert len(found.file_names) == 9


BROKEN = {
    "plot__gtl": (b"", "is empty"),
    "mask__gts": (b"<html>", "begins neither as a plot nor as a drill file"),
    "cut__gbr": ((HEAD + "%ADD10C,x*%").encode(), "line 3: could not convert"),
    "holes__drl": (b"M48\nMETRIC\n%\nX1Y1\nM30", "line 4: a hole before a tool is chosen"),
    "job__gbrjob": (b"{", "line 1: is no complete JSON document"),
    "pos__csv": (b"a,b\n1,2\n", ""),
    "bom__csv": (b"a,b\n1,2\n", ""),
}


@pytest.mark.parametrize("name", BROKEN)
def test_what_cannot_be_read_is_named_and_the_rest_is_read(name: str) -> None:
    data, reason = BROKEN[name]
    found = folder(**{name: data, "top__gtl": plot("Copper,L1,Top")})
    assert [file.name for file in found.unread] == [name.replace("__", ".")]
    assert reason in found.unread[0].reason
    assert [p.name for p in found.plots] == ["top.gtl"]


def test_a_table_that_says_neither_in_name_nor_in_header_is_let_be() -> None:
    assert folder(prices__csv="a,b\n1,2\n").others == ("prices.csv",)


def test_a_layer_comes_from_the_attribute_then_the_job_file_then_the_name() -> None:
    job = json.dumps(
        {"Header": {"CreationDate": ""}, "FilesAttributes": [{"Path": "x.gbr", "FileFunction": "Paste,Top"}]}
    )
    said = folder(x__gbr=plot("Copper,L1,Top"), job__gbrjob=job).plots[0]
    listed = folder(x__gbr=plot(), job__gbrjob=job).plots[0]
    named = folder(**{"board-B_Mask__gbr": plot(), "job__gbrjob": job}).plots[0]
    unknown = folder(x__gbr=plot()).plots[0]
    assert said.layer == MadeLayer(LayerKind.COPPER, Side.TOP, 1)
    assert listed.layer == MadeLayer(LayerKind.PASTE, Side.TOP)
    assert named.layer == MadeLayer(LayerKind.MASK, Side.BOTTOM)
    assert (said.by_name, listed.by_name, named.by_name) == (False, False, True)
    assert unknown.layer is None


COPPER, MASK, PASTE, LEGEND = LayerKind.COPPER, LayerKind.MASK, LayerKind.PASTE, LayerKind.LEGEND
NAMES = {
    "frost.GTL": MadeLayer(COPPER, Side.TOP, 1),
    "frost.gbl": MadeLayer(COPPER, Side.BOTTOM, LAST),
    "frost-F_Cu.gbr": MadeLayer(COPPER, Side.TOP, 1),
    "frost-B_Cu.gbr": MadeLayer(COPPER, Side.BOTTOM, LAST),
    "frost-In2_Cu.gbr": MadeLayer(COPPER, None, 3),
    "frost.g2": MadeLayer(COPPER, None, 3),
    "frost_inner_layer_1.gbr": MadeLayer(COPPER, None, 2),
    "top copper.ger": MadeLayer(COPPER, Side.TOP, 1),
    "frost-F_Mask.gbr": MadeLayer(MASK, Side.TOP),
    "Solder Mask Bottom.gbr": None,
    "bottom_soldermask.gbr": MadeLayer(MASK, Side.BOTTOM),
    "frost-B_Paste.gbr": MadeLayer(PASTE, Side.BOTTOM),
    "top-silkscreen.gbr": MadeLayer(LEGEND, Side.TOP),
    "frost-F_Silkscreen.gbr": MadeLayer(LEGEND, Side.TOP),
    "frost.gko": MadeLayer(LayerKind.OUTLINE),
    "frost-Edge_Cuts.gbr": MadeLayer(LayerKind.OUTLINE),
    "board outline.gbr": MadeLayer(LayerKind.OUTLINE),
    "frost-F_Fab.gbr": None,
    "frost-F_Courtyard.gbr": None,
    "frost-User_Comments.gbr": None,
    "notes.gbr": None,
}
"""Names of layout editors, common practice, no source; None for drawings and for what nobody can be sure of."""


@pytest.mark.parametrize("name", NAMES)
def test_layers_by_name(name: str) -> None:
    assert layer_by_name(name) == NAMES[name]


def test_what_a_file_says_of_itself() -> None:
    """`.ProjectId`, `.GenerationSoftware`, `.SameCoordinates`, `.Part`: Gerber layer format 5.6 (as cited)."""
    found = folder(
        a__gbr=plot(
            "Profile,NP",
            ProjectId="My PCB,f81d4fae-7dec-11d0-a765-00a0c91e6bf6,2",
            GenerationSoftware="KiCad,Pcbnew,9.0.8",
            SameCoordinates="Original",
            Part="Single",
        )
    ).headers["a.gbr"]
    assert (found.project, found.guid, found.revision) == ("My PCB", "f81d4fae-7dec-11d0-a765-00a0c91e6bf6", "2")
    assert (found.software, found.part, found.coordinates) == ("KiCad Pcbnew 9.0.8", "Single", "Original")


@pytest.mark.parametrize(
    ("written", "hour"),
    [
        ("2015-02-23T15:59:51+01:00", 14),  # the specification's own example
        ("2015-02-23T15:59:51Z", 15),
        ("2015-02-23T15:59:51-0500", 20),
        ("2015-02-23T15:59:51", None),  # without its zone it names no moment
        ("yesterday", None),
        ("", None),
    ],
)
def test_when_a_file_was_made(written: str, hour: object) -> None:
    when = folder(a__gbr=plot("Profile,NP", CreationDate=written)).headers["a.gbr"].when
    assert when == (None if hour is None else datetime(2015, 2, 23, int(str(hour)), 59, 51, tzinfo=timezone.utc))


NOON = datetime(2026, 5, 4, 12, 0, tzinfo=timezone.utc)
LATER = datetime(2026, 11, 1, tzinfo=timezone.utc)


@pytest.mark.parametrize("packed", [False, True])
@pytest.mark.parametrize(
    ("board", "files", "known"),
    [(LATER, NOON, LATER), (LATER, LATER, None), (LATER, NOON + timedelta(minutes=59), LATER)],
    ids=["saved after the plots", "all checked out together", "within the hour"],
)
def test_when_the_board_was_saved_counts_only_where_files_keep_their_times(
    tmp_path: Path, packed: bool, board: datetime, files: datetime, known: Optional[datetime]
) -> None:
    source = tmp_path / "frost-alarm.kicad_pcb"
    source.write_text("(kicad_pcb)")
    sent = tmp_path / "release"
    sent.mkdir()
    (sent / "top.gbr").write_text(plot("Copper,L1,Top", CreationDate="2026-05-04T14:00:00+02:00"))
    if packed:
        with zipfile.ZipFile(tmp_path / "release.zip", "w") as archive:
            archive.write(sent / "top.gbr", "top.gbr")
        sent = tmp_path / "release.zip"
    for file, moment in ((source, board), (sent, files), (tmp_path / "release" / "top.gbr", files)):
        os.utime(file, (moment.timestamp(), moment.timestamp()))
    assert read_folder(sent, source).saved == known
    assert read_folder(sent).saved is None
    assert read_folder(sent, tmp_path / "none.kicad_pcb").saved is None
