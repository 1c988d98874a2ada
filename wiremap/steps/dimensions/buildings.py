"""The buildings of a base, as what tapes do not run through."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from wiremap.draw.backdrop import sort_base
from wiremap.draw.sight import find_insides

if TYPE_CHECKING:
    from collections.abc import Mapping

    import geopandas as gpd
    from numpy.typing import NDArray

    from wiremap.model.frame import Frame


def read_buildings(
    base: Mapping[str, gpd.GeoDataFrame], around: NDArray[np.float64], *, frame: Frame
) -> NDArray[np.object_]:
    """Return the insides of the buildings of a base.

    Parameters
    ----------
    base : mapping of str to GeoDataFrame
        Base layers by name, each in its own CRS; one that names none is in the working CRS.
    around : array, shape (n, 2)
        Positions in the metric plane; buildings clear of their extent are left out.
    frame : Frame
        The working plane.

    Returns
    -------
    array of Polygon
        In the metric plane; empty where the base has no building.
    """
    shapes = [np.empty(0, dtype=object)]
    for kind, rows in sort_base(base):
        if kind == "building":
            known = rows.set_crs(frame.crs) if rows.crs is None else rows
            shapes.append(known.geometry.to_crs(frame.metric_crs).to_numpy())
    return find_insides(np.concatenate(shapes), around)
