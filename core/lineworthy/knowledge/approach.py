# SPDX-License-Identifier: MIT
"""Whether a joint can be seen or reached from the side, past the parts that stand round it.

A way to a joint is a strip on the board that starts at the outer end of its land. It rises: a camera looks down at an
angle, an iron is held at one. So a part in the strip is in the way only as far as its height reaches: at a distance of
(height - height of the joint) x tan(angle from upright) it no longer is (plain geometry).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from lineworthy.geometry import TOL_MM, Floats, objects, pairs_within
from lineworthy.knowledge.bodies import Body
from lineworthy.knowledge.frames import Frame
from lineworthy.knowledge.packages import Family
from lineworthy.model import Board, Pad
from lineworthy.shapes import Point

UNDER_BODY_RATIO = 0.5
"""Lands nearer to the middle of the body than this share of its half width are under it: nobody sees them."""

TALL_WHEN_UNKNOWN = frozenset(
    {
        Family.CONNECTOR,
        Family.CAN,
        Family.RADIAL,
        Family.RELAY,
        Family.SWITCH,
        Family.INDUCTOR,
        Family.MODULE,
        Family.THROUGH_PART,
        Family.THROUGH_IC,
    }
)
"""Kinds that are seldom low; parts of other kinds are, so that nobody misses their height."""


def shadow(height: float, joint: float, tilt: float) -> float:
    """How far from a part of some height a joint must be to be seen past it, mm.

    Args:
        height: of the part, mm.
        joint: what must be seen of the joint, mm above the board.
        tilt: of the camera, degrees from upright.
    """
    return max(height - joint, 0.0) * float(np.tan(np.radians(tilt)))


@dataclass(frozen=True, eq=False)
class Joint:
    """A land that can be seen from above.

    Attributes:
        at: the middle of its outer end.
        middle: the middle of the land.
        outward: direction away from the body, degrees.
        width: of the land across that direction, mm.
    """

    body: Body
    pad: Pad = field(repr=False)
    at: Point
    middle: Point
    outward: float
    width: float


def joints(board: Board, bodies: Sequence[Body]) -> Iterator[Joint]:
    """The lands of surface parts with paste that lie beside or at the end of their body."""
    for body in bodies:
        layer = board.copper_on(body.side)
        frame = Frame(body.part)
        low, high = frame.box(shapely.get_coordinates(body.facts.body))
        middle, half = (low + high) / 2, np.maximum((high - low) / 2, 1e-6)
        for pad in body.part.pads:
            if layer not in pad.copper or body.side not in pad.paste:
                continue
            start, end = frame.box(shapely.get_coordinates(pad.copper[layer]))
            centre = (start + end) / 2
            off = np.round((centre - middle) / half, 4)
            axis = int(np.abs(off[1]) > np.abs(off[0]))
            if np.abs(off[axis]) < UNDER_BODY_RATIO:
                continue
            spot = centre.copy()
            spot[axis] = end[axis] if off[axis] > 0 else start[axis]
            outward = body.part.rotation + 90 * axis + (0 if off[axis] > 0 else 180)
            yield Joint(body, pad, frame.back(spot), frame.back(centre), outward, float((end - start)[1 - axis]))


def standing(body: Body) -> BaseGeometry:
    """What of a part stands up from the board: its body without the lands beside it."""
    return body.shape if body.facts.body.is_empty else body.facts.body


@dataclass(frozen=True)
class Ways:
    """Ways to joints, and what is in them.

    Attributes:
        blocked: (joints, directions) whether something is in the way.
        nearest: (joints,) index of the nearest obstacle in any of the ways, -1 where there is none.
        gap: (joints,) its distance to the outer end of the land, mm.
    """

    blocked: npt.NDArray[np.bool_]
    nearest: npt.NDArray[np.intp]
    gap: Floats


def ways(
    some: Sequence[Joint], obstacles: Sequence[Body], reach: Floats, width: Floats, directions: Sequence[float]
) -> Ways:
    """What is in the way to some joints.

    Args:
        some: the joints.
        obstacles: what stands round them; no part is in its own way.
        reach: of each obstacle, how far from it its height is in the way, mm.
        width: of the strip that must be free, one for each joint, mm.
        directions: degrees from each joint's own outward direction.
    """
    blocked = np.zeros((len(some), len(directions)), dtype=bool)
    nearest, gap = np.full(len(some), -1, dtype=np.intp), np.full(len(some), np.inf)
    spots = np.array([joint.at for joint in some]).reshape(-1, 2)
    points = np.asarray(shapely.points(spots), dtype=object)
    shapes = objects(standing(body) for body in obstacles)
    most = float(width.max()) if len(width) else 0.0
    j, i, apart = pairs_within(shapes, points, reach + most)
    foreign = np.array([obstacles[b].part is not some[a].body.part for a, b in zip(i.tolist(), j.tolist())], dtype=bool)
    i, j, apart = i[foreign], j[foreign], apart[foreign]
    if not len(i):
        return Ways(blocked, nearest, gap)
    outward = np.array([joint.outward for joint in some])
    for n, direction in enumerate(directions):
        some_strips = strips(spots[i], outward[i] + direction, reach[j], width[i])
        hit = shapely.intersects(some_strips, shapes[j])
        blocked[i[hit], n] = True
        for a, b, distance in zip(i[hit].tolist(), j[hit].tolist(), apart[hit].tolist()):
            if distance < gap[a] - TOL_MM:
                nearest[a], gap[a] = b, distance
    return Ways(blocked, nearest, gap)


def strips(start: Floats, angle: Floats, length: Floats, width: Floats) -> npt.NDArray[np.object_]:
    """Rectangles from a point in a direction; what only touches their rim is not inside."""
    turn = np.radians(angle)
    along = np.column_stack([np.cos(turn), np.sin(turn)])
    across = np.column_stack([-along[:, 1], along[:, 0]]) * np.maximum(width / 2 - TOL_MM, TOL_MM)[:, None]
    far = start + along * np.maximum(length - TOL_MM, TOL_MM)[:, None]
    near = start + along * TOL_MM
    return np.asarray(shapely.polygons(np.stack([near - across, far - across, far + across, near + across], axis=1)))
