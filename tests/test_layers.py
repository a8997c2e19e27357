# SPDX-License-Identifier: MIT
"""Who may import whom, read off the import statements. The table is the architecture."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
CORE = ROOT / "core" / "lineworthy"
PLUGIN = ROOT / "plugin" / "lineworthy_kicad"

MODEL = {"errors", "shapes", "model"}
MEASURE = MODEL | {"geometry", "limits", "sheet", "finding", "registry"}

# layer of a core file (first path component) -> core layers it may import, besides itself
CORE_MAY = {
    "errors": set(),
    "escapes": set(),
    "safe": set(),
    "shapes": set(),
    "model": {"shapes"},
    "geometry": {"shapes", "model"},
    "limits": set(),
    "tomlfile": {"errors"},
    "sheet": {"errors", "files", "limits", "tomlfile"},
    "files": {"errors"},
    "concessions": {"errors", "files", "finding", "tomlfile"},
    "progress": {"safe"},
    "collector": set(),
    "project": {"errors", "files", "knowledge", "model", "tomlfile"},
    "intake": MODEL | {"files", "knowledge"},
    "plans": MEASURE | {"knowledge", "intake", "files"},
    "release": MODEL | {"finding", "files", "knowledge", "concessions", "sheet"},
    "beside": {"release", "concessions", "project", "intake", "errors", "model"},
    "finding": {"shapes", "model"},
    "registry": {"escapes", "finding", "model"},
    "knowledge": MODEL | {"escapes", "geometry", "limits", "sheet"},
    "checks": MEASURE | {"knowledge", "intake", "plans", "project", "release", "concessions"},
    "inputs": MEASURE | {"plans", "knowledge", "beside", "project", "concessions", "intake", "release"},
    "amend": MEASURE | {"beside", "inputs", "knowledge", "review"},
    "review": MEASURE | {"collector", "inputs", "checks", "beside", "concessions", "knowledge", "plans"},
    "picture": MODEL | {"geometry", "finding"},
    "report": MEASURE
    | {"picture", "review", "release", "knowledge", "plans", "intake", "concessions", "beside", "project", "safe"}
    | {"tomlfile"},
    "cli": MEASURE
    | {"report", "review", "inputs", "files", "progress", "checks", "plans", "intake", "beside", "project"}
    | {"concessions", "knowledge", "release", "safe", "tomlfile"},
    "__init__": MEASURE | {"review", "beside", "project"},
}
THIRD_PARTY = {"numpy", "shapely", "tomli", "openpyxl", "ezdxf"}
BINDINGS = {"pcbnew", "wx", "kipy", "pynng"}
EDITOR = BINDINGS | {"lineworthy_kicad"}


def imports(path: Path) -> set[str]:
    names: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative import"
            names |= {f"{node.module}.{alias.name}" for alias in node.names}
    return names


def layer(path: Path) -> str:
    parts = path.relative_to(CORE).with_suffix("").parts
    return parts[0]


def core_layers(names: set[str]) -> set[str]:
    ours = [name.split(".") for name in names]
    return {parts[1] for parts in ours if parts[0] == "lineworthy" and len(parts) > 1}


CORE_FILES = sorted(CORE.rglob("*.py"))
PLUGIN_FILES = sorted(PLUGIN.rglob("*.py"))


@pytest.mark.parametrize("path", CORE_FILES, ids=lambda path: path.relative_to(CORE).as_posix())
def test_core_file_imports_only_what_its_layer_may(path: Path) -> None:
    names = imports(path)
    tops = {name.split(".")[0] for name in names}
    assert not tops & EDITOR, f"the core knows no editor, {path.name} imports {tops & EDITOR}"
    here = layer(path)
    assert here in CORE_MAY, f"{here} is not in the table of layers"
    public = {"Board", "__version__"}
    got = core_layers(names) - {here} - public
    assert got <= CORE_MAY[here], f"{here} may not import {sorted(got - CORE_MAY[here])}"


@pytest.mark.parametrize("area", sorted((CORE / "checks").glob("*.py")), ids=lambda path: path.stem)
def test_areas_do_not_import_each_other(area: Path) -> None:
    if area.stem == "__init__":
        return
    others = {name for name in imports(area) if name.startswith("lineworthy.checks")}
    assert not others


# the dialog's files that draw: they know the contract with the presenter, and nothing of reviews and hosts
VIEW = ("view", "head", "findings", "canvas", "face", "flags", "painting", "lists", "detail", "forms", "colours")
VIEW_MAY = {"finding", "model", "picture", "safe", "shapes"}
PRESENTER = {"presenter", "shown", "reading", "planner", "ledger", "wording", "worker", "automation", "app"}

# plugin file -> bindings of the editor or the window toolkit it may import; all others none
PLUGIN_BINDINGS = {
    "hosts/pcbnew_host.py": {"pcbnew"},
    "hosts/pcbnew_items.py": {"pcbnew"},
    "hosts/pcbnew_window.py": {"wx"},
    "hosts/ipc_host.py": {"kipy"},
    "hosts/ipc_items.py": {"kipy"},
    "launch/in_process.py": {"wx"},
    "launch/ipc.py": {"wx", "pynng"},  # pynng: kicad-python's own transport
    "dialog/app.py": {"wx"},
    **{f"dialog/{name}.py": {"wx"} for name in VIEW},
}


@pytest.mark.parametrize("path", PLUGIN_FILES, ids=lambda path: path.relative_to(PLUGIN).as_posix())
def test_plugin_file_imports_only_its_own_binding(path: Path) -> None:
    tops = {name.split(".")[0] for name in imports(path)}
    may = PLUGIN_BINDINGS.get(path.relative_to(PLUGIN).as_posix(), set())
    assert tops & BINDINGS <= may, "one reader for all hosts: it works on document text; a host knows its own binding"


@pytest.mark.parametrize("name", VIEW)
def test_view_knows_nothing_of_reviews_and_hosts(name: str) -> None:
    names = imports(PLUGIN / "dialog" / f"{name}.py")
    assert core_layers(names) <= VIEW_MAY
    ours = {tuple(n.split(".")[1:3]) for n in names if n.startswith("lineworthy_kicad.")}
    assert all(place[0] == "dialog" and place[-1] not in PRESENTER for place in ours), ours


def test_only_small_known_libraries_are_used() -> None:
    import sys

    standard = set(sys.stdlib_module_names) if sys.version_info >= (3, 10) else None
    if standard is None:
        pytest.skip("sys.stdlib_module_names came with Python 3.10")
    for path in CORE_FILES + PLUGIN_FILES:
        tops = {name.split(".")[0] for name in imports(path)}
        ours = {"lineworthy", "lineworthy_kicad"} | (BINDINGS if path in PLUGIN_FILES else set())
        assert tops - standard <= THIRD_PARTY | ours, path


def test_the_table_would_notice_a_forbidden_import(tmp_path: Path) -> None:
    sample = tmp_path / "sample.py"
    sample.write_text("from lineworthy.cli import main\nimport pcbnew\n")
    assert core_layers(imports(sample)) == {"cli"}
    assert not {"cli"} <= CORE_MAY["checks"]
    assert "pcbnew" in {name.split(".")[0] for name in imports(sample)} & EDITOR
