# SPDX-License-Identifier: MIT
"""The release folder: every file in it read for what it is, and what could not be read named."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta, timezone
from functools import cached_property
from pathlib import Path, PurePosixPath
from typing import Optional, Union

from lineworthy.errors import InputError
from lineworthy.intake.archive import Member, read_members
from lineworthy.intake.drill import DrillFile, drill_of, looks_like_drill, read_drill
from lineworthy.intake.gerber import GerberFile, looks_like_gerber, read_gerber
from lineworthy.intake.job import JobFile, looks_like_job, read_job
from lineworthy.intake.parts_file import parts_list_in
from lineworthy.intake.parts_list import PartsList
from lineworthy.intake.placement import PlacementFile, read_placement
from lineworthy.intake.plotnames import layer_by_name, layer_of
from lineworthy.knowledge.made import MadeLayer

_TABLES = (".csv", ".tsv", ".xlsx", ".txt", ".pos", ".mnt", ".xls")
_DRAWINGS = (".pdf", ".svg", ".dxf", ".png", ".ps", ".jpg", ".jpeg", ".html")
_PLOT_SUFFIX = re.compile(
    r"\.(gbr|ger|gerber|pho|art|gt[lospa]|gb[lospa]|g\d{1,2}|gl\d|gm\d{0,2}|gko|gml|gpi|drl|xln|exc|ncd?)\Z"
)
_PLACEMENT_NAME = re.compile(r"(?:^|[^a-z])(pos|pnp|cpl|xy|centroids?|pick|place(ment)?s?|bestückung)(?![a-z])", re.I)
_PARTS_NAME = re.compile(r"(?:^|[^a-z])(bom|parts?|stückliste|stueckliste|nomenclature)(?![a-z])", re.IGNORECASE)

COPIED = timedelta(hours=1)
"""A file that was changed this long after the moment it states was copied since (common practice, no source)."""


@dataclass(frozen=True)
class Header:
    """What a file says about where it comes from; empty where it is silent."""

    project: str = ""
    guid: str = ""
    revision: str = ""
    created: str = ""
    software: str = ""
    part: str = ""
    coordinates: str = ""

    @property
    def when(self) -> Optional[datetime]:
        """The moment of creation, None when not stated, malformed or without a time zone."""
        text = re.sub(r"Z\Z", "+00:00", self.created.strip())
        text = re.sub(r"([+-]\d\d)(\d\d)\Z", r"\1:\2", text)
        try:
            moment = datetime.fromisoformat(text)
            return moment.astimezone(timezone.utc) if moment.tzinfo else None
        except (ValueError, OverflowError):
            return None


@dataclass(frozen=True, eq=False)
class Plot:
    """A Gerber file; `layer` is None for what is no layer of the board (drawings, courtyards)."""

    name: str
    gerber: GerberFile
    layer: Optional[MadeLayer]
    by_name: bool = False


@dataclass(frozen=True)
class NotRead:
    """A file that should say something and does not."""

    name: str
    reason: str


@dataclass(frozen=True, eq=False)
class ReleaseFolder:
    """A release as it is sent.

    Attributes:
        name: the folder's or the archive's own name.
        others: files nobody reads here (models, read-me files).
        saved: when the board file was last saved, None when not known or when the file system cannot tell.
    """

    name: str
    plots: tuple[Plot, ...] = ()
    drills: tuple[DrillFile, ...] = ()
    jobs: tuple[JobFile, ...] = ()
    placements: tuple[PlacementFile, ...] = ()
    parts_lists: tuple[PartsList, ...] = ()
    drawings: tuple[str, ...] = ()
    others: tuple[str, ...] = ()
    unread: tuple[NotRead, ...] = ()
    saved: Optional[datetime] = None

    @cached_property
    def headers(self) -> Mapping[str, Header]:
        """What each plot, drill and job file says about itself, by file name."""
        found = {plot.name: _header(plot.gerber) for plot in self.plots}
        found.update({drill.name: _header(drill) for drill in self.drills})
        for job in self.jobs:
            software = " ".join(word for word in job.software if word)
            found[job.name] = Header(job.project, job.guid, job.revision, job.created, software)
        return found

    @property
    def file_names(self) -> tuple[str, ...]:
        """Every file, by name."""
        read = [*self.headers, *(f.name for f in self.placements), *(parts.source for parts in self.parts_lists)]
        return tuple(sorted({*read, *self.drawings, *self.others, *(file.name for file in self.unread)}))


def read_folder(path: Path, board_file: Optional[Path] = None) -> ReleaseFolder:
    """Reads a release folder or ZIP archive.

    Args:
        path: the folder or archive.
        board_file: the board it is said to be of; only the time it was saved is taken from it.

    Raises:
        InputError: the place cannot be read or holds what no release does (see `archive`).
    """
    members = read_members(path)
    folder = folder_of(path.resolve().name, members)
    if board_file is None or not _keeps_times(folder, [*(member.changed for member in members), _changed(path)]):
        return folder
    return replace(folder, saved=_changed(board_file))


def _changed(path: Path) -> Optional[datetime]:
    try:
        return datetime.fromtimestamp(path.stat().st_mtime, timezone.utc)
    except OSError:
        return None


def _keeps_times(folder: ReleaseFolder, changed: Sequence[Optional[datetime]]) -> bool:
    """Whether the file system can tell when something was saved here.

    A fresh copy or a checkout gives every file the moment it was made at. Then no file of the release is as old as it
    says it is, and the board's own time means nothing either.
    """
    made = [when for header in folder.headers.values() if (when := header.when) is not None]
    return any(abs(time - when) <= COPIED for time in changed if time is not None for when in made)


def folder_of(name: str, members: tuple[Member, ...], saved: Optional[datetime] = None) -> ReleaseFolder:
    """A release from the content of its files."""
    read = list(_sorted_out(members))
    jobs = tuple(item for item in read if isinstance(item, JobFile))
    listed = {PurePosixPath(path).name: function for job in jobs for path, function in job.files.items()}
    plots: list[Plot] = []
    drills = [item for item in read if isinstance(item, DrillFile)]
    for gerber in (item for item in read if isinstance(item, GerberFile)):
        function = gerber.attributes.get(".FileFunction") or listed.get(PurePosixPath(gerber.name).name, ())
        if function and function[0].casefold() in ("plated", "nonplated"):
            drills.append(drill_of(gerber))
        elif function:
            plots.append(Plot(gerber.name, gerber, layer_of(function)))
        else:
            plots.append(Plot(gerber.name, gerber, layer_by_name(gerber.name), by_name=True))
    loose = [item for item in read if isinstance(item, str)]
    return ReleaseFolder(
        name=name,
        plots=tuple(plots),
        drills=tuple(drills),
        jobs=jobs,
        placements=tuple(item for item in read if isinstance(item, PlacementFile)),
        parts_lists=tuple(item for item in read if isinstance(item, PartsList)),
        drawings=tuple(name for name in loose if name.casefold().endswith(_DRAWINGS)),
        others=tuple(name for name in loose if not name.casefold().endswith(_DRAWINGS)),
        unread=tuple(item for item in read if isinstance(item, NotRead)),
        saved=saved,
    )


_Read = Union[GerberFile, DrillFile, JobFile, PlacementFile, PartsList, NotRead, str]


def _sorted_out(members: tuple[Member, ...]) -> Iterator[_Read]:
    for member in members:
        try:
            yield _read(member)
        except InputError as error:
            yield NotRead(member.name, ": ".join(text for text in (error.place, error.reason) if text))


def _read(member: Member) -> _Read:
    name, data = member.name, member.data
    head = data[:8192].decode("utf-8", "replace")
    lower = name.casefold()
    if looks_like_job(name, head):
        return read_job(name, data)
    if looks_like_drill(head):
        return read_drill(name, data)
    if looks_like_gerber(head) and not lower.endswith(_DRAWINGS):
        return read_gerber(name, data)
    if _PLOT_SUFFIX.search(lower):
        return NotRead(name, "is empty" if not data.strip() else "begins neither as a plot nor as a drill file")
    return _table(name, data) if lower.endswith(_TABLES) else name


def _table(name: str, data: bytes) -> _Read:
    """A placement file, else a parts list, else nothing we read, unless its name says that it is one of them."""
    try:
        return read_placement(name, data)
    except InputError as placement:
        stem = PurePosixPath(name).stem
        try:
            if not _PLACEMENT_NAME.search(stem):
                return parts_list_in(data, name)
        except InputError as parts:
            return NotRead(name, parts.reason) if _PARTS_NAME.search(stem) else name
        return NotRead(name, placement.reason)


def _header(file: Union[GerberFile, DrillFile]) -> Header:
    def field(name: str, index: int = 0) -> str:
        fields = file.attributes.get(name, ())
        return fields[index].strip() if len(fields) > index else ""

    software = " ".join(word.strip() for word in file.attributes.get(".GenerationSoftware", ()) if word.strip())
    return Header(
        project=field(".ProjectId"),
        guid=field(".ProjectId", 1),
        revision=field(".ProjectId", 2),
        created=field(".CreationDate"),
        software=software,
        part=field(".Part"),
        coordinates=field(".SameCoordinates"),
    )
