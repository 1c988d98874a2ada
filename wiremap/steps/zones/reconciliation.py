"""Reconciles the zone list with the ground: statuses, differences, suggestions."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import pandas as pd

from wiremap.model.findings import Finding
from wiremap.model.kinds import ValveZoneStatus
from wiremap.model.tables import VALVES, ZONES
from wiremap.steps.zones import assignment, circuits, differences
from wiremap.steps.zones import readings as electrical
from wiremap.steps.zones.ground import (
    Claims,
    Ground,
    accept_decisions,
    claim_stations,
    name_path_runs,
    read_ground,
)
from wiremap.steps.zones.schedule import tabulate_schedule
from wiremap.steps.zones.stations import Book, Key, Station, read_book

if TYPE_CHECKING:
    import geopandas as gpd

    from wiremap.model.settings import Settings
    from wiremap.steps.zones.assignment import Suggestion


class Reconciled(NamedTuple):
    """What `reconcile_zones` returns.

    Attributes
    ----------
    zones : DataFrame
        Layer ``zones``: every listed zone, then every zone that only the ground has. Further
        columns: kind, and unmatched controllers as the ground names them.
    valves : GeoDataFrame
        Layer ``valves`` with zone, controller, zone_status, suggested_zone, suggested_margin,
        path_length_m and path_length_sigma_m filled in.
    schedule : DataFrame
        Wire schedule, one row a zone; see `complete_schedule` for what later layers add.
    distances : DataFrame
        Distances to a fault from bridge, loop and capacitance readings: zone, controller,
        method, distance_m, path_length_m, date, note.
    findings : list of Finding
    """

    zones: pd.DataFrame
    valves: gpd.GeoDataFrame
    schedule: pd.DataFrame
    distances: pd.DataFrame
    findings: list[Finding]


def reconcile_zones(  # noqa: PLR0913 - the tables it brings together
    zone_list: pd.DataFrame,
    valves: gpd.GeoDataFrame,
    runs: pd.DataFrame,
    paths: pd.DataFrame,
    readings: pd.DataFrame,
    coils: pd.DataFrame,
    *,
    settings: Settings,
    controllers: gpd.GeoDataFrame | None = None,
) -> Reconciled:
    """Return the controller's list held against the ground, with every difference a finding.

    Labels are compared by meaning (``03``, ``3`` and ``Zone 3`` are one zone), within their
    controller. Valves without a label, with one that the list does not have, or on a zone that
    more valves claim than it expects are weighed by all evidence; what the evidence suggests is
    reported, never adopted. A column ``accepted`` in the zone list (names of valves) records the
    technician's decision and holds against labels.

    Parameters
    ----------
    zone_list : DataFrame
        Table ``zone_list``; empty where there is no list.
    valves : GeoDataFrame
        Layer ``valves``, as `find_devices` gives it.
    runs : DataFrame
        Columns run, zones, controller, end_kind, length_m; its lines say where each run ends.
    paths : DataFrame
        Columns valve, controller, runs, path_length_m, path_length_sigma_m.
    readings : DataFrame
        Table ``readings``.
    coils : DataFrame
        Columns valve, run, margin.
    settings : Settings
    controllers : GeoDataFrame, optional
        Layer ``controllers``: the nearest one serves a valve that nothing else places.

    Returns
    -------
    Reconciled

    Examples
    --------
    >>> from wiremap.model.settings import Settings
    >>> from wiremap.model.tables import READINGS, ZONE_LIST
    >>> listed = ZONE_LIST.conform(pd.DataFrame({"zone": ["1", "2"]}))
    >>> valves = VALVES.conform(pd.DataFrame({"valve": ["V1"], "zone": ["01"]}))
    >>> none = pd.DataFrame()
    >>> done = reconcile_zones(
    ...     listed, valves, none, none, READINGS.empty(), none, settings=Settings()
    ... )
    >>> done.zones["status"].tolist()
    ['complete', 'missing']
    >>> [finding.code for finding in done.findings]
    ['zone-without-valve']
    """
    ground = read_ground(valves, runs, paths, controllers)
    book, findings = read_book(zone_list, ground.controllers)
    ground = accept_decisions(ground, book)
    claims = claim_stations(ground, book)
    tallies = differences.tally_zones(ground, claims, book)
    standing = differences.stand_valves(ground, claims, book)
    latest, unreadable = electrical.read_readings(readings, book)
    lengths = [_farthest(tally, ground) for tally in tallies]
    figures, odd_ohms = _check_circuits(tallies, lengths, ground, latest, settings)
    wires = _wires(tallies, lengths, figures)
    distances, far = electrical.find_distances(latest, wires, book)
    evidence = _evidence(ground, claims, book, tallies, figures, coils, settings)
    suggestions = assignment.suggest_zones(_doubt(tallies, evidence), evidence)
    if book.stations:
        findings += differences.report_zones(tallies, ground)
        findings += differences.report_valves(ground, claims, book, standing)
        findings += differences.report_suggestions(suggestions, ground, book)
    else:
        findings += [Finding("no-zone-list", "property", "No zone list was given.")]
    mapped = [length for length, _ in lengths]
    return Reconciled(
        _zones_layer(tallies, ground, figures, mapped),
        _valves_layer(
            valves.assign(path_runs=name_path_runs(valves, paths)), evidence, standing, suggestions
        ),
        tabulate_schedule(tallies, ground, figures, mapped),
        pd.DataFrame(distances, columns=list(electrical.Distance._fields)).drop(columns="key"),
        findings + unreadable + odd_ohms + far,
    )


BY_RUN_MARGIN = 1.0 - math.exp(-assignment.RUN_TRACED)
"""How clear a zone is that was only read from the valve's run."""
_GROUND_ONLY = Station("", "", "", "zone", "", "", "", 0, 0, math.nan, math.nan, "", "", None)


def _farthest(tally: differences.Tally, ground: Ground) -> tuple[float, float]:
    """Return the longest wire path to a zone's valves and its sigma; NaN where none is mapped."""
    paths = [(ground.valves[i].path_m, ground.valves[i].path_sigma_m) for i in tally.valves]
    return max((p for p in paths if p[0] >= 0), default=(math.nan, math.nan))


def _check_circuits(
    tallies: list[differences.Tally],
    lengths: list[tuple[float, float]],
    ground: Ground,
    latest: electrical.Latest,
    settings: Settings,
) -> tuple[circuits.Figures, list[Finding]]:
    """Check every zone's circuit; a reading in the readings table goes before the list's."""
    made = []
    for tally, (length, sigma) in zip(tallies, lengths, strict=True):
        station = tally.station or _GROUND_ONLY._replace(zone=tally.zone)
        gauges = (ground.valves[i].awg for i in tally.valves)
        ohms, to_ground = (
            latest[tally.key, kind].figures[0] if (tally.key, kind) in latest else listed
            for kind, listed in (
                ("ohms", station.ohms),
                ("ohms_to_ground", station.ohms_to_ground),
            )
        )
        awg = next(filter(None, gauges), "")
        made.append(
            circuits.Circuit(station, len(tally.valves), length, sigma, awg, ohms, to_ground)
        )
    return circuits.check_circuits(made, thresholds=settings.thresholds)


def _wires(
    tallies: list[differences.Tally],
    lengths: list[tuple[float, float]],
    figures: circuits.Figures,
) -> dict[Key, electrical.Wire]:
    """Return each zone's wire at the middle of what its gauge allows."""
    wires = figures.wires
    hot = ((wires.hot_low + wires.hot_high) / 2).tolist()
    common = ((wires.common_low + wires.common_high) / 2).tolist()
    return {
        tally.key: electrical.Wire(length, a, b)
        for tally, (length, _), a, b in zip(tallies, lengths, hot, common, strict=True)
    }


def _evidence(
    ground: Ground,
    claims: Claims,
    book: Book,
    tallies: list[differences.Tally],
    figures: circuits.Figures,
    coils: pd.DataFrame,
    settings: Settings,
) -> assignment.Evidence:
    per_m = (figures.wires.hot_high + figures.wires.common_high).tolist()
    read = zip(tallies, figures.ohms.tolist(), strict=True)
    limits = settings.thresholds
    return assignment.Evidence(
        ground,
        claims,
        book,
        assignment.read_coils(coils),
        {t.key: ohms for t, ohms in read if t.station and t.station.valves == 1},
        {t.key: ohm for t, ohm in zip(tallies, per_m, strict=True)},
        (limits.coil_low_ohm, limits.coil_high_ohm),
    )


def _doubt(tallies: list[differences.Tally], evidence: assignment.Evidence) -> assignment.Doubt:
    """Return the valves whose zone is in doubt, and the stations that have room for them.

    In doubt are valves that answer to no listed zone, those on a crowded zone, and those whose
    run was traced as another zone; never a shared valve or one that was decided.
    """
    crowded = {i for t in tallies if t.is_crowded for i in t.valves}
    doubtful = {
        i
        for i, valve in enumerate(evidence.ground.valves)
        if valve.label_from != "accepted" and (i in crowded or _is_odd(i, evidence))
    }
    slots = [
        tally.key
        for tally in tallies
        if tally.station and tally.station.kind == "zone"
        for _ in range(tally.station.valves - len(set(tally.valves) - doubtful))
    ]
    return assignment.Doubt(sorted(doubtful), slots)


def _is_odd(i: int, evidence: assignment.Evidence) -> bool:
    """Whether a valve's own zone is missing, not listed, or not the one its run was traced as."""
    keys, traced = evidence.claims.by_valve[i], evidence.claims.run_keys[i]
    if len(keys) != 1:
        return not keys
    return keys[0] not in evidence.book.stations or (len(traced) == 1 and traced != keys)


def _zones_layer(
    tallies: list[differences.Tally],
    ground: Ground,
    figures: circuits.Figures,
    lengths_m: list[float],
) -> pd.DataFrame:
    stations = [t.station for t in tallies]
    layer: pd.DataFrame = ZONES.conform(
        pd.DataFrame(
            {
                "zone": [t.zone for t in tallies],
                "controller": [t.controller or None for t in tallies],
                "name": [(s.name or None) if s else None for s in stations],
                "valves_listed": [s.valves if s else 0 for s in stations],
                "valves_found": [len(t.valves) for t in tallies],
                "runs": [";".join(ground.runs[i].name for i in t.runs) or None for t in tallies],
                "status": [str(t.status) for t in tallies],
                "mapped_length_m": lengths_m,
                "ohms": figures.ohms,
                "ohms_expected_low": figures.low,
                "ohms_expected_high": figures.high,
                "ohms_status": [str(s) for s in figures.status],
                "kind": pd.array([s.kind if s else "zone" for s in stations], dtype="str"),
            }
        )
    )
    return layer


def _valves_layer(
    valves: gpd.GeoDataFrame,
    evidence: assignment.Evidence,
    standing: list[ValveZoneStatus],
    suggestions: list[Suggestion],
) -> gpd.GeoDataFrame:
    """Return the valves with their standing; the spelling of zones is the list's."""
    ground, claims, book = evidence.ground, evidence.claims, evidence.book
    zones = [";".join(claims.spelling[key][0] for key in keys) for keys in claims.by_valve]
    named = [claims.spelling[keys[0]][1] if keys else "" for keys in claims.by_valve]
    suggested = {
        i: (zone, BY_RUN_MARGIN)
        for i, (zone, status) in enumerate(zip(zones, standing, strict=True))
        if status == ValveZoneStatus.SUGGESTED
    }
    suggested |= {s.valve: (book.stations[s.key].zone, s.margin) for s in suggestions}
    shown = [
        None if s == ValveZoneStatus.SUGGESTED else z or None
        for z, s in zip(zones, standing, strict=True)
    ]
    statuses = [
        ValveZoneStatus.SUGGESTED if i in suggested and s == ValveZoneStatus.UNASSIGNED else s
        for i, s in enumerate(standing)
    ]
    places = [suggested.get(i, (None, math.nan)) for i in range(len(zones))]
    columns: dict[str, object] = {
        "zone": shown,
        "controller": [
            n or v.controller or None for n, v in zip(named, ground.valves, strict=True)
        ],
        "zone_status": [str(s) for s in statuses],
        "suggested_zone": [zone for zone, _ in places],
        "suggested_margin": [margin for _, margin in places],
        "path_length_m": [v.path_m for v in ground.valves],
        "path_length_sigma_m": [v.path_sigma_m for v in ground.valves],
    }
    return VALVES.conform(valves.assign(**columns))
