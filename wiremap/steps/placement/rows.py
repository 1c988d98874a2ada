"""Rows of a table as arrays, and findings that name the row they speak of."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd

from wiremap.model.findings import Finding

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from wiremap.model.kinds import Feature, Severity

    Floats = NDArray[np.float64]
    Objects = NDArray[np.object_]


LARGEST = 1e9
"""Coordinates and distances beyond this, infinity among them, are none: in no unit do they lie
on the earth."""


class Fixes(NamedTuple):
    """One kind of position for every row: plane metres and covariance, NaN where there is none."""

    xy: Floats
    cov: Floats

    @property
    def known(self) -> NDArray[np.bool_]:
        """Which rows have a position."""
        return np.isfinite(self.xy[:, 0]) & np.isfinite(self.xy[:, 1])


def no_fixes(count: int) -> Fixes:
    """Return fixes of which none is known."""
    return Fixes(np.full((count, 2), np.nan), np.full((count, 2, 2), np.nan))


def numbers(frame: pd.DataFrame, name: str) -> Floats:
    """Return a numeric column as floats, NaN where nothing is written that can be measured."""
    if name not in frame:
        return np.full(len(frame), np.nan)
    values = frame[name].to_numpy(dtype=float, na_value=np.nan)
    return np.where(np.abs(values) <= LARGEST, values, np.nan)


def words(frame: pd.DataFrame, name: str) -> Objects:
    """Return a text column, trimmed, with empty text where nothing is written."""
    if name not in frame or not len(frame) or frame[name].isna().all():
        return np.full(len(frame), "", dtype=object)
    return frame[name].fillna("").astype(str).str.strip().to_numpy(dtype=object)


def rows_of(frame: pd.DataFrame, feature: Feature) -> NDArray[np.intp]:
    """Return the rows of one feature."""
    if "feature" not in frame:
        return np.empty(0, dtype=np.intp)
    return np.flatnonzero(frame["feature"].to_numpy(dtype=object) == str(feature))


def row_finding(  # noqa: PLR0913 - the parts of a finding, all by keyword
    code: str,
    frame: pd.DataFrame,
    row: int,
    message: str,
    *,
    column: str = "",
    value: str = "",
    advice: str = "",
    severity: Severity | None = None,
    xy: Floats | None = None,
) -> Finding:
    """Return a finding about one row, with its file, row and name."""
    name = "reference" if "reference" in frame else "point"
    x_m, y_m = (float(xy[0]), float(xy[1])) if xy is not None else (float("nan"), float("nan"))
    number = frame["source_row"].iloc[row] if "source_row" in frame else None
    return Finding(
        code,
        _cell(frame, name, row),
        message,
        advice,
        severity,
        _cell(frame, "source_file", row),
        None if number is None or pd.isna(number) else int(number),
        column,
        value,
        x_m,
        y_m,
    )


def _cell(frame: pd.DataFrame, name: str, row: int) -> str:
    value = frame[name].iloc[row] if name in frame else ""
    return "" if pd.isna(value) else str(value)
