"""Which tapes a building of the base stands in the way of."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely

from wiremap.draw.backdrop import sort_base

if TYPE_CHECKING:
    from collections.abc import Mapping

    import geopandas as gpd
    from numpy.typing import NDArray

    from wiremap.model.frame import Frame

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]
    Geometries = NDArray[np.object_]

WALL_M = 0.3
"""How deep and how far a tape may run into a building as drawn. Project choice: what eaves and
the accuracy of a base amount to, so that a tape along a wall is not held to cross it."""


def read_buildings(
    base: Mapping[str, gpd.GeoDataFrame], around: Floats, *, frame: Frame
) -> Geometries:
    """Return the insides of the buildings of a base, less the depth of a wall.

    Parameters
    ----------
    base : mapping of str to GeoDataFrame
        Base layers by name, each in its own CRS; one that names none is in the working CRS. An
        outline drawn as lines counts where it closes.
    around : array, shape (n, 2)
        Positions in the metric plane; buildings clear of their extent are left out.
    frame : Frame
        The working plane.

    Returns
    -------
    array of Polygon
        In the metric plane; empty where the base has no building.
    """
    shapes: list[Geometries] = []
    for kind, rows in sort_base(base):
        if kind == "building":
            known = rows.set_crs(frame.crs) if rows.crs is None else rows
            shapes.append(known.geometry.to_crs(frame.metric_crs).to_numpy())
    if not shapes:
        return np.empty(0, dtype=object)
    window = shapely.box(*around.min(axis=0), *around.max(axis=0))
    parts = shapely.get_parts(np.concatenate(shapes))
    parts = parts[np.isfinite(shapely.bounds(parts)).all(axis=1)]
    size = shapely.get_dimensions(parts)
    closed = shapely.get_parts(shapely.polygonize(parts[size == 1]))
    areas = np.append(shapely.make_valid(parts[size == 2]), closed)  # noqa: PLR2004
    areas = areas[shapely.intersects(areas, window)]
    inside = shapely.buffer(areas, -WALL_M, join_style="mitre")
    kept: Geometries = inside[~shapely.is_empty(inside)]
    return kept


def find_blocked(starts: Floats, ends: Floats, buildings: Geometries) -> Flags:
    """Return which straight tapes a building stands in the way of.

    Parameters
    ----------
    starts, ends : array, shape (n, 2)
        In the metric plane.
    buildings : array of Polygon
        From `read_buildings`.

    Returns
    -------
    array of bool, shape (n,)
    """
    if not len(buildings):
        return np.zeros(len(starts), dtype=bool)
    tapes = shapely.linestrings(np.stack([starts, ends], axis=1))
    tape, building = shapely.STRtree(buildings).query(tapes, predicate="intersects")
    within = shapely.length(shapely.intersection(tapes[tape], buildings[building]))
    blocked: Flags = np.bincount(tape, weights=within, minlength=len(starts)) > WALL_M
    return blocked
