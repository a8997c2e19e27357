# SPDX-License-Identifier: MIT
"""What checks, plans and amendments can ask for: the board, the limits, what lies beside it, and all that is known."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from functools import cached_property
from typing import Optional

from lineworthy.beside import Beside
from lineworthy.concessions import UNMATCHED, Matched
from lineworthy.intake.folder import ReleaseFolder
from lineworthy.intake.offers import Offers
from lineworthy.intake.parts_list import PartsList
from lineworthy.knowledge.bodies import Bodies
from lineworthy.knowledge.closeness import Closeness
from lineworthy.knowledge.cutaway import cut_away
from lineworthy.knowledge.drawnpanel import DrawnPanel
from lineworthy.knowledge.drilled import Drilled
from lineworthy.knowledge.gaps import Layer, layers
from lineworthy.knowledge.joints import Joints
from lineworthy.knowledge.legible import Legible
from lineworthy.knowledge.marks import Marks
from lineworthy.knowledge.mask import Mask
from lineworthy.knowledge.nets import Nets
from lineworthy.knowledge.packages import Packages
from lineworthy.knowledge.printed import Printed
from lineworthy.knowledge.reliefs import Reliefs
from lineworthy.knowledge.routing import Routing
from lineworthy.knowledge.separation import Separation
from lineworthy.knowledge.stencil import Stencil
from lineworthy.knowledge.surroundings import Surroundings
from lineworthy.knowledge.targets import Targets
from lineworthy.model import Board
from lineworthy.plans.agreement import Agreement
from lineworthy.plans.supply import SupplyRun, supply_run
from lineworthy.plans.wanted import Wanted, wanted
from lineworthy.project import Project
from lineworthy.release.manifest import Manifest
from lineworthy.sheet import Sheet


@dataclass(frozen=True)
class Inputs:
    """What a check can ask for by naming a parameter; knowledge is worked out once and shared."""

    board: Board
    sheet: Sheet
    beside: Beside = field(default_factory=Beside)
    matched: Matched = UNMATCHED
    """Findings and concessions set against each other; empty until every check that does not ask for it has run."""

    @property
    def project(self) -> Project:
        """The project's settings; all empty when there are none."""
        return self.beside.project

    @property
    def parts(self) -> Optional[PartsList]:
        """The parts list, None when not given."""
        return self.beside.parts

    @cached_property
    def bill(self) -> PartsList:
        """The parts list, or the one that the board's own fields make where none is given."""
        return self.parts or PartsList.from_board(self.board, self.marks)

    @cached_property
    def to_buy(self) -> tuple[Wanted, ...]:
        """Every part to buy: the lines of `bill`, completed from the board and joined."""
        return tuple(wanted(self.bill, self.board))

    @property
    def offers(self) -> Optional[Offers]:
        """What sources offer, None when not given."""
        return self.beside.offers

    @property
    def folder(self) -> Optional[ReleaseFolder]:
        """The release folder, None when not given."""
        return self.beside.folder

    @cached_property
    def agreement(self) -> Optional[Agreement]:
        """The release folder against the board, None when no folder is given."""
        folder = self.beside.folder
        return None if folder is None else Agreement(self.board, folder)

    @property
    def released(self) -> Optional[Manifest]:
        """The manifest of an earlier release, None when not given."""
        return self.beside.released

    @property
    def today(self) -> Optional[date]:
        """The day of the review, None when not given."""
        return self.beside.today

    @cached_property
    def nets(self) -> Nets:
        """What each net is for."""
        project = self.project
        return Nets(self.board, project.nets, project.key_nets, project.key_net_classes)

    @cached_property
    def marks(self) -> Marks:
        """Which pads are fiducials, probe targets, tooling holes."""
        return Marks(self.board)

    @cached_property
    def copper(self) -> tuple[Layer, ...]:
        """The copper of each layer, piece by piece."""
        return tuple(layers(self.board))

    @cached_property
    def routing(self) -> Routing:
        """What copper joins, as the edges of the board leave it."""
        return Routing(self.board, cut_away(self.board, self.copper))

    @cached_property
    def drilled(self) -> Drilled:
        """Every hole, as the drill sees it."""
        return Drilled(self.board)

    @cached_property
    def mask(self) -> Mask:
        """The openings of the solder mask."""
        return Mask(self.board)

    @cached_property
    def targets(self) -> Targets:
        """Where a fixture can touch each net."""
        return Targets(self.board, self.marks)

    @cached_property
    def surroundings(self) -> Surroundings:
        """What stands round the places a fixture can touch."""
        return Surroundings(self.board, self.marks, self.packages)

    @cached_property
    def printed(self) -> Printed:
        """What can be read on the finished board."""
        return Printed(self.board)

    @cached_property
    def legible(self) -> Legible:
        """What covers or cuts off a marking."""
        return Legible(self.board, self.packages)

    @cached_property
    def packages(self) -> Packages:
        """Family, pitch and height of each part."""
        return Packages(self.board)

    @cached_property
    def bodies(self) -> Bodies:
        """What each part takes of either side."""
        return Bodies(self.board, self.packages)

    @cached_property
    def closeness(self) -> Closeness:
        """Parts that stand nearer to each other than the sheet's limits."""
        return Closeness(self.bodies, self.sheet.spacing)

    @cached_property
    def separation(self) -> Separation:
        """How boards of a panel are parted, and where."""
        return Separation(self.board, self.packages, self.project.panel.get("method", ""))

    @cached_property
    def joints(self) -> Joints:
        """The lands that are reflowed: what is bare and what is printed of each."""
        return Joints(self.board)

    @cached_property
    def stencil(self) -> Stencil:
        """The holes of the stencil and the webs between them."""
        return Stencil(self.board)

    @cached_property
    def reliefs(self) -> Reliefs:
        """How lands join the pours of their nets."""
        return Reliefs(self.board)

    @cached_property
    def drawn_panel(self) -> DrawnPanel:
        """The pieces of a panel that this document holds."""
        return DrawnPanel(self.board, self.packages, self.separation)

    @cached_property
    def supply(self) -> Optional[SupplyRun]:
        """Whether the parts can be bought; None unless offers, quantity, build date and today are given."""
        boards, build = self.project.build_quantity, self.project.build_date
        if self.offers is None or boards is None or build is None or self.today is None:
            return None
        return supply_run(
            self.board,
            self.bill,
            self.offers,
            boards=boards,
            build=build,
            today=self.today,
            sheet=self.sheet,
            packages=self.packages,
        )
