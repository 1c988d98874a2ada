"""Bands taken together: one area a zone, and one for the whole property."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from wiremap.model.tables import ZONE_BUFFERS
from wiremap.steps.buffers.bands import ADVISORY

if TYPE_CHECKING:
    from collections.abc import Mapping

    import geopandas as gpd
    from shapely.geometry.base import BaseGeometry

    from wiremap.model.frame import Frame


def buffer_zones(
    dig_buffer: gpd.GeoDataFrame, zones: pd.DataFrame, *, frame: Frame
) -> gpd.GeoDataFrame:
    """Return the band of each zone, all its runs together, and that of the whole property.

    Advisory only, not a utility locate. Ground that several runs share counts once.

    Parameters
    ----------
    dig_buffer : GeoDataFrame
        Layer ``dig_buffer``.
    zones : DataFrame
        Layer ``zones``, columns zone, controller, runs.
    frame : Frame
        The working frame.

    Returns
    -------
    GeoDataFrame
        Layer ``zone_buffers``: one row a zone of which a run was traced, and last the row
        ``property``; ``area_m2`` in ground square metres. Empty where no run was traced.
    """
    import geopandas as gpd
    import shapely

    bands = dict(zip(dig_buffer["run"], dig_buffer.geometry, strict=True))
    columns = (zones[name] for name in ("zone", "controller", "runs"))
    rows = [
        (zone, controller, [name for name in runs.split(";") if name in bands])
        for zone, controller, runs in zip(*columns, strict=True)
        if isinstance(runs, str)
    ]
    rows = [row for row in rows if row[2]] + [(None, None, list(bands))] * bool(bands)
    shapes = [_together([bands[name] for name in runs]) for *_, runs in rows]
    first = dig_buffer.iloc[0] if len(dig_buffer) else {"tolerance_m": np.nan, "confidence": np.nan}
    table = pd.DataFrame(
        {
            "scope": ["zone" if zone is not None else "property" for zone, *_ in rows],
            "zone": [zone for zone, *_ in rows],
            "controller": [controller for _, controller, _ in rows],
            "runs": [";".join(runs) for *_, runs in rows],
            "area_m2": shapely.area(shapes) / frame.scale_factor**2,
            "tolerance_m": first["tolerance_m"],
            "confidence": first["confidence"],
            "advisory_only": True,
            "advisory": ADVISORY,
        }
    )
    placed = gpd.GeoDataFrame(table, geometry=shapes, crs=dig_buffer.crs)
    return ZONE_BUFFERS.conform(placed, crs=frame.metric_crs)


def dissolve_buffers(
    dig_buffer: gpd.GeoDataFrame, groups: Mapping[str, str] | None = None
) -> gpd.GeoDataFrame:
    """Return the bands of several runs as one area, or as one area a group.

    Advisory only, not a utility locate.

    Parameters
    ----------
    dig_buffer : GeoDataFrame
        Layer ``dig_buffer``.
    groups : mapping of str to str, optional
        Run: group, such as its zone. A run that is not named stands in no group. All runs are
        one group with an empty name where not given.

    Returns
    -------
    GeoDataFrame
        Columns group, runs, area_m2 (of the plane, in square metres whatever the CRS counts in),
        advisory, and geometry, ordered by group.

    Examples
    --------
    >>> from wiremap.model.tables import DIG_BUFFER
    >>> dissolve_buffers(DIG_BUFFER.empty(crs="EPSG:26914")).shape[0]
    0
    """
    import geopandas as gpd

    named = dig_buffer["run"].map(dict(groups)) if groups is not None else None
    group = pd.Series("", index=dig_buffer.index) if named is None else named
    crs = dig_buffer.crs
    metres = 1.0 if crs is None else float(crs.axis_info[0].unit_conversion_factor)
    rows = []
    for name, part in dig_buffer.groupby(group):
        shape = _together(part.geometry.to_list())
        runs = ";".join(part["run"])
        rows.append((name, runs, shape.area * metres**2, ADVISORY, shape))
    columns = ["group", "runs", "area_m2", "advisory", "geometry"]
    table = pd.DataFrame(rows, columns=columns)
    return gpd.GeoDataFrame(table, geometry="geometry", crs=dig_buffer.crs)


def _together(shapes: list[BaseGeometry]) -> BaseGeometry:
    """Return the union of shapes; those that stand apart from each other cost nothing."""
    import shapely

    united: BaseGeometry = shapely.disjoint_subset_union_all(shapes)
    return united
