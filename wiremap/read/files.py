"""One file of a property folder as a table of the contract: its reader, its options, its faults."""

from __future__ import annotations

import re
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import pandas as pd

from wiremap.errors import MissingExtraError, ReadError, UnknownFormatError, WiremapError
from wiremap.model.findings import Finding
from wiremap.model.kinds import Severity
from wiremap.model.property import InputFile
from wiremap.plugins import READERS, FileOptions, registry
from wiremap.read.conversion import Source
from wiremap.read.headers import name_columns
from wiremap.read.listing import hash_file
from wiremap.read.reports import shorten
from wiremap.read.sniffing import holds_log
from wiremap.read.stacking import align_columns

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from wiremap.model.settings import Settings
    from wiremap.plugins import RawTable, Reader

MOST_COLUMNS = 500
"""Most columns of one table; project choice, a GeoPackage layer holds fewer than 2,000."""
DATED = re.compile(r"(\d{4}-\d\d-\d\d)")
"""A day in the name of a file or folder."""


@dataclass
class Folder:
    """The folder being read: settings, and what was found so far."""

    path: Path
    settings: Settings
    findings: list[Finding]
    inputs: list[InputFile] = field(default_factory=list)
    date: str = ""
    operator: str = ""

    def name_of(self, file: Path) -> str:
        """Return a file's name within the folder, as findings and settings write it."""
        # a name that is no text cannot be written to any output
        return file.relative_to(self.path).as_posix().encode("utf-8", "replace").decode()

    def source_of(self, file: Path) -> Source:
        """Return how a file is to be read: its own section, the date of its visit folder."""
        name = self.name_of(file)
        section = self.settings.files.get(name) or self.settings.files.get(file.name)
        written = section.model_dump() if section else {}
        parts = file.relative_to(self.path).parts
        visit = DATED.search(parts[1]) if parts[0].lower() == "visits" and len(parts) > 1 else None
        if visit and not written.get("date"):
            written["date"] = visit[1]
        written["date"] = written.get("date") or self.date or None
        written["operator"] = written.get("operator") or self.operator or None
        return Source(name, self.settings, FileOptions(**written))


def find_known_reader(path: Path) -> Reader | None:
    """Return the reader of a file's ending; a receiver's log may end like any text.

    Parameters
    ----------
    path : Path

    Returns
    -------
    Reader or None
        None where no reader knows the ending.
    """
    readers = registry(READERS)
    reader: Reader | None = readers.for_suffix(path.suffix)
    is_text = reader is not None and reader.name == "delimited"
    return readers.formats.get("nmea", reader) if is_text and holds_log(path) else reader


def _find_reader(path: Path, name: str) -> Reader:
    reader = find_known_reader(path)
    if reader is None:
        known = sorted({s for r in registry(READERS).formats.values() for s in r.suffixes})
        rule = f"no reader knows files ending in {path.suffix or 'nothing'}"
        raise UnknownFormatError(rule, path=name, remedy="use one of " + " ".join(known))
    return reader


@contextmanager
def _blamed(reader: Reader, source: Source) -> Iterator[None]:
    """Turn whatever a reader raises, or what it read raises, into an error that names the file."""
    try:
        yield
    except ReadError as error:
        error.path = source.file
        raise
    except WiremapError:
        raise
    except (Exception, SystemExit) as error:
        rule = f"the reader {reader.name!r} failed: {type(error).__name__}: {shorten(error)}"
        remedy = "export the file in another format"
        raise ReadError(rule, path=source.file, remedy=remedy) from error


def read_file(
    here: Folder,
    path: Path,
    convert: Callable[[RawTable, Source], tuple[pd.DataFrame, list[Finding]]],
) -> pd.DataFrame:
    """Read one file with whichever reader knows it; its tables one below the other.

    Parameters
    ----------
    here : Folder
        Takes the findings and the file's entry among the inputs.
    path : Path
    convert : callable
        Takes a raw table and its source; returns a table of the contract and findings.

    Returns
    -------
    DataFrame

    Raises
    ------
    ReadError
        No reader knows the file or it fails, or none of its tables can be used.
    MissingExtraError
        The reader needs an optional package.
    """
    source = here.source_of(path)
    reader = _find_reader(path, source.file)
    with _blamed(reader, source):
        raws = list(reader.read(path, source.options))
    frames: list[pd.DataFrame] = []
    unmapped: list[tuple[RawTable, ReadError]] = []
    findings: list[Finding] = []
    for raw in raws:
        try:
            with _blamed(reader, source):
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


def describe_unread(name: str, error: ReadError | MissingExtraError) -> Finding:
    """Return the finding of a file that could not be read.

    Parameters
    ----------
    name : str
        Of the file within the folder.
    error : ReadError or MissingExtraError

    Returns
    -------
    Finding
    """
    if isinstance(error, MissingExtraError):
        return Finding("unread-file", name, f"{error}.", source_file=name)
    got = f", got {error.value}" if error.value else ""
    rule = f"{error.rule[:1].upper()}{error.rule[1:]}{got}."
    advice = f"{error.remedy[:1].upper()}{error.remedy[1:]}." if error.remedy else ""
    return Finding("unread-file", name, rule, advice, source_file=name, source_row=error.row)
