# SPDX-License-Identifier: MIT
"""Computed answers beyond pass and fail: what to probe, how to panel, what to buy and when."""
