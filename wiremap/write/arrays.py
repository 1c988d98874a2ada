"""One layer as the plain arrays that pyogrio takes.

Converting here, once a column, is several times faster than handing over small GeoDataFrames.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray
    from pandas.api.extensions import ExtensionArray

RESERVED_NAMES = ("fid", "geom")
"""Column names that a GeoPackage layer needs for itself."""


class LayerArrays(NamedTuple):
    """Field names, values and null masks of a layer, in column order."""

    names: list[str]
    values: list[NDArray[np.generic]]
    nulls: list[NDArray[np.bool_] | None]


def flatten_fields(frame: pd.DataFrame, *, finite: bool = False) -> LayerArrays:
    """Return the columns of a layer, geometry left out, as arrays with null masks.

    Parameters
    ----------
    frame : DataFrame or GeoDataFrame
        Any dtypes. Numbers stay numbers and flags flags; everything else becomes text, dates as
        ISO 8601. Missing values of any kind become null.
    finite : bool
        Turn infinite numbers into null, for formats that cannot say infinity.

    Returns
    -------
    LayerArrays
        Names are made unique without regard to case, as SQLite needs.

    Examples
    --------
    >>> import pandas as pd
    >>> flatten_fields(pd.DataFrame({"fid": [1], "note": [None]})).names
    ['fid_2', 'note']
    """
    names, values, nulls = [], [], []
    for name, column in frame.items():
        if name == "geometry":
            continue
        value, null = _flatten(column.array, finite=finite)
        names.append(str(name))
        values.append(value)
        nulls.append(null)
    return LayerArrays(unique_names(names), values, nulls)


def unique_names(names: list[str]) -> list[str]:
    """Return the names, numbered where one is taken or reserved, whatever its case.

    Parameters
    ----------
    names : list of str
        Column names; control characters become spaces and an empty name becomes ``column``.

    Returns
    -------
    list of str
        As many names, unique, in the same order.

    Examples
    --------
    >>> unique_names(["note", "Note", "geom"])
    ['note', 'Note_2', 'geom_2']
    """
    taken = set(RESERVED_NAMES)
    unique = []
    for name in names:
        plain = "".join(c if c.isprintable() else " " for c in name).strip() or "column"
        candidate, number = plain, 1
        while candidate.lower() in taken:
            number += 1
            candidate = f"{plain}_{number}"
        taken.add(candidate.lower())
        unique.append(candidate)
    return unique


def _flatten(
    column: ExtensionArray, *, finite: bool
) -> tuple[NDArray[np.generic], NDArray[np.bool_] | None]:
    """Return one column as an array of a type that pyogrio knows, and where it is null."""
    dtype = column.dtype
    kind = getattr(dtype, "kind", "O")  # numpy's letter for the type of the values
    if kind == "f":
        value = column.to_numpy(dtype="float64", na_value=np.nan)
        return (np.where(np.isinf(value), np.nan, value) if finite else value), None
    if kind in "iub" and str(dtype) not in {"uint64", "UInt64"}:
        null = np.asarray(column.isna())
        target = "bool" if kind == "b" else "int64"
        if not null.any():
            return column.to_numpy(dtype=target), None
        return column.to_numpy(dtype=target, na_value=0), null
    return _text(column), None


def _text(column: ExtensionArray) -> NDArray[np.generic]:
    """Return any column as text, None where it is missing."""
    null = np.asarray(column.isna())
    text = np.array(column, dtype=object)
    if str(column.dtype) != "str":
        given = np.flatnonzero(~null)
        text[given] = [_as_text(value) for value in text[given]]
    text[null] = None
    return _without_surrogates(text)


def _without_surrogates(text: NDArray[np.object_]) -> NDArray[np.object_]:
    """Replace what no file in UTF-8 can hold, such as bytes of a file name in no encoding."""
    try:
        "".join(filter(None, text)).encode()
    except UnicodeEncodeError:
        cleaned = [None if t is None else t.encode(errors="replace").decode() for t in text]
        return np.array(cleaned, dtype=object)
    return text


def _as_text(value: object) -> str:
    return value.isoformat() if hasattr(value, "isoformat") else str(value)
