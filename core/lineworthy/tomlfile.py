# SPDX-License-Identifier: MIT
"""TOML, which people write by hand: every fault is told in one line, and texts are written so that they come back."""

from __future__ import annotations

import re
import sys
from typing import Any

from lineworthy.errors import InputError

if sys.version_info >= (3, 11):
    import tomllib
else:  # pragma: no cover - the standard library has it from 3.11 on
    import tomli as tomllib

DEPTH_MAX = 20
"""Tables and lists within each other; what is nested deeper is meant to hurt, and can be too deep to be shown."""

_WHOLE_MAX = 2**63
"""What the format promises of whole numbers; one of thousands of digits can be neither a float nor shown."""
_AT = re.compile(r" \(at ([^()]*)\)\Z")


def parsed(text: str, file: str) -> dict[str, Any]:
    """The tables of a TOML document.

    Raises:
        InputError: it is no TOML, or holds numbers or depths that no person means; names file, place and reason.
    """
    try:
        document: dict[str, Any] = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        at = _AT.search(str(error))
        raise InputError(file, f"not TOML: {_AT.sub('', str(error))}", at[1] if at else "") from None
    except RecursionError:
        raise InputError(file, "not TOML that can be read: nested too deep") from None
    except ValueError:  # the one that is no fault of form: Python does not read a number of thousands of digits
        longest = max(re.findall(r"[\d_]+", text), key=len, default="")
        line = text.count("\n", 0, text.find(longest)) + 1
        raise InputError(file, "a whole number with too many digits", f"line {line}") from None
    _check(document, file)
    return document


def _check(document: dict[str, Any], file: str) -> None:
    left: list[tuple[tuple[str, ...], Any]] = [((), document)]
    while left:  # no recursion: dotted keys nest as deep as they are long
        path, value = left.pop()
        if isinstance(value, int) and not -_WHOLE_MAX <= value < _WHOLE_MAX:
            raise InputError(file, "a whole number of more than 64 bits", _place(path))
        if len(path) > DEPTH_MAX:
            raise InputError(file, f"nested more than {DEPTH_MAX} deep", _place(path))
        if isinstance(value, dict):
            left += (((*path, key), one) for key, one in value.items())
        elif isinstance(value, list):
            left += (((*path, str(number)), one) for number, one in enumerate(value))


def _place(path: tuple[str, ...]) -> str:
    shown = ".".join(key if key.isprintable() else repr(key) for key in path)
    return shown if len(shown) <= 100 else f"{shown[:100]}..."


def quoted(text: str) -> str:
    """A text as a TOML string on one line; half of a surrogate pair, which it cannot hold, becomes a question mark."""
    return '"' + "".join(map(_escaped, text)) + '"'


def _escaped(character: str) -> str:
    if character in '"\\':
        return "\\" + character
    if character.isprintable():
        return character
    if "\ud800" <= character <= "\udfff":
        return "?"
    return f"\\U{ord(character):08X}"
