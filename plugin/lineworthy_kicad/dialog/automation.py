# SPDX-License-Identifier: MIT
"""For scripts and tests that run the dialog in a real editor: each review it makes, as a file.

Set the environment variable ``LINEWORTHY_REPORT_TO`` to a file before the editor starts. Whenever the dialog has
reviewed the board, the JSON report of that review is written there, replacing the one before.
"""

from __future__ import annotations

import os
from pathlib import Path

from lineworthy.files import write_atomic
from lineworthy.report import FORMATS
from lineworthy.review import Review

VARIABLE = "LINEWORTHY_REPORT_TO"


def report(review: Review) -> None:
    """Writes the report where the environment asks for it; does nothing otherwise.

    Raises:
        InputError: the file cannot be written.
    """
    target = os.environ.get(VARIABLE)
    if target:
        write_atomic(Path(target), FORMATS["json"].render(review))
