# SPDX-License-Identifier: MIT
"""Amendments: what to insert, where it fits, and the proof that it helps and harms nothing."""

from __future__ import annotations

from lineworthy.amend.amendment import Amendment, FiducialMark, MarkingText, ProbePad, ToolingHole
from lineworthy.amend.offering import Offer, offer, propose
from lineworthy.amend.plan import Measure, Proposal, Refusal, Wanted
from lineworthy.amend.proof import Proof, amended, overrun, prove

__all__ = [
    "Amendment",
    "FiducialMark",
    "MarkingText",
    "Measure",
    "Offer",
    "ProbePad",
    "Proof",
    "Proposal",
    "Refusal",
    "ToolingHole",
    "Wanted",
    "amended",
    "offer",
    "overrun",
    "propose",
    "prove",
]
