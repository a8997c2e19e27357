# SPDX-License-Identifier: MIT
"""What a person gives beside the board: the settings, the parts list, the offers, the release folder, concessions."""

from __future__ import annotations

import os
import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from functools import partial
from pathlib import Path
from typing import Any, Callable, Optional

from lineworthy import concessions, project
from lineworthy.concessions import Concession
from lineworthy.errors import InputError
from lineworthy.intake.folder import ReleaseFolder, read_folder
from lineworthy.intake.models import measured
from lineworthy.intake.offers import Offers, read_offers
from lineworthy.intake.parts_file import read_parts_list
from lineworthy.intake.parts_list import PartsList
from lineworthy.model import Board
from lineworthy.project import Project
from lineworthy.release import manifest
from lineworthy.release.manifest import Manifest


@dataclass(frozen=True)
class Beside:
    """Everything a review looks at besides board and sheet; None where it was not given.

    Attributes:
        parts: the parts list.
        offers: what sources offer for its parts.
        folder: the release folder.
        released: the manifest of an earlier release of this board.
        today: the day of the review, an input so that a review can be repeated.
        passed_over: as `passed_over` tells it.
    """

    project: Project = field(default_factory=Project)
    concessions: tuple[Concession, ...] = ()
    parts: Optional[PartsList] = None
    offers: Optional[Offers] = None
    folder: Optional[ReleaseFolder] = None
    released: Optional[Manifest] = None
    today: Optional[date] = None
    passed_over: tuple[str, ...] = ()

    def measured(self, board: Board) -> Board:
        """The board with the heights of its parts' 3D models, when the settings name the folder they are in."""
        folder = self.project.models
        return board if folder is None else measured(board, folder, Path(self.project.source).parent)


Read = Callable[[Path, Optional[Path]], Any]

READERS: Mapping[str, tuple[str, Read]] = {
    "parts": ("parts_list", lambda path, board: read_parts_list(path)),
    "offers": ("offers", lambda path, board: read_offers(path)),
    "folder": ("release_folder", read_folder),
    "released": ("released", lambda path, board: manifest.load(path)),
}
"""A field of `Beside`: the entry of the settings that names its file, and what reads that file, told of the board's."""


def gather(
    board: Optional[Path],
    said: Optional[Mapping[str, Any]] = None,
    *,
    today: Optional[date] = None,
    missed: Optional[list[InputError]] = None,
) -> Beside:
    """Reads everything that lies beside a board or is named by its settings.

    Args:
        board: the board's file; None for a board that was never saved.
        said: entries of the settings said otherwise, by name; None stands for not said.
        today: the day of the review.
        missed: gets what cannot be used, which is then left out. Without it the first such thing is raised.

    Raises:
        InputError: a file that is there, or is named, cannot be used.
    """
    over = {name: value for name, value in (said or {}).items() if value is not None}
    got: dict[str, Any] = {"project": Project(), "today": today}

    def take(name: str, read: Callable[[], Any]) -> None:
        try:
            got[name] = read()
        except InputError as error:
            if missed is None:
                raise
            missed.append(error)

    if board is not None:
        got["passed_over"] = passed_over(board)
        take("project", lambda: project.load(project.beside(board)))
        take("concessions", lambda: concessions.load(concessions.beside(board)))
    wanted: Project = replace(got["project"], **over)
    got["project"] = wanted
    take("project", lambda: _with_models(wanted))
    for name, (entry, read) in READERS.items():
        path: Optional[Path] = getattr(wanted, entry)
        if path is not None:
            take(name, partial(_read, path, board, read, "" if entry in over else wanted.source, entry))
    return Beside(**got)


def settings_of(board: Path) -> Beside:
    """Only the settings beside a board, for who plans: the files they name must not be there for that.

    Raises:
        InputError: the settings cannot be used, or the folder of models is not there.
    """
    return Beside(project=_with_models(project.load(project.beside(board))))


def passed_over(board: Path) -> tuple[str, ...]:
    """Files in the board's folder that look like its settings or concessions, and are not, in a sentence each.

    Nothing is told of a kind that the board has under the right name, nor of what is another board's there.
    """
    try:
        names = sorted(os.listdir(board.parent))
    except OSError:
        return ()
    stems = [name[: -len(board.suffix)] for name in names if name.endswith(board.suffix)]
    said: list[str] = []
    for what, place in (("settings", project.beside(board)), ("concessions", concessions.beside(board))):
        ending = place.name[len(board.stem) :]
        like = re.compile(rf"(?:^|[._-]){re.escape(ending[1:])}(?:\.txt)?\Z", re.IGNORECASE)
        right = {f"{stem}{ending}" for stem in stems}
        wrong = [] if place.exists() else [name for name in names if like.search(name) and name not in right]
        said += [f"{name} is not read, the {what} of {board.name} are kept in {place.name}" for name in wrong]
    return tuple(said)


def _with_models(project: Project) -> Project:
    """The settings, the folder of models among them seen to be there."""
    if project.models is not None and not project.models.is_dir():
        raise InputError(project.source, f"{project.models}: no such folder", "models")
    return project


def _read(path: Path, board: Optional[Path], read: Read, settings: str, entry: str) -> Any:
    """A file; when the settings named it, what is wrong with it begins with their name."""
    try:
        return read(path, board)
    except InputError as error:
        raise InputError(settings, str(error), entry) if settings else error from None
