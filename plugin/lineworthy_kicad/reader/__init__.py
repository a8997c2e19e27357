# SPDX-License-Identifier: MIT
"""Document text to `lineworthy.model.Board`."""
