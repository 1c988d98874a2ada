"""A property folder as a `Property`: which files it holds, and what each is read as.

`read_property` is what the command line and notebooks call. A file that cannot be read is a
finding as long as another one of field locates can.
"""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import pandas as pd

from wiremap.errors import MissingExtraError, ReadError, UnknownFormatError
from wiremap.model.findings import Finding
from wiremap.model.kinds import Severity
from wiremap.model.property import InputFile, Property
from wiremap.model.tables import LOCATES_IN, READINGS, REFERENCES_IN, ZONE_LIST
from wiremap.plugins import READERS, FileOptions, registry
from wiremap.read.base_layers import read_base
from wiremap.read.conversion import Source, shorten
from wiremap.read.locates import read_locates
from wiremap.read.marks import place_marks
from wiremap.read.references import read_readings, read_references
from wiremap.read.settings_file import read_settings
from wiremap.read.values import as_text
from wiremap.read.zone_lists import read_zone_list

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from wiremap.model.columns import Table
    from wiremap.model.settings import Settings
    from wiremap.plugins import RawTable, Reader

_SIDECARS = frozenset({".dbf", ".shx", ".prj", ".cpg", ".qpj", ".sbn", ".sbx", ".qmd", ".qml"})
_OTHER_TABLES = ("zones", "references", "readings", "base", "property", "readme", "decisions")
_LOGS = frozenset({"nmea", "gpx"})
"""Readers of files that say where the receiver was at what time."""
_DATED = re.compile(r"(\d{4}-\d\d-\d\d)")


@dataclass
class _Folder:
    """The folder being read: settings, and what was found so far."""

    path: Path
    settings: Settings
    findings: list[Finding]
    inputs: list[InputFile] = field(default_factory=list)

    def name_of(self, file: Path) -> str:
        return file.relative_to(self.path).as_posix()

    def source_of(self, file: Path) -> Source:
        """Return how a file is to be read: its own section, the date of its visit folder."""
        name = self.name_of(file)
        section = self.settings.files.get(name) or self.settings.files.get(file.name)
        written = section.model_dump() if section else {}
        parts = file.relative_to(self.path).parts
        visit = _DATED.search(parts[1]) if parts[0] == "visits" and len(parts) > 1 else None
        if visit and not written.get("date"):
            written["date"] = visit[1]
        return Source(name, self.settings, FileOptions(**written))


def read_property(folder: str | Path) -> Property:
    """Read a property folder: settings, field locates, zone list, references, base layers.

    Parameters
    ----------
    folder : path
        Holds ``locates.<ext>`` or ``locates/``, and optionally ``property.toml``, ``zones.csv``,
        ``references.csv``, ``readings.csv``, ``base.<ext>`` or ``base/`` and dated ``visits/``.

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
    path = Path(folder)
    if not path.is_dir():
        rule = "this is a file, not a folder" if path.exists() else "there is no such folder"
        remedy = "give the folder that holds the field locates"
        raise ReadError(rule, path=str(folder), remedy=remedy)
    settings, findings = read_settings(path)
    here = _Folder(path, settings, list(findings))
    files = find_locates(path)
    if not files:
        raise ReadError(
            "the folder holds no field locates",
            path=str(folder),
            remedy="put them into locates.csv, locates.gpx or another format, or into locates/",
        )
    here.findings += _unused_sections(here, files)
    locates = _read_locates(here, files)
    return Property(
        folder=path,
        settings=settings,
        locates=locates,
        zones=_read_optional(here, "zones", ZONE_LIST, read_zone_list),
        references=_read_optional(here, "references", REFERENCES_IN, read_references),
        readings=_read_optional(here, "readings", READINGS, read_readings),
        base=read_base(path, findings=here.findings, inputs=here.inputs),
        findings=tuple(here.findings),
        inputs=tuple(here.inputs),
    )


def find_locates(folder: Path) -> list[Path]:
    """Return the files of field locates in a property folder, in the order they are read.

    Parameters
    ----------
    folder : Path

    Returns
    -------
    list of Path
        ``locates*.<ext>``, then what is below ``locates/``, then below ``visits/``; each sorted.
        Hidden files, lock files, shapefile parts and read-me files are left out.
    """
    top = [p for p in folder.iterdir() if p.is_file() and p.stem.lower().startswith("locates")]
    nested = [p for p in (folder / "locates").rglob("*") if p.is_file()]
    visits = [p for p in (folder / "visits").rglob("*") if p.is_file()]
    visits = [p for p in visits if not p.stem.lower().startswith(_OTHER_TABLES)]
    return [p for group in (top, nested, visits) for p in sorted(group) if _is_data(p)]


def _is_data(path: Path) -> bool:
    name = path.name.lower()
    hidden = name.startswith((".", "~$", "readme")) or name.endswith((".aux.xml", "-wal", "-shm"))
    return not hidden and path.suffix.lower() not in _SIDECARS


def _unused_sections(here: _Folder, files: Sequence[Path]) -> list[Finding]:
    """Find sections under [files] that name no file."""
    found = []
    for name in here.settings.files:
        if (here.path / name).is_file() or any(p.name == name for p in files):
            continue
        text = f'property.toml speaks of a file that is not there: files."{name}".'
        advice = "The files are " + ", ".join(here.name_of(p) for p in files[:10]) + "."
        found.append(Finding("unknown-setting", name, text, advice, source_file="property.toml"))
    return found


def hash_file(path: Path) -> str:
    """Return the SHA-256 of a file.

    Parameters
    ----------
    path : Path

    Returns
    -------
    str
        Hexadecimal.
    """
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


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
            frame, found = convert(raw, source)
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
    whole = frames[0] if len(frames) == 1 else pd.concat(_align(frames))
    here.inputs.append(InputFile(source.file, hash_file(path), reader.name, len(whole)))
    return whole


def _left_aside(raw: RawTable, reason: ReadError, source: Source) -> Finding:
    part = raw.part or "a table"
    text = f"Of {part}, {len(raw.frame)} rows were left aside: {reason.rule}."
    advice = f"If they are wanted, {reason.remedy}."
    severity = Severity.WARNING
    return Finding("read-note", source.file, text, advice, severity, source_file=source.file)


def _read_locates(here: _Folder, files: Sequence[Path]) -> pd.DataFrame:
    frames: list[pd.DataFrame] = []
    errors: list[ReadError | MissingExtraError] = []
    readers = (registry(READERS).for_suffix(path.suffix) for path in files)
    has_log = any(reader is not None and reader.name in _LOGS for reader in readers)
    for path in files:
        try:
            frames.append(_read_file(here, path, partial(read_locates, has_log=has_log)))
        except (ReadError, MissingExtraError) as error:
            errors.append(error)
            here.findings.append(_unread(here.name_of(path), error))
    if not frames:
        raise errors[0]
    placed = place_marks(_stack(frames, LOCATES_IN))
    if placed.note:
        here.findings.append(Finding("read-note", "locates", f"{placed.note}."))
    return placed.locates.reset_index(drop=True)


def _align(frames: list[pd.DataFrame]) -> list[pd.DataFrame]:
    """Give columns beyond the contract one spelling and one type over all files."""
    spelled: dict[str, str] = {}
    for frame in frames:
        for name in frame.columns:
            spelled.setdefault(name.lower(), name)
    aligned = [frame.rename(columns=lambda name: spelled[name.lower()]) for frame in frames]
    for name in spelled.values():
        holders = [frame for frame in aligned if name in frame]
        if len({frame[name].dtype for frame in holders}) > 1:
            for frame in holders:
                frame[name] = as_text(frame[name])
    return aligned


def _stack(frames: list[pd.DataFrame], table: Table) -> pd.DataFrame:
    return _conform(table, frames[0] if len(frames) == 1 else pd.concat(_align(frames)))


def _conform(table: Table, frame: pd.DataFrame) -> pd.DataFrame:
    conformed: pd.DataFrame = table.conform(frame)
    return conformed


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
    for path in (p for p in files if _is_data(p)):
        try:
            frames.append(_read_file(here, path, convert))
        except (ReadError, MissingExtraError) as error:
            here.findings.append(_unread(here.name_of(path), error))
    return _stack(frames, table) if frames else _conform(table, pd.DataFrame())
