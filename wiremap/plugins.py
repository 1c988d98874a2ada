"""Readers and writers, found by entry point: the door that built-in formats use too.

A reader turns one file into raw tables; a writer turns the layers of an as-built into files.
Groups: ``wiremap.readers`` and ``wiremap.writers``. Each entry point names a `Reader` or a
`Writer` object. A plugin that fails to load is skipped with a warning.
"""

from __future__ import annotations

import warnings
from dataclasses import dataclass, field
from functools import cache
from importlib import import_module
from importlib.metadata import EntryPoint, entry_points
from typing import TYPE_CHECKING, Any

from wiremap.errors import WiremapWarning

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from pathlib import Path

    import pandas as pd

READERS = "wiremap.readers"
WRITERS = "wiremap.writers"


@dataclass(frozen=True)
class FileOptions:
    """How one file is to be read: its ``[files."name"]`` table of property.toml.

    Every field is optional; what is not given is detected and announced.
    """

    header: bool | None = None
    columns: tuple[str, ...] = ()
    crs: str | None = None
    encoding: str | None = None
    delimiter: str | None = None
    decimal: str | None = None
    date: str | None = None
    operator: str | None = None
    sheet: str | None = None
    day_first: bool | None = None


@dataclass(frozen=True)
class Problem:
    """One cell or row that a reader could not take; it becomes a finding."""

    rule: str
    row: int | None = None
    column: str = ""
    value: str = ""
    remedy: str = ""
    code: str = "bad-value"


@dataclass(frozen=True)
class RawTable:
    """What a reader found, before any column is understood.

    Attributes
    ----------
    frame : DataFrame
        Cells as found: text, or numbers, dates and booleans where the format has types. Column
        names as in the file. The index is the row number that a person sees in the file
        (the line of a CSV, the row of a sheet, the feature's number counted from 1).
        Vector formats add their positions as ``lon`` and ``lat``, or ``easting`` and
        ``northing`` where their CRS is projected.
    crs : str or None
        CRS of those positions, as an authority code or WKT, where the file carries one.
    part : str
        Sheet or layer name, where a file holds several tables.
    notes : tuple of str
        What was detected: encoding, delimiter, decimal comma, layers.
    problems : tuple of Problem
        Rows and cells that could not be taken.
    decimal_comma : bool
        Numbers in text cells use a decimal comma.
    titles : tuple of str
        Rows that stand above the header, each as one text.
    """

    frame: pd.DataFrame
    crs: str | None = None
    part: str = ""
    notes: tuple[str, ...] = ()
    problems: tuple[Problem, ...] = ()
    decimal_comma: bool = False
    titles: tuple[str, ...] = ()


@dataclass(frozen=True)
class Reader:
    """A format that can be read.

    Attributes
    ----------
    name : str
        Short name, as ``wiremap formats`` shows it.
    suffixes : tuple of str
        File name endings, lower case, with the dot.
    read : callable
        ``read(path, options) -> list of RawTable``. Raises `wiremap.errors.ReadError`.
    meaning : str
        One line for people.
    """

    name: str
    suffixes: tuple[str, ...]
    read: Callable[[Path, FileOptions], list[RawTable]]
    meaning: str = ""


@dataclass(frozen=True)
class Writer:
    """A format that an as-built is written to.

    Attributes
    ----------
    name : str
        Short name, as ``wiremap formats`` shows it.
    suffixes : tuple of str
        Endings of the files it makes.
    write : callable
        ``write(layers, target, context) -> list of Path``: layers by name, the folder to write
        into, and a mapping with ``name``, ``slug`` and ``settings``. Called on a staging folder:
        what it returns is moved into place once every writer is done.
    meaning : str
        One line for people.
    default : bool
        Written by ``wiremap build`` without being asked for.
    """

    name: str
    suffixes: tuple[str, ...]
    write: Callable[[Mapping[str, pd.DataFrame], Path, Mapping[str, Any]], list[Path]]
    meaning: str = ""
    default: bool = True


@dataclass(frozen=True)
class Registry:
    """The readers or writers of this installation, by name."""

    group: str
    formats: Mapping[str, Any] = field(default_factory=dict)
    origins: Mapping[str, str] = field(default_factory=dict)

    def for_suffix(self, suffix: str) -> Any | None:
        """Return the format that claims a file name ending, or None."""
        lowered = suffix.lower()
        return next((f for f in self.formats.values() if lowered in f.suffixes), None)


_BUILT_IN = {
    READERS: {
        "delimited": "wiremap.read.delimited:READER",
        "workbook": "wiremap.read.workbook:READER",
        "gpx": "wiremap.read.gpx:READER",
        "nmea": "wiremap.read.nmea:READER",
        "geojson": "wiremap.read.vector:GEOJSON",
        "geopackage": "wiremap.read.vector:GEOPACKAGE",
        "shapefile": "wiremap.read.vector:SHAPEFILE",
        "kml": "wiremap.read.kml:READER",
        "dxf": "wiremap.read.dxf:READER",
    },
    WRITERS: {
        "geopackage": "wiremap.write.geopackage:WRITER",
        "geojson": "wiremap.write.geojson:WRITER",
        "findings": "wiremap.write.findings:WRITER",
        "schedule": "wiremap.write.schedule:WRITER",
        "webmap": "wiremap.write.webmap:WRITER",
        "sheets": "wiremap.write.sheets:WRITER",
        "dxf": "wiremap.write.dxf:WRITER",
        "kml": "wiremap.write.kml:KML",
        "kmz": "wiremap.write.kml:KMZ",
    },
}


def _entries(group: str) -> list[EntryPoint]:
    """Return the group's entry points; built-ins come first and are there without metadata."""
    built_in = [EntryPoint(name, value, group) for name, value in _BUILT_IN[group].items()]
    installed = entry_points(group=group)
    known = {(e.name, e.value) for e in built_in}
    return built_in + [e for e in installed if (e.name, e.value) not in known]


_KINDS: dict[str, type[Reader | Writer]] = {READERS: Reader, WRITERS: Writer}


def _load(entry: EntryPoint) -> Any:
    """Return the object that an entry point names, which must be a reader or a writer."""
    module, _, attribute = entry.value.partition(":")
    found, kind = getattr(import_module(module), attribute), _KINDS[entry.group]
    if not isinstance(found, kind) or not isinstance(found.suffixes, tuple):
        raise TypeError(f"it is no {kind.__name__} with a tuple of suffixes")
    return found


@cache
def registry(group: str) -> Registry:
    """Return the readers or writers of this installation.

    Parameters
    ----------
    group : str
        `READERS` or `WRITERS`.

    Returns
    -------
    Registry
        Formats by name. A later entry point with a name that is taken is skipped with a warning,
        as is one that fails to load.

    Warns
    -----
    WiremapWarning
        For each plugin that is skipped.

    Examples
    --------
    >>> registry(READERS).for_suffix(".csv").name
    'delimited'
    """
    formats: dict[str, Any] = {}
    origins: dict[str, str] = {}
    for entry in _entries(group):
        if entry.name in formats:
            _skip(entry, "the name is taken")
            continue
        try:
            formats[entry.name] = _load(entry)
        except (Exception, SystemExit) as error:  # noqa: BLE001 - a broken plugin stops no build
            _skip(entry, f"{type(error).__name__}: {error}")
            continue
        distribution = entry.dist
        origins[entry.name] = (
            f"{distribution.name} {distribution.version}" if distribution else "wiremap"
        )
    return Registry(group, formats, origins)


def _skip(entry: EntryPoint, reason: str) -> None:
    warnings.warn(
        f"plugin {entry.name} ({entry.value}) skipped: {reason}", WiremapWarning, stacklevel=3
    )
