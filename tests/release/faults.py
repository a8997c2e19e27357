# SPDX-License-Identifier: MIT
"""Mistakes put into releases that are right, and what must be said of each: one finding, and no other."""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timezone
from typing import Callable, Optional

from releases import Files, board_of, changed, coordinates, older, one, parts_list, release

PARTS = "parts-list.csv"


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


def without(*endings: str) -> Callable[[Files], Files]:
    return lambda files: {name: data for name, data in files.items() if not name.endswith(endings)}


def text(ending: str, change: Callable[[str], str]) -> Callable[[Files], Files]:
    return lambda files: changed(files, ending, change)


def swapped(first: str, second: str) -> Callable[[Files], Files]:
    """Two plots exchanged: each keeps its name and says what that name says, and draws what the other drew."""

    def make(files: Files) -> Files:
        a, b = one(files, first), one(files, second)
        function = re.compile(rb"TF\.FileFunction,[^*]*\*")
        of_a, of_b = function.search(files[a])[0], function.search(files[b])[0]  # type: ignore[index]
        return {**files, a: files[b].replace(of_b, of_a), b: files[a].replace(of_a, of_b)}

    return make


def taken_from_older(ending: str, board: str, old: str, new: str) -> Callable[[Files], Files]:
    def make(files: Files) -> Files:
        before = older(board, old, new)
        name = one(files, ending)
        assert files[name] != before[name]
        return {**files, name: before[name]}

    return make


def rows(
    change: Callable[[list[list[str]]], Optional[list[list[str]]]], ending: str = "-pos.csv"
) -> Callable[[Files], Files]:
    """A table with its rows changed; the first row is the header."""

    def make(files: Files) -> Files:
        name = one(files, ending)
        table = list(csv.reader(io.StringIO(files[name].decode())))
        table = change(table) or table
        out = io.StringIO()
        csv.writer(out).writerows(table)
        return {**files, name: out.getvalue().encode()}

    return make


def cell(reference: str, column: int, value: Callable[[str], str]) -> Callable[[list[list[str]]], None]:
    def change(table: list[list[str]]) -> None:
        (row,) = [row for row in table if row[0] == reference]
        row[column] = value(row[column])

    return change


def drop(reference: str) -> Callable[[list[list[str]]], list[list[str]]]:
    return lambda table: [row for row in table if row[0] != reference]


def of_job(change: Callable[[dict], None]) -> Callable[[str], str]:
    def make(before: str) -> str:
        job = json.loads(before)
        change(job)
        return json.dumps(job, indent=2)

    return make


def number(shift: float) -> Callable[[str], str]:
    return lambda old: f"{float(old) + shift:.6f}"


def hole_lost(before: str) -> str:
    lines = before.splitlines(keepends=True)
    last = max(index for index, line in enumerate(lines) if re.match(r"X[-\d.]+Y[-\d.]+$", line))
    return "".join(lines[:last] + lines[last + 1 :])


def hole_added(before: str) -> str:
    last = re.findall(r"^X([-\d.]+)Y([-\d.]+)$", before, re.MULTILINE)[-1]
    extra = f"X{float(last[0]) + 3.3:.3f}Y{float(last[1]) + 1.7:.3f}"
    return before.replace(f"X{last[0]}Y{last[1]}\n", f"X{last[0]}Y{last[1]}\n{extra}\n", 1)


def mirrored(before: str) -> str:
    return coordinates(before, lambda x: 300.0 - x)


def flipped(before: str) -> str:
    return coordinates(before, lambda x: x, lambda y: -y - 220.0)


def not_fitted() -> list[list[str]]:
    return [["R2", "0", "R_0402", "127.100000", "-100.850000", "90.000000", "top"]]


def _header(name: str, value: str) -> Callable[[str], str]:
    return lambda before: re.sub(rf"TF\.{name},[^*\n]*", f"TF.{name},{value}", before)


def _revision(value: str) -> Callable[[str], str]:
    return lambda before: re.sub(r"(TF\.ProjectId,[^,*]*,[^,*]*),[^*]*", rf"\1,{value}", before)


def _other_boards(ending: str, board: str) -> Callable[[Files], Files]:
    return lambda files: {**files, one(release(board), ending): release(board)[one(release(board), ending)]}


def _same_name(ending: str, board: str) -> Callable[[Files], Files]:
    return lambda files: {**files, one(files, ending): release(board)[one(release(board), ending)]}


def _copied(ending: str, name: str) -> Callable[[Files], Files]:
    return lambda files: {**files, name: files[one(files, ending)]}


def _with_list(change: Callable[[Files], Files], board: str) -> Callable[[Files], Files]:
    return lambda files: change({**files, PARTS: parts_list(board)})


_TRACK = "(start 137.287 -0)"  # replaced by `tracks` below


def _first_track(board: str, layer: str) -> tuple[str, str]:
    """Text of the first long track of a layer in the document, and the same moved by half a millimetre."""
    from releases import path_of

    document = path_of(board).read_text(encoding="utf-8")
    pattern = re.compile(
        r"\(segment\s+\(start ([\d.]+) ([\d.]+)\)\s+\(end ([\d.]+) ([\d.]+)\)\s+\(width [\d.]+\)\s+\(layer \""
        + re.escape(layer)
    )
    for match in pattern.finditer(document):
        x0, y0, x1, y1 = map(float, match.groups())
        if abs(x1 - x0) + abs(y1 - y0) > 2:
            moved = match[0].replace(f"(start {match[1]} {match[2]})", f"(start {x0 + 0.5:g} {y0 + 0.5:g})")
            return match[0], moved
    raise AssertionError("no track")


def _ancient() -> Callable[[str], str]:
    return _header("CreationDate", "2019-03-02T10:00:00+01:00")


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
    yield hold("no placement file", "stick", without("-pos.csv"), "release/set-incomplete", "no placement file")
    yield hold(
        "plated holes missing", "stick", without("-PTH.drl"), "release/drill-differs", "87 holes of the board in no"
    )
    yield hold("plot cut off", "ecc83", text(".gbl", lambda t: t[: len(t) * 2 // 3]), "release/file-truncated", "M02")
    yield hold("drill cut off", "ecc83", text("-PTH.drl", lambda t: t[: len(t) // 2]), "release/file-truncated", "M30")
    yield hold("plot empty", "ecc83", lambda f: {**f, one(f, ".gbl"): b""}, "release/file-unreadable", "is empty")
    yield hold(
        "plot overwritten",
        "ecc83",
        lambda f: {**f, one(f, ".gts"): b"<html>404</html>"},
        "release/file-unreadable",
        "gts",
    )
    yield hold("job file cut off", "ecc83", text(".gbrjob", lambda t: t[:900]), "release/file-unreadable", "JSON")
    yield hold("copper twice", "ecc83", _copied(".gtl", "ecc83-pp-F_Cu (1).gtl"), "release/file-doubled", "2 files for")
    yield hold(
        "drill twice", "ecc83", _copied("-PTH.drl", "old-PTH.drl"), "release/file-doubled", "drill the same holes"
    )
    # another board's, another time's
    yield hold(
        "another board's file", "ecc83", _other_boards(".gbs", "stick"), "release/file-of-another-board", "StickHub"
    )
    yield hold(
        "file replaced by another board's",
        "ecc83",
        _same_name(".gbs", "mixer"),
        "release/file-of-another-board",
        "mixer",
    )
    yield hold(
        "other revision in one header", "ecc83", text(".gbl", _revision("C")), "release/revision-disagrees", "'C'"
    )
    yield hold(
        "other revision in the job file",
        "ecc83",
        text(".gbrjob", of_job(lambda j: j["GeneralSpecs"]["ProjectId"].update(Revision="7"))),
        "release/revision-disagrees",
        "gbrjob says revision '7'",
    )
    yield hold("stale plot", "ecc83", text(".gts", _ancient()), "release/dates-apart", "2019-03-02 09:00 UTC")
    yield hold("stale drill", "stick", text("-NPTH.drl", _ancient()), "release/dates-apart", "NPTH.drl")
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
        text(".gbs", _header("GenerationSoftware", "KiCad,Pcbnew,7.0.1")),
        "release/software-mixed",
        "7.0.1",
    )
    # layers
    yield hold(
        "copper from an older board",
        "ecc83",
        taken_from_older(".gbl", "ecc83", *_first_track("ecc83", "B.Cu")),
        "release/layer-differs",
        "ecc83-pp-bottom_cu.gbl",
    )
    yield hold(
        "inner layer from an older board",
        "feather",
        taken_from_older(".g4", "feather", *_first_track("feather", "In4.Cu")),
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
    yield hold("legend mirrored", "stick", text(".gbo", mirrored), "release/layer-differs", "bottom legend lacks")
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
    yield hold(
        "drill size changed",
        "stick",
        text("-PTH.drl", lambda t: t.replace("C0.400", "C0.500")),
        "release/drill-differs",
        "of another size",
    )
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
        _with_list(rows(drop("C3"), PARTS), "stick"),
        "release/parts-list-differs",
        "C3",
    )
    yield hold(
        "parts list has one more",
        "stick",
        _with_list(rows(lambda t: [*t, ["C99", "1u", "0402", "1"]], PARTS), "stick"),
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


assert board_of  # re-exported for the tests
FAULTS = tuple(faults())
