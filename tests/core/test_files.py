# SPDX-License-Identifier: MIT
"""Writing files: all of a set or none, links kept, devices never replaced, the reason in one line."""

from __future__ import annotations

import os
import stat
from pathlib import Path

import pytest

from lineworthy import InputError, concessions, files, load, project
from lineworthy.release import manifest


def with_end(path: Path) -> object:
    """Readers of everything that people write, each on this place."""
    return [
        lambda: files.read_text(path),
        lambda: project.load(path),
        lambda: concessions.load(path),
        lambda: manifest.load(path),
        lambda: load(str(path)),
    ]


@pytest.mark.skipif(not Path("/dev/zero").exists(), reason="needs a device without an end")
def test_a_device_without_an_end_is_not_read(tmp_path: Path) -> None:
    for read in with_end(Path("/dev/zero")):
        with pytest.raises(InputError, match="/dev/zero: cannot be read: not a regular file"):
            read()


def test_what_is_no_text_a_person_wrote_is_one_line(tmp_path: Path) -> None:
    (tmp_path / "latin").write_bytes(b"sheet = '\xfc'")
    with (tmp_path / "large").open("wb") as file:
        file.truncate(files.TEXT_BYTES_MAX + 1)
    for name, said in (("latin", "not UTF-8 text"), ("large", "larger than 50 MB"), (".", "a folder, not a file")):
        for read in with_end(tmp_path / name):
            with pytest.raises(InputError, match=said):
                read()
    with pytest.raises(InputError, match="cannot be read"):
        files.read_text(Path("a\0b"))


def test_a_set_of_which_one_has_no_place_leaves_everything_as_it_was(tmp_path: Path) -> None:
    (tmp_path / "a.txt").write_text("old")
    (tmp_path / "taken").mkdir()
    with pytest.raises(InputError, match="taken: cannot be written: a folder is there"):
        files.write_all({tmp_path / "a.txt": "new", tmp_path / "b.txt": "new", tmp_path / "taken": "new"})
    assert (tmp_path / "a.txt").read_text() == "old"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["a.txt", "taken"]


def refusing(monkeypatch: pytest.MonkeyPatch, fault: BaseException, *places: Path) -> None:
    """Lets no file be moved to some places."""
    move = os.replace

    def replace(source: object, target: object) -> None:
        if target in places:
            raise fault
        move(source, target)  # type: ignore[arg-type]

    monkeypatch.setattr("os.replace", replace)


def no_second_names(source: object, target: object) -> None:
    raise OSError(1, "no second names on this disk")


@pytest.mark.parametrize("fault", [OSError(28, "No space left on device"), KeyboardInterrupt()])
@pytest.mark.parametrize("has_links", [True, False])
def test_a_place_that_refuses_the_move_takes_back_what_was_moved(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, fault: BaseException, has_links: bool
) -> None:
    old, new, refused = (tmp_path / name for name in ("old.txt", "new.txt", "refused.txt"))
    old.write_text("old")
    old.chmod(0o640)
    refused.write_text("old")
    refusing(monkeypatch, fault, refused)
    if not has_links:
        monkeypatch.setattr("os.link", no_second_names)
    with pytest.raises((InputError, KeyboardInterrupt)) as told:
        files.write_all({old: "a", new: "b", refused: "c", tmp_path / "never.txt": "d"})
    if isinstance(fault, OSError):
        assert str(told.value) == f"{refused}: cannot be written: No space left on device"
    assert {path.name: path.read_text() for path in tmp_path.iterdir()} == {"old.txt": "old", "refused.txt": "old"}
    assert stat.S_IMODE(old.stat().st_mode) == 0o640


def test_what_cannot_be_put_back_is_kept_and_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    old, refused = tmp_path / "old.txt", tmp_path / "refused.txt"
    old.write_text("old")
    moved: list[object] = []
    move = os.replace

    def replace(source: object, target: object) -> None:
        if moved:
            raise OSError(5, "the disk went away")
        moved.append(target)
        move(source, target)  # type: ignore[arg-type]

    monkeypatch.setattr("os.replace", replace)
    with pytest.raises(InputError, match=r"old\.txt: was written though others could not be; what was there") as told:
        files.write_all({old: "new", refused: "new"})
    assert Path(str(told.value).split(" is in ")[1]).read_text() == "old"
    assert len(list(tmp_path.iterdir())) == 2


def test_a_set_that_is_written_leaves_nothing_else(tmp_path: Path) -> None:
    (tmp_path / "a.txt").write_text("old")
    files.write_all({tmp_path / "a.txt": "new", tmp_path / "b.txt": "new"})
    assert {path.name: path.read_text() for path in tmp_path.iterdir()} == {"a.txt": "new", "b.txt": "new"}


@pytest.mark.skipif(os.name != "posix", reason="needs permissions as POSIX has them")
def test_permissions_are_kept_and_new_files_get_the_usual_ones(tmp_path: Path) -> None:
    mask = os.umask(0o027)
    try:
        for mode in (0o600, 0o664, 0o444):
            path = tmp_path / f"{mode:o}"
            path.write_text("old")
            path.chmod(mode)
            files.write_atomic(path, "new")
            assert path.read_text() == "new"
            assert stat.S_IMODE(path.stat().st_mode) == mode
        files.write_atomic(tmp_path / "new", "new")
        assert stat.S_IMODE((tmp_path / "new").stat().st_mode) == 0o640
    finally:
        os.umask(mask)


def test_ctrl_c_leaves_no_temporary_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupted(path: str, mode: int) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("os.chmod", interrupted)
    with pytest.raises(KeyboardInterrupt):
        files.write_atomic(tmp_path / "a.txt", "new")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.skipif(os.name != "posix", reason="needs pipes in the file system")
def test_a_pipe_is_not_replaced_by_a_file(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    for write in (lambda path: files.write_atomic(path, "new"), files.check_file):
        with pytest.raises(InputError, match="pipe: cannot be written: not a regular file"):
            write(tmp_path / "pipe")
    assert (tmp_path / "pipe").is_fifo()


def test_a_link_in_a_circle_is_one_line(tmp_path: Path) -> None:
    (tmp_path / "a").symlink_to(tmp_path / "b")
    (tmp_path / "b").symlink_to(tmp_path / "a")
    for ask in (files.check_file, files.check_folder, lambda path: files.write_atomic(path / "x", "new")):
        with pytest.raises(InputError, match="cannot be written"):
            ask(tmp_path / "a")


def test_a_folder_that_is_not_there_yet_is_made_below_one_that_is(tmp_path: Path) -> None:
    files.check_folder(tmp_path / "new" / "reports")
    files.write_atomic(tmp_path / "new" / "reports" / "a.txt", "text\n")
    assert (tmp_path / "new" / "reports" / "a.txt").read_bytes() == b"text\n"
    with pytest.raises(InputError, match="is a file, not a folder"):
        files.check_folder(tmp_path / "new" / "reports" / "a.txt" / "deeper")


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write everywhere")
def test_a_folder_that_takes_no_files_is_told(tmp_path: Path) -> None:
    tmp_path.chmod(0o500)
    with pytest.raises(InputError, match="no permission"):
        files.check_folder(tmp_path / "new")
    tmp_path.chmod(0o700)
