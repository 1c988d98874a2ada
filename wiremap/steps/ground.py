"""The lie of the ground between heights that the base gives: contours, spot heights, a terrain.

Reads base layers; returns a function of plane positions to ground elevations.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import shapely

from wiremap.formulas.terrain import triangulate_heights
from wiremap.model.findings import Finding
from wiremap.model.units import METRES_PER_UNIT

if TYPE_CHECKING:
    from collections.abc import Mapping

    import geopandas as gpd
    from numpy.typing import NDArray
    from pyproj import CRS

    from wiremap.formulas.terrain import Surface
    from wiremap.model.frame import Frame
    from wiremap.model.settings import Settings

    Floats = NDArray[np.float64]

_NAMES = re.compile(
    r"contour|spot|elev|terrain|topo|dtm|dem\b|ground.?(?:height|level|surface)", re.IGNORECASE
)
_COLUMNS = ("elevation", "elev", "contour", "height", "z", "altitude", "level")
_MARGIN_M = 50.0
_SEGMENT_M = 2.0
"""Contours get a vertex at least so often, so that no triangle spans a bend. Project choice."""


class Ground(NamedTuple):
    """What `lay_ground` returns.

    Attributes
    ----------
    surface : callable or None
        Takes plane x and y arrays, metres, and returns ground elevations in metres, NaN where
        they are not known; None where the base has no heights.
    notes : list of (item, value)
        What the ground was taken from, for provenance.
    findings : list of Finding
    """

    surface: Surface | None
    notes: list[tuple[str, str]]
    findings: list[Finding]


class _Heights(NamedTuple):
    """Heights of one layer in metres, and how they were read."""

    points: Floats
    unit: str
    reason: str


def lay_ground(
    base: Mapping[str, gpd.GeoDataFrame],
    around: gpd.GeoDataFrame,
    *,
    frame: Frame,
    settings: Settings,
) -> Ground:
    """Return the ground that the base layers describe around the located points.

    A layer of points or lines counts whose name says that it holds heights (contours, spot
    heights, elevation, terrain, topography, ground levels) and whose features carry them: in a
    column ``elevation``, ``elev``, ``contour``, ``height``, ``z``, ``altitude`` or ``level``,
    with or without a unit suffix, else in their Z.

    Parameters
    ----------
    base : mapping of str to GeoDataFrame
        Base layers by name, each in its own CRS; one that names none is in the working CRS.
    around : GeoDataFrame
        Located points in the metric plane; heights within 50 m of their extent are used.
    frame : Frame
        The working plane.
    settings : Settings
        ``coordinates.length_unit`` is the unit of heights that state none, unless the layer's
        CRS counts in feet; ``thresholds.inferred_gap_m`` is how far from a height the ground is
        still known.

    Returns
    -------
    Ground

    Examples
    --------
    >>> import geopandas as gpd
    >>> from pyproj import CRS
    >>> from wiremap.model.frame import Frame
    >>> from wiremap.model.settings import Settings
    >>> crs = CRS("EPSG:26914")
    >>> spots = gpd.GeoDataFrame({"elev_m": [10.0, 11.0, 10.0]},
    ...                          geometry=gpd.points_from_xy([0, 10, 0], [0, 0, 10]), crs=crs)
    >>> ground = lay_ground({"spot heights": spots}, spots, frame=Frame(crs, crs),
    ...                     settings=Settings())
    >>> float(ground.surface(5.0, 2.0)), ground.notes
    (10.5, [('ground', '3 heights of spot heights, in m (column elev_m)')])
    """
    west, south, east, north = around.total_bounds
    window = shapely.box(
        west - _MARGIN_M, south - _MARGIN_M, east + _MARGIN_M, north + _MARGIN_M
    )  # fmt: skip
    known: list[Floats] = []
    notes, findings = [], []
    for name, layer in base.items():
        # an area stands over the ground: a building, a bed
        marks = layer.loc[
            ~layer.geometry.isna() & ~layer.geom_type.isin(("Polygon", "MultiPolygon"))
        ]
        if not _NAMES.search(name) or not len(marks):
            continue
        heights = _read_heights(marks, window, frame, settings)
        if heights is None:
            text = f"Base layer {name} carries no heights; the ground was not taken from it."
            advice = "Give its features a column elevation, or a Z."
            findings.append(Finding("read-note", name, text, advice))
        elif len(heights.points):
            known.append(heights.points)
            count = f"{len(heights.points)} heights of {name}"
            notes.append(("ground", f"{count}, in {heights.unit} ({heights.reason})"))
    if not known:
        return Ground(None, notes, findings)
    try:
        reach_m = settings.thresholds.inferred_gap_m
        surface = triangulate_heights(np.vstack(known), reach_m=reach_m)
    except ValueError as error:
        text = f"The heights of the base near the located points make no ground: {error}."
        return Ground(None, [], [*findings, Finding("read-note", "base", text)])
    return Ground(surface, notes, findings)


def _read_heights(
    layer: gpd.GeoDataFrame, window: shapely.Polygon, frame: Frame, settings: Settings
) -> _Heights | None:
    """Return the heights of a layer near the property; None where it carries none."""
    crs = layer.crs
    column, unit = _find_column(layer)
    has_z = bool(layer.geometry.has_z.any())
    if not column and not has_z:
        return None
    reason = f"column {column}" if column else "Z of its features"
    if not unit:
        unit = _plane_unit(crs) or settings.coordinates.length_unit
        reason += ", which states no unit" if column else ""
    placed = layer.set_crs(frame.crs) if crs is None else layer
    placed = placed.to_crs(frame.metric_crs)
    near = placed.loc[placed.intersects(window)]
    shapes = shapely.segmentize(near.geometry.to_numpy(), _SEGMENT_M)
    xyz, feature = shapely.get_coordinates(shapes, include_z=True, return_index=True)
    # reprojection may have scaled Z: heights are those of the file
    if column:
        xyz[:, 2] = near[column].to_numpy(dtype=float, na_value=np.nan)[feature]
    xyz[:, 2] *= METRES_PER_UNIT[unit]
    inside = np.isfinite(xyz).all(axis=1) & shapely.contains_xy(window, xyz[:, :2])
    return _Heights(xyz[inside], unit, reason)


def _find_column(layer: gpd.GeoDataFrame) -> tuple[str, str]:
    """Return the column of heights and the unit in its name; empty where there is none."""
    numeric = [str(c) for c in layer.select_dtypes("number").columns]
    for wanted in _COLUMNS:
        for column in numeric:
            stem, _, suffix = column.lower().rpartition("_")
            if column.lower() == wanted:
                return column, ""
            if stem == wanted and suffix in METRES_PER_UNIT:
                return column, suffix
    return "", ""


def _plane_unit(crs: CRS | None) -> str:
    """Return feet or survey feet where the layer's CRS counts in them, else nothing."""
    if crs is None or crs.is_geographic:
        return ""
    factor = crs.axis_info[-1].unit_conversion_factor
    found = [unit for unit in ("ft", "ftus") if abs(factor / METRES_PER_UNIT[unit] - 1) < 1e-7]  # noqa: PLR2004 - the two feet differ by 2e-6
    return found[0] if found else ""
