"""RMS from fix quality and HDOP."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wiremap.read.gnss_quality import RMS_AT_HDOP_1_M, estimate_rms


def test_the_rms_grows_with_hdop_and_falls_with_better_fixes():
    """Horizontal accuracy is range accuracy times HDOP (common practice, no source)."""
    fixed, floated, differential, autonomous = estimate_rms([4, 5, 2, 1], [1.0] * 4)
    assert fixed < floated < differential < autonomous
    assert estimate_rms([1], [2.0]) == pytest.approx(2 * autonomous)


@pytest.mark.parametrize(
    ("quality", "hdop"), [(0, 1), (7, 1), (8, 1), (9, 1), (1, np.nan), (1, 0), (np.nan, 1)]
)
def test_nothing_is_made_up(quality, hdop):
    """No fix, typed in, simulated, unknown, or without HDOP."""
    assert np.isnan(estimate_rms([quality], [hdop])).all()


@given(st.sampled_from(sorted(RMS_AT_HDOP_1_M)), st.floats(0.4, 50))
def test_every_known_quality_gives_a_positive_figure(quality, hdop):
    """In proportion to HDOP."""
    assert estimate_rms([quality], [hdop])[0] == pytest.approx(RMS_AT_HDOP_1_M[quality] * hdop)
