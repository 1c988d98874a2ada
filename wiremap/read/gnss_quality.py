"""How far a GNSS position may be off that states no accuracy, from its fix quality and HDOP.

A stated RMS and the receiver's own error estimate (GST) always go before it. The figures are
settings: where there is none for a fix, `default_rms_m` holds for it as for any other position.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import ArrayLike, NDArray

    from wiremap.model.settings import Coordinates

LOG_COLUMNS = frozenset(
    {"fix_quality", "hdop", "satellites", "geoid_separation_m", "track_seg_id", "fix", "sat"}
)
"""Columns of a receiver's log that are known beside those of the contract."""
_GPX_FIXES = {"2d": 1, "3d": 1, "dgps": 2, "pps": 3}
_POSITIONS = ("lon", "easting")


def estimate_rms(
    quality: ArrayLike, hdop: ArrayLike, *, at_hdop_1_m: Mapping[int, float]
) -> NDArray[np.float64]:
    """Return the horizontal radial RMS that a fix's quality and HDOP let expect.

    Parameters
    ----------
    quality : array of float
        GGA fix quality, 0 to 8.
    hdop : array of float
        Horizontal dilution of precision, of the same shape.
    at_hdop_1_m : mapping of int to float
        RMS in metres at HDOP 1 by fix quality; it grows in proportion to HDOP.

    Returns
    -------
    array of float
        Metres; NaN where the quality has no figure or HDOP is missing or not positive.

    Examples
    --------
    >>> estimate_rms([1, 4], [0.9, 1.0], at_hdop_1_m={1: 4.0}).tolist()
    [3.6, nan]
    """
    quality = np.asarray(quality, dtype=float)
    hdop = np.asarray(hdop, dtype=float)
    at_one = np.full(quality.shape, np.nan)
    for number, rms_m in at_hdop_1_m.items():
        at_one[quality == number] = rms_m
    return np.where(hdop > 0, at_one * hdop, np.nan)


def fill_rms(locates: pd.DataFrame, *, coordinates: Coordinates) -> list[str]:
    """Fill the RMS of positions that state none, where fix quality and HDOP let expect one.

    Parameters
    ----------
    locates : DataFrame, table ``locates_in``
        Filled in place from ``fix_quality`` (of GGA) or ``fix`` (of GPX) and ``hdop``, where the
        file has them; an HDOP that is missing counts as 1.
    coordinates : Coordinates
        Settings ``rms_at_hdop_1_m`` and ``default_rms_m``.

    Returns
    -------
    list of str
        Notes on what was taken.
    """
    if not {"hdop", "fix_quality", "fix"} & set(locates.columns):
        return []
    quality = _numbers(locates, "fix_quality")
    if "fix" in locates:
        written = locates["fix"].astype("str").str.lower().map(_GPX_FIXES)
        quality = np.where(np.isnan(quality), written.to_numpy(dtype=float), quality)
    is_placed = np.logical_or.reduce([locates[name].notna().to_numpy() for name in _POSITIONS])
    is_open = locates["h_rms_m"].isna().to_numpy() & is_placed
    figures = coordinates.rms_at_hdop_1_m
    hdop = _numbers(locates, "hdop")
    rms = estimate_rms(quality, np.where(np.isnan(hdop), 1.0, hdop), at_hdop_1_m=figures)
    is_told = is_open & ~np.isnan(rms)
    locates["h_rms_m"] = np.where(is_told, rms, locates["h_rms_m"].to_numpy(dtype=float))
    notes = []
    if is_told.any():
        used = sorted({int(number) for number in quality[is_told]})
        shown = ", ".join(f"{figures[n]:g} m for quality {n}" for n in used)
        notes.append(
            f"{int(is_told.sum())} positions state no accuracy; it was taken from fix quality and"
            f" HDOP, at HDOP 1 {shown}: rms_at_hdop_1_m under [coordinates]"
        )
    bare = int((is_told & np.isnan(hdop)).sum())
    if bare:
        notes.append(f"{bare} of them state no HDOP either; it was taken as 1, which is favourable")
    left = int((is_open & ~is_told & ~np.isnan(hdop)).sum())
    if left:
        notes.append(
            f"{left} positions state an HDOP but no accuracy; HDOP alone is none, so default_rms_m,"
            f" {coordinates.default_rms_m:g} m, holds for them"
        )
    return notes


def _numbers(locates: pd.DataFrame, name: str) -> NDArray[np.float64]:
    """Return a column as numbers, NaN where it is missing."""
    if name not in locates:
        return np.full(len(locates), np.nan)
    return pd.to_numeric(locates[name], errors="coerce").to_numpy(dtype=float, na_value=np.nan)
