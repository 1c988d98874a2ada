"""Network: which wires meet where, and the wire path from each valve back to its controller.

Reads lines, vertices and devices; returns connections and paths.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import pandas as pd

from wiremap.model.findings import Finding
from wiremap.steps.network.joins import (
    Connection,
    gather_devices,
    gather_runs,
    join_devices,
    join_ends,
)
from wiremap.steps.network.paths import find_paths
from wiremap.steps.network.rivals import report_rivals

if TYPE_CHECKING:
    import geopandas as gpd

    from wiremap.model.frame import Frame
    from wiremap.model.settings import Settings
    from wiremap.steps.network.joins import Runs

__all__ = ["Network", "join_runs"]

_TEXTS = ("run", "other_kind", "other", "evidence")


class Network(NamedTuple):
    """How the wires of a property hang together.

    Attributes
    ----------
    connections : DataFrame
        run, chainage_m, other_kind (run, valve, splice, controller), other, other_chainage_m
        (NaN for a device), gap_m, evidence; ordered by run and chainage.
    paths : DataFrame
        valve, controller, runs (from controller to valve, parted by semicolons), path_length_m,
        path_length_sigma_m; NaN where there is no path.
    findings : list of Finding
    """

    connections: pd.DataFrame
    paths: pd.DataFrame
    findings: list[Finding]


def join_runs(
    lines: gpd.GeoDataFrame,
    vertices: pd.DataFrame,
    valves: gpd.GeoDataFrame,
    splices: gpd.GeoDataFrame,
    controllers: gpd.GeoDataFrame,
    *,
    frame: Frame,
    settings: Settings,
) -> Network:
    """Return where wires and devices meet, and each valve's wire path back to a controller.

    1. A device joins the runs that it names, and runs that end within the tolerance of it. A
       splice joins all of them, a run's end only the nearest valve and controller.
    2. A run's end that meets no device joins the nearest run within the tolerance. An end at a
       valve joins no other run: wires of one box stay apart.
    3. Paths are the shortest over wire; changing wires weighs a little, so that a path does not
       hop between wires that share a trench.

    Tolerance: ``thresholds.join_m`` and the 95 % radius of both positions.

    Parameters
    ----------
    lines : GeoDataFrame
        Lines, columns run, length_m.
    vertices : DataFrame
        Their vertices, columns run, feature, chainage_m, x_m, y_m, cov_xx_m2, cov_xy_m2,
        cov_yy_m2, position_rms_m, and where known controller.
    valves, splices, controllers : GeoDataFrame
        Layers of those names; ``run`` may name several, parted by semicolons.
    frame : Frame
        The working frame.
    settings : Settings
        ``thresholds.join_m``.

    Returns
    -------
    Network
        A valve without a path has NaN lengths and no ``controller`` and ``runs``. The length's
        standard deviation comes from the positions of the vertices, and holds the amount by
        which their zigzag lengthens the path.
    """
    runs = gather_runs(lines, vertices, scale=frame.scale_factor)
    devices = gather_devices(valves, splices, controllers)
    join_m = settings.thresholds.join_m
    joined = join_devices(runs, devices, join_m=join_m)
    joined += join_ends(runs, joined, vertices, join_m=join_m)
    joined.sort(key=lambda c: (c.run, c.chainage_m))
    paths = find_paths(runs, devices, joined, vertices)
    findings = _note_branches(joined) + _note_loose(runs, joined)
    findings += report_rivals(runs, devices, joined, vertices)
    return Network(_tabulate(joined), paths, findings)


def _tabulate(joined: list[Connection]) -> pd.DataFrame:
    columns = {name: [getattr(c, name) for c in joined] for name in Connection._fields}
    types = {name: "str" if name in _TEXTS else "float64" for name in columns}
    return pd.DataFrame(
        {name: pd.Series(values, dtype=types[name]) for name, values in columns.items()}
    )


def _note_branches(joined: list[Connection]) -> list[Finding]:
    """Return a note for each branch that was joined to another run by its position alone."""
    return [
        Finding(
            "branch-joined",
            c.run,
            f"Run {c.run} was joined at chainage {c.chainage_m:.1f} m to run {c.other} at"
            f" {c.other_chainage_m:.1f} m, {c.gap_m:.2f} m apart ({c.evidence}).",
        )
        for c in joined
        if c.other_kind == "run"
    ]


def _note_loose(runs: Runs, joined: list[Connection]) -> list[Finding]:
    """Return a note for each run that joins no controller, splice or other run."""
    met = {c.run for c in joined if c.other_kind != "valve"}
    met |= {c.other for c in joined if c.other_kind == "run"}
    return [
        Finding(
            "run-not-connected",
            name,
            f"Run {name} meets no controller, splice or other run within the joining tolerance.",
        )
        for name in runs.names
        if name not in met
    ]
