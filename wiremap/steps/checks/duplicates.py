"""Points named twice: exact repeats are set aside, other rows get their own identifier."""

from __future__ import annotations

import numpy as np
import pandas as pd

from wiremap.model.findings import Finding
from wiremap.steps.checks.reports import filled, report_rows, text_of

MARK = "~"
"""Stands between an identifier and the number of its repeat."""


def name_points(work: pd.DataFrame) -> tuple[pd.Series, list[Finding]]:
    """Return identifiers, points without one called after their file and row.

    Parameters
    ----------
    work : DataFrame
        Columns point, source_file, source_row.

    Returns
    -------
    Series of str, list of Finding
    """
    nameless = ~filled(work["point"])
    if not nameless.any():
        return work["point"], []
    rows = work.loc[nameless, "source_row"].astype("str").fillna("")
    made = work.loc[nameless, "source_file"].fillna("row") + ":" + rows
    # rows of one file may be counted anew in each of its layers
    repeat = made.groupby(made).cumcount() + 1
    made = made.mask(repeat > 1, made + MARK + repeat.astype("str"))
    point = work["point"].astype(object)
    point[nameless] = made
    text = (
        f"{nameless.sum()} rows have no point identifier; they are called after file and row,"
        f" such as {made.iloc[0]}."
    )
    advice = "Number the points in the field file."
    file = text_of(work.loc[nameless, "source_file"].iloc[0])
    return point.astype("str"), [Finding("read-note", file, text, advice, source_file=file)]


def part_duplicates(work: pd.DataFrame) -> tuple[pd.DataFrame, list[Finding]]:
    """Return locates without exact repeats, other rows of one identifier renamed.

    Parameters
    ----------
    work : DataFrame
        Table ``locates_in``, every point named.

    Returns
    -------
    DataFrame, list of Finding
        An offset mark's `pair` follows the path mark of its own file when that is renamed.
    """
    repeated = work["point"].duplicated(keep=False).to_numpy()
    if not repeated.any():
        return work, []
    content = [c for c in work.columns if c not in {"source_file", "source_row"}]
    twins = np.flatnonzero(repeated)
    exact = twins[work.iloc[twins][content].duplicated().to_numpy()]
    text = "The row repeats an earlier row of point {value} in every column; it was set aside."
    advice = "Delete the repeated row."
    findings = report_rows(
        "duplicate-point", work, exact, text, column="point", advice=advice, most=len(exact)
    )
    kept = work.drop(index=exact).reset_index(drop=True)
    later = kept["point"].duplicated().to_numpy()
    text = (
        "Point {value} was named before with other content; this row got its own identifier,"
        " with a ~ behind it."
    )
    findings += report_rows("duplicate-point", kept, np.flatnonzero(later), text, column="point")
    renamed = _number_repeats(kept["point"], later)
    _follow_pairs(kept, renamed, later)
    kept["point"] = renamed
    return kept, findings


def _number_repeats(points: pd.Series, later: np.ndarray) -> pd.Series:
    """Return identifiers with ~2, ~3 behind the second and third of a name, each unique."""
    count = (points.groupby(points).cumcount() + 1).to_numpy()
    taken = set(points)
    renamed = points.to_numpy(dtype=object, copy=True)
    for row in np.flatnonzero(later):
        number = count[row]
        while f"{points.iloc[row]}{MARK}{number}" in taken:
            number += 1
        renamed[row] = f"{points.iloc[row]}{MARK}{number}"
        taken.add(renamed[row])
    return pd.Series(renamed, index=points.index, dtype="str")


def _follow_pairs(kept: pd.DataFrame, renamed: pd.Series, later: np.ndarray) -> None:
    """Let an offset mark follow the path mark of its own file when that was renamed."""
    if not filled(kept["pair"]).any():
        return
    new = pd.Series(
        renamed[later].to_numpy(),
        index=pd.MultiIndex.from_arrays([kept["source_file"][later], kept["point"][later]]),
    )
    earlier = pd.MultiIndex.from_arrays([kept["source_file"][~later], kept["point"][~later]])
    new = new[~new.index.duplicated() & ~new.index.isin(earlier)]
    asked = pd.MultiIndex.from_arrays([kept["source_file"], kept["pair"]])
    followed = new.reindex(asked).to_numpy(dtype=object)
    changed = pd.notna(followed)
    pair = kept["pair"].to_numpy(dtype=object, copy=True)
    pair[changed] = followed[changed]
    kept["pair"] = pd.Series(pair, index=kept.index, dtype="str")
