# SPDX-License-Identifier: MIT
"""What ``lineworthy release --manifest`` writes: the manifest, the record of the board, and the assembly brief."""

from __future__ import annotations

import hashlib
from datetime import date
from pathlib import Path
from typing import Any

from lineworthy import __version__
from lineworthy.cli.command import file_stem, write_told
from lineworthy.finding import Consequence
from lineworthy.intake.archive import read_members
from lineworthy.knowledge.printed import Printed
from lineworthy.release import manifest
from lineworthy.release.manifest import Manifest, ReleasedFile, revision_of
from lineworthy.release.record import record
from lineworthy.report import brief
from lineworthy.review import Review


def write_released(place: Path, review: Review, folder: Path, day: date) -> None:
    """Writes the three files into `place` and says each.

    Args:
        place: a folder; made where it is missing.
        review: the review of the board with all its checks.
        folder: the release folder or its zip.
        day: of the release.

    Raises:
        InputError: the folder cannot be read, or the place not be written.
    """
    whole = record(review.board)
    files = (ReleasedFile(m.name, len(m.data), hashlib.sha256(m.data).hexdigest()) for m in read_members(folder))
    made = Manifest(
        board=review.board.name,
        revision=revision_of(Printed(review.board)),
        digest=whole.digest,
        released=day.isoformat(),
        files=tuple(files),
        review=_reviewed(review),
    )
    stem = file_stem(review.board.path or review.board.name)
    texts = {**manifest.texts(stem, made, whole), f"{stem}-brief.html": brief.render(review, made)}
    write_told({place / name: text for name, text in texts.items()}, review.board.path)


def _reviewed(review: Review) -> dict[str, Any]:
    return {
        "tool": f"lineworthy {__version__}",
        "sheet": review.sheet.name,
        "verdict": review.verdict,
        **{consequence.value: review.count(consequence) for consequence in Consequence},
        "not_run": len(review.not_run),
        "concessions": [
            {
                "check": given.check,
                "fingerprint": given.fingerprint,
                "reason": given.reason,
                "name": given.name,
                "date": given.date.isoformat(),
            }
            for _, given in review.conceded
        ],
    }
