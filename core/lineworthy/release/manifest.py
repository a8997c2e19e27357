# SPDX-License-Identifier: MIT
"""The release manifest: what was released as which revision, so that a later board cannot pass for the same one.

Two files side by side: ``NAME.manifest.json``, short and for people, and ``NAME.record.jsonl``, one line for each thing
that is made, from which the differences of a later board are told.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Optional

from lineworthy.errors import InputError
from lineworthy.files import read_text
from lineworthy.knowledge.printed import Printed
from lineworthy.knowledge.revisions import read_revisions
from lineworthy.release.record import Entry, Record

FORMAT = "lineworthy-manifest"
VERSION = 1

RECORD_BYTES_MAX = 500_000_000

_DIGEST = re.compile(r"[0-9a-f]{64}\Z")


@dataclass(frozen=True)
class ReleasedFile:
    """A file of the release folder, as it was sent."""

    name: str
    size: int
    sha256: str


@dataclass(frozen=True)
class Manifest:
    """What was released.

    Attributes:
        board: the board's name.
        revision: what the board says it is, as `revision_of` reads it; empty when it says nothing.
        digest: of the record.
        released: the day, as 2027-03-01; empty when not said.
        files: the release folder.
        review: verdict, counts, the sheet used, concessions in force: as data, for people and scripts.
        record: what was made, None when its file is missing or is not the manifest's.
    """

    board: str
    revision: str
    digest: str
    released: str = ""
    files: tuple[ReleasedFile, ...] = ()
    review: Mapping[str, Any] = field(default_factory=dict)
    record: Optional[Record] = None
    source: str = ""


def revision_of(printed: Printed) -> str:
    """The revision a board says it is: what is printed on it, or its title block's when nothing is."""
    values = {r.value for m in printed.visible for r in read_revisions(m.text, printed.context) if r.sure}
    return ", ".join(sorted(values)) or printed.stated_revision


def texts(stem: str, manifest: Manifest, record: Record) -> dict[str, str]:
    """Both files by their names, the manifest first."""
    name, beside = f"{stem}.manifest.json", f"{stem}.record.jsonl"
    lines = record_text(record)
    document = {
        "format": FORMAT,
        "version": VERSION,
        "board": manifest.board,
        "revision": manifest.revision,
        "released": manifest.released,
        "digest": manifest.digest,
        "record": {"file": beside, "sha256": hashlib.sha256(lines.encode("utf-8")).hexdigest()},
        "review": dict(manifest.review),
        "files": [vars(file) for file in manifest.files],
    }
    text = json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False)
    return {name: text.encode("utf-8", "replace").decode("utf-8") + "\n", beside: lines}


def load(path: Path) -> Manifest:
    """Reads a manifest, and the record beside it.

    Raises:
        InputError: no manifest, or a damaged one. A missing or foreign record is no error: the guard does without.
    """
    document = _document(path)
    for key in ("board", "revision", "digest", "released"):
        if not isinstance(document.get(key), str):
            raise InputError(str(path), "must be a text", key)
    if not _DIGEST.match(document["digest"]):
        raise InputError(str(path), "is not 64 hex digits", "digest")
    review = document.get("review", {})
    if not isinstance(review, dict):
        raise InputError(str(path), "must be an object", "review")
    return Manifest(
        board=document["board"],
        revision=document["revision"],
        digest=document["digest"],
        released=document["released"],
        files=tuple(_files(document.get("files", []), path)),
        review=review,
        record=_record_beside(path, document.get("record"), document["digest"]),
        source=str(path),
    )


def record_text(record: Record) -> str:
    """A record as lines of JSON, the place of its origin first."""
    head = {"origin": list(record.origin)}
    lines = [
        {"kind": e.kind, "key": e.key, "at": list(e.at), "side": e.side, "owner": e.owner, **_facts(e)}
        for e in record.entries
    ]
    # plain ASCII: a line end in a text stays within its line, and halves of surrogate pairs come back as they were
    return "".join(f"{json.dumps(line, allow_nan=False)}\n" for line in (head, *lines))


def _facts(entry: Entry) -> dict[str, Any]:
    return {"facts": {name: value for name, value in entry.facts.items() if value}}


def _document(path: Path) -> dict[str, Any]:
    text = read_text(path)
    if text is None:
        raise InputError(str(path), "cannot be read: no such file")
    try:
        document = json.loads(text)
    except (ValueError, RecursionError) as error:
        raise InputError(str(path), f"not JSON: {error}") from None
    if not isinstance(document, dict) or document.get("format") != FORMAT:
        raise InputError(str(path), "is not a release manifest")
    if document.get("version") != VERSION:
        raise InputError(str(path), f"is of version {document.get('version')!r}; this is read: {VERSION}")
    return document


def _files(entries: object, path: Path) -> Iterable[ReleasedFile]:
    if not isinstance(entries, list):
        raise InputError(str(path), "must be a list", "files")
    for number, entry in enumerate(entries, 1):
        kinds = {"name": str, "size": int, "sha256": str}
        whole = isinstance(entry, dict) and all(isinstance(entry.get(key), kind) for key, kind in kinds.items())
        if not whole:
            raise InputError(str(path), "needs name, size and sha256", f"file {number}")
        yield ReleasedFile(entry["name"], entry["size"], entry["sha256"])


def _record_beside(path: Path, told: object, digest: str) -> Optional[Record]:
    """The record's file, when it is there and is the one the manifest was written with."""
    if not isinstance(told, dict) or not isinstance(told.get("file"), str):
        return None
    beside = path.with_name(Path(told["file"]).name)  # never outside the manifest's own folder
    try:
        if beside.stat().st_size > RECORD_BYTES_MAX:
            return None
        record = parse_record(beside.read_text(encoding="utf-8").split("\n"))
    except (OSError, ValueError, LookupError, TypeError, AttributeError, RecursionError):
        return None
    return record if record.digest == digest else None


def parse_record(lines: Sequence[str]) -> Record:
    """The record that `record_text` wrote. Raises ValueError, LookupError, TypeError or AttributeError for others."""
    x, y = json.loads(lines[0])["origin"]
    entries = []
    for line in filter(None, lines[1:]):
        data = json.loads(line)
        facts = {str(name): str(value) for name, value in data["facts"].items()}
        if data["kind"] == "pour":
            float(facts["area"])  # a record is compared by it
        left, up = data["at"]
        kind, key, side, owner = (str(data[name]) for name in ("kind", "key", "side", "owner"))
        entries.append(Entry(kind, key, facts, (float(left), float(up)), side, owner))
    return Record(tuple(entries), (float(x), float(y)))
