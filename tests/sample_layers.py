"""Invented layers of an as-built, for tests of the writers."""

from __future__ import annotations

from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from pyproj import CRS

from wiremap.model.frame import Frame
from wiremap.model.settings import Settings
from wiremap.model.tables import LAYERS

if TYPE_CHECKING:
    from wiremap.model.columns import Table

UTM = CRS("EPSG:26914")
_FILL = {"text": "abc", "number": 1.5, "integer": 2, "flag": True}


def make_layers(rows: int = 3, *, crs: CRS = UTM) -> dict[str, pd.DataFrame]:
    """Return every declared layer with some rows near the middle of UTM zone 14."""
    return {table.name: make_layer(table, rows, crs=crs) for table in LAYERS}


def make_layer(table: Table, rows: int, *, crs: CRS = UTM) -> pd.DataFrame:
    """Return one declared layer whose cells are all filled."""
    columns = {
        c.name: [str(next(iter(c.options))) if c.options else _FILL[c.type]] * rows
        for c in table.columns
    }
    frame = pd.DataFrame(columns, index=pd.RangeIndex(rows))
    if table.geometry is None:
        return table.conform(frame)
    xy = np.column_stack([500_000 + 10.0 * np.arange(rows), 4_000_000 + 5.0 * np.arange(rows)])
    shapes = {
        "Point": shapely.points(xy),
        "LineString": shapely.linestrings(np.stack([xy, xy + np.array([3.0, 4.0])], axis=1)),
        "Polygon": shapely.box(xy[:, 0], xy[:, 1], xy[:, 0] + 2, xy[:, 1] + 2, ccw=False),
    }
    return table.conform(gpd.GeoDataFrame(frame, geometry=shapes[table.geometry], crs=crs))


def make_context(*, crs: CRS = UTM, **more: object) -> dict[str, object]:
    """Return what writers are told beside the layers."""
    frame = Frame(crs, crs, lon_deg=-99.0, lat_deg=36.1)
    context: dict[str, object] = {
        "name": "Quarry Pond Gardens",
        "slug": "quarry-pond",
        "settings": Settings(),
        "frame": frame,
    }
    return context | more
