# SPDX-License-Identifier: MIT
"""What the trade knows: reading nets, packages, marks and revisions off a board."""
