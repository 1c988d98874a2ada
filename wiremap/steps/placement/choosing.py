"""Which of a row's positions it gets, and whether the others agree with it."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from wiremap.formulas.repeats import chi_square_limit, radial_rms
from wiremap.model.kinds import PlacedBy
from wiremap.steps.placement.rows import Fixes, no_fixes, row_finding

if TYPE_CHECKING:
    from collections.abc import Mapping

    import pandas as pd
    from numpy.typing import NDArray

    from wiremap.model.findings import Finding

    Floats = NDArray[np.float64]

PREFERENCE = (PlacedBy.SURVEY, PlacedBy.GNSS, PlacedBy.TIES, PlacedBy.BASELINE, PlacedBy.GRID)
"""Order in a draw of equal RMS."""

DISAGREE = float(chi_square_limit(2, confidence=0.999))
"""Limit of the squared normalised distance of two positions. Project choice: one false alarm in a
thousand rows."""


MANY = 5
"""Rows that are reported one by one; more have one cause, and one finding. Project choice."""


class Chosen(NamedTuple):
    """Each row's position, its RMS, and the index in `kinds` of what it was placed by."""

    fixes: Fixes
    rms_m: Floats
    kinds: list[PlacedBy]
    which: NDArray[np.intp]


def choose(found: Mapping[PlacedBy, Fixes], count: int) -> Chosen:
    """Give each row the position with the smallest RMS."""
    kinds = [kind for kind in PREFERENCE if kind in found]
    if not kinds:
        nothing = np.zeros(count, dtype=np.intp)
        return Chosen(no_fixes(count), np.full(count, np.nan), [PlacedBy.GNSS], nothing)
    rms = np.stack([radial_rms(found[kind].cov) for kind in kinds])
    if len(kinds) == 1:
        return Chosen(found[kinds[0]], rms[0], kinds, np.zeros(count, dtype=np.intp))
    which = np.argmin(np.where(np.isnan(rms), np.inf, rms), axis=0)
    row = np.arange(count)
    xy = np.stack([found[kind].xy for kind in kinds])[which, row]
    cov = np.stack([found[kind].cov for kind in kinds])[which, row]
    return Chosen(Fixes(xy, cov), rms[which, row], kinds, which)


def compare(
    frame: pd.DataFrame, found: Mapping[PlacedBy, Fixes], chosen: Chosen
) -> tuple[list[Finding], list[tuple[str, str]]]:
    """Report rows whose positions disagree, and how many have several."""
    findings: list[Finding] = []
    several = np.zeros(len(frame), bool)
    for k, kind in enumerate(chosen.kinds):
        if len(chosen.kinds) == 1:
            break
        other = found[kind]
        rows = np.flatnonzero(other.known & chosen.fixes.known & (chosen.which != k))
        several[rows] = True
        apart = other.xy[rows] - chosen.fixes.xy[rows]
        spread = np.linalg.inv(other.cov[rows] + chosen.fixes.cov[rows])
        chi2 = np.einsum("ni,nij,nj->n", apart, spread, apart)
        bad = chi2 > DISAGREE
        findings += _disagreements(frame, rows[bad], chosen, kind, apart[bad])
    if not several.any():
        return findings, []
    text = f"{several.sum()}; the position with the smallest RMS was used"
    return findings, [("rows with several kinds of position", text)]


def _disagreements(
    frame: pd.DataFrame, rows: NDArray[np.intp], chosen: Chosen, kind: PlacedBy, apart: Floats
) -> list[Finding]:
    """Report rows whose other position lies too far off: each, or all at once where many do."""
    if len(rows) <= MANY:
        return [
            _disagreement(frame, int(row), chosen, kind, float(np.hypot(*off)))
            for row, off in zip(rows, apart, strict=True)
        ]
    east, north = np.median(apart, axis=0)
    message = (
        f"{len(rows)} rows from here on have a position by {kind} that lies too far from the one"
        f" used: {np.median(np.hypot(*apart.T)):.3f} m in the middle (east {east:.3f} m, north"
        f" {north:.3f} m). A shift that all share comes from the datum or the CRS."
    )
    return [row_finding("positions-disagree", frame, int(rows[0]), message)]


def _disagreement(
    frame: pd.DataFrame, row: int, chosen: Chosen, kind: PlacedBy, apart_m: float
) -> Finding:
    message = (
        f"The positions by {chosen.kinds[chosen.which[row]]} (RMS {chosen.rms_m[row]:.3f} m) and by"
        f" {kind} lie {apart_m:.3f} m apart, beyond what both state; the first was used."
    )
    return row_finding("positions-disagree", frame, row, message, xy=chosen.fixes.xy[row])
