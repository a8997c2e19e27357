# SPDX-License-Identifier: MIT
"""How the dialog is started: one for each editor, gone with it, and honest about libraries that are missing."""

from __future__ import annotations

import runpy
import shlex
import subprocess
import sys
import threading
import types
from pathlib import Path
from typing import IO

import pytest

from lineworthy_kicad.launch import in_process, libraries, single
from lineworthy_kicad.launch.single import Single

ENTRY = Path(__file__).parents[2] / "plugin" / "__init__.py"


# ---- one for each editor


def test_the_first_one_has_the_right(tmp_path: Path) -> None:
    first = Single("editor", tmp_path)
    assert first.take()
    assert not first.was_called()


def test_a_second_one_calls_the_first(tmp_path: Path) -> None:
    first, second = Single("editor", tmp_path), Single("editor", tmp_path)
    assert first.take()
    assert not second.take()
    assert first.was_called()
    assert not first.was_called(), "one call is heard once"


def test_two_editors_have_one_each(tmp_path: Path) -> None:
    assert Single("one", tmp_path).take()
    assert Single("other", tmp_path).take()


def test_the_right_is_free_once_given_back(tmp_path: Path) -> None:
    first = Single("editor", tmp_path)
    assert first.take()
    first.release()
    assert Single("editor", tmp_path).take()


def test_nothing_is_left_behind_and_who_came_at_that_moment_has_the_right(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    first, second, third = (Single("editor", tmp_path) for _ in range(3))
    assert first.take()
    lock = single._lock

    def late(file: IO[bytes]) -> bool:
        first.release()  # after the second has opened the file, before it asks for it
        return lock(file)

    monkeypatch.setattr(single, "_lock", late)
    assert second.take()
    monkeypatch.undo()
    assert not third.take()
    second.release()
    assert list(tmp_path.iterdir()) == []


def test_a_killed_process_holds_nothing(tmp_path: Path) -> None:
    code = (
        "import sys; from pathlib import Path; from lineworthy_kicad.launch.single import Single\n"
        "print(Single('editor', Path(sys.argv[1])).take(), flush=True); s = Single('x', Path(sys.argv[1])); s.take()\n"
        "held = Single('held', Path(sys.argv[1])); print(held.take(), flush=True); sys.stdin.read()"
    )
    child = subprocess.Popen(
        [sys.executable, "-c", code, str(tmp_path)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    assert child.stdout is not None
    assert child.stdout.readline() == "True\n"
    assert child.stdout.readline() == "True\n"
    assert not Single("held", tmp_path).take()
    child.kill()
    child.wait()
    child.stdout.close()
    assert Single("held", tmp_path).take()


# ---- gone with the editor


def test_an_editor_that_is_gone_is_noticed(tmp_path: Path) -> None:
    pynng = pytest.importorskip("pynng")
    from lineworthy_kicad.launch.ipc import Presence

    address = f"ipc://{tmp_path / 's'}"
    gone = threading.Event()
    with pynng.Rep0(listen=address):
        presence = Presence(address, gone.set, pause_s=0.05)
        presence.start()
        assert not gone.wait(0.6), "it is there, though it answers nothing"
    assert gone.wait(5)


def test_without_an_address_nobody_is_gone() -> None:
    pytest.importorskip("pynng")
    from lineworthy_kicad.launch.ipc import Presence

    gone = threading.Event()
    Presence("", gone.set, pause_s=0.02).start()
    assert not gone.wait(0.4)


def test_a_folder_nobody_can_write_in_keeps_nothing_from_starting(tmp_path: Path) -> None:
    from lineworthy_kicad.launch import ipc

    (tmp_path / "file").touch()
    ipc._log_to(tmp_path / "file" / "dialog.log")
    ipc.log.info("heard by nobody")


# ---- inside the editor


class Stubborn:
    """A host whose editor inserts, and then fails to fill the pours."""

    title = "widget.kicad_pcb"

    def apply(self, amendments: object, label: str) -> tuple[str, ...]:
        return ("new",)

    def refill(self) -> None:
        raise TypeError("of the bindings")


def test_what_was_inserted_stands_where_the_pours_are_not_filled(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(in_process, "_press", lambda label: in_process._jobs.pop()())
    host = in_process.SteppingHost(Stubborn(), "Lineworthy review")  # type: ignore[arg-type]
    assert host.apply((), "insert") == ("new",)


# ---- libraries


def test_nothing_is_missing_here() -> None:
    assert libraries.missing() == ()
    assert libraries.advice() == ""


def test_a_library_that_is_not_there_or_too_old_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    old = types.ModuleType("shapely")
    old.__version__ = "1.8.5"  # type: ignore[attr-defined]
    monkeypatch.setitem(sys.modules, "shapely", old)
    monkeypatch.setitem(sys.modules, "numpy", None)
    assert libraries.missing() == ("shapely>=2.0.7", "numpy>=1.24")
    assert "shapely>=2.0.7, numpy>=1.24" in libraries.advice()


@pytest.mark.parametrize("has_pip", [True, False])
def test_pip_itself_is_asked_for_where_the_command_would_not_find_it(
    monkeypatch: pytest.MonkeyPatch, has_pip: bool
) -> None:
    """Debian's own Python has ensurepip, which refuses to work, and no pip before one installs it."""
    monkeypatch.setitem(sys.modules, "shapely", None)
    found = {"pip": object() if has_pip else None, "ensurepip": object()}
    monkeypatch.setattr(libraries.importlib.util, "find_spec", found.get)
    assert ("apt-get install python3-pip" in libraries.advice()) is not has_pip


def test_the_newest_shapely_is_not_too_old(monkeypatch: pytest.MonkeyPatch) -> None:
    new = types.ModuleType("shapely")
    new.__version__ = "2.10"  # type: ignore[attr-defined]
    monkeypatch.setitem(sys.modules, "shapely", new)
    assert libraries.missing() == ()


def test_the_command_is_for_this_interpreter_and_survives_a_shell(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(libraries, "PLUGIN", Path("/home/a b/plugins/it's"))
    words = shlex.split(libraries.command(["shapely>=2.0.7"]))
    assert words[1:5] == ["-m", "pip", "install", "--upgrade"]
    assert words[words.index("--target") + 1] == f"/home/a b/plugins/it's/libraries/{sys.implementation.cache_tag}"
    assert words[-1] == "shapely>=2.0.7"
    answer = subprocess.run(
        [words[0], "-c", "import sys; print(sys.implementation.cache_tag)"], capture_output=True, text=True, check=True
    )
    assert answer.stdout.strip() == sys.implementation.cache_tag


def test_an_old_python_is_told_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(libraries.sys, "version_info", (3, 8, 10))
    assert "3.9 or newer" in libraries.advice()


# ---- the entry file


class FakeBindings(types.ModuleType):
    """As much of the editor's bindings as the entry file uses."""

    def __init__(self, version: str, settings: Path) -> None:
        super().__init__("pcbnew")
        self.registered: list[object] = []
        registered = self.registered

        class ActionPlugin:
            def __init__(self) -> None:
                self.defaults()

            def defaults(self) -> None:
                raise NotImplementedError

            def register(self) -> None:
                registered.append(self)

        self.ActionPlugin = ActionPlugin
        self.GetMajorMinorVersion = lambda: version
        self.SETTINGS_MANAGER = types.SimpleNamespace(GetUserSettingsPath=lambda: str(settings))


def load_entry(
    monkeypatch: pytest.MonkeyPatch, version: str, settings: Path, in_editor: bool = True
) -> list[types.SimpleNamespace]:
    bindings = FakeBindings(version, settings)
    toolkit = types.ModuleType("wx")
    toolkit.GetApp = lambda: object() if in_editor else None  # type: ignore[attr-defined]
    monkeypatch.setitem(sys.modules, "pcbnew", bindings)
    monkeypatch.setitem(sys.modules, "wx", toolkit)
    runpy.run_path(str(ENTRY))
    return bindings.registered  # type: ignore[return-value]


@pytest.mark.parametrize(
    ("version", "count"), [("5.1", 0), ("6.0", 1), ("8.0", 1), ("9.0", 1), ("10.0", 1), ("11.0", 0)]
)
def test_it_registers_in_versions_whose_bindings_were_tried(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, version: str, count: int
) -> None:
    assert len(load_entry(monkeypatch, version, tmp_path)) == count


def test_it_registers_nothing_outside_the_editor(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    assert load_entry(monkeypatch, "9.0", tmp_path, in_editor=False) == []


@pytest.mark.parametrize(
    ("version", "common", "has_button"),
    [
        ("9.0", '{"api": {"enable_server": true}}', False),
        ("9.0", '{"api": {"enable_server": false}}', True),
        ("9.0", '{"api": null}', True),
        ("9.0", "not JSON", True),
        ("6.0", '{"api": {"enable_server": true}}', True),
    ],
)
def test_there_is_one_button_never_two(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, version: str, common: str, has_button: bool
) -> None:
    (tmp_path / "kicad_common.json").write_text(common, encoding="utf-8")
    (action,) = load_entry(monkeypatch, version, tmp_path)
    assert action.show_toolbar_button is has_button


def test_loading_it_imports_nothing_heavy() -> None:
    code = (
        "import sys, types\n"
        "pcbnew = types.ModuleType('pcbnew'); wx = types.ModuleType('wx'); wx.GetApp = lambda: 1\n"
        "pcbnew.GetMajorMinorVersion = lambda: '9.0'\n"
        "pcbnew.ActionPlugin = type('A', (), {'register': lambda self: None})\n"
        "sys.modules.update(pcbnew=pcbnew, wx=wx); before = set(sys.modules); path = list(sys.path)\n"
        f"import runpy; runpy.run_path({str(ENTRY)!r})\n"
        "assert sys.path == path\n"
        "new = {name.split('.')[0] for name in set(sys.modules) - before}\n"
        "assert not new & {'lineworthy', 'lineworthy_kicad', 'shapely', 'numpy'}, new\n"
    )
    subprocess.run([sys.executable, "-c", code], check=True)
