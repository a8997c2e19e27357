# SPDX-License-Identifier: MIT
"""All checks, area by area. A check is a function in its area's file, listed in that file's ``CHECKS``."""

from lineworthy.checks import (
    bare_board,
    fiducials,
    identity,
    panel,
    release,
    solder,
    spacing,
    supply,
    test_access,
)
from lineworthy.registry import Check

CHECKS: tuple[Check, ...] = (
    *identity.CHECKS,
    *fiducials.CHECKS,
    *test_access.CHECKS,
    *panel.CHECKS,
    *supply.CHECKS,
    *spacing.CHECKS,
    *solder.CHECKS,
    *bare_board.CHECKS,
    *release.CHECKS,
)
"""Every check there is, in the order of the areas."""
