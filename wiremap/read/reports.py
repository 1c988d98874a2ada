"""What reading a table found, in words: bad cells, problems of the file, columns matched or not."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from wiremap.model.findings import Finding
from wiremap.model.tables import LOCATES, LOCATES_IN
from wiremap.read.columns import PACKED, RMS_PARTS, SIDES
from wiremap.read.gnss_quality import LOG_COLUMNS
from wiremap.read.values import as_text

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from wiremap.plugins import Problem
    from wiremap.read.axes import Axes
    from wiremap.read.columns import Match
    from wiremap.read.values import Cells

CELLS_REPORTED = 50
"""Bad cells of one column that get a finding each; the rest share one (project choice)."""
MOST_ALIKE = 5
"""Bad cells of one column that hold the same and get a finding each; more share one."""
_COLUMNS_SHOWN = 12
_RESERVED = frozenset(
    {*LOCATES_IN.column_names, *LOCATES.column_names, *PACKED, *SIDES, *RMS_PARTS}
    | {"geometry", "geom", "fid", "ogc_fid", "rowid", "locate", "chainage_m", "heading_deg"}
    | {"on_line", "cov_xx_m2", "cov_xy_m2", "cov_yy_m2", "x_m", "y_m", "wire_depth_m"}
    | {"wire_depth_sigma_m", "index"}
)


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


def note_reading(file: str, text: str, *, part: str = "", column: str = "") -> Finding:
    """Return the note on how a file was read.

    Parameters
    ----------
    file : str
        Name of the file in the folder.
    text : str
        What was detected or done.
    part, column : str
        The sheet or layer, and the column, where it is about one.

    Returns
    -------
    Finding
    """
    where = f"{file}, {part}" if part else file
    sentence = text[:1].upper() + text[1:].rstrip(".") + "."
    return Finding("read-note", where, sentence, source_file=file, column=column)


def report_problems(problems: Sequence[Problem], *, file: str) -> list[Finding]:
    """Return findings for the problems of a reader; of many alike one counts the rest.

    Parameters
    ----------
    problems : sequence of Problem
    file : str
        Name of the file in the folder.

    Returns
    -------
    list of Finding
    """
    findings: list[Finding] = []
    counts = Counter[str]()
    for problem in problems:
        counts[problem.rule] += 1
        if counts[problem.rule] <= CELLS_REPORTED:
            findings.append(_describe_problem(problem, file))
    last = {problem.rule: problem for problem in problems}
    for rule, count in counts.items():
        if count > CELLS_REPORTED:
            text = f"{rule}: {count - CELLS_REPORTED} more, up to row {last[rule].row}"
            findings.append(_describe_problem(replace(last[rule], rule=text, value=""), file))
    return findings


def _describe_problem(problem: Problem, file: str) -> Finding:
    row = f" row {problem.row}" if problem.row is not None else ""
    got = f", got {shorten(problem.value)}" if problem.value else ""
    return Finding(
        problem.code,
        f"{file}{row}",
        f"{problem.rule[:1].upper()}{problem.rule[1:]}{got}.",
        advice=f"{problem.remedy[:1].upper()}{problem.remedy[1:]}." if problem.remedy else "",
        source_file=file,
        source_row=problem.row,
        column=problem.column,
        value=shorten(problem.value) if problem.value else "",
    )


def report_cells(cells: pd.Series, read: Cells, *, column: str, file: str) -> list[Finding]:
    """Return findings for the cells of a column that could not be taken.

    Parameters
    ----------
    cells : Series
        Cells as found, indexed by the row that a person sees.
    read : Cells
    column : str
        Name of the column as written.
    file : str
        Name of the file in the folder.

    Returns
    -------
    list of Finding
        One a cell; the same content in more than `MOST_ALIKE` cells, and what is left after
        `CELLS_REPORTED`, share one.
    """
    bad = np.flatnonzero(read.bad)
    content = as_text(cells.iloc[bad]).to_numpy(dtype=object)
    alike = pd.Series(bad).groupby(content, sort=False)
    shared = [group.to_numpy() for _, group in alike if len(group) > MOST_ALIKE]
    single = np.setdiff1d(bad, np.concatenate([*shared, bad[:0]]))
    groups = [single[k : k + 1] for k in range(min(len(single), CELLS_REPORTED))]
    groups += [g for g in (*shared, single[CELLS_REPORTED:]) if len(g)]
    return [_describe_cells(cells.iloc[group], read.rule, column, file) for group in groups]


def _describe_cells(cells: pd.Series, rule: str, column: str, file: str) -> Finding:
    """Return the finding of bad cells: of one, or of several at once."""
    first, last = int(cells.index[0]), int(cells.index[-1])
    values = dict.fromkeys(shorten(value) for value in cells)
    value = next(iter(values)) if len(values) == 1 else ""
    got = f", got {value}" if value else ""
    if len(cells) == 1:
        where, done = f"row {first}", "the cell was left empty"
    else:
        where = f"rows {first} to {last}"
        done = f"{len(cells)} such cells were left empty, from row {first} to row {last}"
    return Finding(
        "bad-value",
        f"{file} {where}",
        f"{column} {rule}{got}; {done}.",
        source_file=file,
        source_row=first,
        column=column,
        value=value,
    )


def report_matches(names: Sequence[str], matches: Iterable[Match], *, file: str) -> list[Finding]:
    """Return findings for the columns that were taken by meaning, and for those not used.

    Parameters
    ----------
    names : sequence of str
        Of the file's columns.
    matches : iterable of Match
    file : str
        Name of the file in the folder.

    Returns
    -------
    list of Finding
        One for each column taken by meaning, one for all that were not used.
    """
    by_source = {m.source: m for m in matches}
    found = []
    for match in (by_source[name] for name in names if name in by_source):
        if match.how == "meaning":
            unit = f" in {match.unit}" if match.unit else ""
            text = f"Column {shorten(match.source)!r} was taken as {match.target}{unit}."
            found.append(Finding("guessed-column", file, text, source_file=file,
                                 column=match.source))  # fmt: skip
    unused = [n for n in names if n not in by_source and n.lower() not in LOG_COLUMNS]
    return [*found, _describe_unused(unused, file)] if unused else found


def _describe_unused(names: Sequence[str], file: str) -> Finding:
    """Return the finding of columns that no table has a use for."""
    shown = [
        repr(shorten(name)) + (f" (as {extra_name(name)!r})" if extra_name(name) != name else "")
        for name in names
    ]
    listed = ", ".join(shown[:_COLUMNS_SHOWN])
    if len(shown) > _COLUMNS_SHOWN:
        listed += f" and {len(shown) - _COLUMNS_SHOWN} more"
    is_one = len(names) == 1
    text = (
        f"Column {listed} was not used; it is kept."
        if is_one
        else f"{len(names)} columns were not used; they are kept: {listed}."
    )
    column = names[0] if is_one else ""
    return Finding("unmapped-column", file, text, source_file=file, column=column)


def report_unit(match: Match, axes: Axes, *, file: str, is_kept: bool) -> Finding:
    """Return the finding of a column whose unit is not that of its CRS.

    Parameters
    ----------
    match : Match
    axes : Axes
    file : str
        Name of the file in the folder.
    is_kept : bool
        Whether the values were taken in the unit of the CRS all the same.

    Returns
    -------
    Finding
    """
    done = (
        f"the values were taken in the {axes.unit} of the CRS"
        if is_kept
        else f"the values were converted from {match.unit} to the {axes.unit} of the CRS"
    )
    text = f"Column {match.source!r} says {match.unit} but its CRS counts in {axes.unit}; {done}."
    return Finding("unit-mismatch", file, text, source_file=file, column=match.source)


def report_height(match: Match, unit: str, axes: Axes, *, file: str) -> Finding:
    """Return the finding of an elevation without a unit beside a plane that counts in another.

    Parameters
    ----------
    match : Match
    unit : str
        That it was taken in.
    axes : Axes
    file : str
        Name of the file in the folder.

    Returns
    -------
    Finding
    """
    return Finding(
        "unit-mismatch",
        file,
        f"Column {match.source!r} names no unit and was taken in {unit}, but the CRS beside it"
        f" counts in {axes.unit}.",
        advice="Set length_unit under [coordinates] in property.toml, or write the unit into the"
        " column's name, such as elevation_ftus.",
        source_file=file,
        column=match.source,
    )
