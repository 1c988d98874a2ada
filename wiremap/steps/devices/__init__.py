"""Devices: valves, splices, controllers and the rest of the system, each once.

Reads the placed locates, the points on runs and the depth readings; returns the layers
``valves``, ``splices``, ``controllers`` and ``equipment``.
"""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import pandas as pd
import shapely

from wiremap.formulas.repeats import chi_square_limit, combine, radial_rms
from wiremap.model.findings import Finding
from wiremap.model.kinds import EQUIPMENT as EQUIPMENT_KINDS
from wiremap.model.kinds import Feature
from wiremap.model.tables import CONTROLLERS, EQUIPMENT, SPLICES, VALVES
from wiremap.steps.devices import identity
from wiremap.steps.devices.identity import Rows

if TYPE_CHECKING:
    from collections.abc import Callable

    import geopandas as gpd
    from numpy.typing import NDArray

    from wiremap.model.columns import Table
    from wiremap.model.frame import Frame
    from wiremap.model.settings import Settings

_TOOLS = (Feature.STAKE,)  # stands on the ground only while locating
_AGREEMENT = 0.99  # that no sound repeat of the property is called a disagreement
_DEVICE_SIZE_M = 0.05  # where on a valve or splice the mark is set: project choice, half a body
_CABINET_M = 0.5  # where at a controller the mark is set, one standard deviation: project choice


class Devices(NamedTuple):
    """What `find_devices` returns.

    Attributes
    ----------
    valves, splices, controllers, equipment : GeoDataFrame
        Layers of those names, in the metric plane, with the further columns locate (index of
        the first row in the placed locates), source_file, source_row and, for devices on runs,
        chainage_m. Valves also carry zone_from (`valve`, `run` or empty: what the zone was
        read from), run_zone (zones written on the other points of the valve's run), awg and
        wire_color.
    findings : list of Finding
        `repeat-disagrees`, `not-surveyed`.
    """

    valves: gpd.GeoDataFrame
    splices: gpd.GeoDataFrame
    controllers: gpd.GeoDataFrame
    equipment: gpd.GeoDataFrame
    findings: list[Finding]


class _Groups(NamedTuple):
    """Rows gathered into devices: members by row number, position, agreement."""

    rows: Rows
    members: list[list[int]]
    xy: NDArray[np.float64]
    rms_m: NDArray[np.float64]
    findings: list[Finding]


def find_devices(
    placed: gpd.GeoDataFrame,
    points: pd.DataFrame,
    readings: pd.DataFrame,
    *,
    frame: Frame,
    settings: Settings,
) -> Devices:
    """Return every valve, splice, controller and other item once, with position and depth.

    Repeated locates of one device are combined by inverse covariance; rows of one visit share
    their errors and do not shrink the uncertainty. Two valves in one box stay two. Nothing is
    invented: a property whose controller was never located gets a finding.

    Parameters
    ----------
    placed : GeoDataFrame
        Placed locates: point, feature, run, zone, controller, box, date, cov_xx_m2, cov_xy_m2,
        cov_yy_m2, and, where the files had it, valve or label for a device's name.
    points : DataFrame
        Points on runs: locate, run, chainage_m, feature, zone, wire_depth_m, wire_depth_sigma_m.
    readings : DataFrame
        Layer ``depth_readings`` with the column locate.
    frame : Frame
    settings : Settings

    Returns
    -------
    Devices
        Empty layers where nothing was located.

    Examples
    --------
    >>> import geopandas as gpd
    >>> from pyproj import CRS
    >>> from wiremap.model.frame import Frame
    >>> from wiremap.model.settings import Settings
    >>> from wiremap.model.tables import DEPTH_READINGS, LOCATES_IN
    >>> rows = pd.DataFrame(
    ...     {"point": ["V1", "V1-2"], "feature": "valve", "zone": "3", "date": ["2025", "2026"]}
    ... )
    >>> accuracy = {"cov_xx_m2": 0.01, "cov_xy_m2": 0.0, "cov_yy_m2": 0.01}
    >>> plane = CRS.from_epsg(26914)
    >>> placed = gpd.GeoDataFrame(
    ...     LOCATES_IN.conform(rows).assign(**accuracy),
    ...     geometry=gpd.points_from_xy([0.0, 0.1], [0.0, 0.0]), crs=plane,
    ... )
    >>> no_points = placed.iloc[:0].assign(
    ...     locate=0, chainage_m=0.0, wire_depth_m=0.0, wire_depth_sigma_m=0.0
    ... )
    >>> found = find_devices(
    ...     placed, no_points, DEPTH_READINGS.empty().assign(locate=0),
    ...     frame=Frame(plane, plane), settings=Settings(),
    ... )
    >>> found.valves[["valve", "zone", "observations", "position_rms_m"]].to_numpy().tolist()
    [['V1', '3', 2, 0.1]]
    """
    on_run = _on_run(points, readings)
    number, kinds = pd.factorize(placed["feature"])

    def rows_of(*features: str) -> Rows:
        wanted = np.flatnonzero(np.isin(np.asarray(kinds, dtype=object), features))
        return _rows(placed, np.flatnonzero(np.isin(number, wanted)), on_run)

    valves = _group(rows_of(Feature.VALVE), identity.valve_rank, "valve")
    splices = _group(_by_run(rows_of(Feature.SPLICE)), identity.splice_rank, "splice")
    controllers = _group(
        _by_controller(rows_of(Feature.CONTROLLER)),
        identity.controller_rank,
        "controller",
        size_m=settings.thresholds.join_m / 3,
    )
    equipment = _group(_by_kind(rows_of(*EQUIPMENT_KINDS), placed), identity.equipment_rank, "item")
    findings = [f for g in (valves, splices, controllers, equipment) for f in g.findings]
    findings += _perhaps_two(controllers)
    findings += _not_surveyed({*kinds, *settings.property.none_here})
    return Devices(
        _layer(VALVES, valves, placed, frame, _valve_columns(valves, placed, on_run)),
        _layer(SPLICES, splices, placed, frame, _splice_columns(splices, on_run)),
        _layer(CONTROLLERS, controllers, placed, frame, {"controller": _controllers(controllers)}),
        _layer(EQUIPMENT, equipment, placed, frame, _equipment_columns(equipment)),
        findings,
    )


class _OnRun(NamedTuple):
    """What the runs know, by locate: place on the run, depth; and the zones written on a run."""

    place: dict[int, tuple[str, float]]
    depth: dict[int, tuple[float, float]]
    zones: dict[str, list[str]]
    ends: set[int]


def _on_run(points: pd.DataFrame, readings: pd.DataFrame) -> _OnRun:
    locate, run = points["locate"].to_numpy(), points["run"].to_numpy(dtype=object)
    chainage = points["chainage_m"].to_numpy(dtype=float)
    device = points["feature"].isin([Feature.VALVE, Feature.SPLICE]).to_numpy()
    depth, sigma = (points[c].to_numpy(dtype=float) for c in ("wire_depth_m", "wire_depth_sigma_m"))
    place: dict[int, tuple[str, float]] = {}
    depths: dict[int, tuple[float, float]] = {}
    for i in np.flatnonzero(device)[::-1]:
        place[int(locate[i])] = str(run[i]), float(chainage[i])
        depths[int(locate[i])] = float(depth[i]), float(sigma[i])
    depths |= _own_depths(readings)
    starts = np.flatnonzero(run[1:] != run[:-1]) + 1 if len(run) else np.empty(0, int)
    at_ends = np.concatenate([starts, starts - 1, [0, len(run) - 1]]) if len(run) else starts
    zones: dict[str, list[str]] = {}
    labelled = np.flatnonzero(points["zone"].notna().to_numpy() & ~device)
    zone = points["zone"].to_numpy(dtype=object)
    for name, text in dict.fromkeys(zip(run[labelled], zone[labelled], strict=True)):
        if str(text).strip():
            zones.setdefault(str(name), []).append(str(text).strip())
    return _OnRun(place, depths, zones, {int(k) for k in locate[at_ends]})


def _own_depths(readings: pd.DataFrame) -> dict[int, tuple[float, float]]:
    """Return the depth read at a locate itself: readings weighed by their variance."""
    depth, sigma = (readings[c].to_numpy(dtype=float) for c in ("depth_m", "depth_sigma_m"))
    usable = np.isfinite(depth) & np.isfinite(sigma) & (sigma > 0)
    locates, place = np.unique(readings["locate"].to_numpy()[usable], return_inverse=True)
    weight = 1 / sigma[usable] ** 2
    total = np.bincount(place, weights=weight)
    mean = np.bincount(place, weights=weight * depth[usable]) / total
    pairs = zip(mean.tolist(), (total**-0.5).tolist(), strict=True)
    return dict(zip(locates.astype(int).tolist(), pairs, strict=True))


def _texts(frame: pd.DataFrame, name: str, rows: NDArray[np.int64]) -> list[str]:
    """Return a text column of some rows, empty text where missing."""
    if name not in frame:
        return [""] * len(rows)
    values = np.asarray(frame[name].array.take(rows), dtype=object)
    return [
        "" if missing else str(v).strip()
        for v, missing in zip(values, pd.isna(values), strict=True)
    ]


def _rows(placed: gpd.GeoDataFrame, rows: NDArray[np.int64], on_run: _OnRun) -> Rows:
    names = _texts(placed, "point", rows)
    for column in ("label", "valve"):
        names = [
            label or name for label, name in zip(_texts(placed, column, rows), names, strict=True)
        ]
    dates = _texts(placed, "date", rows)
    files = _texts(placed, "source_file", rows)
    runs = _texts(placed, "run", rows)
    visits = [date[:10] or file for date, file in zip(dates, files, strict=True)]
    cov = np.empty((len(rows), 2, 2))
    for (i, j), column in zip(((0, 0), (0, 1), (1, 1)), ("xx", "xy", "yy"), strict=True):
        cov[:, i, j] = cov[:, j, i] = placed[f"cov_{column}_m2"].to_numpy(dtype=float)[rows]
    return Rows(
        name=names,
        zone=_texts(placed, "zone", rows),
        box=_texts(placed, "box", rows),
        run=[on_run.place.get(int(k), (run, 0.0))[0] for k, run in zip(rows, runs, strict=True)],
        controller=_texts(placed, "controller", rows),
        visit=visits,
        date=dates,
        turn=visits,
        xy=shapely.get_coordinates(placed.geometry.to_numpy()[rows]),
        cov=cov,
        locate=rows,
    )


def _by_controller(rows: Rows) -> Rows:
    """Return the rows named by the controller column where it is filled."""
    pairs = zip(rows.controller, rows.name, strict=True)
    return rows._replace(zone=rows.controller, name=[name or point for name, point in pairs])


def _by_run(rows: Rows) -> Rows:
    """Return the rows with a turn for each run of a visit."""
    turns = zip(rows.visit, rows.run, strict=True)
    return rows._replace(turn=[f"{visit} {run}" for visit, run in turns])


def _by_kind(rows: Rows, placed: gpd.GeoDataFrame) -> Rows:
    """Return the rows with their kind in the place of the zone."""
    return rows._replace(zone=_texts(placed, "feature", rows.locate))


def _group(
    rows: Rows,
    rank: Callable[[Rows, int, int, bool], int | None],
    kind: str,
    *,
    size_m: float = _DEVICE_SIZE_M,
) -> _Groups:
    """Gather rows into devices, combine their positions, and report those that disagree."""
    group = np.array(identity.match_rows(rows, rank=rank, size_m=size_m), dtype=int)
    members: list[list[int]] = [[] for _ in range(int(group.max()) + 1 if len(group) else 0)]
    for row, number in enumerate(group.tolist()):
        members[number].append(row)
    if len(members) == len(group):
        return _Groups(rows, members, rows.xy, radial_rms(rows.cov), [])
    visits = list(zip(group.tolist(), rows.visit, strict=True))
    count = Counter(visits)
    together = np.array([count[visit] for visit in visits], dtype=float)[:, None, None]
    met = combine(rows.xy, rows.cov * together, groups=group)
    marks = combine(rows.xy, (rows.cov + size_m**2 * np.eye(2)) * together, groups=group)
    tests = int((met.dof > 0).sum())
    limit = chi_square_limit(met.dof, confidence=_AGREEMENT ** (1 / tests))
    bad, is_spread = marks.chi2 > limit, met.chi2 > limit
    widened = met.cov * np.where(is_spread, met.chi2 / np.maximum(met.dof, 1), 1.0)[:, None, None]
    findings = [_disagreement(rows, members[g], met.xy[g], kind) for g in np.flatnonzero(bad)]
    return _Groups(rows, members, met.xy, radial_rms(widened), findings)


def _disagreement(rows: Rows, members: list[int], xy: NDArray[np.float64], kind: str) -> Finding:
    apart = max(float(np.hypot(*(rows.xy[i] - rows.xy[members[0]]))) for i in members)
    name = rows.name[members[0]]
    return Finding(
        "repeat-disagrees",
        name,
        f"{len(members)} locates of {kind} {name} ({', '.join(rows.name[i] for i in members)})"
        f" stand up to {apart:.2f} m apart, beyond what their accuracy allows; the combined"
        " position's uncertainty was widened to cover them.",
        x_m=float(xy[0]),
        y_m=float(xy[1]),
    )


def _perhaps_two(controllers: _Groups) -> list[Finding]:
    """Return a finding for each controller whose rows have several names and stand well apart."""
    rows, findings = controllers.rows, []
    for members in controllers.members:
        names = sorted({rows.name[i] for i in members})
        if len(names) == 1 or any(rows.zone[i] for i in members):
            continue
        xy, cabinet = rows.xy[members], _CABINET_M**2 * np.eye(2)
        met = combine(xy, rows.cov[members] + cabinet)
        if met.chi2[0] <= chi_square_limit(met.dof, confidence=_AGREEMENT)[0]:
            continue
        apart_m = float(np.hypot(*np.ptp(xy, axis=0)))
        findings.append(
            Finding(
                "controller-uncertain",
                names[0],
                f"Controller rows {', '.join(names)} stand up to {apart_m:.1f} m apart and name no"
                " controller; they were taken for one.",
                "Where they are several, write each one's name into the column controller.",
                x_m=float(met.xy[0, 0]),
                y_m=float(met.xy[0, 1]),
            )
        )
    return findings


def _not_surveyed(found: set[object]) -> list[Finding]:
    wanted = [Feature.CONTROLLER, *(k for k in EQUIPMENT_KINDS if k not in _TOOLS)]
    return [
        Finding(
            "not-surveyed",
            str(kind),
            f"No {str(kind).replace('_', ' ')} was located on this property.",
        )
        for kind in wanted
        if str(kind) not in found
    ]


def _layer(
    table: Table,
    groups: _Groups,
    placed: gpd.GeoDataFrame,
    frame: Frame,
    columns: dict[str, list[Any]],
) -> gpd.GeoDataFrame:
    """Return the layer with the columns that all devices share."""
    rows, members = groups.rows, groups.members
    dates = [sorted(rows.date[i] for i in m if rows.date[i]) or [""] for m in members]
    first = np.array([m[0] for m in members], dtype=int)
    locate = rows.locate[first]
    shared: dict[str, Any] = {
        "position_rms_m": groups.rms_m,
        "observations": [len(m) for m in members],
        "first_date": [d[0] or None for d in dates],
        "last_date": [d[-1] or None for d in dates],
        "locate": locate,
        "source_file": [text or None for text in _texts(placed, "source_file", locate)],
        "source_row": placed["source_row"].to_numpy(dtype=float, na_value=np.nan)[locate],
    }
    shared["geometry"] = list(shapely.points(groups.xy))
    return table.conform(pd.DataFrame(columns | shared), crs=frame.metric_crs)


def _first(values: list[str], members: list[int]) -> str | None:
    return next((values[i] for i in members if values[i]), None)


def _place(groups: _Groups, on_run: _OnRun) -> dict[str, list[Any]]:
    """Return run, chainage and depth of each device: of its first row that has them."""
    columns: dict[str, list[Any]] = {
        "run": [],
        "chainage_m": [],
        "depth_m": [],
        "depth_sigma_m": [],
    }
    for members in groups.members:
        locates = [int(groups.rows.locate[i]) for i in members]
        places = [on_run.place[k] for k in locates if k in on_run.place]
        known = (on_run.depth[k] for k in locates if k in on_run.depth)
        depth, sigma = min(
            (d for d in known if np.isfinite(d).all()), key=lambda d: d[1], default=(np.nan, np.nan)
        )
        columns["run"].append(places[0][0] if places else _first(groups.rows.run, members))
        columns["chainage_m"].append(places[0][1] if places else np.nan)
        columns["depth_m"].append(depth)
        columns["depth_sigma_m"].append(sigma)
    return columns


def _valve_columns(
    groups: _Groups, placed: gpd.GeoDataFrame, on_run: _OnRun
) -> dict[str, list[Any]]:
    rows, members = groups.rows, groups.members
    columns = _place(groups, on_run)
    columns["valve"] = [rows.name[m[0]] for m in members]
    columns["controller"] = [_first(rows.controller, m) for m in members]
    columns["box"] = [_first(rows.box, m) for m in members]
    columns["run_zone"] = [
        ";".join(on_run.zones.get(str(run), [])) or None for run in columns["run"]
    ]
    served = {(r, rows.zone[i]) for r, m in zip(columns["run"], members, strict=True) for i in m}
    zones = [
        _zone(rows, m, on_run, None if (run, run_zone) in served else run_zone)
        for m, run, run_zone in zip(members, columns["run"], columns["run_zone"], strict=True)
    ]
    columns["zone"] = [zone for zone, _ in zones]
    columns["zone_from"] = [source for _, source in zones]
    for name in ("awg", "wire_color"):
        texts = _texts(placed, name, rows.locate)
        columns[name] = [_first(texts, m) for m in members]
    return columns


def _zone(
    rows: Rows, members: list[int], on_run: _OnRun, run_zone: object
) -> tuple[str | None, str | None]:
    """Return a valve's zone text and what it was read from: its own label, else its run's zone.

    The latest visit that wrote a label holds; labels of one visit are joined. A run's zone
    counts where the run serves one zone, the valve stands at its end, and no other valve on the
    run carries that zone.
    """
    labelled = [i for i in members if rows.zone[i]]
    if labelled:
        latest = max(rows.visit[i] for i in labelled)
        texts = dict.fromkeys(rows.zone[i] for i in labelled if rows.visit[i] == latest)
        return ";".join(texts), "valve"
    at_end = any(int(rows.locate[i]) in on_run.ends for i in members)
    if at_end and isinstance(run_zone, str) and ";" not in run_zone:
        return run_zone, "run"
    return None, None


def _splice_columns(groups: _Groups, on_run: _OnRun) -> dict[str, list[Any]]:
    columns = _place(groups, on_run)
    columns["splice"] = [groups.rows.name[m[0]] for m in groups.members]
    columns["box"] = [_first(groups.rows.box, m) for m in groups.members]
    return columns


def _controllers(groups: _Groups) -> list[Any]:
    rows = groups.rows
    return [_first(rows.zone, m) or rows.name[m[0]] for m in groups.members]


def _equipment_columns(groups: _Groups) -> dict[str, list[Any]]:
    rows, members = groups.rows, groups.members
    return {
        "kind": [rows.zone[m[0]] for m in members],
        "label": [rows.name[m[0]] for m in members],
    }
