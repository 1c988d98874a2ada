"""The tone profile picture: what is drawn, and where."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from wiremap.draw.tone_profile import plot_tone_profile


@pytest.fixture
def axes():
    import matplotlib as mpl

    mpl.use("Agg")
    import matplotlib.pyplot as plt

    tones = pd.DataFrame({
        "chainage_m": [0.0, 5, 10, 15], "current": [1.0, 0.98, 0.6, 0.59],
        "model": [1.0, 0.99, 0.6, 0.59], "low": [0.9, 0.9, 0.5, 0.5], "high": [1.1, 1.1, 0.7, 0.7],
    })  # fmt: skip
    faults = pd.DataFrame({
        "kind": ["leak", "leak", "open_end"], "chainage_m": [7.5, 9.0, 19.0],
        "chainage_low_m": [5.1, 8.0, 16.0], "chainage_high_m": [9.9, 10.0, 30.0],
    })  # fmt: skip
    yield plot_tone_profile(tones, faults)
    plt.close("all")


def test_levels_model_band_and_each_kind_of_fault_are_named_once(axes):
    """The legend names what is drawn; two leaks are named once."""
    named = [text.get_text() for text in axes.get_legend().get_texts()]
    assert sorted(named) == ["95 % of levels", "leak", "level times depth", "model", "open end"]
    assert (axes.get_xlabel(), axes.get_ylabel()) == ("Chainage (m)", "Relative current")


def test_a_fault_stands_at_its_chainage_with_its_interval_shaded(axes):
    """A line at 7.5 m inside a span from 5.1 to 9.9 m."""
    assert [7.5, 7.5] in [list(line.get_xdata()) for line in axes.lines]
    spans = [(p.get_x(), p.get_x() + p.get_width()) for p in axes.patches]
    assert spans[0] == pytest.approx((5.1, 9.9))


def test_current_is_drawn_from_nothing_up(axes):
    """The axis starts at zero, so that a loss can be judged by eye."""
    assert axes.get_ylim()[0] == 0


def test_a_picture_can_be_drawn_into_axes_given_and_without_levels(axes):
    """Returned axes are the ones given; empty tables draw nothing new."""
    tones = pd.DataFrame(np.nan, [0], ["chainage_m", "current", "model", "low", "high"])
    faults = pd.DataFrame(
        {"kind": [], "chainage_m": [], "chainage_low_m": [], "chainage_high_m": []}
    )
    lines = len(axes.lines)
    assert plot_tone_profile(tones, faults, ax=axes) is axes
    assert len(axes.lines) == lines + 2
