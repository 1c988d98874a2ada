"""Runs that begin as near one controller as another, as far as positions tell."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from wiremap.formulas.accuracy import RADIAL_95
from wiremap.model.findings import Finding
from wiremap.steps.network.joins import ENDS_HERE

if TYPE_CHECKING:
    import pandas as pd

    from wiremap.steps.network.joins import Connection, Devices, Runs


def report_rivals(
    runs: Runs, devices: Devices, joined: list[Connection], vertices: pd.DataFrame
) -> list[Finding]:
    """Return a finding for each two controllers that positions do not tell apart for some run.

    The other controller stands farther from the run's end than the one that was taken, but by
    less than the 95 % radius of both positions. Runs whose rows or valves name a controller are
    in no doubt.

    Parameters
    ----------
    runs : Runs
    devices : Devices
    joined : list of Connection
    vertices : DataFrame
        Columns run and, where known, controller.

    Returns
    -------
    list of Finding
        `controller-uncertain`.
    """
    import shapely

    rivals = [k for k, kind in enumerate(devices.kind) if kind == "controller"]
    if len(rivals) < 2:  # noqa: PLR2004
        return []
    told = _told(devices, vertices)
    found: dict[tuple[str, str], list[str]] = {}
    for c in joined:
        if c.other_kind != "controller" or c.evidence != ENDS_HERE or c.run in told:
            continue
        line, rms_m = runs.shapes[runs.number[c.run]], runs.rms_m[runs.number[c.run]]
        end = shapely.line_interpolate_point(line, c.chainage_m * runs.scale)
        gap = shapely.distance(devices.shapes[rivals], end)
        doubt = RADIAL_95 * np.hypot(devices.rms_m[rivals], rms_m)
        for k in np.flatnonzero(gap - c.gap_m * runs.scale <= doubt).tolist():
            other = devices.name[rivals[k]]
            if other != c.other:
                found.setdefault((c.other, other), []).append(c.run)
    return [_rivals(*pair, names) for pair, names in sorted(found.items())]


def _told(devices: Devices, vertices: pd.DataFrame) -> set[str]:
    """Return the runs whose rows or valves name a controller."""
    told = {
        name.strip()
        for kind, text, controller in zip(
            devices.kind, devices.run, devices.controller, strict=True
        )
        if kind == "valve" and controller
        for name in text.split(";")
    }
    if "controller" in vertices:
        named = vertices["controller"].fillna("") != ""
        told |= set(vertices.loc[named.to_numpy(dtype=bool), "run"].astype(str))
    return told


def _rivals(taken: str, other: str, names: list[str]) -> Finding:
    runs = list(dict.fromkeys(names))
    which = f"Run {runs[0]} begins" if len(runs) == 1 else f"Runs {', '.join(runs)} begin"
    return Finding(
        "controller-uncertain",
        taken,
        f"{which} as near controller {other} as controller {taken}, as far as positions tell, and"
        f" no row names a controller; controller {taken} was taken.",
    )
