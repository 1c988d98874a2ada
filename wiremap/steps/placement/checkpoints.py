"""Check points: points of known position, located again to test the map."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from wiremap.formulas.accuracy import (
    ASPRS_POINTS,
    NSSDA_POINTS,
    RADIAL_95,
    asprs_rmse,
    horizontal_accuracy,
    vertical_accuracy,
)
from wiremap.formulas.repeats import radial_rms
from wiremap.model.findings import Finding
from wiremap.model.kinds import Feature, PlacedBy
from wiremap.steps.placement.references import key_of, stated
from wiremap.steps.placement.rows import numbers, rows_of, words

if TYPE_CHECKING:
    from collections.abc import Mapping

    import pandas as pd
    from numpy.typing import NDArray

    from wiremap.steps.placement.choosing import Chosen
    from wiremap.steps.placement.references import Anchors, Listed
    from wiremap.steps.placement.rows import Fixes

    Floats = NDArray[np.float64]


class Checks(NamedTuple):
    """Check points in arrays: errors (map less known) in the plane and in height, and the RMS.

    `known_rms` is the check survey's own, `stated_rms` what the map claims of itself.
    """

    errors: Floats
    heights: Floats
    known_rms: Floats
    stated_rms: Floats


def gather_checks(
    locates: pd.DataFrame,
    found: Mapping[PlacedBy, Fixes],
    chosen: Chosen,
    anchors: Anchors,
    listed: Listed,
) -> Checks:
    """Return the located check points that have a known position.

    Known is the reference of the same name, else the row's own easting and northing where it was
    located by lon and lat.
    """
    rows = rows_of(locates, Feature.CHECK_POINT)
    names = words(locates.iloc[rows], "point")
    at = np.array([anchors.rows.get(key_of(name), -1) for name in names], dtype=np.intp)
    xy, rms_m = chosen.fixes.xy[rows].copy(), chosen.rms_m[rows].copy()
    known = np.full((len(rows), 2), np.nan)
    known_rms = np.full(len(rows), np.nan)
    heights = np.full(len(rows), np.nan)
    listed_rows = at >= 0
    if listed_rows.any():
        at = at[listed_rows]
        known[listed_rows] = anchors.xy[at]
        known_rms[listed_rows] = radial_rms(anchors.cov[at])
        elevations = stated(anchors, listed, listed.elevation_m, np.nan)[at]
        heights[listed_rows] = numbers(locates, "elevation_m")[rows[listed_rows]] - elevations
    if PlacedBy.GNSS in found and PlacedBy.SURVEY in found:
        own = ~listed_rows
        xy[own] = found[PlacedBy.GNSS].xy[rows[own]]
        rms_m[own] = radial_rms(found[PlacedBy.GNSS].cov[rows[own]])
        known[own] = found[PlacedBy.SURVEY].xy[rows[own]]
        known_rms[own] = radial_rms(found[PlacedBy.SURVEY].cov[rows[own]])
    used = np.isfinite(xy - known).all(axis=1)
    return Checks((xy - known)[used], heights[used], known_rms[used], rms_m[used])


def state_accuracy(checks: Checks) -> tuple[list[Finding], list[tuple[str, str]]]:
    """Return the accuracy statement in the words of the NSSDA, and the figures of ASPRS 2023."""
    met = horizontal_accuracy(checks.errors)
    if not met.points:
        return [], []
    survey = float(np.sqrt(np.mean(checks.known_rms**2)))
    claimed = float(np.sqrt(np.mean(checks.stated_rms**2)))
    notes = [
        ("check points", str(met.points)),
        ("NSSDA horizontal", _nssda(met.points, met.accuracy_95, met.bound_95)),
        ("RMSE x, y, radial", f"{met.rmse_x:.3f} m, {met.rmse_y:.3f} m, {met.rmse_r:.3f} m"),
        ("mean error x, y", f"{met.mean_x:.3f} m, {met.mean_y:.3f} m"),
        ("ASPRS 2023 RMSE_H", _asprs(met.points, asprs_rmse(met.rmse_r, survey))),
        ("RMS that the map states", f"{claimed:.3f} m radial"),
    ]
    count, rmse_z, accuracy_z = vertical_accuracy(checks.heights)
    if count:
        text = f"{accuracy_z:.3f} meters vertical accuracy at 95% confidence level"
        notes.append(("NSSDA vertical", f"{_tested(count)} {text} (RMSE {rmse_z:.3f} m)"))
    message = "; ".join(f"{item}: {value}" for item, value in notes) + "."
    expected = float(np.hypot(claimed, survey))
    advice = ""
    if met.rmse_r > RADIAL_95 * expected:
        advice = "The map states less error than the check points show: raise default_rms_m."
    return [Finding("accuracy-statement", "check points", message, advice)], notes


def _tested(count: int) -> str:
    """Return the standard's first word, with the count where it is too small for the standard."""
    if count >= NSSDA_POINTS:
        return "Tested"
    return f"Tested with {count} points, fewer than the standard's {NSSDA_POINTS},"


def _nssda(count: int, accuracy: float, bound: float) -> str:
    if np.isfinite(accuracy):
        return f"{_tested(count)} {accuracy:.3f} meters horizontal accuracy at 95% confidence level"
    return (
        f"{_tested(count)} no figure: one axis errs less than 0.6 of the other, for which the"
        f" standard gives no formula; 95 % of errors lie within {bound:.3f} m at most"
    )


def _asprs(count: int, rmse: float) -> str:
    few = (
        "" if count >= ASPRS_POINTS else f", from {count} points; the standard asks {ASPRS_POINTS}"
    )
    return f"{rmse:.3f} m{few}"
