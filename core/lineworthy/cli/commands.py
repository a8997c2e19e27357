# SPDX-License-Identifier: MIT
"""All commands of the core, in the order the help shows them."""

from __future__ import annotations

from lineworthy.cli.command import Command, ReadBoard
from lineworthy.cli.compare import CompareCommand
from lineworthy.cli.concede import ConcedeCommand
from lineworthy.cli.explain import ExplainCommand
from lineworthy.cli.identity import IdentityCommand
from lineworthy.cli.panel import PanelCommand
from lineworthy.cli.probes import ProbesCommand
from lineworthy.cli.release import ReleaseCommand
from lineworthy.cli.review import ReviewCommand
from lineworthy.cli.sheet import SheetCommand
from lineworthy.cli.supply import SupplyCommand


def commands(read: ReadBoard) -> tuple[Command, ...]:
    """The commands, made with what reads a board."""
    return (
        ReviewCommand(read),
        ReleaseCommand(read),
        ConcedeCommand(read),
        CompareCommand(read),
        IdentityCommand(read),
        ProbesCommand(read),
        PanelCommand(read),
        SupplyCommand(read),
        ExplainCommand(),
        SheetCommand(),
    )
