# SPDX-License-Identifier: MIT
"""The hosts under test, each on a fresh copy of the contract board, and what each of them can do."""

from __future__ import annotations

import json
import re
import subprocess
from collections.abc import Sequence
from dataclasses import asdict, dataclass, field
from functools import cache
from pathlib import Path
from typing import Any, Callable, Optional

from editor_session import HOW, ROOT, EditorSession, editor_packages
from lineworthy.amend.amendment import Amendment
from lineworthy_kicad.hosts.host import Applied, DocumentText, Host, HostError

DRIVER = Path(__file__).with_name("driver.py")
DRIVEN_PYTHON = "/usr/bin/python3"

Ask = Callable[[dict[str, Any]], dict[str, Any]]


@dataclass
class Subject:
    """A host under test.

    Attributes:
        host: with the contract board open.
        undo: takes back the last undo step; None where the host has none.
        redo: brings it back.
        shows: whether it has a view.
        fills: whether it can fill pours.
        editor: the editor it talks to, where there is a window.
        declares: whether it can write pad properties.
    """

    host: Host
    board: Path
    undo: Optional[Callable[[], None]] = None
    redo: Optional[Callable[[], None]] = None
    shows: bool = True
    fills: bool = True
    declares: bool = True
    editor: Optional[EditorSession] = field(default=None, repr=False)

    def text(self) -> str:
        """The document as it is now, asked for in a way that leaves no undo step."""
        if self.editor is not None:
            return str(self.editor.client().get_board().get_as_string())
        return self.host.document().text


class DrivenHost:
    """An in-process host that lives in another process, through `driver.py`."""

    def __init__(self, ask: Ask) -> None:
        self._ask = ask
        self.title: str = self._result(call="title")

    def document(self) -> DocumentText:
        return DocumentText(*self._result(call="document"))

    def show(self, uids: Sequence[str]) -> bool:
        return bool(self._result(call="show", uids=list(uids)))

    def apply(self, amendments: Sequence[Amendment], label: str) -> tuple[Applied, ...]:
        uids = self._result(call="apply", amendments=[_packed(each) for each in amendments], label=label)
        return tuple(Applied(amendment, uid) for amendment, uid in zip(amendments, uids))

    def refill(self) -> None:
        self._result(call="refill")

    def _result(self, **request: Any) -> Any:
        answer = self._ask(request)
        if "refused" in answer:
            raise HostError(answer["refused"])
        assert "result" in answer, answer.get("crashed", answer)
        return answer["result"]


def _packed(amendment: Amendment) -> dict[str, Any]:
    values = {name: getattr(value, "value", value) for name, value in asdict(amendment).items()}
    return {"kind": type(amendment).__name__, **values}


def without_field_ids(text: str) -> str:
    """A document without the ids of its parts' fields, which the editor makes anew when it undoes a plug-in."""
    return re.sub(r'(\(property "[^"]*" .*?\(uuid )"[^"]*"', r"\1", text, flags=re.DOTALL)


_clean: dict[str, str] = {}
"""The board of each editor as it was at first, by display."""


def freshen(editor: EditorSession) -> None:
    """The board as it was at the start; undoing is much faster than loading it again."""
    board = editor.client().get_board()
    board.clear_selection()
    clean = _clean.setdefault(editor.display, without_field_ids(board.get_as_string()))
    for _ in range(8):
        if without_field_ids(board.get_as_string()) == clean:
            break
        editor.run_action("common.Interactive.undo")
    else:
        board.revert()
        assert without_field_ids(board.get_as_string()) == clean
    editor.run_action("common.Control.zoomFitScreen")


def library_paths() -> list[str]:
    """What the editor's Python needs on its path."""
    return [str(ROOT / "core"), str(ROOT / "plugin"), str(editor_packages())]


@cache
def bindings_major() -> int:
    """Major version of the bindings that the editor's Python has; fails in one line where it has none."""
    ask = "import pcbnew; print(pcbnew.GetBuildVersion())"
    done = subprocess.run([DRIVEN_PYTHON, "-c", ask], capture_output=True, text=True, env={}, check=False)
    assert done.returncode == 0, f"{DRIVEN_PYTHON} has no bindings of the board editor: {HOW}"
    return int(done.stdout.split()[-1].split(".")[0])


class Headless:
    """The in-process bindings without an editor: a process of the editor's Python with the board loaded."""

    def __init__(self, board: Path, log: Path) -> None:
        self._log = log.open("w", encoding="utf-8")
        self._process = subprocess.Popen(
            [DRIVEN_PYTHON, str(DRIVER), str(board)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=self._log,
            text=True,
            env={"PYTHONPATH": ":".join(library_paths()), "PATH": "/usr/bin:/bin", "HOME": str(log.parent)},
        )

    def ask(self, request: dict[str, Any]) -> dict[str, Any]:
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._process.stdin.write(json.dumps(request) + "\n")
        self._process.stdin.flush()
        line = self._process.stdout.readline()
        assert line, f"the editor's Python ended: {Path(self._log.name).read_text(encoding='utf-8')[-2000:]}"
        answer: dict[str, Any] = json.loads(line)
        return answer

    def close(self) -> None:
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._process.stdin.close()
        self._process.stdout.close()
        self._process.wait(20)
        self._log.close()


class Inside:
    """The in-process bindings in a running editor, served by the driver's plug-in."""

    def __init__(self, editor: EditorSession) -> None:
        self._editor, self._folder = editor, mailbox(editor)

    def ask(self, request: dict[str, Any]) -> dict[str, Any]:
        part, answered = self._folder / "request.part", self._folder / "answer.json"
        part.write_text(json.dumps(request), encoding="utf-8")
        part.rename(self._folder / "request.json")
        self._editor.wait_for(answered.exists, f"the plug-in to answer {request['call']}", seconds=30, pause=0.01)
        answer: dict[str, Any] = json.loads(answered.read_text(encoding="utf-8"))
        answered.unlink()
        return answer


def mailbox(editor: EditorSession) -> Path:
    """Where requests for the driver's plug-in go."""
    folder = editor.folder / "mail"
    folder.mkdir(exist_ok=True)
    return folder


def install_driver(editor: EditorSession) -> None:
    """Puts the driver's plug-in where the editor finds it."""
    plugins = editor.data / "scripting" / "plugins"
    plugins.mkdir(parents=True)
    lines = [
        "import pathlib, sys",
        f"sys.path[:0] = {[str(DRIVER.parent), *library_paths()]!r}",
        "import driver",
        f"driver.install(pathlib.Path({str(mailbox(editor))!r}))",
    ]
    (plugins / "host_under_test.py").write_text("\n".join(lines) + "\n", encoding="utf-8")
