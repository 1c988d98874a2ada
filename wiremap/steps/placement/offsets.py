"""Rows measured along and square off a line of two references."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from wiremap.formulas.baselines import baseline_covariance, place_on_baseline
from wiremap.steps.placement.references import NOT_LISTED, NOT_NAMED, unknown_reference
from wiremap.steps.placement.rows import Fixes, no_fixes, numbers, row_finding, words

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

    from wiremap.model.findings import Finding
    from wiremap.model.settings import Thresholds
    from wiremap.steps.placement.references import Anchors

    Floats = NDArray[np.float64]
    Rows = NDArray[np.intp]


def place_by_baseline(
    frame: pd.DataFrame, anchors: Anchors, *, scale: float, thresholds: Thresholds
) -> tuple[Fixes, list[Finding]]:
    """Return the positions of rows measured along and square off a line of two references."""
    fixes = no_fixes(len(frame))
    findings: list[Finding] = []
    names = np.stack([words(frame, "baseline_a"), words(frame, "baseline_b")], axis=1)
    along, off = numbers(frame, "baseline_chainage_m"), numbers(frame, "baseline_offset_m")
    rows = np.flatnonzero((names != "").any(axis=1) | ~np.isnan(along))
    found = np.stack([anchors.find(names[rows, k]) for k in range(2)], axis=1)
    sound = (found >= 0).all(axis=1) & (found[:, 0] != found[:, 1])
    # a point on the baseline itself is often written without its offset of nothing
    off = np.where(np.isnan(off), 0.0, off)
    sound &= np.isfinite(along[rows])
    sound[sound] = anchors.stand_apart(found[sound, 0], found[sound, 1])
    for i in np.flatnonzero(~sound):
        findings += _baseline_faults(frame, int(rows[i]), names[rows[i]], found[i], along[rows[i]])
    rows, found = rows[sound], found[sound]
    a, b = found[:, 0], found[:, 1]
    along, off = along[rows] * scale, off[rows] * scale
    fixes.xy[rows] = place_on_baseline(anchors.xy[a], anchors.xy[b], along, off)
    fixes.cov[rows] = baseline_covariance(
        anchors.xy[a], anchors.xy[b], along, off,
        sigma_m=thresholds.tape_sigma_m * scale, square_sigma_deg=thresholds.square_sigma_deg,
        cov=anchors.cov[found],
    )  # fmt: skip
    return fixes, findings


def _baseline_faults(
    frame: pd.DataFrame, row: int, names: NDArray[np.object_], found: Rows, along: float
) -> list[Finding]:
    """Say what keeps a baseline position from being computed."""
    unknown = [
        unknown_reference(frame, row, f"baseline_{'ab'[k]}", names[k])
        for k in range(2)
        if found[k] == NOT_LISTED
    ]
    if unknown:
        return unknown
    if (found == NOT_NAMED).any():
        message, column = "A baseline needs two references; one is missing.", "baseline_b"
    elif found[0] == found[1]:
        message, column = f"The baseline starts and ends at {names[0]}.", "baseline_b"
    elif np.isfinite(along):
        message = f"The references {names[0]} and {names[1]} stand at one place."
        column = "baseline_b"
    else:
        message = f"baseline_chainage must be a distance in metres, got {along:g}."
        column = "baseline_chainage"
    return [row_finding("bad-tie", frame, row, message, column=column)]
