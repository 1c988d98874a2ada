"""A raw table becomes a table of the contract: columns matched, cells read, the rest kept.

Takes one `RawTable`; gives a frame with the declared columns and findings for what could not be
taken. A cell that cannot be used is emptied and reported; its row stays.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd

from wiremap.model.settings import Settings
from wiremap.model.units import METRES_PER_UNIT, parse_length
from wiremap.plugins import FileOptions
from wiremap.read.angles import read_angles, read_packed
from wiremap.read.axes import Axes, describe_axes
from wiremap.read.columns import (
    PACKED,
    RMS_PARTS,
    SIDES,
    Match,
    has_unit,
    match_columns,
    squeeze,
)
from wiremap.read.dates import join_times, read_dates
from wiremap.read.positions import choose_positions, find_blank_positions, sign_angles
from wiremap.read.reports import (
    extra_name,
    note_reading,
    report_cells,
    report_height,
    report_matches,
    report_problems,
    report_unit,
)
from wiremap.read.synonyms import SYSTEM_NAMES, TIMES_OF_DAY
from wiremap.read.values import (
    Cells,
    as_text,
    parse_number,
    read_integers,
    read_lengths,
    read_numbers,
    read_ohms,
    read_zones,
    spread_text,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiremap.model.columns import Column, Table
    from wiremap.model.findings import Finding
    from wiremap.plugins import RawTable

WRONG_GUESS = 0.5
"""Share of bad cells beyond which a column guessed by its name is let go (project choice)."""
_UNIT_OF_SYSTEM = re.compile(r"\((ftUS|ft|m)\)", re.IGNORECASE)
_UNIT_LAST = re.compile(r".*\d\s*[A-Za-z'\"]+\.?")


@dataclass(frozen=True)
class Source:
    """Where a raw table came from: its file in the folder, and how that file is to be read."""

    file: str
    settings: Settings = field(default_factory=Settings)
    options: FileOptions = field(default_factory=FileOptions)


class Converted(NamedTuple):
    """A table of the contract, how its columns were matched, and what was found."""

    frame: pd.DataFrame
    matches: list[Match]
    findings: list[Finding]


def convert_table(raw: RawTable, *, table: Table, source: Source) -> Converted:
    """Return a raw table as a table of the contract.

    Parameters
    ----------
    raw : RawTable
    table : Table
        `LOCATES_IN`, `ZONE_LIST`, `REFERENCES_IN` or `READINGS`.
    source : Source

    Returns
    -------
    Converted
        The frame has every declared column, further columns of the file behind them, and the
        index of the raw frame. Cells that cannot be used are empty and have findings.
    """
    frame = raw.frame
    crs = raw.crs or source.options.crs or source.settings.coordinates.input_crs
    axes = describe_axes(crs)
    names = [str(name) for name in frame.columns]
    frame = frame.set_axis(names, axis="columns")
    matches = match_columns(
        names, table=table, own=source.settings.columns, is_geographic=axes.is_geographic
    )
    raw, timed = _join_times(raw, matches)
    frame = raw.frame.set_axis(names, axis="columns")
    blank = find_blank_positions(matches, frame)
    names = [name for name in names if name not in blank]
    matches = choose_positions([m for m in matches if m.source not in blank], axes, frame)
    findings = report_problems(raw.problems, file=source.file)
    findings += [note_reading(source.file, note, part=raw.part) for note in raw.notes]
    columns: dict[str, pd.Series | np.ndarray] = {}
    cells = _CellReader(raw, source, axes)
    for match in matches:
        columns |= cells.read(match, table)
    cells.join(columns, matches)
    matches = [match for match in matches if match not in cells.refused]
    told = [name for name in names if name != timed]
    findings += report_matches(told, matches, file=source.file)
    if "position_crs" in table.column_names:
        geographic = bool({"lon", "lat"} & set(columns)) and "easting" not in columns
        columns["position_crs"] = _constant(axes.geographic if geographic and not axes.is_geographic
                                            else crs, frame.index)  # fmt: skip
    columns["source_file"] = _constant(source.file, frame.index)
    columns["source_row"] = np.asarray(frame.index)
    extras = {
        extra_name(name): _keep(frame[name])
        for name in names
        if name not in {m.source for m in matches}
    }
    return Converted(
        _assemble(columns, extras, table, frame.index), matches, findings + cells.findings
    )


def _join_times(raw: RawTable, matches: Sequence[Match]) -> tuple[RawTable, str]:
    """Put the times of day of one column behind the dates of another; return that column too."""
    date = next((m.source for m in matches if m.target == "date"), "")
    time = next((n for n in map(str, raw.frame.columns) if squeeze(n) in TIMES_OF_DAY), "")
    if not date or not time or date == time or time in {m.source for m in matches}:
        return raw, ""
    joined = join_times(raw.frame[date], raw.frame[time])
    if joined is None:
        return raw, ""
    note = f"the times of column {time!r} were put behind the dates of column {date!r}"
    return replace(raw, frame=raw.frame.assign(**{date: joined}), notes=(*raw.notes, note)), time


class _CellReader:
    """Reads one column after another of a raw table, and keeps what was found."""

    def __init__(self, raw: RawTable, source: Source, axes: Axes) -> None:
        self.raw, self.source, self.axes = raw, source, axes
        self.findings: list[Finding] = []
        self.refused: list[Match] = []

    def read(self, match: Match, table: Table) -> dict[str, pd.Series | np.ndarray]:
        """Return the table columns that one column of the file fills."""
        cells = self.raw.frame.iloc[:, self._place(match.source)]
        if match.target in PACKED:
            return self._read_packed(cells, match)
        if match.target in SIDES:
            return {match.target: as_text(cells)}
        if match.target in RMS_PARTS:
            column = next(c for c in table.columns if c.name == "h_rms_m")
            return {match.target: self._read_values(cells, match, column).data}
        column = next(c for c in table.columns if c.name == match.target)
        if column.name == "zone":
            return {"zone": read_zones(cells)}
        if column.type == "text" and column.name != "date":
            text = as_text(cells)
            if column.name == "run" and match.how == "meaning" and _is_counter(text):
                self.refused.append(match)
                return {}
            return {column.name: text}
        read = self._read_values(cells, match, column)
        is_position = column.name in {"lon", "lat", "easting", "northing"}
        if match.how == "meaning" and not is_position and _is_misread(cells, read):
            self.refused.append(match)
            return {}
        self._report(cells, match, read)
        self.findings += [
            note_reading(self.source.file, note, column=match.source) for note in read.notes
        ]
        return {column.name: read.data}

    def _read_packed(self, cells: pd.Series, match: Match) -> dict[str, pd.Series | np.ndarray]:
        packed = read_packed(cells, lat_first=match.target == "lat_lon")
        read = Cells(packed.lon, packed.bad, "must be a latitude and a longitude in one cell")
        if match.how == "meaning" and _is_misread(cells, read):
            self.refused.append(match)
            return {}
        self._report(cells, match, read)
        found: dict[str, pd.Series | np.ndarray] = {"lon": packed.lon, "lat": packed.lat}
        behind = {"elevation_m": packed.elevation_m, "h_rms_m": packed.rms_m}
        return found | {name: data for name, data in behind.items() if np.isfinite(data).any()}

    def join(self, columns: dict[str, pd.Series | np.ndarray], matches: Sequence[Match]) -> None:
        """Join what stands in columns of its own to the value that it belongs to."""
        for match in matches:
            axis = match.target.removesuffix("_side")
            side = columns.pop(match.target, None) if match.target in SIDES else None
            if axis in columns and isinstance(side, pd.Series):
                signed = sign_angles(np.asarray(columns[axis]), side, axis=axis)
                if match.how == "meaning" and _is_misread(side, signed):
                    self.refused.append(match)  # "ns" may be the number of satellites
                    continue
                self._report(side, match, signed)
                columns[axis] = signed.data
        parts = [columns.pop(name) for name in RMS_PARTS if name in columns]
        if len(parts) == len(RMS_PARTS) and "h_rms_m" not in columns:
            columns["h_rms_m"] = np.hypot(*(np.asarray(part) for part in parts))

    def _place(self, name: str) -> int:
        return [str(n) for n in self.raw.frame.columns].index(name)

    def _read_values(self, cells: pd.Series, match: Match, column: Column) -> Cells:
        comma = self.raw.decimal_comma
        name = column.name
        if name == "date":
            # beside "date" a number is a spreadsheet's day; beside "time" it may be seconds
            is_day = "date" in match.source.lower()
            return read_dates(cells, day_first=self.source.options.day_first, has_serials=is_day)
        if name in {"lon", "lat"}:
            return read_angles(cells, axis=name, decimal_comma=comma)
        if name in {"easting", "northing"}:
            return self._read_coordinates(cells, match)
        if has_unit(name):
            fixed = "m" if match.source.lower() == "ele" else ""  # GPX counts in metres
            unit = match.unit or fixed or self.source.settings.coordinates.length_unit
            if name == "elevation_m" and not match.unit and not fixed:
                unit = self._find_height_unit(match) or unit
            return read_lengths(cells, unit=unit, decimal_comma=comma)
        if name.startswith("ohms"):
            return read_ohms(cells, decimal_comma=comma)
        if column.type == "integer":
            return read_integers(cells, decimal_comma=comma)
        return read_numbers(cells, decimal_comma=comma)

    def _read_coordinates(self, cells: pd.Series, match: Match) -> Cells:
        """Read eastings or northings in the unit of their CRS."""
        metres = self.axes.metres_per_unit

        def parse(text: str) -> float:
            try:
                return parse_number(text)
            except ValueError:
                if not _UNIT_LAST.fullmatch(text):
                    raise
                return parse_length(text) / metres

        read = read_numbers(cells, decimal_comma=self.raw.decimal_comma, parse=parse)
        factor = METRES_PER_UNIT[match.unit] / metres if match.unit else 1.0
        if abs(factor - 1) < 1e-9:  # noqa: PLR2004 - the foot and the survey foot differ by 2e-6
            return read
        # "ft" beside a survey-foot CRS means the survey foot: the CRS knows better than the word
        same_foot = match.unit == "ft" and abs(factor - 1) < 1e-5  # noqa: PLR2004
        self.findings.append(
            report_unit(match, self.axes, file=self.source.file, is_kept=same_foot)
        )
        return read if same_foot else read._replace(data=read.data * factor)

    def _find_height_unit(self, match: Match) -> str:
        """Return the unit that the file's own system gives heights without one; empty for none.

        An elevation beside a plane that counts in another unit is reported.
        """
        coordinates = self.source.settings.coordinates
        if "length_unit" in coordinates.model_fields_set:
            return ""
        names = [n for n in map(str, self.raw.frame.columns) if squeeze(n) in SYSTEM_NAMES]
        said: list[str] = (
            as_text(self.raw.frame[names[0]]).dropna().unique().tolist() if names else []
        )
        told = _UNIT_OF_SYSTEM.search(said[0]) if len(said) == 1 else None
        if told:
            text = f"heights without a unit were taken in {told[1]}, as column {names[0]!r} says"
            self.findings.append(note_reading(self.source.file, text, column=match.source))
            return told[1].lower()
        unit, metres = coordinates.length_unit, self.axes.metres_per_unit
        if self.axes.is_projected and abs(metres / METRES_PER_UNIT[unit] - 1) > 1e-5:  # noqa: PLR2004
            self.findings.append(report_height(match, unit, self.axes, file=self.source.file))
        return ""

    def _report(self, cells: pd.Series, match: Match, read: Cells) -> None:
        self.findings += report_cells(cells, read, column=match.source, file=self.source.file)


def _is_counter(text: pd.Series) -> bool:
    """Return whether a column counts its rows: whole numbers, each once."""
    filled = text.dropna()
    return len(filled) > 1 and filled.is_unique and bool(filled.str.fullmatch(r"\d+").all())


def _is_misread(cells: pd.Series, read: Cells) -> bool:
    """Return whether most cells say that a column guessed by its name means something else."""
    filled = as_text(cells).notna().sum()
    return bool(read.bad.sum() > WRONG_GUESS * filled)


def _keep(cells: pd.Series) -> pd.Series:
    """Return the cells of a column beyond the contract: numbers as such, all else as text."""
    is_number = pd.api.types.is_numeric_dtype(cells) and not pd.api.types.is_bool_dtype(cells)
    return cells if is_number else as_text(cells)


def _constant(text: str, index: pd.Index) -> pd.Series:
    return spread_text([text], np.zeros(len(index), dtype=np.intp), index)


def _assemble(
    columns: dict[str, pd.Series | np.ndarray],
    extras: dict[str, pd.Series],
    table: Table,
    index: pd.Index,
) -> pd.DataFrame:
    """Return all columns in one frame; columns that are not there are empty."""
    no_number = pd.Series(np.nan, index=index)
    no_text = spread_text([], np.full(len(index), -1), index)
    empty = {"number": no_number, "text": no_text, "integer": no_number}
    whole = {c.name: columns.get(c.name, empty.get(c.type)) for c in table.columns}
    series = {
        n: v if isinstance(v, pd.Series) else pd.Series(v, index=index) for n, v in whole.items()
    }
    return pd.DataFrame({**series, **extras}, index=index, copy=False)


def fill_empty(cells: pd.Series, text: str | None) -> pd.Series:
    """Return cells with a text where they are empty.

    Parameters
    ----------
    cells : Series of str
    text : str or None
        None or an empty text changes nothing.

    Returns
    -------
    Series of str
    """
    return cells.fillna(text) if text else cells
