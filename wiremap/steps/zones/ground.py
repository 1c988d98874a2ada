"""Valves and runs on the ground, and the stations that they claim."""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import shapely

from wiremap.steps.zones.labels import controller_key, split_zones
from wiremap.steps.zones.stations import Book, Key, read_numbers, read_texts

if TYPE_CHECKING:
    import geopandas as gpd
    import pandas as pd
    from numpy.typing import NDArray


_RANGE = re.compile(r"(\d{1,3})\s*[-\u2013]\s*(\d{1,3})")
_LONGEST_RANGE = 100
CLEARLY_FARTHER = 2.0
"""How many times as far as the nearest controller any other stands where distance alone says which
one serves a valve (project choice: wires go round corners)."""
_VALVE_TEXTS = (
    "valve", "zone", "zone_from", "controller", "run", "run_zone", "awg", "wire_color",
    "source_file",
)  # fmt: skip


class Valve(NamedTuple):
    """One valve on the ground.

    Attributes
    ----------
    name, run, controller, awg, wire_color : str
        Empty where not known.
    labels : list of str
        Zones that it carries.
    label_from : str
        ``valve`` its own label, ``run`` the zone that its run was traced as, ``accepted`` the
        technician's decision; empty without a label.
    run_labels : list of str
        Zones that its run was traced as.
    path_m, path_sigma_m : float
        Wire path from the controller; NaN where not mapped.
    x_m, y_m : float
    source_file : str
    source_row : int or None
    """

    name: str
    run: str
    controller: str
    awg: str
    wire_color: str
    labels: list[str]
    label_from: str
    run_labels: list[str]
    path_m: float
    path_sigma_m: float
    x_m: float
    y_m: float
    source_file: str
    source_row: int | None


class Run(NamedTuple):
    """One traced run: its zones, and where and how it ends."""

    name: str
    labels: list[str]
    controller: str
    end_kind: str
    length_m: float
    x_m: float
    y_m: float


class Ground(NamedTuple):
    """What was found on the ground."""

    valves: list[Valve]
    runs: list[Run]

    @property
    def controllers(self) -> list[str]:
        """Controllers that valves and runs name, each once."""
        named = [v.controller for v in self.valves] + [r.controller for r in self.runs]
        return [name for name in dict.fromkeys(named) if name]


class Claims(NamedTuple):
    """Which valves and runs claim which station, by number in `Ground`."""

    by_valve: list[list[Key]]
    run_keys: list[list[Key]]
    valves: dict[Key, list[int]]
    runs: dict[Key, list[int]]
    spelling: dict[Key, tuple[str, str]]


class _Path(NamedTuple):
    """A valve's wire path back to its controller."""

    controller: str = ""
    runs: str = ""
    length_m: float = math.nan
    sigma_m: float = math.nan


def read_ground(
    valves: pd.DataFrame,
    runs: pd.DataFrame,
    paths: pd.DataFrame,
    controllers: gpd.GeoDataFrame | None = None,
) -> Ground:
    """Return valves and runs, each valve with its controller from the surest source.

    A valve's controller is what its row says, else its run's, else the one its wire path leads
    to, else the nearest located one, if any other stands at least twice as far.

    Parameters
    ----------
    valves : DataFrame
        Layer ``valves``, as `find_devices` gives it. Without the column run_zone, the run's
        zones are taken from `runs`.
    runs : DataFrame
        Columns run, zones, controller, end_kind, length_m; its lines say where each run ends.
    paths : DataFrame
        Columns valve, controller, runs, path_length_m, path_length_sigma_m.
    controllers : GeoDataFrame, optional
        Layer ``controllers``.

    Returns
    -------
    Ground
    """
    traced = _read_runs(runs)
    by_run = {run.name: run for run in traced}
    path_of = _read_paths(paths)
    texts = [read_texts(valves, name) for name in _VALVE_TEXTS]
    rows = read_numbers(valves, "source_row")
    xy = _positions(valves)
    nearest = _nearest_controllers(xy, controllers)
    found = []
    for i, cells in enumerate(zip(*texts, strict=True)):
        cell = dict(zip(_VALVE_TEXTS, cells, strict=True))
        path = path_of.get(cell["valve"], _Path())
        run = by_run.get(cell["run"] or path.runs.rpartition(";")[2])
        own_run = cell["run"] and "run_zone" in valves
        labels = split_zones(cell["zone"])
        row = rows[i]
        found.append(
            Valve(
                name=cell["valve"],
                run=cell["run"] or (run.name if run else ""),
                controller=cell["controller"]
                or (run.controller if run else "")
                or path.controller
                or nearest[i],
                awg=cell["awg"],
                wire_color=cell["wire_color"],
                labels=labels,
                label_from=(cell["zone_from"] or "valve") if labels else "",
                run_labels=split_zones(cell["run_zone"]) if own_run else run.labels if run else [],
                path_m=path.length_m,
                path_sigma_m=path.sigma_m,
                x_m=float(xy[i, 0]),
                y_m=float(xy[i, 1]),
                source_file=cell["source_file"],
                source_row=None if math.isnan(row) else int(row),
            )
        )
    return Ground(found, traced)


def claim_stations(ground: Ground, book: Book) -> Claims:
    """Return which valves and runs claim which station.

    Parameters
    ----------
    ground : Ground
    book : Book

    Returns
    -------
    Claims
        `spelling` holds zone and controller as to be shown: the list's own words where listed.
    """
    claims = Claims([], [], {}, {}, {k: (s.zone, s.controller) for k, s in book.stations.items()})

    def keys_of(labels: list[str], controller: str) -> list[Key]:
        found = [part for label in labels for part in _spread_range(label, controller, book)]
        keys = [book.find(label, controller) for label in found]
        for key, label in zip(keys, found, strict=True):
            shown = book.controllers.get(key[0], controller) if book.by_controller else controller
            claims.spelling.setdefault(key, (label, shown))
        return list(dict.fromkeys(keys))

    for i, valve in enumerate(ground.valves):
        keys = keys_of(valve.labels, valve.controller)
        claims.by_valve.append(keys)
        claims.run_keys.append(keys_of(valve.run_labels, valve.controller))
        for key in keys:
            claims.valves.setdefault(key, []).append(i)
    fed_by = {valve.run: valve.controller for valve in ground.valves}
    for i, run in enumerate(ground.runs):
        for key in keys_of(run.labels, run.controller or fed_by.get(run.name, "")):
            claims.runs.setdefault(key, []).append(i)
    return claims


def accept_decisions(ground: Ground, book: Book) -> Ground:
    """Return the ground with the zones that the technician decided in the list's column accepted.

    Parameters
    ----------
    ground : Ground
    book : Book

    Returns
    -------
    Ground
    """
    decided: dict[str, list[tuple[str, str]]] = {}
    for station in book.stations.values():
        for name in split_zones(station.accepted):
            decided.setdefault(name, []).append((station.zone, station.controller))
    if not decided:
        return ground
    valves = [
        v._replace(
            labels=[zone for zone, _ in decided[v.name]],
            controller=decided[v.name][0][1] or v.controller,
            label_from="accepted",
        )
        if v.name in decided
        else v
        for v in ground.valves
    ]
    return ground._replace(valves=valves)


def _spread_range(label: str, controller: str, book: Book) -> list[str]:
    """Return the zones of a range such as 1-6 where all of them are listed, else the label."""
    ends = _RANGE.fullmatch(label)
    if ends is None or book.find(label, controller) in book.stations:
        return [label]
    first, last = int(ends[1]), int(ends[2])
    zones = [str(zone) for zone in range(first, min(last, first + _LONGEST_RANGE) + 1)]
    listed = all(book.find(zone, controller) in book.stations for zone in zones)
    return zones if zones and listed else [label]


def _read_runs(runs: pd.DataFrame) -> list[Run]:
    texts = [read_texts(runs, name) for name in ("run", "zones", "controller", "end_kind")]
    length = read_numbers(runs, "length_m")
    ends = np.full((len(runs), 2), np.nan)
    if "geometry" in runs and len(runs):
        last = shapely.get_point(runs["geometry"].to_numpy(), -1)
        ends = np.column_stack([shapely.get_x(last), shapely.get_y(last)])
    return [
        Run(name, split_zones(zones), controller, end_kind, metres, x, y)
        for name, zones, controller, end_kind, metres, (x, y) in zip(
            *texts, length, ends.tolist(), strict=True
        )
    ]


def _read_paths(paths: pd.DataFrame) -> dict[str, _Path]:
    texts = [read_texts(paths, name) for name in ("valve", "controller", "runs")]
    numbers = [read_numbers(paths, name) for name in ("path_length_m", "path_length_sigma_m")]
    return {valve: _Path(*rest) for valve, *rest in zip(*texts, *numbers, strict=True)}


def name_path_runs(valves: pd.DataFrame, paths: pd.DataFrame) -> list[str | None]:
    """Return the runs on the way from the controller to each valve, parted by semicolons.

    Parameters
    ----------
    valves : DataFrame
        Column valve.
    paths : DataFrame
        Columns valve, runs.

    Returns
    -------
    list of str or None
        One a valve; None where no path is known.
    """
    way = dict(zip(read_texts(paths, "valve"), read_texts(paths, "runs"), strict=True))
    return [way.get(valve) or None for valve in read_texts(valves, "valve")]


def _positions(frame: pd.DataFrame) -> NDArray[np.float64]:
    if "geometry" not in frame or not len(frame):
        return np.full((len(frame), 2), np.nan)
    geometry = frame["geometry"].to_numpy()
    return np.column_stack([shapely.get_x(geometry), shapely.get_y(geometry)])


def _nearest_controllers(
    xy: NDArray[np.float64], controllers: gpd.GeoDataFrame | None
) -> list[str]:
    if controllers is None or not len(controllers) or not len(xy):
        return [""] * len(xy)
    names = read_texts(controllers, "controller")
    apart = np.hypot(*(xy[:, None, :] - _positions(controllers)[None, :, :]).transpose(2, 0, 1))
    apart = np.where(np.isnan(apart), np.inf, apart)
    nearest = np.argmin(apart, axis=1)
    least = apart.min(axis=1)
    several = len({controller_key(name) for name in names}) > 1
    rivals = (apart <= CLEARLY_FARTHER * least[:, None]).sum(axis=1) > 1
    return ["" if several and rival else names[k] for k, rival in zip(nearest, rivals, strict=True)]


def same_controller(a: str, b: str) -> bool:
    """Return whether two controller names may be one; an empty name may be any.

    Parameters
    ----------
    a, b : str

    Returns
    -------
    bool

    Examples
    --------
    >>> same_controller("Controller A", "a"), same_controller("", "B"), same_controller("A", "B")
    (True, True, False)
    """
    return not a or not b or controller_key(a) == controller_key(b)
