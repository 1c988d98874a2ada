"""The depth profile picture: what is drawn, and where."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from wiremap.draw.depth_profile import plot_depth_profile


@pytest.fixture
def axes():
    import matplotlib as mpl

    mpl.use("Agg")
    import matplotlib.pyplot as plt

    curve = pd.DataFrame({
        "chainage_m": [0.0, 5, 10, 15], "depth_m": [0.3, 0.32, np.nan, np.nan],
        "depth_sigma_m": [0.02, 0.03, np.nan, np.nan],
    })  # fmt: skip
    readings = pd.DataFrame({"chainage_m": [0.0], "depth_m": [0.3], "depth_sigma_m": [0.02]})
    yield plot_depth_profile(curve, readings, min_cover_m=0.152)
    plt.close("all")


def test_depth_goes_down_from_the_ground(axes):
    """The ground is at the top and the deepest value inside."""
    bottom, top = axes.get_ylim()
    assert bottom > 0.38
    assert top <= 0


def test_curve_band_readings_and_limit_are_named(axes):
    """The legend names all four, the limit with its value."""
    named = {text.get_text() for text in axes.get_legend().get_texts()}
    assert named == {"wire", "95 % interval", "readings", "cover limit 0.152 m"}
    assert (axes.get_xlabel(), axes.get_ylabel()) == ("Chainage (m)", "Depth (m)")


def test_the_interval_of_a_reading_is_ninety_five_percent_wide(axes):
    """1.96 sigma to each side: 0.0392 m."""
    bars = next(c for c in axes.containers if hasattr(c, "has_yerr"))
    low, high = bars.lines[2][0].get_segments()[0][:, 1]
    assert [low, high] == pytest.approx([0.3 - 0.0392, 0.3 + 0.0392])


def test_a_picture_can_be_drawn_into_axes_given(axes):
    """Returned axes are the ones given."""
    curve = pd.DataFrame({"chainage_m": [0.0, 1], "depth_m": 0.2, "depth_sigma_m": 0.01})
    empty = pd.DataFrame({"chainage_m": [], "depth_m": [], "depth_sigma_m": []}, dtype=float)
    assert plot_depth_profile(curve, empty, min_cover_m=0.1, ax=axes) is axes


def test_profiles_that_share_an_axis_are_all_seen():
    """Each run of a row of pictures lies within its picture, whichever was drawn first."""
    import matplotlib as mpl

    mpl.use("Agg")
    import matplotlib.pyplot as plt

    _, axes = plt.subplots(1, 3, sharey=True)
    for ax, depth_m in zip(axes, (0.30, 0.80, 0.25), strict=True):
        curve = pd.DataFrame({"chainage_m": [0.0, 9.0], "depth_m": depth_m, "depth_sigma_m": 0.05})
        plot_depth_profile(curve, curve, min_cover_m=0.152, ax=ax)
    for ax in axes:
        low, high = ax.get_ylim()
        assert low > 0.80 + 1.96 * 0.05
        assert high < 0
    plt.close("all")
