"""What was found at each point, written in a list beside the file of positions.

A handheld numbers its waypoints; what each is stands in a notebook, typed in later. Such a list has
no positions: its rows belong to the points of the same names.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import pandas as pd

from wiremap.model.kinds import Feature

if TYPE_CHECKING:
    from collections.abc import Collection

_OWN = ("point", "lon", "lat", "easting", "northing", "position_crs", "source_file", "source_row")
"""Columns that a point keeps whatever the list says."""


class JoinedNotes(NamedTuple):
    """A table of locates to whose points the rows of lists were joined, and what was done."""

    locates: pd.DataFrame
    note: str


def fold_names(points: pd.Series) -> pd.Series:
    """Return names of points as they are compared: a spreadsheet drops the zeros of 001.

    Parameters
    ----------
    points : Series of str

    Returns
    -------
    Series of str

    Examples
    --------
    >>> fold_names(pd.Series(["001", " v1"])).tolist()
    ['1', 'V1']
    """
    return points.astype("str").str.strip().str.upper().str.replace(r"^0+(?=.)", "", regex=True)


def join_notes(locates: pd.DataFrame, *, lists: Collection[str]) -> JoinedNotes:
    """Return locates in which the rows of lists have gone into the points that they name.

    Parameters
    ----------
    locates : DataFrame, table ``locates_in``
    lists : collection of str
        Files without positions, as `source_file` names them.

    Returns
    -------
    JoinedNotes
        A point keeps what its own file says; what it leaves empty comes from the list, as does a
        feature that its own word is none of. Rows that name no point, or one that stands twice,
        stay rows without a position.
    """
    if not lists:
        return JoinedNotes(locates, "")
    is_note = locates["source_file"].isin(lists)
    names = fold_names(locates["point"])
    placed = names[~is_note].dropna()
    placed = placed[~placed.duplicated(keep=False)]
    rows = pd.Series(placed.index, index=placed.to_numpy())
    noted = names[is_note].dropna()
    noted = noted[noted.isin(rows.index) & ~noted.duplicated()]
    target = rows.loc[noted.to_numpy()].to_numpy()
    joined = locates.copy()
    for name in [c for c in locates.columns if c not in _OWN]:
        own, told = joined.loc[target, name], locates.loc[noted.index, name].set_axis(target)
        keeps = own.isin(list(Feature)) if name == "feature" else own.notna()
        joined.loc[target, name] = own.where(keeps | told.isna(), told)
    note = (
        f"{len(noted)} of {int(is_note.sum())} rows without a position went into the points of the"
        f" same names: {', '.join(sorted(lists))}"
    )
    return JoinedNotes(joined.drop(index=noted.index), note)
