"""Run single steps on tables: how deep are the wires that a day's locates show?"""

from pathlib import Path

import wiremap

FOLDER = Path(__file__).parent.parent / "data" / "ridge-terrace"

source = wiremap.read_property(FOLDER)
settings = source.settings
checked = wiremap.check_locates(source.locates, settings=settings)
placed = wiremap.place_locates(checked.locates, source.references, settings=settings)
traces = wiremap.trace_runs(placed.locates, frame=placed.frame, settings=settings)
depths = wiremap.reduce_depths(placed.locates, traces.points, frame=placed.frame, settings=settings)

table = depths.readings[["point", "run", "depth_m", "depth_sigma_m", "method", "cross_slope_deg"]]
print(table.round(3).head(12).to_string(index=False))
