# SPDX-License-Identifier: MIT
"""The ``lineworthy`` command: the core's command line with the board reader wired in."""

from __future__ import annotations

import sys

from lineworthy import cli
from lineworthy_kicad.amend_command import AmendCommand
from lineworthy_kicad.reader import read_board


def main() -> int:
    """Runs the command line on this process's arguments."""
    return cli.main(sys.argv[1:], read_board, (AmendCommand(),))


if __name__ == "__main__":
    sys.exit(main())
