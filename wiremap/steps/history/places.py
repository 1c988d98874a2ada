"""Places that later visits closed: moved and removed devices, ends that were traced on."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import pandas as pd

from wiremap.formulas.repeats import chi_square_limit, combine, radial_rms
from wiremap.formulas.stationing import line_length, project_on_line
from wiremap.formulas.walks import drop_repeats
from wiremap.model.cells import numbers, source_of, texts
from wiremap.model.findings import Finding
from wiremap.model.kinds import Feature, HistoryReason
from wiremap.steps.history.routes import find_reroutes, gather_walked
from wiremap.steps.history.rows import BETTER, LAYER_OF, said, state, tabulate_history

if TYPE_CHECKING:
    import geopandas as gpd
    from numpy.typing import NDArray

    from wiremap.model.settings import Settings

    Texts = NDArray[np.object_]
    Flags = NDArray[np.bool_]
    Ints = NDArray[np.int64]

_LIMIT = float(chi_square_limit(2, confidence=0.9999))
_SIZE_M = 0.05  # where on a device the mark is set: project choice, half a body
_MOVED, _REMOVED = ("moved", "relocated"), ("removed", "abandoned")


class SettledPlaces(NamedTuple):
    """What `settle_places` returns.

    Attributes
    ----------
    current : GeoDataFrame
        The rows that hold, index counted from 0.
    superseded_on : Series of str
        For each given row the day of the visit that closed it; missing where it holds.
    history : GeoDataFrame
        Layer ``history``.
    findings : list of Finding
        `superseded`, `visit-contradicts`.
    """

    current: gpd.GeoDataFrame
    superseded_on: pd.Series
    history: gpd.GeoDataFrame
    findings: list[Finding]


class _Ledger:
    """What was decided so far."""

    def __init__(self, placed: gpd.GeoDataFrame) -> None:
        self.placed = placed
        self.visit = texts(placed, "visit")
        self.name = _names(placed)
        self.feature = texts(placed, "feature")
        self.run = texts(placed, "run")
        self.zone = texts(placed, "zone")
        self.status = np.array([str(word).casefold() for word in texts(placed, "status")], object)
        self.closed_on = np.full(len(placed), "", dtype=object)
        self.rank = np.arange(len(placed), dtype=float)
        self.rows: list[dict[str, Any]] = []
        self.findings: list[Finding] = []
        self.xy = placed.geometry.get_coordinates().to_numpy()
        cov = placed[["cov_xx_m2", "cov_xy_m2", "cov_yy_m2"]].to_numpy(dtype=float)
        self.cov = cov[:, [0, 1, 1, 2]].reshape(-1, 2, 2)

    def close(self, members: Ints, day: str, reason: HistoryReason, message: str) -> None:
        """Set rows aside, keep them as one row of history, and say so."""
        best = members[np.argmin(radial_rms(self.cov[members]))]
        layer, name = LAYER_OF.get(str(self.feature[best]), "locates"), str(self.name[best])
        if reason == HistoryReason.REROUTED:
            layer, name = "wire_runs", str(self.run[best])
        self.closed_on[members] = day or "unknown"
        self.rows.append(
            state(
                layer, name, reason,
                (min(self.visit[members]), day), self.placed.geometry.iloc[int(best)],
                run=self.run[best] or None,
                position_rms_m=_rms(self.cov[best]),
                observations=len(members), message=message,
            )
        )  # fmt: skip
        contradicts = reason == HistoryReason.CONTRADICTED
        self.say("visit-contradicts" if contradicts else "superseded", int(best), message)

    def say(self, code: str, row: int, message: str) -> None:
        """Report a decision at a row's place."""
        x_m, y_m = self.xy[row].tolist()
        source = source_of(self.placed.iloc[row])
        finding = Finding(code, str(self.name[row]), message, **source, x_m=x_m, y_m=y_m)
        self.findings.append(finding)


def settle_places(placed: gpd.GeoDataFrame, *, settings: Settings) -> SettledPlaces:
    """Return the located rows that hold after all visits, and what became of the others.

    1. Devices of one kind and name on several visits are one device, seen again. Places within
       their combined uncertainty (chi-square 0.9999) all hold.
    2. A place beyond it replaces the older one where its RMS is at most twice the older one's, or
       where its status says moved; else the older place holds. Either way both are kept.
    3. A device whose status says removed is closed.
    4. An end where the tone was lost is closed by a later visit that traced past it.
    5. Where a later visit leaves the line of an older one and meets it again, the older stretch
       between is closed, and the newer points take its place in the walk; the other way round
       where the later visit is more than twice as coarse.

    Parameters
    ----------
    placed : GeoDataFrame
        Placed locates: point, feature, run, zone, status, visit, position covariance; label,
        valve and controller where the files name devices. Without a column ``visit`` all holds.
    settings : Settings
        ``thresholds.join_m``.

    Returns
    -------
    SettledPlaces
    """
    crs = placed.crs
    if "visit" not in placed:
        nothing = pd.Series(pd.array([None] * len(placed), dtype="str"))
        return SettledPlaces(placed, nothing, tabulate_history([], crs=crs), [])
    ledger = _Ledger(placed)
    for members in _seen_again(ledger):
        _settle_device(ledger, members, settings)
    _report_other_kinds(ledger)
    _close_lost_ends(ledger, settings)
    _lay_routes(ledger)
    holds = ledger.closed_on == ""
    current = placed if holds.all() else _put_in_order(placed, ledger, holds)
    closed = pd.Series(ledger.closed_on, dtype="str").mask(holds)
    return SettledPlaces(current, closed, tabulate_history(ledger.rows, crs=crs), ledger.findings)


def _names(placed: gpd.GeoDataFrame) -> Texts:
    """Return the name of each row's feature, as devices are named."""
    name = texts(placed, "point")
    for column in ("label", "valve"):
        own = texts(placed, column)
        name = np.where(own != "", own, name)
    controller = texts(placed, "controller")
    is_controller = texts(placed, "feature") == str(Feature.CONTROLLER)
    return np.where(is_controller & (controller != ""), controller, name)


def _seen_again(ledger: _Ledger) -> list[Ints]:
    """Return the rows of each device that several visits name, or one says to be gone."""
    rows = np.flatnonzero(np.isin(ledger.feature, list(LAYER_OF)))
    keys = ledger.feature[rows] + "\0" + ledger.name[rows]
    code, _ = pd.factorize(keys)
    order = np.lexsort((rows, ledger.visit[rows].astype(str), code))
    groups = np.split(rows[order], np.flatnonzero(np.diff(code[order])) + 1)
    closing = np.isin(ledger.status, _REMOVED)
    return [g for g in groups if len(set(ledger.visit[g])) > 1 or closing[g].any()]


def _settle_device(ledger: _Ledger, members: Ints, settings: Settings) -> None:
    """Follow one device from visit to visit."""
    current = members[:0]
    size_m = settings.thresholds.join_m / 3
    size_m = size_m if ledger.feature[members[0]] == Feature.CONTROLLER else _SIZE_M
    what = f"{str(ledger.feature[members[0]]).replace('_', ' ')} {ledger.name[members[0]]}"
    for day in dict.fromkeys(ledger.visit[members]):
        seen = members[ledger.visit[members] == day]
        words = set(ledger.status[seen])
        if words & set(_REMOVED):
            gone = np.concatenate([current, seen])
            text = f"The {what} was reported {'/'.join(sorted(words & set(_REMOVED)))} {said(day)}."
            ledger.close(gone, day, HistoryReason.REMOVED, text)
            current = members[:0]
        elif not len(current):
            current = seen
        else:
            current = _meet(ledger, current, seen, day, what, size_m, bool(words & set(_MOVED)))
    _follow_zone(ledger, members, what)


def _meet(
    ledger: _Ledger, current: Ints, seen: Ints, day: str, what: str, size_m: float,
    is_said: bool,  # noqa: FBT001
) -> Ints:  # fmt: skip
    """Return the rows that hold after a device was seen again."""
    old, new = _best(ledger, current), _best(ledger, seen)
    gap = new[0] - old[0]
    spread = old[1] + new[1] + 2 * size_m**2 * np.eye(2)
    apart_m = float(np.hypot(*gap))
    if not is_said and float(gap @ np.linalg.solve(spread, gap)) <= _LIMIT:
        return np.concatenate([current, seen])
    old_rms, new_rms = _rms(old[1]), _rms(new[1])
    start = f"The {what} stood {apart_m:.2f} m from its older place when it was seen {said(day)}"
    if is_said or new_rms <= BETTER * old_rms:
        text = f"{start}; the newer place holds (RMS {new_rms:.2f} m, before {old_rms:.2f} m)."
        ledger.close(current, day, HistoryReason.MOVED, text)
        return seen
    text = (
        f"{start}, but that place is the coarser one (RMS {new_rms:.2f} m against"
        f" {old_rms:.2f} m); the older place holds."
    )
    ledger.close(seen, day, HistoryReason.CONTRADICTED, text)
    return current


def _best(ledger: _Ledger, members: Ints) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return position and covariance of rows: each visit's best row, combined."""
    rms = radial_rms(ledger.cov[members])
    chosen = {}
    for row in members[np.argsort(-rms, kind="stable")]:
        chosen[ledger.visit[row]] = row
    rows = sorted(chosen.values())
    met = combine(ledger.xy[rows], ledger.cov[rows])
    return met.xy[0], met.cov[0]


def _rms(cov: NDArray[np.float64]) -> float:
    return float(np.sqrt(np.trace(cov)))


def _follow_zone(ledger: _Ledger, members: Ints, what: str) -> None:
    """Keep the zones that a device was labelled with before its last label."""
    zone = ledger.zone
    labelled = [row for row in members if zone[row]]
    for before, after in pairwise(labelled):
        day = str(ledger.visit[after])
        if zone[before] == zone[after] or ledger.visit[before] == ledger.visit[after]:
            continue
        text = f"The {what} was labelled zone {zone[before]}, and zone {zone[after]} {said(day)}."
        since = min(ledger.visit[r] for r in labelled if zone[r] == zone[before])
        layer = LAYER_OF[str(ledger.feature[before])]
        ledger.rows.append(
            state(
                layer, str(ledger.name[before]), HistoryReason.REZONED, (since, day),
                ledger.placed.geometry.iloc[int(before)],
                run=ledger.run[before] or None,
                value=f"zone {zone[before]}", message=text,
            )
        )  # fmt: skip
        ledger.say("superseded", int(after), text)


def _report_other_kinds(ledger: _Ledger) -> None:
    """Report names that stand for one kind of device on one visit, for another on the next."""
    rows = np.flatnonzero(np.isin(ledger.feature, list(LAYER_OF)))
    first: dict[str, int] = {}
    told: set[str] = set()
    for row in rows:
        name = str(ledger.name[row])
        other = first.setdefault(name, int(row))
        if ledger.feature[row] == ledger.feature[other] or name in told:
            continue
        if ledger.visit[row] != ledger.visit[other]:
            told.add(name)
            was, now = (str(ledger.feature[k]).replace("_", " ") for k in (other, row))
            text = (
                f"{name} was located as a {was} {said(str(ledger.visit[other]))} and as a {now}"
                f" {said(str(ledger.visit[row]))}; both are kept."
            )
            ledger.say("visit-contradicts", int(row), text)


def _close_lost_ends(ledger: _Ledger, settings: Settings) -> None:
    """Close ends where the tone was lost that a later visit traced past."""
    run = ledger.run
    lost = np.flatnonzero((ledger.feature == str(Feature.LOST)) & (run != ""))
    walked = np.isin(ledger.feature, [str(f) for f in _WALKED]) & (ledger.closed_on == "")
    for row in lost:
        later = walked & (run == run[row]) & (ledger.visit > ledger.visit[row])
        for day in np.unique(ledger.visit[later].astype(str)):
            line = ledger.xy[later & (ledger.visit == day)]
            reach = settings.thresholds.join_m + 2 * _rms(ledger.cov[row])
            if _passes(line, ledger.xy[row], reach):
                text = (
                    f"The tone of run {run[row]} was lost at {ledger.name[row]}; it was traced"
                    f" past it {said(day)}."
                )
                rows = np.array([row])
                ledger.close(rows, day, HistoryReason.TRACED_ON, text)
                break


_WALKED = (Feature.PATH, Feature.EXPOSED, Feature.VALVE, Feature.SPLICE)


def _passes(line: NDArray[np.float64], point: NDArray[np.float64], reach_m: float) -> bool:
    """Whether a walked line goes past a point and on."""
    line = drop_repeats(line)
    if len(line) < 2:  # noqa: PLR2004 - a line
        return False
    chainage, offset = project_on_line(point[None, :], line)
    return bool(0 < chainage[0] < line_length(line) and abs(offset[0]) <= reach_m)


def _lay_routes(ledger: _Ledger) -> None:
    """Close the older or the newer one of two lines of a run that part and meet again."""
    walked = gather_walked(ledger.placed, holds=ledger.closed_on == "")
    for found in find_reroutes(walked):
        apart = f"up to {found.off_m:.1f} m from where it had been traced"
        if found.wins:
            text = (
                f"Run {found.run} was traced {apart} {said(found.day)}: {len(found.former)} older"
                f" points gave way to {len(found.later)} newer ones."
            )
            ledger.close(found.former, found.day, HistoryReason.REROUTED, text)
            step = 1.0 / (len(found.later) + 1)
            ledger.rank[found.later] = found.after + step * np.arange(1, len(found.later) + 1)
        else:
            text = (
                f"Run {found.run} was traced {apart} {said(found.day)}, but by the coarser"
                f" positions; the {len(found.later)} newer points were set aside."
            )
            ledger.close(found.later, found.day, HistoryReason.CONTRADICTED, text)


def _put_in_order(placed: gpd.GeoDataFrame, ledger: _Ledger, holds: Flags) -> gpd.GeoDataFrame:
    """Return the rows that hold, points of a new route in their place of the walk."""
    order = np.flatnonzero(holds)
    order = order[np.argsort(ledger.rank[order], kind="stable")]
    current = placed.take(order).reset_index(drop=True)
    moved = ledger.rank != np.arange(len(placed))
    if not moved.any() or "order" not in placed:
        return current
    run = texts(placed, "run")
    anew = np.isin(run, np.unique(run[moved].astype(str)))[order]
    given = numbers(current, "order")
    return current.assign(order=np.where(anew, np.arange(len(order), dtype=float), given))
