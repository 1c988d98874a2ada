"""Depth readings that a later visit contradicts: ground is graded, wires are laid anew."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from wiremap.model.cells import numbers, texts
from wiremap.model.findings import Finding
from wiremap.model.kinds import HistoryReason, Severity
from wiremap.steps.history.rows import BETTER, said, split_by, state, tabulate_history

if TYPE_CHECKING:
    import geopandas as gpd
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

_BESIDE_M = 2.0  # project choice: depth hardly changes over half a marking interval
_APART = 3.0  # standard deviations, as for a pair and a direct depth at one point


class SettledDepths(NamedTuple):
    """What `settle_depths` returns.

    Attributes
    ----------
    readings : GeoDataFrame
        The depths that hold.
    history : GeoDataFrame
        Layer ``history``: the depths that were replaced.
    findings : list of Finding
        `superseded`, `visit-contradicts`: one a run and visit.
    """

    readings: gpd.GeoDataFrame
    history: gpd.GeoDataFrame
    findings: list[Finding]


def settle_depths(readings: gpd.GeoDataFrame, current: gpd.GeoDataFrame) -> SettledDepths:
    """Return the depth readings that hold after all visits.

    A reading is replaced by the nearest one of a later visit within 2 m along the run where the
    two differ by more than 3 standard deviations, unless the newer one is more than twice as
    coarse. Readings that agree all stay, and are averaged along the run.

    Parameters
    ----------
    readings : GeoDataFrame
        Layer ``depth_readings`` with the column locate.
    current : GeoDataFrame
        The located rows that ``locate`` counts, column visit.

    Returns
    -------
    SettledDepths
    """
    crs = readings.crs
    if "visit" not in current or not len(readings):
        return SettledDepths(readings, tabulate_history([], crs=crs), [])
    visit = texts(current, "visit")[readings["locate"].to_numpy(dtype=int)]
    run = texts(readings, "run")
    chainage, depth, sigma = (
        numbers(readings, name) for name in ("chainage_m", "depth_m", "depth_sigma_m")
    )
    by = np.full(len(readings), -1)
    contradicted = np.full(len(readings), -1)
    for name, mine in split_by(run):
        rows = mine[np.isfinite(chainage[mine]) & np.isfinite(sigma[mine])]
        if not name or len(set(visit[rows])) < 2:  # noqa: PLR2004 - several
            continue
        newer, is_apart = _hold_against(rows, visit, chainage, depth, sigma)
        wins = is_apart & (sigma[newer] <= BETTER * sigma[rows])
        by[rows[wins]] = newer[wins]
        contradicted[rows[is_apart & ~wins]] = newer[is_apart & ~wins]
    gone = by >= 0
    history = [_state(readings, int(i), int(by[i]), visit) for i in np.flatnonzero(gone)]
    findings = _report(readings, by, visit, "superseded", "the newer depths hold")
    findings += _report(
        readings, contradicted, visit, "visit-contradicts",
        "the newer ones are more than twice as coarse, so all were kept",
    )  # fmt: skip
    kept = readings[~gone].reset_index(drop=True) if gone.any() else readings
    return SettledDepths(kept, tabulate_history(history, crs=crs), findings)


def _hold_against(
    rows: NDArray[np.intp], visit: NDArray[np.object_], chainage: Floats, depth: Floats,
    sigma: Floats,
) -> tuple[NDArray[np.intp], NDArray[np.bool_]]:  # fmt: skip
    """Return for each row the nearest row of the latest visit beside it, and whether they differ.

    Where there is no such row, its own number and False.
    """
    nearest = rows.copy()
    found = np.zeros(len(rows), dtype=bool)
    for day in np.unique(visit[rows].astype(str))[1:]:
        later = rows[visit[rows] == day]
        later = later[np.argsort(chainage[later], kind="stable")]
        place = np.searchsorted(chainage[later], chainage[rows])
        left, right = later[np.maximum(place - 1, 0)], later[np.minimum(place, len(later) - 1)]
        to_left = np.abs(chainage[left] - chainage[rows])
        to_right = np.abs(chainage[right] - chainage[rows])
        best = np.where(to_left <= to_right, left, right)
        near = (np.minimum(to_left, to_right) <= _BESIDE_M) & (visit[rows] < day)
        nearest[near], found[near] = best[near], True
    apart = np.abs(depth[rows] - depth[nearest]) > _APART * np.hypot(sigma[rows], sigma[nearest])
    return nearest, found & apart


def _state(
    readings: gpd.GeoDataFrame, row: int, newer: int, visit: NDArray[np.object_]
) -> dict[str, Any]:
    old, new = readings.iloc[row], readings.iloc[newer]
    day = str(visit[newer])
    text = (
        f"The depth at {old['point']} was {old['depth_m']:.2f} m; {said(day)} it was"
        f" {new['depth_m']:.2f} m at {new['point']}."
    )
    return state(
        "depth_readings", str(old["point"]), HistoryReason.REMEASURED, (str(visit[row]), day),
        old["geometry"], run=old["run"], depth_m=float(old["depth_m"]),
        depth_sigma_m=float(old["depth_sigma_m"]), observations=1, message=text,
    )  # fmt: skip


def _report(
    readings: gpd.GeoDataFrame, by: NDArray[np.intp], visit: NDArray[np.object_], code: str,
    ending: str,
) -> list[Finding]:  # fmt: skip
    """Return one finding for each run and visit that contradicts older depths."""
    rows = np.flatnonzero(by >= 0)
    run = texts(readings, "run")
    depth = numbers(readings, "depth_m")
    severity = Severity.NOTE if code == "superseded" else None
    findings = []
    for name, day in dict.fromkeys(zip(run[rows], visit[by[rows]], strict=True)):
        mine = rows[(run[rows] == name) & (visit[by[rows]] == day)]
        change = depth[by[mine]] - depth[mine]
        worst = int(np.argmax(np.abs(change)))
        place = readings.geometry.iloc[int(mine[worst])]
        text = (
            f"Run {name}: {len(mine)} depths differ from those read {said(str(day))} by more than"
            f" {_APART:g} standard deviations, up to {change[worst]:+.2f} m at"
            f" {readings['point'].iloc[int(mine[worst])]}; {ending}."
        )
        findings.append(Finding(code, str(name), text, severity=severity, x_m=place.x, y_m=place.y))
    return findings
