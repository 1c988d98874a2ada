"""A raw table becomes a table of the contract: columns matched, cells read, the rest kept.

Takes one `RawTable`; gives a frame with the declared columns and findings for what could not be
taken. A cell that cannot be used is emptied and reported; its row stays.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd

from wiremap.model.findings import Finding
from wiremap.model.settings import Settings
from wiremap.model.tables import LOCATES, LOCATES_IN
from wiremap.model.units import METRES_PER_UNIT, parse_length
from wiremap.plugins import FileOptions
from wiremap.read.angles import read_angles, read_packed
from wiremap.read.axes import Axes, describe_axes
from wiremap.read.columns import PACKED, RMS_PARTS, SIDES, Match, has_unit, match_columns
from wiremap.read.dates import read_dates
from wiremap.read.gnss_quality import LOG_COLUMNS
from wiremap.read.positions import choose_positions, find_blank_positions, sign_angles
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
    from collections.abc import Iterable, Sequence

    from wiremap.model.columns import Column, Table
    from wiremap.plugins import Problem, RawTable

CELLS_REPORTED = 50
"""Bad cells of one column that get a finding each; the rest share one (project choice)."""
WRONG_GUESS = 0.5
"""Share of bad cells beyond which a column guessed by its name is let go (project choice)."""
_RESERVED = frozenset(
    {*LOCATES_IN.column_names, *LOCATES.column_names, *PACKED, *SIDES, *RMS_PARTS}
    | {"geometry", "geom", "fid", "ogc_fid", "rowid", "locate", "chainage_m", "heading_deg"}
    | {"on_line", "cov_xx_m2", "cov_xy_m2", "cov_yy_m2", "x_m", "y_m", "wire_depth_m"}
    | {"wire_depth_sigma_m", "index"}
)
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
    blank = find_blank_positions(matches, frame)
    names = [name for name in names if name not in blank]
    matches = choose_positions([m for m in matches if m.source not in blank], axes)
    findings = [_problem_finding(p, source) for p in raw.problems]
    findings += [_note(source, note, part=raw.part) for note in raw.notes]
    columns: dict[str, pd.Series | np.ndarray] = {}
    cells = _CellReader(raw, source, axes)
    for match in matches:
        columns |= cells.read(match, table)
    cells.join(columns, matches)
    matches = [match for match in matches if match not in cells.refused]
    findings += _match_findings(names, matches, source)
    if "position_crs" in table.column_names:
        geographic = bool({"lon", "lat"} & set(columns))
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
            return {column.name: as_text(cells)}
        read = self._read_values(cells, match, column)
        is_position = column.name in {"lon", "lat", "easting", "northing"}
        if match.how == "meaning" and not is_position and _is_misread(cells, read):
            self.refused.append(match)
            return {}
        self._report(cells, match, read)
        self.findings += [_note(self.source, note, column=match.source) for note in read.notes]
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
                self._doubt_unit(match, unit)
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
        self.findings.append(_unit_finding(match, self.axes, self.source, is_kept=same_foot))
        return read if same_foot else read._replace(data=read.data * factor)

    def _doubt_unit(self, match: Match, unit: str) -> None:
        """Report an elevation without a unit beside a plane that counts in another."""
        is_set = "length_unit" in self.source.settings.coordinates.model_fields_set
        metres = self.axes.metres_per_unit
        if is_set or not self.axes.is_projected or abs(metres / METRES_PER_UNIT[unit] - 1) < 1e-5:  # noqa: PLR2004
            return
        self.findings.append(_height_finding(match, unit, self.axes, self.source))

    def _report(self, cells: pd.Series, match: Match, read: Cells) -> None:
        bad = np.flatnonzero(read.bad)
        for place in bad[:CELLS_REPORTED]:
            row, value = int(cells.index[place]), shorten(cells.iloc[place])
            self.findings.append(
                Finding(
                    "bad-value",
                    f"{self.source.file} row {row}",
                    f"{match.source} {read.rule}, got {value}; the cell was left empty.",
                    source_file=self.source.file,
                    source_row=row,
                    column=match.source,
                    value=value,
                )
            )
        if len(bad) > CELLS_REPORTED:
            first, last = int(cells.index[bad[CELLS_REPORTED]]), int(cells.index[bad[-1]])
            self.findings.append(
                Finding(
                    "bad-value",
                    f"{self.source.file} rows {first} to {last}",
                    f"{match.source} {read.rule}; {len(bad) - CELLS_REPORTED} further cells were"
                    f" left empty, from row {first} to row {last}.",
                    source_file=self.source.file,
                    source_row=first,
                    column=match.source,
                )
            )


def _is_misread(cells: pd.Series, read: Cells) -> bool:
    """Return whether most cells say that a column guessed by its name means something else."""
    filled = as_text(cells).notna().sum()
    return bool(read.bad.sum() > WRONG_GUESS * filled)


def shorten(value: object) -> str:
    r"""Return a cell as a message shows it: on one line, at most 60 characters.

    Parameters
    ----------
    value : object

    Returns
    -------
    str

    Examples
    --------
    >>> shorten("soft\nground")
    'soft ground'
    """
    text = " ".join(str(value)[:400].split())
    return text if len(text) <= 60 else f"{text[:57]}..."  # noqa: PLR2004


def extra_name(name: str) -> str:
    """Return the name under which a column beyond the contract is kept.

    Parameters
    ----------
    name : str

    Returns
    -------
    str
        The name itself, unless a table of wiremap's own needs it.

    Examples
    --------
    >>> extra_name("Soil"), extra_name("Geometry")
    ('Soil', 'Geometry as read')
    """
    return f"{name} as read" if name.lower() in _RESERVED else name


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


def _note(source: Source, text: str, *, part: str = "", column: str = "") -> Finding:
    where = f"{source.file}, {part}" if part else source.file
    sentence = text[:1].upper() + text[1:].rstrip(".") + "."
    return Finding("read-note", where, sentence, source_file=source.file, column=column)


def _problem_finding(problem: Problem, source: Source) -> Finding:
    row = f" row {problem.row}" if problem.row is not None else ""
    got = f", got {shorten(problem.value)}" if problem.value else ""
    return Finding(
        problem.code,
        f"{source.file}{row}",
        f"{problem.rule[:1].upper()}{problem.rule[1:]}{got}.",
        advice=f"{problem.remedy[:1].upper()}{problem.remedy[1:]}." if problem.remedy else "",
        source_file=source.file,
        source_row=problem.row,
        column=problem.column,
        value=shorten(problem.value) if problem.value else "",
    )


def _match_findings(
    names: Sequence[str], matches: Iterable[Match], source: Source
) -> list[Finding]:
    by_source = {m.source: m for m in matches}
    found = []
    for name in names:
        match = by_source.get(name)
        if match is None and name.lower() in LOG_COLUMNS:
            continue
        if match is None:
            kept = extra_name(name)
            as_what = "under its own name" if kept == name else f"as {kept!r}"
            text = f"Column {shorten(name)!r} was not used; it is kept {as_what}."
            found.append(Finding("unmapped-column", source.file, text, source_file=source.file,
                                 column=name))  # fmt: skip
        elif match.how == "meaning":
            unit = f" in {match.unit}" if match.unit else ""
            text = f"Column {shorten(name)!r} was taken as {match.target}{unit}."
            found.append(Finding("guessed-column", source.file, text, source_file=source.file,
                                 column=name))  # fmt: skip
    return found


def _unit_finding(match: Match, axes: Axes, source: Source, *, is_kept: bool) -> Finding:
    done = (
        f"the values were taken in the {axes.unit} of the CRS"
        if is_kept
        else f"the values were converted from {match.unit} to the {axes.unit} of the CRS"
    )
    return Finding(
        "unit-mismatch",
        source.file,
        f"Column {match.source!r} says {match.unit} but its CRS counts in {axes.unit}; {done}.",
        source_file=source.file,
        column=match.source,
    )


def _height_finding(match: Match, unit: str, axes: Axes, source: Source) -> Finding:
    return Finding(
        "unit-mismatch",
        source.file,
        f"Column {match.source!r} names no unit and was taken in {unit}, but the CRS beside it"
        f" counts in {axes.unit}.",
        advice="Set length_unit under [coordinates] in property.toml, or write the unit into the"
        " column's name, such as elevation_ftus.",
        source_file=source.file,
        column=match.source,
    )


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
