# SPDX-License-Identifier: MIT
"""The reader, on boards as other versions write them, against what those versions themselves say about these boards.

Read here, outside; asked there, inside. The same comparison as for the version installed here: see tests/oracle.
"""

from __future__ import annotations

import os
import re
from pathlib import Path
from typing import Callable

import compare
import pytest
from editor import Facts
from mismatch import listing
from other_editor import CHROOTS, OtherEditor

import demos
from lineworthy import InputError, review
from lineworthy.release.changes import changes
from lineworthy.release.record import record
from lineworthy_kicad.reader import parse_board, read_board

Seen = Callable[[OtherEditor, str, str], None]
UPGRADED = (
    "complex_hierarchy/complex_hierarchy.kicad_pcb",
    "custom_pads_test/custom_pads_test.kicad_pcb",
    "ecc83/ecc83-pp.kicad_pcb",
    "flat_hierarchy/flat_hierarchy.kicad_pcb",
    "kit-dev-coldfire-xilinx_5213/kit-dev-coldfire-xilinx_5213.kicad_pcb",
    "microwave/microwave.kicad_pcb",
    "multichannel/multichannel_mixer.kicad_pcb",
    "royalblue54L_feather/RoyalBlue54L-Feather.kicad_pcb",
    "stickhub/StickHub.kicad_pcb",
    "test_pads_inside_pads/test_pads_inside_pads.kicad_pcb",
)
"""Boards of version 9, saved again by version 10."""
LARGEST = 8_000_000
"""Bytes; larger boards only repeat what smaller ones show."""
DROPPED_BY_10 = "(castellated_pads yes)"
"""Declared for the whole board up to version 9; version 10 has no place for it and forgets it when it saves."""
UNASKED_OF_6 = ("artwork", "text_boxes")
"""Version 6 gives no outline of drawn shapes to Python, and makes its boxes of texts narrower than later versions."""


def without_made_up(facts: Facts, text: str) -> Facts:
    """The facts without the hidden fields version 10 makes out of parts' hidden texts, under new ids and names."""
    made_up = [
        item for item in facts["texts"] if item["role"] == "field" and not item["visible"] and item["uid"] not in text
    ]
    for part in facts["parts"]:
        theirs = [item["source"] for item in made_up if item["part"] == part["uid"]]
        for name in [name for name in part["fields"] if re.fullmatch(r"Field\d+", name)]:
            if part["fields"][name] in theirs and f'"{name}"' not in text:
                del part["fields"][name]
    if facts["editor"].startswith("6."):  # later versions drop the hidden texts of parts, and so do we
        made_up += [item for item in facts["texts"] if item["role"] == "free" and item["part"] and not item["visible"]]
    facts["texts"] = [item for item in facts["texts"] if item not in made_up]
    return facts


def mismatches(editor: OtherEditor, path: Path, leave_out: tuple[str, ...] = ()) -> str:
    facts = without_made_up(editor.ask(path), path.read_text(encoding="utf-8"))
    board = read_board(path)
    looks = {name: look for name, look in compare.LOOKS.items() if name not in leave_out}
    found = {name: sorted(look(board, facts), key=lambda m: -m.size) for name, look in looks.items()}
    return "\n".join(f"{name}: {listing(rows)}" for name, rows in found.items() if rows)


def shipped(suite: str) -> list[str]:
    """The demo boards an editor brings, as paths below its root."""
    root = Path(os.environ[CHROOTS]) / suite
    found = [path for path in root.glob("usr/share/kicad/demos/**/*.kicad_pcb") if path.stat().st_size < LARGEST]
    return [str(path.relative_to(root)) for path in sorted(found, key=lambda path: path.stat().st_size)]


@pytest.mark.parametrize("name", UPGRADED)
def test_board_saved_again_by_10_is_read_as_10_sees_it(name: str, editor_10: OtherEditor, seen: Seen) -> None:
    path = editor_10.upgraded(demos.FOLDER / name)
    assert b"(version 20260206)" in path.read_bytes()[:200]
    found = mismatches(editor_10, path)
    assert not found, found
    seen(editor_10, "saved again by this version, read as it sees them", name)


@pytest.mark.parametrize("name", UPGRADED)
def test_saved_by_9_or_by_10_the_review_is_the_same(name: str, editor_10: OtherEditor, seen: Seen) -> None:
    path = demos.FOLDER / name
    project = path.with_suffix(".kicad_pro")
    before = review(
        parse_board(
            path.read_text(encoding="utf-8").replace(DROPPED_BY_10, ""),
            path.name,
            str(path),
            project.read_text(encoding="utf-8") if project.exists() else None,
        )
    )
    after = review(read_board(editor_10.upgraded(path)))
    told = [[(f.check, f.consequence, f.message, f.fingerprint) for f in found.findings] for found in (before, after)]
    assert told[0] == told[1]
    assert before.not_run == after.not_run
    seen(editor_10, "same review saved by version 9 or by this one", name)


@pytest.mark.parametrize("name", UPGRADED)
def test_saved_by_9_or_by_10_it_is_the_same_product(name: str, editor_10: OtherEditor, seen: Seen) -> None:
    path = demos.FOLDER / name
    before, after = record(read_board(path)), record(read_board(editor_10.upgraded(path)))
    assert before.digest == after.digest, changes(before, after)
    seen(editor_10, "same digest of what is made, saved by version 9 or by this one", name)


@pytest.mark.parametrize("name", shipped("forky"))
def test_board_shipped_with_10_is_read_as_10_sees_it(name: str, editor_10: OtherEditor, seen: Seen) -> None:
    found = mismatches(editor_10, editor_10.root / name)
    assert not found, found
    seen(editor_10, "demo boards of this version, read as it sees them", name)


@pytest.mark.parametrize("name", shipped("bookworm"))
def test_board_shipped_with_6_is_read_as_6_sees_it(name: str, editor_6: OtherEditor, seen: Seen) -> None:
    if "(kicad_pcb (version 2017" in (editor_6.root / name).read_text(encoding="utf-8")[:60]:
        with pytest.raises(InputError, match="version 5 of the editor or older"):
            read_board(editor_6.root / name)
        return
    found = mismatches(editor_6, editor_6.root / name, UNASKED_OF_6)
    assert not found, found
    seen(editor_6, "demo boards of this version, read as it sees them", name)


def test_both_bring_boards() -> None:
    assert len(shipped("forky")) >= 10
    assert len(shipped("bookworm")) >= 10
