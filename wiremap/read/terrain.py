"""A terrain image: the ground's elevation in the cells around the located points."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from wiremap.errors import MissingExtraError, ReadError

if TYPE_CHECKING:
    from pathlib import Path

    import geopandas as gpd

REACH_M = 12.0
"""How far from a located point cells are kept. Project choice: a few lengths over which the slope
is taken."""
MOST_CELLS = 2_000_000_000
"""Cells near the points that are looked through (project choice, as of an aerial image)."""
_MOST_KEPT = 4_000_000
_FINEST_M = 1.0
_UNITS = {
    "metre": "m", "meter": "m", "metres": "m", "meters": "m", "m": "m",
    "foot": "ft", "feet": "ft", "ft": "ft", "international foot": "ft",
    "us survey foot": "ftus", "us-ft": "ftus", "ftus": "ftus", "us foot": "ftus",
}  # fmt: skip


def read_terrain(path: Path, *, around: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """Return the cells of a terrain image near located points, as points with their height.

    Parameters
    ----------
    path : Path
        GeoTIFF or another georeferenced image whose first band is the ground's elevation.
    around : GeoDataFrame
        Located points, in a CRS that counts in metres.

    Returns
    -------
    GeoDataFrame
        Points at the middle of the cells, in the image's CRS, with column ``elevation``, or
        ``elevation_<unit>`` where the image states its unit. Empty where the image does not reach
        the points. Cells without data are left out, and cells below a metre are averaged.

    Raises
    ------
    MissingExtraError
        rasterio is not installed.
    ReadError
        The file cannot be read, or names no CRS.
    """
    try:
        import rasterio
    except ImportError as error:
        raise MissingExtraError("rasterio", "aerial") from error
    try:
        with rasterio.open(path) as image:
            return _cut(image, around)
    except Exception as error:  # GDAL and PROJ raise what is no error of rasterio's
        told = " ".join(str(error).split())[:120]
        remedy = "export it as a GeoTIFF"
        raise ReadError("cannot be read as terrain", path=path.name, value=told,
                        remedy=remedy) from error  # fmt: skip


def _cut(image: Any, around: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """Return the cells near the points."""
    import geopandas as gpd
    from rasterio.enums import Resampling
    from rasterio.errors import WindowError
    from rasterio.windows import Window, from_bounds
    from scipy.spatial import cKDTree

    if image.crs is None:
        raise ValueError("it names no CRS")
    crs, column = image.crs.to_wkt(), _column_of(image)
    near = around.geometry.buffer(2 * REACH_M)
    wanted = from_bounds(*near.to_crs(crs).total_bounds, transform=image.transform)
    across_m = np.ptp(near.total_bounds.reshape(2, 2), axis=0).max()
    shrink = max(1.0, _FINEST_M * max(wanted.width, wanted.height) / across_m)
    try:
        wanted = wanted.intersection(Window(0, 0, image.width, image.height))
    except WindowError:
        return gpd.GeoDataFrame({column: np.empty(0)}, geometry=[], crs=crs)
    if wanted.width * wanted.height > MOST_CELLS:
        raise ValueError(f"it has more than {MOST_CELLS:.0e} cells near the points")
    wanted = wanted.round_offsets(op="floor").round_lengths(op="ceil")
    shrink = max(shrink, np.sqrt(wanted.width * wanted.height / _MOST_KEPT))
    shape = max(int(wanted.height / shrink), 1), max(int(wanted.width / shrink), 1)
    cells = image.read(
        1, window=wanted, out_shape=shape, masked=True, resampling=Resampling.average
    )
    height = cells.astype(float).filled(np.nan) * image.scales[0] + image.offsets[0]
    rows, columns = np.nonzero(np.isfinite(height))
    across = wanted.col_off + (columns + 0.5) * wanted.width / shape[1]
    down = wanted.row_off + (rows + 0.5) * wanted.height / shape[0]
    to = image.transform
    x, y = to.a * across + to.b * down + to.c, to.d * across + to.e * down + to.f
    points = gpd.points_from_xy(x, y)
    found = gpd.GeoDataFrame({column: height[rows, columns]}, geometry=points, crs=crs)
    apart, _ = cKDTree(around.get_coordinates()).query(
        found.to_crs(around.crs).get_coordinates(), distance_upper_bound=REACH_M
    )
    return found.loc[np.isfinite(apart)].reset_index(drop=True)


def _column_of(image: Any) -> str:
    """Return the name of the column of heights, with the unit that the image states."""
    stated = (image.units[0] or "").strip().lower()
    unit = _UNITS.get(stated, "")
    return f"elevation_{unit}" if unit else "elevation"
