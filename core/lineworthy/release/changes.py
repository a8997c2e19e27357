# SPDX-License-Identifier: MIT
"""What differs between two records of a board, in a person's words."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Optional

from lineworthy.finding import Place
from lineworthy.knowledge.wording import counted, listed
from lineworthy.model import Board, Side
from lineworthy.release.record import Entry, Record, record
from lineworthy.shapes import Point

NEAR_MM = 5.0
"""Changes of copper nearer to each other than this are told as one."""

REFILLED_SHARE = 0.001
"""A pour whose area differs by less than this was filled again, most likely, and not drawn otherwise."""

_WORDS = {
    "thickness": "thickness",
    "copper layers": "copper layers",
    "finish": "surface finish",
    "plated edge": "plated edge",
    "layers of the stack-up": "stack-up",
}
_COUNT = re.compile(r" \(\d+\)\Z")
"""What tells apart things of one name in a record; of no interest to a person."""

_PLAIN = ("value", "package", "manufacturer", "manufacturer part", "order code")
_FLAGS = {
    "fitted": ("is no longer fitted", "is now fitted"),
    "in the parts list": ("is no longer in the parts list", "is now in the parts list"),
    "in the placement file": ("is no longer in the placement file", "is now in the placement file"),
}


@dataclass(frozen=True)
class Change:
    """One difference.

    Attributes:
        message: in words, from old to new.
        at: where, from the lower left corner of the record's board in mm; None for the board as a whole.
        side: the side it is seen from, None for both.
        small: what filling a pour again does, without anybody drawing something else.
    """

    message: str
    at: Optional[Point] = None
    side: Optional[Side] = None
    small: bool = False

    def place(self, origin: Point) -> Optional[Place]:
        """The place in the frame of the board that has its lower left corner at `origin`."""
        if self.at is None:
            return None
        return Place((self.at[0] + origin[0], self.at[1] + origin[1]), self.side, self.message)


def changes(old: Record, new: Record) -> tuple[Change, ...]:
    """Every difference, gravest kinds first; empty exactly when the digests are equal."""
    if old.digest == new.digest:
        return ()
    diff = _Difference(old, new)
    found: list[Change] = []
    for tell in (_board, _outline, _parts, _pads, _texts, _tracks, _vias, _drawings, _pours):
        found += tell(diff)
    return tuple(found)


def changes_of(old: Record, board: Board) -> tuple[tuple[Change, ...], Point]:
    """What differs between a record and a board, and the origin that the places are counted from.

    Counted from the lower left corner, a board that grew to the left has moved in all its parts; counted from the same
    point of the document, one that was moved on its sheet has. The telling with fewer changes is the right one.
    """
    new = record(board)
    found = changes(old, new)
    if len(found) <= 1 or new.origin == old.origin:
        return found, new.origin
    still = record(board, old.origin)
    other = changes(old, still)
    return (other, still.origin) if other and len(other) < len(found) else (found, new.origin)


class _Difference:
    """Entries of one kind that went, came, or stayed and changed.

    Nets and parts that only have another name are told as such, and stand under their new name in `old`.
    """

    def __init__(self, old: Record, new: Record) -> None:
        self.nets = dict(_renamed_nets(old, new))
        self.parts = dict(_renamed_parts(old, new))
        self.old, self.new = _under_new_names(old, self.nets, self.parts), new
        moves = {"place", "turn", "side", "package"}
        carried = {now.key for was, now in self.changed("part") if moves & set(_differing(was, now))}
        self.carrying = carried | {e.key for e in (*self.gone("part"), *self.come("part"))} | set(self.parts.values())

    def gone(self, kind: str) -> list[Entry]:
        """Entries of the old record that are not in the new one."""
        return [e for e in self.old.entries if e.kind == kind and (kind, e.key) not in self.new.by_key]

    def come(self, kind: str) -> list[Entry]:
        """Entries of the new record that are not in the old one."""
        return [e for e in self.new.entries if e.kind == kind and (kind, e.key) not in self.old.by_key]

    def changed(self, kind: str) -> list[tuple[Entry, Entry]]:
        """Entries of both records that differ."""
        pairs = [(e, self.new.by_key.get((kind, e.key))) for e in self.old.entries if e.kind == kind]
        return [(was, now) for was, now in pairs if now is not None and was.line != now.line]

    def goes_with_its_part(self, entry: Entry) -> bool:
        """Whether the part an entry belongs to came, went, moved or was renamed, which says enough."""
        return entry.owner in self.carrying


def _renamed_nets(old: Record, new: Record) -> Iterator[tuple[str, str]]:
    """Nets that have the same pads under another name."""
    was, now = _pads_of_nets(old), _pads_of_nets(new)
    called = {pads: name for name, pads in now.items() if name not in was}
    for name, pads in was.items():
        if name not in now and pads in called:
            yield name, called[pads]


def _pads_of_nets(made: Record) -> dict[str, frozenset[str]]:
    pads: dict[str, set[str]] = {}
    for entry in made.entries:
        if entry.kind == "pad" and entry.fact("net"):
            pads.setdefault(entry.fact("net"), set()).add(entry.key)
    return {name: frozenset(keys) for name, keys in pads.items()}


def _renamed_parts(old: Record, new: Record) -> Iterator[tuple[str, str]]:
    """Parts with another reference, and nothing else different."""
    came: dict[tuple[str, ...], list[str]] = {}
    for entry in new.entries:
        if entry.kind == "part" and ("part", entry.key) not in old.by_key:
            came.setdefault(entry.told, []).append(entry.key)
    for entry in old.entries:
        if entry.kind == "part" and ("part", entry.key) not in new.by_key and came.get(entry.told):
            yield entry.key, came[entry.told].pop()


def _under_new_names(old: Record, nets: Mapping[str, str], parts: Mapping[str, str]) -> Record:
    if not nets and not parts:
        return old
    return Record(tuple(_renamed(entry, nets, parts) for entry in old.entries), old.origin)


def _renamed(entry: Entry, nets: Mapping[str, str], parts: Mapping[str, str]) -> Entry:
    key, facts = entry.key, entry.facts
    if entry.fact("net") in nets:
        facts = {**facts, "net": nets[entry.fact("net")]}
    if entry.kind == "pour" and entry.name in nets:
        key = entry.key[: len(entry.key) - len(entry.name)] + nets[entry.name]
    if entry.kind == "part":
        key = parts.get(key, key)
    if entry.kind == "pad" and entry.owner in parts:
        key = parts[entry.owner] + key[len(entry.owner) :]
    return replace(entry, key=key, facts=facts, owner=parts.get(entry.owner, entry.owner))


def _differing(was: Entry, now: Entry) -> list[str]:
    names = dict.fromkeys([*was.facts, *now.facts])
    return [name for name in names if was.fact(name) != now.fact(name)]


def _from_to(was: Entry, now: Entry, name: str) -> str:
    return f"{was.fact(name) or 'none'} to {now.fact(name) or 'none'}"


def _board(diff: _Difference) -> Iterator[Change]:
    for was, now in diff.changed("board"):
        for name in _differing(was, now):
            yield Change(f"{_WORDS[name]} {_from_to(was, now, name)}" + (" mm" if name == "thickness" else ""))


def _outline(diff: _Difference) -> Iterator[Change]:
    for was, now in diff.changed("outline"):
        if "size" in _differing(was, now):
            yield Change(f"board outline {_from_to(was, now, 'size')}")
        elif now.key.startswith("edge"):
            yield Change("board outline has another shape, of the same size")
        else:
            yield Change("cut-out has another shape", now.at)
    for entries, word in ((diff.gone("outline"), "is gone"), (diff.come("outline"), "is new")):
        for entry in entries:
            what = "outline of a board" if entry.key.startswith("edge") else "cut-out"
            yield Change(f"{what} {word}", None if what.startswith("outline") else entry.at)


def _parts(diff: _Difference) -> Iterator[Change]:
    for was, now in diff.parts.items():
        entry = diff.new.by_key["part", now]
        yield Change(f"{_named(was)} is now {now}", entry.at, _side(entry))
    for word, entries in (("removed", diff.gone("part")), ("added", diff.come("part"))):
        for entry in entries:
            yield Change(f"{_named(entry.key)} {word} ({_what(entry)})", entry.at, _side(entry))
    for was_, now_ in diff.changed("part"):
        told = ", ".join(_part_messages(was_, now_))
        yield Change(f"{_named(now_.key)} {told}", now_.at, _side(now_))


def _what(entry: Entry) -> str:
    return ", ".join(word for word in (entry.fact("value"), entry.fact("package")) if word) or "nothing stated"


def _named(reference: str) -> str:
    return reference or "a part without a reference"


def _part_messages(was: Entry, now: Entry) -> Iterator[str]:
    differing = _differing(was, now)
    for name in _PLAIN:
        if name in differing:
            yield f"{name} {_from_to(was, now, name)}"
    for name, (no, yes) in _FLAGS.items():
        if name in differing:
            yield yes if now.fact(name) == "yes" else no
    if "side" in differing:
        yield f"moved to the {now.fact('side')}"
    if "place" in differing:
        yield f"moved by {math.dist(was.at, now.at):.3f} mm"
    if "turn" in differing:
        yield f"turned from {was.fact('turn')} to {now.fact('turn')} degrees"


def _pads(diff: _Difference) -> Iterator[Change]:
    for was, now in diff.nets.items():
        yield Change(f"net {was} is now called {now}")
    drawn: dict[tuple[str, str], list[Entry]] = {}
    for was_, now_ in diff.changed("pad"):
        for name in _differing(was_, now_):
            if name == "net":
                yield Change(f"{now_.key}: net {_from_to(was_, now_, 'net')}", now_.at, _side(now_))
            elif not diff.goes_with_its_part(now_):
                drawn.setdefault((now_.owner, name), []).append(now_)
    for (owner, name), entries in drawn.items():
        yield Change(f"{_named(owner)}: {name} of {_which(entries)} differs", entries[0].at, _side(entries[0]))
    for word, entries in (("gone", diff.gone("pad")), ("new", diff.come("pad"))):
        owners: dict[str, list[Entry]] = {}
        for entry in entries:
            if not diff.goes_with_its_part(entry):
                owners.setdefault(entry.owner, []).append(entry)
        for owner, pads in owners.items():
            told = f"{_named(owner)}: {_which(pads)} {'is' if len(pads) == 1 else 'are'} {word}"
            yield Change(told, pads[0].at, _side(pads[0]))


def _which(pads: Sequence[Entry]) -> str:
    """Pads by their numbers, which several may share and apertures do not have."""
    numbers = {_number(pad) for pad in pads} - {""}
    if not numbers:
        return counted(len(pads), "pad") + " without a number"
    return f"pad{'s' if len(numbers) > 1 else ''} {listed(numbers)}"


def _number(pad: Entry) -> str:
    return _COUNT.sub("", pad.key.rpartition(" pad ")[2])


def _texts(diff: _Difference) -> Iterator[Change]:
    gone = [entry for entry in diff.gone("text") if not diff.goes_with_its_part(entry)]
    come = [entry for entry in diff.come("text") if not diff.goes_with_its_part(entry)]
    places = {(entry.fact("place"), entry.layer): entry for entry in gone}
    for now in list(come):
        was = places.get((now.fact("place"), now.layer))
        if was is not None and was in gone:
            gone.remove(was)
            come.remove(now)
            yield Change(f"text {_quoted(was)} to {_quoted(now)} on {now.layer}", now.at, _side(now))
    for word, entries in (("removed", gone), ("added", come)):
        for entry in entries:
            yield Change(f"text {_quoted(entry)} on {entry.layer} {word}", entry.at, _side(entry))
    alike: dict[tuple[str, str], list[Entry]] = {}
    for was, now in diff.changed("text"):
        if not diff.goes_with_its_part(now):
            told = (_text_change(was, now, name) for name in _differing(was, now))
            alike.setdefault((now.layer, ", ".join(told)), []).append(now)
    for (layer, told_), texts in alike.items():
        yield Change(f"text {listed(map(_quoted, texts))} on {layer} {told_}", texts[0].at, _side(texts[0]))


def _text_change(was: Entry, now: Entry, name: str) -> str:
    if name == "place":
        return "moved"
    if name == "turn":
        return "turned"
    return f"{name} {_from_to(was, now, name)}" + (" mm" if name in ("height", "line width") else "")


def _quoted(entry: Entry) -> str:
    return repr(_COUNT.sub("", entry.name))


def _tracks(diff: _Difference) -> Iterator[Change]:
    for was, now in diff.changed("track"):
        told = ", ".join(
            f"{name} {_from_to(was, now, name)}" + (" mm" if name == "width" else "") for name in _differing(was, now)
        )
        yield Change(f"track on {now.layer}: {told}", now.at)
    yield from _grouped(diff, "track", lambda entry: (entry.layer, entry.fact("net")), "track", "tracks")


def _vias(diff: _Difference) -> Iterator[Change]:
    for was, now in diff.changed("via"):
        told = ", ".join(f"{name} {_from_to(was, now, name)}" for name in _differing(was, now))
        yield Change(f"via: {told}", now.at)
    yield from _grouped(diff, "via", lambda entry: ("", entry.fact("net")), "via", "vias")


def _drawings(diff: _Difference) -> Iterator[Change]:
    for was, now in diff.changed("drawing"):
        yield Change(f"drawn shape on {now.layer}: net {_from_to(was, now, 'net')}", now.at, _side(now))
    yield from _grouped(diff, "drawing", lambda entry: (entry.layer, ""), "drawn shape", "drawn shapes")


def _grouped(
    diff: _Difference, kind: str, group: Callable[[Entry], tuple[str, str]], one: str, many: str
) -> Iterator[Change]:
    """What went and came on one layer and net, told as one where it lies together."""
    groups: dict[tuple[str, str], list[tuple[Entry, bool]]] = {}
    for entries, is_new in ((diff.gone(kind), False), (diff.come(kind), True)):
        for entry in entries:
            if not diff.goes_with_its_part(entry):
                groups.setdefault(group(entry), []).append((entry, is_new))
    for (layer, net), members in groups.items():
        where = (f" on {layer}" if layer else "") + (f", net {net}" if net else "")
        for cluster in _clusters(members):
            gone = sum(not is_new for _, is_new in cluster)
            come = len(cluster) - gone
            if gone == come:
                told = f"{counted(come, one, many)}{where} moved or drawn otherwise"
            elif not gone or not come:
                told = f"{counted(gone + come, one, many)}{where} {'added' if come else 'removed'}"
            else:
                told = f"{counted(gone, one, many)}{where} drawn otherwise, now {come}"
            entry = next((entry for entry, is_new in cluster if is_new), cluster[0][0])
            yield Change(told, entry.at, _side(entry))


def _clusters(members: Sequence[tuple[Entry, bool]]) -> list[list[tuple[Entry, bool]]]:
    """Members that a chain of steps of at most `NEAR_MM` connects."""
    left = sorted(members, key=lambda member: (member[0].at, member[1]))
    found: list[list[tuple[Entry, bool]]] = []
    while left:
        cluster, edge = [left.pop(0)], 0
        while edge < len(cluster):
            here = cluster[edge][0].at
            near = [member for member in left if math.dist(member[0].at, here) <= NEAR_MM]
            left = [member for member in left if math.dist(member[0].at, here) > NEAR_MM]
            cluster += near
            edge += 1
        found.append(cluster)
    return found


def _pours(diff: _Difference) -> Iterator[Change]:
    for was, now in diff.changed("pour"):
        before, after = float(was.fact("area")), float(now.fact("area"))
        if abs(after - before) <= REFILLED_SHARE * max(before, after):
            told = f"pour {_pour(now)} filled otherwise, of almost the same area ({after:.1f} mm2)"
            yield Change(told, now.at, _side(now), small=True)
        else:
            yield Change(f"pour {_pour(now)}: area {before:.1f} to {after:.1f} mm2", now.at, _side(now))
    for word, entries in (("removed", diff.gone("pour")), ("added", diff.come("pour"))):
        for entry in entries:
            yield Change(f"pour {_pour(entry)} {word} ({entry.fact('area')} mm2)", entry.at, _side(entry))


def _pour(entry: Entry) -> str:
    return f"{entry.name or 'without a net'} on {entry.layer}"


def _side(entry: Entry) -> Optional[Side]:
    return Side(entry.side) if entry.side else None
