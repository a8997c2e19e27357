# SPDX-License-Identifier: MIT
"""Mistakes put into releases that are right, and what must be said of each: one finding, and no other."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timezone
from typing import Callable, Optional

from releases import TITLED, Files, coordinates, one, release
from spoilt import (
    PARTS,
    altered,
    ancient,
    bare,
    cell,
    copied,
    drop,
    first_track,
    flipped,
    header,
    hole_added,
    hole_given,
    hole_lost,
    hole_moved,
    mirrored,
    names_exchanged,
    not_fitted,
    number,
    of_job,
    other_boards,
    plated,
    revision,
    rows,
    same_name,
    swapped,
    taken_from_older,
    text,
    with_list,
    without,
)


@dataclass(frozen=True)
class Fault:
    """A mistake: on which board, how it is made, and the check and words that name it."""

    name: str
    board: str
    make: Callable[[Files], Files]
    check: str
    says: str
    saved: Optional[datetime] = None
    folder: str = "release"


def faults() -> Iterator[Fault]:
    hold = Fault
    # whole files
    yield hold("copper missing", "ecc83", without(".gbl"), "release/set-incomplete", "copper layer 2, bottom")
    yield hold("inner layer missing", "feather", without(".g3"), "release/set-incomplete", "copper layer 4")
    yield hold("paste missing", "stick", without(".gtp"), "release/set-incomplete", "top paste")
    yield hold("mask missing", "mixer", without(".gbs"), "release/set-incomplete", "bottom mask")
    yield hold("profile missing", "ecc83", without(".gm1"), "release/set-incomplete", "profile")
    yield hold("legend missing", "ecc83", without(".gto"), "release/set-incomplete", "top legend")
    yield hold("no drill file", "ecc83", without(".drl"), "release/set-incomplete", "33 holes")
    yield hold("no placement file", "stick", without("-pos.csv"), "release/set-incomplete", "No placement file")
    yield hold(
        "plated holes missing", "stick", without("-PTH.drl"), "release/drill-differs", "87 holes of the board in no"
    )
    yield hold("plot cut off", "ecc83", text(".gbl", lambda t: t[: len(t) * 2 // 3]), "release/file-truncated", "M02")
    yield hold("drill cut off", "ecc83", text("-PTH.drl", lambda t: t[: len(t) // 2]), "release/file-truncated", "M30")
    yield hold("plot altered", "ecc83", text(".gbl", altered), "release/file-altered", "checksum")
    yield hold("plot empty", "ecc83", lambda f: {**f, one(f, ".gbl"): b""}, "release/file-unreadable", "is empty")
    yield hold(
        "plot overwritten",
        "ecc83",
        lambda f: {**f, one(f, ".gts"): b"<html>404</html>"},
        "release/file-unreadable",
        "gts",
    )
    yield hold("job file cut off", "ecc83", text(".gbrjob", lambda t: t[:900]), "release/file-unreadable", "JSON")
    yield hold("copper twice", "ecc83", copied(".gtl", "ecc83-pp-F_Cu (1).gtl"), "release/file-doubled", "2 files for")
    yield hold(
        "drill twice", "ecc83", copied("-PTH.drl", "old-PTH.drl"), "release/file-doubled", "drill the same holes"
    )
    # another board's, another time's
    yield hold(
        "another board's file", "ecc83", other_boards(".gbs", "stick"), "release/file-of-another-board", "StickHub"
    )
    yield hold(
        "file replaced by another board's",
        "ecc83",
        same_name(".gbs", "mixer"),
        "release/file-of-another-board",
        "mixer",
    )
    yield hold(
        "other revision in one header", "ecc83", text(".gbl", revision("C")), "release/revision-disagrees", "'C'"
    )
    yield hold(
        "other revision in the job file",
        "ecc83",
        text(".gbrjob", of_job(lambda j: j["GeneralSpecs"]["ProjectId"].update(Revision="7"))),
        "release/revision-disagrees",
        "gbrjob says revision '7'",
    )
    yield hold("stale plot", "ecc83", text(".gts", ancient()), "release/dates-apart", "2019-03-02 09:00 UTC")
    yield hold("stale drill", "stick", text("-NPTH.drl", ancient()), "release/dates-apart", "NPTH.drl")
    yield hold(
        "written before the board was saved",
        "ecc83",
        lambda f: f,
        "release/dates-apart",
        "before the board was",
        saved=datetime(2100, 1, 1, tzinfo=timezone.utc),
    )
    yield hold(
        "another program",
        "ecc83",
        text(".gbs", header("GenerationSoftware", "KiCad,Pcbnew,7.0.1")),
        "release/software-mixed",
        "7.0.1",
    )
    yield hold("folder of another revision", TITLED, lambda f: f, "release/name-disagrees", "'C'", folder="tube_rev_C")
    yield hold(
        "file named after another revision",
        TITLED,
        lambda f: {name.replace("-F_", "_revA-F_"): data for name, data in f.items() if not name.endswith(".gbrjob")},
        "release/name-disagrees",
        "'A'",
    )
    yield hold(
        "written before the revision was raised",
        TITLED,
        lambda f: {
            name: re.sub(rb"(TF\.ProjectId,[^*\n]*),B(?=[*\n])", rb"\1,A", data).replace(
                b'"Revision": "B"', b'"Revision": "A"'
            )
            for name, data in f.items()
        },
        "release/revision-disagrees",
        "title block 'B'",
    )
    # layers
    yield hold(
        "copper from an older board",
        "ecc83",
        taken_from_older(".gbl", "ecc83", *first_track("ecc83", "B.Cu")),
        "release/layer-differs",
        "ecc83-pp-bottom_cu.gbl",
    )
    yield hold(
        "inner layer from an older board",
        "feather",
        taken_from_older(".g4", "feather", *first_track("feather", "In4.Cu")),
        "release/layer-differs",
        "copper layer 5",
    )
    yield hold(
        "inner layers exchanged",
        "feather",
        swapped(".g4", ".g5"),
        "release/layers-exchanged",
        "copper layer 5 and copper layer 6 are exchanged",
    )
    yield hold("masks exchanged", "stick", swapped(".gts", ".gbs"), "release/layers-exchanged", "mask")
    yield hold(
        "paste shown as mask",
        "stick",
        lambda f: {**f, one(f, ".gtp"): re.sub(rb"Soldermask,Top", b"Paste,Top", f[one(f, ".gts")])},
        "release/layers-exchanged",
        "shows top mask",
    )
    yield hold("bottom mirrored", "mixer", text(".gbl", mirrored), "release/layer-displaced", "mirrored left to right")
    yield hold("mask upside down", "ecc83", text(".gbs", flipped), "release/layer-displaced", "mirrored top to bottom")
    for board, ending in (
        ("stick", ".gbo"),
        ("stick", ".gto"),
        ("pic", ".gto"),
        ("feather", ".gto"),
        ("mixer", ".gto"),
    ):
        yield hold(
            f"legend mirrored, {board} {ending}",
            board,
            text(ending, mirrored),
            "release/layer-displaced",
            "mirrored left to right",
        )
    for what, board, ending, old, new, says in (
        (
            "revision raised",
            "pic",
            ".gtl",
            '"PIC PROGRAMMER V03"',
            '"PIC PROGRAMMER V02"',
            "character 16, '3', is another",
        ),
        ("reference exchanged", "pic", ".gto", '"Reference" "R5"', '"Reference" "R6"', "'R5': character 2, '5', is"),
        ("word shortened", "pic", ".gtl", '"PIC 28 PINS"', '"PIC 2 PINS"', "8 characters instead of 9"),
        ("year changed", "mixer", ".gto", "TW 2024", "TW 2023", "is another one ('3')"),
    ):
        yield hold(
            f"{what} after plotting",
            board,
            taken_from_older(ending, board, old, new),
            "release/lettering-differs",
            says,
        )
    yield hold(
        "layer moved",
        "ecc83",
        text(".gts", lambda t: coordinates(t, lambda x: x + 0.1)),
        "release/layer-displaced",
        "moved by 0.10, 0.00 mm",
    )
    yield hold(
        "layer in inches",
        "ecc83",
        text(".gbl", lambda t: t.replace("%MOMM*%", "%MOIN*%")),
        "release/layer-displaced",
        "too large by 25.4",
    )
    yield hold(
        "texts left out",
        "ecc83",
        lambda f: {**f, one(f, ".gto"): release("ecc83", gerber=("--erd",))[one(f, ".gto")]},
        "release/lettering-missing",
        "not there",
    )
    # holes
    yield hold(
        "drill moved",
        "stick",
        text("-PTH.drl", lambda t: coordinates(t, lambda x: x - 1.5)),
        "release/drill-displaced",
        "moved by -1.50, 0.00 mm",
    )
    yield hold(
        "drill mirrored", "ecc83", text("-PTH.drl", mirrored), "release/drill-displaced", "mirrored left to right"
    )
    yield hold(
        "drill in inches",
        "ecc83",
        text("-PTH.drl", lambda t: t.replace("METRIC", "INCH")),
        "release/drill-displaced",
        "too large by 25.4",
    )
    yield hold("hole lost", "ecc83", text("-PTH.drl", hole_lost), "release/drill-differs", "1 hole of the board in no")
    yield hold("hole added", "ecc83", text("-PTH.drl", hole_added), "release/drill-differs", "where the board has none")
    moved = ("release/drill-differs", "1 hole of the board in no drill file (3.20 mm), 1 hole drilled where")
    yield hold("hole moved", "ecc83", text("-PTH.drl", hole_moved), *moved)
    yield hold(
        "drill size changed",
        "stick",
        text("-PTH.drl", lambda t: t.replace("C0.400", "C0.500")),
        "release/drill-differs",
        "of another size",
    )
    yield hold("bare holes plated", "stick", text("-NPTH.drl", plated), "release/drill-differs", "drilled as plated")
    yield hold("plated holes bare", "ecc83", text("-PTH.drl", bare), "release/drill-differs", "33 plated holes drilled")
    yield hold(
        "one bare hole plated", "pic", hole_given("-NPTH.drl", "-PTH.drl"), "release/drill-differs", "1 unplated"
    )
    yield hold("one plated hole bare", "pic", hole_given("-PTH.drl", "-NPTH.drl"), "release/drill-differs", "1 plated")
    yield hold("plating told by names alone", "stick", names_exchanged, "release/drill-differs", "drilled as unplated")
    # placement and parts
    yield hold("part turned", "stick", rows(cell("U1", 5, number(90))), "release/placement-differs", "U1 by 90 degrees")
    yield hold(
        "part turned over",
        "mixer",
        rows(cell("R1", 6, lambda s: "top" if s == "bottom" else "bottom")),
        "release/placement-differs",
        "R1 is on the",
    )
    yield hold("part moved", "stick", rows(cell("C1", 3, number(0.4))), "release/placement-differs", "C1 by 0.40 mm")
    yield hold("reference missing", "stick", rows(drop("C3")), "release/placement-incomplete", "C3")
    yield hold(
        "unknown reference", "stick", rows(cell("C3", 0, lambda _: "C33x")), "release/placement-incomplete", "C3"
    )
    yield hold("placed twice", "stick", rows(lambda t: [*t, t[4]]), "release/placement-incomplete", "more than once")
    yield hold("do-not-fit placed", "feather", rows(lambda t: t + not_fitted()), "release/placement-not-fitted", "R2")
    yield hold(
        "placement in inches",
        "stick",
        rows(
            lambda t: (
                [t[0]]
                + [[*row[:3], f"{float(row[3]) / 25.4:.5f}", f"{float(row[4]) / 25.4:.5f}", *row[5:]] for row in t[1:]]
            )
        ),
        "release/placement-convention",
        "counts in inch",
    )
    yield hold(
        "parts list lacks one",
        "stick",
        with_list(rows(drop("C3"), PARTS), "stick"),
        "release/parts-list-differs",
        "C3",
    )
    yield hold(
        "parts list has one more",
        "stick",
        with_list(rows(lambda t: [*t, ["C99", "1u", "0402", "1"]], PARTS), "stick"),
        "release/parts-list-differs",
        "C99",
    )
    # what the job file and names say
    yield hold(
        "job of six layers",
        "stick",
        text(".gbrjob", of_job(lambda j: j["GeneralSpecs"].update(LayerNumber=6))),
        "release/job-disagrees",
        "6 copper layers",
    )
    yield hold(
        "job of another size",
        "stick",
        text(".gbrjob", of_job(lambda j: j["GeneralSpecs"]["Size"].update(X=26.6))),
        "release/job-disagrees",
        "26.60 x 40.10 mm",
    )


FAULTS = tuple(faults())
