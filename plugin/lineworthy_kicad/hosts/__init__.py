# SPDX-License-Identifier: MIT
"""The places a board can live in, behind one protocol."""
