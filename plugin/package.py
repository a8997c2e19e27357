# SPDX-License-Identifier: MIT
"""Builds the archives that the editor's package manager installs, one for each entry in `metadata.json`.

Both packages lie beside the entry files in them, so that an installed folder needs nothing but itself. The same tree
gives the same bytes. Run: python plugin/package.py [FOLDER]
"""

from __future__ import annotations

import json
import sys
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
EPOCH = (2020, 1, 1, 0, 0, 0)  # of every file: when it was packed says nothing
LEFT_OUT = {"__pycache__", "libraries"}
ENTRIES = {
    "swig": ("__init__.py",),
    # the in-process entry is in here too: the other one has no button while the editor's server is off, its default
    "ipc": ("__init__.py", "ipc_entry.py", "plugin.json", "requirements.txt"),
}
PACKAGES = (ROOT / "core" / "lineworthy", ROOT / "plugin" / "lineworthy_kicad")


def numbers(version: str) -> dict[str, str]:
    """Package versions by runtime: the package manager tells the two archives of one release by their number only."""
    major, minor, patch = version.split(".")
    return {
        "swig": f"{major}.{minor}.{int(patch) * 10}",
        "ipc": f"{major}.{minor}.{int(patch) * 10 + 1}",
    }


def metadata() -> dict[str, Any]:
    """The package's entry for a repository, with all versions."""
    loaded: dict[str, Any] = json.loads((ROOT / "metadata.json").read_text(encoding="utf-8"))
    return loaded


def contents(version: dict[str, Any]) -> Iterator[tuple[str, bytes]]:
    """Names and bytes of the files of one archive; `version` is its entry in the metadata."""
    own = {**metadata(), "versions": [version]}
    yield "metadata.json", (json.dumps(own, indent=2, ensure_ascii=False) + "\n").encode()
    yield "resources/icon.png", (ROOT / "icons" / "icon.png").read_bytes()
    yield "plugins/LICENSE", (ROOT / "LICENSE").read_bytes()
    for name in ENTRIES[version["runtime"]]:
        yield f"plugins/{name}", (ROOT / "plugin" / name).read_bytes()
    for icon in sorted((ROOT / "icons").glob("review-*.png")):
        yield f"plugins/icons/{icon.name}", icon.read_bytes()
    for package in PACKAGES:
        for path in sorted(package.rglob("*")):
            inside = path.relative_to(package.parent)
            if path.is_file() and not LEFT_OUT & set(inside.parts):
                yield f"plugins/{inside.as_posix()}", path.read_bytes()


def build(folder: Path) -> list[Path]:
    """Writes all archives and returns their paths."""
    folder.mkdir(parents=True, exist_ok=True)
    return [_build_one(folder, version) for version in metadata()["versions"]]


def _build_one(folder: Path, version: dict[str, Any]) -> Path:
    path = folder / f"lineworthy-{version['version']}-{version['runtime']}.zip"
    with zipfile.ZipFile(path, "w") as archive:
        for name, data in sorted(contents(version)):
            info = zipfile.ZipInfo(name, EPOCH)
            info.compress_type = zipfile.ZIP_DEFLATED
            info.external_attr = 0o644 << 16
            archive.writestr(info, data, compresslevel=9)
    return path


def install(archive: Path, third_party: Path) -> Path:
    """Unpacks an archive as the editor's package manager does, and returns the plug-in's folder.

    Args:
        archive: a zip as made by `build`.
        third_party: the editor's folder for packages, ``.../kicad/N.0/3rdparty``.
    """
    with zipfile.ZipFile(archive) as opened:
        own = json.loads(opened.read("metadata.json"))["identifier"].replace(".", "_")
        for name in opened.namelist():
            top, _, rest = name.partition("/")
            if rest and top in ("plugins", "resources"):
                target = third_party / top / own / rest
                target.parent.mkdir(parents=True, exist_ok=True)
                target.write_bytes(opened.read(name))
    return third_party / "plugins" / own


if __name__ == "__main__":
    for made in build(Path(sys.argv[1]) if len(sys.argv) > 1 else ROOT / "build"):
        sys.stdout.write(f"{made}\n")
