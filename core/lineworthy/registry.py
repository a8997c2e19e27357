# SPDX-License-Identifier: MIT
"""`@check`: turns a function that yields findings into a check with an id, limits and documentation."""

from __future__ import annotations

import inspect
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Callable, Optional, Union

from lineworthy.escapes import in_a_line
from lineworthy.finding import Consequence, Finding, NotRun, Place, fingerprint
from lineworthy.model import Item, Pad, Part

AREAS = (
    "identity",
    "fiducials",
    "test-access",
    "panel",
    "supply",
    "spacing",
    "solder",
    "bare-board",
    "release",
)
"""The areas of a release review, in the order a report shows them."""

SECTIONS = ("Why it matters", "What to do", "Blind spots", "Source")
"""The docstring sections every check has, in this order."""

Answers = Iterator[Union[Finding, NotRun]]
ItemOrPad = Union[Item, tuple[Part, Pad]]

_ID = re.compile(r"(?P<area>[a-z-]+)/[a-z0-9-]+\Z")


@dataclass(frozen=True)
class Help:
    """A check's documentation, cut into its sections."""

    what: str
    sections: Mapping[str, str]


@dataclass(frozen=True)
class Check:
    """One question about a board.

    Attributes:
        id: ``area/problem``; names the problem, never the cure, and never changes once released.
        limits: capability-sheet keys the check compares with.
        inputs: names of what it needs (see `inputs.Inputs`), read off the function's parameters.
        ask: the function itself, callable in a test with the inputs as keywords.
    """

    id: str
    limits: tuple[str, ...]
    inputs: tuple[str, ...]
    ask: Callable[..., Answers]

    @property
    def area(self) -> str:
        """The area before the slash."""
        return self.id.split("/", 1)[0]

    @property
    def help(self) -> Help:
        """The documentation of the function, by section."""
        return parse_help(inspect.getdoc(self.ask) or "")

    def finding(
        self,
        consequence: Consequence,
        message: str,
        *,
        items: Iterable[ItemOrPad] = (),
        places: Iterable[Place] = (),
        measured: Optional[float] = None,
        limit: Optional[float] = None,
        unit: str = "mm",
        limit_key: str = "",
        detail: str = "",
    ) -> Finding:
        """A finding of this check; give a pad as ``(part, pad)``, and `detail` where items do not tell it apart."""
        owned = [_owned(item) for item in items]
        uids = dict.fromkeys(uid for item, owner in owned for uid in (owner, getattr(item, "uid", "")) if uid)
        return Finding(
            check=self.id,
            consequence=consequence,
            message=in_a_line(message),
            places=tuple(replace(place, label=in_a_line(place.label)) for place in places),
            uids=tuple(uids),
            measured=None if measured is None else round(float(measured), 6),
            limit=None if limit is None else float(limit),
            unit=unit if measured is not None or limit is not None else "",
            limit_key=limit_key,
            fingerprint=fingerprint(self.id, owned, detail),
        )

    def not_run(self, missing: str, how: str) -> NotRun:
        """Says that this check, or a part of it, could not be done.

        Args:
            missing: what it lacks, begun with ``no``: ``no parts list``.
            how: how to give it, as a request: ``give it with --parts FILE``.
        """
        return NotRun(self.id, _capital(missing), _capital(how))


def check(check_id: str, *, limits: Iterable[str] = ()) -> Callable[[Callable[..., Answers]], Check]:
    """Declares a check. The function's parameter names say what it needs."""
    match = _ID.match(check_id)
    if not match or match["area"] not in AREAS:
        raise ValueError(f"check id {check_id!r} is not area/problem with a known area")

    def declare(function: Callable[..., Answers]) -> Check:
        inputs = tuple(inspect.signature(function).parameters)
        return Check(check_id, tuple(limits), inputs, function)

    return declare


def parse_help(doc: str) -> Help:
    """Cuts a check's docstring into what it asks and its `SECTIONS`."""
    titles = "|".join(SECTIONS)
    parts = re.split(rf"^({titles}):\s*", doc, flags=re.MULTILINE)
    sections = {parts[i]: _capital(" ".join(parts[i + 1].split())) for i in range(1, len(parts), 2)}
    return Help(what=" ".join(parts[0].split()), sections=sections)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _owned(item: ItemOrPad) -> tuple[Item, str]:
    if isinstance(item, tuple):
        part, pad = item
        return pad, part.uid
    return item, getattr(item, "part_uid", "")
