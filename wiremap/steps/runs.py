"""Runs: one row a traced wire, with what serves it, how deep it lies and what it ends at.

Reads lines, vertices, points, depth readings and curves, valves, connections and paths; returns
the layer ``wire_runs``.
"""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd

from wiremap.formulas.accuracy import RADIAL_95
from wiremap.model.findings import Finding
from wiremap.model.kinds import EndKind, Feature
from wiremap.model.tables import WIRE_RUNS

if TYPE_CHECKING:
    import geopandas as gpd
    from numpy.typing import NDArray

    from wiremap.formulas.terrain import Surface
    from wiremap.model.frame import Frame
    from wiremap.model.settings import Settings

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

_ENDS = {
    str(Feature.VALVE): EndKind.VALVE,
    str(Feature.SPLICE): EndKind.SPLICE,
    str(Feature.FAULT): EndKind.FAULT,
    str(Feature.LOST): EndKind.LOST,
}


class RunSummary(NamedTuple):
    """The layer of runs.

    Attributes
    ----------
    wire_runs : GeoDataFrame
        Layer ``wire_runs``.
    findings : list of Finding
    """

    wire_runs: gpd.GeoDataFrame
    findings: list[Finding]


def summarise_runs(  # noqa: PLR0913 - the tables that a run's row draws on
    lines: gpd.GeoDataFrame,
    vertices: pd.DataFrame,
    points: gpd.GeoDataFrame,
    readings: pd.DataFrame,
    curves: pd.DataFrame,
    connections: pd.DataFrame,
    valves: gpd.GeoDataFrame,
    *,
    frame: Frame,
    settings: Settings,
    surface: Surface | None = None,
) -> RunSummary:
    """Return one row a run: what it serves, how long and deep it is, and what it ends at.

    Parameters
    ----------
    lines : GeoDataFrame
        Lines, columns run, length_m.
    vertices : DataFrame
        Their vertices.
    points : GeoDataFrame
        Located points on runs, columns run, zone, controller, date, and for wire elevations
        elevation_m and wire_depth_m.
    readings : DataFrame
        Layer ``depth_readings``, columns run, depth_m, locate. A reading counts on every run that
        its point stands on.
    curves : DataFrame
        Depth along the runs, columns run, chainage_m, depth_m.
    connections : DataFrame
        Where runs join devices and each other.
    valves : GeoDataFrame
        Layer ``valves``, columns valve, zone, position_rms_m.
    frame : Frame
        The working frame.
    settings : Settings
        ``thresholds.join_m``.
    surface : callable, optional
        Takes plane x and y arrays and returns ground elevations in metres, NaN where unknown;
        used for wire elevations where no located point has an elevation of its own.

    Returns
    -------
    RunSummary
        The geometry carries wire elevations (ground less depth) only where every vertex of every
        run has both, for a layer is of one dimension. ``depth_mean_m`` is the mean of the curve
        along the run; NaN depths where none was read.
    """
    import geopandas as gpd

    if not len(lines):
        return RunSummary(WIRE_RUNS.empty(crs=frame.metric_crs), [])
    names = pd.Index(lines["run"].to_numpy(dtype=object))
    ends = _find_ends(vertices, connections, valves, settings.thresholds.join_m)
    columns: dict[str, object] = {
        "run": lines["run"].to_numpy(),
        "zones": _zones(points, valves, ends.valve, names),
        "controller": _controllers(points, connections, names),
        "start_point": vertices["point"].to_numpy()[ends.first],
        "end_point": vertices["point"].to_numpy()[ends.last],
        "end_kind": ends.kind,
        "length_m": lines["length_m"].to_numpy(),
        **_depths(_on_each_run(readings, points), curves, names),
        **_seen(vertices, points, names),
    }
    table = gpd.GeoDataFrame(
        columns, geometry=_raise_lines(lines, vertices, points, surface), crs=frame.metric_crs
    )
    findings = _without_valve(names, ends, connections, vertices)
    return RunSummary(WIRE_RUNS.conform(table), findings)


class _Ends(NamedTuple):
    """First and last vertex of each run, what stands at its far end, and the valve there."""

    first: Ints
    last: Ints
    far: Ints
    kind: list[str]
    valve: list[str]


def _find_ends(
    vertices: pd.DataFrame, connections: pd.DataFrame, valves: gpd.GeoDataFrame, join_m: float
) -> _Ends:
    """Return what stands at the far ends of runs.

    The far end is the last vertex, or the first one where the wire was walked toward the
    controller, or from a valve to where nothing stands. The end vertex's own feature counts
    first, then a device that joins near it.
    """
    first = np.flatnonzero(vertices["sequence"].to_numpy() == 0)
    last = np.append(first[1:], len(vertices)) - 1
    at_end = _near_ends(vertices, connections, valves, join_m, last)
    at_start = _near_ends(vertices, connections, valves, join_m, first)
    feature = vertices["feature"].to_numpy(dtype=object)
    far, kinds, names = last.copy(), [], []
    for number, name in enumerate(vertices["run"].to_numpy(dtype=object)[last]):
        devices = at_end.get(name, {})
        fed_here = feature[last[number]] == str(Feature.CONTROLLER) or "controller" in devices
        bare = str(feature[last[number]]) not in _ENDS and not devices
        if fed_here or (bare and feature[first[number]] == str(Feature.VALVE)):
            far[number], devices = first[number], at_start.get(name, {})
        kind = _ENDS.get(str(feature[far[number]]))
        if kind is None:
            found = (k for k in (EndKind.VALVE, EndKind.SPLICE) if str(k) in devices)
            kind = next(found, EndKind.OPEN)
        kinds.append(str(kind))
        names.append(devices.get("valve", (0.0, ""))[1] if kind is EndKind.VALVE else "")
    return _Ends(first, last, far, kinds, names)


def _near_ends(
    vertices: pd.DataFrame,
    connections: pd.DataFrame,
    valves: gpd.GeoDataFrame,
    join_m: float,
    ends: Ints,
) -> dict[str, dict[str, tuple[float, str]]]:
    """Return the nearest device of each kind that each run joins near a given end."""
    rms = vertices["position_rms_m"].to_numpy()[ends].tolist()
    chainage = vertices["chainage_m"].to_numpy()[ends].tolist()
    runs = vertices["run"].to_numpy(dtype=object)[ends].tolist()
    end = dict(zip(runs, zip(chainage, rms, strict=True), strict=True))
    valve_rms = dict(zip(valves["valve"], valves["position_rms_m"], strict=True))
    near: dict[str, dict[str, tuple[float, str]]] = {}
    columns = ("run", "chainage_m", "other_kind", "other", "gap_m")
    for run, mark, kind, other, gap in zip(*(connections[c] for c in columns), strict=True):
        away = abs(end[run][0] - mark) + gap
        spread = np.hypot(end[run][1], np.nan_to_num(valve_rms.get(other, 0.0)))
        if away <= join_m + RADIAL_95 * spread:
            best = near.setdefault(run, {}).get(kind, (np.inf, ""))
            near[run][kind] = min(best, (away, other))
    return near


def _zones(
    points: gpd.GeoDataFrame, valves: gpd.GeoDataFrame, end_valve: list[str], names: pd.Index
) -> list[str | None]:
    """Return the zones that a run's rows and its end valve name."""
    found: dict[str, dict[str, None]] = {str(name): {} for name in names}
    for run, zone in _pairs(points, "zone"):
        if run in found:
            found[run] |= dict.fromkeys(_parts(zone))
    of_valve = dict(zip(valves["valve"], valves["zone"], strict=True))
    for name, valve in zip(found, end_valve, strict=True):
        found[name] |= dict.fromkeys(_parts(of_valve.get(valve)))
    return [";".join(zones) or None for zones in found.values()]


def _pairs(points: gpd.GeoDataFrame, column: str) -> list[tuple[str, str]]:
    """Return each pair of run and text in a column once, in the order of the rows."""
    if column not in points:
        return []
    texts = points[column]
    known = (texts.notna() & (texts != "")).to_numpy()
    runs = points["run"].to_numpy(dtype=object)[known]
    return list(dict.fromkeys(zip(runs, texts.to_numpy(dtype=object)[known], strict=True)))


def _parts(text: object) -> list[str]:
    return [part.strip() for part in text.split(";")] if isinstance(text, str) else []


def _controllers(
    points: gpd.GeoDataFrame, connections: pd.DataFrame, names: pd.Index
) -> list[str | None]:
    """Return the controller of each run: from its rows, else over the wires that it joins."""
    found: dict[str, str] = {}
    for run, controller in _pairs(points, "controller"):
        found.setdefault(run, controller)
    met: dict[tuple[str, str], set[str]] = {}
    touched: dict[str, set[tuple[str, str]]] = {}
    columns = (connections[c] for c in ("run", "other_kind", "other"))
    for run, kind, other in zip(*columns, strict=True):
        if kind == "controller":
            found.setdefault(run, other)
            continue
        for one in (run, other) if kind == "run" else (run,):
            met.setdefault((kind, other), set()).add(one)
            touched.setdefault(one, set()).add((kind, other))
    reached = list(found)
    for run in reached:
        for place in sorted(touched.get(run, ())):
            for other in sorted(met[place] - found.keys()):
                found[other] = found[run]
                reached.append(other)
    return [found.get(str(name)) for name in names]


def _on_each_run(readings: pd.DataFrame, points: gpd.GeoDataFrame) -> pd.DataFrame:
    """Return run and depth of readings, one row for each run that a reading's point stands on."""
    stands = points[["locate", "run"]].drop_duplicates()
    return readings[["locate", "depth_m"]].merge(stands, on="locate")


def _depths(readings: pd.DataFrame, curves: pd.DataFrame, names: pd.Index) -> dict[str, Floats]:
    """Return least, mean and greatest depth, and the number of readings, of each run."""
    read, depth = _by_run(readings, "depth_m", names)
    drawn, curve = _by_run(curves, "depth_m", names)
    count = np.bincount(read, minlength=len(names))
    on_curve = np.bincount(drawn, minlength=len(names))
    least, greatest = np.full(len(names), np.inf), np.full(len(names), -np.inf)
    np.minimum.at(least, read, depth)
    np.maximum.at(greatest, read, depth)
    with np.errstate(invalid="ignore", divide="ignore"):
        of_readings = np.bincount(read, weights=depth, minlength=len(names)) / count
        of_curve = np.bincount(drawn, weights=curve, minlength=len(names)) / on_curve
    known = count > 0
    return {
        "depth_min_m": np.where(known, least, np.nan),
        "depth_mean_m": np.where(known & (on_curve > 0), of_curve, of_readings),
        "depth_max_m": np.where(known, greatest, np.nan),
        "depth_count": count.astype(np.float64),
    }


def _by_run(table: pd.DataFrame, column: str, names: pd.Index) -> tuple[Ints, Floats]:
    """Return the run number and value of each row that has both."""
    if not len(table):
        return np.empty(0, dtype=np.int64), np.empty(0)
    run = names.get_indexer(pd.Index(table["run"])).astype(np.int64)
    value = table[column].to_numpy(dtype=float)
    used = (run >= 0) & np.isfinite(value)
    return run[used], value[used]


def _seen(
    vertices: pd.DataFrame, points: gpd.GeoDataFrame, names: pd.Index
) -> dict[str, NDArray[np.object_] | Floats]:
    """Return typical position RMS, dates and number of locates of each run."""
    of_vertex, rms = _by_run(vertices, "position_rms_m", names)
    square = np.bincount(of_vertex, weights=rms**2, minlength=len(names))
    count = np.bincount(of_vertex, minlength=len(names))
    run = names.get_indexer(pd.Index(points["run"]))
    first: list[str | None] = [None] * len(names)
    last: list[str | None] = [None] * len(names)
    numbers = {name: number for number, name in enumerate(names)}
    for name, date in _pairs(points, "date"):
        number = numbers.get(name)
        if number is not None:
            first[number] = min(date, first[number] or date)
            last[number] = max(date, last[number] or date)
    return {
        "position_rms_m": np.sqrt(square / np.maximum(count, 1)),
        "first_date": np.array(first, dtype=object),
        "last_date": np.array(last, dtype=object),
        "observations": np.bincount(run[run >= 0], minlength=len(names)).astype(np.float64),
    }


def _raise_lines(
    lines: gpd.GeoDataFrame,
    vertices: pd.DataFrame,
    points: gpd.GeoDataFrame,
    surface: Surface | None,
) -> NDArray[np.object_]:
    """Return the lines, with wire elevations where all vertices of all runs have one."""
    import shapely

    shapes: NDArray[np.object_] = lines.geometry.to_numpy()
    if not {"elevation_m", "wire_depth_m"} <= set(points.columns):
        return shapes
    ground = points["elevation_m"].to_numpy(dtype=float)
    if surface is not None and np.isnan(ground).all():
        # heights of a receiver and of a base may count from different datums: never mixed
        ground = np.asarray(surface(*shapely.get_coordinates(points.geometry.to_numpy()).T))
    height = ground - points["wire_depth_m"].to_numpy(dtype=float)
    known = np.isfinite(height)
    if known.sum() < len(vertices):
        return shapes
    keys = zip(points["run"][known], points["point"][known], strict=True)
    level = dict(zip(keys, height[known].tolist(), strict=True))
    wanted = zip(vertices["run"], vertices["point"], strict=True)
    heights = np.array([level.get(key, np.nan) for key in wanted])
    if not np.isfinite(heights).all():
        return shapes
    xyz = np.column_stack([vertices["x_m"], vertices["y_m"], heights])
    number = np.cumsum(vertices["sequence"].to_numpy() == 0) - 1
    raised: NDArray[np.object_] = shapely.linestrings(xyz, indices=number)
    return raised


def _without_valve(
    names: pd.Index, ends: _Ends, connections: pd.DataFrame, vertices: pd.DataFrame
) -> list[Finding]:
    """Return a finding for each run that ends at no valve and feeds no other run."""
    columns = (connections[c] for c in ("run", "other_kind", "other"))
    joined = list(zip(*columns, strict=True))
    at_splice = Counter(other for _, kind, other in joined if kind == "splice")
    shared = {other for other, count in at_splice.items() if count > 1}
    served = {run for run, kind, other in joined if kind == "valve" or other in shared}
    served |= {other for _, kind, other in joined if kind == "run"}
    findings = []
    point = vertices["point"].to_numpy(dtype=object)[ends.far]
    place = vertices[["x_m", "y_m"]].to_numpy(dtype=float)[ends.far]
    for number, name in enumerate(names):
        kind = ends.kind[number]
        if kind == EndKind.VALVE or name in served:
            continue
        findings.append(
            Finding(
                "run-without-valve",
                str(name),
                f"Run {name} must end at a valve or feed another run; it ends at point"
                f" {point[number]} ({kind}).",
                x_m=float(place[number, 0]),
                y_m=float(place[number, 1]),
            )
        )
    return findings
