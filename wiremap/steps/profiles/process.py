"""The process that carries depth from reading to reading along a run."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from wiremap.formulas.gaussian_process import average_smoothed, fit_scales, smooth_chains
from wiremap.model.findings import Finding

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from wiremap.model.settings import Settings
    from wiremap.steps.profiles.layout import Nodes, Observed

    Array = NDArray[np.float64]
    Index = NDArray[np.intp]

_REACH_SCALES = 3.0
_LEAST_MEAN_SIGMA_M = 0.05
_MOST_TO_FIT = 4000
_DISAGREE_Z = 4.0
_ODD_ROUNDS = 3


class Carried(NamedTuple):
    """Depth at all nodes.

    Attributes
    ----------
    depth_m, sigma_m : array
        Depth and its standard deviation; NaN too far from any reading.
    wander_m2_per_m : float
        Variance that depth gains over a short length of wire, for each metre of it.
    """

    depth_m: Array
    sigma_m: Array
    wander_m2_per_m: float


def carry_depths(nodes: Nodes, observed: Observed, settings: Settings) -> Carried:
    """Return the depth at all nodes.

    Where the readings leave open over what length depth changes and how far, the answers of the
    likely cases are averaged, and how they differ counts into the sigma.
    """
    mean, mean_sigma = _mean_depth(observed)
    thresholds = settings.thresholds
    prior = _Prior(thresholds.depth_length_scale_m, thresholds.depth_amplitude_m, mean, mean_sigma)
    cases, noise = [(1.0, prior)], observed.sigma
    if len(observed.run):
        some = _sample_runs(observed.run)
        scales = fit_scales(
            observed.run[some], observed.chainage[some], observed.depth[some],
            observed.sigma[some], **prior._asdict(),
        )  # fmt: skip
        cases = [
            (weight, prior._replace(length_scale_m=length, amplitude=size))
            for weight, length, size in zip(*(a.tolist() for a in scales), strict=True)
        ]
        first = smooth_chains(
            observed.run, observed.chainage, observed.depth, noise, **cases[0][1]._asdict()
        )
        noise = _even_noise(observed, first.mean)
    value, shared = (
        np.full(len(nodes.run), np.nan),
        np.zeros((len(observed.shared), len(nodes.run))),
    )
    sigma = np.ones(len(nodes.run))
    value[nodes.reading], sigma[nodes.reading] = observed.depth, noise
    shared[:, nodes.reading] = observed.shared
    smoothed = [
        smooth_chains(nodes.run, nodes.chainage, value, sigma, shared=shared, **case._asdict())
        for _, case in cases
    ]
    weights = np.array([weight for weight, _ in cases])
    known = average_smoothed(smoothed, weights)
    far = _distance_to_reading(nodes, observed) > _REACH_SCALES * cases[0][1].length_scale_m
    # what an Ornstein-Uhlenbeck process gains at first, as a random walk does
    wander = sum(weight * 2 * case.amplitude**2 / case.length_scale_m for weight, case in cases)
    sigma = np.hypot(known.sigma, known.shared_sigma)
    return Carried(np.where(far, np.nan, known.mean), np.where(far, np.nan, sigma), wander)


class _Prior(NamedTuple):
    """What is held of the depth before it is read: arguments of the process."""

    length_scale_m: float
    amplitude: float
    mean: float
    mean_sigma: float


def doubt_odd(observed: Observed, settings: Settings) -> tuple[Observed, list[Finding]]:
    """Return readings with the sigma of odd deep ones widened, and a finding for each odd one.

    What was seen or probed keeps its sigma, and so does what reads too shallow: that is the side
    on which to err.
    """
    odd, residual = _odd_readings(observed, settings)
    findings = [
        Finding(
            "depth-disagrees",
            subject=str(observed.reading.iloc[i].get("point", "")),
            message=(
                f"a depth must fit the others of its run within {_DISAGREE_Z:g} standard"
                f" deviations, got {observed.depth[i]:.2f} m where the others let expect"
                f" {observed.depth[i] - residual[i]:.2f} m at chainage"
                f" {observed.chainage[i]:.1f} m; it was kept, with little weight if it is a pair"
                " that reads deeper."
            ),
            column="depth_m",
            value=f"{observed.depth[i]:.3f} m",
        )
        for i in np.flatnonzero(odd)
    ]
    doubted = odd & ~observed.direct & (residual > 0)
    sigma = np.where(doubted, np.hypot(observed.sigma, residual), observed.sigma)
    return replace(observed, sigma=sigma), findings


def _odd_readings(observed: Observed, settings: Settings) -> tuple[NDArray[np.bool_], Array]:
    """Return which readings all others contradict, the worst of a place first, and by how much."""
    odd, residual = np.zeros(len(observed.run), dtype=bool), np.zeros(len(observed.run))
    if not len(odd):
        return odd, residual
    mean, mean_sigma = _mean_depth(observed)
    order = np.lexsort((observed.chainage, observed.run))
    run, sigma = observed.run[order], observed.sigma.copy()
    for _ in range(_ODD_ROUNDS):
        alone = smooth_chains(
            observed.run, observed.chainage, observed.depth, sigma,
            length_scale_m=settings.thresholds.depth_length_scale_m,
            amplitude=settings.thresholds.depth_amplitude_m, mean=mean, mean_sigma=mean_sigma,
        )  # fmt: skip
        residual = np.where(odd, residual, alone.left_out_residual)
        z = np.abs(residual) / np.hypot(alone.left_out_sigma, observed.shared_sigma)
        z = np.where(odd, 0.0, z)[order]
        before = np.where(np.append(False, run[1:] == run[:-1]), np.roll(z, 1), 0.0)
        after = np.where(np.append(run[1:] == run[:-1], False), np.roll(z, -1), 0.0)
        fresh = order[(z > _DISAGREE_Z) & (z >= before) & (z >= after)]
        if not len(fresh):
            break
        odd[fresh] = True
        sigma[fresh] = np.hypot(sigma[fresh], residual[fresh])
    return odd, residual


def _even_noise(observed: Observed, depth: Array) -> Array:
    """Return sigmas as they would be at the smoothed depth.

    The sigma of a pair grows with the depth read, so that a pair that reads too shallow by
    chance would weigh more than one that reads too deep.
    """
    ratio = np.clip(depth / observed.depth, 0.5, 2.0)
    return observed.sigma * np.where(observed.shared_sigma > 0, ratio, 1.0)


def _sample_runs(run: Index) -> NDArray[np.bool_]:
    """Return which readings to fit scales to: all, or those of evenly taken runs where many."""
    every = int(np.ceil(len(run) / _MOST_TO_FIT))
    kept: NDArray[np.bool_] = run % every == run.min() % every
    return kept


def _mean_depth(observed: Observed) -> tuple[float, float]:
    """Return the property's mean depth, and how far the runs' means stray from it."""
    if not len(observed.run):
        return 0.0, 1.0
    count = np.bincount(observed.run)
    means = np.bincount(observed.run, observed.depth)[count > 0] / count[count > 0]
    spread = float(np.std(means)) if len(means) > 1 else 0.0
    middle = float(np.average(means, weights=count[count > 0]))
    return middle, max(spread, _LEAST_MEAN_SIGMA_M)


def _distance_to_reading(nodes: Nodes, observed: Observed) -> Array:
    """Return the distance along the run to the nearest reading; infinite where there is none."""
    if not len(observed.run):
        return np.full(len(nodes.run), np.inf)
    # one number line: runs laid end to end, farther apart than any of them is long
    span = 2 * float(np.max(np.abs(nodes.chainage), initial=0.0)) + 1.0
    readings = np.sort(observed.run * span * 2 + observed.chainage)
    place = nodes.run * span * 2 + nodes.chainage
    after = np.searchsorted(readings, place).clip(0, len(readings) - 1)
    before = (after - 1).clip(0)
    distance = np.minimum(np.abs(readings[after] - place), np.abs(readings[before] - place))
    return np.where(distance > span, np.inf, distance)
