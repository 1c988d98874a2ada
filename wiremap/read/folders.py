"""A property folder as a `Property`: which files it holds, and what each is read as.

`read_property` is what the command line and notebooks call. A file that cannot be read is a
finding as long as another one of field locates can.
"""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pandas as pd

from wiremap.errors import EmptyTableError, MissingExtraError, ReadError
from wiremap.model.findings import Finding
from wiremap.model.property import Property
from wiremap.model.settings import Settings
from wiremap.model.tables import DECISIONS, LOCATES_IN, READINGS, REFERENCES_IN, ZONE_LIST
from wiremap.read.base_layers import find_images, read_base
from wiremap.read.codes import read_run_zones
from wiremap.read.files import (
    DATED,
    MOST_COLUMNS,
    Folder,
    describe_unread,
    find_known_reader,
    read_file,
)
from wiremap.read.listing import find_locates, is_data, list_below, list_data
from wiremap.read.locates import read_locates
from wiremap.read.marks import place_marks
from wiremap.read.notes import fold_names, join_notes
from wiremap.read.references import read_decisions, read_readings, read_references
from wiremap.read.settings_file import read_settings
from wiremap.read.stacking import stack_tables
from wiremap.read.zone_lists import read_zone_list

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from wiremap.model.columns import Table
    from wiremap.plugins import RawTable
    from wiremap.read.conversion import Source

_LOGS = frozenset({"nmea", "gpx"})
"""Readers of files that say where the receiver was at what time."""


def read_property(folder: str | Path) -> Property:
    """Read a property folder: settings, field locates, zone list, references, base layers.

    Parameters
    ----------
    folder : path
        Holds ``locates.<ext>`` or ``locates/``, and optionally ``property.toml``, ``zones.csv``,
        ``references.csv``, ``readings.csv``, ``decisions.csv``, ``base.<ext>`` or ``base/`` and
        dated ``visits/``.

    Returns
    -------
    Property
        Tables as declared in `wiremap.model.tables`, findings, and the files with their SHA-256.

    Raises
    ------
    ReadError
        There is no such folder, it holds no field locates, or none of them can be read.
    SettingsError
        property.toml has a value that cannot be used.
    MissingExtraError
        The only file of field locates needs an optional package.

    Examples
    --------
    >>> read_property("no such folder")
    Traceback (most recent call last):
    ...
    wiremap.errors.ReadError: no such folder: there is no such folder; give the folder that holds \
the field locates
    """
    with pd.option_context("mode.string_storage", "python"):  # quicker on tables of this size
        return _read_folder(Path(folder))


def _read_folder(path: Path) -> Property:
    """Return what a property folder holds."""
    if not path.is_dir():
        rule = "this is a file, not a folder" if path.exists() else "there is no such folder"
        remedy = "give the folder that holds the field locates"
        raise ReadError(rule, path=str(path), remedy=remedy)
    settings, findings = read_settings(path)
    here = Folder(path, settings, list(findings))
    files = find_locates(path)
    if not files:
        raise ReadError(
            "the folder holds no field locates",
            path=str(path),
            remedy="put them into locates.csv, locates.gpx or another format, or into locates/",
        )
    here.findings += _unused_sections(here, files) + _odd_entries(here, files)
    locates = _read_locates(here, files)
    return Property(
        folder=path,
        settings=settings,
        locates=locates,
        zones=_read_optional(here, "zones", ZONE_LIST, read_zone_list),
        references=_read_optional(here, "references", REFERENCES_IN, read_references),
        readings=_read_optional(here, "readings", READINGS, read_readings),
        decisions=_read_optional(here, "decisions", DECISIONS, read_decisions),
        base=read_base(path, findings=here.findings, inputs=here.inputs),
        **find_images(path, findings=here.findings, inputs=here.inputs)._asdict(),
        findings=tuple(here.findings),
        inputs=tuple(here.inputs),
    )


def read_visit(
    path: str | Path, *, settings: Settings, date: str = "", operator: str = ""
) -> Property:
    """Read the field files of one visit to a property that is recorded already.

    Parameters
    ----------
    path : path
        A file of field locates; or a folder of such files, which may also hold ``zones.csv``,
        ``references.csv`` and ``readings.csv``.
    settings : Settings
        Of the record. A property.toml in the folder is not used, and a finding says so.
    date : str
        Day of rows that carry none, ISO 8601; where empty, a day in the file's or folder's name.
    operator : str
        Operator of rows that name none.

    Returns
    -------
    Property
        What the visit brought, without base layers.

    Raises
    ------
    ReadError
        There is no such file or folder, or no field locates in it can be read.
    MissingExtraError
        The only file of field locates needs an optional package.
    """
    path = Path(path)
    if not path.exists():
        raise ReadError("there is no such file or folder", path=str(path))
    is_folder = path.is_dir()
    dated = DATED.search(path.name)
    here = Folder(path if is_folder else path.parent, settings, [])
    here.date, here.operator = date or (dated[1] if dated else ""), operator
    files = find_locates(path) or list_data(path) if is_folder else [path]
    if not files:
        raise ReadError("the folder holds no field locates", path=str(path))
    if is_folder and (path / "property.toml").is_file():
        text = "property.toml of the visit was not read: the settings of the record hold."
        here.findings.append(Finding("read-note", "settings", text, source_file="property.toml"))
    locates = _read_locates(here, files)
    tables: dict[str, Any] = {
        name: _read_optional(here, name, table, convert) if is_folder else table.empty()
        for name, table, convert in _LISTS
    }
    return Property(
        folder=here.path,
        settings=settings,
        locates=locates,
        findings=tuple(here.findings),
        inputs=tuple(here.inputs),
        **tables,
    )


def read_decisions_file(path: str | Path) -> pd.DataFrame:
    """Read a file of decisions on suggested zones.

    Parameters
    ----------
    path : path
        CSV or workbook with the columns valve and zone, and optionally controller, accepted, date
        and note.

    Returns
    -------
    DataFrame
        Table ``decisions``.

    Raises
    ------
    ReadError
        There is no such file, it cannot be read, or it names no valve or no zone.
    """
    path = Path(path)
    if not path.is_file():
        raise ReadError("there is no such file", path=str(path))
    here = Folder(path.parent, Settings(), [])
    return stack_tables([read_file(here, path, read_decisions)], DECISIONS)


_LISTS: tuple[tuple[str, Table, Any], ...] = (
    ("zones", ZONE_LIST, read_zone_list),
    ("references", REFERENCES_IN, read_references),
    ("readings", READINGS, read_readings),
    ("decisions", DECISIONS, read_decisions),
)


def _unused_sections(here: Folder, files: Sequence[Path]) -> list[Finding]:
    """Find sections under [files] that name no file."""
    found = []
    known = {here.name_of(p) for p in [*files, *here.path.iterdir()]} | {p.name for p in files}
    for name in here.settings.files:
        if name in known:
            continue
        text = f'property.toml speaks of a file that is not there: files."{name}".'
        advice = "The files are " + ", ".join(here.name_of(p) for p in files[:10]) + "."
        found.append(Finding("unknown-setting", name, text, advice, source_file="property.toml"))
    return found


def _odd_entries(here: Folder, files: Sequence[Path]) -> list[Finding]:
    """Find what is named as input but is no file, and files that stand outside of the folder."""
    stems = ("locates", "zones", "references", "readings", "decisions", "base")
    entries = [p for p in here.path.iterdir() if p.stem.lower().startswith(stems)]
    entries += [p for sub in ("locates", "visits", "base") for p in list_below(here.path, sub)]
    found = []
    for path in sorted(entries):
        if path.is_file() or (path.is_dir() and not path.suffix):
            continue
        what = "a link that leads nowhere" if path.is_symlink() else "no regular file"
        what = "a folder" if path.is_dir() else what
        text = f"What stands under this name is {what}; it was not read."
        advice = "Put the file itself there, or remove the name."
        name = here.name_of(path)
        found.append(Finding("unread-file", name, text, advice, source_file=name))
    root = here.path.resolve()
    for path in files:
        if not path.resolve().is_relative_to(root):
            text = f"The file is a link to {path.resolve()}, outside of the folder; it was read."
            name = here.name_of(path)
            found.append(Finding("read-note", name, text, source_file=name))
    return found


def _read_locates(here: Folder, files: Sequence[Path]) -> pd.DataFrame:
    readers = map(find_known_reader, files)
    has_log = any(reader is not None and reader.name in _LOGS for reader in readers)
    convert = partial(read_locates, has_log=has_log)
    frames, failed = _read_each(here, files, convert)
    if not frames:
        raise next(iter(failed.values()))
    lists: dict[Path, pd.DataFrame] = {}
    if failed:
        points = pd.concat([frame["point"] for frame in frames.values()])
        known = frozenset(fold_names(points.dropna()))
        lists, failed = _read_each(here, list(failed), partial(convert, known=known))
    here.findings += [describe_unread(here.name_of(p), error) for p, error in failed.items()]
    stacked = stack_tables([*frames.values(), *lists.values()], LOCATES_IN)
    noted = join_notes(stacked, lists={here.name_of(path) for path in lists})
    hours = here.settings.locating.utc_offset_h
    placed = place_marks(noted.locates, utc_offset_h=hours)
    notes = [n for n in (noted.note, placed.note) if n] + read_run_zones(placed.locates)
    for note in notes:
        text = f"{note[:1].upper()}{note[1:]}."
        here.findings.append(Finding("read-note", "locates", text))
    return placed.locates.reset_index(drop=True)


def _read_each(
    here: Folder,
    files: Sequence[Path],
    convert: Callable[[RawTable, Source], tuple[pd.DataFrame, list[Finding]]],
) -> tuple[dict[Path, pd.DataFrame], dict[Path, ReadError | MissingExtraError]]:
    """Return the tables of the files that can be read, and why the others cannot."""
    frames: dict[Path, pd.DataFrame] = {}
    failed: dict[Path, ReadError | MissingExtraError] = {}
    columns: set[str] = set()
    for path in files:
        try:
            frame = read_file(here, path, convert)
            if len(columns | set(frame.columns)) > 3 * MOST_COLUMNS:
                rule = f"all files together have more than {3 * MOST_COLUMNS} columns"
                raise ReadError(  # noqa: TRY301 - one file's own trouble, told as such
                    rule, path=here.name_of(path), remedy="give columns one spelling"
                )
            columns |= set(frame.columns)
            frames[path] = frame
        except (ReadError, MissingExtraError) as error:
            failed[path] = error
    return frames, failed


def _read_optional(
    here: Folder,
    stem: str,
    table: Table,
    convert: Callable[[RawTable, Source], tuple[pd.DataFrame, list[Finding]]],
) -> pd.DataFrame:
    """Read the files of one name, such as zones.csv; an empty table where there is none."""
    files = sorted(p for p in here.path.iterdir() if p.is_file() and p.stem.lower() == stem)
    frames = []
    for path in (p for p in files if is_data(p)):
        try:
            frames.append(read_file(here, path, convert))
        except EmptyTableError as error:
            name, text = here.name_of(path), f"{error.rule[:1].upper()}{error.rule[1:]}."
            here.findings.append(Finding("read-note", name, text, source_file=name))
        except (ReadError, MissingExtraError) as error:
            here.findings.append(describe_unread(here.name_of(path), error))
    return stack_tables(frames, table)
