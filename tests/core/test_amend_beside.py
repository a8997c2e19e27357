# SPDX-License-Identifier: MIT
"""Inserting with things beside the board: what was released and conceded neither hinders nor flatters the proof."""

from __future__ import annotations

from datetime import date

import build
from lineworthy import Beside, built_in, review
from lineworthy.amend import Wanted, offer
from lineworthy.concessions import Concession
from lineworthy.intake.folder import ReleaseFolder
from lineworthy.model import TitleBlock
from lineworthy.release.manifest import Manifest
from lineworthy.release.record import record

SHEET = built_in()
BOARD = build.board(
    parts=(build.smd_part("U1", (30, 20), nets=("VCC", "GND", "A", "GND"), pitch=0.65, land=(0.3, 1.2)),),
    title=TitleBlock(title="Widget", revision="C"),
)
TOO_FEW = "fiducials/too-few"


def measure(text: str, height: float, stroke: float) -> tuple[float, float]:
    return len(text) * height * 0.9, height * 1.6


def test_the_proof_is_the_same_with_and_without_what_lies_beside() -> None:
    plain = offer(BOARD, SHEET, Wanted(fiducials=True), measure)
    assert plain.amendments
    assert TOO_FEW in {finding.check for finding in plain.proof.gone}
    found = next(f for f in review(BOARD, SHEET).findings if f.check == TOO_FEW)
    made = record(BOARD)
    beside = Beside(
        concessions=(
            Concession(TOO_FEW, found.fingerprint, "r", "n", date(2026, 3, 14), "C"),
            Concession("spacing/gone", "aa", "r", "n", date(2026, 3, 14), "C"),
        ),
        folder=ReleaseFolder("release"),
        released=Manifest("widget", "C", made.digest, record=made),
        today=date(2026, 3, 14),
    )
    before = review(BOARD, SHEET, beside=beside)
    assert TOO_FEW not in {f.check for f in before.findings}
    offered = offer(BOARD, SHEET, Wanted(fiducials=True), measure, before=before)
    assert offered.amendments == plain.amendments
    assert offered.proof == plain.proof
