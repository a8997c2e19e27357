# SPDX-License-Identifier: MIT
"""Characters that the editor spells out in names and texts, ``{slash}`` for ``/``: people see the character."""

from __future__ import annotations

import re

_ESCAPES = {
    "quote": "'",
    "dblquote": '"',
    "lt": "<",
    "gt": ">",
    "backslash": "\\",
    "slash": "/",
    "bar": "|",
    "comma": ",",
    "colon": ":",
    "space": " ",
    "dollar": "$",
    "brace": "{",
    "tab": "\t",
    "return": "\n",
}
_ESCAPED = re.compile(r"(?<![$~^_])\{(" + "|".join(_ESCAPES) + r")\}")


def unescaped(text: str) -> str:
    """The text with the characters that are spelled out; other words in braces stay.

    >>> unescaped("/io/R{slash}W of {other}")
    '/io/R/W of {other}'
    """
    return _ESCAPED.sub(lambda match: _ESCAPES[match[1]], text) if "{" in text else text


def in_a_line(text: str) -> str:
    """The same for a sentence: what would break the line becomes a space.

    >>> in_a_line("net A{return}B")
    'net A B'
    """
    return " ".join(re.split(r"[\t\n]", unescaped(text))) if "{" in text else text
