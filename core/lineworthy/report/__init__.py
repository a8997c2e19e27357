# SPDX-License-Identifier: MIT
"""One file per report format."""
