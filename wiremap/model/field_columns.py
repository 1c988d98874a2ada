"""The columns that people fill in: of each declared input table, with the unit in the heading."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, NamedTuple

from wiremap.model.tables import LOCATES_IN, READINGS, REFERENCES_IN, ZONE_LIST

if TYPE_CHECKING:
    from wiremap.model.columns import Column, Table

Units = Literal["ft", "m"]

FIELD_TABLES: dict[str, Table] = {
    "locates": LOCATES_IN,
    "zones": ZONE_LIST,
    "references": REFERENCES_IN,
    "readings": READINGS,
}
"""Tables that people fill in, by the name of their file."""

_NOT_WRITTEN = {
    "locates_in": {"position_crs", "source_file", "source_row"},
    "zone_list": {"kind", "source_file", "source_row"},
    "references_in": {"position_crs", "source_file", "source_row"},
    "readings": {"source_file", "source_row"},
}
"""Columns that reading fills in itself, by table."""

_SHORT = {"offset_left_m", "offset_right_m", "depth_m", "receiver_height_m"}
"""Lengths that are taped in inches where distances are taped in feet."""


class FieldColumn(NamedTuple):
    """A column to fill in: its heading, its unit (empty where it has none), its declaration."""

    heading: str
    unit: str
    column: Column


def field_columns(table: Table, *, units: Units) -> list[FieldColumn]:
    """Return the columns of a table that people fill in.

    Parameters
    ----------
    table : Table
        One of `FIELD_TABLES`.
    units : str
        ``ft``: feet, and inches for depths and offsets; ``m``: metres.

    Returns
    -------
    list of FieldColumn
        In the declared order; the heading of a length ends in its unit, so that a file says by
        itself what its numbers are.

    Examples
    --------
    >>> [c.heading for c in field_columns(LOCATES_IN, units="ft") if "left" in c.heading]
    ['offset_left_in']
    """
    left_out = _NOT_WRITTEN[table.name]
    return [_head(column, units) for column in table.columns if column.name not in left_out]


def _head(column: Column, units: Units) -> FieldColumn:
    if not column.name.endswith("_m"):
        unit = "deg" if column.name.endswith("_deg") else ""
        return FieldColumn(column.name, unit, column)
    unit = "m" if units == "m" else ("in" if column.name in _SHORT else "ft")
    return FieldColumn(f"{column.name.removesuffix('_m')}_{unit}", unit, column)
