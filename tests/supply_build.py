# SPDX-License-Identifier: MIT
"""Boards, parts lists and offers for tests of supply, in a few lines."""

from __future__ import annotations

from datetime import date
from typing import Any, Optional

from build import board, chip, smd_part, with_fields
from lineworthy import Board
from lineworthy.intake.offers import Offers, offers_in
from lineworthy.intake.parts_file import parts_list_in
from lineworthy.intake.parts_list import PartsList
from lineworthy.plans.supply import SupplyRun, supply_run
from lineworthy.sheet import built_in

SHEET = built_in()
TODAY, BUILD = date(2026, 11, 25), date(2027, 4, 1)
HEAD = "manufacturer_part,source,stock,lead_weeks,life_cycle,minimum,multiple,prices,currency,date,last_order"
PLACED: Any = smd_part


def resistor(n: int, value: str = "10k", package: str = "R_0402_1005Metric", **fields: str) -> Any:
    return with_fields(chip(f"R{n}", (4 * n % 56 + 2, 4 + 4 * (4 * n // 56)), value=value, package=package), fields)


def board_of(*parts: Any) -> Board:
    return board(parts=parts)


def listed(*rows: str, head: str = "Ref,Qty,Value,Package,MPN") -> PartsList:
    return parts_list_in("\n".join([head, *rows]).encode(), "parts.csv")


def offered(*rows: str, head: str = HEAD) -> Offers:
    return offers_in("\n".join([head, *rows]).encode(), "offers.csv")


def run_of(
    parts: PartsList,
    offers: Offers,
    boards: int = 100,
    layout: Optional[Board] = None,
    today: date = TODAY,
    **more: Any,
) -> SupplyRun:
    return supply_run(layout or board_of(), parts, offers, boards=boards, build=BUILD, today=today, sheet=SHEET, **more)
