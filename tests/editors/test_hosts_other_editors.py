# SPDX-License-Identifier: MIT
"""The hosts inside other versions of the editor: the contract tests of tests/hosts, run in there."""

from __future__ import annotations

from typing import Callable

from other_editor import OtherEditor, passed

Seen = Callable[[OtherEditor, str, str], None]
BOARD_6 = {"python_path": ("tests/editors", "tests/hosts")}


def test_hosts_in_the_running_editor_10(editor_10: OtherEditor, seen: Seen) -> None:
    """Both ways into the editor, with its real window: document, show, insert, undo, redo, refill, rule check."""
    count = passed(editor_10.pytest("tests/hosts", "--tb=short"))
    assert count > 40
    seen(editor_10, "document, show, insert, undo, refill, in-process and inter-process", f"{count} contract tests")


def test_bindings_of_6(editor_6: OtherEditor, seen: Seen) -> None:
    """Without a window; the rule check needs a command line tool that version 6 does not have."""
    wanted = "(headless or file) and not rule_check"
    count = passed(
        editor_6.pytest("-p", "board_6", "tests/hosts/test_contract.py", "-k", wanted, "--tb=short", **BOARD_6)
    )
    assert count > 10
    seen(editor_6, "bindings and file", f"{count} contract tests")


def test_host_in_the_running_editor_6(editor_6: OtherEditor, seen: Seen) -> None:
    count = passed(editor_6.pytest("-p", "board_6", "tests/editors/inside_6.py", "--tb=short", **BOARD_6))
    assert count == 1
    seen(editor_6, "document, show, insert, undo, refill, in-process", "as in the running editor")
