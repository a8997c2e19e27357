# SPDX-License-Identifier: MIT
"""What a Gerber file says in attributes: of itself, of its apertures, of what is drawn."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Optional

_ATTRIBUTE = re.compile(r"T([FAOD])([^,]*)(?:,(.*))?\Z", re.DOTALL)
_ESCAPE = re.compile(r"\\u([0-9A-Fa-f]{4})")

Attributes = Mapping[str, tuple[str, ...]]


def attribute_of(command: str) -> Optional[tuple[str, str, tuple[str, ...]]]:
    """The kind (F, A, O, D), name and fields of an attribute command such as ``TF.Part,Single``; None for another."""
    match = _ATTRIBUTE.match(command)
    if not match:
        return None
    values = tuple(_ESCAPE.sub(lambda m: chr(int(m[1], 16)), value) for value in (match[3] or "").split(","))
    return match[1], match[2].strip(), values


class AttributeDictionary:
    """The attributes that hold at one place of a file.

    Attributes:
        of_file: those of the whole file, by name with the dot (``.FileFunction``).
        of_aperture: those that the next aperture definition takes.
        of_object: those that the next flash or stroke takes; a new mapping at each change, so that they can be kept.
    """

    def __init__(self) -> None:
        self.of_file: dict[str, tuple[str, ...]] = {}
        self.of_aperture: dict[str, tuple[str, ...]] = {}
        self.of_object: Attributes = {}

    def take(self, command: str) -> None:
        """Acts on a command such as ``TA.AperFunction,ViaPad``; deletes without a name delete all."""
        found = attribute_of(command)
        if found is None:
            return
        kind, name, values = found
        if kind == "F":
            self.of_file[name] = values
        elif kind == "A":
            self.of_aperture[name] = values
        elif kind == "O":
            self.of_object = {**self.of_object, name: values}
        elif name:
            self.of_aperture.pop(name, None)
            self.of_object = {key: value for key, value in self.of_object.items() if key != name}
        else:
            self.of_aperture, self.of_object = {}, {}
