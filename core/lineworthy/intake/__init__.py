# SPDX-License-Identifier: MIT
"""Reads the files people have (parts lists, offers, placement, plots) into plain data, and says what it understood."""
