"""A second conductor: closed forms against the check values and against the simulated field.

Values are from the project's table of check values, section on locating physics, table of the
second parallel conductor; computed there from the law of Biot and Savart.
"""

from __future__ import annotations

import numpy as np
import pytest
from field import MU0_OVER_2PI, Section, quadrature_field, segment_field

from wiremap.formulas.depth_pairs import null_offset_m
from wiremap.formulas.interference import (
    BIAS_PER_ASYMMETRY,
    asymmetry,
    likely_bias_m,
    second_conductor_nulls_m,
)

TABLE = [
    (0.3, 0.3, 0.2, 0.03013, 0.40000, -0.27806),
    (0.3, 0.3, -0.2, -0.03016, 0.19685, -0.32662),
    (0.3, 0.6, 0.2, 0.02477, 0.60000, -0.27757),
    (0.3, 0.6, -0.2, -0.02359, 0.21979, -0.32593),
    (0.3, 1.0, 0.2, 0.01680, 0.40000, -0.28086),
    (0.3, 1.0, -0.2, -0.01634, 0.25075, -0.32151),
    (0.3, 0.1, -0.2, -0.02090, 0.26245, -0.31687),
    (0.3, 0.01, -0.2, -0.00249, 0.29739, -0.30240),
    (0.3, 0.01, -0.9, -0.07687, 0.17472, -0.36762),
]


def nearest(nulls, place):
    return nulls[np.argmin(np.abs(nulls - place))]


@pytest.mark.parametrize(("depth", "spacing", "share", "upright", "right", "left"), TABLE)
def test_nulls_beside_a_second_conductor_stand_where_the_table_says(
    depth, spacing, share, upright, right, left
):
    """Check values: second parallel conductor at +a carrying q I, both at 0.30 m."""
    for lean, place in ((0, upright), (45, right), (-45, left)):
        nulls = second_conductor_nulls_m(depth, spacing_m=spacing, share=share, lean_deg=lean)
        assert nearest(nulls, place) == pytest.approx(place, abs=6e-6)


@pytest.mark.parametrize(("depth", "spacing", "share", "upright", "right", "left"), TABLE)
def test_the_simulated_field_has_the_same_nulls(depth, spacing, share, upright, right, left):
    """The receiver of the simulator finds by bisection what the table states."""
    section = Section(np.array([depth]), np.zeros(1), np.array([[spacing]]), np.array([[share]]))
    found = section.null(0.0)
    assert found == pytest.approx([upright], abs=6e-6)
    assert section.null(np.radians(45), beyond=found) == pytest.approx([right], abs=6e-6)
    assert section.null(-np.radians(45), beyond=found) == pytest.approx([left], abs=6e-6)


def test_rational_nulls_are_exact():
    """Check values: 2/5 and 3/5 m beside a conductor at 0.3 and 0.6 m, -0.3 m at depth 0.6 m."""

    def at(depth, spacing, lean):
        return second_conductor_nulls_m(depth, spacing_m=spacing, share=0.2, lean_deg=lean)

    assert nearest(at(0.3, 0.3, 45), 0.4) == pytest.approx(2 / 5, abs=1e-12)
    assert nearest(at(0.3, 0.6, 45), 0.6) == pytest.approx(3 / 5, abs=1e-12)
    assert at(0.3, 1.0, 45) == pytest.approx([0.40000, 0.72137, 1.01196], abs=6e-6)


def test_a_conductor_at_another_depth_pulls_the_nulls_less():
    """Check values: both at depth 0.6 m, 0.3 m apart, q 0.2: nulls 0.01173, 0.36562, -0.30000."""
    # the table's wire lies at 0.30 m and its neighbour at 0.6 m
    section = Section(
        np.array([0.3]), np.zeros(1), np.array([[0.3]]), np.array([[0.2]]), np.array([0.6])
    )
    found = section.null(0.0)
    assert found == pytest.approx([0.01173], abs=6e-6)
    assert section.null(np.radians(45), beyond=found) == pytest.approx([0.36562], abs=6e-6)
    assert section.null(-np.radians(45), beyond=found) == pytest.approx([-0.3], abs=6e-6)


def test_a_balanced_loop_has_its_nulls_at_the_golden_ratio():
    """Check values: nulls at (a +- sqrt(a^2 + 4 d^2)) / 2; golden ratio times d when a = d."""
    golden = (1 + np.sqrt(5)) / 2
    nulls = second_conductor_nulls_m(0.3, spacing_m=0.3, share=-1.0)
    assert nulls == pytest.approx([0.3 * (1 - golden), 0.3 * golden], abs=1e-9)
    assert nulls == pytest.approx([-0.18541, 0.48541], abs=6e-6)
    leaning = second_conductor_nulls_m(0.3, spacing_m=0.3, share=-1.0, lean_deg=45)
    assert leaning == pytest.approx([0.0, 0.9], abs=1e-9)
    other = second_conductor_nulls_m(0.3, spacing_m=0.3, share=-1.0, lean_deg=-45)
    assert other == pytest.approx([-0.6, 0.3], abs=1e-9)


def test_biot_savart_by_quadrature_agrees_with_the_closed_form():
    """Check values: at x 0.2, d 0.30: h 2.3076923 k, v 1.5384615 k."""
    start, end = np.array([0.0, -4000.0, -0.3]), np.array([0.0, 4000.0, -0.3])
    at = np.array([0.2, 0.0, 0.0])
    closed = segment_field(start, end, 1.0, at[None])[0] / MU0_OVER_2PI
    summed = quadrature_field(start, end, 1.0, at, pieces=400_000) / MU0_OVER_2PI
    assert np.abs(closed[[0, 2]]) == pytest.approx([2.3076923, 1.5384615], rel=1e-6)
    assert np.abs(summed[[0, 2]]) == pytest.approx([2.3076923, 1.5384615], rel=1e-4)
    right, up = Section(np.array([0.3]), np.zeros(1)).across(np.array([0.2]))
    assert [right[0], up[0]] == pytest.approx([2.3076923, 1.5384615], rel=1e-7)


def test_flux_density_has_the_size_that_the_law_gives():
    """Check values: 1 A at 1 m 2.0e-7 T; 10 mA at 0.30 m 6.6667 nT."""
    start, end = np.array([0.0, -1e5, 0.0]), np.array([0.0, 1e5, 0.0])
    near = np.array([[1.0, 0, 0], [0.3, 0, 0]])
    size = np.linalg.norm(segment_field(start, end, 1.0, near), axis=1)
    assert size[0] == pytest.approx(2.0e-7, rel=1e-6)
    assert 0.010 * size[1] == pytest.approx(6.6667e-9, rel=1e-4)


def test_field_over_the_open_end_is_half_the_long_wires():
    """Check values: over the end of a half-infinite wire half of the infinite one."""
    at = np.array([[0.0, 0.0, 0.3]])
    whole = segment_field([0, -1e5, 0], [0, 1e5, 0], 1.0, at)
    half = segment_field([0, 0, 0], [0, 1e5, 0], 1.0, at)
    assert np.linalg.norm(half) == pytest.approx(np.linalg.norm(whole) / 2, rel=1e-6)


def test_the_vertical_coil_peaks_one_depth_beside_the_wire():
    """Check values: relative to its peak 0.32432, 0.6, 0.92308, 1, 0.92308, 0.8, 0.6."""
    section = Section(np.full(7, 0.3), np.zeros(7))
    x = 0.3 * np.array([1 / 6, 1 / 3, 2 / 3, 1, 1.5, 2, 3])
    level = section.silence(x, 0.0) / (1 / (2 * 0.3))
    assert level == pytest.approx([0.32432, 0.6, 0.92308, 1, 0.92308, 0.8, 0.6], abs=6e-6)


@pytest.mark.parametrize("slope_deg", [-20, -10, 0, 5, 15, 30])
@pytest.mark.parametrize("height_m", [0.0, 0.1])
def test_the_simulated_field_has_the_closed_forms_nulls_on_a_slope(slope_deg, height_m):
    """Path mark plumb over the wire, leaning nulls at D / (cos s / tan t - sin s)."""
    section = Section(np.array([0.3]), np.array([np.tan(np.radians(slope_deg))]))
    path = section.null(0.0, height_m=height_m)
    assert path == pytest.approx([0.0], abs=1e-9)
    for lean in (30, 45, 50):
        left = -section.null(-np.radians(lean), beyond=path, height_m=height_m)
        expected = null_offset_m(0.3 + height_m, slope_deg=slope_deg, lean_deg=lean)
        assert left == pytest.approx([float(expected)], rel=1e-7)


def test_a_clean_slope_is_as_uneven_as_a_strong_neighbour():
    """Check values: (R - L) / (R + L) 0.091 and -0.133 beside a conductor, 0.176 on 10 degrees."""
    assert asymmetry(0.36987, 0.30820) == pytest.approx(0.091, abs=6e-4)
    assert asymmetry(0.22701, 0.29645) == pytest.approx(-0.133, abs=6e-4)
    assert asymmetry(0.36984, 0.25897) == pytest.approx(0.176, abs=6e-4)


def test_likely_bias_is_what_conductors_of_that_asymmetry_do():
    """Root mean square of bias over asymmetry, for asymmetries of 0.02 to 0.2, within 6 %."""
    spacing, share = (
        g.ravel()[:, None]
        for g in np.meshgrid(
            np.arange(0.3, 3.01, 0.1), (-0.3, -0.2, -0.1, -0.05, 0.05, 0.1, 0.2, 0.3)
        )
    )
    section = Section(np.ones(len(share)), np.zeros(len(share)), spacing, share)
    path = section.null(0.0)
    left = path - section.null(-np.pi / 4, beyond=path)
    right = section.null(np.pi / 4, beyond=path) - path
    uneven = asymmetry(left, right)
    bias = 2 * left * right / (left + right) / np.sqrt(1 + uneven**2) - 1
    told = (np.abs(uneven) >= 0.02) & (np.abs(uneven) <= 0.2)
    ratio = np.sqrt((bias[told] ** 2).sum() / (uneven[told] ** 2).sum())
    assert ratio == pytest.approx(BIAS_PER_ASYMMETRY, rel=0.06)
    assert likely_bias_m([0.3, 0.6], -0.1) == pytest.approx([0.033, 0.066])
