"""Which tapes a building stands in the way of."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]
    Geometries = NDArray[np.object_]

WALL_M = 0.3
"""How deep and how far a tape may run into a building as drawn. Project choice: what eaves and
the accuracy of a base amount to, so that a tape along a wall is not held to cross it."""


def find_insides(shapes: Geometries, around: Floats) -> Geometries:
    """Return the insides of buildings, less the depth of a wall.

    Parameters
    ----------
    shapes : array of geometry
        In a plane in metres, of any type; an outline drawn as lines counts where it closes.
    around : array, shape (n, 2)
        Positions; buildings clear of their extent are left out.

    Returns
    -------
    array of Polygon

    Examples
    --------
    >>> import shapely
    >>> house = np.array([shapely.box(0, 0, 10, 8)])
    >>> find_insides(house, np.array([[5.0, -2.0], [12.0, 9.0]]))[0].bounds
    (0.3, 0.3, 9.7, 7.7)
    """
    if not len(shapes) or not len(around):
        return np.empty(0, dtype=object)
    window = shapely.box(*around.min(axis=0), *around.max(axis=0))
    parts = shapely.get_parts(shapes)
    parts = parts[np.isfinite(shapely.bounds(parts)).all(axis=1)]
    size = shapely.get_dimensions(parts)
    closed = shapely.get_parts(shapely.polygonize(parts[size == 1]))
    areas = np.append(shapely.make_valid(parts[size == 2]), closed)  # noqa: PLR2004
    areas = areas[shapely.intersects(areas, window)]
    inside = shapely.buffer(areas, -WALL_M, join_style="mitre")
    kept: Geometries = inside[~shapely.is_empty(inside)]
    return kept


def find_blocked(starts: Floats, ends: Floats, insides: Geometries) -> Flags:
    """Return which straight tapes a building stands in the way of.

    Parameters
    ----------
    starts, ends : array, shape (n, 2)
        In the plane of the insides.
    insides : array of Polygon
        From `find_insides`.

    Returns
    -------
    array of bool, shape (n,)
    """
    if not len(insides):
        return np.zeros(len(starts), dtype=bool)
    tapes = shapely.linestrings(np.stack([starts, ends], axis=1))
    tape, building = shapely.STRtree(insides).query(tapes, predicate="intersects")
    within = shapely.length(shapely.intersection(tapes[tape], insides[building]))
    blocked: Flags = np.bincount(tape, weights=within, minlength=len(starts)) > WALL_M
    return blocked
