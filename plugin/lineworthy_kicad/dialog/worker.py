# SPDX-License-Identifier: MIT
"""One piece of work at a time beside the main thread, that can be dropped at once."""

from __future__ import annotations

import sys
import threading
import time
from typing import Callable, Optional, TypeVar

Result = TypeVar("Result")
Tell = Callable[[float, str], None]
"""Told the share done (0 to 1) and what is being done; raises `Stopped` when nobody waits any more."""

Runner = Callable[[Callable[[], None]], None]
"""Runs a job beside the main thread."""

Post = Callable[[Callable[[], None]], None]
"""Runs a call on the main thread, soon."""

TELL_EVERY_S = 0.2
"""Every word on the progress takes the window some milliseconds, in which the work stands still."""

TURN_S = 0.0005
"""How long the interpreter lets the work go on when the window wants a turn. Every call of the window system gives the
turn away and waits for it again, and one click is many calls: at the usual 5 ms each a person would notice."""


class Stopped(Exception):  # noqa: N818 - not an error: somebody asked for it
    """The work was cancelled."""


class Worker:
    """Runs work in the background and brings its answer to the main thread.

    Stopping takes effect for the person at once: whatever the work still says is not heard. The thread itself ends
    at the work's next word.
    """

    def __init__(self, runner: Runner, post: Post) -> None:
        self._runner, self._post = runner, post
        self._current: Optional[object] = None

    @property
    def is_busy(self) -> bool:
        """Whether work goes on."""
        return self._current is not None

    def stop(self) -> None:
        """Drops the work."""
        self._current = None

    def start(
        self,
        work: Callable[[Tell], Result],
        done: Callable[[Result], None],
        failed: Callable[[BaseException], None],
        progress: Tell,
    ) -> None:
        """Drops what goes on and starts other work; `done`, `failed` and `progress` are called on the main thread."""
        token = self._current = object()

        def deliver(call: Callable[[], None], is_last: bool) -> None:
            def on_main() -> None:
                if self._current is token:
                    if is_last:
                        self._current = None
                    call()

            self._post(on_main)

        told = 0.0

        def tell(share: float, what: str) -> None:
            nonlocal told
            if self._current is not token:
                raise Stopped
            if time.monotonic() - told >= TELL_EVERY_S:
                told = time.monotonic()
                deliver(lambda: progress(share, what), False)

        def job() -> None:
            try:
                result = work(tell)
            except Stopped:
                return
            except BaseException as error:  # whatever it was, the person is told; the thread ends anyway
                # the name `error` is gone when the main thread gets there
                deliver(lambda error=error: failed(error), True)  # type: ignore[misc]
                return
            deliver(lambda: done(result), True)

        self._runner(job)


def in_thread(job: Callable[[], None]) -> None:
    """The runner of the real dialog: a thread that does not keep the process alive."""
    sys.setswitchinterval(min(TURN_S, sys.getswitchinterval()))
    threading.Thread(target=job, name="lineworthy", daemon=True).start()
