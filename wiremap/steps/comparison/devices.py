"""Devices and references of two records: added, gone, renamed, moved, deeper, of another zone."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import shapely

from wiremap.model.kinds import Change
from wiremap.steps.comparison.rows import change, numbers, rms_of, texts

if TYPE_CHECKING:
    from collections.abc import Iterator

    import geopandas as gpd

    from wiremap.steps.comparison.rows import Pair


class _Layer(NamedTuple):
    """A layer of points: which columns name a row, which say its kind, and its RMS."""

    name: str
    key: str
    kind: str
    rms: str
    word: str


_LAYERS = (
    _Layer("controllers", "controller", "", "position_rms_m", "controller"),
    _Layer("valves", "valve", "", "position_rms_m", "valve"),
    _Layer("splices", "splice", "", "position_rms_m", "splice"),
    _Layer("equipment", "label", "kind", "position_rms_m", ""),
    _Layer("references", "reference", "", "rms", "reference"),
)


def compare_devices(pair: Pair) -> list[dict[str, Any]]:
    """Return the differences of all layers of devices.

    Parameters
    ----------
    pair : Pair

    Returns
    -------
    list of dict
        Rows of table ``changes``. A device under another name is the same one where it is of the
        same kind, on the same run, and within the combined uncertainty.
    """
    return [row for layer in _LAYERS for row in _compare_layer(pair, layer)]


def _compare_layer(pair: Pair, layer: _Layer) -> list[dict[str, Any]]:
    old, new = pair.old[layer.name], pair.new[layer.name]
    matches = _by_name(old, new, layer)
    matches |= _by_place(pair, old, new, layer, matches)
    rows = []
    for j in range(len(new)):
        i = matches.get(j)
        if i is None:
            rows.append(_alone(Change.ADDED, layer, new, j))
        else:
            rows += _differences(pair, layer, old, i, new, j)
    gone = sorted(set(range(len(old))) - set(matches.values()))
    return rows + [_alone(Change.GONE, layer, old, i) for i in gone]


def _by_name(old: gpd.GeoDataFrame, new: gpd.GeoDataFrame, layer: _Layer) -> dict[int, int]:
    """Return the row of the older record for each row of the newer one of the same name."""
    place = {key: i for i, key in _keys(old, layer)}
    return {j: place[key] for j, key in _keys(new, layer) if key in place}


def _keys(frame: gpd.GeoDataFrame, layer: _Layer) -> Iterator[tuple[int, tuple[str, str, int]]]:
    """Yield each named row with kind, name, and how many rows before it are called so."""
    seen: dict[tuple[str, str], int] = {}
    pairs = zip(texts(frame, layer.kind), texts(frame, layer.key), strict=True)
    for row, (kind, name) in enumerate(pairs):
        if name:
            count = seen[kind, name] = seen.get((kind, name), -1) + 1
            yield row, (str(kind), str(name), count)


def _by_place(
    pair: Pair, old: gpd.GeoDataFrame, new: gpd.GeoDataFrame, layer: _Layer,
    matches: dict[int, int],
) -> dict[int, int]:  # fmt: skip
    """Return further matches by place, the nearest first."""
    left = [i for i in range(len(old)) if i not in set(matches.values())]
    right = [j for j in range(len(new)) if j not in matches]
    if not left or not right:
        return {}
    there, here = old.geometry.to_numpy()[left], new.geometry.to_numpy()[right]
    apart = shapely.distance(here[:, None], there[None, :])
    allowed = pair.reach_m(rms_of(new, layer.rms)[right][:, None], rms_of(old, layer.rms)[left])
    for column in filter(None, (layer.kind, "run")):
        same = texts(new, column)[right][:, None] == texts(old, column)[left]
        apart = np.where(same, apart, np.inf)
    found: dict[int, int] = {}
    used: set[int] = set()
    close = np.argwhere(apart <= allowed)
    for a, b in close[np.argsort(apart[tuple(close.T)], kind="stable")]:
        if right[a] not in found and left[b] not in used:
            found[right[a]] = left[b]
            used.add(left[b])
    return found


def _title(layer: _Layer, frame: gpd.GeoDataFrame, row: int) -> str:
    word = layer.word or str(texts(frame, layer.kind)[row]).replace("_", " ")
    return f"{word.capitalize()} {texts(frame, layer.key)[row]}"


def _alone(kind: Change, layer: _Layer, frame: gpd.GeoDataFrame, row: int) -> dict[str, Any]:
    ending = "is new" if kind is Change.ADDED else "is no longer in the record"
    run = str(texts(frame, "run")[row])
    where = f" on run {run}" if run else ""
    return change(
        kind, layer.name, str(texts(frame, layer.key)[row]),
        f"{_title(layer, frame, row)}{where} {ending}.", frame.geometry.iloc[row], run=run or None,
    )  # fmt: skip


def _differences(
    pair: Pair, layer: _Layer, old: gpd.GeoDataFrame, i: int, new: gpd.GeoDataFrame, j: int
) -> list[dict[str, Any]]:
    """Return how one device differs in the two records."""
    title, place = _title(layer, new, j), new.geometry.iloc[j]
    name, run = str(texts(new, layer.key)[j]), str(texts(new, "run")[j]) or None
    rows = []
    was = str(texts(old, layer.key)[i])
    if was != name:
        text = f"{title} was called {was}."
        rows.append(
            change(Change.RENAMED, layer.name, name, text, place, run=run, was=was, now=name)
        )
    apart = float(shapely.distance(place, old.geometry.iloc[i]))
    limit = float(pair.reach_m(rms_of(new, layer.rms)[j], rms_of(old, layer.rms)[i]))
    if apart > limit:
        text = f"{title} stands {apart:.2f} m from its former place; {limit:.2f} m is uncertainty."
        rows.append(change(Change.MOVED, layer.name, name, text, place, run=run,
                           difference_m=apart, limit_m=limit))  # fmt: skip
    depth = [float(numbers(f, "depth_m")[k]) for f, k in ((old, i), (new, j))]
    sigma = np.hypot(numbers(old, "depth_sigma_m")[i], numbers(new, "depth_sigma_m")[j])
    if abs(depth[1] - depth[0]) > pair.deviation * sigma:
        text = f"{title} is {depth[1]:.2f} m deep; it was {depth[0]:.2f} m."
        rows.append(change(Change.DEPTH_CHANGED, layer.name, name, text, place, run=run,
                           difference_m=depth[1] - depth[0], limit_m=float(pair.deviation * sigma),
                           was=f"{depth[0]:.3f}", now=f"{depth[1]:.3f}"))  # fmt: skip
    zones = [str(texts(f, "zone")[k]) for f, k in ((old, i), (new, j))]
    if zones[0] != zones[1]:
        text = f"{title} is of zone {zones[1] or 'none'}; it was of zone {zones[0] or 'none'}."
        rows.append(change(Change.ZONE_CHANGED, layer.name, name, text, place, run=run,
                           was=zones[0] or None, now=zones[1] or None))  # fmt: skip
    return rows
