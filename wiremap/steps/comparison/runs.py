"""Runs of two records: added, gone, renamed, laid elsewhere, longer, deeper, of other zones."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import shapely

from wiremap.formulas.stationing import locate_on_line, points_at
from wiremap.model.cells import numbers, texts
from wiremap.model.kinds import Change
from wiremap.steps.comparison.rows import change, rms_of

if TYPE_CHECKING:
    import geopandas as gpd
    from numpy.typing import NDArray

    from wiremap.steps.comparison.rows import Pair

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]

_STRAY_M = 0.1  # project choice: how far a wire lies off the chord between two marks
_LENGTH_SHARE = 0.005  # project choice: chords of other marks add up to other lengths
_SAME_SHARE = 0.9  # of a run's vertices beside a run of another name, to be the same wire


class _Run(NamedTuple):
    """One run of a record."""

    name: str
    line: Any
    rms_m: float
    length_m: float
    zones: str

    @property
    def xy(self) -> Floats:
        """Vertices of the line."""
        return np.asarray(shapely.get_coordinates(self.line))


class _Profile(NamedTuple):
    """Depth along one run."""

    chainage_m: Floats
    depth_m: Floats
    sigma_m: Floats

    def at(self, chainage_m: Floats) -> tuple[Floats, Floats]:
        """Return depth and its sigma at chainages; NaN beyond the ends."""
        known = np.isfinite(self.depth_m)
        x = self.chainage_m[known]
        if not len(x):
            return np.full(len(chainage_m), np.nan), np.full(len(chainage_m), np.nan)
        depth, sigma = (
            np.interp(chainage_m, x, values[known], left=np.nan, right=np.nan)
            for values in (self.depth_m, self.sigma_m)
        )
        return np.asarray(depth), np.asarray(sigma)


def compare_runs(pair: Pair) -> list[dict[str, Any]]:
    """Return the differences of all runs.

    Parameters
    ----------
    pair : Pair

    Returns
    -------
    list of dict
        Rows of table ``changes``; a stretch is a row of its own, at its middle.
    """
    old, new = ({r.name: r for r in _runs(side["wire_runs"])} for side in (pair.old, pair.new))
    former = {name: name for name in new if name in old}
    former |= _renamed(pair, old, new)
    profiles = [_profiles(side["wire_segments"]) for side in (pair.old, pair.new)]
    rows = []
    for name, run in new.items():
        if name not in former:
            rows.append(_alone(Change.ADDED, run))
            continue
        before = old[former[name]]
        if before.name != name:
            text = f"Run {name} was called {before.name}."
            rows.append(_at(Change.RENAMED, run, text, was=before.name, now=name))
        rows += _differences(pair, before, run)
        rows += _deeper(pair, before, run, profiles[0].get(before.name), profiles[1].get(name))
    gone = [run for name, run in old.items() if name not in former.values()]
    return rows + [_alone(Change.GONE, run) for run in gone]


def _runs(layer: gpd.GeoDataFrame) -> list[_Run]:
    columns = (
        texts(layer, "run"), shapely.force_2d(layer.geometry.to_numpy()), rms_of(layer),
        numbers(layer, "length_m"), texts(layer, "zones"),
    )  # fmt: skip
    return [
        _Run(str(n), g, float(r), float(m), str(z)) for n, g, r, m, z in zip(*columns, strict=True)
    ]


def _profiles(segments: gpd.GeoDataFrame) -> dict[str, _Profile]:
    """Return depth along each run, from both ends of each stretch."""
    run = texts(segments, "run")
    both = [
        np.column_stack([numbers(segments, f"{name}_from_m"), numbers(segments, f"{name}_to_m")])
        for name in ("chainage", "depth")
    ]
    sigma = np.column_stack([numbers(segments, "depth_sigma_m")] * 2)
    order = np.lexsort((both[0][:, 0], run.astype(str)))
    found = {}
    for rows in np.split(order, np.flatnonzero(run[order][1:] != run[order][:-1]) + 1):
        if len(rows):
            parts = (both[0][rows].ravel(), both[1][rows].ravel(), sigma[rows].ravel())
            found[str(run[rows[0]])] = _Profile(*parts)
    return found


def _renamed(pair: Pair, old: dict[str, _Run], new: dict[str, _Run]) -> dict[str, str]:
    """Return the former name of runs that lie where a run of another name lay."""
    left = [run for name, run in old.items() if name not in new]
    found: dict[str, str] = {}
    for run in (run for name, run in new.items() if name not in old):
        other = next((other for other in left if _is_beside(pair, other, run)), None)
        if other is not None:
            found[run.name] = other.name
            left.remove(other)
    return found


def _is_beside(pair: Pair, old: _Run, new: _Run) -> bool:
    """Whether nearly all vertices of two runs stand beside the other one."""
    limit = _limit(pair, old, new)
    apart = (locate_on_line(*pair)[1] for pair in ((new.xy, old.xy), (old.xy, new.xy)))
    return min(float((distance <= limit).mean()) for distance in apart) >= _SAME_SHARE


def _limit(pair: Pair, old: _Run, new: _Run) -> float:
    return float(pair.reach_m(np.array(old.rms_m), np.array(new.rms_m))) + _STRAY_M


def _alone(kind: Change, run: _Run) -> dict[str, Any]:
    ending = "is new" if kind is Change.ADDED else "is no longer in the record"
    return _at(kind, run, f"Run {run.name} of {run.length_m:.1f} m {ending}.")


def _at(kind: Change, run: _Run, message: str, **more: Any) -> dict[str, Any]:
    middle = run.line.interpolate(0.5, normalized=True)
    return change(kind, "wire_runs", run.name, message, middle, run=run.name, **more)


def _differences(pair: Pair, old: _Run, new: _Run) -> list[dict[str, Any]]:
    rows = []
    if old.zones != new.zones:
        text = (
            f"Run {new.name} serves zones {new.zones or 'none'}; it served {old.zones or 'none'}."
        )
        rows.append(
            _at(Change.ZONE_CHANGED, new, text, was=old.zones or None, now=new.zones or None)
        )
    limit = _limit(pair, old, new)
    elsewhere = _elsewhere(new, old, limit)
    rows += elsewhere or [
        row | {"chainage_from_m": np.nan, "chainage_to_m": np.nan, "feature_id": new.name,
               "run": new.name}
        for row in _elsewhere(old, new, limit)
    ]  # fmt: skip
    longer = new.length_m - old.length_m
    allowed = limit + _LENGTH_SHARE * max(old.length_m, new.length_m)
    if abs(longer) > allowed:
        text = f"Run {new.name} is {new.length_m:.1f} m long; it was {old.length_m:.1f} m."
        rows.append(_at(Change.LENGTH_CHANGED, new, text, difference_m=longer, limit_m=allowed,
                        was=f"{old.length_m:.2f}", now=f"{new.length_m:.2f}"))  # fmt: skip
    return rows


def _elsewhere(run: _Run, other: _Run, limit: float) -> list[dict[str, Any]]:
    """Return the stretches of a run that lie away from where it lay, between the other's ends."""
    along, apart = locate_on_line(run.xy, other.xy)
    inside = (along > 0) & (along < shapely.length(other.line))
    own, _ = locate_on_line(run.xy, run.xy)
    rows = []
    for first, last in _stretches(inside & (apart > limit)):
        worst = first + int(np.argmax(apart[first : last + 1]))
        text = (
            f"Run {run.name} lies up to {apart[worst]:.2f} m from where it lay, from"
            f" {own[first]:.1f} to {own[last]:.1f} m; {limit:.2f} m is uncertainty."
        )
        rows.append(
            change(
                Change.REROUTED, "wire_runs", run.name, text, shapely.Point(run.xy[worst]),
                run=run.name,
                difference_m=float(apart[worst]), limit_m=limit,
                chainage_from_m=float(own[first]), chainage_to_m=float(own[last]),
            )
        )  # fmt: skip
    return rows


def _stretches(flags: Flags) -> list[tuple[int, int]]:
    """Return first and last place of each row of set flags."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], flags, [False]]).astype(int)))
    return [(int(a), int(b) - 1) for a, b in edges.reshape(-1, 2)]


def _deeper(
    pair: Pair, old: _Run, new: _Run, before: _Profile | None, now: _Profile | None
) -> list[dict[str, Any]]:
    """Return the stretches of a run whose depth is another."""
    if before is None or now is None:
        return []
    order = np.argsort(now.chainage_m, kind="stable")
    chainage = now.chainage_m[order]
    length = shapely.length(new.line)
    scale = length / new.length_m if new.length_m > 0 else 1.0
    places = points_at(chainage * scale, new.xy)
    there, apart = locate_on_line(places, old.xy)
    near = apart <= _limit(pair, old, new)
    was, was_sigma = before.at(there / scale)
    difference = now.depth_m[order] - was
    limit = pair.deviation * np.hypot(now.sigma_m[order], was_sigma)
    rows = []
    for first, last in _stretches(near & (np.abs(difference) > limit)):
        worst = first + int(np.argmax(np.abs(difference[first : last + 1])))
        depth = now.depth_m[order][worst]
        text = (
            f"Run {new.name} is {depth:.2f} m deep at {chainage[worst]:.1f} m, where it was"
            f" {was[worst]:.2f} m; other depths from {chainage[first]:.1f} to"
            f" {chainage[last]:.1f} m."
        )
        rows.append(
            change(
                Change.DEPTH_CHANGED, "wire_segments", new.name, text, shapely.Point(places[worst]),
                run=new.name,
                difference_m=float(difference[worst]), limit_m=float(limit[worst]),
                was=f"{was[worst]:.3f}", now=f"{depth:.3f}",
                chainage_from_m=float(chainage[first]), chainage_to_m=float(chainage[last]),
            )
        )  # fmt: skip
    return rows
