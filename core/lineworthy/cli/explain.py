# SPDX-License-Identifier: MIT
"""``lineworthy explain``: what a check asks, why, and what to do."""

from __future__ import annotations

import argparse
import shutil
import textwrap

from lineworthy.checks import CHECKS
from lineworthy.cli.command import CLEAN
from lineworthy.registry import SECTIONS
from lineworthy.review import find
from lineworthy.sheet import load

_EXAMPLES = """\
examples:
  every check in a line:
    lineworthy explain
  one of them in full:
    lineworthy explain fiducials/too-few

exit code: 0 told, 2 there is no such check
"""


class ExplainCommand:
    """The command, as the command line takes it."""

    name = "explain"
    help = "what a check asks, why, and what to do"

    def declare(self, parser: argparse.ArgumentParser) -> None:
        """Gives the command's parser its arguments."""
        parser.description = "Tell what a check asks, why it matters, what to do, what it cannot see, and its limits."
        parser.epilog = _EXAMPLES
        parser.add_argument("check", nargs="?", metavar="CHECK", help="its id; without one, all checks are listed")

    def run(self, options: argparse.Namespace) -> int:
        """Prints one check's documentation, or a line for each."""
        width = min(shutil.get_terminal_size((100, 24)).columns, 100)
        if options.check is None:
            for item in CHECKS:
                what = textwrap.shorten(item.help.what, max(width - 38, 30), placeholder=" ...")
                print(f"{item.id:36}  {what}")
            return CLEAN
        item = find(options.check)
        print(item.id)
        print(textwrap.fill(item.help.what, width))
        for title in SECTIONS:
            print(f"\n{title}")
            print(textwrap.fill(item.help.sections[title], width, initial_indent="  ", subsequent_indent="  "))
        if item.limits:
            print("\nLimits (standard sheet)")
            entries = {entry.key: entry for entry in load("standard").entries()}
            for key in item.limits:
                print(f"  {key} = {entries[key].shown}  [{entries[key].source}]")
        return CLEAN
