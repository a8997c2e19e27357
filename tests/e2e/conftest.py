# SPDX-License-Identifier: MIT
"""Puts the tools of the suite's root on the path."""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))
sys.path.insert(0, str(Path(__file__).parent))
