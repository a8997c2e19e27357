# SPDX-License-Identifier: MIT
"""The plug-in installed from its archive into other versions of the editor, and driven there as a person does."""

from __future__ import annotations

from typing import Callable

from other_editor import OtherEditor, passed

Seen = Callable[[OtherEditor, str, str], None]


def test_plugin_in_editor_10(editor_10: OtherEditor, seen: Seen) -> None:
    """All that tests/e2e shows, from the menu and by the button of the process beside the editor."""
    count = passed(editor_10.pytest("tests/e2e", "--tb=short"))
    assert count > 20
    seen(editor_10, "plug-in from its archive, in-process and beside", f"{count} end-to-end tests")


def test_plugin_in_editor_6(editor_6: OtherEditor, seen: Seen) -> None:
    count = passed(editor_6.pytest("tests/editors/plugin_6.py", "--tb=short", python_path=("tests/e2e",)))
    assert count == 1
    seen(editor_6, "plug-in from its archive, in-process", "one long sitting")


def test_plugin_in_odd_states_in_editor_6(editor_6: OtherEditor, seen: Seen) -> None:
    count = passed(editor_6.pytest("tests/editors/odd_states_6.py", "--tb=short", python_path=("tests/e2e",)))
    assert count == 6
    seen(editor_6, "plug-in where the desk is not tidy, in-process", f"{count} states")
