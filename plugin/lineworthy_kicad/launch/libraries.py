# SPDX-License-Identifier: MIT
"""The libraries the review needs, in an editor that cannot install any: what is missing, and how to get it.

Only the standard library is used in here. Libraries go to a folder of this plug-in, one for each Python: nothing of
the system or of other plug-ins changes, a system that forbids installing into its own Python does not object, and
removing the plug-in removes them too.
"""

from __future__ import annotations

import importlib
import importlib.util
import os
import re
import shlex
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

PLUGIN = Path(__file__).resolve().parents[2]
PYTHON_MIN = (3, 9)
NEEDED = {"shapely": "2.0.7", "numpy": "1.24"}
if sys.version_info < (3, 11):
    NEEDED["tomli"] = "2"


def folder() -> Path:
    """Where this interpreter's libraries of the plug-in lie."""
    return PLUGIN / "libraries" / str(sys.implementation.cache_tag)


def use() -> None:
    """Puts the plug-in's libraries on the module path, before the system's, whose shapely may be too old."""
    path = str(folder())
    if path not in sys.path and os.path.isdir(path):
        sys.path.insert(0, path)
        importlib.invalidate_caches()


def missing() -> tuple[str, ...]:
    """What must be installed, as requirements; empty when all is there."""
    lacking = []
    for name, least in NEEDED.items():
        try:
            module = importlib.import_module(name)
        except Exception:  # a library built for another Python fails in many ways
            lacking.append(f"{name}>={least}")
            continue
        version = getattr(module, "__version__", least)
        if _numbers(version) < _numbers(least):
            lacking.append(f"{name}>={least}")
    return tuple(lacking)


def interpreter() -> str:
    """The Python program of the interpreter inside the editor; `sys.executable` may be the editor or another Python."""
    base = Path(sys.base_prefix)
    major, minor = sys.version_info[:2]
    names = (
        (base / "python.exe", base / "bin" / "python.exe")
        if os.name == "nt"
        else (base / "bin" / f"python{major}.{minor}", base / "bin" / "python3")
    )
    return str(next((name for name in names if name.is_file()), "python" if os.name == "nt" else "python3"))


def command(requirements: Sequence[str]) -> str:
    """The command line that installs them, to be pasted into a terminal."""
    words = [interpreter(), "-m", "pip", "install", "--upgrade", "--target", str(folder()), *requirements]
    if os.name == "nt":
        return subprocess.list2cmdline(words)
    return shlex.join(words)


def advice() -> str:
    """What stands in the way of a review and how to remove it, in words; empty when nothing does."""
    if sys.version_info < PYTHON_MIN:
        return (
            f"This editor brings Python {sys.version_info[0]}.{sys.version_info[1]}; Lineworthy needs "
            f"{PYTHON_MIN[0]}.{PYTHON_MIN[1]} or newer. The command line review works with any newer Python."
        )
    use()
    lacking = missing()
    if not lacking:
        return ""
    lines = [
        f"Lineworthy needs Python libraries that this editor does not have: {', '.join(lacking)}.",
        "Run this command in a terminal, then start the editor again:",
    ]
    # ensurepip is no help where a distribution ships it but forbids it for its own Python, as Debian does
    if importlib.util.find_spec("pip") is None:
        lines.insert(1, "Its Python has no pip: install that first (on Debian: sudo apt-get install python3-pip).")
    return "\n\n".join(lines)


def _numbers(version: str) -> tuple[int, ...]:
    return tuple(int(part) for part in re.findall(r"\d+", version)[:3])
