"""Stretches of wire between located points: depth, cover, evidence, and shallow cover."""

from __future__ import annotations

from statistics import NormalDist
from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from wiremap.model.findings import Finding
from wiremap.model.kinds import Evidence, Feature
from wiremap.model.tables import WIRE_SEGMENTS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from wiremap.model.frame import Frame
    from wiremap.model.settings import Settings
    from wiremap.steps.profiles.layout import Nodes, Shape
    from wiremap.steps.profiles.process import Carried

    Array = NDArray[np.float64]

# depths of common work: 4 in and 8 in and 10 in from published turf practice; 12 in is common
# practice for lateral trenches, no source
_WORKS = (
    (0.102, "core aeration (2 to 4 in)"),
    (0.203, "tilling (6 to 8 in)"),
    (0.254, "edging pins and deep tines (10 in)"),
    (0.305, "trenching (12 in)"),
)


def draw_segments(
    vertices: pd.DataFrame,
    shape: Shape,
    nodes: Nodes,
    carried: Carried,
    settings: Settings,
    frame: Frame,
) -> gpd.GeoDataFrame:
    """Return the layer ``wire_segments``."""
    along, first = nodes.curve, nodes.first_of_segment
    z = NormalDist().inv_cdf(settings.advisory.confidence)
    depth, sigma = carried.depth_m[along], carried.sigma_m[along]
    low = np.maximum(depth - z * sigma - _dips(shape, nodes, carried), 0.0)
    some = len(first) > 0
    xy = vertices[["x_m", "y_m"]].to_numpy(dtype=float)
    ends = np.stack((xy[shape.start], xy[shape.end]), axis=1)
    rms = vertices["position_rms_m"].to_numpy(dtype=float)
    name = vertices["point"].to_numpy(dtype=object)
    table = pd.DataFrame(
        {
            "run": vertices["run"].to_numpy(dtype=object)[shape.start],
            "from_point": name[shape.start],
            "to_point": name[shape.end],
            "chainage_from_m": shape.begin_m,
            "chainage_to_m": shape.finish_m,
            "depth_from_m": depth[first],
            "depth_to_m": depth[first + nodes.per_segment - 1],
            "depth_sigma_m": np.maximum.reduceat(sigma, first) if some else np.zeros(0),
            "cover_low_m": np.minimum.reduceat(low, first) if some else np.zeros(0),
            "position_rms_m": np.maximum(rms[shape.start], rms[shape.end]),
            "evidence": _evidence(vertices, shape, settings),
        }
    )
    lines = shapely.linestrings(ends) if some else []
    return WIRE_SEGMENTS.conform(gpd.GeoDataFrame(table, geometry=lines, crs=frame.metric_crs))


def _dips(shape: Shape, nodes: Nodes, carried: Carried) -> Array:
    """Return how far depth likely dips between nodes below the lesser of the two.

    The least value of a random walk over a length lies below its start by 2 sqrt(v / 2 pi), where
    v is the variance gained, and below the lesser of its two ends by half of that.
    """
    step_m = (shape.finish_m - shape.begin_m) / (nodes.per_segment - 1)
    dip: Array = np.sqrt(carried.wander_m2_per_m * step_m / (2 * np.pi))
    return np.repeat(dip, nodes.per_segment)


def _evidence(vertices: pd.DataFrame, shape: Shape, settings: Settings) -> NDArray[np.object_]:
    """Return how each segment is known."""
    exposed = vertices["is_exposed"].to_numpy(dtype=bool, na_value=False)
    lost = vertices["feature"].to_numpy(dtype=object) == Feature.LOST
    gap = shape.finish_m - shape.begin_m > settings.thresholds.inferred_gap_m
    evidence = np.full(len(shape.start), str(Evidence.TRACED), dtype=object)
    evidence[exposed[shape.start] & exposed[shape.end]] = str(Evidence.EXPOSED)
    evidence[gap | lost[shape.start] | lost[shape.end]] = str(Evidence.INFERRED)
    return evidence


def shallow_findings(
    segments: gpd.GeoDataFrame, shape: Shape, vertices: pd.DataFrame, settings: Settings
) -> list[Finding]:
    """Return one finding a run whose cover may be less than the limit, with the stretches."""
    low = segments["cover_low_m"].to_numpy(dtype=float)
    limit = settings.advisory.min_cover_m
    under = np.flatnonzero(low < limit)
    if not len(under):
        return []
    fresh = np.concatenate(([True], (np.diff(under) > 1) | (np.diff(shape.run[under]) != 0)))
    head, tail = under[fresh], under[np.append(fresh[1:], True)]
    run = shape.run[head]
    xy = vertices[["x_m", "y_m"]].to_numpy(dtype=float)
    findings = []
    for code in np.unique(run):
        mine = run == code
        stretches = ", ".join(
            f"{a:.1f} to {b:.1f} m"
            for a, b in zip(shape.begin_m[head[mine]], shape.finish_m[tail[mine]], strict=True)
        )
        least = float(low[under[shape.run[under] == code]].min())
        at = xy[shape.start[head[mine][0]]]
        name = str(segments["run"].iloc[head[mine][0]])
        findings.append(
            Finding(
                "shallow-cover",
                subject=name,
                message=(
                    f"Run {name}: cover must be at least {limit:.3f} m at"
                    f" {settings.advisory.confidence:.0%} confidence, got {least:.3f} m at the"
                    f" least; chainage {stretches}."
                ),
                advice=_advice(least),
                column="cover_low_m",
                value=f"{least:.3f} m",
                x_m=float(at[0]),
                y_m=float(at[1]),
            )
        )
    return findings


def _advice(cover_m: float) -> str:
    """Return what work reaches the wire at a cover."""
    reached = ", ".join(name for depth, name in _WORKS if depth >= cover_m)
    return f"Dig by hand here; within reach of {reached}." if reached else ""
