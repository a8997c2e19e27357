# SPDX-License-Identifier: MIT
"""All checks, area by area. A check is a function in its area's file, listed in that file's ``CHECKS``."""

from lineworthy.checks import (
    bare_board,
    fiducials,
    fiducials_each,
    fiducials_set,
    identity,
    identity_agreement,
    identity_assembly,
    identity_reading,
    panel,
    release,
    release_concessions,
    revision_guard,
    solder,
    spacing,
    supply,
    test_access,
    test_fixture,
    test_targets,
)
from lineworthy.registry import Check

CHECKS: tuple[Check, ...] = (
    *identity.CHECKS,
    *identity_reading.CHECKS,
    *identity_agreement.CHECKS,
    *identity_assembly.CHECKS,
    *fiducials.CHECKS,
    *fiducials_each.CHECKS,
    *fiducials_set.CHECKS,
    *test_access.CHECKS,
    *test_targets.CHECKS,
    *test_fixture.CHECKS,
    *panel.CHECKS,
    *supply.CHECKS,
    *spacing.CHECKS,
    *solder.CHECKS,
    *bare_board.CHECKS,
    *release.CHECKS,
    *revision_guard.CHECKS,
    *release_concessions.CHECKS,
)
"""Every check there is, in the order of the areas."""
