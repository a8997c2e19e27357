# SPDX-License-Identifier: MIT
"""Release archives and folders: read as they are, or refused whole, in one line, for holding what no release does."""

from __future__ import annotations

import os
import stat
import struct
import zipfile
from pathlib import Path

import pytest

from lineworthy.errors import InputError
from lineworthy.intake import archive
from lineworthy.intake.archive import read_members

PLOT = b"%FSLAX46Y46*%\n%MOMM*%\nM02*\n"


def zipped(path: Path, *members: tuple[object, bytes], compression: int = zipfile.ZIP_DEFLATED) -> Path:
    with zipfile.ZipFile(path, "w", compression) as file:
        for name, data in members:
            file.writestr(name, data)  # type: ignore[arg-type]
    return path


def refused(path: Path, reason: str) -> None:
    with pytest.raises(InputError) as caught:
        read_members(path)
    message = str(caught.value)
    assert message.startswith(str(path))
    assert reason in message
    assert all(character.isprintable() for character in message)


def renamed(path: Path, old: bytes, new: bytes) -> Path:
    """The archive with a name changed in both places where it stands; of one length, so that it stays an archive."""
    assert len(old) == len(new)
    data = path.read_bytes()
    assert data.count(old) == 2
    path.write_bytes(data.replace(old, new))
    return path


def test_a_folder_and_an_archive_of_it_hold_the_same(tmp_path: Path) -> None:
    folder = tmp_path / "release"
    (folder / "plots").mkdir(parents=True)
    (folder / "plots" / "top.gtl").write_bytes(PLOT)
    (folder / "pos.csv").write_bytes(b"Ref,x,y\n")
    (folder / ".DS_Store").write_bytes(b"clutter")
    (folder / "__MACOSX").mkdir()
    (folder / "__MACOSX" / "._top.gtl").write_bytes(b"clutter")
    packed = zipped(
        tmp_path / "release.zip",
        ("plots/", b""),
        ("plots/top.gtl", PLOT),
        ("pos.csv", b"Ref,x,y\n"),
        ("__MACOSX/._top.gtl", b"clutter"),
        (".DS_Store", b"clutter"),
    )
    of_folder, of_zip = ([(member.name, member.data) for member in read_members(at)] for at in (folder, packed))
    assert of_folder == of_zip == [("plots/top.gtl", PLOT), ("pos.csv", b"Ref,x,y\n")]


@pytest.mark.parametrize("name", ["parts.xlsx", "model.stpz", "notes.docx"])
def test_documents_that_are_archives_themselves_are_welcome(tmp_path: Path, name: str) -> None:
    inner = zipped(tmp_path / "inner.zip", ("content.xml", b"<x/>")).read_bytes()
    (member,) = read_members(zipped(tmp_path / "release.zip", (name, inner)))
    assert member.data == inner


ESCAPES = {
    "a step up": "../evil.gbr",
    "a step up within": "plots/../../evil.gbr",
    "absolute": "/etc/cron.d/evil",
    "drive letter": "C:/Windows/evil.dll",
    "drive letter with backslashes": "C:\\Windows\\evil.dll",
    "backslashes up": "..\\..\\evil.gbr",
    "share": "\\\\server\\share\\evil.gbr",
    "stream of another file": "top.gtl:evil",
}


@pytest.mark.parametrize("name", ESCAPES)
def test_names_that_lead_out(tmp_path: Path, name: str) -> None:
    target = ESCAPES[name].encode()
    path = zipped(tmp_path / "evil.zip", ("good.gbr", PLOT), ("#" * len(target), PLOT))
    refused(renamed(path, b"#" * len(target), target), "a file whose name leads out of the archive")
    assert sorted(entry.name for entry in tmp_path.iterdir()) == ["evil.zip"]


def test_backslashes_within_are_folders(tmp_path: Path) -> None:
    path = renamed(zipped(tmp_path / "a.zip", ("plots#top.gtl", PLOT)), b"plots#top.gtl", b"plots\\top.gtl")
    assert [member.name for member in read_members(path)] == ["plots/top.gtl"]


@pytest.mark.parametrize(
    "name",
    [b"a\x1b[31m.gbr", b"a\nb.gbr", b"a\x7f.gbr", b"a\x08\x08.gbr", "a\u202efdp.gbr".encode()],
    ids=["escape", "line end", "delete", "backspace", "turned about"],
)
def test_names_with_control_characters(tmp_path: Path, name: bytes) -> None:
    plain = "é" * (len(name) // 2) + "x" * (len(name) % 2)  # not ASCII, so that the archive says its names are UTF-8
    path = renamed(zipped(tmp_path / "evil.zip", (plain, PLOT)), plain.encode(), name)
    refused(path, "a file whose name has control characters")


@pytest.mark.skipif(os.name != "posix", reason="such names exist on these systems only")
def test_control_characters_in_a_folder(tmp_path: Path) -> None:
    (tmp_path / "a\x1b[31m.gbr").write_bytes(PLOT)
    refused(tmp_path, "a file whose name has control characters")


def test_a_name_cut_off_by_a_zero(tmp_path: Path) -> None:
    path = renamed(zipped(tmp_path / "evil.zip", ("good.gbr#evil", PLOT)), b"good.gbr#evil", b"good.gbr\0evil")
    refused(path, "a file whose name leads out of the archive")


def test_links(tmp_path: Path) -> None:
    link = zipfile.ZipInfo("top.gtl")
    link.create_system = 3
    link.external_attr = (stat.S_IFLNK | 0o777) << 16
    refused(zipped(tmp_path / "evil.zip", (link, b"/etc/passwd")), "a link, which cannot be sent")
    folder = tmp_path / "release"
    folder.mkdir()
    (folder / "secret.gbr").symlink_to("/etc/passwd")
    refused(folder, "secret.gbr: holds a link")
    (folder / "secret.gbr").unlink()
    (folder / "all").symlink_to("/")
    refused(folder, "all: holds a link")


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="needs pipes with names")
def test_a_pipe_is_no_file(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "top.gtl")  # opening it would wait for ever
    refused(tmp_path, "holds something that is no file")
    refused(tmp_path / "top.gtl", "neither a folder nor a file")


def test_a_file_packed_too_tight(tmp_path: Path) -> None:
    path = zipped(tmp_path / "bomb.zip", ("top.gtl", b"\0" * 30_000_000))
    assert path.stat().st_size < 40_000
    refused(path, "packed tighter than any plot can be")


def test_a_long_file_of_one_line_is_no_bomb(tmp_path: Path) -> None:
    (member,) = read_members(zipped(tmp_path / "fine.zip", ("top.gtl", b"\0" * 900_000)))
    assert len(member.data) == 900_000


def test_too_much_together(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(archive, "ALL_BYTES_MAX", 2_000_000)
    path = zipped(tmp_path / "bomb.zip", *((f"{n}.gbr", os.urandom(300_000)) for n in range(7)))
    refused(path, "holds more than 2 MB")
    monkeypatch.setattr(archive, "FILE_BYTES_MAX", 200_000)
    refused(path, "0.gbr: holds a file larger than 0 MB")
    folder = tmp_path / "folder"
    folder.mkdir()
    (folder / "big.gbr").write_bytes(b"x" * 200_001)
    refused(folder, "big.gbr: holds a file larger than")


def test_a_file_larger_than_it_says(tmp_path: Path) -> None:
    """The size in the directory is a lie: no more is read than it says."""
    path = zipped(tmp_path / "liar.zip", ("top.gtl", b"x" * 5000), compression=zipfile.ZIP_STORED)
    data = path.read_bytes()
    size, lie = struct.pack("<I", 5000), struct.pack("<I", 10)
    at = data.rindex(b"PK\x01\x02")
    path.write_bytes(data[:at] + data[at:].replace(size * 2, size + lie, 1))
    with pytest.raises(InputError) as caught:
        read_members(path)
    assert "\n" not in str(caught.value)


def test_a_hundred_thousand_files(tmp_path: Path) -> None:
    one = zipped(tmp_path / "one.zip", ("00000.gbr", b"")).read_bytes()
    at = one.index(b"PK\x01\x02")
    local, entry = one[:at], one[at : one.index(b"PK\x05\x06")]
    entries = b"".join(entry.replace(b"00000", b"%05d" % number) for number in range(100_000))
    end = struct.pack("<4s4H2LH", b"PK\x05\x06", 0, 0, 0xFFFF, 0xFFFF, len(entries), len(local), 0)
    path = tmp_path / "many.zip"
    path.write_bytes(local + entries + end)
    refused(path, "holds 100000 files, more than any release (2000)")


def test_too_many_files_in_a_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(archive, "FILES_MAX", 5)
    for number in range(6):
        (tmp_path / f"{number}.gbr").write_bytes(PLOT)
    refused(tmp_path, "holds more files than any release (5)")


def test_folders_without_end(tmp_path: Path) -> None:
    deep = tmp_path / "release"
    (deep / "/".join("abcdefghij")).mkdir(parents=True)
    refused(deep, "has folders more than 8 deep")
    refused(zipped(tmp_path / "deep.zip", ("/".join("abcdefghijk"), PLOT)), "has folders more than 8 deep")


@pytest.mark.parametrize(
    ("name", "begin"),
    [("inner.zip", b"PK\x03\x04"), ("top.gtl", b"PK\x03\x04"), ("a.7z", b"7z\xbc\xaf"), ("b.tar", b"any"),
     ("plots.gz", b"\x1f\x8b"), ("plots", b"BZh9"), ("plots.dat", b"\xfd7zXZ"), ("x.rar", b"Rar!")],
)  # fmt: skip
def test_archives_within(tmp_path: Path, name: str, begin: bytes) -> None:
    refused(zipped(tmp_path / "outer.zip", (name, begin + b" more")), f"{name}: holds another archive; unpack it first")
    folder = tmp_path / "folder"
    folder.mkdir()
    (folder / name).write_bytes(begin + b" more")
    refused(folder, "holds another archive; unpack it first")


def test_a_password(tmp_path: Path) -> None:
    path = zipped(tmp_path / "locked.zip", ("top.gtl", PLOT))
    data = bytearray(path.read_bytes())
    for mark, offset in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        data[data.index(mark) + offset] |= 1
    path.write_bytes(bytes(data))
    refused(path, "top.gtl: is locked with a password")


@pytest.mark.filterwarnings("ignore:Duplicate name")
@pytest.mark.parametrize("names", [("top.gtl", "top.gtl"), ("top.gtl", "TOP.GTL")])
def test_two_files_of_one_name(tmp_path: Path, names: tuple[str, str]) -> None:
    path = zipped(tmp_path / "twice.zip", *((name, PLOT) for name in names))
    refused(path, "holds two files of this name")


@pytest.mark.parametrize(
    ("data", "reason"),
    [(b"", "is no ZIP archive"), (b"PK\x03\x04 and then nothing", "is no ZIP archive"), (PLOT, "is no ZIP archive")],
)
def test_what_is_no_archive(tmp_path: Path, data: bytes, reason: str) -> None:
    path = tmp_path / "release.zip"
    path.write_bytes(data)
    refused(path, reason)


def test_a_damaged_file(tmp_path: Path) -> None:
    path = zipped(tmp_path / "hurt.zip", ("top.gtl", os.urandom(5000)))
    data = bytearray(path.read_bytes())
    data[2000] ^= 0xFF
    path.write_bytes(bytes(data))
    refused(path, "is no ZIP archive that can be read")


@pytest.mark.parametrize("compression", [zipfile.ZIP_DEFLATED, zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA])
@pytest.mark.parametrize("at", [4, 40, 2000])
def test_damage_to_whatever_way_of_packing(tmp_path: Path, compression: int, at: int) -> None:
    """Byte 4 of packed data is where LZMA keeps its settings."""
    path = zipped(tmp_path / "hurt.zip", ("top.gtl", os.urandom(5000)), compression=compression)
    data = bytearray(path.read_bytes())
    data[30 + len("top.gtl") + at] ^= 0xFF
    path.write_bytes(bytes(data))
    refused(path, "")


def test_an_unpacker_that_this_python_was_built_without(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = zipped(tmp_path / "release.zip", ("top.gtl", PLOT), compression=zipfile.ZIP_LZMA)
    monkeypatch.setattr(zipfile, "lzma", None)
    refused(path, "is no ZIP archive that can be read: Compression requires the (missing) lzma module")


def test_nothing_there(tmp_path: Path) -> None:
    refused(tmp_path / "missing", "cannot be read: No such file or directory")
    refused(tmp_path, "holds no file")
    refused(zipped(tmp_path / "empty.zip"), "holds no file")
