# SPDX-License-Identifier: MIT
"""Lineworthy for the board editor: reader, hosts and dialog."""
