# SPDX-License-Identifier: MIT
"""Which nets are in pieces, and in how many, held against the editor's own rule check.

The editor counts the lines it would still draw between what is not joined, some copper without a pad included. Faults
are seeded on copies of demo boards: tracks and vias taken out, fills cut down, parts moved off their tracks.
"""

from __future__ import annotations

import json
import random
import re
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

import demos
from lineworthy import Board
from lineworthy.knowledge.gaps import layers
from lineworthy.knowledge.routing import Routing
from lineworthy.model import CopperArea
from lineworthy_kicad.reader import read_board

pytestmark = [pytest.mark.editor, pytest.mark.slow]

SEEDED = ("pic_programmer", "StickHub", "ecc83-pp", "interf_u", "complex_hierarchy", "flat_hierarchy", "carte_test")
SPARE = {("StickHub", 2)}
"""Where pours join what was taken out, so that nothing is missed."""

COUNTED_MAX = 499
"""The editor stops here."""


def editors(path: Path, folder: Path) -> dict[str, list[str]]:
    """Lines the editor would still draw, by net: what each of them would join."""
    if shutil.which("kicad-cli") is None:
        pytest.fail(f"kicad-cli is not installed: {demos.HOW}", pytrace=False)
    copy, answer = folder / "alone.kicad_pcb", folder / "answer.json"
    shutil.copy(path, copy)
    command = ["kicad-cli", "pcb", "drc", "--format", "json", "--severity-all", "--all-track-errors"]
    subprocess.run([*command, "-o", str(answer), str(copy)], check=True, capture_output=True, timeout=900)
    items = json.loads(answer.read_text(encoding="utf-8"))["unconnected_items"]
    assert len(items) < COUNTED_MAX
    lines: dict[str, list[str]] = {}
    for one in items:
        ends = " to ".join(item["description"] for item in one["items"])
        lines.setdefault(re.findall(r"\[([^\]]*)\]", ends)[0], []).append(ends)
    return lines


def ours(board: Board) -> dict[str, tuple[int, int]]:
    """How many lines each net in pieces needs: between its pads, and between all of its copper but fills of pours."""
    copper = tuple(layers(board))
    routing = Routing(board, copper)
    groups: dict[str, set[int]] = {torn.net: set() for torn in routing.torn()}
    for layer, nodes in zip(copper, routing.nodes):
        for net, owner, node in zip(layer.nets.tolist(), layer.owners, nodes.tolist()):
            if net in groups and not isinstance(owner, CopperArea):
                groups[net].add(routing.joined.root(node))
    return {
        torn.net.replace("{slash}", "/"): (len(torn.pieces) - 1, len(groups[torn.net]) - 1) for torn in routing.torn()
    }


def agree(board: Board, theirs: dict[str, list[str]]) -> None:
    """The same nets, in as many pieces; some copper that carries no pad is a piece to the editor and some is not."""
    found = ours(board)
    assert {net for net, lines in theirs.items() if any(line.count("ad ") > 1 for line in lines)} <= set(found)
    assert set(found) <= set(theirs)
    apart = {net: (found[net], theirs[net]) for net in found if not found[net][0] <= len(theirs[net]) <= found[net][1]}
    assert not apart


@pytest.mark.parametrize("path", demos.cases())
def test_nets_are_in_as_many_pieces_as_the_editor_says(path: Path, tmp_path: Path) -> None:
    agree(demos.read(path), editors(path, tmp_path))


def forms(text: str) -> Iterator[tuple[int, int]]:
    """Where the items of a document begin and end."""
    depth, start, quoted = 0, 0, False
    for match in re.finditer(r'\\.|["()]', text):
        mark = match[0]
        if mark == '"':
            quoted = not quoted
        elif not quoted and mark == "(":
            depth += 1
            start = match.start() if depth == 2 else start
        elif not quoted and mark == ")":
            depth -= 1
            if depth == 1:
                yield start, match.end()


CORNERS = re.compile(r"(\(filled_polygon[^x]*(?:\(xy [^)]*\)\s*){3})(?:\(xy [^)]*\)\s*)+")
"""A fill, and all of its corners but three; a pour without any fill counts as filled to us, on purpose."""


def spoilt(text: str, seed: int) -> str:
    """The document with a few tracks or vias taken out, parts moved by 3 mm, or a fill cut down."""
    chance = random.Random(seed)
    spans = [(a, b, re.match(r"\((\w+)", text[a:b])[1]) for a, b in forms(text)]  # type: ignore[index]

    def some(kind: str, count: int) -> list[tuple[int, int]]:
        found = [(a, b) for a, b, head in spans if head == kind]
        return chance.sample(found, min(count, len(found)))

    changed: dict[tuple[int, int], str] = {}
    if seed % 4 == 3:
        changed.update({(a, b): CORNERS.sub(r"\1", text[a:b]) for a, b in some("zone", 1)})
    for span in (*some("segment", 3), *some("via", seed % 3)):
        changed[span] = ""
    for a, b in some("footprint", seed % 2 * 2):
        changed[a, b] = re.sub(r"\(at (-?[\d.]+)", lambda at: f"(at {float(at[1]) + 3:.4f}", text[a:b], count=1)
    for (a, b), new in sorted(changed.items(), reverse=True):
        text = text[:a] + new + text[b:]
    return text


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("name", SEEDED)
def test_seeded_faults_are_found_as_the_editor_finds_them(name: str, seed: int, tmp_path: Path) -> None:
    (path,) = (path for path in demos.paths() if path.stem == name)
    copy = tmp_path / "spoilt.kicad_pcb"
    copy.write_text(spoilt(path.read_text(encoding="utf-8"), seed), encoding="utf-8")
    theirs = editors(copy, tmp_path)
    assert bool(theirs) is ((name, seed) not in SPARE)
    agree(read_board(copy), theirs)
