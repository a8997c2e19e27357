# SPDX-License-Identifier: MIT
"""The real board editor on a screen of its own, for tests and pictures.

>>> with EditorSession(board, tmp_path / "session") as editor:  # doctest: +SKIP
...     editor.client().get_board().get_nets()
...     editor.keys("ctrl+z")
...     editor.screenshot(tmp_path / "after-undo.png")

Everything the editor reads or writes lies below one folder: HOME, TMPDIR, XDG_RUNTIME_DIR, and a copy of the board.
The editor starts without any wizard, and is gone when the block ends, whatever happened in it.
"""

from __future__ import annotations

import contextlib
import json
import os
import re
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator, Mapping
from pathlib import Path
from types import TracebackType
from typing import IO, Any, Callable, Optional, TypeVar

HOW = "run 'sh tests/install-editor.sh' as root"
ROOT = Path(__file__).parents[1]
PROGRAMS = ("Xvfb", "openbox", "xdotool")

T = TypeVar("T")


class EditorError(AssertionError):
    """The editor did not do what a session needs; the message ends in the tail of its log."""


ATTEMPTS = 4
PATIENCE_SECONDS = 60.0
"""How long to wait for what takes a moment on an idle machine: a busy one must not fail a test."""


def wait_for(question: Callable[[], T], what: str, seconds: float = PATIENCE_SECONDS, pause: float = 0.05) -> T:
    """Asks until the answer is true, and returns it.

    Raises:
        EditorError: no true answer in time.
    """
    end = time.monotonic() + seconds
    while True:
        answer = question()
        if answer:
            return answer
        if time.monotonic() > end:
            raise EditorError(f"waited {seconds:g} s for {what}")
        time.sleep(pause)


def editor_major() -> int:
    """Major version of the installed editor.

    Raises:
        EditorError: there is none.
    """
    if shutil.which("kicad-cli") is None:
        raise EditorError(f"the board editor is not installed: {HOW}")
    answer = subprocess.run(["kicad-cli", "version"], capture_output=True, text=True, check=False)
    return int(answer.stdout.strip().split(".")[0])


def editor_packages() -> Path:
    """A folder with shapely and numpy for the Python the editor runs, to be put on its path; made once.

    The editor uses the system's Python, where Debian has no shapely that is new enough.
    """
    python = "/usr/bin/python3"
    tag = subprocess.run(
        [python, "-c", "import sys; print(sys.implementation.cache_tag)"], capture_output=True, text=True, check=True
    ).stdout.strip()
    folder = ROOT / ".venv" / f"editor-packages-{tag}"
    if not (folder / "shapely").is_dir():
        fresh = folder.with_name(f"{folder.name}.{os.getpid()}")
        install = [
            sys.executable,
            "-m",
            "pip",
            "--python",
            python,
            "install",
            "--quiet",
            "--root-user-action",
            "ignore",
        ]
        subprocess.run([*install, "--only-binary=:all:", "--target", str(fresh), "shapely>=2.0.7"], check=True)
        try:
            fresh.rename(folder)
        except OSError:  # another process was faster
            shutil.rmtree(fresh)
    return folder


def seed(home: Path, major: int, interpreter: str = "/usr/bin/python3", api: bool = True) -> Path:
    """Writes the settings without which the editor asks questions at its first start, and returns their folder."""
    config = home / ".config" / "kicad" / f"{major}.0"
    config.mkdir(parents=True, exist_ok=True)
    asked = ("update_check_prompt", "data_collection_prompt", "env_var_overwrite_warning")
    common: dict[str, Any] = {
        "meta": {"filename": "kicad_common.json", "version": {6: 1, 9: 3}.get(major, 4)},
        "api": {"enable_server": api, "interpreter_path": interpreter},
        "do_not_show_again": dict.fromkeys((*asked, "scaled_3d_models_warning", "zone_fill_warning"), True),
    }
    (config / "kicad_common.json").write_text(json.dumps(common), encoding="utf-8")
    for kind in ("fp", "sym", "design_block"):
        version = "" if major == 6 else "  (version 7)\n"  # 6 takes nothing but libraries
        table = f"({kind}_lib_table\n{version})\n"
        (config / f"{kind.replace('_', '-')}-lib-table").write_text(table, encoding="utf-8")
    return config


class EditorSession:
    """One editor with one board.

    Attributes:
        board: the copy of the board that is open; its project file is beside it.
        home: the editor's HOME. Put plug-ins there in `prepare`.
        data: `home`'s folder for plug-ins, ``.local/share/kicad/N.0``.
        socket: path of the socket of the inter-process interface.
        display: ``:N``.
    """

    def __init__(
        self,
        board: Path,
        folder: Path,
        prepare: Optional[Callable[[EditorSession], None]] = None,
        variables: Optional[Mapping[str, str]] = None,
        api: bool = True,
        size: str = "1280x900",
        start_seconds: float = 240.0,
        major: Optional[int] = None,
    ) -> None:
        """Makes folders and settings; `with` starts the editor.

        Args:
            board: copied, with the project and rule files of the same name.
            folder: for everything of this session; ``t`` in it is the editor's TMPDIR and holds the socket, whose path
                may have about 100 characters.
            prepare: called with this session before the editor starts, to install plug-ins.
            variables: more environment variables for the editor.
            api: whether the inter-process interface is switched on; without it, ready means that the window is up.
            size: of the screen.
            start_seconds: time the editor has to open the board.
            major: the editor's version, for editors without a command line tool.
        """
        self.major = editor_major() if major is None else major
        self.folder, self.api, self.size, self.start_seconds = folder, api, size, start_seconds
        self.home, self.temporary, self.runtime = folder / "home", folder / "t", folder / "run"
        project = folder / "project"
        for each in (self.home, self.temporary, self.runtime, project):
            each.mkdir(parents=True, exist_ok=True)
        self.runtime.chmod(0o700)
        for beside in board.parent.glob(f"{board.stem}.kicad_*"):
            if beside.suffix in (".kicad_pcb", ".kicad_pro", ".kicad_dru"):
                shutil.copy(beside, project / beside.name)
        self.board = project / board.name
        self.data = self.home / ".local" / "share" / "kicad" / f"{self.major}.0"
        self.config = seed(self.home, self.major, api=api)
        self.socket = self.temporary / "kicad" / "api.sock"
        assert len(str(self.socket)) < 100, f"too long for a socket: {self.socket}"
        self.log = folder / "editor.log"
        self.display = ""
        self._variables = dict(variables or {})
        self._running: list[subprocess.Popen[str]] = []
        self._editor: Optional[subprocess.Popen[str]] = None
        if prepare is not None:
            prepare(self)

    def __enter__(self) -> EditorSession:
        missing = [program for program in PROGRAMS if shutil.which(program) is None]
        if missing:
            raise EditorError(f"missing: {', '.join(missing)}: {HOW}")
        try:
            self._start_screen()
            self.start()
        except BaseException:
            self.kill()  # whatever it waits for, it would not hear a polite request
            self._end()
            raise
        return self

    def __exit__(
        self, kind: Optional[type[BaseException]], fault: Optional[BaseException], trace: Optional[TracebackType]
    ) -> None:
        self._end()

    # ---- the editor's life

    @property
    def pid(self) -> int:
        """Process id of the editor."""
        assert self._editor is not None, "the editor is not running"
        return self._editor.pid

    @property
    def exit_code(self) -> Optional[int]:
        """What the editor ended with; None while it runs."""
        return None if self._editor is None else self._editor.poll()

    @property
    def environment(self) -> dict[str, str]:
        """What the editor and the tools that drive it run with."""
        ours = ("PYTHON", "VIRTUAL_ENV", "KICAD")
        kept = {name: value for name, value in os.environ.items() if not name.startswith(ours)}
        own = {
            "HOME": str(self.home),
            "TMPDIR": str(self.temporary),
            "XDG_RUNTIME_DIR": str(self.runtime),
            "XDG_CONFIG_HOME": str(self.home / ".config"),
            "XDG_DATA_HOME": str(self.home / ".local" / "share"),
            "XDG_CACHE_HOME": str(self.home / ".cache"),
            "DISPLAY": self.display,
            "LANG": "C.UTF-8",
            "GDK_BACKEND": "x11",
            "NO_AT_BRIDGE": "1",
        }
        return {**kept, **own, **self._variables}

    def start(self) -> None:
        """Starts the editor on the board and waits until it answers."""
        for lock in self.board.parent.glob("~*.lck"):
            lock.unlink()
        with self.log.open("a", encoding="utf-8") as log:
            self._editor = subprocess.Popen(
                ["pcbnew", self.board.name],
                cwd=self.board.parent,
                env=self.environment,
                stdout=log,
                stderr=log,
                text=True,
                start_new_session=True,
            )
        self._running.append(self._editor)
        self.wait_for(self._is_ready, "the editor to open the board", self.start_seconds, pause=0.2)

    def start_another(self, board: Optional[Path] = None) -> subprocess.Popen[str]:
        """Starts a second editor on the same screen with the same settings; without a board it has a new one."""
        folder = self.folder / "another"
        shutil.rmtree(folder, ignore_errors=True)  # one that was killed left its lock
        folder.mkdir()
        words = [] if board is None else [str(shutil.copy(board, folder / board.name))]
        with (self.folder / "another.log").open("a", encoding="utf-8") as log:
            editor = subprocess.Popen(
                ["pcbnew", *words],
                cwd=folder,
                env=self.environment,
                stdout=log,
                stderr=log,
                text=True,
                start_new_session=True,
            )
        self._running.append(editor)
        return editor

    def quit(self, seconds: float = 60.0) -> None:
        """Closes the editor as a person would; unsaved changes are given up."""
        editor = self._editor
        if editor is None or editor.poll() is not None:
            return
        end = time.monotonic() + seconds
        while editor.poll() is None and time.monotonic() < end:
            self._quit_once()
            try:
                editor.wait(1.5)
            except subprocess.TimeoutExpired:
                continue
        if editor.poll() is None:
            self.kill()

    def kill(self) -> None:
        """Ends the editor at once."""
        if self._editor is not None and self._editor.poll() is None:
            self._editor.kill()
            self._editor.wait(10)

    def _quit_once(self) -> None:
        """One attempt: an open question is answered with 'discard', else the main window gets its quit key."""
        frame = self.windows("PCB Editor")
        if not frame:
            return
        if self.api:
            try:
                self.client(3000).get_board().revert()
            except self._kipy_errors() as fault:  # the editor may be busy, or already on its way out
                self._note(f"revert: {fault}")
        self._tool("windowactivate", "--sync", frame[0], check=False)
        self._tool("key", "--clearmodifiers", "Escape", "ctrl+q", check=False)
        if self.windows("Save Changes"):
            self._tool("key", "--clearmodifiers", "alt+d", check=False)

    def _is_ready(self) -> bool:
        if self._editor is not None and self._editor.poll() is not None:
            raise EditorError(f"the editor ended with code {self._editor.returncode}")
        if not self.windows("PCB Editor"):
            return False
        if not self.api:
            return True
        try:
            self.client(3000).get_board().get_nets()
        except self._kipy_errors():
            return False
        return True

    def _start_screen(self) -> None:
        server = subprocess.Popen(
            ["Xvfb", "-displayfd", "1", "-screen", "0", f"{self.size}x24", "-nolisten", "tcp", "-noreset"],
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
            start_new_session=True,
        )
        self._running.append(server)
        number = self._first_line(server.stdout)
        if not number:
            raise EditorError(f"Xvfb did not start: {HOW}")
        self.display = f":{number}"
        # the number comes a moment before the screen takes its first window
        wait_for(lambda: self._tool("getdisplaygeometry", check=False), "the screen", 10)
        with (self.folder / "openbox.log").open("w", encoding="utf-8") as log:
            self._running.append(
                subprocess.Popen(
                    ["openbox", "--config-file", str(self._manager_settings())],
                    env=self.environment,
                    stdout=log,
                    stderr=log,
                    text=True,
                    start_new_session=True,
                )
            )

    def _manager_settings(self) -> Path:
        """The window manager's usual settings, without its moving pictures: they leave traces on a busy screen."""
        usual = Path("/etc/xdg/openbox/rc.xml").read_text(encoding="utf-8")
        own = self.folder / "openbox.xml"
        own.write_text(usual.replace("<animateIconify>yes", "<animateIconify>no"), encoding="utf-8")
        return own

    @staticmethod
    def _first_line(stream: Optional[IO[str]]) -> str:
        assert stream is not None
        return stream.readline().strip()

    def _end(self) -> None:
        try:
            self.quit()
        finally:
            for process in reversed(self._running):
                if process.poll() is None:
                    process.terminate()
                    try:
                        process.wait(3)
                    except subprocess.TimeoutExpired:
                        process.kill()
                        process.wait(5)
                if process.stdout is not None:
                    process.stdout.close()
            self._running.clear()

    # ---- talking to it

    def client(self, timeout_ms: int = 60_000) -> Any:
        """A new `kipy.KiCad` connected to this editor."""
        from kipy import KiCad

        return KiCad(socket_path=f"ipc://{self.socket}", timeout_ms=timeout_ms)

    @staticmethod
    def _kipy_errors() -> tuple[type[Exception], ...]:
        from kipy import errors

        return errors.ApiError, errors.ConnectionError

    def run_action(self, name: str) -> None:
        """Runs one of the editor's own actions, such as ``common.Interactive.undo``."""
        answer = self.client().run_action(name)
        assert answer.status == 1, f"the editor refused {name}"  # RAS_OK

    def wait_for(
        self, question: Callable[[], T], what: str, seconds: float = PATIENCE_SECONDS, pause: float = 0.05
    ) -> T:
        """As the function; its failure names the editor's windows, the end of its log, and a picture of the screen."""
        try:
            return wait_for(question, what, seconds, pause)
        except EditorError as fault:
            picture = self.screenshot(self.folder / "failed.png") if self.display else "none"
            seen = f"windows: {self.titles()}; picture: {picture}; its log ends:\n{self.log_tail()}"
            raise EditorError(f"{fault}; {seen}") from None

    def insist(self, act: Callable[[], object], seen: Callable[[], T], what: str, seconds: float = 20.0) -> T:
        """Acts until the effect is seen: a busy editor lets keys and clicks fall.

        Args:
            act: does no harm when done again before its effect is seen.
            seen: the effect.
            what: it is, in words.
            seconds: to wait for it each time, longer than the editor ever takes for it when it has heard.
        """
        for _attempt in range(ATTEMPTS - 1):
            act()
            with contextlib.suppress(EditorError):
                return wait_for(seen, what, seconds)
        act()
        return self.wait_for(seen, what, seconds)

    def log_tail(self, lines: int = 25) -> str:
        """The last lines the editor wrote."""
        if not self.log.exists():
            return ""
        return "\n".join(self.log.read_text(encoding="utf-8", errors="replace").splitlines()[-lines:])

    # ---- the screen

    def screenshot(self, path: Path) -> Path:
        """The whole screen as PNG."""
        from PIL import ImageGrab

        path.parent.mkdir(parents=True, exist_ok=True)
        ImageGrab.grab(xdisplay=self.display).save(path)
        return path

    def settled(self, path: Path, still_seconds: float = 1.0) -> Path:
        """The whole screen as PNG, once nothing on it has moved for a while."""
        last, since = b"", 0.0

        def is_still() -> bool:
            nonlocal last, since
            now = self.screenshot(path).read_bytes()
            if now != last:
                last, since = now, time.monotonic()
            return time.monotonic() - since > still_seconds

        self.wait_for(is_still, "the screen to come to rest", pause=0.2)
        return path

    def windows(self, title: str) -> list[str]:
        """Ids of visible windows whose title matches a regular expression, oldest first."""
        for _attempt in range(ATTEMPTS):
            answer = self._ask("search", "--onlyvisible", "--name", title)
            if not answer.stderr:
                break  # else a window ended while the tool looked at it, and it gave up
        return sorted(answer.stdout.split(), key=int)

    def wait_for_window(self, title: str, seconds: float = PATIENCE_SECONDS) -> str:
        """Id of the newest visible window whose title matches."""
        return self.wait_for(lambda: self.windows(title), f"a window called {title}", seconds)[-1]

    def titles(self) -> list[str]:
        """Titles of all visible windows that have one."""
        if not self.display:
            return []
        return [name for name in map(self._title, self.windows(".+")) if name]

    def _title(self, window: str) -> str:
        return self._tool("getwindowname", window, check=False).strip()

    def focus(self, window: str) -> None:
        """Brings a window to the front and gives it the keyboard; returns when it has both."""

        def is_in_front() -> bool:
            if self.active() == (window, window):
                return True
            self._tool("windowactivate", window, check=False)
            return False

        self.wait_for(is_in_front, f"window {self._title(window)!r} to come to the front", pause=0.2)

    def close_window(self, window: str) -> None:
        """Closes a window by its frame: the window manager hears that whatever in the window has the keyboard."""

        def is_open() -> bool:
            return window in self.windows(".+")

        def close() -> None:
            if is_open():
                self.focus(window)
                self.keys("alt+F4")

        self.insist(close, lambda: not is_open(), f"window {self._title(window)!r} to close", PATIENCE_SECONDS)

    def active(self) -> tuple[str, str]:
        """The window in front, as the window manager says, and the one that has the keyboard, as the screen says."""
        asked = ("getactivewindow", "getwindowfocus")
        front, keyboard = (self._tool(question, check=False).strip() for question in asked)
        return front, keyboard

    def keys(self, *names: str) -> None:
        """Presses keys, e.g. ``ctrl+z``, in whatever has the keyboard."""
        self._tool("key", "--clearmodifiers", *names)

    def type(self, text: str) -> None:
        """Types text into whatever has the keyboard."""
        self._tool("type", "--clearmodifiers", text)

    def point(self, x: int, y: int, window: str = "") -> None:
        """Moves the pointer to a place of the screen, or of a window."""
        at = ["--window", window] if window else []
        self._tool("mousemove", "--sync", *at, str(x), str(y))

    def press(self, button: int = 1, repeat: int = 1) -> None:
        """Clicks where the pointer is."""
        self._tool("click", "--repeat", str(repeat), "--delay", "60", str(button))

    def click(self, x: int, y: int, window: str = "", button: int = 1, repeat: int = 1) -> None:
        """Clicks at a place of the screen, or of a window."""
        self.point(x, y, window)
        self.press(button, repeat)

    def place(self, window: str) -> tuple[int, int, int, int]:
        """Left, top, right and bottom of a window on the screen, in pixels."""
        facts = self._tool("getwindowgeometry", "--shell", window)
        x, y, width, height = (int(number) for number in re.findall(r"^(?:X|Y|WIDTH|HEIGHT)=(-?\d+)", facts, re.M))
        return x, y, x + width, y + height

    def _tool(self, *words: str, check: bool = True) -> str:
        """What xdotool answers."""
        answer = self._ask(*words)
        if check and answer.returncode != 0:
            raise EditorError(f"xdotool {' '.join(words)}: {answer.stderr.strip() or answer.returncode}")
        return answer.stdout

    def _ask(self, *words: str) -> subprocess.CompletedProcess[str]:
        """Runs xdotool."""
        return subprocess.run(
            ["xdotool", *words], env=self.environment, capture_output=True, text=True, check=False, timeout=60
        )

    def _note(self, line: str) -> None:
        with self.log.open("a", encoding="utf-8") as log:
            log.write(f"[session] {line}\n")


def sessions(board: Path, folder: Path, **options: Any) -> Iterator[EditorSession]:
    """A generator for a fixture: one editor for several tests."""
    with EditorSession(board, folder, **options) as session:
        yield session
