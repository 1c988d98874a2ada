"""The step: all differences of two records, in order, and in words."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from wiremap.model.cells import numbers, texts
from wiremap.model.kinds import Change, FaultStatus
from wiremap.model.season_tables import CHANGES
from wiremap.steps.comparison.devices import compare_devices
from wiremap.steps.comparison.rows import Pair, change, in_metres, scale_layer
from wiremap.steps.comparison.runs import compare_runs

if TYPE_CHECKING:
    from collections.abc import Mapping

    import geopandas as gpd
    import pandas as pd

_ONES = {
    "controllers": "controller",
    "valves": "valve",
    "splices": "splice",
    "equipment": "item of equipment",
    "references": "reference",
    "wire_runs": "run",
    "wire_segments": "stretch of wire",
    "zones": "zone",
    "faults": "fault",
}
_SAID = {Change.FAULT_OPENED: "opened", Change.FAULT_CLOSED: "closed"}
_MANY = {"item of equipment": "items of equipment", "stretch of wire": "stretches of wire"}


class Comparison(NamedTuple):
    """What `compare_layers` returns.

    Attributes
    ----------
    changes : GeoDataFrame
        Table ``changes``, in the newer record's CRS.
    summary : str
        All of it in one sentence.
    """

    changes: gpd.GeoDataFrame
    summary: str


def compare_layers(
    old: Mapping[str, gpd.GeoDataFrame],
    new: Mapping[str, gpd.GeoDataFrame],
    *,
    confidence: float = 0.95,
) -> Comparison:
    """Return how two records of one property differ beyond their uncertainty.

    Parameters
    ----------
    old, new : mapping of str to GeoDataFrame
        Layers by name, as `AsBuilt.layers` and `read_asbuilt` give them.
    confidence : float
        A difference counts where it is greater than the combined uncertainty of both records at
        this confidence. That takes them for independent: records that share their locates differ
        by less than the limit, so that a change is never made up.

    Returns
    -------
    Comparison
        No rows where the records say the same.
    """
    import geopandas as gpd

    crs = next((f.crs for f in new.values() if getattr(f, "crs", None) is not None), None)
    metres = float(crs.axis_info[0].unit_conversion_factor) if crs is not None else 1.0
    pair = Pair(in_metres(old, crs, metres), in_metres(new, crs, metres), confidence)
    rows = [*compare_devices(pair), *compare_runs(pair), *_compare_faults(pair)]
    rows += _compare_zones(pair)
    if not rows:
        return Comparison(CHANGES.empty(crs=crs), summarise_changes(CHANGES.empty()))
    names = dict.fromkeys(name for row in rows for name in row)
    columns = {name: [row.get(name) for row in rows] for name in names}
    table = gpd.GeoDataFrame(columns, geometry="geometry", crs=crs)
    changes = CHANGES.conform(table if metres == 1 else scale_layer(table, 1 / metres), crs=crs)
    return Comparison(changes, summarise_changes(changes))


def summarise_changes(changes: pd.DataFrame) -> str:
    """Return table ``changes`` in one sentence.

    Parameters
    ----------
    changes : DataFrame
        Table ``changes``.

    Returns
    -------
    str

    Examples
    --------
    >>> import pandas as pd
    >>> summarise_changes(pd.DataFrame({"change": ["moved"] * 2, "layer": ["valves"] * 2}))
    '2 valves moved.'
    """
    if not len(changes):
        return "The records do not differ beyond their uncertainty."
    counts = Counter(zip(changes["change"], changes["layer"], strict=True))
    parts = []
    for (kind, layer), count in counts.items():
        one = _ONES[str(layer)]
        noun = one if count == 1 else _MANY.get(one, f"{one}s")
        said = _SAID.get(kind, str(kind).replace("_", " "))
        parts.append(f"{count} {noun} {said}")
    return ", ".join(parts) + "."


class _Fault(NamedTuple):
    """One fault of a record."""

    name: str
    run: str
    kind: str
    status: str
    last_date: str
    chainage_m: float
    low_m: float
    high_m: float
    place: Any

    def is_same(self, other: _Fault) -> bool:
        """Whether another row is the same fault: by name, else by run and interval."""
        if self.run != other.run:
            return False
        meet = self.low_m <= other.high_m and other.low_m <= self.high_m
        return self.name == other.name or meet


def _faults(layer: gpd.GeoDataFrame) -> list[_Fault]:
    words = (texts(layer, name) for name in ("fault", "run", "kind", "status", "last_date"))
    sizes = (numbers(layer, f"chainage_{end}m") for end in ("", "low_", "high_"))
    columns = (column.tolist() for column in (*words, *sizes, layer.geometry))
    return [_Fault(*row) for row in zip(*columns, strict=True)]


def _compare_faults(pair: Pair) -> list[dict[str, Any]]:
    """Return the faults that opened and closed."""
    old, new = (_faults(side["faults"]) for side in (pair.old, pair.new))
    stood, stands = ([f for f in side if f.status == FaultStatus.STANDING] for side in (old, new))
    rows = [
        _fault(Change.FAULT_OPENED, fault, "is new")
        for fault in stands
        if not any(fault.is_same(other) for other in stood)
    ]
    for fault in stood:
        again = [other for other in new if fault.is_same(other)]
        if any(other.status == FaultStatus.STANDING for other in again):
            continue
        ending = "is no longer in the record"
        if again:
            day = again[0].last_date
            ending = "is repaired" + (f" as of {day}" if day else "")
        rows.append(_fault(Change.FAULT_CLOSED, fault, ending))
    return rows


def _fault(kind: Change, fault: _Fault, ending: str) -> dict[str, Any]:
    what, run, place = fault.kind.replace("_", " "), fault.run, fault.chainage_m
    where = f" near {place:.1f} m of run {run}" if run and np.isfinite(place) else ""
    text = f"Fault {fault.name} ({what}){where} {ending}."
    return change(kind, "faults", fault.name, text, fault.place, run=run or None)


def _compare_zones(pair: Pair) -> list[dict[str, Any]]:
    """Return the zones of the list that are new, gone, or stand otherwise."""
    old, new = (_zones(side["zones"]) for side in (pair.old, pair.new))
    rows = []
    for key, now in new.items():
        title = f"Zone {key[1]}" + (f" of controller {key[0]}" if key[0] else "")
        if key not in old:
            rows.append(change(Change.ADDED, "zones", key[1], f"{title} is new in the list."))
        elif old[key] != now:
            text = f"{title} is {now}; it was {old[key]}."
            rows.append(change(Change.ZONE_CHANGED, "zones", key[1], text, was=old[key], now=now))
    gone = [key for key in old if key not in new]
    return rows + [
        change(Change.GONE, "zones", key[1], f"Zone {key[1]} is no longer in the list.")
        for key in gone
    ]


def _zones(table: pd.DataFrame) -> dict[tuple[str, str], str]:
    columns = (texts(table, name) for name in ("controller", "zone", "status"))
    return {(str(c), str(z)): str(s) for c, z, s in zip(*columns, strict=True)}
