"""The as-built on axes."""

from __future__ import annotations

import sys

import matplotlib as mpl
import pytest
from synthetic_layers import make_layers

from wiremap.draw.plot import plot_asbuilt
from wiremap.errors import MissingExtraError

mpl.use("agg")


@pytest.fixture
def axes():
    import matplotlib.pyplot as plt

    figure, ax = plt.subplots()
    yield ax
    plt.close(figure)


def test_the_plot_holds_wires_devices_and_the_caution(axes):
    """On the axes that are given, equal in scale, over all wires; 12 zones with tracers."""
    made = make_layers(12)
    drawn = plot_asbuilt(made.layers, ax=axes)
    drawn.figure.canvas.draw()
    west, south, east, north = made.layers["wire_runs"].total_bounds

    assert drawn is axes
    assert "not a utility locate" in drawn.get_title(loc="left")
    assert drawn.get_xlim()[0] <= west <= east <= drawn.get_xlim()[1]
    assert drawn.get_ylim()[0] <= south <= north <= drawn.get_ylim()[1]
    assert {"1", "12", "A"} <= {t.get_text() for t in drawn.texts}


def test_a_zone_name_is_no_formula(axes):
    """A dollar sign in a name is drawn as it is."""
    made = make_layers(2)
    made.layers["valves"].loc[0, "zone"] = "$\\frac{"
    plot_asbuilt(made.layers, ax=axes).figure.canvas.draw()

    assert "$\\frac{" in {t.get_text() for t in axes.texts}


def test_nothing_to_draw_gives_empty_axes(axes):
    """Missing and empty layers alike."""
    empty = {name: frame.iloc[:0] for name, frame in make_layers(1).layers.items()}

    assert list(plot_asbuilt(empty, ax=axes).texts) == []


def test_without_matplotlib_the_install_line_is_named(monkeypatch):
    """The error says which extra to install."""
    monkeypatch.setitem(sys.modules, "matplotlib.pyplot", None)
    with pytest.raises(MissingExtraError, match=r"pip install 'wiremap\[plot\]'"):
        plot_asbuilt({})
