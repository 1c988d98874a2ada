"""Depths of all pairs, and how their lean was held."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from wiremap.formulas.cross_slopes import number_stretches
from wiremap.formulas.depth_pairs import PairDepths, reduce_pairs
from wiremap.formulas.gaussian_process import noise_evidence, sample_chains
from wiremap.formulas.lean_errors import LEVELS, LeanError, weigh_lean

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from wiremap.model.settings import Settings
    from wiremap.steps.depths.pairs import Pairs
    from wiremap.steps.depths.slopes import Ground

    Array = NDArray[np.float64]

_MOST_TO_WEIGH = 400
_LEAST_MEAN_SIGMA_M = 0.05


def reduce_all(pairs: Pairs, slope: Array, slope_sigma: Array, lean: LeanError) -> PairDepths:
    """Return the depths of all pairs with the slopes given."""
    return reduce_pairs(
        pairs.left,
        pairs.right,
        lean_deg=pairs.lean,
        height_m=pairs.height,
        slope_tan=slope,
        slope_sigma_tan=slope_sigma,
        mark_sigma_m=pairs.mark_sigma,
        path_sigma_m=pairs.path_sigma,
        lean_sigma_deg=lean.sigma_deg,
        common_share=lean.common_share,
        systematic_share=lean.systematic_share,
        in_plan=pairs.located,
    )


def stated_lean(settings: Settings) -> LeanError:
    """Return how the lean was held, as the settings say."""
    common = settings.thresholds.lean_common_share
    systematic = min(settings.thresholds.lean_systematic_share, common)
    return LeanError(settings.locating.lean_sigma_deg, common, systematic)


def settle_lean(pairs: Pairs, ground: Ground, settings: Settings) -> LeanError:
    """Return how the lean was held, as settings say and the scatter of the pairs shows.

    One-sided pairs tell nothing of it where the ground does not give their slope.
    """
    stated = stated_lean(settings)
    slope = np.where(pairs.two_sided, np.nan, ground.slope_tan)
    marks, shared, apart = (
        reduce_all(pairs, slope, ground.sigma_tan, stated._replace(**parts))
        for parts in (
            {"sigma_deg": 0.0},
            {"common_share": 1.0, "systematic_share": 1.0},
            {"common_share": 0.0, "systematic_share": 0.0},
        )
    )
    depth, thresholds = marks.depth_m, settings.thresholds
    on_run = (pairs.run >= 0) & np.isfinite(pairs.chainage)  # a run without length has none
    seen = np.flatnonzero(np.isfinite(depth) & (depth > 0) & on_run)
    seen = seen[sample_chains(pairs.run[seen], pairs.chainage[seen], most=_MOST_TO_WEIGH)]
    levels = np.array(LEVELS)[:, None]
    side = levels * (apart.depth_sigma_m**2 - marks.depth_sigma_m**2)[seen]
    pair = levels * shared.systematic_sigma_m[seen] ** 2
    noise = marks.depth_sigma_m[seen] ** 2 + side[:, None] + pair
    by_depth = noise_evidence(
        pairs.run[seen], pairs.chainage[seen], depth[seen],
        np.sqrt(noise).reshape(levels.size**2, -1),
        length_scale_m=thresholds.depth_length_scale_m, amplitude=thresholds.depth_amplitude_m,
        mean=float(np.mean(depth[seen])) if len(seen) else 0.0,
        mean_sigma=max(float(np.std(depth[seen])) if len(seen) else 0.0, _LEAST_MEAN_SIGMA_M),
    )  # fmt: skip
    both = seen[pairs.two_sided[seen]]
    noise = marks.slope_sigma_tan**2 + levels * (
        apart.slope_sigma_tan**2 - marks.slope_sigma_tan**2
    )
    by_slope = noise_evidence(
        number_stretches(pairs.run, pairs.chainage, pairs.heading)[both], pairs.chainage[both],
        marks.slope_tan[both], np.sqrt(noise)[:, both],
        length_scale_m=thresholds.depth_length_scale_m,
        amplitude=float(np.tan(np.radians(thresholds.slope_change_deg))),
        mean=0.0, mean_sigma=max(
            float(np.tan(np.radians(thresholds.slope_prior_deg))),
            float(np.sqrt(np.mean(marks.slope_tan[both] ** 2))) if len(both) else 0.0,
        ),
    )  # fmt: skip
    return weigh_lean(by_depth.reshape(levels.size, levels.size), by_slope, stated=stated)
