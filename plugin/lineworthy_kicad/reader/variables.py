# SPDX-License-Identifier: MIT
"""Text variables: ``${NAME}`` in titles, texts and fields, as far as the board itself can answer them."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from pathlib import PurePath
from typing import Optional

from lineworthy.model import TitleBlock

_VARIABLE = re.compile(r"\$\{([^${}]*)\}")
_MARKUP = re.compile(r"[~^_]\{([^{}]*)\}")
_PASSES = 12
_LENGTH_MAX = 20_000
"""Longer results are left as they are: variables that hold one another can grow without end."""

Lookup = Callable[[str], Optional[str]]


def resolve(text: str, lookup: Lookup) -> str:
    """The text with every variable that `lookup` knows replaced, also inside one another; others stay as written."""
    if "${" not in text:
        return text
    for _ in range(_PASSES):
        replaced = _VARIABLE.sub(lambda match: _value(match, lookup), text)
        if replaced == text or len(replaced) > _LENGTH_MAX:
            break
        text = replaced
    return text


def _value(match: re.Match[str], lookup: Lookup) -> str:
    value = lookup(match.group(1))
    return match.group(0) if value is None else value


def printed(text: str) -> str:
    """The text without mark-up: overbars, super- and subscripts keep their letters."""
    for _ in range(_PASSES):
        if "{" not in text:
            break
        bare = _MARKUP.sub(r"\1", text)
        if bare == text:
            break
        text = bare
    return text


def board_variables(title: TitleBlock, user: Mapping[str, str], path: str, name: str) -> dict[str, str]:
    """Everything a text anywhere on the board can refer to.

    Args:
        title: the title block; the document's own variables win over it.
        user: variables of the board and its project.
        path: the board's file, may be empty.
        name: what the board is called when it has no file.
    """
    file = PurePath(path).name if path else name
    found = {
        "ISSUE_DATE": title.date,
        "REVISION": title.revision,
        "TITLE": title.title,
        "COMPANY": title.company,
        "FILENAME": file,
        "PROJECTNAME": PurePath(file).stem,
        **{f"COMMENT{i}": "" for i in range(1, 10)},
        **{f"COMMENT{i}": comment for i, comment in enumerate(title.comments, 1)},
    }
    if path:
        found["FILEPATH"] = path
    found.update(user)
    return found
