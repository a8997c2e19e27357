# SPDX-License-Identifier: MIT
"""Reading the Gerber job file: what the layout editor says it put into the folder."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Optional

from lineworthy.errors import InputError


@dataclass(frozen=True)
class JobFile:
    """A job file; empty or None where it does not say.

    Attributes:
        files: file function (``Copper,L1,Top`` split at commas) by the path it gives.
        size: width and height of the board in mm.
        layers: number of copper layers.
        thickness: of the finished board, mm.
    """

    name: str
    project: str = ""
    guid: str = ""
    revision: str = ""
    created: str = ""
    software: tuple[str, ...] = ()
    files: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    size: Optional[tuple[float, float]] = None
    layers: Optional[int] = None
    thickness: Optional[float] = None


def looks_like_job(name: str, head: str) -> bool:
    """Whether a file is a job file."""
    return name.casefold().endswith(".gbrjob") or (head.lstrip()[:1] == "{" and '"GeneralSpecs"' in head)


def read_job(name: str, data: bytes) -> JobFile:
    """Reads a job file.

    Raises:
        InputError: it is no JSON, or not of the form of a job file.
    """
    try:
        content = json.loads(data.decode("utf-8-sig", "replace"))
    except (ValueError, RecursionError) as error:
        place = f"line {error.lineno}" if isinstance(error, json.JSONDecodeError) else ""
        raise InputError(name, "is no complete JSON document", place) from None
    header, general = _part(content, "Header"), _part(content, "GeneralSpecs")
    if not header and not general:
        raise InputError(name, "has neither Header nor GeneralSpecs: no job file")
    project, software, size = _part(general, "ProjectId"), _part(header, "GenerationSoftware"), _part(general, "Size")
    listed = content.get("FilesAttributes")
    files = {
        _text(entry, "Path"): tuple(_text(entry, "FileFunction").split(","))
        for entry in (listed if isinstance(listed, list) else [])
        if isinstance(entry, dict) and _text(entry, "Path")
    }
    x, y = _number(size, "X"), _number(size, "Y")
    layers = _number(general, "LayerNumber")
    return JobFile(
        name=name,
        project=_text(project, "Name"),
        guid=_text(project, "GUID"),
        revision=_text(project, "Revision"),
        created=_text(header, "CreationDate"),
        software=tuple(_text(software, key) for key in ("Vendor", "Application", "Version")),
        files=files,
        size=(x, y) if x is not None and y is not None else None,
        layers=int(layers) if layers is not None else None,
        thickness=_number(general, "BoardThickness"),
    )


def _part(content: Any, key: str) -> dict[str, Any]:
    found = content.get(key) if isinstance(content, dict) else None
    return found if isinstance(found, dict) else {}


def _text(content: dict[str, Any], key: str) -> str:
    found = content.get(key)
    return found if isinstance(found, str) else ""


def _number(content: dict[str, Any], key: str) -> Optional[float]:
    found = content.get(key)
    usable = isinstance(found, (int, float)) and not isinstance(found, bool) and abs(found) < 1e6
    return float(found) if usable and found is not None else None
