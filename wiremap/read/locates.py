"""Raw tables of field locates, as table ``locates_in``."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd

from wiremap.errors import ReadError
from wiremap.model.findings import Finding
from wiremap.model.kinds import Severity
from wiremap.model.tables import LOCATES_IN
from wiremap.read.axes import describe_axes
from wiremap.read.codes import read_codes
from wiremap.read.columns import squeeze, suggest_mapping
from wiremap.read.conversion import Source, convert_table, fill_empty
from wiremap.read.features import read_features
from wiremap.read.gnss_quality import fill_rms
from wiremap.read.notes import fold_names
from wiremap.read.sniffing import is_number
from wiremap.read.values import as_text, read_numbers

if TYPE_CHECKING:
    from collections.abc import Collection

    from wiremap.plugins import RawTable
    from wiremap.read.columns import Match

_POSITIONS = (
    {"lon", "lat"},
    {"easting", "northing"},
    {"lat_lon"},
    {"lon_lat"},
    {"tie_a", "tie_a_dist_m", "tie_b", "tie_b_dist_m"},
    {"baseline_a", "baseline_b", "baseline_chainage_m"},
    {"grid_x_m", "grid_y_m"},
)
"""Sets of columns, each of which can fix a point."""
_SPEAKING = ("type", "sym", "symbol", "code", "desc", "description", "cmt", "name", "point")
"""Columns in which a feature word may stand where no feature column has one."""
_PLANE_AXES = ("northing", "easting")
_FULL_CIRCLE_DEG = 360.0
_MOSTLY, _LOOKED_AT = 0.5, 100
"""Share of cells that make a column one of features, and how many are looked at: project choice."""


class ReadTable(NamedTuple):
    """A table as read, and what was found."""

    frame: pd.DataFrame
    findings: list[Finding]


def read_locates(
    raw: RawTable, source: Source, *, has_log: bool = False, known: Collection[str] = ()
) -> ReadTable:
    """Return a raw table as field locates.

    Parameters
    ----------
    raw : RawTable
    source : Source
    has_log : bool
        Whether the folder holds a receiver's log, so that rows with a time alone can be placed.
    known : collection of str
        Points that other files place, as `wiremap.read.notes.fold_names` writes them. A table
        without positions is a list of notes where most of its points are among them.

    Returns
    -------
    ReadTable
        Table ``locates_in`` with one row for each row of the raw frame, further columns kept.

    Raises
    ------
    ReadError
        No column can be a position, or the positions do not fit the CRS; the message holds the
        columns found and a line to paste into property.toml.
    """
    converted = convert_table(raw, table=LOCATES_IN, source=source)
    frame, findings = converted.frame, converted.findings
    matched = {m.target for m in converted.matches}
    is_list = len(known) > 0 and bool(fold_names(frame["point"]).isin(known).mean() > _MOSTLY)
    if not (has_log and {"date", "feature"} <= matched) and not is_list:
        _require_position(raw, converted.matches, matched, source)
    _require_fitting_crs(frame, matched, raw, source)
    frame["feature"], behind, is_known = read_features(
        frame["feature"], own=source.settings.features
    )
    frame["note"] = _join_notes(frame["note"], behind)
    if not is_known.all() and not _is_set(converted.matches):
        unused = {str(c) for c in raw.frame.columns} - {m.source for m in converted.matches}
        speaking = {m.source for m in converted.matches if m.target in {"point", "note"}}
        behind, found = _search_features(
            frame, raw, is_known, behind, speaking=speaking, unused=unused, source=source
        )
        findings += found
    findings += [
        Finding("read-note", source.file, f"{note[:1].upper()}{note[1:]}.", source_file=source.file)
        for note in read_codes(frame, behind, matched=matched)
    ]
    says_nothing = "feature" not in matched and frame["feature"].isna().all()
    if says_nothing and not matched & {"run", "offset_left_m", "offset_right_m"}:
        findings.append(_no_feature(raw, converted.matches, source))
    findings += [
        Finding("read-note", source.file, f"{note[:1].upper()}{note[1:]}.", source_file=source.file)
        for note in fill_rms(frame, coordinates=source.settings.coordinates)
    ]
    frame["date"] = fill_empty(frame["date"], source.options.date)
    frame["operator"] = fill_empty(frame["operator"], source.options.operator)
    return ReadTable(frame, findings)


def _is_set(matches: list[Match]) -> bool:
    """Return whether the file has a feature column by its own name or the owner's word."""
    return any(m.target == "feature" and m.how != "meaning" for m in matches)


def _require_position(
    raw: RawTable, matches: list[Match], matched: set[str], source: Source
) -> None:
    if any(need <= matched for need in _POSITIONS):
        return
    names = [str(name) for name in raw.frame.columns]
    found = ", ".join(name[:40] for name in names[:40])
    raise ReadError(
        f"no columns give a position; the columns found are {found}",
        path=source.file,
        remedy="name them at the top of property.toml: " + _suggestion(raw, matches, source),
    )


def _suggestion(raw: RawTable, matches: list[Match], source: Source) -> str:
    """Return the line that names the columns: of the file where it has no header."""
    names = [str(name) for name in raw.frame.columns]
    if not all(name.startswith("column ") for name in names):
        return suggest_mapping(names, table=LOCATES_IN, matches=matches)
    crs = source.options.crs or source.settings.coordinates.input_crs
    words = _guess_by_content(raw, is_geographic=describe_axes(crs).is_geographic)
    columns = ", ".join(f'"{word}"' for word in words)
    return f'files."{source.file}" = {{ header = false, columns = [{columns}] }}'


def _guess_axes(first: float, second: float) -> tuple[str, str]:
    """Return what two columns of coordinates are by their largest."""
    half, quarter = _FULL_CIRCLE_DEG / 2, _FULL_CIRCLE_DEG / 4
    if max(first, second) > half or min(first, second) > quarter:
        return _PLANE_AXES
    return ("lat", "lon") if first <= quarter else ("lon", "lat")


def _guess_by_content(raw: RawTable, *, is_geographic: bool) -> list[str]:
    """Guess the columns of a point list without a header: id, two coordinates, height, code."""
    frame = raw.frame.iloc[:20]
    numeric = [all(is_number(c) for c in frame.iloc[:, k]) for k in range(frame.shape[1])]
    has_id = len(numeric) > 1 and (not numeric[0] or sum(numeric) > 3)  # noqa: PLR2004
    words = ["point"] if has_id else []
    measured = [k for k in range(len(words), len(numeric)) if numeric[k]]
    sizes = [
        np.abs(np.asarray(read_numbers(frame.iloc[:, k], decimal_comma=raw.decimal_comma).data))
        for k in measured[:2]
    ]
    axes = _guess_axes(*(s.max() for s in sizes)) if is_geographic and sizes[1:] else _PLANE_AXES
    numbers = iter((*axes, "elevation"))
    texts = iter(("feature", "note"))
    for place in range(len(words), len(numeric)):
        word = next(numbers if numeric[place] else texts, "")
        words.append(word or f"column {place + 1}")
    return words


def _require_fitting_crs(
    frame: pd.DataFrame, matched: set[str], raw: RawTable, source: Source
) -> None:
    """Refuse plane coordinates beside a CRS of degrees: nothing could be placed."""
    crs = raw.crs or source.options.crs or source.settings.coordinates.input_crs
    if matched & {"tie_a", "baseline_a", "grid_x_m"}:
        return
    plane = {"easting", "northing"} <= matched and not describe_axes(crs).is_projected
    if {"lon", "lat"} <= matched:
        sizes = np.abs(frame[["lon", "lat"]].to_numpy(dtype=float))
        emptied = np.isnan(sizes).all() and len(frame) > 0
        plane = emptied and _looks_plane(raw)
    if plane:
        coordinates = source.settings.coordinates
        is_named = raw.crs or source.options.crs or "input_crs" in coordinates.model_fields_set
        named = f"the CRS named for them, {crs}, counts degrees" if is_named else "no CRS was named"
        raise ReadError(
            f"positions are plane coordinates, but {named}",
            path=source.file,
            remedy='set input_crs under [coordinates] in property.toml, such as "EPSG:26914"',
        )


def _looks_plane(raw: RawTable) -> bool:
    """Return whether columns headed X and Y hold numbers that are no degrees."""
    axes = [c for c in raw.frame.columns if squeeze(str(c)) in {"x", "y", "coordx", "coordy"}]
    if len(axes) != 2:  # noqa: PLR2004
        return False
    values = read_numbers(raw.frame[axes[0]], decimal_comma=raw.decimal_comma).data
    known = values[~np.isnan(values)]
    return len(known) > 0 and float(np.median(np.abs(known))) > _FULL_CIRCLE_DEG


def _no_feature(raw: RawTable, matches: list[Match], source: Source) -> Finding:
    names = [str(name) for name in raw.frame.columns]
    found = ", ".join(name[:40] for name in names[:40])
    return Finding(
        "unmapped-column",
        source.file,
        f"No column says what the points are; the columns found are {found}.",
        advice="Name it at the top of property.toml: "
        + suggest_mapping(names, table=LOCATES_IN, matches=matches),
        severity=Severity.WARNING,
        source_file=source.file,
    )


def _join_notes(notes: pd.Series, behind: pd.Series) -> pd.Series:
    """Put the text behind a code before the row's own note."""
    if not behind.notna().any():
        return notes
    both = behind.notna() & notes.notna()
    joined = notes.fillna(behind)
    return joined.mask(both, behind + "; " + notes)


def _search_features(
    frame: pd.DataFrame,
    raw: RawTable,
    is_known: np.ndarray,
    behind: pd.Series,
    *,
    speaking: set[str],
    unused: set[str],
    source: Source,
) -> tuple[pd.Series, list[Finding]]:
    """Look for a feature word in other columns, for rows whose feature says nothing.

    A column whose name says nothing counts where most of its cells are features. Returned is what
    stands behind the words, and what was found.
    """
    left = ~is_known
    findings = []
    for name in sorted(raw.frame.columns, key=lambda name: squeeze(str(name)) not in _SPEAKING):
        cells = as_text(raw.frame[name].loc[left])
        is_speaking = squeeze(str(name)) in _SPEAKING or str(name) in speaking
        if not left.any() or not (is_speaking or (str(name) in unused and _are_features(cells))):
            continue
        # an export of a database writes "null" where it has nothing, a crew where it marked one
        cells = cells.mask((cells.str.lower() == "null").to_numpy(dtype=bool, na_value=False))
        named = read_features(cells, own=source.settings.features)
        hits = np.flatnonzero(left)[named.is_known]
        if not len(hits):
            continue
        frame["feature"] = _put(frame["feature"], hits, named.features[named.is_known])
        behind = _put(behind, hits, named.notes[named.is_known])
        left[hits] = False
        text = f"{len(hits)} rows took their feature from words in column {name!r}."
        findings.append(Finding("read-note", source.file, text, source_file=source.file,
                                column=str(name)))  # fmt: skip
    return behind, findings


def _are_features(cells: pd.Series) -> bool:
    """Return whether most of a column's first cells are words or codes for features."""
    first = cells.dropna().iloc[:_LOOKED_AT]
    return len(first) > 0 and bool(read_features(first).is_known.mean() > _MOSTLY)


def _put(cells: pd.Series, places: np.ndarray, words: pd.Series) -> pd.Series:
    column = cells.to_numpy(dtype=object, copy=True)
    column[places] = words.to_numpy(dtype=object)
    return pd.Series(column, index=cells.index, dtype="str")
