"""The tables of the record drawing: schedule, ties, routing, equipment, findings.

Reads `Contents`; returns tables ready to be set.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from wiremap.draw.sheets.contents import natural_key, numbers, texts
from wiremap.draw.sheets.tables import Column, Table
from wiremap.draw.styles import STYLES
from wiremap.model.cells import flags
from wiremap.model.kinds import EQUIPMENT
from wiremap.model.units import share_text

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiremap.draw.sheets.contents import Contents
    from wiremap.draw.sheets.measures import Units

_SHOWN_ELSEWHERE = ("fault-found", "not-surveyed", "crs-chosen", "accuracy-statement")
_OF_FILES = ("read-note", "guessed-column", "unmapped-column")

MOST_OF_A_KIND = 6
"""Findings of one kind that are spelled out (project choice); more are named in one row."""

MOST_ROWS = 6000
"""Rows of one table that are printed; the layers hold them all."""


def list_tables(contents: Contents, *, text_pt: float) -> list[Table]:
    """Return every table that has rows, in the order in which they are read.

    Parameters
    ----------
    contents : Contents
    text_pt : float
        Size of their letters.

    Returns
    -------
    list of Table
    """
    makers = (
        zone_schedule, tie_table, fault_table, finding_table, equipment_table, route_table,
    )  # fmt: skip
    tables = [make(contents, text_pt=text_pt) for make in makers]
    return [_limit(table) for table in tables if table.rows]


def _limit(table: Table) -> Table:
    if len(table.rows) <= MOST_ROWS:
        return table
    more = len(table.rows) - MOST_ROWS
    note = f"{table.note} {more} further rows stand in the layers only.".strip()
    return Table(table.title, table.columns, table.rows[:MOST_ROWS], table.text_pt, note)


def _words(value: str) -> str:
    return value.replace("_", " ")


def zone_schedule(contents: Contents, *, text_pt: float) -> Table:
    """Return the zone and wire schedule: what the controller lists against what was found.

    Parameters
    ----------
    contents : Contents
    text_pt : float

    Returns
    -------
    Table
        From the schedule, or from the layer ``zones`` where there is no schedule.
    """
    units = contents.units
    frame = contents.schedule if contents.schedule is not None else contents.layer("zones")
    columns = [
        texts(frame, c)
        for c in ("zone", "controller", "name", "valve", "run", "status", "fault", "ohms_status")
    ]
    wire = [
        " ".join(part for part in pair if part)
        for pair in zip(_gauges(texts(frame, "awg")), texts(frame, "wire_color"), strict=True)
    ]
    path = numbers(frame, "path_length_m")
    depth = [
        units.depth(v)
        for v in np.fmin(numbers(frame, "depth_min_m"), numbers(frame, "depth_max_m"))
    ]
    deepest = [units.depth(v, has_unit=False) for v in numbers(frame, "depth_max_m")]
    ohms = [_ohms(value) for value in numbers(frame, "ohms")]
    rows = []
    for n, (zone, controller, name, valve, run, status, fault, judged) in enumerate(
        zip(*columns, strict=True)
    ):
        least = depth[n].removesuffix(f" {units.depth_unit}")
        span = f"{least} to {deepest[n]}" if depth[n] and least != deepest[n] else least
        reading = (
            f"{ohms[n]} {_words(judged)}" if judged not in {"as_expected", "not_read"} else ohms[n]
        )
        rows.append((
            zone, controller, name, valve, run, wire[n], units.length(path[n], has_unit=False),
            span, reading.strip(), _words(status), _words(fault),
        ))  # fmt: skip
    titles = (
        Column("Zone"), Column("Ctrl"), Column("Area", is_prose=True), Column("Valve"),
        Column("Run"), Column("Wire"), Column(f"Path, {units.name}", is_number=True),
        Column(f"Depth, {units.depth_unit}", is_number=True), Column("Ohms", is_number=True),
        Column("Status"), Column("Fault"),
    )  # fmt: skip
    note = "Path: along the mapped wire from the controller. Depth: least and greatest read."
    return _without_empty(Table("Zone and wire schedule", titles, tuple(rows), text_pt, note))


def _without_empty(table: Table) -> Table:
    """Return a table without the columns that no row fills."""
    kept = [n for n in range(len(table.columns)) if any(row[n] for row in table.rows)]
    return Table(
        table.title,
        tuple(table.columns[n] for n in kept),
        tuple(tuple(row[n] for n in kept) for row in table.rows),
        table.text_pt,
        table.note,
    )


def _gauges(gauges: list[str]) -> list[str]:
    return [f"{gauge.removesuffix('.0')} AWG" if gauge else "" for gauge in gauges]


def _ohms(value: float) -> str:
    if math.isnan(value):
        return ""
    return f"{value:.1f}" if math.isfinite(value) else ""


def tie_table(contents: Contents, *, text_pt: float) -> Table:
    """Return the ties of each feature from two permanent references.

    Parameters
    ----------
    contents : Contents
    text_pt : float

    Returns
    -------
    Table
    """
    frame, units = contents.layer("ties"), contents.units
    first, second = numbers(frame, "distance_a_m"), numbers(frame, "distance_b_m")
    angle = numbers(frame, "cut_angle_deg")
    names = (
        texts(frame, c) for c in ("layer", "feature_id", "reference_a", "reference_b", "source")
    )
    hidden = (flags(frame, "blocked_a"), flags(frame, "blocked_b"))
    rows = tuple(
        (
            _singular(layer), feature, a, _hidden(first[n], a_hidden, units), b,
            _hidden(second[n], b_hidden, units), source,
            f"{angle[n]:.0f}°" if math.isfinite(angle[n]) else "",
        )
        for n, (layer, feature, a, b, source, a_hidden, b_hidden) in enumerate(
            zip(*names, *hidden, strict=True)
        )
    )  # fmt: skip
    columns = (
        Column("Kind"), Column("Item"), Column("From reference", is_prose=True),
        Column(units.name, is_number=True), Column("And from", is_prose=True),
        Column(units.name, is_number=True), Column("How"), Column("Cut", is_number=True),
    )  # fmt: skip
    note = (
        "Distances along the ground from two permanent points. Computed ties come from the"
        " located positions; measured ones were taped."
    )
    if any("*" in row[place] for row in rows for place in (3, 5)):
        note += " * A building stands between: computed, no tape reaches along it."
    return Table("Ties to permanent references", columns, rows, text_pt, note)


def _hidden(distance_m: float, is_blocked: bool, units: Units) -> str:  # noqa: FBT001
    """Return a distance of a tie, with a star where a building stands in its way."""
    star = " *" if is_blocked else ""
    return f"{units.length(distance_m, has_unit=False)}{star}"


def _singular(layer: str) -> str:
    return layer.removesuffix("s")


def route_table(contents: Contents, *, text_pt: float) -> Table:
    """Return the dimension points of the routing.

    Parameters
    ----------
    contents : Contents
    text_pt : float

    Returns
    -------
    Table
        Ends, turns, and points at most 100 ft apart, with depth, references and grid position.
    """
    route, units, ties = contents.route, contents.units, contents.route_ties
    references = contents.texts("references", "reference")
    grid = contents.plane.to_grid(route.xy) if len(route.xy) else route.xy
    runs = contents.runs
    names = [natural_key(run) for run in runs]
    along = [units.length(float(v), has_unit=False) for v in route.chainage_m]
    rows = []
    for n in sorted(range(len(route.kind)), key=lambda n: names[route.run[n]]):
        tied = [
            (references[row], units.length(float(away), has_unit=False)) if row >= 0 else ("", "")
            for row, away in ((ties.first[n], ties.first_m[n]), (ties.second[n], ties.second_m[n]))
        ]
        rows.append((
            runs[route.run[n]], along[n], str(route.kind[n]),
            units.depth(*contents.route_depths[n].tolist(), has_unit=False),
            *tied[0], *tied[1], f"{grid[n, 0]:.2f}", f"{grid[n, 1]:.2f}",
        ))  # fmt: skip
    columns = (
        Column("Run"), Column(f"Along, {units.name}", is_number=True), Column("Point"),
        Column(f"Depth, {units.depth_unit}", is_number=True), Column("Reference", is_prose=True),
        Column(units.name, is_number=True), Column("Reference", is_prose=True),
        Column(units.name, is_number=True), *_grid_columns(contents),
    )  # fmt: skip
    note = (
        "Each run is dimensioned at its ends, at turns of 20° or more, and at most 100 ft (30.48 m)"
        " apart. Depth with its 95 % interval. Located, not surveyed."
    )
    return _without_empty(Table("Routing of the wires", columns, tuple(rows), text_pt, note))


def _grid_columns(contents: Contents) -> tuple[Column, Column]:
    """Return the columns of a grid position; which foot the unit is stands in the notes."""
    is_metric = contents.frame is None or contents.frame.metres_per_unit == 1.0
    unit = "m" if is_metric else "ft"
    return Column(f"Easting, {unit}", is_number=True), Column(f"Northing, {unit}", is_number=True)


def equipment_table(contents: Contents, *, text_pt: float) -> Table:
    """Return the rest of the system, and the kinds that were never located.

    Parameters
    ----------
    contents : Contents
    text_pt : float

    Returns
    -------
    Table
    """
    frame = contents.layer("equipment")
    xy = contents.points.get("equipment", np.empty((0, 2)))
    grid = contents.plane.to_grid(xy) if len(xy) else xy
    kinds, labels = texts(frame, "kind"), texts(frame, "label")
    rows = [
        (STYLES["equipment"].of(kind).label, label, f"{e:.2f}", f"{n:.2f}")
        for kind, label, (e, n) in zip(kinds, labels, grid.tolist(), strict=True)
    ]
    missing = [STYLES["equipment"].of(str(k)).label for k in EQUIPMENT if str(k) not in set(kinds)]
    rows += [(label, "not surveyed", "", "") for label in missing]
    columns = (
        Column("Equipment"), Column("Item", is_prose=True), *_grid_columns(contents),
    )  # fmt: skip
    return _without_empty(Table("Equipment", columns, tuple(rows), text_pt))


def fault_table(contents: Contents, *, text_pt: float) -> Table:
    """Return the faults, with what to do first.

    Parameters
    ----------
    contents : Contents
    text_pt : float

    Returns
    -------
    Table
    """
    frame, units = contents.layer("faults"), contents.units
    at, low, high = (numbers(frame, c) for c in ("chainage_m", "chainage_low_m", "chainage_high_m"))
    sure = numbers(frame, "confidence")
    names = (texts(frame, c) for c in ("run", "kind", "status", "evidence", "dig"))
    rows = tuple(
        (
            run, _words(kind), status, units.length(at[n], has_unit=False),
            f"{units.length(low[n], has_unit=False)} to {units.length(high[n], has_unit=False)}"
            if math.isfinite(low[n] + high[n]) else "",
            share_text(sure[n]), units.sentence(evidence), units.sentence(dig),
        )
        for n, (run, kind, status, evidence, dig) in enumerate(zip(*names, strict=True))
    )  # fmt: skip
    columns = (
        Column("Run"), Column("Fault"), Column("State"),
        Column(f"At, {units.name}", is_number=True), Column(f"95 %, {units.name}", is_number=True),
        Column("Sure", is_number=True), Column("It rests on", is_prose=True),
        Column("Dig", is_prose=True),
    )  # fmt: skip
    return Table("Faults", columns, rows, text_pt, "Lengths are along the run, from its start.")


def finding_table(contents: Contents, *, text_pt: float) -> Table:
    """Return the findings but those that the other tables carry.

    Parameters
    ----------
    contents : Contents
    text_pt : float

    Returns
    -------
    Table
        Most severe first. Faults, equipment not surveyed and coordinates have places of their
        own; how the field files were read is no matter of the drawing.
    """
    frame = contents.layer("findings")
    names = [texts(frame, c) for c in ("severity", "code", "subject", "message", "advice")]
    rows = [
        (severity, code, subject, *map(contents.units.sentence, words))
        for severity, code, subject, *words in zip(*names, strict=True)
        if code not in {*_SHOWN_ELSEWHERE, *_OF_FILES}
    ]
    columns = (
        Column("Severity"), Column("Code"), Column("Subject"), Column("Found", is_prose=True),
        Column("What to do", is_prose=True),
    )  # fmt: skip
    of_files = sum(code in _OF_FILES for code in names[1])
    note = f"{of_files} more, on how the field files were read: findings.csv." if of_files else ""
    return Table("Findings", columns, tuple(_gather(rows)), text_pt, note)


def _gather(rows: Sequence[tuple[str, ...]]) -> list[tuple[str, ...]]:
    """Return findings with the many of one kind, unless they are errors, named in one row."""
    kept: list[tuple[str, ...]] = []
    alike: dict[str, list[str]] = {}
    place: dict[str, int] = {}
    for row in rows:
        severity, code, subject = row[:3]
        alike.setdefault(code, []).append(subject)
        if severity == "error" or len(alike[code]) <= MOST_OF_A_KIND:
            kept.append(row)
        elif code not in place:
            place[code] = len(kept)
            kept.append(row)
    for code, at in place.items():
        others = alike[code][MOST_OF_A_KIND:]
        severity, _, _, _, advice = kept[at]
        if len(others) > 1:
            kept[at] = (severity, code, f"{len(others)} more", ", ".join(others), advice)
    return kept
