# SPDX-License-Identifier: MIT
"""Amendments as nodes of the document, in the document's own format version.

Used wherever a board is written as text. What differs between versions 6 to 10 of the format is said once, in
`Dialect`.
"""

from __future__ import annotations

import re
import uuid
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Optional

from lineworthy.amend.amendment import Amendment, FiducialMark, MarkingText, ProbePad, ToolingHole
from lineworthy.amend.probes import MASK_MARGIN_MM
from lineworthy.model import Side
from lineworthy_kicad.hosts.host import HostError
from lineworthy_kicad.reader.document import OLDEST_VERSION
from lineworthy_kicad.reader.sexpr import unquoted

FIELDS_SINCE = 20230620
"""From here on the reference and the value of a part are properties, before they were texts of the footprint."""
UUIDS_SINCE = 20231014
"""From here on ids are called ``uuid`` and are quoted, and switches are written ``(hide yes)``."""
NET_NAMES_SINCE = 20251028
"""From here on nets are named where they are used; before they had a number."""
STROKES_SINCE = 20211229
"""From here on the pen of a drawing is a node of its own."""

_NAMESPACE = uuid.UUID("5f0e5b52-6cf1-5d0f-9f6e-2b8f0c3f7a11")
_VERSION = re.compile(r"\(\s*kicad_pcb\s*\(\s*version\s+(\d{8,9})\s*\)")
_NET = re.compile(r'\(net\s+(\d+)\s+("(?:[^"\\]|\\.)*")\s*\)')
_SIDE = {Side.TOP: "F", Side.BOTTOM: "B"}


@dataclass(frozen=True)
class Dialect:
    """How one document writes things.

    Attributes:
        version: its format version.
        net_numbers: number of each net, as far as asked for; None where nets go by name.
    """

    version: int
    net_numbers: Optional[dict[str, int]]

    @classmethod
    def of(cls, text: str, nets: Sequence[str] = ()) -> Dialect:
        """Reads version and net numbers off a document.

        Raises:
            HostError: the version is too old or missing, or a net has no number.
        """
        match = _VERSION.search(text[:4096])
        version = int(match[1]) if match else 0
        if version < OLDEST_VERSION:
            raise HostError("the board was written by version 5 of the editor or older: save it with a newer one first")
        if version >= NET_NAMES_SINCE:
            return cls(version, None)
        wanted = set(nets)
        numbers: dict[str, int] = {}
        # a quote inside of a text is written with a backslash, so this never matches within one
        for found in _NET.finditer(text) if wanted else ():
            name = unquoted(found[2])
            if name in wanted:
                numbers.setdefault(name, int(found[1]))
                if len(numbers) == len(wanted):
                    break
        if lost := sorted(wanted - set(numbers)):
            raise HostError(f"the document has no net called {lost[0]!r}")
        return cls(version, numbers)

    def ident(self, uid: str) -> str:
        """The node with an item's id."""
        return f'(uuid "{uid}")' if self.version >= UUIDS_SINCE else f"(tstamp {uid})"

    def net(self, name: str) -> str:
        """The node that puts a pad on a net."""
        if self.net_numbers is None:
            return f"(net {quoted(name)})"
        return f"(net {self.net_numbers[name]} {quoted(name)})"

    def field(self, name: str, value: str, layer: str, uid: str) -> str:
        """A hidden reference or value of a part."""
        mirror = " (justify mirror)" if layer.startswith("B.") else ""
        font = f"(effects (font (size 1 1) (thickness 0.15)){mirror})"
        if self.version >= FIELDS_SINCE:
            if self.version < UUIDS_SINCE:
                hidden = font[:-1] + " hide)"
                return f'(property "{name}" {quoted(value)} (at 0 0 0) (layer "{layer}") {self.ident(uid)} {hidden})'
            return (
                f'(property "{name}" {quoted(value)} (at 0 0 0) (layer "{layer}") (hide yes) {self.ident(uid)} {font})'
            )
        return f'(fp_text {name.lower()} {quoted(value)} (at 0 0) (layer "{layer}") hide {font} {self.ident(uid)})'


@dataclass(frozen=True)
class Written:
    """One amendment as text: the node, and the id its item has in it."""

    amendment: Amendment
    node: str
    uid: str


def written(amendments: Sequence[Amendment], text: str) -> tuple[Written, ...]:
    """The nodes that insert amendments into a document.

    Ids are made from what is inserted, so that the same amendments give the same bytes.

    Raises:
        HostError: the document cannot take them.
    """
    nets = [amendment.net for amendment in amendments if isinstance(amendment, ProbePad)]
    dialect = Dialect.of(text, nets)
    return tuple(_written(amendment, dialect, text) for amendment in amendments)


def _written(amendment: Amendment, dialect: Dialect, text: str) -> Written:
    uid = _uid(amendment, "item", text)
    if isinstance(amendment, MarkingText):
        return Written(amendment, _text(amendment, dialect, uid), uid)
    return Written(amendment, _footprint(amendment, dialect, uid, text), uid)


def _footprint(amendment: Amendment, dialect: Dialect, uid: str, text: str) -> str:
    assert not isinstance(amendment, MarkingText)
    side = Side.TOP if isinstance(amendment, ToolingHole) else amendment.side
    face = _SIDE[side]
    kind = "" if isinstance(amendment, ToolingHole) else "smd "
    lines = [
        f'(footprint {quoted(amendment.package)} (layer "{face}.Cu")',
        f"  {dialect.ident(uid)}",
        f"  (at {number(amendment.at[0])} {number(-amendment.at[1])})",
        "  " + dialect.field("Reference", amendment.reference, f"{face}.SilkS", _uid(amendment, "reference", text)),
        "  " + dialect.field("Value", amendment.package, f"{face}.Fab", _uid(amendment, "value", text)),
        f"  (attr {kind}board_only exclude_from_pos_files exclude_from_bom)",
        *("  " + _courtyard(amendment, dialect, face, text) for face in _faces(amendment)),
        "  " + _pad(amendment, dialect, _uid(amendment, "pad", text)),
        ")",
    ]
    return "\n".join(lines)


def _faces(amendment: Amendment) -> str:
    return "FB" if isinstance(amendment, ToolingHole) else _SIDE[amendment.side]


def _courtyard(amendment: Amendment, dialect: Dialect, face: str, text: str) -> str:
    """The circle other parts stay out of."""
    assert not isinstance(amendment, MarkingText)
    pen = "(stroke (width 0.05) (type solid))" if dialect.version >= STROKES_SINCE else "(width 0.05)"
    uid = dialect.ident(_uid(amendment, f"courtyard {face}", text))
    reach = number(amendment.keep_out / 2)
    return f'(fp_circle (center 0 0) (end {reach} 0) {pen} (fill none) (layer "{face}.CrtYd") {uid})'


def _pad(amendment: Amendment, dialect: Dialect, uid: str) -> str:
    assert not isinstance(amendment, MarkingText)
    d = number(amendment.diameter)
    if isinstance(amendment, ToolingHole):
        shape = f'(pad "" np_thru_hole circle (at 0 0) (size {d} {d}) (drill {d})'
        return f'{shape} (layers "*.Cu" "*.Mask") {dialect.ident(uid)})'
    face = _SIDE[amendment.side]
    land = f"smd circle (at 0 0) (size {d} {d})"
    layers = f'(layers "{face}.Cu" "{face}.Mask")'
    if isinstance(amendment, FiducialMark):
        ring = number(amendment.ring)
        use = "pad_prop_fiducial_loc" if amendment.local else "pad_prop_fiducial_glob"
        return (
            f'(pad "" {land} (property {use}) {layers} (solder_mask_margin {ring}) (clearance {ring}) '
            f"{dialect.ident(uid)})"
        )
    return (
        f'(pad "1" {land} (property pad_prop_testpoint) {layers} {dialect.net(amendment.net)} '
        f"(solder_mask_margin {number(MASK_MARGIN_MM)}) (zone_connect 2) {dialect.ident(uid)})"
    )


def _text(amendment: MarkingText, dialect: Dialect, uid: str) -> str:
    back = amendment.side is Side.BOTTOM
    # the document counts the angle as seen from the top, also for text that is read from below
    turn = number(-amendment.rotation % 360.0 if back else amendment.rotation)
    size, pen = number(amendment.height), number(amendment.stroke)
    return (
        f"(gr_text {quoted(amendment.source)} (at {number(amendment.at[0])} {number(-amendment.at[1])} {turn}) "
        f'(layer "{_SIDE[amendment.side]}.SilkS") {dialect.ident(uid)}\n'
        f"  (effects (font (size {size} {size}) (thickness {pen})){' (justify mirror)' if back else ''})\n)"
    )


def _uid(amendment: Amendment, role: str, text: str) -> str:
    """An id made from what is inserted; another one where the document has that already."""
    for attempt in _attempts():
        made = str(uuid.uuid5(_NAMESPACE, f"{role}{attempt} {amendment!r}"))
        if made not in text:
            return made
    raise AssertionError  # pragma: no cover - the attempts never end


def _attempts() -> Iterator[str]:
    yield ""
    count = 2
    while True:
        yield f"-{count}"
        count += 1


def number(value: float) -> str:
    """A length or an angle as the document writes it."""
    shown = f"{value:.6f}".rstrip("0").rstrip(".")
    return "0" if shown == "-0" else shown


def quoted(text: str) -> str:
    """A text in quotes; nothing in it can end them."""
    escaped = text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n").replace("\r", "\\r")
    return '"' + "".join(c for c in escaped if c == "\t" or ord(c) >= 0x20) + '"'


def inserted(text: str, nodes: Sequence[str]) -> str:
    """The document with nodes added just before its last bracket, everything else as it was.

    Raises:
        HostError: the text does not end with a bracket.
    """
    end = len(text.rstrip()) - 1
    if end < 0 or text[end] != ")":
        raise HostError("the document does not end with a closing bracket")
    newline = "\r\n" if "\r\n" in text[: 1 << 16] else "\n"
    indent = "\t" if f"{newline}\t(" in text[: 1 << 16] else "  "
    lines = [_indented(line, indent) for node in nodes for line in node.split("\n")]
    lead = "" if text[:end].endswith("\n") else newline
    return text[:end] + lead + "".join(line + newline for line in lines) + text[end:]


def _indented(line: str, indent: str) -> str:
    """A line of a node one level deeper, in the document's own kind of indent."""
    bare = line.lstrip(" ")
    return indent * (1 + (len(line) - len(bare)) // 2) + bare
