# SPDX-License-Identifier: MIT
"""What the dialog offers to insert, planned and proven by the core with the editor's own text measures."""

from __future__ import annotations

from collections.abc import Sequence

from lineworthy.amend import Amendment, Offer, Wanted, offer, prove
from lineworthy.review import Progress, Review
from lineworthy_kicad.dialog.reading import area_of
from lineworthy_kicad.dialog.worker import Tell
from lineworthy_kicad.reader.text_extents import measure

WANTED = Wanted(fiducials=True, revision=True, ground_pad=True)
"""What a factory asks every board for; the rest is asked for by name on the command line."""


class CorePlanner:
    """Plans by the core's planners, proves by a second review."""

    def offer(self, review: Review, tell: Tell) -> Offer:
        """What fits, what does not and why, and the proof."""
        tell(0.0, "Looking for room on the board")
        return offer(
            review.board,
            review.sheet,
            WANTED,
            measure,
            before=review,
            progress=_reviewing(tell, 0.3),
        )

    def objections(self, review: Review, chosen: Sequence[Amendment], tell: Tell) -> Sequence[str]:
        """What the board with these in it would be found to have, that it has not now."""
        proof = prove(
            review.board,
            review.sheet,
            chosen,
            measure,
            before=review,
            progress=_reviewing(tell, 0.0),
        )
        return [finding.message for finding in proof.new]


def _reviewing(tell: Tell, before: float) -> Progress:
    """Tells of the second review; `before` is the share done when it starts."""
    return lambda done, total, check: tell(
        before + (1.0 - before) * done / total, f"Reviewing the result: {area_of(check)}"
    )
