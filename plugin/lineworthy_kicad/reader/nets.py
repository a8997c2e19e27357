# SPDX-License-Identifier: MIT
"""Nets: by number with a list, as documents had it until format 10, or by name."""

from __future__ import annotations

from typing import Optional

from lineworthy_kicad.reader.sexpr import Node, maybe_word, unquoted


class Nets:
    """Names of all nets met so far."""

    def __init__(self) -> None:
        self._by_number: dict[str, str] = {}
        self.names: dict[str, None] = {}

    def declare(self, node: Node) -> None:
        """Takes in an entry ``(net 5 "GND")`` of the document's list."""
        if len(node) > 2:
            name = maybe_word(node, 2)
            self._by_number[node[1] if type(node[1]) is str else ""] = name
            if name:
                self.names.setdefault(name)

    def of(self, node: Optional[Node]) -> str:
        """The name of the net a node like ``(net 5 "GND")``, ``(net 5)`` or ``(net "GND")`` means; empty for none."""
        if node is None or len(node) < 2 or type(node[1]) is not str:
            return ""
        if len(node) > 2 and type(node[2]) is str:
            name = unquoted(node[2])
        elif node[1].isdigit():
            name = self._by_number.get(node[1], "")
        else:
            name = unquoted(node[1])
        if name:
            self.names.setdefault(name)
        return name
