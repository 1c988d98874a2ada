"""Rows fixed by two taped ties, and by a third that over-determines them."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd

from wiremap.formulas.repeats import chi_square_limit, radial_rms
from wiremap.formulas.two_tape import Tie, adjust_ties, cross_tapes
from wiremap.steps.placement.references import NOT_LISTED, NOT_NAMED, unknown_reference
from wiremap.steps.placement.rows import Fixes, no_fixes, numbers, row_finding, words
from wiremap.steps.placement.sides import Third, tell_sides

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from wiremap.model.findings import Finding
    from wiremap.model.settings import Thresholds
    from wiremap.steps.placement.references import Anchors

    Floats = NDArray[np.float64]
    Rows = NDArray[np.intp]

SIDES = {"left": 1.0, "l": 1.0, "right": -1.0, "r": -1.0, "": 0.0}
THIRD = 2
"""Place of the third tie among a row's three."""
_SOUND = 0.99
"""Share of properties with sound ties in which none is reported."""


class Taped(NamedTuple):
    """Tie rows in arrays.

    `rows` of the table, their references a, b, c, the distances as `taped_m` on the ground (NaN
    without a third tie), and the `side` written: +1 left, -1 right, 0 not said.
    """

    rows: Rows
    anchors: Rows
    taped_m: Floats
    side: Floats


class Plane(NamedTuple):
    """How tapes lie in the plane: its scale, the tape's sigma in it, and the least cut angle."""

    scale: float
    sigma_m: float
    min_cut_deg: float


def place_by_ties(
    frame: pd.DataFrame, anchors: Anchors, near: Fixes, *, scale: float, thresholds: Thresholds
) -> tuple[Fixes, list[Finding]]:
    """Return the positions of rows with taped ties.

    `near` holds what is otherwise known of the rows, to tell the side where none is written;
    `scale` is the plane length of a ground metre.
    """
    fixes = no_fixes(len(frame))
    taped, findings = _read_ties(frame, anchors)
    if not len(taped.rows):
        return fixes, findings
    plane = Plane(scale, thresholds.tape_sigma_m * scale, thresholds.min_cut_angle_deg)
    left, right = (_solve(taped, anchors, side, plane) for side in (1.0, -1.0))
    third = Third(
        anchors.xy[np.maximum(taped.anchors[:, THIRD], 0)],
        taped.taped_m[:, THIRD] * scale,
        2 * plane.sigma_m,
    )
    side = tell_sides(frame, taped.rows, taped.side, near, (left.xy, right.xy), third=third)
    findings += [
        _side_overruled(frame, int(taped.rows[i]), side[i])
        for i in np.flatnonzero(side * taped.side < 0)
    ]
    open_rows = (side == 0) & (left.gap_m == 0)
    findings += [
        _both_sides(frame, int(taped.rows[i]), left.xy[i], right.xy[i])
        for i in np.flatnonzero(open_rows)
    ]
    chosen = _by_side(side >= 0, left, right)
    findings += _tie_findings(frame, taped, anchors, chosen, plane, ~open_rows)
    xy, cov = chosen.xy, chosen.cov
    xy[open_rows] = np.nan
    findings += _adjust(frame, taped, anchors, xy, cov, plane)
    fixes.xy[taped.rows] = xy
    fixes.cov[taped.rows] = np.where(np.isfinite(xy[:, :1, None]), cov, np.nan)
    return fixes, findings


def _by_side(to_left: NDArray[np.bool_], left: Tie, right: Tie) -> Tie:
    """Return each row's solution on the side told."""
    return Tie(
        *(
            np.where(to_left.reshape(-1, *[1] * (ours.ndim - 1)), ours, theirs)
            for ours, theirs in zip(left, right, strict=True)
        )
    )


def _read_ties(frame: pd.DataFrame, anchors: Anchors) -> tuple[Taped, list[Finding]]:
    """Return the rows whose ties can be computed, and findings for those that cannot."""
    names = np.stack([words(frame, f"tie_{k}") for k in "abc"], axis=1)
    taped_m = np.stack([numbers(frame, f"tie_{k}_dist_m") for k in "abc"], axis=1)
    rows = np.flatnonzero((names != "").any(axis=1) | ~np.isnan(taped_m).all(axis=1))
    names, taped_m = names[rows], taped_m[rows]
    found = np.stack([anchors.find(names[:, k]) for k in range(3)], axis=1)
    said = words(frame, "tie_side")[rows]
    side = _sides(said)
    unlisted = found == NOT_LISTED
    findings = [
        unknown_reference(frame, int(rows[i]), f"tie_{'abc'[k]}", names[i, k])
        for i, k in zip(*np.nonzero(unlisted), strict=True)
    ]
    # a third tie that cannot be used still leaves two
    third = (found[:, THIRD] >= 0) & np.isfinite(taped_m[:, THIRD])
    taped_m[~third, THIRD] = np.nan
    sound = ~unlisted[:, :THIRD].any(axis=1)
    faults = _tie_faults(found, taped_m, side, third)
    listed = (found[:, :THIRD] >= 0).all(axis=1)
    together = np.zeros(len(rows), bool)
    together[listed] = ~anchors.stand_apart(found[listed, 0], found[listed, 1])
    faults["a tie needs references that stand apart"] = together
    for i in np.flatnonzero(sound & np.any(list(faults.values()), axis=0)):
        rule = next(text for text, wrong in faults.items() if wrong[i])
        shown = ", ".join(f"{d:g} m" for d in taped_m[i] if not np.isnan(d))
        message = f"{rule}; got {'/'.join(n for n in names[i] if n)}, {shown or 'no distance'}"
        message += f", {said[i]}." if said[i] else "."
        findings.append(row_finding("bad-tie", frame, int(rows[i]), message, column="tie_a"))
        sound[i] = False
    return Taped(rows[sound], found[sound], taped_m[sound], side[sound]), findings


def _sides(said: NDArray[np.object_]) -> Floats:
    """+1 for left, -1 for right, 0 where nothing is said, NaN for any other word."""
    codes, unique = pd.factorize(said)
    signs = [SIDES.get(str(word).casefold(), np.nan) for word in unique]
    return np.array(signs, dtype=float)[codes]


def _tie_faults(
    found: Rows, taped_m: Floats, side: Floats, third: NDArray[np.bool_]
) -> dict[str, NDArray[np.bool_]]:
    """Return what keeps ties from being computed, in words, and the rows it holds for."""
    a, b, c = found.T
    return {
        "a tie needs two references, tie_a and tie_b": (found[:, :THIRD] == NOT_NAMED).any(axis=1),
        "a tie needs different references": (a == b) | (third & ((c == a) | (c == b))),
        "taped distances must be greater than 0": ~(taped_m[:, :THIRD] > 0).all(axis=1)
        | (taped_m[:, THIRD] <= 0),
        "tie_side must be left or right": np.isnan(side),
    }


def _solve(taped: Taped, anchors: Anchors, side: float, plane: Plane) -> Tie:
    pair = taped.anchors[:, :THIRD]
    return cross_tapes(
        anchors.xy[pair],
        taped.taped_m[:, :THIRD] * plane.scale,
        side=np.full(len(pair), side),
        sigma_m=plane.sigma_m,
        cov=anchors.cov[pair],
    )


def _side_overruled(frame: pd.DataFrame, row: int, side: float) -> Finding:
    """Say that the third tie contradicts the side written."""
    told, written = ("left", "right") if side > 0 else ("right", "left")
    message = (
        f"tie_side says {written}, but the third tie fits only {told} of the line from tie_a to"
        f" tie_b; the point was placed {told}."
    )
    return row_finding("tie-residual", frame, row, message, column="tie_side", value=written)


def _both_sides(frame: pd.DataFrame, row: int, left: Floats, right: Floats) -> Finding:
    """Say that a tie has two answers and nothing tells which."""
    message = (
        "A tie without tie_side has two answers and nothing tells which:"
        f" left of the line from tie_a to tie_b at {left[0]:.2f}, {left[1]:.2f},"
        f" right of it at {right[0]:.2f}, {right[1]:.2f} (map metres)."
    )
    advice = "Write left or right, as seen from tie_a looking to tie_b, into tie_side."
    return row_finding("bad-tie", frame, row, message, column="tie_side", advice=advice)


def _tie_findings(
    frame: pd.DataFrame,
    taped: Taped,
    anchors: Anchors,
    tie: Tie,
    plane: Plane,
    told: NDArray[np.bool_],
) -> list[Finding]:
    """Report circles that miss and tapes that cross at a flat angle."""
    flat = np.minimum(tie.cut_angle_deg, 180 - tie.cut_angle_deg) < plane.min_cut_deg
    missed = np.isnan(tie.cut_angle_deg)
    findings: list[Finding] = []
    for i in np.flatnonzero(missed | (flat & told)):
        a, b = taped.anchors[i, :2]
        names = f"{anchors.names[a]} and {anchors.names[b]}"
        ra, rb = taped.taped_m[i, :2]
        row = int(taped.rows[i])
        if missed[i]:
            apart = float(np.hypot(*(anchors.xy[a] - anchors.xy[b]))) / plane.scale
            message = (
                f"The circles of {ra:.3f} m and {rb:.3f} m about {names}, {apart:.3f} m apart, miss"
                f" each other by {tie.gap_m[i] / plane.scale:.3f} m."
            )
            code, column, value, xy = "tie-circles-miss", "tie_a_dist", f"{ra:.3f}", None
        else:
            message = (
                f"The tapes from {names} cross at {tie.cut_angle_deg[i]:.1f} degrees, within"
                f" {plane.min_cut_deg:g} of a straight line: position RMS"
                f" {radial_rms(tie.cov[i])[0]:.2f} m."
            )
            code, column, xy = "weak-tie", "tie_a", tie.xy[i]
            value = f"{tie.cut_angle_deg[i]:.1f}"
        findings.append(row_finding(code, frame, row, message, column=column, value=value, xy=xy))
    return findings


def _adjust(
    frame: pd.DataFrame,
    taped: Taped,
    anchors: Anchors,
    xy: Floats,
    cov: Floats,
    plane: Plane,
) -> list[Finding]:
    """Adjust rows with a third tie in place, and report those whose ties disagree."""
    over = np.flatnonzero(np.isfinite(taped.taped_m[:, THIRD]) & np.isfinite(xy[:, 0]))
    if not len(over):
        return []
    used = taped.anchors[over]
    distances = taped.taped_m[over] * plane.scale
    met = adjust_ties(
        xy[over], anchors.xy[used], distances, sigma_m=plane.sigma_m, cov=anchors.cov[used]
    )
    widened = np.where(met.chi2 > chi_square_limit(met.dof), met.chi2, 1.0)
    # one false report in a hundred properties, however many points are tied
    limit = chi_square_limit(met.dof, confidence=_SOUND ** (1 / len(over)))
    xy[over], cov[over] = met.xy, met.cov * widened[:, None, None]
    findings: list[Finding] = []
    for i in np.flatnonzero(met.chi2 > limit):
        shown = ", ".join(
            f"{anchors.names[j]} {r / plane.scale:+.3f} m"
            for j, r in zip(used[i], met.residuals_m[i], strict=True)
        )
        message = (
            f"Three ties disagree: adjusted distance less tape is {shown}; chi-square"
            f" {met.chi2[i]:.1f} over the limit {limit[i]:.1f}. The position's RMS was widened to"
            f" {radial_rms(cov[over[i]])[0]:.2f} m."
        )
        row = int(taped.rows[over[i]])
        findings.append(
            row_finding("tie-residual", frame, row, message, column="tie_c", xy=met.xy[i])
        )
    return findings
