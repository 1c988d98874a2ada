"""The columns of points on runs as arrays: levels on one scale, depths known or stood in for."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from wiremap.formulas.tone import linear_level

if TYPE_CHECKING:
    import geopandas as gpd
    import numpy.typing as npt
    import pandas as pd

    from wiremap.model.settings import Settings

    Floats = npt.NDArray[np.float64]
    Flags = npt.NDArray[np.bool_]
    Texts = npt.NDArray[np.object_]
    Places = npt.NDArray[np.intp] | npt.NDArray[np.bool_] | slice

_USUAL_DEPTH_M = 0.3
_UNKNOWN_DEPTH_SHARE = 0.15
_LARGEST_DEPTH_SHARE = 0.5
_LEAST_DEPTH_SHARE = 0.02


@dataclass(frozen=True)
class Rows:
    """Points on runs, one array a column.

    Attributes
    ----------
    run, feature, visit : ndarray of object
        Run, what the point is, and the day; empty text where not said.
    level, gain : ndarray
        Linear level; the gain setting, infinite where the gain table has evened it out.
    chainage_m, depth_m, depth_share, rms_m : ndarray
        Distance along the run, depth, its relative sigma, and the position's radial RMS.
    usable : ndarray of bool
        False where a point was set aside as off the line.
    read_shift, read_share : ndarray
        Log of the depth read at the point over `depth_m`, and the reading's own relative sigma;
        NaN where none was read.
    """

    run: Texts
    feature: Texts
    visit: Texts
    level: Floats
    gain: Floats
    chainage_m: Floats
    depth_m: Floats
    depth_share: Floats
    rms_m: Floats
    usable: Flags
    read_shift: Floats
    read_share: Floats

    def take(self, at: Places) -> Rows:
        """Return some of the rows."""
        return Rows(*(getattr(self, name)[at] for name in self.__dataclass_fields__))


def arrange_rows(
    points: gpd.GeoDataFrame, *, readings: pd.DataFrame | None, settings: Settings
) -> Rows:
    """Return the columns that the tone needs, as arrays.

    Parameters
    ----------
    points : GeoDataFrame
        Points on runs, ordered by run and chainage.
    readings : DataFrame or None
        Depth readings: locate, depth_m, depth_sigma_m and, where known, systematic_sigma_m.
    settings : Settings
        Tone scale and gain table.

    Returns
    -------
    Rows
        Depths that are not known are the run's mean, else the property's, else 0.3 m, with a
        relative sigma of at least 0.15 (project choices: a usual trench, and how much it varies).
    """
    run = points["run"].to_numpy(dtype=object)
    level = linear_level(read_numbers(points, "tone"), scale=settings.locating.tone_scale)
    level, gain = _apply_gain_table(level, read_numbers(points, "gain"), settings)
    depth, share = _fill_depths(
        read_numbers(points, "wire_depth_m"), read_numbers(points, "wire_depth_sigma_m"), run
    )
    read, read_sigma = _read_depths(points, readings)
    chainage = read_numbers(points, "chainage_m")
    usable = np.isfinite(chainage)
    if "on_line" in points:
        usable &= points["on_line"].to_numpy(dtype=bool)
    return Rows(
        run=run,
        feature=read_texts(points, "feature"),
        visit=np.array([str(day)[:10] for day in read_texts(points, "date")], dtype=object),
        level=level,
        gain=gain,
        chainage_m=chainage,
        depth_m=depth,
        depth_share=share,
        rms_m=read_numbers(points, "position_rms_m"),
        usable=usable,
        read_shift=np.log(read / depth),
        read_share=read_sigma / read,
    )


def read_numbers(frame: pd.DataFrame, name: str) -> Floats:
    """Return a column as floats; NaN where it is missing or the frame lacks it.

    Parameters
    ----------
    frame : DataFrame
    name : str

    Returns
    -------
    ndarray
    """
    if name not in frame:
        return np.full(len(frame), np.nan)
    return np.asarray(frame[name].to_numpy(dtype=np.float64, na_value=np.nan))


def read_texts(frame: pd.DataFrame, name: str) -> Texts:
    """Return a column as texts; empty where it is missing or the frame lacks it.

    Parameters
    ----------
    frame : DataFrame
    name : str

    Returns
    -------
    ndarray of object
    """
    if name not in frame:
        return np.full(len(frame), "", dtype=object)
    return np.asarray(frame[name].to_numpy(dtype=object, na_value=""))


def _read_depths(points: pd.DataFrame, readings: pd.DataFrame | None) -> tuple[Floats, Floats]:
    """Return the depth read at each point and its own sigma; NaN where none was read."""
    if readings is None or "locate" not in points or not len(readings):
        return np.full(len(points), np.nan), np.full(len(points), np.nan)
    import pandas as pd

    row = pd.Index(readings["locate"]).get_indexer(pd.Index(points["locate"]))
    depth = read_numbers(readings, "depth_m")
    shared = np.nan_to_num(read_numbers(readings, "systematic_sigma_m"))
    total = read_numbers(readings, "depth_sigma_m")
    own = np.sqrt(np.maximum(total**2 - shared**2, (_LEAST_DEPTH_SHARE * depth) ** 2))
    found = (row >= 0) & (depth[row] > 0)
    return np.where(found, depth[row], np.nan), np.where(found, own[row], np.nan)


def _apply_gain_table(level: Floats, gain: Floats, settings: Settings) -> tuple[Floats, Floats]:
    """Bring levels whose gain the table knows to one scale; the others keep their gain."""
    gain = np.where(np.isnan(gain), -np.inf, gain)
    is_decibel = settings.locating.tone_scale == "decibel"
    for setting, stated in settings.locating.gain_table.items():
        try:
            at = gain == float(setting)
        except ValueError:
            continue
        factor = 10.0 ** (stated / 20.0) if is_decibel else stated
        if factor > 0:
            level = np.where(at, level / factor, level)
            gain = np.where(at, np.inf, gain)
    return level, gain


def _fill_depths(depth: Floats, sigma: Floats, run: Texts) -> tuple[Floats, Floats]:
    """Return depths and relative sigmas without gaps."""
    known = np.isfinite(depth) & (depth > 0)
    overall = float(np.median(depth[known])) if known.any() else _USUAL_DEPTH_M
    spread = float(np.std(depth[known]) / overall) if known.any() else 0.0
    filled = np.where(known, depth, overall)
    share = np.where(known, sigma / filled, np.nan)
    if not known.all():
        _, run_of = np.unique(run.astype(str), return_inverse=True)
        count = np.bincount(run_of, known)
        total = np.bincount(run_of, np.where(known, depth, 0.0))
        mean = np.where(count > 0, total / np.maximum(count, 1), overall)
        filled = np.where(known, depth, mean[run_of])
    unknown = max(_UNKNOWN_DEPTH_SHARE, spread)
    return filled, np.where(np.isfinite(share), np.clip(share, 0.0, _LARGEST_DEPTH_SHARE), unknown)
