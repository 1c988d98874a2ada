"""Where runs meet devices and each other."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from wiremap.formulas.accuracy import RADIAL_95
from wiremap.model.kinds import Feature

if TYPE_CHECKING:
    import geopandas as gpd
    import pandas as pd
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Shapes = NDArray[np.object_]

TRENCH_SHARE = 0.5
"""Share of a run's vertices that must lie along another run to call them one trench (project
choice)."""
ENDS_HERE = "the run ends here"
"""Evidence of a joint at a run's end that positions alone tell."""
_ONE_A_END = ("valve", "controller")


class Connection(NamedTuple):
    """One place where a run meets a device or another run."""

    run: str
    chainage_m: float
    other_kind: str
    other: str
    other_chainage_m: float
    gap_m: float
    evidence: str


class Runs(NamedTuple):
    """The lines and how well they are known; ``scale`` is plane metres in a ground metre."""

    names: list[str]
    number: dict[str, int]
    shapes: Shapes
    length_m: list[float]
    rms_m: Floats
    scale: float


class Devices(NamedTuple):
    """Controllers, splices and valves."""

    kind: list[str]
    name: list[str]
    run: list[str]
    controller: list[str]
    rms_m: Floats
    shapes: Shapes


def gather_runs(lines: gpd.GeoDataFrame, vertices: pd.DataFrame, *, scale: float) -> Runs:
    """Return the lines, each with the median position RMS of its vertices."""
    names = [str(name) for name in lines["run"]]
    rms = vertices.groupby("run")["position_rms_m"].median().reindex(names)
    return Runs(
        names,
        {name: i for i, name in enumerate(names)},
        lines.geometry.to_numpy(),
        [float(length) for length in lines["length_m"]],
        np.nan_to_num(rms.to_numpy(dtype=float)),
        scale,
    )


def gather_devices(
    valves: gpd.GeoDataFrame, splices: gpd.GeoDataFrame, controllers: gpd.GeoDataFrame
) -> Devices:
    """Return all devices that have a position."""
    kind: list[str] = []
    texts: dict[str, list[str]] = {"name": [], "run": [], "controller": []}
    rms: list[float] = []
    shapes: list[object] = []
    for one, layer in (("controller", controllers), ("splice", splices), ("valve", valves)):
        if not len(layer):
            continue
        placed = ~layer.geometry.isna().to_numpy()
        for name, column in (("name", one), ("run", "run"), ("controller", "controller")):
            known = layer[column] if column in layer else [""] * len(layer)
            texts[name] += [
                value if isinstance(value, str) else ""
                for value, has in zip(known, placed, strict=True)
                if has
            ]
        kind += [one] * int(placed.sum())
        rms += layer["position_rms_m"].to_numpy(dtype=float)[placed].tolist()
        shapes += layer.geometry.to_numpy()[placed].tolist()
    places = np.empty(len(shapes), dtype=object)
    places[:] = shapes
    spread = np.nan_to_num(np.array(rms, dtype=float))
    return Devices(kind, texts["name"], texts["run"], texts["controller"], spread, places)


def tolerance_m(one_rms_m: Floats, other_rms_m: Floats, *, join_m: float) -> Floats:
    """Return over what distance two positions are taken to be one place."""
    reach: Floats = join_m + RADIAL_95 * np.hypot(one_rms_m, other_rms_m)
    return reach


def join_devices(runs: Runs, devices: Devices, *, join_m: float) -> list[Connection]:
    """Return the connections of devices: to runs that they name, that end there, or that pass."""
    pairs: dict[tuple[int, int], str] = {}
    for device, text in enumerate(devices.run):
        for name in text.split(";"):
            if name.strip() in runs.number:
                pairs[device, runs.number[name.strip()]] = "named on the device"
    near = _near(devices.shapes, devices.rms_m, runs, join_m)
    _add_ends(pairs, near, runs, devices, join_m)
    joined = {device for device, _ in pairs}
    for _, device, run in near:
        if device not in joined:
            pairs[device, run] = "nearest run"
            joined.add(device)
    return _measure(pairs, runs, devices)


def _near(shapes: Shapes, rms_m: Floats, runs: Runs, join_m: float) -> list[tuple[float, int, int]]:
    """Return (gap in plane metres, place, run) within the tolerance, nearest first."""
    import shapely

    if not len(shapes) or not runs.names:
        return []
    widest = tolerance_m(rms_m, np.full(len(rms_m), runs.rms_m.max()), join_m=join_m)
    index, run = shapely.STRtree(runs.shapes).query(shapes, "dwithin", distance=widest)
    gap = shapely.distance(shapes[index], runs.shapes[run])
    within = gap <= tolerance_m(rms_m[index], runs.rms_m[run], join_m=join_m)
    columns = (gap[within].tolist(), index[within].tolist(), run[within].tolist())
    return sorted(zip(*columns, strict=True))


def _add_ends(
    pairs: dict[tuple[int, int], str],
    near: list[tuple[float, int, int]],
    runs: Runs,
    devices: Devices,
    join_m: float,
) -> None:
    """Add the runs that end at a device; an end takes one valve and one controller only."""
    import shapely

    if not near:
        return
    device = np.array([pair[1] for pair in near])
    run = np.array([pair[2] for pair in near])
    ends = np.stack([shapely.get_point(runs.shapes, k) for k in (0, -1)])
    gaps = shapely.distance(ends[:, run], devices.shapes[device])
    end = gaps.argmin(axis=0)
    gap = gaps.min(axis=0)
    reached = gap <= tolerance_m(devices.rms_m[device], runs.rms_m[run], join_m=join_m)
    taken = {
        (r, int(e), devices.kind[d])
        for d, r, e, is_end in zip(
            device.tolist(), run.tolist(), end.tolist(), reached.tolist(), strict=True
        )
        if is_end and (d, r) in pairs
    }
    for k in np.flatnonzero(reached)[np.argsort(gap[reached], kind="stable")].tolist():
        place = int(run[k]), int(end[k]), devices.kind[device[k]]
        pair = int(device[k]), int(run[k])
        if pair in pairs or (place[2] in _ONE_A_END and place in taken):
            continue
        pairs[pair] = ENDS_HERE
        taken.add(place)


def _measure(pairs: dict[tuple[int, int], str], runs: Runs, devices: Devices) -> list[Connection]:
    """Return the connections of pairs of device and run."""
    import shapely

    if not pairs:
        return []
    device, run = np.array(list(pairs)).T
    shapes, places = runs.shapes[run], devices.shapes[device]
    chainage = (shapely.line_locate_point(shapes, places) / runs.scale).tolist()
    gap = (shapely.distance(shapes, places) / runs.scale).tolist()
    return [
        Connection(
            runs.names[r], chainage[k], devices.kind[d], devices.name[d], np.nan, gap[k], evidence
        )
        for k, ((d, r), evidence) in enumerate(pairs.items())
    ]


def join_ends(
    runs: Runs, joined: list[Connection], vertices: pd.DataFrame, *, join_m: float
) -> list[Connection]:
    """Return the connections of ends that meet no device: to the nearest other run."""
    import shapely

    free = _free_ends(runs, joined, vertices, join_m)
    if not len(free):
        return []
    ends = vertices.iloc[free]
    shapes = shapely.points(ends[["x_m", "y_m"]].to_numpy(dtype=float))
    own = [runs.number[str(name)] for name in ends["run"]]
    chainage = ends["chainage_m"].tolist()
    found: dict[int, tuple[float, int]] = {}
    for gap, end, run in _near(shapes, ends["position_rms_m"].to_numpy(dtype=float), runs, join_m):
        if run != own[end] and end not in found:
            found[end] = (gap / runs.scale, run)
    other = {
        end: float(shapely.line_locate_point(runs.shapes[run], shapes[end])) / runs.scale
        for end, (_, run) in found.items()
    }
    return [
        Connection(
            runs.names[own[end]], chainage[end], "run", runs.names[run], other[end], gap,
            _evidence(runs, own[end], run, join_m),
        )
        for end, (gap, run) in sorted(found.items())
    ]  # fmt: skip


def _free_ends(runs: Runs, joined: list[Connection], vertices: pd.DataFrame, join_m: float) -> Ints:
    """Return the end vertices that stand at no valve and meet no device."""
    name = vertices["run"].to_numpy(dtype=object)
    if not len(name):
        return np.empty(0, dtype=np.int64)
    change = name[1:] != name[:-1]
    is_end = np.append(True, change) | np.append(change, True)
    at_valve = vertices["feature"].to_numpy(dtype=object) == str(Feature.VALVE)
    reach = tolerance_m(runs.rms_m, runs.rms_m, join_m=join_m)
    met: dict[str, list[float]] = {}
    for c in joined:
        met.setdefault(c.run, []).append(c.chainage_m)
    chainage = vertices["chainage_m"].to_numpy(dtype=float)
    return np.array(
        [
            k
            for k in np.flatnonzero(is_end & ~at_valve).tolist()
            if all(abs(chainage[k] - m) > reach[runs.number[name[k]]] for m in met.get(name[k], ()))
        ],
        dtype=np.int64,
    )


def _evidence(runs: Runs, one: int, other: int, join_m: float) -> str:
    """Return whether a run lies along another for most of its length, or only ends at it."""
    import shapely

    reach = tolerance_m(runs.rms_m[[one]], runs.rms_m[[other]], join_m=join_m)[0]
    marks = shapely.points(shapely.get_coordinates(runs.shapes[one]))
    along = float((shapely.distance(marks, runs.shapes[other]) <= reach).mean())
    return "shared trench" if along >= TRENCH_SHARE else ENDS_HERE
