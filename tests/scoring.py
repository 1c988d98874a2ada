"""Scores a built as-built against a simulated truth."""

from __future__ import annotations

import numpy as np
import pandas as pd
from shapely.geometry import Point
from shapely.ops import substring


def score_depths(asbuilt, truth) -> pd.DataFrame:
    """Return one row a depth reading: error and whether the 95 % interval holds the truth."""
    readings = asbuilt.layers["depth_readings"]
    known = readings[readings["point"].isin(truth.point_depths)]
    true = known["point"].map(truth.point_depths).astype(float)
    error = known["depth_m"] - true
    return pd.DataFrame(
        {
            "point": known["point"],
            "method": known["method"],
            "error_m": error,
            "relative": error / true,
            "inside": error.abs() <= 1.959964 * known["depth_sigma_m"],
        }
    )


def score_curves(asbuilt, truth) -> pd.DataFrame:
    """Return the error of the depth between readings, from the segments' ends."""
    segments = asbuilt.layers["wire_segments"]
    rows = []
    for segment in segments.itertuples():
        if segment.run not in truth.depths:
            continue
        true = float(np.interp(segment.chainage_to_m, *truth.depths[segment.run]))
        rows.append((segment.run, segment.depth_to_m - true, segment.depth_sigma_m,
                     segment.cover_low_m <= true))  # fmt: skip
    return pd.DataFrame(rows, columns=["run", "error_m", "sigma_m", "low_bound_holds"])


def score_paths(asbuilt, truth) -> pd.DataFrame:
    """Return how far each drawn run lies from its wire, sampled along the wire."""
    rows = []
    runs = asbuilt.layers["wire_runs"].set_index("run")
    buffers = asbuilt.layers["dig_buffer"].set_index("run")
    for run, wire in truth.wires.items():
        if run not in runs.index:
            continue
        walked = substring(wire, 0, truth.walked_to[run])
        samples = [walked.interpolate(s) for s in np.arange(0, walked.length, 0.5)]
        line, band = runs.geometry[run], buffers.geometry[run]
        errors = np.array([line.distance(p) for p in samples])
        inside = np.mean([band.covers(p) for p in samples])
        rows.append((run, errors.mean(), np.quantile(errors, 0.95), inside))
    return pd.DataFrame(rows, columns=["run", "mean_m", "p95_m", "inside_share"])


def score_faults(asbuilt, truth) -> pd.DataFrame:
    """Return one row a run: the true and the found fault kind, and the chainage error."""
    found = asbuilt.layers["faults"]
    rows = []
    for run in truth.wires:
        here = found[found["run"] == run]
        kind, at, loss = truth.faults.get(run, ("sound", np.nan, np.nan))
        got = here["kind"].iloc[0] if len(here) else "sound"
        low, high, mid = (
            (here[c].iloc[0] if len(here) else np.nan)
            for c in ("chainage_low_m", "chainage_high_m", "chainage_m")
        )
        rows.append((run, kind, got, len(here), mid - at, low <= at <= high, loss))
    return pd.DataFrame(
        rows, columns=["run", "true", "found", "count", "error_m", "inside", "loss"]
    )


def valve_errors(asbuilt, truth) -> pd.Series:
    """Return the distance of each located valve from its true place, over its stated rms."""
    valves = asbuilt.layers["valves"]
    true = {f"V{run[1:]}": point for run, point in truth.valves.items()}
    known = valves[valves["valve"].isin(true)]
    return pd.Series(
        [Point(g.x, g.y).distance(true[v]) / r for v, g, r in
         zip(known["valve"], known.geometry, known["position_rms_m"], strict=True)],
        index=known["valve"],
    )  # fmt: skip
