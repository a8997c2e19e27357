# SPDX-License-Identifier: MIT
"""Work beside the main thread: its answers, and how it is dropped."""

from __future__ import annotations

import queue
import threading
import time
from typing import Any, Callable

import pytest

from lineworthy_kicad.dialog.worker import Stopped, Tell, Worker, in_thread

Call = Callable[[], None]


def main_loop(posted: queue.Queue[Call], until: Callable[[], bool], seconds: float = 5.0) -> None:
    end = time.monotonic() + seconds
    while not until() and time.monotonic() < end:
        try:
            posted.get(timeout=0.02)()
        except queue.Empty:
            continue


def test_answers_arrive_on_the_main_thread() -> None:
    posted: queue.Queue[Call] = queue.Queue()
    worker = Worker(in_thread, posted.put)
    seen: list[tuple[str, Any, bool]] = []
    main = threading.current_thread()

    def note(kind: str) -> Callable[..., None]:
        return lambda *args: seen.append((kind, args, threading.current_thread() is main))

    def work(tell: Tell) -> str:
        tell(0.5, "half")
        assert threading.current_thread() is not main
        return "answer"

    worker.start(work, note("done"), note("failed"), note("progress"))
    assert worker.is_busy
    main_loop(posted, lambda: not worker.is_busy)
    assert seen == [("progress", (0.5, "half"), True), ("done", ("answer",), True)]


def test_an_error_arrives_as_an_error() -> None:
    posted: queue.Queue[Call] = queue.Queue()
    worker = Worker(in_thread, posted.put)
    errors: list[BaseException] = []
    worker.start(lambda tell: 1 // 0, pytest.fail, errors.append, lambda share, what: None)
    main_loop(posted, lambda: not worker.is_busy)
    assert isinstance(errors[0], ZeroDivisionError)


def test_stopped_work_is_not_heard_and_its_thread_ends_at_its_next_word() -> None:
    posted: queue.Queue[Call] = queue.Queue()
    worker = Worker(in_thread, posted.put)
    started, go, ended = threading.Event(), threading.Event(), threading.Event()

    def work(tell: Tell) -> None:
        started.set()
        go.wait(5)
        try:
            tell(0.5, "still there")
        except Stopped:
            ended.set()
            raise

    worker.start(work, pytest.fail, pytest.fail, pytest.fail)
    assert started.wait(5)
    worker.stop()
    assert not worker.is_busy
    go.set()
    assert ended.wait(5)
    main_loop(posted, lambda: False, seconds=0.1)


def test_an_answer_on_its_way_when_stopped_is_dropped() -> None:
    posted: list[Call] = []
    jobs: list[Call] = []
    worker = Worker(jobs.append, posted.append)
    worker.start(lambda tell: "late", pytest.fail, pytest.fail, pytest.fail)
    jobs.pop()()
    worker.stop()
    for call in posted:
        call()


def test_new_work_replaces_old() -> None:
    posted: list[Call] = []
    jobs: list[Call] = []
    answers: list[str] = []
    worker = Worker(jobs.append, posted.append)
    for name in ("old", "new"):
        worker.start(lambda tell, name=name: name, answers.append, pytest.fail, pytest.fail)
    for job in jobs:
        job()
    for call in posted:
        call()
    assert answers == ["new"]


def test_a_flood_of_words_is_thinned() -> None:
    posted: list[Call] = []
    jobs: list[Call] = []
    worker = Worker(jobs.append, posted.append)

    def work(tell: Tell) -> None:
        for n in range(100_000):
            tell(n / 100_000, "on")

    worker.start(work, lambda result: None, pytest.fail, lambda share, what: None)
    start = time.monotonic()
    jobs.pop()()
    assert 1 <= len(posted) <= 3 + (time.monotonic() - start) / 0.03
