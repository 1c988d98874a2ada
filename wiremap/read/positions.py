"""Positions put together from several columns: hemispheres, RMS by axis, one kind where two are."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from wiremap.read.columns import PACKED, SIDES
from wiremap.read.values import Cells

if TYPE_CHECKING:
    from collections.abc import Sequence

    import pandas as pd
    from numpy.typing import NDArray

    from wiremap.read.axes import Axes
    from wiremap.read.columns import Match

_SIGNS = {"n": 1.0, "north": 1.0, "e": 1.0, "east": 1.0, "s": -1.0, "south": -1.0, "w": -1.0,
          "west": -1.0}  # fmt: skip


_DEGREES, _PLANE = frozenset({"lon", "lat", *PACKED, *SIDES}), frozenset({"easting", "northing"})


def find_blank_positions(matches: Sequence[Match], frame: pd.DataFrame) -> set[str]:
    """Return the position columns of a form that holds two kinds and was filled in for one.

    Parameters
    ----------
    matches : sequence of Match
    frame : DataFrame
        The file's cells.

    Returns
    -------
    set of str
        Names of columns in which nothing stands; empty where the file has one kind alone.
    """
    kinds = [{m.source for m in matches if m.target in kind} for kind in (_PLANE, _DEGREES)]
    if not all(kinds):
        return set()
    return next((k for k in kinds if all(_blanks(frame[name]).all() for name in k)), set())


def _blanks(cells: pd.Series) -> NDArray[np.bool_]:
    return np.asarray(cells.isna() | (cells.astype(str).str.strip() == ""), dtype=bool)


def choose_positions(matches: Sequence[Match], axes: Axes, frame: pd.DataFrame) -> list[Match]:
    """Keep one kind of position where a file has two: the one its CRS speaks of.

    Parameters
    ----------
    matches : sequence of Match
    axes : Axes
        Of the file's CRS.
    frame : DataFrame
        The file's cells.

    Returns
    -------
    list of Match
        Both kinds where a row has the other kind alone.
    """
    kinds = [[m for m in matches if m.target in kind] for kind in (_DEGREES, _PLANE)]
    if not all(kinds):
        return list(matches)
    kept, other = kinds if axes.is_geographic else kinds[::-1]
    has_kept, has_other = (
        ~np.logical_and.reduce([_blanks(frame[m.source]) for m in kind]) for kind in (kept, other)
    )
    return (
        list(matches) if (has_other & ~has_kept).any() else [m for m in matches if m not in other]
    )


def sign_angles(angles: NDArray[np.float64], sides: pd.Series, *, axis: str) -> Cells:
    """Return longitudes or latitudes with the sign that the letter beside them tells.

    Parameters
    ----------
    angles : array of float
        Degrees, shape (n,); NaN where there is none.
    sides : Series of str
        ``N``, ``south`` and the like, NaN where empty, as long as `angles`.
    axis : str
        ``lon`` or ``lat``.

    Returns
    -------
    Cells
        Without a letter an angle stays as it is. One whose sign and letter disagree, or whose
        letter is none of its axis, is bad.

    Examples
    --------
    >>> import pandas as pd
    >>> sign_angles(np.array([80.5, -80.5]), pd.Series(["W", None]), axis="lon").data.tolist()
    [-80.5, -80.5]
    """
    letters = sides.str.lower().str.rstrip(".")
    signs = letters.map(_SIGNS).to_numpy(dtype=float, na_value=np.nan)
    fits = letters.str.startswith(("n", "s") if axis == "lat" else ("e", "w"), na=False).to_numpy()
    told = letters.notna().to_numpy() & ~np.isnan(angles)
    bad = told & (~fits | np.isnan(signs) | ((signs > 0) & (angles < 0)))
    values = np.where(told, signs * np.abs(angles), angles)
    rule = f"must be the hemisphere of the {axis} beside it"
    return Cells(np.where(bad, np.nan, values), bad, rule)
