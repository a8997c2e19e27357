# SPDX-License-Identifier: MIT
"""What the board editor starts as a process of its own when the toolbar button is pressed."""

from __future__ import annotations

import os
import sys

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))

from lineworthy_kicad.launch.ipc import main

if __name__ == "__main__":
    sys.exit(main())
