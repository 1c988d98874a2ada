"""Faults over several visits: one row a fault, and which of them were repaired."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import pandas as pd

from wiremap.model.cells import numbers, texts
from wiremap.model.findings import Finding
from wiremap.model.kinds import FaultKind, FaultStatus, Feature, HistoryReason
from wiremap.model.tables import FAULTS
from wiremap.steps.history.rows import said, state, tabulate_history

if TYPE_CHECKING:
    from collections.abc import Sequence

    import geopandas as gpd
    from numpy.typing import NDArray

    from wiremap.model.settings import Settings

REPAIRED_DIG = "Repaired; nothing to open."
_Row = dict[str, Any]
_BESIDE, _FEWEST = 6, 3  # levels on each side of a leak that are held against each other
_LEAST_GAP_M = 1e-6


class SettledFaults(NamedTuple):
    """What `settle_faults` returns.

    Attributes
    ----------
    faults : GeoDataFrame
        Layer ``faults``: standing ones and repaired ones.
    history : GeoDataFrame
        Layer ``history``: between which days the repaired ones stood.
    findings : list of Finding
        `superseded`: faults that the tone of a later visit shows to be repaired.
    """

    faults: gpd.GeoDataFrame
    history: gpd.GeoDataFrame
    findings: list[Finding]


class Earlier(NamedTuple):
    """What the tone up to a day showed: the faults, and the lines as they were then."""

    day: str
    faults: gpd.GeoDataFrame
    lines: gpd.GeoDataFrame


class Latest(NamedTuple):
    """What all visits together heard.

    Attributes
    ----------
    points : GeoDataFrame
        Points on runs: run, chainage_m, tone, feature, point, label, visit.
    profiles : DataFrame
        Tone profiles of the latest visit: run, chainage_m, current.
    undecided : set of str
        Runs whose tone could not be judged.
    """

    points: gpd.GeoDataFrame
    profiles: pd.DataFrame
    undecided: set[str]


class _Tones(NamedTuple):
    """Where tone was heard: run, day and chainage of each such point of the current lines.

    `levels` are chainage and relative current of the runs whose tone could not be judged.
    """

    run: NDArray[np.object_]
    day: NDArray[np.object_]
    chainage_m: NDArray[np.float64]
    levels: dict[str, tuple[NDArray[np.float64], NDArray[np.float64]]]


def list_earlier_tones(placed: gpd.GeoDataFrame) -> list[tuple[str, NDArray[np.intp]]]:
    """Return which rows to judge again as they stood before later visits listened anew.

    Parameters
    ----------
    placed : GeoDataFrame
        All placed rows: feature, run, tone, visit.

    Returns
    -------
    list of (str, array of int)
        For each visit that read the tone of a run that a later visit read too: its day, and the
        rows of those runs up to that day. Empty where no run was listened to twice.
    """
    if "visit" not in placed:
        return []
    day, days = pd.factorize(texts(placed, "visit"), sort=True)
    run, names = pd.factorize(texts(placed, "run"))
    tells = np.isfinite(numbers(placed, "tone"))
    tells |= texts(placed, "feature") == str(Feature.LOST)
    tells &= np.append(names != "", False)[run]
    heard = np.zeros((len(names), len(days)), dtype=bool)
    heard[run[tells], day[tells]] = True
    anew = np.cumsum(heard[:, ::-1], axis=1)[:, ::-1] > 1
    found = []
    for number in np.flatnonzero((heard & anew).any(axis=0)):
        chosen = heard[:, number] & anew[:, number]
        rows = np.flatnonzero(chosen[run] & (day <= number))
        found.append((str(days[number]), rows))
    return found


def settle_faults(
    faults: gpd.GeoDataFrame,
    earlier: Sequence[Earlier],
    latest: Latest,
    lines: gpd.GeoDataFrame,
    *,
    scale_factor: float,
    settings: Settings,
) -> SettledFaults:
    """Return one row a fault over all visits, repaired ones with the day of their repair.

    1. Reports of one fault (the same label, or a later report of a repair within reach on the
       same run) are one row; the last report says whether it stands.
    2. A fault that the tone of an earlier visit showed, and that shows no longer, is kept: as
       repaired where a later visit heard the tone on both sides of it, else as standing. Where
       the later tone is too short or noisy to be judged, a leak is called repaired only if the
       step that is left, at its 95 % upper bound, is less than the leak was at its lower one; an
       open end only if half the current or more reaches the run's last quarter.

    Parameters
    ----------
    faults : GeoDataFrame
        Layer ``faults`` as all visits together show it.
    earlier : sequence of Earlier
        What the tone up to earlier days showed, oldest first.
    latest : Latest
        What all visits together heard.
    lines : GeoDataFrame
        One row a run: run, geometry.
    scale_factor : float
        Plane metres in one ground metre.
    settings : Settings
        ``thresholds.join_m``.

    Returns
    -------
    SettledFaults
    """
    points = latest.points
    if "visit" not in points:
        return SettledFaults(faults, tabulate_history([], crs=lines.crs), [])
    join_m = settings.thresholds.join_m
    rows = _merge_reports(faults.to_dict("records"), _labels(points), join_m)
    tones = _heard(latest)
    findings: list[Finding] = []
    for day, shown, walked in earlier:
        for old in shown.to_dict("records"):
            _bring_to_line(old, walked, lines, scale_factor)
            same = next((row for row in rows if _is_same(old, row, join_m)), None)
            if same is not None:
                same["first_date"] = _first(old["first_date"], same["first_date"])
                continue
            findings += _keep(old, day, tones, rows)
    return SettledFaults(_as_layer(rows, faults), _history(rows, faults), findings)


def _labels(points: gpd.GeoDataFrame) -> dict[str, str]:
    """Return the label of each reported fault by its point."""
    at = texts(points, "feature") == str(Feature.FAULT)
    point, label = texts(points, "point")[at], texts(points, "label")[at]
    return {str(p): str(name) for p, name in zip(point, label, strict=True) if name}


def _heard(latest: Latest) -> _Tones:
    levels, points = {}, latest.points
    for run in latest.undecided:
        mine = latest.profiles[(latest.profiles["run"] == run).to_numpy()]
        chainage, current = numbers(mine, "chainage_m"), numbers(mine, "current")
        order = np.argsort(chainage, kind="stable")
        order = order[current[order] > 0]
        levels[run] = (chainage[order], current[order])
    at = numbers(points, "tone") > 0
    runs, days = texts(points, "run")[at], texts(points, "visit")[at]
    return _Tones(runs, days, numbers(points, "chainage_m")[at], levels)


def _merge_reports(rows: list[_Row], labels: dict[str, str], join_m: float) -> list[_Row]:
    """Return one row for all reports of one fault."""
    merged: list[_Row] = []
    for row in sorted(rows, key=lambda r: _text(r["last_date"])):
        row["fault"] = labels.get(row["fault"], row["fault"])
        former = next((m for m in merged if _is_report_of(row, m, join_m)), None)
        if former is None:
            merged.append(row)
            continue
        former |= {
            "status": row["status"],
            "first_date": _first(former["first_date"], row["first_date"]),
            "last_date": row["last_date"] or former["last_date"],
            "observations": (former["observations"] or 0) + (row["observations"] or 0),
        }
        if row["kind"] != FaultKind.REPORTED:
            shown = ("kind", "chainage_m", "chainage_low_m", "chainage_high_m", "geometry")
            losses = ("loss_fraction", "loss_fraction_low", "loss_fraction_high", "confidence")
            former |= {name: row[name] for name in (*shown, *losses, "position_rms_m", "dig")}
        if _text(row["evidence"]) not in _text(former["evidence"]):
            when = f" {said(_text(row['last_date']))}"
            former["evidence"] = f"{former['evidence']}; then{when} {row['evidence']}"
        if former["status"] == FaultStatus.REPAIRED:
            former["dig"] = REPAIRED_DIG
    return merged


def _is_report_of(row: _Row, former: _Row, join_m: float) -> bool:
    """Whether a row reports on a fault that an earlier row named."""
    if row["fault"] == former["fault"]:
        return True
    is_repair = row["status"] == FaultStatus.REPAIRED and row["kind"] == FaultKind.REPORTED
    later = _text(row["last_date"]) > _text(former["first_date"])
    stands = former["status"] == FaultStatus.STANDING
    return is_repair and later and stands and _is_same(row, former, join_m)


def _is_same(one: _Row, other: _Row, join_m: float) -> bool:
    """Whether two rows stand at one place of one run, within their intervals and the join."""
    if not one["run"] or one["run"] != other["run"] or np.isnan(one["chainage_m"]):
        return False
    low = one["chainage_low_m"] - join_m
    high = one["chainage_high_m"] + join_m
    return bool(low <= other["chainage_high_m"] and other["chainage_low_m"] <= high)


def _bring_to_line(
    old: _Row, walked: gpd.GeoDataFrame, lines: gpd.GeoDataFrame, scale_factor: float
) -> None:
    """Count an earlier fault's chainage along the line as it is now, and put it there."""
    place = old["geometry"]
    was, now = (f.geometry[(f["run"] == old["run"]).to_numpy()] for f in (walked, lines))
    if not len(was) or not len(now) or place is None:
        return
    shift = (float(now.iloc[0].project(place)) - float(was.iloc[0].project(place))) / scale_factor
    old["chainage_m"] += shift
    old["chainage_low_m"] = max(old["chainage_low_m"] + shift, 0.0)
    old["chainage_high_m"] += shift
    old["geometry"] = now.iloc[0].interpolate(max(old["chainage_m"], 0.0) * scale_factor)


def _keep(old: _Row, day: str, tones: _Tones, rows: list[_Row]) -> list[Finding]:
    """Keep a fault that shows no longer; say so where later tone shows it to be repaired."""
    taken = {row["fault"] for row in rows}
    if old["fault"] in taken:
        old["fault"] = f"{old['fault']}-{day}"
    rows.append(old)
    sound_on = _sound_on(old, day, tones)
    if not sound_on or not _is_believed(old, tones):
        return []
    old["status"] = str(FaultStatus.REPAIRED)
    old["last_date"] = sound_on
    old["dig"] = REPAIRED_DIG
    old["evidence"] = f"{old['evidence']}; {said(sound_on)} the tone past it is sound"
    text = (
        f"run {old['run']}: the {str(old['kind']).replace('_', ' ')} near"
        f" {old['chainage_m']:.1f} m that the tone showed {said(day)} is repaired: the tone past"
        f" it is sound {said(sound_on)}"
    )
    place = old["geometry"]
    x, y = (place.x, place.y) if place is not None else (float("nan"),) * 2
    return [Finding("superseded", str(old["fault"]), text, x_m=x, y_m=y)]


def _sound_on(old: _Row, day: str, tones: _Tones) -> str:
    """Return the first later day on which tone was heard on both sides of a fault."""
    mine = tones.run == old["run"]
    low, high = old["chainage_low_m"], old["chainage_high_m"]
    if old["kind"] == FaultKind.OPEN_END:
        # the wire ends inside the interval: as far as before is past it
        earlier = tones.chainage_m[mine & (tones.day <= day)]
        low = high = min(low, float(earlier.max()) - _LEAST_GAP_M) if len(earlier) else low
    mine &= tones.day > day
    for one in np.unique(tones.day[mine].astype(str)):
        heard = tones.chainage_m[mine & (tones.day == one)]
        if (heard < low).any() and (heard > high).any():
            return str(one)
    return ""


def _is_believed(old: _Row, tones: _Tones) -> bool:
    """Whether levels that could not be judged leave no room for the fault that was."""
    if old["run"] not in tones.levels or old["kind"] == FaultKind.BREAK:
        return True
    chainage, current = tones.levels[old["run"]]
    if len(current) < 2 * _FEWEST:
        return False
    if old["kind"] == FaultKind.OPEN_END:
        quarter = max(len(current) // 4, 2)
        return bool(np.median(current[-quarter:]) > 0.5 * np.median(current[:quarter]))
    before = np.log(current[chainage < old["chainage_m"]][-_BESIDE:])
    after = np.log(current[chainage > old["chainage_m"]][:_BESIDE])
    if min(len(before), len(after)) < _FEWEST:
        return False
    spread = np.sqrt(before.var(ddof=1) / len(before) + after.var(ddof=1) / len(after))
    left = 1.0 - np.exp(after.mean() - before.mean() - 2.0 * spread)
    return bool(left < old["loss_fraction_low"])


def _text(value: object) -> str:
    return value if isinstance(value, str) else ""


def _first(one: object, other: object) -> str | None:
    return min((d for d in (_text(one), _text(other)) if d), default=None)


def _as_layer(rows: list[_Row], faults: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    import geopandas as gpd

    if not rows:
        return faults
    names = dict.fromkeys([*faults.columns, *(name for row in rows for name in row)])
    columns = {name: [row.get(name) for row in rows] for name in names}
    layer = gpd.GeoDataFrame(columns, geometry="geometry", crs=faults.crs)
    order = np.lexsort(
        (layer["chainage_m"].to_numpy(dtype=float), layer["run"].fillna("").to_numpy(dtype=str))
    )
    return FAULTS.conform(layer.iloc[order], crs=faults.crs)


def _history(rows: list[_Row], faults: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """Return between which days the repaired faults stood."""
    repaired = [row for row in rows if row["status"] == FaultStatus.REPAIRED]
    history = [
        state(
            "faults", str(row["fault"]), HistoryReason.REPAIRED,
            (_text(row["first_date"]), _text(row["last_date"])), row["geometry"],
            run=row["run"] or None, value=str(row["kind"]),
            position_rms_m=row["position_rms_m"], observations=row["observations"],
            message=f"Fault {row['fault']} of run {row['run']} was repaired"
            f" {said(_text(row['last_date']))}.",
        )
        for row in repaired
    ]  # fmt: skip
    return tabulate_history(history, crs=faults.crs)
