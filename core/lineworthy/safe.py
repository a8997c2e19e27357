# SPDX-License-Identifier: MIT
"""Board text on its way out: it may hold anything, and must neither act nor disguise itself."""

from __future__ import annotations

import html
import re


def visible(text: str) -> str:
    r"""The text on one line with every character to be seen.

    White space becomes a space; control characters, direction changes and other invisible characters become their
    code (``\x1b``, ``\u202e``), so that a terminal is not driven and a name cannot pose as another.
    """
    if text.isprintable():
        return text
    return "".join(c if c.isprintable() else " " if c.isspace() else _code(c) for c in text)


def markup(text: str) -> str:
    """The text for HTML and SVG, as content or inside a quoted attribute."""
    return html.escape(visible(text), quote=True)


_STARTS_A_FORMULA = tuple("=+-@\uff1d\uff0b\uff0d\uff20")
_WITHIN = re.compile(r"(;\s*)(?=[=+\-@\uff1d\uff0b\uff0d\uff20])(?![+-]?\d+(?:\.\d+)?(?:[\s,;)]|\Z))")
"""Where a spreadsheet that splits at semicolons would find a formula; numbers below zero are none."""


def cell(text: str) -> str:
    """The text for a table's cell: a spreadsheet takes it for text, because an apostrophe keeps it from calculating."""
    shown = _WITHIN.sub(r"\1'", visible(text))
    return f"'{shown}" if shown.lstrip().startswith(_STARTS_A_FORMULA) else shown


def _code(character: str) -> str:
    number = ord(character)
    if number < 0x100:
        return f"\\x{number:02x}"
    return f"\\u{number:04x}" if number < 0x10000 else f"\\U{number:08x}"
