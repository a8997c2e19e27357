# SPDX-License-Identifier: MIT
"""Do-not-fit marks as people write them: in a column of their own, in the value, the quantity, a remark."""

from __future__ import annotations

import re
from typing import Optional

_WORDS = (
    r"dn[pfisl]|d\.n\.[pfi]\.?|do\s+not\s+(?:be\s+)?(?:fit|populate|place|install|stuff|mount|assemble|load|solder)"
    r"|not\s+(?:to\s+be\s+)?(?:fitted|populated|placed|mounted|installed|stuffed|assembled|loaded)"
    r"|no[\s-]?(?:fit|pop|populate|stuff|mount|place|load)|unpopulated|unfitted|un-?mounted"
    r"|nicht\s+best(?:ü|ue)ck(?:t|en)|unbest(?:ü|ue)ckt|nicht\s+montiert|non\s+mont[ée]e?s?|ne\s+pas\s+(?:monter|[ée]quiper|implanter)"
    r"|non\s+montat[oaie]|non\s+montare|no\s+montar|no\s+montad[oa]|niet\s+plaatsen|nie\s+montowa[ćc]|不贴装?|不焊接?|不上件|未実装|実装しない"
)
# these also mean other things (100 NF, NP0, n.c. contact): a mark only when they stand alone or in brackets
_ALONE = rf"{_WORDS}|nf|n\.f\.?|nm|np|nc|n\.c\.?|n/c|nb|n\.b\.?|ni|n/f|n/m|n/p|x"
_IN_TEXT = re.compile(rf"(?<![\w.])(?:{_WORDS})(?![\w])", re.IGNORECASE)
_WHOLE = re.compile(rf"\s*[\[(<*]?\s*(?:{_ALONE})\s*[\])>*]?\s*\Z", re.IGNORECASE)
_BRACKETED = re.compile(r"[\[(<]\s*(?:nf|nm|np|nc|nb|ni)\s*[\])>]|[/,;_]\s*(?:nf|nm|nb)\s*\Z", re.IGNORECASE)

_YES = re.compile(
    r"(?:y|yes|true|t|1|x|xx|✓|✔|☑|ok|j|ja|oui|o|si|sí|s|是|tak|fit|fitted|populated?|placed?|mount(?:ed)?"
    r"|install(?:ed)?|assembled?|stuff(?:ed)?|load(?:ed)?|best(?:ü|ue)ckt|mont[ée]|montato)\Z",
    re.IGNORECASE,
)
_NO = re.compile(r"(?:n|no|false|f|0|-|\u2013|nein|non|nee|nie|否|✗|✘|☐|none)\Z", re.IGNORECASE)


def marked_not_fitted(text: str, *, alone: bool = False) -> bool:
    """Whether a value, description or remark says that the part is not to be fitted.

    Args:
        text: the cell.
        alone: also take short marks (``NF``, ``NC``) that stand alone in the cell.
    """
    if _IN_TEXT.search(text) or _BRACKETED.search(text):
        return True
    return alone and text.strip().casefold() != "x" and _WHOLE.match(text) is not None


def says_only_not_fitted(text: str) -> bool:
    """Whether a text says that a part is not to be fitted, in words that mean nothing else, and says nothing more."""
    return _IN_TEXT.search(text) is not None and _WHOLE.match(text) is not None


def says_fitted(cell: str) -> Optional[bool]:
    """What a cell of a column like *Fitted* says; None when it says nothing."""
    text = cell.strip()
    if not text:
        return None
    if _NO.match(text) or (_WHOLE.match(text) and text.casefold() != "x"):
        return False
    return True if _YES.match(text) else None


def says_not_fitted(cell: str) -> Optional[bool]:
    """What a cell of a column like *Do not fit* says; None when it is empty or says nothing known."""
    text = cell.strip()
    if not text:
        return None
    if _NO.match(text):
        return False
    if re.match(r"(?:fit|fitted|populated?|placed?|mounted?|best(?:ü|ue)ckt)\Z", text, re.IGNORECASE):
        return False
    return True if _YES.match(text) or _WHOLE.match(text) or marked_not_fitted(text) else None
