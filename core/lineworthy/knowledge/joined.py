# SPDX-License-Identifier: MIT
"""Things in a row, and which of them are joined."""

from __future__ import annotations

from collections.abc import Iterable


class Joins:
    """Which of some numbered nodes are joined, directly or through others."""

    def __init__(self) -> None:
        self._above: list[int] = []

    def add(self, count: int) -> int:
        """More nodes, each by itself; returns the first one's number."""
        first = len(self._above)
        self._above += range(first, first + count)
        return first

    def root(self, node: int) -> int:
        """The node that stands for all joined with this one."""
        above = self._above
        while above[node] != node:
            above[node] = above[above[node]]
            node = above[node]
        return node

    def join(self, one: int, other: int) -> None:
        """Joins two nodes and all that hang on them."""
        self._above[self.root(one)] = self.root(other)

    def join_all(self, pairs: Iterable[tuple[int, int]]) -> None:
        """Joins many pairs."""
        for one, other in pairs:
            self.join(one, other)
