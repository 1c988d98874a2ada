"""Raw tables of fixed points and of electrical readings."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import pandas as pd

from wiremap.errors import ReadError
from wiremap.model.findings import Finding
from wiremap.model.tables import DECISIONS, READINGS, REFERENCES_IN
from wiremap.read.columns import suggest_mapping
from wiremap.read.conversion import Source, convert_table

if TYPE_CHECKING:
    from wiremap.model.columns import Table
    from wiremap.plugins import RawTable


class ReadRows(NamedTuple):
    """A table as read, and what was found."""

    frame: pd.DataFrame
    findings: list[Finding]


def read_references(raw: RawTable, source: Source) -> ReadRows:
    """Return a raw table as fixed points.

    Parameters
    ----------
    raw : RawTable
    source : Source

    Returns
    -------
    ReadRows
        Table ``references_in``. A point without a name is called after its row, with a finding.

    Raises
    ------
    ReadError
        No column gives a position.
    """
    converted = convert_table(raw, table=REFERENCES_IN, source=source)
    matched = {m.target for m in converted.matches}
    positions = ({"lon", "lat"}, {"easting", "northing"}, {"lat_lon"}, {"lon_lat"})
    if not any(need <= matched for need in (*positions, {"grid_x_m", "grid_y_m"})):
        raise _cannot_map(raw, REFERENCES_IN, "a position", source)
    frame, findings = converted.frame, converted.findings
    nameless = frame["reference"].isna()
    made = pd.Series([f"row {row}" for row in frame.index], index=frame.index, dtype="str")
    frame["reference"] = frame["reference"].fillna(made)
    findings += [
        Finding(
            "bad-value",
            f"{source.file} row {row}",
            f"The reference has no name; it is called 'row {row}'.",
            advice="Give each reference the name that the ties use.",
            source_file=source.file,
            source_row=int(row),
            column="reference",
        )
        for row in frame.index[nameless]
    ]
    return ReadRows(frame, findings)


def read_readings(raw: RawTable, source: Source) -> ReadRows:
    """Return a raw table as electrical readings.

    Parameters
    ----------
    raw : RawTable
    source : Source

    Returns
    -------
    ReadRows
        Table ``readings``.

    Raises
    ------
    ReadError
        No column gives the zone or the value.
    """
    return _read_needed(raw, source, table=READINGS, needed=("zone", "value"))


def read_decisions(raw: RawTable, source: Source) -> ReadRows:
    """Return a raw table as the technician's decisions on suggested zones.

    Parameters
    ----------
    raw : RawTable
    source : Source

    Returns
    -------
    ReadRows
        Table ``decisions``.

    Raises
    ------
    ReadError
        No column gives the valve or the zone.
    """
    return _read_needed(raw, source, table=DECISIONS, needed=("valve", "zone"))


def _read_needed(
    raw: RawTable, source: Source, *, table: Table, needed: tuple[str, str]
) -> ReadRows:
    """Return a raw table as the declared one, once its two key columns are there."""
    converted = convert_table(raw, table=table, source=source)
    matched = {m.target for m in converted.matches}
    if not set(needed) <= matched:
        raise _cannot_map(raw, table, f"a {needed[0]} and a {needed[1]}", source)
    return ReadRows(converted.frame, converted.findings)


def _cannot_map(raw: RawTable, table: Table, what: str, source: Source) -> ReadError:
    names = [str(name) for name in raw.frame.columns]
    found = ", ".join(name[:40] for name in names[:40])
    line = suggest_mapping(names, table=table, matches=[])
    return ReadError(
        f"no columns give {what}; the columns found are {found}",
        path=source.file,
        remedy="name them at the top of property.toml: " + line,
    )
