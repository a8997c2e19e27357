# SPDX-License-Identifier: MIT
"""The manifest, written and read back, and the check that guards a released revision with it."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest
import shapely

import build
from lineworthy import Board, Consequence, InputError
from lineworthy.checks.revision_guard import changed_since_released as guard
from lineworthy.files import write_all
from lineworthy.finding import NotRun
from lineworthy.knowledge.printed import Printed
from lineworthy.release import manifest
from lineworthy.release.manifest import Manifest, ReleasedFile, revision_of
from lineworthy.release.record import record


def board(revision: str = "A", value: str = "100n", right: float = 30.0) -> Board:
    return build.board(
        40,
        30,
        parts=(build.chip("C12", (20, 10), value=value),),
        areas=(build.pour(shapely.box(1, 20, right, 29)),),
        markings=(build.marking(f"FROST ALARM REV {revision}", (12, 25)),),
    )


def released(folder: Path, made: Board) -> Manifest:
    whole = record(made)
    given = Manifest(
        made.name, revision_of(Printed(made)), whole.digest, "2027-03-01", (ReleasedFile("a.gbr", 3, "0" * 64),)
    )
    write_all({folder / name: text for name, text in manifest.texts("frost", given, whole).items()})
    return manifest.load(folder / "frost.manifest.json")


def ask(made: Board, given: object) -> list:
    return list(guard.ask(board=made, printed=Printed(made), released=given))


def test_a_manifest_is_read_back_as_it_was_written(tmp_path: Path) -> None:
    made = board()
    again = released(tmp_path, made)
    assert (again.revision, again.digest, again.released) == ("A", record(made).digest, "2027-03-01")
    assert again.files == (ReleasedFile("a.gbr", 3, "0" * 64),)
    assert again.record == replace(record(made), entries=again.record.entries)
    assert [e.line for e in again.record.entries] == [e.line for e in record(made).entries]


def test_the_same_board_passes(tmp_path: Path) -> None:
    assert ask(board(), released(tmp_path, board())) == []


def test_a_changed_board_of_the_same_revision_holds_and_says_what_changed(tmp_path: Path) -> None:
    (found,) = ask(board(value="1u"), released(tmp_path, board()))
    assert found.consequence is Consequence.HOLD
    assert found.message == "1 change since this was released as revision A on 2027-03-01: C12 value 100n to 1u"
    assert found.places[0].at == pytest.approx((20, 10), abs=1e-3)


def test_a_changed_board_of_the_next_revision_passes(tmp_path: Path) -> None:
    assert ask(board("B", "1u"), released(tmp_path, board())) == []


def test_a_pour_that_was_filled_again_is_a_query(tmp_path: Path) -> None:
    (found,) = ask(board(right=30.005), released(tmp_path, board()))
    assert found.consequence is Consequence.QUERY


def test_without_the_record_the_change_is_held_but_not_told(tmp_path: Path) -> None:
    given = released(tmp_path, board())
    (tmp_path / "frost.record.jsonl").unlink()
    (found,) = ask(board(value="1u"), manifest.load(Path(given.source)))
    assert found.consequence is Consequence.HOLD
    assert "missing" in found.message


@pytest.mark.parametrize("text", ["", "no json\n", '{"origin": [0, 0]}\n{"kind": "pour"}\n', '{"origin": [0, 0]}\n'])
def test_a_record_that_is_not_the_manifests_is_not_used(tmp_path: Path, text: str) -> None:
    given = released(tmp_path, board())
    (tmp_path / "frost.record.jsonl").write_text(text, encoding="utf-8")
    assert manifest.load(Path(given.source)).record is None


def test_texts_with_line_ends_and_broken_characters_come_back(tmp_path: Path) -> None:
    made = replace(board(), markings=(build.marking("REV A\u2028B\nC\x85\ud800 \t\x1f", (12, 25)),))
    again = released(tmp_path, made)
    assert again.record is not None
    assert again.record.digest == record(made).digest


def test_a_manifest_reads_no_record_outside_its_folder(tmp_path: Path) -> None:
    given = released(tmp_path / "in", board())
    (tmp_path / "in" / "frost.record.jsonl").rename(tmp_path / "frost.record.jsonl")
    path = Path(given.source)
    document = json.loads(path.read_text(encoding="utf-8"))
    document["record"]["file"] = "../frost.record.jsonl"
    path.write_text(json.dumps(document), encoding="utf-8")
    assert manifest.load(path).record is None


def test_without_a_manifest_the_guard_says_so() -> None:
    (answer,) = ask(board(), None)
    assert isinstance(answer, NotRun)


def test_a_board_without_a_revision_is_guarded_too(tmp_path: Path) -> None:
    bare = replace(board(), markings=())
    changed = replace(board(value="1u"), markings=())
    (found,) = ask(changed, released(tmp_path, bare))
    assert "released as no revision" in found.message


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"format": "other"}, "is not a release manifest"),
        ({"version": 9}, "is of version 9"),
        ({"digest": "xyz"}, "digest: is not 64 hex digits"),
        ({"revision": 3}, "revision: must be a text"),
        ({"files": {}}, "files: must be a list"),
        ({"files": [{"name": "a"}]}, "file 1: needs name, size and sha256"),
        ({"review": []}, "review: must be an object"),
    ],
)
def test_a_damaged_manifest_is_one_line(tmp_path: Path, change: dict, said: str) -> None:
    path = Path(released(tmp_path, board()).source)
    path.write_text(json.dumps({**json.loads(path.read_text(encoding="utf-8")), **change}), encoding="utf-8")
    with pytest.raises(InputError) as error:
        manifest.load(path)
    assert said in str(error.value)


@pytest.mark.parametrize("text", ["", "[", "[]", "\ufffe", "[" * 100_000])
def test_what_is_no_manifest_is_one_line(tmp_path: Path, text: str) -> None:
    path = tmp_path / "x.json"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as error:
        manifest.load(path)
    assert "\n" not in str(error.value)
