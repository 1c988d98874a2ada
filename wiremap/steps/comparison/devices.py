"""Devices and references of two records: added, gone, renamed, moved, deeper, of another zone."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import shapely

from wiremap.model.cells import numbers, texts
from wiremap.model.kinds import Change
from wiremap.steps.comparison.rows import change, rms_of

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


class _Device(NamedTuple):
    """One row of a layer of points; empty texts and NaN where the layer does not say."""

    kind: str
    name: str
    run: str
    zone: str
    place: Any
    rms_m: float
    depth_m: float
    depth_sigma_m: float


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


def _read(frame: gpd.GeoDataFrame, layer: _Layer) -> list[_Device]:
    words = (texts(frame, name).tolist() for name in (layer.kind, layer.key, "run", "zone"))
    sizes = (rms_of(frame, layer.rms), numbers(frame, "depth_m"), numbers(frame, "depth_sigma_m"))
    columns = (*words, frame.geometry.tolist(), *(size.tolist() for size in sizes))
    return [_Device(*row) for row in zip(*columns, strict=True)]


def _compare_layer(pair: Pair, layer: _Layer) -> list[dict[str, Any]]:
    old, new = (_read(side[layer.name], layer) for side in (pair.old, pair.new))
    former = _by_name(old, new)
    former |= _by_place(pair, old, new, former)
    rows = []
    for j, device in enumerate(new):
        if j in former:
            rows += _differences(pair, layer, old[former[j]], device)
        else:
            rows.append(_alone(Change.ADDED, layer, device))
    gone = sorted(set(range(len(old))) - set(former.values()))
    return rows + [_alone(Change.GONE, layer, old[i]) for i in gone]


def _by_name(old: list[_Device], new: list[_Device]) -> dict[int, int]:
    """Return the row of the older record for each row of the newer one of the same name."""
    place = {key: i for i, key in _keys(old)}
    return {j: place[key] for j, key in _keys(new) if key in place}


def _keys(devices: list[_Device]) -> Iterator[tuple[int, tuple[str, str, int]]]:
    """Yield each named row with kind, name, and how many rows before it are called so."""
    seen: Counter[tuple[str, str]] = Counter()
    for row, device in enumerate(devices):
        if device.name:
            key = device.kind, device.name
            yield row, (*key, seen[key])
            seen[key] += 1


def _by_place(
    pair: Pair, old: list[_Device], new: list[_Device], matches: dict[int, int]
) -> dict[int, int]:
    """Return further matches by place, the nearest first."""
    left = sorted(set(range(len(old))) - set(matches.values()))
    right = sorted(set(range(len(new))) - set(matches))
    if not left or not right:
        return {}
    there, here = [old[i] for i in left], [new[j] for j in right]
    apart = shapely.distance(np.array([d.place for d in here])[:, None], [d.place for d in there])
    rms_m = np.array([d.rms_m for d in there])
    allowed = pair.reach_m(np.array([d.rms_m for d in here])[:, None], rms_m)
    kin = np.array([f"{d.kind}\0{d.run}" for d in here])[:, None]
    same = kin == np.array([f"{d.kind}\0{d.run}" for d in there])
    found: dict[int, int] = {}
    used: set[int] = set()
    close = np.argwhere(same & (apart <= allowed))
    for a, b in close[np.argsort(apart[tuple(close.T)], kind="stable")]:
        if right[a] not in found and left[b] not in used:
            found[right[a]] = left[b]
            used.add(left[b])
    return found


def _title(layer: _Layer, device: _Device) -> str:
    word = layer.word or device.kind.replace("_", " ")
    return f"{word.capitalize()} {device.name}"


def _alone(kind: Change, layer: _Layer, device: _Device) -> dict[str, Any]:
    ending = "is new" if kind is Change.ADDED else "is no longer in the record"
    where = f" on run {device.run}" if device.run else ""
    text = f"{_title(layer, device)}{where} {ending}."
    return change(kind, layer.name, device.name, text, device.place, run=device.run or None)


def _differences(pair: Pair, layer: _Layer, old: _Device, new: _Device) -> list[dict[str, Any]]:
    """Return how one device differs in the two records."""
    title, rows = _title(layer, new), []

    def differs(kind: Change, text: str, **more: Any) -> None:
        run = new.run or None
        rows.append(change(kind, layer.name, new.name, text, new.place, run=run, **more))

    if old.name != new.name:
        text = f"{title} was called {old.name}."
        differs(Change.RENAMED, text, was=old.name, now=new.name)
    apart = float(shapely.distance(new.place, old.place))
    limit = float(pair.reach_m(np.array(new.rms_m), np.array(old.rms_m)))
    if apart > limit:
        text = f"{title} stands {apart:.2f} m from its former place; {limit:.2f} m is uncertainty."
        differs(Change.MOVED, text, difference_m=apart, limit_m=limit)
    deeper = new.depth_m - old.depth_m
    limit = pair.deviation * float(np.hypot(old.depth_sigma_m, new.depth_sigma_m))
    if abs(deeper) > limit:
        text = f"{title} is {new.depth_m:.2f} m deep; it was {old.depth_m:.2f} m."
        differs(Change.DEPTH_CHANGED, text, difference_m=deeper, limit_m=limit,
                was=f"{old.depth_m:.3f}", now=f"{new.depth_m:.3f}")  # fmt: skip
    if old.zone != new.zone:
        text = f"{title} is of zone {new.zone or 'none'}; it was of zone {old.zone or 'none'}."
        differs(Change.ZONE_CHANGED, text, was=old.zone or None, now=new.zone or None)
    return rows
