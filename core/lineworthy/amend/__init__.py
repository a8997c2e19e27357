# SPDX-License-Identifier: MIT
"""Amendments: what to insert, where it fits, and the proof that it helps and harms nothing."""
