# SPDX-License-Identifier: MIT
"""Which layer a plot shows: from its attribute, from the job file, or, where both are silent, from its name."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import PurePosixPath
from typing import Optional

from lineworthy.knowledge.made import MadeLayer
from lineworthy.model import LayerKind, Side

LAST = -1
"""Number of the bottom copper layer where a name says bottom and not how many layers there are."""

_KINDS = {
    "soldermask": LayerKind.MASK,
    "paste": LayerKind.PASTE,
    "solderpaste": LayerKind.PASTE,
    "legend": LayerKind.LEGEND,
    "silkscreen": LayerKind.LEGEND,
    "profile": LayerKind.OUTLINE,
}
_SIDES = {"top": Side.TOP, "bot": Side.BOTTOM, "bottom": Side.BOTTOM}

_BY_SUFFIX = {
    ".gtl": MadeLayer(LayerKind.COPPER, Side.TOP, 1),
    ".gbl": MadeLayer(LayerKind.COPPER, Side.BOTTOM, LAST),
    ".gts": MadeLayer(LayerKind.MASK, Side.TOP),
    ".gbs": MadeLayer(LayerKind.MASK, Side.BOTTOM),
    ".gtp": MadeLayer(LayerKind.PASTE, Side.TOP),
    ".gbp": MadeLayer(LayerKind.PASTE, Side.BOTTOM),
    ".gto": MadeLayer(LayerKind.LEGEND, Side.TOP),
    ".gbo": MadeLayer(LayerKind.LEGEND, Side.BOTTOM),
    ".gm1": MadeLayer(LayerKind.OUTLINE),
    ".gko": MadeLayer(LayerKind.OUTLINE),
    ".gml": MadeLayer(LayerKind.OUTLINE),
}
_FACE = r"(?:^|[^a-z])(?P<side>f|b|front|back|top|bot|bottom)"
_BY_NAME = (
    (LayerKind.MASK, re.compile(_FACE + r"[-_. ]*(?:solder)?[-_. ]*mask")),
    (LayerKind.PASTE, re.compile(_FACE + r"[-_. ]*(?:solder)?[-_. ]*paste")),
    (LayerKind.LEGEND, re.compile(_FACE + r"[-_. ]*(?:silk|legend|overlay)")),
    (LayerKind.COPPER, re.compile(_FACE + r"[-_. ]*(?:cu|copper|layer)(?![a-z])")),
)
_INNER = re.compile(r"(?:^|[^a-z])in(?:ner)?[-_. ]*(?:layer[-_. ]*)?(\d{1,2})(?:[-_. ]*cu)?(?!\d)|\.gl?(\d{1,2})\Z")
_PROFILE = re.compile(r"edge[-_. ]*cuts|(?:^|[^a-z])(?:outline|profile|contour)(?![a-z])")


def layer_of(function: Sequence[str]) -> Optional[MadeLayer]:
    """The layer of a file function such as ``Copper,L2,Inr`` or ``Soldermask,Top``; None for what is not made.

    The job file's spellings (``SolderMask``, ``SolderPaste``) mean the same.
    """
    fields = [field.strip().casefold() for field in function]
    if not fields:
        return None
    if fields[0] == "copper" and len(fields) > 1 and re.fullmatch(r"l\d{1,3}", fields[1]):
        side = _SIDES.get(fields[2]) if len(fields) > 2 else None
        return MadeLayer(LayerKind.COPPER, side, int(fields[1][1:]))
    kind = _KINDS.get(fields[0])
    if kind is LayerKind.OUTLINE:
        return MadeLayer(kind)
    side = _SIDES.get(fields[1]) if len(fields) > 1 else None
    return MadeLayer(kind, side) if kind is not None and side is not None else None


def layer_by_name(name: str) -> Optional[MadeLayer]:
    """The layer a file's name tells, as layout editors name plots; None when it tells none."""
    path = PurePosixPath(name.casefold())
    if path.suffix in _BY_SUFFIX:
        return _BY_SUFFIX[path.suffix]
    for kind, pattern in _BY_NAME:
        if match := pattern.search(path.stem):
            side = Side.TOP if match["side"][0] in "ft" else Side.BOTTOM
            number = 0 if kind is not LayerKind.COPPER else 1 if side is Side.TOP else LAST
            return MadeLayer(kind, side, number)
    if _PROFILE.search(path.stem):
        return MadeLayer(LayerKind.OUTLINE)
    if match := _INNER.search(path.name):
        return MadeLayer(LayerKind.COPPER, None, int(match[1] or match[2]) + 1)
    return None
