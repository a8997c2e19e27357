# SPDX-License-Identifier: MIT
"""The ``lineworthy`` command: the core's command line with the board reader wired in."""

from __future__ import annotations

import signal
import sys


def main() -> int:
    """Runs the command line on this process's arguments."""
    heard = signal.getsignal(signal.SIGINT)
    if heard is signal.default_int_handler:  # while libraries load, Ctrl+C ends the program without their traces
        signal.signal(signal.SIGINT, signal.SIG_DFL)
    from lineworthy import cli
    from lineworthy_kicad.amend_command import AmendCommand
    from lineworthy_kicad.reader import read_board

    signal.signal(signal.SIGINT, heard)
    return cli.main(sys.argv[1:], read_board, (AmendCommand(),))


if __name__ == "__main__":
    sys.exit(main())
