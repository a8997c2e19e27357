# SPDX-License-Identifier: MIT
"""Pairs found with an index are exactly those found by looking at every pair, on 200 random boards."""

from __future__ import annotations

import dataclasses
import itertools
from collections.abc import Iterator

import numpy as np
import pytest
from shapely import Point

from build import BOTTOM, TOP, board, chip, hole, part, rectangle, round_pad, smd_part, through_part
from lineworthy.checks import spacing_access, spacing_courtyards, spacing_fixings
from lineworthy.geometry import TOL_MM
from lineworthy.inputs import Inputs
from lineworthy.knowledge import closeness
from lineworthy.knowledge.bodies import Body, Kind
from lineworthy.knowledge.courtyards import claimed
from lineworthy.model import Part
from lineworthy.sheet import built_in

SHEET = built_in()
LIMITS = SHEET.spacing


def random_part(n: int, rng: np.random.Generator) -> Part:
    at = (float(rng.uniform(3, 37)), float(rng.uniform(3, 37)))
    side = TOP if rng.random() < 0.6 else BOTTOM
    kind = rng.integers(0, 7)
    turned = float(rng.choice([0.0, 30.0, 45.0, 90.0, 200.0]))
    if kind <= 2:
        made = chip(f"R{n}", at, rotation=turned, side=side)
    elif kind == 3:
        made = smd_part(f"U{n}", at, nets=("",) * 8, side=side)
    elif kind == 4:
        made = smd_part(f"J{n}", at, nets=("",) * 6, side=side, package="Conn_1x06_SMD")
    elif kind == 5:
        made = through_part(f"P{n}", at, nets=("",) * 3, side=side)
    else:
        step = [(k - 3.5) * 0.8 for k in range(8)]
        balls = [
            round_pad(f"{a}-{b}", (at[0] + step[a], at[1] + step[b]), 0.4, side=side)
            for a in range(8)
            for b in range(8)
        ]
        made = part(f"U{n}", at, balls, package="BGA-64", body=rectangle(at, 6.4, 6.4), side=side)
    return made if rng.random() < 0.8 else dataclasses.replace(made, courtyard={})


@pytest.fixture(scope="module")
def boards() -> list[Inputs]:
    rng = np.random.default_rng(20260302)
    made: list[Inputs] = []
    for _ in range(200):
        parts = [random_part(n, rng) for n in range(int(rng.integers(2, 16)))]
        holes = [hole(f"H{n}", (float(rng.uniform(4, 36)), float(rng.uniform(4, 36)))) for n in range(2)]
        made.append(Inputs(board(40, 40, parts=(*parts, *holes)), SHEET))
    return made


def each_pair(inputs: Inputs) -> Iterator[tuple[Body, Body]]:
    for side in (TOP, BOTTOM):
        for one, two in itertools.combinations(inputs.bodies.on(side), 2):
            if one.part is not two.part:
                yield (one, two) if one.order < two.order else (two, one)


def test_close_pairs(boards: list[Inputs]) -> None:
    seen = 0
    for inputs in boards:
        expected = set()
        for one, two in each_pair(inputs):
            above = closeness.stands_over(one, two) or closeness.stands_over(two, one)
            if above or (one.kind is two.kind is Kind.LEADS):
                continue
            gap, limit = one.shape.distance(two.shape), closeness._limit(one, two)
            overlap = closeness.common_area(one, two) if gap == 0.0 else 0.0
            if overlap:
                expected.add((one, two, 0.0, ""))
            elif limit and gap < getattr(LIMITS, limit) - TOL_MM:
                expected.add((one, two, gap, limit))
        found = [(pair.first, pair.second, pair.gap, pair.limit) for pair in inputs.closeness.pairs]
        assert len(found) == len(set(found))
        assert set(found) == expected
        seen += len(expected)
    assert seen > 300


def test_overlapping_courtyards(boards: list[Inputs]) -> None:
    seen = 0
    for inputs in boards:
        expected = set()
        for one, two in each_pair(inputs):
            drawn = one.side in one.part.courtyard or two.side in two.part.courtyard
            above = closeness.stands_over(one, two) or closeness.stands_over(two, one)
            common = claimed(one).intersection(claimed(two))
            deep = common.area > closeness.OVERLAP_MIN_MM2
            if drawn and deep and not above and spacing_courtyards.width_and_length(common)[0] > 0.01 + TOL_MM:
                expected.add((one, two))
        found = [
            (item.first, item.second)
            for side in (TOP, BOTTOM)
            for item in spacing_courtyards._overlaps(inputs.bodies.on(side))
        ]
        assert len(found) == len(set(found))
        assert set(found) == expected
        seen += len(expected)
    assert seen > 200


def test_bodies_at_screws(boards: list[Inputs]) -> None:
    seen = 0
    for inputs in boards:
        holes = spacing_fixings._screwed(inputs.marks)
        assert len(holes) == 2
        for side in (TOP, BOTTOM):
            expected = set()
            for at_hole, body in itertools.product(holes, inputs.bodies.on(side)):
                gap = Point(at_hole.hole.at).distance(body.shape)
                if 0.0 < gap <= at_hole.washer / 2 + 3.0 + TOL_MM or (gap == 0.0 and body.kind is Kind.LEADS):
                    expected.add((at_hole, body, gap))
            found = [
                (near.hole, near.body, near.gap) for near in spacing_fixings._near(inputs.bodies, holes, side, 3.0)
            ]
            assert set(found) == expected
            seen += len(expected)
    assert seen > 500


def test_rings_round_arrays(boards: list[Inputs]) -> None:
    seen = 0
    for inputs in boards:
        for side in (TOP, BOTTOM):
            here = inputs.bodies.on(side)
            expected = set()
            for one, two in itertools.permutations(here, 2):
                counts = one.kind is Kind.ARRAY and two.kind is not Kind.LEADS and one.part is not two.part
                gap = one.facts.body.distance(two.shape)
                if counts and gap < LIMITS.array_nozzle_min_mm - TOL_MM and not closeness.stands_over(two, one):
                    expected.add((one, two, gap))
            found = [(ring.package, ring.by, ring.gap) for ring in spacing_access._rings(here, Kind.ARRAY, LIMITS)]
            assert set(found) == expected
            seen += len(expected)
    assert seen > 200
