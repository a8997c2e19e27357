# SPDX-License-Identifier: MIT
"""Releases as the editor writes them pass; a mistake in one is found, named, and nothing else is said."""

from __future__ import annotations

import pytest
from faults import FAULTS, Fault
from releases import BOARDS, TITLED, findings, release

import demos

pytestmark = pytest.mark.editor


@pytest.mark.parametrize("board", [*BOARDS, TITLED])
def test_a_release_as_the_editor_writes_it_passes(board: str) -> None:
    assert demos.paths(), demos.HOW
    assert findings(board, release(board)) == []


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.name)
def test_a_mistake_is_found_and_named(fault: Fault) -> None:
    found = findings(fault.board, fault.make(release(fault.board)), saved=fault.saved, name=fault.folder)
    assert {finding.check for finding in found} == {fault.check}
    assert any(fault.says in finding.message for finding in found)
