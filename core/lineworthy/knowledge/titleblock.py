# SPDX-License-Identifier: MIT
"""The title block as a person reads it: with the project's variables put in."""

from __future__ import annotations

import re
from dataclasses import replace

from lineworthy.model import Board, TitleBlock

_VARIABLE = re.compile(r"\$\{([^{}]*)\}")


def resolved(board: Board, text: str) -> str:
    """An entry with the project's variables put in; those nobody has set stay as they are written."""
    return _VARIABLE.sub(lambda match: board.variables.get(match[1], match[0]), text)


def title_block(board: Board) -> TitleBlock:
    """All entries with the project's variables put in."""
    title = board.title
    return replace(
        title,
        title=resolved(board, title.title),
        revision=resolved(board, title.revision),
        date=resolved(board, title.date),
        company=resolved(board, title.company),
        comments=tuple(resolved(board, comment) for comment in title.comments),
    )
