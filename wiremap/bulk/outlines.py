"""Where a property lies: its outline, and its layers' positions, in longitude and latitude."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray
    from pyproj import Transformer

    from wiremap.asbuilt import AsBuilt
    from wiremap.model.frame import Frame

OUTLINE_MARGIN_M = 2.0
"""Margin around the located points, so that a single wire has an outline too (project choice)."""


def to_lonlat(geometries: NDArray[np.object_], frame: Frame) -> NDArray[np.object_]:
    """Return geometries of the working CRS in WGS 84 longitude and latitude.

    Parameters
    ----------
    geometries : array of object
        Shapely geometries; None stays None.
    frame : Frame
        The property's working frame.

    Returns
    -------
    array of object
        Rounded to 1e-7 degrees, which is 11 mm of latitude.
    """
    from wiremap.write.geojson import to_degrees

    return to_degrees(geometries, _operation_of(frame))


@lru_cache(maxsize=8)
def _operation_of(frame: Frame) -> Transformer:
    from wiremap.write.geojson import find_operation

    return find_operation(frame)


def outline_property(asbuilt: AsBuilt) -> str:
    """Return the outline of a property's located points.

    Parameters
    ----------
    asbuilt : AsBuilt

    Returns
    -------
    str
        Polygon as well-known text, longitude and latitude: the convex hull of the located
        points with a margin of `OUTLINE_MARGIN_M`.
    """
    import numpy as np
    import shapely

    points = asbuilt.layers["locates"].geometry.array
    hull = shapely.convex_hull(shapely.multipoints(shapely.force_2d(np.asarray(points))))
    margin = OUTLINE_MARGIN_M / asbuilt.frame.metres_per_unit
    around = np.array([shapely.buffer(hull, margin, quad_segs=2)], dtype=object)
    return str(shapely.to_wkt(to_lonlat(around, asbuilt.frame)[0], rounding_precision=7))
