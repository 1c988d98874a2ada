"""Propagation by central differences against known moments."""

from __future__ import annotations

import numpy as np
import pytest

from wiremap.formulas.sigma_points import propagate


def test_a_linear_function_is_propagated_exactly():
    """Sigma is the root of the sum of squared slopes times sigmas; no bias."""
    found = propagate(lambda e: 1 + 2 * e[0] - 3 * e[1], [[0.1], [0.2]])
    assert found.value == pytest.approx([1.0])
    assert found.sigma == pytest.approx([np.hypot(0.2, 0.6)])
    assert found.parts[:, 0] == pytest.approx([0.2, -0.6])


def test_the_second_order_bias_of_a_square_is_told_and_counted():
    """E[(a + e)^2] = a^2 + s^2, so that a^2 is over-read by s^2 on average."""
    found = propagate(lambda e: (2 + e[0]) ** 2, [[0.5]])
    assert found.value == pytest.approx([4.0])
    assert found.bias == pytest.approx([0.25])
    assert found.sigma == pytest.approx([np.hypot(2.0, 0.25)])


def test_what_cannot_be_computed_stays_nan():
    """NaN in, NaN out, beside values that can."""
    found = propagate(lambda e: np.array([np.nan, 1.0]) + e[0], [[0.1, 0.1]])
    assert np.isnan(found.value[0])
    assert found.value[1] == pytest.approx(1.0)
