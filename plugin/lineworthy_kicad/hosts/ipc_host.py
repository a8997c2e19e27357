# SPDX-License-Identifier: MIT
"""The board in an editor that runs beside us, over its inter-process interface: versions 9 and later."""

from __future__ import annotations

import math
import os
import threading
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any, Optional

from kipy import KiCad
from kipy.board import Board
from kipy.board_types import unwrap
from kipy.errors import ApiError
from kipy.errors import ConnectionError as NoEditor
from kipy.proto.common import ApiStatusCode
from kipy.proto.common.commands import editor_commands_pb2 as commands
from kipy.proto.common.types import KIID
from kipy.util import pack_any

from lineworthy.amend.amendment import Amendment, MarkingText, ProbePad
from lineworthy_kicad.hosts.common import UNTITLED, nm, one_line, project_text, taken
from lineworthy_kicad.hosts.host import Applied, DocumentText, HostError
from lineworthy_kicad.hosts.ipc_items import fault, make

TIMEOUT_MS = 60_000
"""The largest demo board of the editor takes 4 s to hand over; the library's own 2 s are too short."""
FILL_SECONDS = 300.0
VIEW_MM = 30.0
"""Width of the view in which an item is shown, where it is not larger itself: the editor's own zoom to the selection is
so tight that a fiducial fills the screen."""
ZOOM_STEP = 1.6
"""How much farther each step out sees, on average over the editor's list of zooms."""


class IpcHost:
    """The board that is open in a running editor."""

    any_thread = True
    """Calls need not come from the main thread, as long as there is one at a time."""

    def __init__(self, kicad: Optional[KiCad] = None) -> None:
        """Connects to the editor that started this process, or to the only one running, unless one is given.

        Raises:
            HostError: there is none, or it has no board open.
        """
        self._kicad = KiCad(timeout_ms=TIMEOUT_MS) if kicad is None else kicad
        with _asking():
            self.title = os.path.basename(self._board().name) or UNTITLED
        _notice_the_end(self._kicad)

    def document(self) -> DocumentText:
        """The board now, unsaved edits included."""
        with _asking():
            board = self._board()
            text = board.get_as_string()
        name = os.path.basename(board.name)
        folder = board.document.project.path
        path = os.path.join(folder, name) if folder and name else ""
        self.title = name or UNTITLED
        return DocumentText(text, self.title, path, project_text(path))

    def show(self, uids: Sequence[str]) -> bool:
        """Selects items and zooms to them."""
        with _asking():
            board = self._board()
            board.clear_selection()
            # ids that nothing has are skipped by the editor itself: no need to list a large board to find out
            request = commands.AddToSelection()
            request.header.document.CopyFrom(board.document)
            request.items.extend(KIID(value=uid) for uid in uids)
            if not uids or not board.client.send(request, commands.SelectionResponse).items:
                return False
            self._kicad.run_action("common.Control.zoomFitSelection")
            for _ in range(_steps_out(board, request.items)):
                self._kicad.run_action("common.Control.zoomOutCenter")
        return True

    def apply(self, amendments: Sequence[Amendment], label: str) -> tuple[Applied, ...]:
        """Inserts all in one commit, which the editor can undo in one step, or nothing."""
        with _asking():
            board = self._board()
            items = self._items(board, amendments)
            if not items:
                return ()
            commit = board.begin_commit()
            pushed = False
            try:
                made = self._created(board, amendments, items)
                board.push_commit(commit, label)
                pushed = True
            finally:
                if not pushed:
                    _drop(board, commit)
            return self._read_back(board, amendments, made)

    def refill(self) -> None:
        """Fills the copper pours again and waits until it is done; an undo step of its own."""
        with _asking():
            self._board().refill_zones(block=False)
        end = time.monotonic() + FILL_SECONDS
        while time.monotonic() < end:
            try:
                self._kicad.ping()
            except ApiError as busy:
                if busy.code != ApiStatusCode.AS_BUSY:
                    raise HostError(_said(busy)) from None
            except NoEditor as gone:
                # a large board keeps the editor busy for longer than one call may take
                if "timed out" not in str(gone).lower():
                    raise HostError(_lost(gone)) from None
            else:
                return
            time.sleep(0.1)
        raise HostError(f"the editor has been filling the copper pours for more than {FILL_SECONDS:g} s")

    def _board(self) -> Board:
        return self._kicad.get_board()

    @staticmethod
    def _items(board: Board, amendments: Sequence[Amendment]) -> list[Any]:
        """The items to create; refuses what the editor would create differently without saying so."""
        if reason := taken(amendments, {part.reference_field.text.value for part in board.get_footprints()}):
            raise HostError(one_line(reason))
        # the editor makes up a net that is not there
        nets = {net.name: net for net in board.get_nets()}
        for amendment in amendments:
            if isinstance(amendment, ProbePad) and (not amendment.net or amendment.net not in nets):
                raise HostError(one_line(f"net {amendment.net} is not on the board"))
        texts = [amendment for amendment in amendments if isinstance(amendment, MarkingText)]
        for text, shown in zip(texts, board.expand_text_variables([text.source for text in texts]) if texts else ()):
            if shown != text.text:
                raise HostError(one_line(f"{text.source} would print as {shown}, not as {text.text}"))
        return [make(amendment, nets) for amendment in amendments]

    @staticmethod
    def _created(board: Board, amendments: Sequence[Amendment], items: Sequence[Any]) -> list[Any]:
        """What the editor made of the items; the library's own call hides that it refused some."""
        request = commands.CreateItems()
        request.header.document.CopyFrom(board.document)
        request.items.extend(pack_any(item.proto) for item in items)
        results = board.client.send(request, commands.CreateItemsResponse).created_items
        if len(results) != len(items):
            raise HostError(f"the editor made {len(results)} of {len(items)} items")
        made = []
        for amendment, result in zip(amendments, results):
            if result.status.code not in (commands.ISC_OK, commands.ISC_UNKNOWN) or not result.HasField("item"):
                raise HostError(one_line(f"the editor refused {amendment.title}: {result.status.error_message}"))
            item = unwrap(result.item)
            if wrong := fault(item, amendment):
                raise HostError(one_line(f"{amendment.title} was taken back: {wrong}"))
            made.append(item)
        return made

    def _read_back(self, board: Board, amendments: Sequence[Amendment], made: Sequence[Any]) -> tuple[Applied, ...]:
        """Looks up each item on the board; takes the whole step back if one is not as it should be."""
        there = {item.id.value: item for item in (*board.get_footprints(), *board.get_text())}
        for amendment, item in zip(amendments, made):
            found = there.get(item.id.value)
            wrong = "it is not on the board" if found is None else fault(found, amendment)
            if wrong:
                self._kicad.run_action("common.Interactive.undo")
                raise HostError(one_line(f"{amendment.title} was taken back: {wrong}"))
        return tuple(Applied(amendment, item.id.value) for amendment, item in zip(amendments, made))


def _notice_the_end(kicad: KiCad) -> None:
    """Makes calls fail at once when the editor has ended, where the library would wait for its whole time-out."""
    connection = getattr(getattr(kicad, "_client", None), "_conn", None)
    if connection is None:  # not how this library keeps it any more: calls wait, then fail the same
        return

    def close(_: Any) -> None:
        # not from within the connection's own callback
        threading.Thread(target=connection.close, daemon=True).start()

    connection.add_post_pipe_remove_cb(close)


@contextmanager
def _asking() -> Iterator[None]:
    """Turns what the library raises into a HostError of one line."""
    try:
        yield
    except NoEditor as gone:
        raise HostError(_lost(gone)) from None
    except ApiError as refused:
        raise HostError(_said(refused)) from None


def _steps_out(board: Board, uids: Sequence[KIID]) -> int:
    """How often to zoom out from the tight view of some items, so that what lies around them is seen."""
    request = commands.GetBoundingBox()
    request.header.document.CopyFrom(board.document)
    request.items.extend(uids)
    request.mode = commands.BBM_ITEM_AND_CHILD_TEXT
    boxes = board.client.send(request, commands.GetBoundingBoxResponse).boxes
    across = [(box.position.x_nm, box.position.x_nm + box.size.x_nm) for box in boxes]
    up = [(box.position.y_nm, box.position.y_nm + box.size.y_nm) for box in boxes]
    spans = [max(high for _, high in ends) - min(low for low, _ in ends) for ends in (across, up) if ends]
    span_mm = max([*spans, nm(0.1)]) / nm(1)
    return max(1, int(math.log(VIEW_MM / span_mm, ZOOM_STEP)))


def _drop(board: Board, commit: Any) -> None:
    """Gives up an open commit; when the editor is gone, the commit is gone with it."""
    try:
        board.drop_commit(commit)
    except (ApiError, NoEditor):
        return


def _lost(fault: Exception) -> str:
    return f"the editor cannot be reached: {one_line(fault)}"


def _said(fault: ApiError) -> str:
    if fault.code == ApiStatusCode.AS_BUSY:
        return "the editor is busy: finish what is open there, then try again"
    return f"the editor refused: {one_line(fault)}"
