# SPDX-License-Identifier: MIT
"""What a person gives beside the board: the settings, the parts list, the offers, the release folder, concessions."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from typing import Any, Optional

from lineworthy.concessions import Concession
from lineworthy.project import Project


@dataclass(frozen=True)
class Beside:
    """Everything a review looks at besides board and sheet; None where it was not given.

    Attributes:
        parts: the parts list.
        offers: what sources offer for its parts.
        folder: the release folder.
        released: the manifest of an earlier release of this board.
        today: the day of the review, an input so that a review can be repeated.
    """

    project: Project = field(default_factory=Project)
    concessions: tuple[Concession, ...] = ()
    parts: Optional[Any] = None
    offers: Optional[Any] = None
    folder: Optional[Any] = None
    released: Optional[Any] = None
    today: Optional[date] = None
