# SPDX-License-Identifier: MIT
"""The plug-in in a running editor of version 6: what tests/e2e shows of later versions. Run inside the chroot."""

from __future__ import annotations

from pathlib import Path

import pytest
from desk_6 import ANSWERED, at_desk, checks
from PIL import ImageChops

from lineworthy_kicad.reader import parse_board


def test_review_show_insert_undo_save(tmp_path_factory: pytest.TempPathFactory, tmp_path: Path) -> None:
    """One sitting, since the editor can be put back to where it was only by what is tried here."""
    with at_desk(tmp_path_factory.mktemp("e")) as desk:
        before = desk.dialog.open_by_menu()
        assert before == desk.headless()
        assert checks(before) >= ANSWERED

        desk.put_aside()
        plain = desk.canvas(tmp_path)
        finding = next(each for each in before["findings"] if each["uids"] and each["places"])
        desk.search(finding["message"][:25])

        def is_lit() -> bool:
            desk.press_first()
            return ImageChops.difference(plain, desk.canvas(tmp_path)).getbbox() is not None

        desk.editor.wait_for(is_lit, "the highlight", 60, pause=2.0)

        opened = desk.save()
        after = desk.dialog.insert()
        assert not checks(after) & ANSWERED
        assert desk.undo() == opened, "one undo takes all of it back"
        assert desk.dialog.review_again() == before

        desk.dialog.insert()
        inserted = parse_board(desk.save(), desk.editor.board.name)
        assert sum(part.reference.startswith("FID") for part in inserted.parts) == 3
        again = desk.dialog.review_again()
        assert again == desk.headless()
        assert not checks(again) & ANSWERED

        (window,) = desk.editor.windows(desk.dialog.title)
        in_front = lambda: desk.editor.active()[0] == window  # noqa: E731
        desk.editor.insist(desk.dialog.choose_menu, in_front, "the dialog that is open to come to the front")
        assert desk.editor.windows("^Lineworthy: ") == [window]
        assert not desk.dialog.report.exists(), "a second review would mean a second dialog"
        desk.dialog.close()
        assert desk.dialog.main_window(), "the editor goes on"
