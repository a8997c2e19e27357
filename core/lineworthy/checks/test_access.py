# SPDX-License-Identifier: MIT
"""Checks of one area."""

from __future__ import annotations

from lineworthy.registry import Check

CHECKS: tuple[Check, ...] = ()
