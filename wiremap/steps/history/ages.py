"""How long ago each feature was last observed, and what that adds to the dig buffer."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from wiremap.model.settings import Settings

    Floats = NDArray[np.float64]

DAYS_A_YEAR = 365.25


def date_record(locates: pd.DataFrame, *, settings: Settings) -> str:
    """Return the day that ages are counted to.

    Parameters
    ----------
    locates : DataFrame
        Column date.
    settings : Settings
        ``property.prepared_on``.

    Returns
    -------
    str
        The day the record was prepared on, else the latest day of the locates; empty where there
        is neither. Never today: one input gives one record whenever it is built.
    """
    if settings.property.prepared_on:
        return settings.property.prepared_on.isoformat()
    dates = locates["date"].dropna()
    return str(dates.max())[:10] if len(dates) else ""


def count_days(last: pd.Series, *, until: str) -> Floats:
    """Return whole days from each last observation to the day of the record.

    Parameters
    ----------
    last : Series of str
        Dates, ISO 8601.
    until : str
        Day of the record.

    Returns
    -------
    array
        Days, not less than 0; NaN where there is no date.

    Examples
    --------
    >>> count_days(pd.Series(["2026-03-11", None]), until="2026-03-21").tolist()
    [10.0, nan]
    """
    if not until or not len(last):
        return np.full(len(last), np.nan)
    days = pd.to_datetime(last.astype("str").str[:10], format="ISO8601", errors="coerce")
    passed = (pd.Timestamp(until) - days).dt.days
    return np.maximum(np.asarray(passed, dtype=np.float64), 0.0)


def widen_with_age(
    vertices: pd.DataFrame, wire_runs: pd.DataFrame, *, until: str, settings: Settings
) -> pd.DataFrame:
    """Return the vertices with what the age of their run adds to the dig buffer.

    Parameters
    ----------
    vertices : DataFrame
        Vertices of the lines, column run.
    wire_runs : DataFrame
        Layer ``wire_runs``, columns run, last_date.
    until : str
        Day of the record.
    settings : Settings
        ``advisory.widen_m_per_year``.

    Returns
    -------
    DataFrame
        The same vertices where nothing is to be added; else with the further column
        ``widen_m``, 0 for runs without a date.
    """
    rate = settings.advisory.widen_m_per_year
    if rate == 0 or not until:
        return vertices
    years = count_days(wire_runs["last_date"], until=until) / DAYS_A_YEAR
    of_run = dict(zip(wire_runs["run"], np.nan_to_num(years).tolist(), strict=True))
    widen = rate * vertices["run"].map(of_run).fillna(0.0).to_numpy(dtype=float)
    return vertices.assign(widen_m=widen)
