# SPDX-License-Identifier: MIT
"""The archives: valid, complete, the same bytes from the same tree, and working from where the editor unpacks them."""

from __future__ import annotations

import hashlib
import json
import struct
import subprocess
import sys
import zipfile
from pathlib import Path
from typing import Any

import pytest

import lineworthy

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT / "plugin"))
import package  # noqa: E402 - a script beside the entry files, not a module of the product

SCHEMAS = Path("/usr/share/kicad/schemas")
IDENTIFIER = "org.lineworthy.review"


@pytest.fixture(scope="session")
def archives(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    built = package.build(tmp_path_factory.mktemp("archives"))
    return {path.stem.rsplit("-", 1)[1]: path for path in built}


@pytest.fixture(scope="session")
def installed(archives: dict[str, Path], tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("third-party")
    return {runtime: package.install(path, folder / runtime) for runtime, path in archives.items()}


def metadata_in(archive: Path) -> dict[str, Any]:
    with zipfile.ZipFile(archive) as opened:
        loaded: dict[str, Any] = json.loads(opened.read("metadata.json"))
        return loaded


def check_against(schema: Path, what: object) -> None:
    import jsonschema

    if not schema.is_file():
        pytest.fail("the editor that ships the schemas is not installed: run 'sh tests/install-editor.sh' as root")
    jsonschema.Draft7Validator(json.loads(schema.read_text(encoding="utf-8"))).validate(what)


def test_there_is_one_archive_for_each_world(archives: dict[str, Path]) -> None:
    assert sorted(archives) == ["ipc", "swig"]


def test_the_same_tree_gives_the_same_bytes(archives: dict[str, Path], tmp_path: Path) -> None:
    again = {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in package.build(tmp_path)}
    assert again == {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in archives.values()}


@pytest.mark.editor
def test_repository_entry_is_valid() -> None:
    check_against(SCHEMAS / "pcm.v1.schema.json", package.metadata())


@pytest.mark.editor
@pytest.mark.parametrize("runtime", ["swig", "ipc"])
def test_metadata_in_the_archive_is_valid(archives: dict[str, Path], runtime: str) -> None:
    own = metadata_in(archives[runtime])
    check_against(SCHEMAS / "pcm.v1.schema.json", own)
    # what the package manager itself demands of an archive
    assert len(own["versions"]) == 1
    assert not [key for key in own["versions"][0] if key.startswith("download_")]
    assert own["versions"][0]["runtime"] == runtime


@pytest.mark.editor
def test_a_wrong_entry_would_be_noticed() -> None:
    import jsonschema

    broken = {**package.metadata(), "identifier": "no_underscores.allowed"}
    with pytest.raises(jsonschema.ValidationError):
        check_against(SCHEMAS / "pcm.v1.schema.json", broken)


def test_no_editor_version_is_left_out_or_served_twice() -> None:
    old, new = sorted(package.metadata()["versions"], key=lambda entry: entry["kicad_version"])
    assert (old["kicad_version"], old["kicad_version_max"]) == ("6.0", "8.99")
    assert new["kicad_version"] == "9.0"
    assert "kicad_version_max" not in new


def test_package_numbers_follow_the_library_s_version() -> None:
    given = {entry["runtime"]: entry["version"] for entry in package.metadata()["versions"]}
    assert given == package.numbers(lineworthy.__version__)


def test_two_releases_never_share_a_number() -> None:
    one, next_one = package.numbers("1.2.3"), package.numbers("1.2.4")
    assert len({*one.values(), *next_one.values()}) == 4


@pytest.mark.editor
def test_plugin_json_is_valid(installed: dict[str, Path]) -> None:
    given = json.loads((installed["ipc"] / "plugin.json").read_text(encoding="utf-8"))
    check_against(SCHEMAS / "api.v1.schema.json", given)
    assert given["identifier"] == IDENTIFIER == package.metadata()["identifier"]


def test_kicad_python_s_packager_accepts_the_archive(archives: dict[str, Path]) -> None:
    validate = pytest.importorskip("kipy.packaging.validate")
    report = validate.validate(archives["ipc"])
    assert [message.to_dict() for message in report.messages if message.level != "info"] == []


def test_it_is_unpacked_to_a_folder_named_by_the_identifier(installed: dict[str, Path]) -> None:
    for folder in installed.values():
        assert folder.name == "org_lineworthy_review"
        assert folder.parent.name == "plugins"
        assert (folder.parents[1] / "resources" / folder.name / "icon.png").is_file()


def test_only_the_new_archive_starts_a_process(installed: dict[str, Path]) -> None:
    assert not (installed["swig"] / "plugin.json").exists()
    assert (installed["ipc"] / "plugin.json").is_file()
    assert all((folder / "__init__.py").is_file() for folder in installed.values())


def test_nothing_of_a_workplace_gets_in(archives: dict[str, Path]) -> None:
    for archive in archives.values():
        with zipfile.ZipFile(archive) as opened:
            names = opened.namelist()
        assert not [name for name in names if "__pycache__" in name or name.endswith((".pyc", ".orig", "package.py"))]
        assert {name.split("/")[0] for name in names} == {"metadata.json", "plugins", "resources"}


@pytest.mark.parametrize("runtime", ["swig", "ipc"])
def test_the_library_works_from_the_installed_folder(installed: dict[str, Path], runtime: str, tmp_path: Path) -> None:
    board = ROOT / "demo" / "frost-alarm" / "frost-alarm.kicad_pcb"
    code = (
        "import sys; sys.path.insert(0, sys.argv[1])\n"
        "import lineworthy, lineworthy_kicad.reader as reader\n"
        "assert lineworthy.__file__.startswith(sys.argv[1]), lineworthy.__file__\n"
        "assert reader.__file__.startswith(sys.argv[1])\n"
        "from lineworthy.report import FORMATS\n"
        "sys.stdout.write(FORMATS['json'].render(lineworthy.review(reader.read_board(sys.argv[2]))))\n"
    )
    # -I -S keep the checkout and its editable install out; the libraries' folder is given by hand
    libraries = str(Path(sys.modules["shapely"].__file__ or "").parents[1])
    code = f"import sys; sys.path.append({libraries!r})\n" + code
    answer = subprocess.run(
        [sys.executable, "-I", "-S", "-c", code, str(installed[runtime]), str(board)],
        capture_output=True,
        text=True,
        cwd=tmp_path,
        check=False,
    )
    assert answer.returncode == 0, answer.stderr
    from lineworthy.report import FORMATS
    from lineworthy_kicad.reader import read_board

    assert answer.stdout == FORMATS["json"].render(lineworthy.review(read_board(board)))


def png_size(path: Path) -> tuple[int, int]:
    head = path.read_bytes()[:24]
    assert head.startswith(b"\x89PNG")
    width, height = struct.unpack(">II", head[16:24])
    return width, height


def test_icons_have_the_sizes_the_editor_asks_for(installed: dict[str, Path]) -> None:
    action = json.loads((installed["ipc"] / "plugin.json").read_text(encoding="utf-8"))["actions"][0]
    for theme in ("icons-light", "icons-dark"):
        assert [png_size(installed["ipc"] / name) for name in action[theme]] == [(24, 24), (48, 48)]
    assert png_size(installed["ipc"].parents[1] / "resources" / "org_lineworthy_review" / "icon.png") == (64, 64)


def test_icons_are_what_their_script_draws(tmp_path: Path) -> None:
    image = pytest.importorskip("PIL.Image")
    script = ROOT / "icons" / "draw.py"
    subprocess.run([sys.executable, str(script), str(tmp_path)], check=True)
    for drawn in sorted(tmp_path.iterdir()):
        kept = script.parent / drawn.name
        if drawn.suffix == ".svg":
            assert kept.read_text(encoding="utf-8") == drawn.read_text(encoding="utf-8")
        else:
            assert image.open(kept).tobytes() == image.open(drawn).tobytes(), drawn.name


def test_icons_stand_out_on_their_background() -> None:
    """Every colour has at least the contrast WCAG 2.1 asks of graphics, 3:1, on the toolbars of its theme."""
    import runpy

    themes = runpy.run_path(str(ROOT / "icons" / "draw.py"))["THEMES"]

    def luminance(colour: str) -> float:
        values = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
        red, green, blue = (v / 12.92 if v <= 0.03928 else ((v + 0.055) / 1.055) ** 2.4 for v in values)
        return 0.2126 * red + 0.7152 * green + 0.0722 * blue

    for theme, ground in (("light", "#f0f0f0"), ("dark", "#2e2e2e")):
        for colour in themes[theme].values():
            high, low = sorted((luminance(colour), luminance(ground)), reverse=True)
            assert (high + 0.05) / (low + 0.05) >= 3.0, (theme, colour)
