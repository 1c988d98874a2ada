"""Columns that several tables share, and short ways to write one."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiremap.model.columns import Column

if TYPE_CHECKING:
    from enum import StrEnum


def text(name: str, meaning: str, options: type[StrEnum] | None = None) -> Column:
    """Return a column of texts, of a closed set where options are given.

    Parameters
    ----------
    name : str
        Name of the column, its unit last.
    meaning : str
        One line for people.
    options : StrEnum type, optional
        The closed set that the values come from.

    Returns
    -------
    Column
    """
    return Column(name, "text", meaning, options)


def number(name: str, meaning: str) -> Column:
    """Return a column of numbers; the name says the unit.

    Parameters
    ----------
    name : str
        Name of the column, its unit last.
    meaning : str
        One line for people.

    Returns
    -------
    Column
    """
    return Column(name, "number", meaning)


def integer(name: str, meaning: str) -> Column:
    """Return a column of whole numbers, missing ones included.

    Parameters
    ----------
    name : str
        Name of the column, its unit last.
    meaning : str
        One line for people.

    Returns
    -------
    Column
    """
    return Column(name, "integer", meaning)


POINT = text("point", "Identifier of the located point, unique in the property.")
RUN = text("run", "Name of the wire traced.")
ZONE = text("zone", "Zone number(s) as on the controller, several parted by a semicolon.")
CONTROLLER = text("controller", "Controller name.")
RMS = number("position_rms_m", "Horizontal radial RMS of the position, sqrt(sx^2 + sy^2).")
DEPTH = number("depth_m", "Depth of the wire below the ground, plumb.")
DEPTH_SIGMA = number("depth_sigma_m", "One standard deviation of the depth.")
FILE = text("source_file", "Field file, relative to the property folder.")
ROW = integer("source_row", "Row in that file, as a person counts it.")
CHAINAGE = number("chainage_m", "Distance along the run from its start.")
AGE = integer(
    "age_days",
    "Days since the last observation, counted to prepared_on or else to the latest observation.",
)
SEEN = (
    text("first_date", "Date of the first observation, ISO 8601."),
    text("last_date", "Date of the last observation, ISO 8601."),
    integer("observations", "How many locates the row rests on."),
    AGE,
)
