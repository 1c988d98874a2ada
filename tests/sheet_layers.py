"""An invented property for the record drawing: wires of known length at known places."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from pyproj import CRS

from wiremap.model.frame import Frame
from wiremap.model.settings import Settings
from wiremap.model.tables import LAYERS

UTM = CRS("EPSG:26914")
ORIGIN = np.array([634_000.0, 3_906_000.0])


def plan_layers(
    wires: dict[str, list[tuple[float, float]]],
    *,
    crs: CRS = UTM,
    origin: np.ndarray = ORIGIN,
    references: dict[str, tuple[float, float]] | None = None,
) -> dict[str, pd.DataFrame]:
    """Return layers of runs that each end at a valve; corners in CRS units from the origin."""
    runs, rows = list(wires), {}
    lines = [shapely.LineString(np.array(wires[run]) + origin) for run in runs]
    ends = [shapely.Point(np.array(wires[run][-1]) + origin) for run in runs]
    zones = [str(n) for n in range(1, len(runs) + 1)]
    rows["wire_runs"] = gpd.GeoDataFrame(
        {"run": runs, "zones": zones, "controller": "A", "end_kind": "valve"},
        geometry=lines, crs=crs,
    )  # fmt: skip
    rows["wire_segments"] = gpd.GeoDataFrame(
        {"run": runs, "evidence": "traced", "cover_low_m": 0.3}, geometry=lines, crs=crs
    )
    rows["valves"] = gpd.GeoDataFrame(
        {"valve": [f"V{zone}" for zone in zones], "zone": zones, "controller": "A", "run": runs,
         "zone_status": "listed", "depth_m": 0.3, "depth_sigma_m": 0.02},
        geometry=ends, crs=crs,
    )  # fmt: skip
    start = shapely.Point(np.array(wires[runs[0]][0]) + origin)
    rows["controllers"] = gpd.GeoDataFrame({"controller": ["A"]}, geometry=[start], crs=crs)
    named = references or {}
    rows["references"] = gpd.GeoDataFrame(
        {"reference": list(named), "kind": "building corner", "is_permanent": True},
        geometry=[shapely.Point(np.array(xy) + origin) for xy in named.values()], crs=crs,
    )  # fmt: skip
    return {
        table.name: table.conform(rows[table.name], crs=crs)
        if table.geometry
        else table.conform(rows[table.name])
        for table in LAYERS
        if table.name in rows
    }


def plan_context(
    *, crs: CRS = UTM, scale_factor: float = 1.0, **settings: object
) -> dict[str, object]:
    """Return what the writer is told beside the layers."""
    unit = crs.axis_info[0].unit_conversion_factor
    frame = Frame(crs, crs, metres_per_unit=unit, scale_factor=scale_factor, convergence_deg=0.853)
    made = {"prepared_by": "Field crew 2", "prepared_on": "2026-03-14"}
    return {
        "name": "Quarry Pond Gardens",
        "slug": "quarry-pond-gardens",
        "settings": Settings.model_validate({"property": made, **settings}),
        "frame": frame,
    }
