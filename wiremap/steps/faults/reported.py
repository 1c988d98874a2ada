"""Reported faults: where they stand on the runs, and how they agree with computed ones."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from wiremap.model.kinds import FaultStatus, Feature

if TYPE_CHECKING:
    import geopandas as gpd

    from wiremap.model.settings import Settings
    from wiremap.steps.faults.judge import Found, Judged

_REPAIRED = ("repaired", "fixed", "respliced", "replaced")
_NOT_YET = ("not repaired", "not fixed", "unrepaired", "to be repaired", "needs to be", "not yet")


@dataclass(frozen=True)
class Reported:
    """One reported fault."""

    name: str
    run: str
    chainage_m: float
    x_m: float
    y_m: float
    rms_m: float
    status: FaultStatus
    date: str
    note: str
    source_file: str
    source_row: int | None


def list_reported(
    placed: gpd.GeoDataFrame, points: gpd.GeoDataFrame, lines: gpd.GeoDataFrame,
    *, scale_factor: float, settings: Settings,
) -> list[Reported]:  # fmt: skip
    """Return the rows of feature ``fault``, each with its run and chainage where it has one.

    Parameters
    ----------
    placed, points, lines : GeoDataFrame
        All located rows, those on runs, and one line a run.
    scale_factor : float
        Plane metres in one ground metre.
    settings : Settings
        Join distance for a fault that names no run.

    Returns
    -------
    list of Reported
        A fault that names no run is put on the nearest line within the join distance and its
        own position uncertainty.
    """
    rows = placed[(placed["feature"] == Feature.FAULT).to_numpy(dtype=bool)]
    if not len(rows):
        return []
    on_run = points[(points["feature"] == Feature.FAULT).to_numpy(dtype=bool)]
    known = {
        int(locate): (str(run), float(chainage))
        for locate, run, chainage in zip(
            on_run["locate"], on_run["run"], on_run["chainage_m"], strict=True
        )
    }
    found = []
    for index, row in zip(rows.index, rows.to_dict("records"), strict=True):
        rms = float(row.get("position_rms_m", np.nan))
        run, chainage = known.get(int(index), ("", float("nan")))
        if not run:
            reach = settings.thresholds.join_m + (2 * rms if np.isfinite(rms) else 0.0)
            run, chainage = _snap(row["geometry"], lines, reach, scale_factor)
        found.append(_reported(row, run, chainage, rms))
    return found


def _snap(
    point: object, lines: gpd.GeoDataFrame, reach_m: float, scale_factor: float
) -> tuple[str, float]:
    distance = lines.distance(point).to_numpy() if len(lines) else np.empty(0)
    if not len(distance) or distance.min() > reach_m:
        return "", float("nan")
    nearest = int(distance.argmin())
    along = lines.geometry.iloc[nearest].project(point) / scale_factor
    return str(lines["run"].iloc[nearest]), float(along)


def _cell(row: dict[str, object], name: str) -> str:
    value = row.get(name, "")
    return value if isinstance(value, str) else ""


def _reported(row: dict[str, object], run: str, chainage: float, rms: float) -> Reported:
    geometry, source_row = row["geometry"], row.get("source_row")
    return Reported(
        _cell(row, "point"), run, chainage, geometry.x, geometry.y, rms,  # type: ignore[attr-defined]
        _status(_cell(row, "status"), _cell(row, "note")), _cell(row, "date"), _cell(row, "note"),
        _cell(row, "source_file"), int(source_row) if pd.notna(source_row) else None,  # type: ignore[call-overload]
    )  # fmt: skip


def _status(status: str, note: str) -> FaultStatus:
    """Return the state of a fault from its status column, else from words of its note."""
    words = (status or note).casefold()
    if any(word in words for word in _NOT_YET):
        return FaultStatus.STANDING
    done = any(word in words for word in _REPAIRED)
    return FaultStatus.REPAIRED if done else FaultStatus.STANDING


def match_reported(
    reported: list[Reported], judged: dict[str, Judged], *, join_m: float
) -> dict[int, Found]:
    """Return which reported fault is which computed one.

    Parameters
    ----------
    reported : list of Reported
    judged : dict of str to Judged
        By run.
    join_m : float
        Tolerance beside the fault's interval and the report's own uncertainty, in metres.

    Returns
    -------
    dict of int to Found
        Index in ``reported`` to the computed fault, nearest first, each used once.
    """
    pairs: list[tuple[float, int, Found]] = []
    for index, report in enumerate(reported):
        pairs += [
            (abs(found.chainage_m - report.chainage_m), index, found)
            for found in (judged[report.run].found if report.run in judged else ())
            if _is_near(report, found, join_m) and not _is_after_repair(report, found)
        ]
    matched: dict[int, Found] = {}
    for _, index, found in sorted(pairs, key=lambda pair: pair[:2]):
        if index not in matched and found not in matched.values():
            matched[index] = found
    return matched


def _is_near(report: Reported, found: Found, join_m: float) -> bool:
    slack = join_m + (2 * report.rms_m if np.isfinite(report.rms_m) else 0.0)
    return found.low_m - slack <= report.chainage_m <= found.high_m + slack


def _is_after_repair(report: Reported, found: Found) -> bool:
    """Whether the tone was read on a day after the repair."""
    if report.status != FaultStatus.REPAIRED:
        return False
    return bool(report.date and found.visit) and found.visit > report.date[:10]


def contradict(
    report: Reported, judged: dict[str, Judged], *, least_loss: float, join_m: float
) -> str:
    """Return in words how the tone contradicts a report that no computed fault matches.

    Parameters
    ----------
    report : Reported
    judged : dict of str to Judged
        By run.
    least_loss : float
        A run that cannot show a leak of this size contradicts no standing fault.
    join_m : float
        Tolerance beside a computed fault's interval, in metres.

    Returns
    -------
    str
        Empty where nothing contradicts it.
    """
    run = judged.get(report.run)
    if run is None or run.verdict is None:
        return ""
    place = f"at {report.chainage_m:.1f} m of run {report.run}"
    if report.status == FaultStatus.REPAIRED:
        late = [f for f in run.found if _is_near(report, f, join_m) and _is_after_repair(report, f)]
        if not late:
            return ""
        shows = f"the tone of {late[0].visit} still shows a {late[0].kind} there"
        return f"is said to be repaired {place}, but {shows}"
    first, last = run.heard
    if not first < report.chainage_m < last or run.verdict.smallest_loss > least_loss:
        return ""
    return f"is reported {place}, but the tone runs on past it without a step of {least_loss:.0%}"
