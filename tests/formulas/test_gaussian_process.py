"""The chain solver against a dense Gaussian process, written out with full matrices."""

from __future__ import annotations

import numpy as np
import pytest

from wiremap.formulas.gaussian_process import average_smoothed, fit_scales, smooth_chains

SCALE_M, SIZE, MEAN, MEAN_SIGMA = 15.0, 0.05, 0.30, 0.08


def chains(rng, lines=3, nodes=12):
    group = np.repeat(np.arange(lines), nodes)
    position = rng.uniform(0, 60, lines * nodes)
    seen = rng.random(lines * nodes) < 0.6
    value = np.where(seen, rng.normal(0.3, 0.06, lines * nodes), np.nan)
    return group, position, value, rng.uniform(0.01, 0.04, lines * nodes)


def covariance(group, position):
    apart = np.abs(position[:, None] - position[None])
    same = group[:, None] == group[None]
    return same * (SIZE**2 * np.exp(-apart / SCALE_M) + MEAN_SIGMA**2)


def smooth(group, position, value, sigma, **more):
    return smooth_chains(group, position, value, sigma, length_scale_m=SCALE_M, amplitude=SIZE,
                         mean=MEAN, mean_sigma=MEAN_SIGMA, **more)  # fmt: skip


def test_mean_and_sigma_are_those_of_the_dense_process():
    """Textbook regression equations: K* K^-1 y and K** - K* K^-1 K*'."""
    group, position, value, sigma = chains(np.random.default_rng(3))
    full = covariance(group, position)
    seen = np.isfinite(value)
    noisy = full[np.ix_(seen, seen)] + np.diag(sigma[seen] ** 2)
    gain = full[:, seen] @ np.linalg.inv(noisy)
    found = smooth(group, position, value, sigma)
    assert found.mean == pytest.approx(MEAN + gain @ (value[seen] - MEAN), abs=1e-9)
    variance = np.diag(full) - np.einsum("ij,ij->i", gain, full[:, seen])
    assert found.sigma == pytest.approx(np.sqrt(variance), rel=1e-6)


def test_shared_error_goes_through_like_the_observations():
    """One error common to all observations moves the curve by the same gain."""
    group, position, value, sigma = chains(np.random.default_rng(4))
    full = covariance(group, position)
    seen = np.isfinite(value)
    gain = full[:, seen] @ np.linalg.inv(full[np.ix_(seen, seen)] + np.diag(sigma[seen] ** 2))
    shared = np.full(len(value), 0.02)
    found = smooth(group, position, value, sigma, shared=shared)
    assert found.shared_sigma == pytest.approx(np.abs(gain @ shared[seen]), abs=1e-9)
    signed = np.where(np.arange(len(value)) % 2, 0.03, -0.03)
    both = smooth(group, position, value, sigma, shared=np.array([shared, signed]))
    assert both.shared_sigma == pytest.approx(
        np.hypot(gain @ shared[seen], gain @ signed[seen]), abs=1e-9
    )


def test_left_out_residuals_are_those_of_leaving_one_out():
    """Each observation against what the others alone predict."""
    group, position, value, sigma = chains(np.random.default_rng(5))
    found = smooth(group, position, value, sigma)
    for i in np.flatnonzero(np.isfinite(value)):
        without = value.copy()
        without[i] = np.nan
        alone = smooth(group, position, without, sigma)
        assert found.left_out_residual[i] == pytest.approx(value[i] - alone.mean[i], abs=1e-9)
        assert found.left_out_sigma[i] == pytest.approx(
            np.hypot(alone.sigma[i], sigma[i]), rel=1e-6
        )


def test_log_likelihood_is_the_normal_density_of_the_observations():
    """Sum over chains against the density of the dense normal distribution."""
    from scipy.stats import multivariate_normal

    group, position, value, sigma = chains(np.random.default_rng(6))
    seen = np.isfinite(value)
    noisy = covariance(group, position)[np.ix_(seen, seen)] + np.diag(sigma[seen] ** 2)
    density = multivariate_normal(np.full(seen.sum(), MEAN), noisy).logpdf(value[seen])
    assert smooth(group, position, value, sigma).log_likelihood.sum() == pytest.approx(density)


def test_sigma_grows_away_from_the_readings():
    """Between and beyond readings less is known, up to the prior far away."""
    position = np.array([0.0, 5, 10, 15, 20, 40, 400])
    value = np.where(np.isin(position, (0, 20)), 0.3, np.nan)
    sigma = smooth(np.zeros(7, dtype=int), position, value, np.full(7, 0.02)).sigma
    assert sigma[0] < sigma[1] < sigma[2] > sigma[3] > sigma[4] < sigma[5] < sigma[6]


def test_scales_are_found_back_from_many_observations():
    """Chains drawn with length 30 m and amplitude 0.10 m pull the fit there from 15 and 0.05."""
    rng = np.random.default_rng(8)
    group, position = np.repeat(np.arange(40), 30), np.tile(np.arange(30) * 5.0, 40)
    apart = np.abs(position[:30, None] - position[None, :30])
    root = np.linalg.cholesky(0.10**2 * np.exp(-apart / 30) + 1e-9 * np.eye(30))
    value = 0.4 + (root @ rng.normal(size=(30, 40))).T.ravel() + rng.normal(0, 0.02, 1200)
    scales = fit_scales(group, position, value, np.full(1200, 0.02), length_scale_m=15.0,
                        amplitude=0.05, mean=0.4, mean_sigma=0.05)  # fmt: skip
    assert scales.length_scale_m[0] == pytest.approx(30.0)
    assert 0.0875 <= scales.amplitude[0] <= 0.15
    assert len(scales.weight) <= 3


def test_few_readings_leave_open_over_what_length_depth_changes():
    """Three readings favour no scale: several are carried, and a gap is less sure for it."""
    position, value = np.array([0.0, 25.0, 50.0]), np.array([0.25, 0.42, 0.28])
    prior = {"mean": 0.3, "mean_sigma": 0.06}
    scales = fit_scales([0, 0, 0], position, value, np.full(3, 0.02), length_scale_m=15.0,
                        amplitude=0.05, **prior)  # fmt: skip
    assert len(scales.weight) > 5
    assert scales.weight.sum() == pytest.approx(1)
    cases = [
        smooth_chains([0] * 4, [*position, 12.5], [*value, np.nan], np.full(4, 0.02),
                      length_scale_m=length, amplitude=size, **prior)
        for length, size in zip(scales.length_scale_m, scales.amplitude, strict=True)
    ]  # fmt: skip
    whole = average_smoothed(cases, scales.weight)
    means = np.array([case.mean[3] for case in cases])
    assert means.min() <= whole.mean[3] <= means.max()
    within = scales.weight @ np.array([case.sigma[3] ** 2 for case in cases])
    between = scales.weight @ (means - whole.mean[3]) ** 2
    assert whole.sigma[3] ** 2 == pytest.approx(within + between)


def test_five_thousand_readings_of_one_run_are_smoothed_whole():
    """A long run is no special case: every place gets a depth, surer than one reading."""
    n = 5000
    done = smooth(np.zeros(n, dtype=int), np.arange(n) * 1.0, np.full(n, 0.3), np.full(n, 0.02))
    assert np.allclose(done.mean, 0.3, atol=0.01)
    assert (done.sigma < 0.02).all()
