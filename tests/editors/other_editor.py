# SPDX-License-Identifier: MIT
"""One more version of the editor, inside the Debian that chroot.sh makes."""

from __future__ import annotations

import hashlib
import json
import os
import re
import shlex
import shutil
import subprocess
from dataclasses import dataclass
from pathlib import Path
from typing import Any

CHROOTS = "LINEWORTHY_EDITORS"
"""Environment variable with the folder of the chroots, each named after its Debian release."""
ROOT = Path(__file__).parents[2]
ORACLE = ROOT / "tests" / "oracle"
WORK = "srv/lineworthy"
BARE = {"PATH": "/usr/local/bin:/usr/bin:/bin:/usr/sbin:/sbin", "HOME": "/root", "LANG": "C.UTF-8", "TMPDIR": "/tmp"}


@dataclass(frozen=True)
class OtherEditor:
    """An editor in a root folder of its own.

    Attributes:
        root: the folder that is `/` to it.
        version: as the editor says it.
    """

    root: Path
    version: str

    @classmethod
    def named(cls, suite: str, major: int) -> OtherEditor:
        """The editor of a Debian release.

        Raises:
            AssertionError: it is not there, or is of another major version.
        """
        root = Path(os.environ[CHROOTS]) / suite
        assert (root / ".lineworthy-ready").exists(), f"no {root}: run 'make test-editors' as root"
        version = cls(root, "").run("python3", "-c", "import pcbnew; print(pcbnew.GetBuildVersion())").split()[-1]
        assert version.startswith(f"{major}."), f"{suite} has editor {version}, not {major}"
        return cls(root, version)

    @property
    def major(self) -> int:
        return int(self.version.split(".")[0])

    def run(self, *command: str, **environment: str) -> str:
        """Runs a program in there and returns what it wrote.

        Raises:
            RuntimeError: it failed; with the end of what it said.
        """
        result = subprocess.run(
            ["chroot", str(self.root), *command],
            capture_output=True,
            text=True,
            errors="replace",
            env={**BARE, **environment},
            check=False,
        )
        if result.returncode != 0:
            raise RuntimeError(f"{command[:3]} in {self.root.name}: {(result.stdout + result.stderr)[-12000:]}")
        return result.stdout

    def demos(self) -> list[Path]:
        """The boards this version ships, smallest first."""
        found = (self.root / "usr/share/kicad/demos").rglob("*.kicad_pcb")
        return sorted(found, key=lambda path: (path.stat().st_size, str(path)))

    def inside(self, path: Path) -> str:
        """A path below `root` as the editor sees it."""
        return "/" + path.relative_to(self.root).as_posix()

    def folder(self, *names: str) -> Path:
        """A folder for tests inside."""
        folder = self.root.joinpath(WORK, *names)
        folder.mkdir(parents=True, exist_ok=True)
        return folder

    def project(self) -> str:
        """This project as it is now, copied inside; its folder as the editor sees it."""
        folder = self.folder("project")
        for name in ("core", "plugin", "tests", "icons"):
            shutil.rmtree(folder / name, ignore_errors=True)
            shutil.copytree(ROOT / name, folder / name, ignore=shutil.ignore_patterns("__pycache__"))
        for name in ("pyproject.toml", "metadata.json", "LICENSE"):
            shutil.copy(ROOT / name, folder)
        return self.inside(folder)

    def pytest(self, *arguments: str, python_path: tuple[str, ...] = ()) -> str:
        """Runs tests of this project inside, and returns what they wrote.

        Raises:
            RuntimeError: one failed, or none ran.
        """
        project = self.project()
        path = ":".join(f"{project}/{name}" for name in ("core", "plugin", "tests", *python_path))
        wanted = " ".join(shlex.quote(argument) for argument in arguments)
        command = f"cd {project} && exec /opt/lineworthy/bin/python -m pytest -q -p no:cacheprovider {wanted}"
        return self.run("sh", "-c", command, PYTHONPATH=path)

    def ask(self, board: Path) -> dict[str, Any]:
        """What this editor says about a board below `root`, in the form of tests/oracle/dump_shared.py; kept."""
        dump = Path(__file__).with_name("dump6.py") if self.major == 6 else ORACLE / "dump.py"
        scripts = (dump, ORACLE / "dump_shared.py")
        asked = _digest(self.version.encode(), *(script.read_bytes() for script in scripts), *_contents(board))
        answer = self.folder("answers") / f"{asked}.json"
        if not answer.exists():
            for script in scripts:
                shutil.copy(script, self.folder())
            self.run("python3", f"/{WORK}/{dump.name}", self.inside(board), self.inside(answer))
        facts: dict[str, Any] = json.loads(answer.read_text(encoding="utf-8"))
        return facts

    def upgraded(self, board: Path) -> Path:
        """A copy of a board as this version saves it, its project beside it; kept."""
        folder = self.folder("upgraded", _digest(self.version.encode(), *_contents(board)))
        copy = folder / board.name
        if not copy.exists():
            fresh = self.folder("upgrading") / board.name
            for one in (board, board.with_suffix(".kicad_pro")):
                if one.exists():
                    shutil.copy(one, fresh.with_suffix(one.suffix))
            self.run("kicad-cli", "pcb", "upgrade", "--force", self.inside(fresh))
            for one in (fresh.with_suffix(".kicad_pro"), fresh):
                if one.exists():
                    os.replace(one, folder / one.name)
        return copy


def passed(output: str) -> int:
    """How many tests passed in there; nothing may have been left out."""
    found = re.search(r"^(\d+) passed(, \d+ deselected)? in ", output.replace("=", "").lstrip(), re.M)
    assert found, output[-2000:]
    return int(found[1])


def _contents(board: Path) -> list[bytes]:
    project = board.with_suffix(".kicad_pro")
    return [board.read_bytes(), project.read_bytes() if project.exists() else b""]


def _digest(*parts: bytes) -> str:
    whole = hashlib.sha256()
    for part in parts:
        whole.update(hashlib.sha256(part).digest())
    return whole.hexdigest()[:32]
