"""A property folder as a `Property`: which files it holds, and what each is read as.

`read_property` is what the command line and notebooks call. A file that cannot be read is a
finding as long as another one of field locates can.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pandas as pd

from wiremap.errors import MissingExtraError, ReadError, UnknownFormatError
from wiremap.model.findings import Finding
from wiremap.model.kinds import Severity
from wiremap.model.property import InputFile, Property
from wiremap.model.settings import Settings
from wiremap.model.tables import DECISIONS, LOCATES_IN, READINGS, REFERENCES_IN, ZONE_LIST
from wiremap.plugins import READERS, FileOptions, registry
from wiremap.read.base_layers import find_aerial, read_base
from wiremap.read.conversion import Source, shorten
from wiremap.read.headers import name_columns
from wiremap.read.listing import find_locates, hash_file, is_data, list_data
from wiremap.read.locates import read_locates
from wiremap.read.marks import place_marks
from wiremap.read.references import read_decisions, read_readings, read_references
from wiremap.read.settings_file import read_settings
from wiremap.read.stacking import align_columns, stack_tables
from wiremap.read.zone_lists import read_zone_list

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from wiremap.model.columns import Table
    from wiremap.plugins import RawTable, Reader

_LOGS = frozenset({"nmea", "gpx"})
"""Readers of files that say where the receiver was at what time."""
MOST_COLUMNS = 500
"""Most columns of one table; project choice, a GeoPackage layer holds fewer than 2,000."""
_DATED = re.compile(r"(\d{4}-\d\d-\d\d)")


@dataclass
class _Folder:
    """The folder being read: settings, and what was found so far."""

    path: Path
    settings: Settings
    findings: list[Finding]
    inputs: list[InputFile] = field(default_factory=list)
    date: str = ""
    operator: str = ""

    def name_of(self, file: Path) -> str:
        # a name that is no text cannot be written to any output
        return file.relative_to(self.path).as_posix().encode("utf-8", "replace").decode()

    def source_of(self, file: Path) -> Source:
        """Return how a file is to be read: its own section, the date of its visit folder."""
        name = self.name_of(file)
        section = self.settings.files.get(name) or self.settings.files.get(file.name)
        written = section.model_dump() if section else {}
        parts = file.relative_to(self.path).parts
        visit = _DATED.search(parts[1]) if parts[0] == "visits" and len(parts) > 1 else None
        if visit and not written.get("date"):
            written["date"] = visit[1]
        written["date"] = written.get("date") or self.date or None
        written["operator"] = written.get("operator") or self.operator or None
        return Source(name, self.settings, FileOptions(**written))


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
    here = _Folder(path, settings, list(findings))
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
        aerial=find_aerial(path, findings=here.findings),
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
    dated = _DATED.search(path.name)
    here = _Folder(path if is_folder else path.parent, settings, [])
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
    here = _Folder(path.parent, Settings(), [])
    return stack_tables([_read_file(here, path, read_decisions)], DECISIONS)


_LISTS: tuple[tuple[str, Table, Any], ...] = (
    ("zones", ZONE_LIST, read_zone_list),
    ("references", REFERENCES_IN, read_references),
    ("readings", READINGS, read_readings),
    ("decisions", DECISIONS, read_decisions),
)


def _unused_sections(here: _Folder, files: Sequence[Path]) -> list[Finding]:
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


def _odd_entries(here: _Folder, files: Sequence[Path]) -> list[Finding]:
    """Find what is named as input but is no file, and files that stand outside of the folder."""
    stems = ("locates", "zones", "references", "readings", "decisions", "base")
    entries = [p for p in here.path.iterdir() if p.stem.lower().startswith(stems)]
    entries += [p for sub in ("locates", "visits", "base") for p in (here.path / sub).rglob("*")]
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


def _find_reader(path: Path, name: str) -> Reader:
    reader: Reader | None = registry(READERS).for_suffix(path.suffix)
    if reader is None:
        known = sorted({s for r in registry(READERS).formats.values() for s in r.suffixes})
        rule = f"no reader knows files ending in {path.suffix or 'nothing'}"
        raise UnknownFormatError(rule, path=name, remedy="use one of " + " ".join(known))
    return reader


def _read_raw(reader: Reader, path: Path, source: Source) -> list[RawTable]:
    """Let a reader read; whatever it raises becomes an error that names the file."""
    try:
        return reader.read(path, source.options)
    except ReadError as error:
        error.path = source.file
        raise
    except MissingExtraError:
        raise
    except Exception as error:
        rule = f"the reader {reader.name!r} failed: {type(error).__name__}: {shorten(error)}"
        remedy = "export the file in another format"
        raise ReadError(rule, path=source.file, remedy=remedy) from error


def _read_file(
    here: _Folder,
    path: Path,
    convert: Callable[[RawTable, Source], tuple[pd.DataFrame, list[Finding]]],
) -> pd.DataFrame:
    """Read one file with whichever reader knows it; its tables one below the other."""
    source = here.source_of(path)
    reader = _find_reader(path, source.file)
    raws = _read_raw(reader, path, source)
    frames: list[pd.DataFrame] = []
    unmapped: list[tuple[RawTable, ReadError]] = []
    findings: list[Finding] = []
    for raw in raws:
        try:
            _require_few_columns(raw, source)
            frame, found = convert(_tell_columns_apart(raw), source)
        except ReadError as error:
            unmapped.append((raw, error))
            continue
        frames.append(frame)
        findings += found
    if not frames:
        empty = ReadError("the file holds no rows", path=source.file, remedy="export it again")
        raise unmapped[0][1] if unmapped else empty
    findings += [_left_aside(raw, reason, source) for raw, reason in unmapped]
    here.findings += findings
    whole = frames[0] if len(frames) == 1 else pd.concat(align_columns(frames))
    here.inputs.append(InputFile(source.file, hash_file(path), reader.name, len(whole)))
    return whole


def _require_few_columns(raw: RawTable, source: Source) -> None:
    count = raw.frame.shape[1]
    if count > MOST_COLUMNS:
        rule = f"the table has more than {MOST_COLUMNS} columns"
        remedy = "keep the columns that say something of the points"
        raise ReadError(rule, path=source.file, value=str(count), remedy=remedy)


def _tell_columns_apart(raw: RawTable) -> RawTable:
    """Return a table in which no two columns have one name, whatever their case."""
    names = [str(name) for name in raw.frame.columns]
    if len({name.lower() for name in names}) == len(names):
        return raw
    named = name_columns(names, width=len(names))
    frame = raw.frame.set_axis(named.names, axis="columns")
    return replace(raw, frame=frame, problems=(*raw.problems, *named.problems))


def _left_aside(raw: RawTable, reason: ReadError, source: Source) -> Finding:
    part = raw.part or "a table"
    text = f"Of {part}, {len(raw.frame)} rows were left aside: {reason.rule}."
    advice = f"If they are wanted, {reason.remedy}."
    severity = Severity.WARNING
    return Finding("read-note", source.file, text, advice, severity, source_file=source.file)


def _read_locates(here: _Folder, files: Sequence[Path]) -> pd.DataFrame:
    frames: list[pd.DataFrame] = []
    columns: set[str] = set()
    errors: list[ReadError | MissingExtraError] = []
    readers = (registry(READERS).for_suffix(path.suffix) for path in files)
    has_log = any(reader is not None and reader.name in _LOGS for reader in readers)
    for path in files:
        try:
            frame = _read_file(here, path, partial(read_locates, has_log=has_log))
            if len(columns | set(frame.columns)) > 3 * MOST_COLUMNS:
                rule = f"all files together have more than {3 * MOST_COLUMNS} columns"
                raise ReadError(  # noqa: TRY301 - one file's own trouble, told as such
                    rule, path=here.name_of(path), remedy="give columns one spelling"
                )
            columns |= set(frame.columns)
            frames.append(frame)
        except (ReadError, MissingExtraError) as error:
            errors.append(error)
            here.findings.append(_unread(here.name_of(path), error))
    if not frames:
        raise errors[0]
    placed = place_marks(stack_tables(frames, LOCATES_IN))
    if placed.note:
        here.findings.append(Finding("read-note", "locates", f"{placed.note}."))
    return placed.locates.reset_index(drop=True)


def _unread(name: str, error: ReadError | MissingExtraError) -> Finding:
    if isinstance(error, MissingExtraError):
        return Finding("unread-file", name, f"{error}.", source_file=name)
    got = f", got {error.value}" if error.value else ""
    rule = f"{error.rule[:1].upper()}{error.rule[1:]}{got}."
    advice = f"{error.remedy[:1].upper()}{error.remedy[1:]}." if error.remedy else ""
    return Finding("unread-file", name, rule, advice, source_file=name, source_row=error.row)


def _read_optional(
    here: _Folder,
    stem: str,
    table: Table,
    convert: Callable[[RawTable, Source], tuple[pd.DataFrame, list[Finding]]],
) -> pd.DataFrame:
    """Read the files of one name, such as zones.csv; an empty table where there is none."""
    files = sorted(p for p in here.path.iterdir() if p.is_file() and p.stem.lower() == stem)
    frames = []
    for path in (p for p in files if is_data(p)):
        try:
            frames.append(_read_file(here, path, convert))
        except (ReadError, MissingExtraError) as error:
            here.findings.append(_unread(here.name_of(path), error))
    return stack_tables(frames, table)
