# SPDX-License-Identifier: MIT
"""The action and the hook: their own files are read, and what they would run is run."""

from __future__ import annotations

import os
import re
import shlex
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
import yaml

ROOT = Path(__file__).parents[1]
ACTION = ROOT / ".github" / "actions" / "review" / "action.yml"
DEMO = ROOT / "demo" / "frost-alarm"
BIN = Path(sys.executable).parent

(HOOK,) = yaml.safe_load((ROOT / ".pre-commit-hooks.yaml").read_text(encoding="utf-8"))
MANIFEST: dict[str, Any] = yaml.safe_load(ACTION.read_text(encoding="utf-8"))
STEPS: dict[str, Any] = {step["name"]: step for step in MANIFEST["runs"]["steps"]}
ENV: dict[str, str] = STEPS["Review"]["env"]

pytestmark = pytest.mark.skipif(shutil.which("bash") is None, reason="the action's steps are for bash")


@pytest.fixture
def place(tmp_path: Path) -> Path:
    """A repository with a board that is on hold and one that is not, in a folder with a space in its name."""
    folder = tmp_path / "hard ware"
    folder.mkdir()
    shutil.copy(DEMO / "frost-alarm.kicad_pcb", folder / "planted.kicad_pcb")
    shutil.copy(DEMO / "frost-alarm-corrected.kicad_pcb", folder / "corrected.kicad_pcb")
    return tmp_path


def ran(place: Path, argv: list[str], **variables: str) -> subprocess.CompletedProcess[str]:
    home = {"PATH": f"{BIN}{os.pathsep}{os.environ['PATH']}", "LC_ALL": "C.UTF-8"}
    return subprocess.run(
        argv, cwd=place, env={**home, **variables}, capture_output=True, text=True, check=False, timeout=300
    )


# -- the README's examples


def examples() -> dict[str, Any]:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    blocks = re.findall(r"^```yaml\n(.*?)^```", text, re.MULTILINE | re.DOTALL)
    found: dict[str, Any] = {}
    for block in blocks:
        found |= yaml.safe_load(block)
    return found


def test_the_examples_name_what_is_there() -> None:
    shown = examples()
    ours = next(step for step in shown["steps"] if "lineworthy" in step["uses"])
    folder = ours["uses"].split("/", 2)[2].split("@")[0]
    assert (ROOT / folder / "action.yml") == ACTION
    assert set(ours["with"]) <= set(MANIFEST["inputs"])
    used = re.findall(r"steps\.lineworthy\.outputs\.(\w+)", str(shown))
    assert set(used) == {"reports"} == set(MANIFEST["outputs"])
    assert [hook["id"] for hook in shown["repos"][0]["hooks"]] == [HOOK["id"]]


# -- the hook


def test_the_hook_says_what_a_hook_must() -> None:
    assert {"id", "name", "entry", "language", "files"} <= set(HOOK)
    assert HOOK["language"] == "python"
    chosen, left = re.compile(HOOK["files"]), re.compile(HOOK["exclude"])
    names = ["a.kicad_pcb", "x/b.kicad_pcb", "x/_autosave-b.kicad_pcb", "a.kicad_pcb-bak", "a.kicad_sch"]
    assert [n for n in names if chosen.search(n) and not left.search(n)] == ["a.kicad_pcb", "x/b.kicad_pcb"]


def test_the_hook_stops_a_board_on_hold_and_lets_the_other_pass(place: Path) -> None:
    entry = shlex.split(HOOK["entry"])
    passed = ran(place, [*entry, "hard ware/corrected.kicad_pcb"])
    assert passed.returncode == 0, passed.stderr
    stopped = ran(place, [*entry, "--sheet", "relaxed", "hard ware/corrected.kicad_pcb", "hard ware/planted.kicad_pcb"])
    assert stopped.returncode == 1, stopped.stderr
    assert "On hold" in stopped.stdout


# -- the action


def test_the_action_is_whole_and_no_input_is_part_of_a_script() -> None:
    assert MANIFEST["runs"]["using"] == "composite"
    for step in STEPS.values():
        assert step["shell"] == "bash"
        assert "${{" not in step["run"]
    told = {f"${{{{ inputs.{name} }}}}" for name in MANIFEST["inputs"]}
    assert told == set(ENV.values())
    assert all("description" in given for given in MANIFEST["inputs"].values())


def step(name: str) -> list[str]:
    # as the runner starts a step: `bash --noprofile --norc -eo pipefail {0}`
    return ["bash", "--noprofile", "--norc", "-eo", "pipefail", "-c", STEPS[name]["run"]]


def reviewed(place: Path, boards: str, **changed: str) -> subprocess.CompletedProcess[str]:
    inputs = MANIFEST["inputs"]
    given = {variable: inputs[name[len("${{ inputs.") : -3]].get("default", "") for variable, name in ENV.items()}
    return ran(place, step("Review"), **{**given, "BOARDS": boards, "GITHUB_OUTPUT": str(place / "outputs"), **changed})


def test_the_action_writes_its_reports_and_fails_on_a_hold(place: Path) -> None:
    done = reviewed(place, "hard ware/*.kicad_pcb\n")
    assert done.returncode == 1, done.stderr
    assert (place / "outputs").read_text() == "reports=lineworthy-reports\n"
    names = sorted(path.name for path in (place / "lineworthy-reports").iterdir())
    kinds = (".html", ".junit.xml", ".sarif")
    assert names == sorted([f"{n}{k}" for n in ("corrected", "planted") for k in kinds] + ["index.html"])
    sarif = (place / "lineworthy-reports" / "planted.sarif").read_text(encoding="utf-8")
    assert '"uri": "hard%20ware/planted.kicad_pcb"' in sarif
    assert str(place) not in sarif


def test_the_action_passes_where_nothing_holds_and_takes_a_sheet(place: Path) -> None:
    done = reviewed(place, "\nhard ware/corrected.kicad_pcb", SHEET="relaxed", FORMATS="csv", REPORTS="out put")
    assert done.returncode == 0, done.stderr
    assert [path.name for path in (place / "out put").iterdir()] == ["corrected.csv"]


def test_a_name_with_pattern_signs_is_a_name(place: Path) -> None:
    shutil.copy(DEMO / "frost-alarm-corrected.kicad_pcb", place / "-v[1].kicad_pcb")
    done = reviewed(place, "-v[1].kicad_pcb", FORMATS="junit")
    assert done.returncode == 0, done.stderr


@pytest.mark.parametrize(
    ("boards", "said"),
    [("none/*.kicad_pcb", "no board matches: none/*.kicad_pcb"), ("\n", "no boards given"), ("gone.kicad_pcb", "gone")],
)
def test_no_board_is_not_a_pass(place: Path, boards: str, said: str) -> None:
    done = reviewed(place, boards)
    assert done.returncode == 2
    assert said in done.stderr


ATTACK = "x\"; touch pwned; '; touch pwned; $(touch pwned) `touch pwned` ; touch pwned"


@pytest.mark.parametrize("variable", sorted(ENV))
def test_no_input_is_run(place: Path, variable: str) -> None:
    done = reviewed(place, "hard ware/corrected.kicad_pcb", **{variable: ATTACK})
    assert done.returncode == (0 if variable == "REPORTS" else 2)
    assert not list(place.rglob("pwned"))


def test_the_action_installs_the_library_it_came_with(place: Path) -> None:
    """With stand-ins for the interpreters: which are made, what is installed, what is put on the path."""
    tools = place / "tools"
    tools.mkdir()
    maker = tools / "python3"
    maker.write_text(
        '#!/bin/sh\n[ "$1 $2" = "-m venv" ] || exit 9\nmkdir -p "$3/bin"\n'
        'printf \'#!/bin/sh\\nprintf "%%s\\\\n" "$@" > "$(dirname "$0")/asked"\\n\' > "$3/bin/python"\n'
        'chmod +x "$3/bin/python"\n'
    )
    maker.chmod(0o755)
    temp, path_file = place / "runner temp", place / "path"
    done = ran(
        place,
        step("Install"),
        PATH=f"{tools}{os.pathsep}{os.environ['PATH']}",
        RUNNER_TEMP=str(temp),
        GITHUB_ACTION_PATH=str(ACTION.parent),
        GITHUB_PATH=str(path_file),
    )
    assert done.returncode == 0, done.stderr
    made = temp / "lineworthy" / "bin"
    assert path_file.read_text() == f"{made}\n"
    *options, source = (made / "asked").read_text().splitlines()
    assert options[:3] == ["-m", "pip", "install"]
    assert (Path(source) / "pyproject.toml").samefile(ROOT / "pyproject.toml")
