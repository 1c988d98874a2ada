"""The site grid: fitted to the map over references that carry both, then used to place rows."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from wiremap.formulas.repeats import chi_square_limit
from wiremap.formulas.similarity import (
    Similarity,
    fit_similarity,
    map_points,
    map_variances,
    mirrored_residual_rms,
)
from wiremap.model.findings import Finding
from wiremap.steps.placement.rows import Fixes, no_fixes

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Objects = NDArray[np.object_]

NAMING_POINTS = 4
"""References from which on a bad one can be told: leaving it out leaves a tested fit."""

ODD_SCALE = 0.005
"""Departure of the grid's scale from the map's that tapes do not explain. Project choice."""


class Grid(NamedTuple):
    """A fitted site grid: the similarity and the factor by which its variances are widened."""

    fit: Similarity
    widened: float
    used: int


def fit_grid(
    names: Objects, grid: Floats, xy: Floats, variances: Floats, *, scale: float
) -> tuple[Grid | None, list[Finding]]:
    """Fit the site grid over references; a bad one is named and left out where it can be told.

    `variances` is each pair's variance in each axis, `scale` the plane length of a ground metre.
    """
    both = np.isfinite(grid).all(axis=1) & np.isfinite(xy).all(axis=1)
    names, grid, xy, variances = names[both], grid[both], xy[both], variances[both]
    fit = fit_similarity(grid, xy, variances=variances)
    if fit is None:
        return None, []
    findings: list[Finding] = []
    if fit.chi2 > chi_square_limit(fit.dof):
        odd = _odd_one_out(grid, xy, variances)
        if odd is None:
            findings.append(_misfit(names, grid, xy, fit))
        else:
            bad, fit = odd
            findings.append(_bad_reference(names[bad], grid[bad], xy[bad], fit))
            names, grid = np.delete(names, bad), np.delete(grid, bad, axis=0)
    if fit.chi2 > chi_square_limit(fit.dof):
        return Grid(fit, fit.chi2 / fit.dof, len(names)), findings
    return Grid(fit, 1.0, len(names)), findings + _scale_findings(fit, grid, scale)


def _odd_one_out(grid: Floats, xy: Floats, variances: Floats) -> tuple[int, Similarity] | None:
    """Return the reference without which the others agree, and their fit; None if there is none."""
    count = len(grid)
    if count < NAMING_POINTS:
        return None
    fits = [
        (i, fit_similarity(grid[keep], xy[keep], variances=variances[keep]))
        for i, keep in enumerate(~np.eye(count, dtype=bool))
    ]
    sound = [(i, fit) for i, fit in fits if fit is not None]
    bad, fit = min(sound, key=lambda one: one[1].chi2)
    return (bad, fit) if fit.chi2 <= chi_square_limit(fit.dof) else None


def _bad_reference(name: str, grid: Floats, xy: Floats, fit: Similarity) -> Finding:
    off = xy - map_points(fit, grid[None])[0]
    message = (
        f"Reference {name} lies {np.hypot(*off):.3f} m (east {off[0]:.3f} m, north"
        f" {off[1]:.3f} m) from where the other {fit.dof // 2 + 2} put its grid position"
        f" ({grid[0]:g}, {grid[1]:g}); it was left out of the site grid."
    )
    return Finding(
        "grid-residual", str(name), message, column="grid_x", x_m=float(xy[0]), y_m=float(xy[1])
    )


def _misfit(names: Objects, grid: Floats, xy: Floats, fit: Similarity) -> Finding:
    residuals = np.hypot(*fit.residuals.T)
    shown = ", ".join(f"{n} {r:.3f} m" for n, r in zip(names, residuals, strict=True))
    rms = float(np.sqrt(np.mean(residuals**2)))
    mirrored = mirrored_residual_rms(grid, xy) < rms / 10
    hint = " With grid x and y exchanged they fit." if mirrored else ""
    message = f"The references do not fit the site grid; residuals: {shown}.{hint}"
    advice = "Exchange grid_x and grid_y." if mirrored else ""
    return Finding("grid-residual", "site grid", message, advice, column="grid_x")


def _scale_findings(fit: Similarity, grid: Floats, scale: float) -> list[Finding]:
    """Say where the grid's metre is not the map's."""
    ratio = fit.scale / scale
    sigma = np.sqrt(fit.turn_variance) / scale
    if abs(ratio - 1) <= max(ODD_SCALE, 3 * sigma):
        return []
    span = float(np.hypot(*np.ptp(grid, axis=0)))
    message = (
        f"One metre of the site grid is {ratio:.4f} m on the map, over references {span:.1f} m"
        f" apart on the grid; tapes explain {3 * sigma:.4f} at most."
    )
    advice = "Check the unit of grid_x and grid_y, and the references' coordinates."
    return [Finding("grid-residual", "site grid", message, advice, column="grid_x")]


def place_by_grid(grid: Grid, positions: Floats, *, sigma_m: float) -> Fixes:
    """Return the map positions of site-grid positions."""
    fixes = no_fixes(len(positions))
    given = np.isfinite(positions).all(axis=1)
    fixes.xy[given] = map_points(grid.fit, positions[given])
    variance = grid.widened * map_variances(grid.fit, positions[given])
    variance += (sigma_m * grid.fit.scale) ** 2
    fixes.cov[given] = variance[:, None, None] * np.eye(2)
    return fixes


def describe_grid(grid: Grid) -> str:
    """Return the fit in one line, for provenance."""
    rms = float(np.sqrt(np.mean(grid.fit.residuals**2) * 2))
    return (
        f"scale {grid.fit.scale:.6f}, turned {grid.fit.rotation_deg:.4f} degrees anticlockwise,"
        f" {grid.used} references, residual RMS {rms:.3f} m"
    )
