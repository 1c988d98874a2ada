"""The zone list as stations, and how labels on the ground find their station."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from wiremap.model.findings import Finding
from wiremap.steps.zones.labels import controller_key, split_zones, word_kind, zone_key

if TYPE_CHECKING:
    from collections.abc import Iterable

    import pandas as pd

Key = tuple[str, str]
"""Controller and zone, as `controller_key` and `zone_key` write them."""

UNKNOWN = "?"
"""Controller of a label that stands on several controllers and says none."""


class Station(NamedTuple):
    """One station of the list.

    Attributes
    ----------
    zone, controller, name, kind, awg, wire_color, common : str
        As listed; empty where missing.
    valves, most_valves : int
        Valves expected; more where the list names the zone twice.
    ohms, ohms_to_ground : float
        As read; NaN where not read.
    accepted : str
        Valves that the technician decided for this zone.
    source_file : str
    source_row : int or None
    is_alone : bool
        Whether the property's controllers are not told apart, so that none need be named.
    """

    zone: str
    controller: str
    name: str
    kind: str
    awg: str
    wire_color: str
    common: str
    valves: int
    most_valves: int
    ohms: float
    ohms_to_ground: float
    accepted: str
    source_file: str
    source_row: int | None
    is_alone: bool = True

    @property
    def subject(self) -> str:
        """How findings name the station."""
        return name_zone(self.zone, "" if self.is_alone else self.controller)


class Book(NamedTuple):
    """The stations by key.

    Attributes
    ----------
    stations : dict of Key to Station
    controllers : dict of str to str
        Names by `controller_key`: the list's, or the ground's where the list names none.
    by_controller : bool
        Whether controllers are told apart.
    is_comparable : bool
        Whether list and ground name their controllers alike; otherwise the ground's names say
        nothing about the list.
    """

    stations: dict[Key, Station]
    controllers: dict[str, str]
    by_controller: bool
    is_comparable: bool

    def find(self, label: str, controller: str) -> Key:
        """Return the key of a label on the ground.

        Parameters
        ----------
        label : str
            One zone as written on the ground.
        controller : str
            Controller that it belongs to; empty where nothing says.

        Returns
        -------
        tuple of str
            A key of `stations`, or one that is not listed.
        """
        zone = zone_key(label)
        if not self.by_controller:
            return "", zone
        own = controller_key(controller) if controller and self.is_comparable else ""
        if own and (own, zone) in self.stations:
            return own, zone
        for name in self.controllers:  # written as A3 or A-3
            rest = zone_key(zone.removeprefix(name).lstrip("-._:"))
            if zone.startswith(name) and (name, rest) in self.stations:
                return name, rest
        holders = [name for name in self.controllers if (name, zone) in self.stations]
        if own or not holders:
            return own, zone
        return (holders[0] if len(holders) == 1 else UNKNOWN), zone


def name_zone(zone: str, controller: str = "") -> str:
    """Return how findings name a zone.

    Parameters
    ----------
    zone : str
    controller : str
        Left out where empty.

    Returns
    -------
    str

    Examples
    --------
    >>> name_zone("3"), name_zone("Zone 3", "A"), name_zone("MV")
    ('zone 3', 'Zone 3 of controller A', 'MV')
    """
    text = f"zone {zone}" if zone[:1].isdigit() or len(zone) == 1 else zone
    return text + (f" of controller {controller}" if controller else "")


def read_texts(frame: pd.DataFrame, name: str) -> list[str]:
    """Return a text column as a list, empty text where it is missing.

    Parameters
    ----------
    frame : DataFrame
    name : str
        Column; all empty where the frame has none of that name.

    Returns
    -------
    list of str
    """
    if name not in frame:
        return [""] * len(frame)
    values = frame[name].to_numpy(dtype=object)
    return [v.strip() if isinstance(v, str) else "" if _is_missing(v) else str(v) for v in values]


def read_numbers(frame: pd.DataFrame, name: str) -> list[float]:
    """Return a number column as a list, NaN where it is missing.

    Parameters
    ----------
    frame : DataFrame
    name : str
        Column; all NaN where the frame has none of that name.

    Returns
    -------
    list of float
    """
    if name not in frame:
        return [math.nan] * len(frame)
    numbers: list[float] = frame[name].to_numpy(dtype=float, na_value=np.nan).tolist()
    return numbers


def read_book(
    zone_list: pd.DataFrame, ground_controllers: Iterable[str]
) -> tuple[Book, list[Finding]]:
    """Return the zone list by controller and zone.

    Controllers are told apart where the list names several, or where the ground has several and
    one of them is the list's. A controller written once holds for the rows below it.

    Parameters
    ----------
    zone_list : DataFrame
        Table ``zone_list``. Rows without a zone are passed over.
    ground_controllers : iterable of str
        Controllers named on the ground.

    Returns
    -------
    Book
    list of Finding
        `zone-listed-twice`.
    """
    listed = _read_stations(zone_list)
    named = {controller_key(s.controller): s.controller for s in listed if s.controller}
    ground = {controller_key(name): name for name in ground_controllers if name}
    alike = bool(named.keys() & ground.keys()) or not listed
    several = len(named) > 1 or (len(ground) > 1 and alike and (bool(named) or not listed))
    stations: dict[Key, Station] = {}
    findings = []
    for row in listed:
        station = row._replace(is_alone=not several)
        key = (controller_key(station.controller) if several else "", zone_key(station.zone))
        if key in stations:
            findings.append(_listed_twice(station, stations[key]))
            stations[key] = _merge(stations[key], station)
        else:
            stations[key] = station
    return Book(stations, named or ground, several, alike), findings


def _is_missing(value: object) -> bool:
    return value is None or bool(value != value)  # noqa: PLR0124 - NaN is unlike itself


def _read_stations(zone_list: pd.DataFrame) -> list[Station]:
    columns = {
        name: read_texts(zone_list, name)
        for name in (
            "zone", "controller", "name", "kind", "awg", "wire_color", "common", "accepted",
            "source_file",
        )
    }  # fmt: skip
    numbers = {
        name: read_numbers(zone_list, name)
        for name in ("valves", "ohms", "ohms_to_ground", "source_row")
    }
    stations, controller = [], ""
    for i, text in enumerate(columns["zone"]):
        cells = {name: values[i] for name, values in columns.items()}
        controller = cells["controller"] or controller
        figures = {name: values[i] for name, values in numbers.items()}
        # the list's own row names one station; a slash or comma in it is part of the name
        labels = split_zones(text)
        label = labels[0] if len(labels) == 1 else text
        if label:
            kind = cells["kind"] or word_kind(label) or word_kind(cells["name"]) or "zone"
            stations.append(_station(cells, figures, label, controller, kind))
    return stations


def _station(
    cells: dict[str, str], figures: dict[str, float], zone: str, controller: str, kind: str
) -> Station:
    valves = 1 if math.isnan(figures["valves"]) else int(figures["valves"])
    valves = valves if kind in {"zone", "master_valve"} else 0
    row = figures["source_row"]
    return Station(
        zone,
        controller,
        cells["name"],
        kind,
        cells["awg"],
        cells["wire_color"],
        cells["common"],
        valves,
        valves,
        figures["ohms"],
        figures["ohms_to_ground"],
        cells["accepted"],
        cells["source_file"],
        None if math.isnan(row) else int(row),
    )


def _merge(first: Station, again: Station) -> Station:
    return first._replace(
        valves=max(first.valves, again.valves),
        most_valves=first.most_valves + again.valves,
        ohms=again.ohms if math.isnan(first.ohms) else first.ohms,
        awg=first.awg or again.awg,
        wire_color=first.wire_color or again.wire_color,
    )


def _listed_twice(station: Station, first: Station) -> Finding:
    earlier = f" (first in row {first.source_row})" if first.source_row else ""
    return Finding(
        "zone-listed-twice",
        station.subject,
        f"The list names {station.subject} more than once{earlier}; the rows were taken together.",
        source_file=station.source_file,
        source_row=station.source_row,
        column="zone",
        value=station.zone,
    )
