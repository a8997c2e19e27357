# SPDX-License-Identifier: MIT
"""Reading shapes: is it round, how wide is it, where is its middle. And what an answer rests on."""

from __future__ import annotations

from enum import Enum

import numpy as np
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from lineworthy.shapes import Point

ROUND_MIN = 0.97
"""Isoperimetric quotient of a circle drawn with chords; a regular octagon has 0.948."""


class Basis(Enum):
    """What an answer rests on, strongest first."""

    PROPERTY = "property"
    NAME = "name"
    LOOKS = "looks"


def is_round(shape: BaseGeometry) -> bool:
    """One piece, no hole, as compact as a circle."""
    if not isinstance(shape, Polygon) or shape.is_empty or shape.interiors:
        return False
    return float(4 * np.pi * shape.area / shape.length**2) >= ROUND_MIN


def is_square(shape: BaseGeometry) -> bool:
    """One piece without a hole that fills a rectangle of equal sides, within a twentieth."""
    if not isinstance(shape, Polygon) or shape.is_empty or shape.interiors:
        return False
    box = shapely.minimum_rotated_rectangle(shape)
    return bool(shape.area >= 0.95 * box.area and length(shape) ** 2 <= 1.05 * box.area)


def span(shape: BaseGeometry) -> float:
    """Diameter of a round shape, of any other the diameter of the smallest circle round it; 0 for nothing."""
    if shape.is_empty:
        return 0.0
    if is_round(shape):
        low_x, low_y, high_x, high_y = shape.bounds
        # a circle drawn with chords has its corners on the circle, so its box gives the true diameter
        return float(max(high_x - low_x, high_y - low_y))
    return float(2 * shapely.minimum_bounding_radius(shape))


def length(shape: BaseGeometry) -> float:
    """The longer side of the smallest rectangle round a shape, however that lies; 0 for nothing."""
    box = shapely.minimum_rotated_rectangle(shape)
    if not isinstance(box, Polygon) or box.is_empty:
        return 0.0
    corners = np.array(box.exterior.coords)
    return float(np.hypot(*np.diff(corners, axis=0).T).max())


def middle(shape: BaseGeometry) -> Point:
    """Centre of gravity."""
    centre = shape.centroid
    return (centre.x, centre.y)
