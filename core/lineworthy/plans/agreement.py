# SPDX-License-Identifier: MIT
"""A release folder and the board it is said to be of: everything the checks of the folder compare, worked out once."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from functools import cached_property

from lineworthy.intake.drill import DrillFile
from lineworthy.intake.folder import Header, Plot, ReleaseFolder
from lineworthy.knowledge.made import Made
from lineworthy.model import Board
from lineworthy.plans.drill_match import DrillMatches
from lineworthy.plans.lettering import Letterings
from lineworthy.plans.placement_match import PlacementMatch
from lineworthy.plans.plot_match import PlotMatches

NO_FOLDER = (
    "no release folder",
    "give it with 'lineworthy release BOARD FOLDER', or name it as 'release_folder' in the project's settings",
)
"""What every check of the folder says when there is none."""


class Agreement:
    """Board and folder side by side."""

    def __init__(self, board: Board, folder: ReleaseFolder) -> None:
        self.board, self.folder = board, folder
        self.made = Made(board)

    @cached_property
    def project(self) -> str:
        """The project the folder is of, as its files say: the board's own name if any says so, else what most say."""
        named = Counter(header.project for header in self.folder.headers.values() if header.project)
        own = [name for name in named if name.casefold() == self.board.name.casefold()]
        return own[0] if own else (min(named, key=lambda name: (-named[name], name)) if named else "")

    @cached_property
    def strangers(self) -> Mapping[str, Header]:
        """Files that say they are of another project than the folder."""
        return {
            name: header
            for name, header in self.folder.headers.items()
            if header.project and header.project.casefold() != self.project.casefold()
        }

    @cached_property
    def own_plots(self) -> tuple[Plot, ...]:
        """Plots that do not say they are of another project."""
        return tuple(plot for plot in self.folder.plots if plot.name not in self.strangers)

    @cached_property
    def plots(self) -> PlotMatches:
        """The folder's own, whole plots against the board's layers."""
        return PlotMatches(self.made, [plot for plot in self.own_plots if plot.gerber.is_complete])

    @cached_property
    def letterings(self) -> Letterings:
        """The texts on the plots that show the board's layers."""
        return Letterings(self.made, [match for match in self.plots.matches if match.is_same], self.plots.origin)

    @cached_property
    def own_drills(self) -> tuple[DrillFile, ...]:
        """Drill files that do not say they are of another project."""
        return tuple(drill for drill in self.folder.drills if drill.name not in self.strangers)

    @cached_property
    def drills(self) -> DrillMatches:
        """The folder's drill files against the board's holes."""
        return DrillMatches(self.made, [file for file in self.own_drills if file.is_complete], self.plots.origin)

    @cached_property
    def drills_are_whole(self) -> bool:
        """Whether no drill file is cut off, of another project, or not readable: then what is missing is missing."""
        broken = [name for name in self.strangers if any(name == drill.name for drill in self.folder.drills)]
        unread = [file.name for file in self.folder.unread if file.name.casefold().endswith((".drl", ".xln", ".exc"))]
        return not broken and not unread and all(drill.is_complete for drill in self.own_drills)

    @cached_property
    def placement(self) -> PlacementMatch:
        """The folder's placement files against the board's parts."""
        return PlacementMatch(self.board, self.folder.placements)

    @cached_property
    def differing(self) -> frozenset[str]:
        """Files whose content is already known not to be this board's: their headers need no finding of their own."""
        return frozenset(match.plot.name for match in self.plots.matches if not match.is_same)
