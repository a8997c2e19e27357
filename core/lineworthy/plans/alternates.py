# SPDX-License-Identifier: MIT
"""Whether an alternate can stand in for a part, as far as package, height and ratings are stated."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Optional

from lineworthy.intake.offers import Offers
from lineworthy.intake.parts_list import Alternate, PartsLine
from lineworthy.knowledge.packages_agree import number_sizes, same_package
from lineworthy.knowledge.values import ratings

_UNITS = {"voltage": "V", "power": "W", "current": "A"}
_HEIGHT_TOLERANCE_MM = 1e-6


@dataclass(frozen=True)
class Stated:
    """What is stated of one part number, wherever it is."""

    maker_part: str
    package: str = ""
    height: Optional[float] = None
    rated: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class AlternateVerdict:
    """An alternate held against its part.

    Attributes:
        differs: what is stated of both and does not allow the exchange, in words.
        agrees: what was compared and allows it.
        offered: whether anybody offers it.
    """

    maker_part: str
    differs: tuple[str, ...]
    agrees: tuple[str, ...]
    offered: bool

    @property
    def in_words(self) -> str:
        """What was found, in a few words."""
        if self.differs:
            return "; ".join(self.differs)
        if not self.agrees:
            return "nothing stated to compare"
        return f"{', '.join(self.agrees)} {'agrees' if len(self.agrees) == 1 else 'agree'}"


def of_line(line: PartsLine, package: str, offers: Optional[Offers]) -> Stated:
    """What is stated of a line's own part; `package` is what the board says, used before the list's."""
    offered = offers.of(line.maker_part) if offers and line.maker_part else ()
    texts = {name: text for offer in offered for name, text in offer.others.items()}
    rated = {**ratings("", texts), **ratings(line.value, line.others)}
    height = line.height if line.height is not None else max((o.height for o in offered if o.height), default=None)
    return Stated(line.maker_part, package or line.package, height, rated)


def of_alternate(alternate: Alternate, offers: Optional[Offers]) -> Stated:
    """What is stated of an alternate, by the list or by who offers it."""
    offered = offers.of(alternate.maker_part) if offers else ()
    texts = {name: text for offer in offered for name, text in offer.others.items()}
    package = alternate.package or next((offer.package for offer in offered if offer.package), "")
    heights = [alternate.height, *(offer.height for offer in offered)]
    height = max((tall for tall in heights if tall is not None), default=None)
    return Stated(alternate.maker_part, package, height, ratings("", {**texts, **alternate.others}))


def judge(part: Stated, alternate: Stated, letters: str, *, offered: bool) -> AlternateVerdict:
    """Holds an alternate against its part: same package, no taller, rated at least as high, no wider tolerance."""
    differs: list[str] = []
    agrees: list[str] = []
    _note(_package(part, alternate, letters), "package", differs, agrees)
    if part.height is not None and alternate.height is not None:
        taller = alternate.height > part.height + _HEIGHT_TOLERANCE_MM
        _note(f"{alternate.height:g} mm high, not {part.height:g} mm" if taller else "", "height", differs, agrees)
    for kind, unit in _UNITS.items():
        if kind in part.rated and kind in alternate.rated:
            less = alternate.rated[kind] < part.rated[kind]
            words = f"{kind} {alternate.rated[kind]:g} {unit}, less than {part.rated[kind]:g} {unit}"
            _note(words if less else "", kind, differs, agrees)
    if "tolerance" in part.rated and "tolerance" in alternate.rated:
        wider = alternate.rated["tolerance"] > part.rated["tolerance"]
        words = f"tolerance {alternate.rated['tolerance']:g} %, wider than {part.rated['tolerance']:g} %"
        _note(words if wider else "", "tolerance", differs, agrees)
    return AlternateVerdict(alternate.maker_part, tuple(differs), tuple(agrees), offered)


def _note(difference: Optional[str], what: str, differs: list[str], agrees: list[str]) -> None:
    if difference:
        differs.append(difference)
    elif difference is not None:
        agrees.append(what)


def _package(part: Stated, alternate: Stated, letters: str) -> Optional[str]:
    """How the packages differ, empty when they do not, None when that cannot be told."""
    if alternate.package:
        same = same_package(part.package, alternate.package, letters)
        return None if same is None else "" if same else f"package {alternate.package}, not {part.package}"
    sizes = number_sizes(alternate.maker_part)
    verdicts = [same_package(part.package, size, letters) for size in sizes]
    if letters not in ("R", "C", "L", "FB") or not verdicts or None in verdicts:
        return None
    return "" if any(verdicts) else f"size {sizes[0]} by its number, not {part.package}"
