"""Tone against the closed forms of the field of a wire."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad

from wiremap.formulas.tone import (
    end_factor,
    level_noise,
    linear_level,
    log_current,
    lone_points,
    neighbour_residuals,
    peak_level,
    usual_decay,
)


def vertical_field(offset, depth, start, stop):
    """Return the vertical field of a straight wire by Biot-Savart, in units of I / 2."""
    return quad(lambda s: offset / (offset**2 + depth**2 + s**2) ** 1.5, start, stop)[0]


def test_the_peak_beside_the_null_is_current_over_twice_the_depth():
    """Biot-Savart quadrature of a long wire: the vertical field is greatest at x = d, I / (2 d)."""
    depth = 0.3
    offsets = np.linspace(0.05, 1.5, 291)
    field = np.array([vertical_field(x, depth, -2000, 2000) / 2 for x in offsets])
    assert offsets[field.argmax()] == pytest.approx(depth, abs=0.005)
    assert field.max() == pytest.approx(peak_level(np.array([1.0]), np.array([depth]))[0], rel=1e-4)


@pytest.mark.parametrize(
    ("ratio", "share"),
    [(1 / 6, 0.32432), (1 / 3, 0.6), (2 / 3, 0.92308), (1, 1), (2, 0.8), (3, 0.6)],
)
def test_the_field_beside_the_null_has_the_closed_form(ratio, share):
    """Vertical coil relative to its peak, 2 r / (1 + r^2): values of the closed form."""
    field = vertical_field(ratio * 0.3, 0.3, -2000, 2000) / 2
    assert field / peak_level(np.array(1.0), np.array(0.3)) == pytest.approx(share, abs=2e-5)


@pytest.mark.parametrize("distance", [-0.3, 0.0, 0.2, 0.6, 3.0])
def test_near_an_open_end_the_field_falls_to_a_half(distance):
    """Half-infinite wire by Biot-Savart quadrature: half of the long wire's field over the end."""
    depth = 0.3
    over_wire = quad(lambda s: depth / (depth**2 + s**2) ** 1.5, -distance, 2000)[0]
    long_wire = quad(lambda s: depth / (depth**2 + s**2) ** 1.5, -2000, 2000)[0]
    assert end_factor(np.array([distance]), depth)[0] == pytest.approx(
        over_wire / long_wire, rel=1e-4
    )
    assert end_factor(np.array([0.0]), depth)[0] == 0.5


def test_level_times_depth_is_current_whatever_the_depth():
    """The inverse of the closed form: one current at three depths gives one log current."""
    depth = np.array([0.15, 0.3, 0.6])
    level = peak_level(np.full(3, 7.0), depth)
    assert log_current(level, depth) == pytest.approx(np.log(7.0))


def test_twenty_decibels_are_a_factor_of_ten():
    """Decibels of field strength; 0 stays silence on either scale."""
    assert linear_level(np.array([0.0, 20.0, 40.0, np.nan]), scale="decibel") == pytest.approx(
        [0.0, 10.0, 100.0, np.nan], nan_ok=True
    )
    assert linear_level(np.array([-1.0, 0.0, 3.0])) == pytest.approx(
        [np.nan, 0.0, 3.0], nan_ok=True
    )


def test_silence_has_no_logarithm():
    """A level of nothing gives NaN and no warning."""
    assert np.isnan(log_current(np.array([0.0, np.nan]), np.array([0.3, 0.3]))).all()


def test_noise_is_told_from_neighbours_whatever_the_slope_and_one_step():
    """A thousand levels of noise 0.05 on a slope with a step: 0.05 within a twentieth."""
    rng = np.random.default_rng(1)
    x = np.cumsum(rng.uniform(3, 8, 1000))
    values = 0.05 * rng.standard_normal(1000) - 0.002 * x - np.where(x > 2000, 0.7, 0.0)
    assert level_noise(neighbour_residuals(x, values)) == pytest.approx(0.05, rel=0.08)


def test_points_at_one_place_do_not_divide_by_nothing():
    """Three levels at one chainage: the middle is held against the mean of the two."""
    assert neighbour_residuals(np.zeros(3), np.array([0.0, 3.0, 0.0])) == pytest.approx([6**0.5])


def test_too_few_levels_tell_no_noise():
    """Two levels have no inner one."""
    assert len(neighbour_residuals(np.arange(2.0), np.ones(2))) == 0
    assert np.isnan(level_noise(np.empty(0)))


def test_a_bump_of_two_stands_alone_and_a_step_does_not():
    """Two lifted points are marked; the points beside a lasting step are not."""
    bump = np.array([0, 0, 0, 1, 1, 0, 0, 0, 0.0])
    step = np.array([0, 0, 0, 0, -1, -1, -1, -1.0])
    assert lone_points(bump, sigma=0.05).nonzero()[0].tolist() == [3, 4]
    assert not lone_points(step, sigma=0.05).any()
    assert not lone_points(np.array([0, 9, 0, 9.0]), sigma=0.05).any()


def test_the_usual_decay_is_that_of_the_flatter_runs():
    """Twenty runs that decay by 0.004 a metre, half of them with a leak of 40 per cent."""
    rng = np.random.default_rng(2)
    x = np.tile(np.arange(0.0, 150, 5), 20)
    run = np.repeat(np.arange(20), 30)
    values = -0.004 * x + 0.05 * rng.standard_normal(600)
    values = values + np.log(0.6) * ((run % 2 == 0) & (x > 72))
    assert usual_decay(run, x, values) == pytest.approx(0.004, abs=0.001)


@pytest.mark.parametrize("count", [0, 1, 2])
def test_without_runs_of_two_levels_the_decay_is_the_usual_one(count):
    """Nothing, or runs of one level each, have no slope."""
    assert usual_decay(np.arange(count), np.zeros(count), np.zeros(count)) == 0.001
