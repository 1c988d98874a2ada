"""Columns of a table as plain arrays, whatever the table lacks, and where a row came from."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Mapping

    import pandas as pd
    from numpy.typing import NDArray


def texts(frame: pd.DataFrame, name: str) -> NDArray[np.object_]:
    """Return a column of texts.

    Parameters
    ----------
    frame : DataFrame
    name : str

    Returns
    -------
    array of str
        Empty text where a value is missing, throughout where the frame lacks the column.

    Examples
    --------
    >>> import pandas as pd
    >>> texts(pd.DataFrame({"run": ["W1", None]}), "run").tolist()
    ['W1', '']
    """
    if name not in frame:
        return np.full(len(frame), "", dtype=object)
    return np.asarray(frame[name].to_numpy(dtype=object, na_value=""))


def numbers(frame: pd.DataFrame, name: str) -> NDArray[np.float64]:
    """Return a column of numbers.

    Parameters
    ----------
    frame : DataFrame
    name : str

    Returns
    -------
    array of float
        NaN where a value is missing, throughout where the frame lacks the column.

    Examples
    --------
    >>> import pandas as pd
    >>> numbers(pd.DataFrame({"run": ["W1"]}), "depth_m").tolist()
    [nan]
    """
    if name not in frame:
        return np.full(len(frame), np.nan)
    return np.asarray(frame[name].to_numpy(dtype=np.float64, na_value=np.nan))


def flags(frame: pd.DataFrame, name: str) -> NDArray[np.bool_]:
    """Return a column of yes and no.

    Parameters
    ----------
    frame : DataFrame
    name : str

    Returns
    -------
    array of bool
        No where a value is missing, throughout where the frame lacks the column.

    Examples
    --------
    >>> import pandas as pd
    >>> flags(pd.DataFrame({"is_permanent": pd.array([True, None])}), "is_permanent").tolist()
    [True, False]
    """
    if name not in frame:
        return np.zeros(len(frame), dtype=bool)
    return np.asarray(frame[name].eq(other=True).to_numpy(dtype=bool, na_value=False))


def source_of(row: Mapping[str, Any] | pd.Series) -> dict[str, Any]:
    """Return the file and row that a row came from, as keywords of a `Finding`.

    Parameters
    ----------
    row : mapping or Series
        Cells source_file and source_row, where there are any.

    Returns
    -------
    dict
        ``source_file`` (empty where missing) and ``source_row`` (None where missing).

    Examples
    --------
    >>> source_of({"source_file": "locates.csv", "source_row": 7.0})
    {'source_file': 'locates.csv', 'source_row': 7}
    """
    import pandas as pd

    file, number = row.get("source_file"), row.get("source_row")
    return {
        "source_file": file if isinstance(file, str) else "",
        "source_row": None if pd.isna(number) else int(number),
    }
