"""Depth along every run, with its uncertainty."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd

from wiremap.steps.profiles.layout import Nodes, Observed, RunCodes, Shape
from wiremap.steps.profiles.process import carry_depths, doubt_odd
from wiremap.steps.profiles.segments import draw_segments, shallow_findings

if TYPE_CHECKING:
    import geopandas as gpd
    from numpy.typing import NDArray

    from wiremap.model.findings import Finding
    from wiremap.model.frame import Frame
    from wiremap.model.settings import Settings
    from wiremap.steps.profiles.process import Carried

    Array = NDArray[np.float64]

_SAME_PLACE_M = 1e-6  # two segments reckon their common end each for itself


class Profiles(NamedTuple):
    """What `profile_runs` returns.

    Attributes
    ----------
    points : GeoDataFrame
        Points with ``wire_depth_m`` and ``wire_depth_sigma_m``.
    segments : GeoDataFrame
        Layer ``wire_segments``.
    curves : DataFrame
        Columns run, chainage_m, depth_m, depth_sigma_m.
    findings : list of Finding
    """

    points: gpd.GeoDataFrame
    segments: gpd.GeoDataFrame
    curves: pd.DataFrame
    findings: list[Finding]


def profile_runs(
    vertices: pd.DataFrame,
    points: gpd.GeoDataFrame,
    readings: gpd.GeoDataFrame,
    *,
    frame: Frame,
    settings: Settings,
) -> Profiles:
    """Return the depth of the wire along every run, with its uncertainty.

    A Gaussian process in chainage about each run's own mean, its length scale and amplitude
    fitted to the property's readings. The uncertainty grows away from the readings; a lean held
    wrong on every reading does not average out. Nothing is said on a run without readings, nor
    farther than three length scales from the nearest reading.

    Parameters
    ----------
    vertices : DataFrame
        Columns run, sequence, point, feature, chainage_m, x_m, y_m, position_rms_m, is_exposed;
        ordered by run and sequence.
    points : GeoDataFrame
        Columns locate, run, chainage_m.
    readings : GeoDataFrame
        Layer ``depth_readings`` with locate, and systematic_sigma_m and slope_part_m where known.
    frame : Frame
        The working plane; gives the CRS of the segments.
    settings : Settings
        Sections ``advisory`` and ``thresholds``.

    Returns
    -------
    Profiles
        ``cover_low_m`` is the lower bound, one-sided at the advisory confidence, of the least
        depth on the segment, not below zero. The depth is the conductor's; the few millimetres
        to the top of the cable are far inside the uncertainty.

    Examples
    --------
    >>> import geopandas as gpd, pandas as pd
    >>> from pyproj import CRS
    >>> from wiremap.model.frame import Frame
    >>> from wiremap.model.settings import Settings
    >>> crs = CRS("EPSG:26914")
    >>> vertices = pd.DataFrame({"run": "A", "sequence": [0, 1], "point": ["P1", "P2"],
    ...     "feature": "path", "chainage_m": [0.0, 8.0], "x_m": [0.0, 8.0], "y_m": 0.0,
    ...     "position_rms_m": 0.1, "is_exposed": False})
    >>> points = gpd.GeoDataFrame({"locate": [0, 1], "run": "A", "chainage_m": [0.0, 8.0]},
    ...     geometry=gpd.points_from_xy([0, 8], [0, 0]), crs=crs)
    >>> readings = pd.DataFrame({"locate": [0, 1], "run": "A", "chainage_m": [0.0, 8.0],
    ...     "depth_m": [0.30, 0.34], "depth_sigma_m": 0.02})
    >>> profiles = profile_runs(vertices, points, readings, frame=Frame(crs, crs),
    ...                         settings=Settings())
    >>> profiles.segments[["depth_from_m", "depth_to_m"]].round(2).values.tolist()
    [[0.31, 0.33]]
    """
    runs = RunCodes.of(vertices)
    observed, findings = doubt_odd(Observed.gather(points, readings, runs), settings)
    shape = Shape.of(vertices, runs)
    nodes = Nodes.lay(shape, observed, runs.of_points(points), points)
    carried = carry_depths(nodes, observed, settings)
    segments = draw_segments(vertices, shape, nodes, carried, settings, frame)
    findings += shallow_findings(segments, shape, vertices, settings)
    return Profiles(
        _points_with_depth(points, nodes, carried),
        segments,
        _curves(nodes, carried, runs),
        findings,
    )


def _points_with_depth(
    points: gpd.GeoDataFrame, nodes: Nodes, carried: Carried
) -> gpd.GeoDataFrame:
    """Return the points with the depth of the wire under each."""
    on_run = nodes.run[nodes.point] >= 0
    return points.assign(
        wire_depth_m=np.where(on_run, carried.depth_m[nodes.point], np.nan),
        wire_depth_sigma_m=np.where(on_run, carried.sigma_m[nodes.point], np.nan),
    )


def _curves(nodes: Nodes, carried: Carried, runs: RunCodes) -> pd.DataFrame:
    """Return the curves: every node along the segments, ends of segments once."""
    run, chainage = nodes.run[nodes.curve], nodes.chainage[nodes.curve]
    once = np.ones(len(run), dtype=bool)
    once[1:] = (run[1:] != run[:-1]) | (np.diff(chainage) > _SAME_PLACE_M)
    return pd.DataFrame(
        {
            "run": runs.names.to_numpy(dtype=object)[run[once]],
            "chainage_m": chainage[once],
            "depth_m": carried.depth_m[nodes.curve][once],
            "depth_sigma_m": carried.sigma_m[nodes.curve][once],
        }
    )
