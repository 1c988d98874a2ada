"""Differences between the list and the ground: the standing of every zone and valve."""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING, NamedTuple

from wiremap.model.findings import Finding
from wiremap.model.kinds import EndKind, Severity, ValveZoneStatus, ZoneStatus
from wiremap.steps.zones.labels import word_kind
from wiremap.steps.zones.stations import UNKNOWN, Book, Key, Station, name_zone

if TYPE_CHECKING:
    from wiremap.steps.zones.assignment import Suggestion
    from wiremap.steps.zones.ground import Claims, Ground, Run, Valve


class Tally(NamedTuple):
    """One zone against the ground; valves and runs by number in `Ground`."""

    key: Key
    station: Station | None
    zone: str
    controller: str
    valves: list[int]
    runs: list[int]
    status: ZoneStatus

    @property
    def subject(self) -> str:
        """How findings name the zone."""
        return self.station.subject if self.station else name_zone(self.zone)

    @property
    def room(self) -> int:
        """How many valves the list expects that the ground has not shown."""
        expected = self.station.valves if self.station and self.station.kind == "zone" else 0
        return max(expected - len(self.valves), 0)

    @property
    def is_crowded(self) -> bool:
        """Whether more valves claim the zone than the list expects; a pump start may have any."""
        station = self.station
        if station is None or station.kind == "pump_start":
            return False
        return len(self.valves) > station.most_valves


_MOST_TOLD = 20
"""Labels of one valve that a finding repeats; each of them has a finding of its own."""
_ENDS = {
    "lost": "where the tone was lost",
    "open": "at its last mark",
    "splice": "at a splice",
    "fault": "at a fault",
    "valve": "at a valve",
}


def tally_zones(ground: Ground, claims: Claims, book: Book) -> list[Tally]:
    """Return every listed zone in the list's order, then every zone that only the ground has.

    Parameters
    ----------
    ground : Ground
    claims : Claims
    book : Book

    Returns
    -------
    list of Tally
    """
    traced = [k for k in claims.runs if k[0] != UNKNOWN and any(c.isdigit() for c in k[1])]
    unlisted = {k for k in (*claims.valves, *traced) if k not in book.stations}
    tallies = []
    for key in (*book.stations, *sorted(unlisted, key=_natural)):
        station = book.stations.get(key)
        zone, controller = claims.spelling[key]
        valves, runs = claims.valves.get(key, []), claims.runs.get(key, [])
        named = [ground.valves[i].controller for i in valves]
        named += [ground.runs[i].controller for i in runs] + ground.controllers
        sole = next(filter(None, named), "") if not book.by_controller else ""
        status = _zone_status(station, len(valves))
        tallies.append(Tally(key, station, zone, controller or sole, valves, runs, status))
    return tallies


def stand_valves(ground: Ground, claims: Claims, book: Book) -> list[ValveZoneStatus]:
    """Return how each valve's zone stands against the list, before suggestions.

    A valve whose zone was only read from its run, on a property where valves carry labels, is
    `suggested`.

    Parameters
    ----------
    ground : Ground
    claims : Claims
    book : Book

    Returns
    -------
    list of ValveZoneStatus
    """
    habit = _labels_are_habit(ground)
    standing = []
    for valve, keys in zip(ground.valves, claims.by_valve, strict=True):
        if not keys:
            standing.append(ValveZoneStatus.UNASSIGNED)
        elif habit and valve.label_from == "run":
            standing.append(ValveZoneStatus.SUGGESTED)
        elif len(keys) > 1:
            standing.append(ValveZoneStatus.SHARED)
        elif keys[0] in book.stations:
            standing.append(ValveZoneStatus.LISTED)
        else:
            standing.append(ValveZoneStatus.UNLISTED)
    return standing


def report_zones(tallies: list[Tally], ground: Ground) -> list[Finding]:
    """Return what differs, zone by zone.

    Parameters
    ----------
    tallies : list of Tally
    ground : Ground

    Returns
    -------
    list of Finding
        `zone-without-valve`, `valve-count-differs`, `zone-claimed-twice`, `run-without-zone`, and
        `not-surveyed` for a master valve.
    """
    lacking = {t.key[0] for t in tallies if t.room}
    findings = []
    for tally in tallies:
        station = tally.station
        if station is None:
            if tally.runs and not tally.valves:
                findings.append(_unlisted_run(tally, ground))
        elif tally.is_crowded:
            findings += _crowded(tally, station, ground, elsewhere=tally.key[0] in lacking)
        elif tally.room and tally.valves:
            findings.append(_too_few(tally, station, ground))
        elif tally.room:
            findings.append(_missing(tally, station, ground))
        elif tally.status == ZoneStatus.MISSING:
            findings.append(_unseen_master(tally, station))
    return findings


def report_valves(
    ground: Ground, claims: Claims, book: Book, standing: list[ValveZoneStatus]
) -> list[Finding]:
    """Return the valves that answer to no listed zone.

    Parameters
    ----------
    ground : Ground
    claims : Claims
    book : Book
    standing : list of ValveZoneStatus
        From `stand_valves`.

    Returns
    -------
    list of Finding
        `valve-without-zone`.
    """
    findings = []
    for valve, keys, status in zip(ground.valves, claims.by_valve, standing, strict=True):
        if status == ValveZoneStatus.UNASSIGNED:
            text = f"Valve {valve.name} carries no zone."
            findings.append(_valve_finding(valve, text))
        elif status == ValveZoneStatus.SUGGESTED:
            text = (
                f"Valve {valve.name} carries no zone, though other valves do; the run traced to"
                f" it, {valve.run}, is that of {name_zone(';'.join(valve.labels))}."
            )
            findings.append(_valve_finding(valve, text))
        findings += [
            _valve_finding(valve, _unlisted_text(valve, key, claims))
            for key in keys
            if key not in book.stations and word_kind(claims.spelling[key][0]) is None
        ]
    return findings


def report_suggestions(suggestions: list[Suggestion], ground: Ground, book: Book) -> list[Finding]:
    """Return a note for every zone that the evidence suggests, a warning against a label.

    Parameters
    ----------
    suggestions : list of Suggestion
    ground : Ground
    book : Book

    Returns
    -------
    list of Finding
        `zone-suggested`.
    """
    findings = []
    for suggestion in suggestions:
        valve = ground.valves[suggestion.valve]
        labelled = f", against its label {'; '.join(valve.labels)}" if valve.labels else ""
        findings.append(
            Finding(
                "zone-suggested",
                valve.name,
                f"The evidence suggests {book.stations[suggestion.key].subject} for valve"
                f" {valve.name}{labelled}: {suggestion.evidence} (margin"
                f" {suggestion.margin:.2f} of 1). It was not adopted.",
                severity=Severity.WARNING if valve.labels else None,
                x_m=valve.x_m,
                y_m=valve.y_m,
            )
        )
    return findings


def last_heard(tally: Tally, ground: Ground) -> tuple[str, Run | None]:
    """Return in words where a zone's wire was last heard, and the longest run traced for it.

    Parameters
    ----------
    tally : Tally
    ground : Ground

    Returns
    -------
    str
        Empty where no run was traced for the zone.
    Run or None
    """
    runs = [ground.runs[i] for i in tally.runs]
    if not runs:
        return "", None
    run = max(runs, key=_length)
    traced = f" for {run.length_m:.0f} m" if run.length_m >= 0 else ""
    there = [v for v in ground.valves if v.run == run.name]
    if run.end_kind == EndKind.VALVE and there:
        label = "; ".join(there[-1].labels)
        carries = f", which carries {name_zone(label)}" if label else ", which carries no zone"
        where = f"at valve {there[-1].name}{carries}"
    else:
        where = _ENDS.get(run.end_kind, "at its end")
    return f"its wire was traced along run {run.name}{traced} and last heard {where}", run


def _length(run: Run) -> float:
    return run.length_m if run.length_m >= 0 else 0.0


def _zone_status(station: Station | None, found: int) -> ZoneStatus:
    if station is None:
        return ZoneStatus.UNLISTED
    if found >= station.valves:
        return ZoneStatus.COMPLETE
    return ZoneStatus.PARTIAL if found else ZoneStatus.MISSING


def _labels_are_habit(ground: Ground) -> bool:
    """Whether valves of this property carry their own labels, rather than their runs."""
    sources = [valve.label_from for valve in ground.valves]
    return sources.count("valve") > sources.count("run")


def _natural(key: Key) -> tuple[str, list[tuple[int, str]]]:
    parts = re.findall(r"\d+|\D+", key[1])
    return key[0], [(int(p), "") if p.isdigit() else (10**9, p) for p in parts]


def _names(tally: Tally, ground: Ground) -> str:
    return ", ".join(ground.valves[i].name for i in tally.valves)


def _zone_finding(
    code: str, tally: Tally, station: Station, text: str, *, at: Run | Valve | None = None
) -> Finding:
    return Finding(
        code,
        tally.subject,
        text[:1].upper() + text[1:],
        source_file=station.source_file,
        source_row=station.source_row,
        column="zone",
        value=station.zone,
        x_m=at.x_m if at else math.nan,
        y_m=at.y_m if at else math.nan,
    )


def _crowded(tally: Tally, station: Station, ground: Ground, *, elsewhere: bool) -> list[Finding]:
    """Tell a wrong label from a wrong count; both are told where either may be.

    A label may be wrong where another zone of the controller lacks a valve, and where the valves
    of a zone of one valve stand on several runs. The count may be wrong where the valves share one
    run, and where no other zone lacks a valve.
    """
    runs = {ground.valves[i].run for i in tally.valves}
    one_wire = len(runs) == 1 and "" not in runs
    several = len(tally.valves) > 1
    mislabelled = several and (elsewhere or (station.most_valves == 1 and not one_wire))
    miscounted = not several or one_wire or not elsewhere
    found = f"{len(tally.valves)} valves" if several else "a valve"
    valves = f"{found} ({_names(tally, ground)})"
    expected = "a spare" if station.kind == "spare" else f"{station.most_valves}"
    at = ground.valves[tally.valves[-1]]
    told = (
        ("zone-claimed-twice", mislabelled, "is claimed by", ""),
        ("valve-count-differs", miscounted, "has", " on the ground"),
    )
    return [
        _zone_finding(
            code, tally, station,
            f"{tally.subject} {verb} {valves}{where}; the list expects {expected}.", at=at,
        )
        for code, holds, verb, where in told
        if holds
    ]  # fmt: skip


def _unlisted_run(tally: Tally, ground: Ground) -> Finding:
    run = ground.runs[tally.runs[0]]
    return Finding(
        "run-without-zone",
        run.name,
        f"Run {run.name} was traced as {tally.subject}, which the list does not have.",
        x_m=run.x_m,
        y_m=run.y_m,
    )


def _too_few(tally: Tally, station: Station, ground: Ground) -> Finding:
    count = "1 valve" if len(tally.valves) == 1 else f"{len(tally.valves)} valves"
    text = (
        f"{tally.subject} has {count} on the ground ({_names(tally, ground)}); the list expects"
        f" {station.valves}."
    )
    return _zone_finding("valve-count-differs", tally, station, text)


def _missing(tally: Tally, station: Station, ground: Ground) -> Finding:
    heard, run = last_heard(tally, ground)
    expected = "a valve" if station.valves == 1 else f"{station.valves} valves"
    text = f"{tally.subject} is listed with {expected}; none was located" + (
        f"; {heard}." if heard else ", and no run was traced for it."
    )
    return _zone_finding("zone-without-valve", tally, station, text, at=run)


def _unseen_master(tally: Tally, station: Station) -> Finding:
    text = f"{tally.subject} is listed as a master valve; it was not located."
    return _zone_finding("not-surveyed", tally, station, text)


def _valve_finding(valve: Valve, text: str) -> Finding:
    return Finding(
        "valve-without-zone",
        valve.name,
        text,
        source_file=valve.source_file,
        source_row=valve.source_row,
        column="zone",
        value=";".join(valve.labels[:_MOST_TOLD]),
        x_m=valve.x_m,
        y_m=valve.y_m,
    )


def _unlisted_text(valve: Valve, key: Key, claims: Claims) -> str:
    zone = name_zone(claims.spelling[key][0])
    if key[0] == UNKNOWN:
        return (
            f"Valve {valve.name} carries {zone}, which stands on several controllers, and nothing"
            " says which of them."
        )
    return f"Valve {valve.name} carries {zone}, which the list does not have."
