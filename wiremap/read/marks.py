"""Positions for marks that have only a time, from a log of fixes; means over a stay.

A mark list is a table written by hand or by an app: what was found, and when. The receiver's log
says where it was at that time.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

_CARRIED = ("lon", "lat", "elevation_m", "geoid_separation_m")
_POSITIONS = ("lon", "easting", "tie_a", "baseline_a", "grid_x_m")
_LOG_COLUMNS = ("fix_quality", "track_seg_id")
"""Columns that only rows of a receiver's log carry: of NMEA, and of a GPX track."""


class PlacedMarks(NamedTuple):
    """A table of locates whose marks have positions, and what was done, in words."""

    locates: pd.DataFrame
    note: str


def place_marks(
    locates: pd.DataFrame, *, max_gap_s: float = 5.0, utc_offset_h: float = 0.0
) -> PlacedMarks:
    """Return locates in which rows that have only a time stand where the log was at that time.

    Parameters
    ----------
    locates : DataFrame, table ``locates_in``
        Marks and logs together. Rows of a log are known by a column of their reader:
        ``fix_quality`` (NMEA) or ``track_seg_id`` (GPX).
    max_gap_s : float
        As in `join_marks_by_time`.
    utc_offset_h : float
        Hours that times without an offset are ahead of UTC.

    Returns
    -------
    PlacedMarks
        Marks with ``lon``, ``lat``, ``position_crs``, ``elevation_m`` and ``h_rms_m`` of the log.
        The rows of an NMEA log that served are left out: they were no locates. Where there is no
        mark without a position, or no log, the table is returned as it is, with an empty note.

    Examples
    --------
    >>> import pandas as pd
    >>> table = pd.DataFrame({"point": ["fix", "fix", "V1"], "fix_quality": [4, 4, None],
    ...     "date": ["2026-05-04T12:00:00Z", "2026-05-04T12:00:02Z", "2026-05-04T12:00:01Z"],
    ...     "lon": [-99.0, -98.0, None], "lat": [36.0, 36.0, None]})
    >>> place_marks(table).locates[["point", "lon"]].to_numpy().tolist()
    [['V1', -98.5]]
    """
    given = [locates[name].notna() for name in _POSITIONS if name in locates]
    logged = [locates[name].notna() for name in _LOG_COLUMNS if name in locates]
    if not given or not logged:
        return PlacedMarks(locates, "")
    is_log = np.logical_or.reduce(logged)
    is_mark = ~np.logical_or.reduce(given) & np.isfinite(_seconds(locates["date"], utc_offset_h=0))
    if not is_mark.any() or not is_log.any():
        return PlacedMarks(locates, "")
    fixes = steady_stays(locates[is_log])
    marks = join_marks_by_time(
        locates[is_mark], fixes, max_gap_s=max_gap_s, utc_offset_h=utc_offset_h
    )
    placed = locates.copy()
    for name in marks.columns.intersection([*_CARRIED, "h_rms_m"]):
        placed.loc[is_mark, name] = marks[name].to_numpy()
    if "position_crs" in placed:
        found = is_mark & placed["lon"].notna().to_numpy()
        placed.loc[found, "position_crs"] = fixes["position_crs"].iloc[0]
    is_served = np.zeros(len(locates), dtype=bool)
    if "fix_quality" in locates:
        is_served = locates["fix_quality"].notna().to_numpy()
    note = _describe(marks, fixes, utc_offset_h=utc_offset_h)
    return PlacedMarks(placed[~is_served], note)


def _describe(marks: pd.DataFrame, fixes: pd.DataFrame, *, utc_offset_h: float) -> str:
    """Return how many marks were placed; where some were not, when the log ran and they were."""
    count = int(marks["lon"].notna().sum())
    note = f"{count} of {len(marks)} marks without a position were placed by time from the log"
    if count == len(marks):
        return note
    spans = [
        " to ".join(np.datetime_as_string(np.array([t.min(), t.max()]).astype("datetime64[s]")))
        for t in (
            _known(_seconds(fixes["date"], utc_offset_h=0)),
            _known(_seconds(marks["date"], utc_offset_h=utc_offset_h)),
        )
        if len(t)
    ]
    log, taken = spans if len(spans) > 1 else ("without times", *spans)
    return (
        f"{note}; the log runs {log} UTC, the marks {taken} UTC at utc_offset_h = {utc_offset_h:g},"
        " which [locating] in property.toml sets"
    )


def _known(seconds: NDArray[np.float64]) -> NDArray[np.float64]:
    return seconds[np.isfinite(seconds)]


def join_marks_by_time(
    marks: pd.DataFrame,
    fixes: pd.DataFrame,
    *,
    max_gap_s: float = 5.0,
    utc_offset_h: float = 0.0,
) -> pd.DataFrame:
    """Return marks with the positions that a log of fixes had at their times.

    Parameters
    ----------
    marks : DataFrame
        Column ``date``: ISO 8601 date and time. A time with an offset is taken as it is, one
        without is local time.
    fixes : DataFrame
        Columns ``date`` (UTC), ``lon``, ``lat``; ``elevation_m`` and ``h_rms_m`` where known.
    max_gap_s : float
        Longest time in seconds between the two fixes around a mark; a mark at a fix needs one
        only. Default: project choice, a walker covers some 7 m in it.
    utc_offset_h : float
        Hours that the marks' local time is ahead of UTC.

    Returns
    -------
    DataFrame
        The marks, same index, with ``lon``, ``lat``, ``elevation_m`` interpolated between the two
        fixes around each, and ``h_rms_m`` the greater of the two. All are NaN where a mark has
        no readable time or no fixes close enough. Values that a mark carries itself are kept.

    Examples
    --------
    >>> import pandas as pd
    >>> fixes = pd.DataFrame({"date": ["2026-05-04T12:00:00Z", "2026-05-04T12:00:02Z"],
    ...                       "lon": [-99.0, -98.0], "lat": [36.0, 36.0]})
    >>> marks = pd.DataFrame({"date": ["2026-05-04T12:00:01Z"]})
    >>> join_marks_by_time(marks, fixes).loc[0, "lon"].item()
    -98.5
    """
    wanted = _seconds(marks["date"], utc_offset_h=utc_offset_h)
    logged = _seconds(fixes["date"], utc_offset_h=0.0)
    order = np.argsort(logged, kind="stable")
    order = order[np.isfinite(logged[order])]
    joined = marks.copy()
    columns = [name for name in (*_CARRIED, "h_rms_m") if name in fixes]
    if not len(order):
        return _fill(joined, {name: np.full(len(marks), np.nan) for name in columns})
    time = logged[order]
    after = np.clip(np.searchsorted(time, wanted, side="left"), 0, len(time) - 1)
    before = np.clip(np.searchsorted(time, wanted, side="right") - 1, 0, len(time) - 1)
    gap = time[after] - time[before]
    within = (wanted >= time[0]) & (wanted <= time[-1]) & (gap <= max_gap_s)
    share = np.where(gap > 0, (wanted - time[before]) / np.where(gap > 0, gap, 1.0), 0.0)
    found: dict[str, NDArray[np.float64]] = {}
    for name in columns:
        value = fixes[name].to_numpy(dtype=float, na_value=np.nan)[order]
        low, high = value[before], value[after]
        mean = np.maximum(low, high) if name == "h_rms_m" else low + share * (high - low)
        found[name] = np.where(within, mean, np.nan)
    return _fill(joined, found)


def _fill(marks: pd.DataFrame, found: dict[str, NDArray[np.float64]]) -> pd.DataFrame:
    """Add the found values where a mark has none of its own."""
    for name, value in found.items():
        if name in marks:
            own = marks[name]
            marks[name] = own.where(own.notna(), value)
        else:
            marks[name] = value
    return marks


def _seconds(date: pd.Series, *, utc_offset_h: float) -> NDArray[np.float64]:
    """Return seconds since 1970 in UTC; NaN where the text is not a date and time."""
    import pandas as pd

    text = date.astype("str").str.strip()
    has_zone = text.str.contains(r"(?:Z|[+-]\d{2}:?\d{2})$", regex=True, na=False).to_numpy(
        dtype=bool
    )
    has_time = text.str.contains(r"\d:\d", regex=True, na=False).to_numpy(dtype=bool)
    moment = pd.to_datetime(text, format="ISO8601", utc=True, errors="coerce")
    nano = moment.dt.as_unit("ns").astype("int64").to_numpy()
    seconds = np.where(moment.isna() | ~has_time, np.nan, nano / 1e9)
    return np.where(has_zone, seconds, seconds - 3600.0 * utc_offset_h)


def steady_stays(
    fixes: pd.DataFrame, *, radius_m: float | None = None, min_fixes: int = 10
) -> pd.DataFrame:
    """Return fixes in which those of one stay all stand at the stay's median position.

    A mark whose time lies in a stay is so placed by the middle of the stay, which a few fixes of
    coming and going do not draw aside.

    Parameters
    ----------
    fixes : DataFrame
        Columns ``lon``, ``lat`` in degrees, in the order logged.
    radius_m, min_fixes
        As in `average_stays`; the fixes of shorter stays are left as they are.

    Returns
    -------
    DataFrame
        The same rows.

    Examples
    --------
    >>> import pandas as pd
    >>> still = pd.DataFrame({"lon": [-99.0, -99.000002] * 6, "lat": [36.0] * 12})
    >>> steady_stays(still)["lon"].round(7).unique().tolist()
    [-99.000001]
    """
    stay = _number_stays(fixes, radius_m=radius_m)
    is_long = (np.bincount(stay) >= min_fixes)[stay]
    steady = fixes.copy()
    middle = fixes.loc[is_long, ["lon", "lat"]].groupby(stay[is_long]).transform("median")
    for name in middle:
        value = fixes[name].to_numpy(dtype=float, copy=True)
        value[is_long] = middle[name].to_numpy(dtype=float)
        steady[name] = value
    return steady


def average_stays(
    fixes: pd.DataFrame, *, radius_m: float | None = None, min_fixes: int = 10
) -> pd.DataFrame:
    """Return one row for each stay: consecutive fixes that keep within a radius.

    Parameters
    ----------
    fixes : DataFrame
        Columns ``lon``, ``lat`` in degrees, in the order logged; ``h_rms_m`` where known.
    radius_m : float, optional
        How far fixes may lie from the first of their stay. Where not given, three times the
        median RMS of the fixes, but `LEAST_RADIUS_M` to `MOST_RADIUS_M`: marks of a located pair
        stand a few decimetres apart and must not become one stay.
    min_fixes : int
        Fewest fixes that make a stay; shorter ones are left out.

    Returns
    -------
    DataFrame
        The first row of each stay with mean ``lon``, ``lat``, ``elevation_m``, ``date`` of its
        first fix, ``date_last`` and ``fixes``. ``h_rms_m`` is the root mean square of the fixes'
        own: errors of consecutive fixes are alike, so averaging is not taken to lessen them.

    Examples
    --------
    >>> import pandas as pd
    >>> still = pd.DataFrame({"lon": [-99.0] * 12, "lat": [36.0] * 12})
    >>> average_stays(still).loc[0, "fixes"].item()
    12
    """
    import pandas as pd

    stay = _number_stays(fixes, radius_m=radius_m)
    columns = {name: (name, "mean") for name in _CARRIED if name in fixes}
    grouped = fixes.assign(stay=stay).groupby("stay", sort=True)
    rows = fixes.loc[grouped.head(1).index].reset_index(drop=True)
    means = grouped.agg(fixes=("lon", "size"), **columns).reset_index(drop=True)
    rows = rows.assign(**{name: means[name] for name in means.columns})
    if "h_rms_m" in fixes:
        square = fixes.assign(stay=stay, square=fixes["h_rms_m"] ** 2).groupby("stay")["square"]
        rows["h_rms_m"] = np.sqrt(square.mean().to_numpy())
    if "date" in fixes:
        rows["date_last"] = grouped["date"].last().to_numpy()
    kept = rows["fixes"] >= min_fixes
    return pd.DataFrame(rows[kept]).reset_index(drop=True)


LEAST_RADIUS_M, MOST_RADIUS_M = 0.05, 1.0
"""Radius of a stay: what a pole held by hand sways, and what is walked in a second or two (project
choice)."""


def _choose_radius(fixes: pd.DataFrame) -> float:
    """Return the radius of a stay from the RMS that fixes state; the most where none does."""
    rms = _known(fixes["h_rms_m"].to_numpy(dtype=float)) if "h_rms_m" in fixes else np.empty(0)
    wanted = 3 * float(np.median(rms)) if len(rms) else MOST_RADIUS_M
    return min(max(wanted, LEAST_RADIUS_M), MOST_RADIUS_M)


def _number_stays(fixes: pd.DataFrame, *, radius_m: float | None) -> NDArray[np.intp]:
    """Return for each fix the number of its stay."""
    radius = _choose_radius(fixes) if radius_m is None else radius_m
    metres_per_degree = 111_195.0  # sphere of 6371 km: 0.5 % suffices for a radius
    lat = fixes["lat"].to_numpy(dtype=float)
    y = lat * metres_per_degree
    x = fixes["lon"].to_numpy(dtype=float) * metres_per_degree * np.cos(np.radians(lat))
    is_start = np.ones(len(x), dtype=bool)
    near = np.flatnonzero(np.hypot(np.diff(x), np.diff(y)) <= radius)
    place = 0
    while place < len(near):
        start = int(near[place])
        end = _end_of_stay(x, y, start=start, radius_m=radius)
        is_start[start + 1 : end] = False
        place = int(np.searchsorted(near, end))
    return np.cumsum(is_start) - 1


_LOOK_AHEAD = 256


def _end_of_stay(
    x: NDArray[np.float64], y: NDArray[np.float64], *, start: int, radius_m: float
) -> int:
    """Return where the stay that starts at a fix ends, looking ahead in blocks."""
    block = start
    while block < len(x):
        ahead = slice(block, block + _LOOK_AHEAD)
        outside = ~(np.hypot(x[ahead] - x[start], y[ahead] - y[start]) <= radius_m)
        outside[0] &= block != start
        if outside.any():
            return block + int(np.argmax(outside))
        block += _LOOK_AHEAD
    return len(x)
