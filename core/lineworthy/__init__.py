# SPDX-License-Identifier: MIT
"""Lineworthy: the production-release review for printed circuit boards.

>>> from lineworthy import Board, review
>>> review(Board(name="empty")).count(Consequence.HOLD) > 0
True
"""

from lineworthy.beside import Beside, gather
from lineworthy.errors import InputError, LineworthyError, SheetError, UnknownCheckError
from lineworthy.finding import Consequence, Finding, NotRun, Place
from lineworthy.model import Board
from lineworthy.review import Review, review
from lineworthy.sheet import Sheet, built_in, load

__version__ = "0.1.0"

__all__ = [
    "Beside",
    "Board",
    "Consequence",
    "Finding",
    "InputError",
    "LineworthyError",
    "NotRun",
    "Place",
    "Review",
    "Sheet",
    "SheetError",
    "UnknownCheckError",
    "built_in",
    "gather",
    "load",
    "review",
]
