# SPDX-License-Identifier: MIT
"""``lineworthy sheet``: prints the capability sheet in force, or validates one."""

from __future__ import annotations

import argparse

from lineworthy.cli.command import CLEAN, file_name, one_line
from lineworthy.sheet import TIERS, load
from lineworthy.tomlfile import quoted

_EXAMPLES = """\
examples:
  the limits of fine processes:
    lineworthy sheet dense
  your own sheet, checked and filled in from the one it is based on:
    lineworthy sheet our-factory.toml

exit code: 0 the sheet is right, 2 it is not
"""


class SheetCommand:
    """The command, as the command line takes it."""

    name = "sheet"
    help = "print the capability sheet in force, or validate one"

    def declare(self, parser: argparse.ArgumentParser) -> None:
        """Gives the command's parser its arguments."""
        parser.description = "Print every limit in force with its source; say what is wrong with a sheet."
        parser.epilog = _EXAMPLES
        names = ", ".join(TIERS)
        parser.add_argument(
            "sheet", nargs="?", type=file_name, default="standard", metavar="F", help=f"{names} or a TOML file"
        )

    def run(self, options: argparse.Namespace) -> int:
        """Prints the sheet as a sheet of the same values, each with its source."""
        sheet = load(options.sheet)
        print(f"[sheet]\nname = {quoted(sheet.name)}")
        area = ""
        for entry in sheet.entries():
            if entry.key.split(".")[0] != area:
                area = entry.key.split(".")[0]
                print(f"\n[{area}]")
            print(f"# {entry.meaning}; from the sheet: {one_line(entry.sheet)}")
            print(f"{entry.key.split('.')[1]} = {{ value = {entry.shown}, source = {quoted(entry.source)} }}")
        return CLEAN
