# SPDX-License-Identifier: MIT
"""Layer names: what each layer becomes, and what the wildcards in a pad's list stand for on this board."""

from __future__ import annotations

from collections.abc import Sequence

from lineworthy.model import Layer, LayerKind, Side
from lineworthy_kicad.reader.sexpr import Node, unquoted

_KIND = {
    "Cu": LayerKind.COPPER,
    "Mask": LayerKind.MASK,
    "Paste": LayerKind.PASTE,
    "SilkS": LayerKind.LEGEND,
    "Silkscreen": LayerKind.LEGEND,
    "Adhes": LayerKind.ADHESIVE,
    "Adhesive": LayerKind.ADHESIVE,
    "CrtYd": LayerKind.COURTYARD,
    "Courtyard": LayerKind.COURTYARD,
    "Fab": LayerKind.FABRICATION,
}
_SIDE = {"F": Side.TOP, "B": Side.BOTTOM}
_SIDES_OF = {"*": "FB", "F&B": "FB"}
TOP_COPPER, BOTTOM_COPPER = "F.Cu", "B.Cu"


class Layers:
    """The layers of one board.

    Attributes:
        copper: names of its copper layers from top to bottom.
        shown: the name the user gave to a layer, where it has one.
    """

    def __init__(
        self, copper: Sequence[str] = (TOP_COPPER, BOTTOM_COPPER), shown: Sequence[tuple[str, str]] = ()
    ) -> None:
        self.copper = tuple(copper)
        self.shown = dict(shown)
        self._layers: dict[str, Layer] = {}
        self._sets: dict[tuple[str, ...], frozenset[str]] = {}

    @classmethod
    def of(cls, node: Node) -> Layers:
        """From the document's ``(layers (0 "F.Cu" signal "user's name") ..)``."""
        names: list[str] = []
        shown: list[tuple[str, str]] = []
        for entry in node[1:]:
            if type(entry) is not list or len(entry) < 2 or type(entry[1]) is not str:
                continue
            name = unquoted(entry[1])
            if name.endswith(".Cu"):
                names.append(name)
            if len(entry) > 3 and type(entry[3]) is str:
                shown.append((name, unquoted(entry[3])))
        inner = sorted((n for n in set(names) - {TOP_COPPER, BOTTOM_COPPER}), key=_inner_order)
        outer = [n for n in (TOP_COPPER, BOTTOM_COPPER) if n in names] or [TOP_COPPER, BOTTOM_COPPER]
        return cls((outer[0], *inner, *outer[1:]), shown)

    def layer(self, name: str) -> Layer:
        """The layer of that name; names we do not know are drawings.

        A free layer (``User.1`` ..) goes by the name its user gave it: that alone says what is drawn there, as scores.
        """
        found = self._layers.get(name)
        if found is None:
            found = _made(name)
            shown = self.shown_name(name) if name.startswith("User.") else name
            if shown and _made(shown).kind is LayerKind.DRAWING:
                found = Layer(shown, found.kind, found.side)
            self._layers[name] = found
        return found

    def expand(self, tokens: Sequence[str]) -> frozenset[str]:
        """The layers a list of raw names with wildcards means; copper only where this board has it."""
        key = tuple(token for token in tokens if type(token) is str)
        found = self._sets.get(key)
        if found is None:
            found = self._sets[key] = frozenset(name for token in key for name in self._expand(unquoted(token)))
        return found

    def _expand(self, name: str) -> list[str]:
        start, _, kind = name.rpartition(".")
        if kind == "Cu" and start in ("*", "*In", "In"):
            return [n for n in self.copper if start == "*" or n not in (TOP_COPPER, BOTTOM_COPPER)]
        names = [f"{side}.{kind}" for side in _SIDES_OF[start]] if start in _SIDES_OF else [name]
        return [n for n in names if kind != "Cu" or n in self.copper]

    def shown_name(self, name: str) -> str:
        """What the user calls a layer."""
        return self.shown.get(name, name)


def _inner_order(name: str) -> tuple[int, str]:
    digits = "".join(char for char in name if char in "0123456789")
    return (int(digits[:6]) if digits else 0, name)


def _made(name: str) -> Layer:
    if name == "Edge.Cuts":
        return Layer(name, LayerKind.OUTLINE)
    start, _, rest = name.partition(".")
    kind = _KIND.get(rest)
    if kind is None:
        return Layer(name, LayerKind.DRAWING)
    return Layer(name, kind, _SIDE.get(start))
