"""Limits that single numbers of a locate are held against."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from wiremap.steps.checks.reports import report_rows

if TYPE_CHECKING:
    import pandas as pd

    from wiremap.model.findings import Finding
    from wiremap.model.settings import Settings


class _Limit(NamedTuple):
    """What a number must be: bounds, whether the lower one is allowed, and how to say so."""

    low: float
    high: float
    unit: str
    remedy: str
    is_low_allowed: bool = False


_TAPE = "Measure again, or correct the unit in the column's name."
_LIMITS: dict[str, _Limit] = {
    "offset_left_m": _Limit(0, 10, "m", _TAPE),
    "offset_right_m": _Limit(0, 10, "m", _TAPE),
    "lean_deg": _Limit(0, 89.9, "degrees", "Write the receiver's lean from the vertical."),
    "receiver_height_m": _Limit(
        0, 3, "m", "Write the antenna's height above the ground.", is_low_allowed=True
    ),
    "depth_m": _Limit(0, 10, "m", "Write the depth below the ground as a positive length."),
    "cross_slope_deg": _Limit(
        -60, 60, "degrees", "Write the slope as an angle.", is_low_allowed=True
    ),
    "h_rms_m": _Limit(0, 1000, "m", "Write the receiver's own horizontal RMS."),
    "elevation_m": _Limit(
        -500, 9000, "m", "Correct the unit in the column's name.", is_low_allowed=True
    ),
    "tie_a_dist_m": _Limit(0, 1000, "m", _TAPE, is_low_allowed=True),
    "tie_b_dist_m": _Limit(0, 1000, "m", _TAPE, is_low_allowed=True),
    "tie_c_dist_m": _Limit(0, 1000, "m", _TAPE, is_low_allowed=True),
}
"""Limits of single numbers (project choice): wide enough for any property, tight enough to catch a
wrong unit. No wire of this kind lies ten metres deep, and no receiver leans past the horizontal."""
_NO_TONE_BELOW_ZERO = _Limit(
    0, np.inf, "", "Set tone_scale to decibel if levels are decibels.", is_low_allowed=True
)


def hold_limits(work: pd.DataFrame, *, settings: Settings) -> tuple[pd.DataFrame, list[Finding]]:
    """Return locates with numbers outside their limits emptied, and a finding for each.

    Parameters
    ----------
    work : DataFrame
        Table ``locates_in``.
    settings : Settings
        A tone below zero is refused where `locating.tone_scale` is linear.

    Returns
    -------
    DataFrame, list of Finding
    """
    is_linear = settings.locating.tone_scale == "linear"
    limits = {**_LIMITS, "tone": _NO_TONE_BELOW_ZERO} if is_linear else _LIMITS
    held, findings = {}, []
    for name, limit in limits.items():
        cells, found = _hold_limit(work, name, limit)
        if found:
            held[name] = cells
            findings += found
    return work.assign(**held), findings


def _hold_limit(work: pd.DataFrame, name: str, limit: _Limit) -> tuple[pd.Series, list[Finding]]:
    """Empty numbers outside their limit."""
    values = work[name].to_numpy(dtype=float)
    low = values >= limit.low if limit.is_low_allowed else values > limit.low
    broken = ~np.isnan(values) & ~(low & (values <= limit.high))
    if not broken.any():
        return work[name], []
    unit = f" {limit.unit}" if limit.unit else ""
    lowest = f"{limit.low:g} or more" if limit.is_low_allowed else f"more than {limit.low:g}"
    highest = f" and at most {limit.high:g}" if np.isfinite(limit.high) else ""
    text = f"{name} must be {lowest}{highest}{unit}, got {{value}}{unit}; the cell was emptied."
    rows = np.flatnonzero(broken)
    found = report_rows("bad-value", work, rows, text, column=name, advice=limit.remedy)
    return work[name].mask(broken), found
