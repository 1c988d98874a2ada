"""Electrical readings by station: the latest of each kind, and distances to a fault from them."""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING, NamedTuple

from wiremap.formulas.bridges import capacitance_m, murray_ohm, short_m, varley_ohm
from wiremap.model.findings import Finding
from wiremap.steps.zones.labels import read_ohms, split_zones
from wiremap.steps.zones.stations import Book, Key, name_zone, read_numbers, read_texts

if TYPE_CHECKING:
    import pandas as pd

_NUMBER = re.compile(r"\d+(?:\.\d+)?")
_FIGURES = {"murray": 2, "varley": 3, "capacitance": 2}
_FORMS = {
    "murray": "P:Q at balance, such as 100:41.2",
    "varley": "P:Q:S with the battery earthed, such as 1000:1000:3.31",
    "capacitance": "near:far in one unit, such as 100:400",
}


class Reading(NamedTuple):
    """One reading: its figures, and where it was written."""

    figures: tuple[float, ...]
    date: str
    source_file: str
    source_row: int | None


class Distance(NamedTuple):
    """Distance along a station's wire from the controller to a fault, from a reading."""

    key: Key
    zone: str
    controller: str
    method: str
    distance_m: float
    path_length_m: float
    date: str
    note: str


class Wire(NamedTuple):
    """What a distance needs to know of a station's wire; NaN where not known."""

    path_m: float
    hot_ohm_per_m: float
    common_ohm_per_m: float


Latest = dict[tuple[Key, str], Reading]


def read_readings(readings: pd.DataFrame, book: Book) -> tuple[Latest, list[Finding]]:
    """Return the latest usable reading of each kind, by station.

    Parameters
    ----------
    readings : DataFrame
        Table ``readings``.
    book : Book

    Returns
    -------
    dict of (key, kind) to Reading
    list of Finding
        `bad-value` where a value cannot be read.
    """
    names = ("zone", "controller", "kind", "value", "date", "source_file")
    texts = [read_texts(readings, name) for name in names]
    rows = [None if math.isnan(r) else int(r) for r in read_numbers(readings, "source_row")]
    latest: Latest = {}
    findings = []
    for zone, controller, kind, value, date, file, row in zip(*texts, rows, strict=True):
        figures = _figures(kind, value)
        if figures is None:
            findings.append(_unreadable(kind, value, file, row))
            continue
        for label in split_zones(zone):
            place = book.find(label, controller), kind
            if place not in latest or date >= latest[place].date:
                latest[place] = Reading(figures, date, file, row)
    return latest, findings


def find_distances(
    latest: Latest, wires: dict[Key, Wire], book: Book
) -> tuple[list[Distance], list[Finding]]:
    """Return how far from the controller a fault lies, by each reading that says so.

    Murray and Varley take the fault on the station's wire and the common as the sound return;
    where the loop was measured, its reading stands in for the mapped length, and it gives no
    distance of its own.

    Parameters
    ----------
    latest : dict of (key, kind) to Reading
        From `read_readings`.
    wires : dict of key to Wire
        Mapped path and resistance of each station's wire.
    book : Book

    Returns
    -------
    list of Distance
    list of Finding
        `fault-distance`.
    """
    distances = []
    bridged = {key for key, kind in latest if kind in {"murray", "varley"}}
    for (key, kind), reading in latest.items():
        if kind == "loop_ohms" and key in bridged:
            continue
        wire = wires.get(key, Wire(math.nan, math.nan, math.nan))
        loop = latest.get((key, "loop_ohms"))
        loop_ohm = loop.figures[0] if loop else math.nan
        distance, note = _distance(kind, reading.figures, wire, loop_ohm)
        if math.isfinite(distance):
            station = book.stations.get(key)
            zone, controller = (station.zone, station.controller) if station else key[::-1]
            distances.append(
                Distance(key, zone, controller, kind, distance, wire.path_m, reading.date, note)
            )
    return distances, [_distance_finding(d, latest[d.key, d.method], book) for d in distances]


def _figures(kind: str, value: str) -> tuple[float, ...] | None:
    if kind in _FIGURES:
        figures = tuple(float(text) for text in _NUMBER.findall(value.replace(",", ".")))
        usable = len(figures) == _FIGURES[kind] and figures[0] + figures[1] > 0
        return figures if usable else None
    ohms = read_ohms(value)
    return None if math.isnan(ohms) else (ohms,)


def _unreadable(kind: str, value: str, file: str, row: int | None) -> Finding:
    form = _FORMS.get(kind, "a number of ohms, or open")
    return Finding(
        "bad-value",
        f"reading {kind}",
        f"A reading of kind {kind} must be {form}; got {value!r}.",
        source_file=file,
        source_row=row,
        column="value",
        value=value,
    )


def _distance(
    kind: str, figures: tuple[float, ...], wire: Wire, loop_ohm: float
) -> tuple[float, str]:
    """Return the distance in metres, NaN where the kind gives none, and what it supposes."""
    hot, common = wire.hot_ohm_per_m, wire.common_ohm_per_m
    measured = math.isfinite(loop_ohm)
    loop = loop_ohm if measured else wire.path_m * (hot + common)
    source = "from the measured loop" if measured else "from the mapped length"
    if kind == "murray":
        p, q = figures
        return float(murray_ohm(p, q, loop)) / hot, source
    if kind == "varley":
        p, q, s_earth = figures
        return float(varley_ohm(p, q, s_earth, loop)) / hot, source
    if kind == "capacitance":
        near, far = figures
        return float(capacitance_m(near, far, wire.path_m)), "a break, read from both ends"
    if kind == "loop_ohms":
        length = float(short_m(figures[0], hot_ohm_per_m=hot, common_ohm_per_m=common))
        return length, "at most, where the two wires touch or are twisted together"
    return math.nan, ""


def _distance_finding(distance: Distance, reading: Reading, book: Book) -> Finding:
    station = book.stations.get(distance.key)
    subject = station.subject if station else name_zone(distance.zone, distance.controller)
    mapped = f" of {distance.path_length_m:.0f} m mapped" if distance.path_length_m >= 0 else ""
    dated = f" of {distance.date}" if distance.date else ""
    return Finding(
        "fault-distance",
        subject,
        f"The {distance.method} reading{dated} on {subject} points to"
        f" {distance.distance_m:.1f} m{mapped} along the wire from the controller"
        f" ({distance.note}).",
        source_file=reading.source_file,
        source_row=reading.source_row,
        column="value",
    )
