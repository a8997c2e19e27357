# SPDX-License-Identifier: MIT
"""How releases are spoilt: files left out, exchanged, taken from elsewhere, texts and tables changed."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import re
from typing import Callable, Optional

from releases import Files, changed, coordinates, older, one, parts_list, path_of, release

PARTS = "parts-list.csv"


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


def altered(before: str) -> str:
    """With the checksum of what was there before the last comment was changed."""
    body = before.replace("M02*", "").rstrip()
    digest = hashlib.md5(body.replace("\n", "").encode()).hexdigest()
    return body.replace("G04 APERTURE LIST*", "G04 aperture list*", 1) + f"\n%TF.MD5,{digest}*%\nM02*\n"


def hole_lost(before: str) -> str:
    lines = before.splitlines(keepends=True)
    last = max(index for index, line in enumerate(lines) if re.match(r"X[-\d.]+Y[-\d.]+$", line))
    return "".join(lines[:last] + lines[last + 1 :])


def hole_added(before: str) -> str:
    last = re.findall(r"^X([-\d.]+)Y([-\d.]+)$", before, re.MULTILINE)[-1]
    extra = f"X{float(last[0]) + 3.3:.3f}Y{float(last[1]) + 1.7:.3f}"
    return before.replace(f"X{last[0]}Y{last[1]}\n", f"X{last[0]}Y{last[1]}\n{extra}\n", 1)


def hole_moved(before: str) -> str:
    last = re.findall(r"^X([-\d.]+)Y([-\d.]+)$", before, re.MULTILINE)[-1]
    return before.replace(f"X{last[0]}Y{last[1]}\n", f"X{float(last[0]) + 3.3:.3f}Y{last[1]}\n", 1)


def mirrored(before: str) -> str:
    return coordinates(before, lambda x: 300.0 - x)


def flipped(before: str) -> str:
    return coordinates(before, lambda x: x, lambda y: -y - 220.0)


def plated(before: str) -> str:
    return before.replace("NonPlated", "Plated").replace("NPTH", "PTH")


def bare(before: str) -> str:
    return before.replace("Plated", "NonPlated").replace("PTH", "NPTH")


def hole_given(giver: str, taker: str) -> Callable[[Files], Files]:
    """The last hole of one drill file in the other one, with a tool of its own there."""

    def make(files: Files) -> Files:
        given, taken = one(files, giver), one(files, taker)
        text = files[given].decode()
        spot = re.findall(r"^X[-\d.]+Y[-\d.]+\n", text, re.MULTILINE)[-1]
        number = re.findall(r"^(T\d+)\n", text, re.MULTILINE)[-1]
        size = re.search(rf"^{number}(C[\d.]+)", text, re.MULTILINE)[1]  # type: ignore[index]
        more = files[taken].decode().replace("\n%\n", f"\nT99{size}\n%\n", 1).replace("M30", f"T99\n{spot}M30")
        return {**files, given: text.replace(spot, "", 1).encode(), taken: more.encode()}

    return make


def names_exchanged(files: Files) -> Files:
    """Drill files without attributes, each under the other's name."""
    plain = {name: re.sub(rb"; #@! T[FAD][^\n]*\n", b"", data) for name, data in files.items() if name.endswith(".drl")}
    a, b = one(files, "-PTH.drl"), one(files, "-NPTH.drl")
    return {**files, a: plain[b], b: plain[a]}


def not_fitted() -> list[list[str]]:
    return [["R2", "0", "R_0402", "127.100000", "-100.850000", "90.000000", "top"]]


def header(name: str, value: str) -> Callable[[str], str]:
    return lambda before: re.sub(rf"TF\.{name},[^*\n]*", f"TF.{name},{value}", before)


def revision(value: str) -> Callable[[str], str]:
    return lambda before: re.sub(r"(TF\.ProjectId,[^,*]*,[^,*]*),[^*]*", rf"\1,{value}", before)


def other_boards(ending: str, board: str) -> Callable[[Files], Files]:
    return lambda files: {**files, one(release(board), ending): release(board)[one(release(board), ending)]}


def same_name(ending: str, board: str) -> Callable[[Files], Files]:
    return lambda files: {**files, one(files, ending): release(board)[one(release(board), ending)]}


def copied(ending: str, name: str) -> Callable[[Files], Files]:
    return lambda files: {**files, name: files[one(files, ending)]}


def with_list(change: Callable[[Files], Files], board: str) -> Callable[[Files], Files]:
    return lambda files: change({**files, PARTS: parts_list(board)})


def first_track(board: str, layer: str) -> tuple[str, str]:
    """Text of the first long track of a layer in the document, and the same moved by half a millimetre."""
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


def ancient() -> Callable[[str], str]:
    return header("CreationDate", "2019-03-02T10:00:00+01:00")
