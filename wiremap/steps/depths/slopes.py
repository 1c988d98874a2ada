"""Cross slope at each pair, and pairs that it does not explain."""

from __future__ import annotations

from statistics import NormalDist
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from wiremap.formulas.cross_slopes import (
    SlopeCheck,
    borrowed_slopes,
    check_slopes,
    number_stretches,
    shared_count,
)
from wiremap.formulas.gaussian_process import fit_scales, sample_chains
from wiremap.formulas.hillsides import hillside_slopes, slopes_by_other_runs
from wiremap.formulas.interference import likely_bias_m
from wiremap.formulas.terrain import (
    FAR_REACH,
    FAR_SIGMA_TAN,
    plane_slope_tan,
    surface_slope_tan,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from wiremap.formulas.depth_pairs import PairDepths
    from wiremap.formulas.terrain import Surface
    from wiremap.model.findings import Finding
    from wiremap.model.settings import Settings
    from wiremap.steps.depths.pairs import Pairs
    from wiremap.steps.depths.rows import Rows

    Array = NDArray[np.float64]

_STEEPEST_DEG = 35.0
_PLANE_REACH_M = 12.0
_NEAR_RUN_M = 1.0
# a conductor beside the wire that carries a tenth of its current: half of a tenth at a depth away
_NEAR_RUN_SHARE = 0.05
_DOUBT_Z = 2.0
_ASSUMED_SHARE = 0.9
_RARE_OF_FIFTY = 3.72
_MOST_TO_FIT = 4000


class Ground(NamedTuple):
    """Cross slope known at each pair, its sigma (infinite where none), and where it is from."""

    slope_tan: Array
    sigma_tan: Array
    source: NDArray[np.object_]

    def improved(self, slope: Array, sigma: Array, source: str, where: NDArray[np.bool_]) -> Ground:
        """Return the slopes with those of another source taken in where its sigma is smaller."""
        better = where & np.isfinite(slope) & (sigma < self.sigma_tan)
        return Ground(
            np.where(better, slope, self.slope_tan),
            np.where(better, sigma, self.sigma_tan),
            np.where(better, source, self.source),
        )


def ground_slopes(
    rows: Rows, pairs: Pairs, *, surface: Surface | None, settings: Settings
) -> Ground:
    """Return the cross slope that notes, elevations, the surface or lone offsets give."""
    count = len(pairs.locate)
    noted_sigma = np.full(count, np.tan(np.radians(settings.thresholds.cross_slope_sigma_deg)))
    ground = Ground(np.full(count, np.nan), np.full(count, np.inf), np.full(count, "", object))
    noted = np.tan(np.radians(rows.number("cross_slope_deg")[pairs.locate]))
    ground = ground.improved(noted, noted_sigma, "noted", np.full(count, fill_value=True))
    unknown = np.isinf(ground.sigma_tan)
    x, y, bearing = (
        np.where(unknown, values, np.nan) for values in (pairs.x, pairs.y, pairs.heading - 90)
    )
    stretch = number_stretches(pairs.run, pairs.chainage, pairs.heading)
    elevation = rows.number("elevation_m")
    if unknown.any() and np.isfinite(elevation).any():
        plane = plane_slope_tan(
            rows.x, rows.y, elevation,
            at_x_m=x, at_y_m=y, bearing_deg=bearing, reach_m=_PLANE_REACH_M,
        )  # fmt: skip
        # a slope so poor is that of the wide plane
        reach = np.where(plane.sigma_tan > FAR_SIGMA_TAN, FAR_REACH, 1.0) * _PLANE_REACH_M
        shared = shared_count(stretch, pairs.chainage, reach_m=reach)
        sigma = plane.sigma_tan * np.sqrt(shared)
        ground = ground.improved(plane.slope_tan, sigma, "ground", unknown)
    if unknown.any() and surface is not None:
        lie = surface_slope_tan(
            surface, at_x_m=x, at_y_m=y, bearing_deg=bearing,
            slope_sigma_deg=settings.thresholds.cross_slope_sigma_deg,
        )  # fmt: skip
        ground = ground.improved(lie.slope_tan, lie.sigma_tan, "ground", unknown)
    slope, sigma = borrowed_slopes(stretch, pairs.left, pairs.right, lean_deg=pairs.lean)
    return ground.improved(slope, sigma, "neighbours", unknown)


def property_slopes(pairs: Pairs, first: PairDepths, ground: Ground) -> Ground:
    """Return the ground with the lie of the whole property where nothing nearer is known."""
    lone = ~pairs.two_sided & np.isinf(ground.sigma_tan)
    if not lone.any():
        return ground
    slope, sigma = hillside_slopes(
        number_stretches(pairs.run, pairs.chainage, pairs.heading), pairs.heading,
        pairs.left, pairs.right, lean_deg=pairs.lean,
        known_tan=np.where(pairs.two_sided, first.slope_tan, ground.slope_tan),
        known_sigma_tan=np.where(pairs.two_sided, first.slope_sigma_tan, ground.sigma_tan),
    )  # fmt: skip
    return ground.improved(slope, sigma, "property", lone)


def expect_slopes(
    pairs: Pairs, first: PairDepths, ground: Ground, settings: Settings
) -> tuple[SlopeCheck, NDArray[np.object_]]:
    """Return the cross slopes to expect, what is not explained, and where each slope is from."""
    thresholds = settings.thresholds
    two_sided, known = pairs.two_sided, np.isfinite(ground.sigma_tan)
    # a property steeper than the prior says so by its pairs and its ground
    prior = max(
        float(np.tan(np.radians(thresholds.slope_prior_deg))),
        _rms_less_noise(first.slope_tan[two_sided], first.slope_sigma_tan[two_sided]),
        _rms_less_noise(ground.slope_tan[known], ground.sigma_tan[known]),
    )
    # what the sides share of the lean leaves their slope alone: if they share nothing it does not
    apart = np.radians(settings.locating.lean_sigma_deg) / np.sin(np.radians(pairs.lean)) ** 2
    pair_sigma = np.hypot(first.slope_sigma_tan, apart * np.sqrt(thresholds.lean_common_share / 2))
    stretch = number_stretches(pairs.run, pairs.chainage, pairs.heading)
    own = np.where(two_sided, first.slope_tan, np.nan)
    length, change = _fit_change(
        stretch, pairs.chainage, own, pair_sigma, ground, prior=prior, settings=settings
    )
    others, others_sigma = slopes_by_other_runs(pairs.run, stretch, pairs.heading, own, pair_sigma)
    check = check_slopes(
        stretch, pairs.chainage, pair_tan=own, pair_sigma_tan=pair_sigma,
        ground_tan=np.where(known, ground.slope_tan, np.nan), ground_sigma_tan=ground.sigma_tan,
        others_tan=others, others_sigma_tan=others_sigma,
        length_scale_m=length, change_tan=change, prior_tan=prior,
    )  # fmt: skip
    source = np.where(known, ground.source, "neighbours").astype(object)
    source[check.expected_sigma > _ASSUMED_SHARE * np.hypot(prior, change)] = "assumed"
    source[two_sided] = "pair"
    # a slope measured at the place itself is taken as it is
    noted = ground.source == "noted"
    return check._replace(
        expected=np.where(noted, ground.slope_tan, check.expected),
        expected_sigma=np.where(noted, ground.sigma_tan, check.expected_sigma),
    ), np.where(noted & ~two_sided, "noted", source)


def _fit_change(
    stretch: NDArray[np.intp],
    chainage: Array,
    own: Array,
    own_sigma: Array,
    ground: Ground,
    *,
    prior: float,
    settings: Settings,
) -> tuple[float, float]:
    """Return over what length slope changes along stretches, and how far: no less than stated."""
    length = settings.thresholds.depth_length_scale_m
    change = float(np.tan(np.radians(settings.thresholds.slope_change_deg)))
    slope = np.where(np.isfinite(own), own, ground.slope_tan)
    sigma = np.where(np.isfinite(own), own_sigma, ground.sigma_tan)
    seen = np.flatnonzero(np.isfinite(slope) & np.isfinite(sigma) & np.isfinite(chainage))
    if not len(seen):
        return length, change
    seen = seen[sample_chains(stretch[seen], chainage[seen], most=_MOST_TO_FIT)]
    fitted = fit_scales(
        stretch[seen], chainage[seen], slope[seen], sigma[seen],
        length_scale_m=length, amplitude=change, mean=0.0, mean_sigma=prior,
    )  # fmt: skip
    return float(fitted.length_scale_m[0]), max(float(fitted.amplitude[0]), change)


def _rms_less_noise(values: Array, sigmas: Array) -> float:
    """Return the root mean square of values when their noise is taken off."""
    if not len(values):
        return 0.0
    weight = sigmas**-2.0
    square = float((weight * (values**2 - sigmas**2)).sum() / weight.sum())
    return float(np.sqrt(max(square, 0.0)))


class Uneven(NamedTuple):
    """Which pairs are called uneven, and the slope that nothing explains, zero where none."""

    called: NDArray[np.bool_]
    unexplained_tan: Array


def _rare(pairs: Pairs) -> float:
    """Return the standard deviations that no pair exceeds on 99 of 100 properties of this size."""
    return NormalDist().inv_cdf(1 - 0.005 / max(int(pairs.two_sided.sum()), 1))


def judge_pairs(pairs: Pairs, first: PairDepths, slopes: SlopeCheck, settings: Settings) -> Uneven:
    """Return which pairs ground and neighbours do not explain."""
    # the more pairs, the farther the farthest stands off by chance
    limit = settings.thresholds.uneven_z * max(1.0, _rare(pairs) / _RARE_OF_FIFTY)
    alone = np.nan_to_num(np.abs(slopes.residual))
    around = np.nan_to_num(np.abs(slopes.window_residual))
    alone_z = alone / np.nan_to_num(slopes.residual_sigma, nan=1.0)
    around_z = around / slopes.window_sigma
    steepest = np.tan(np.radians(_STEEPEST_DEG))
    steep = pairs.two_sided & (np.abs(first.slope_tan) - 2 * first.slope_sigma_tan > steepest)
    called = (alone_z > limit) | (around_z > limit) | steep
    worst = np.where(alone_z > around_z, alone, around)
    # short of a finding, what the pairs around have in common beyond their noise still counts
    excess = np.sqrt(np.maximum(around**2 - np.where(around > 0, slopes.window_sigma, 0) ** 2, 0))
    return Uneven(called, np.where(called, worst, np.where(around_z > _DOUBT_Z, excess, 0.0)))


def widen_uneven(
    rows: Rows, pairs: Pairs, reduced: PairDepths, uneven: Uneven
) -> tuple[Array, list[Finding]]:
    """Return sigmas widened where a pair is uneven or another run lies near, and findings."""
    depth = np.nan_to_num(reduced.depth_m)
    bias = likely_bias_m(depth, uneven.unexplained_tan * np.tan(np.radians(pairs.lean)))
    findings = [
        _uneven_finding(rows, pairs, int(i), uneven.unexplained_tan[i], depth[i], bias[i])
        for i in np.flatnonzero(uneven.called)
    ]
    near = np.where(_near_run(rows, pairs), _NEAR_RUN_SHARE * depth, 0.0)
    return np.sqrt(reduced.depth_sigma_m**2 + bias**2 + near**2), findings


def _uneven_finding(
    rows: Rows, pairs: Pairs, i: int, slope_tan: float, depth_m: float, bias_m: float
) -> Finding:
    """Return the finding of one uneven pair."""
    return rows.finding(
        "depth-pair-uneven",
        int(pairs.locate[i]),
        f"the two offsets must fit the cross slope of the ground and of the pairs around, got"
        f" {pairs.left[i]:.2f} m left and {pairs.right[i]:.2f} m right, with"
        f" {np.degrees(np.arctan(slope_tan)):.0f} degrees of slope unexplained; the depth"
        f" {depth_m:.2f} m may be wrong by {bias_m:.2f} m (one standard deviation), and its"
        " uncertainty was widened.",
        column="offset_left_m",
        value=f"{pairs.left[i]:.3f} m, {pairs.right[i]:.3f} m",
    )


def _near_run(rows: Rows, pairs: Pairs) -> NDArray[np.bool_]:
    """Return whether a point of another run lies near each pair."""
    from scipy.spatial import cKDTree

    on_run = np.flatnonzero(rows.run_code >= 0)
    if len(rows.run_names) < 2 or not len(pairs.locate):  # noqa: PLR2004
        return np.zeros(len(pairs.locate), dtype=bool)
    count = min(6, len(on_run))
    tree = cKDTree(np.column_stack((rows.x[on_run], rows.y[on_run])))
    distance, index = tree.query(
        np.column_stack((pairs.x, pairs.y)), k=count, distance_upper_bound=_NEAR_RUN_M
    )
    distance, index = distance.reshape(-1, count), index.reshape(-1, count)
    codes = np.append(rows.run_code[on_run], -1)[index]
    near: NDArray[np.bool_] = (np.isfinite(distance) & (codes != pairs.run[:, None])).any(axis=1)
    return near
