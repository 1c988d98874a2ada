"""The legend names what the plan shows, and nothing else."""

from __future__ import annotations

import geopandas as gpd
import pandas as pd
import pytest
from pdf_pages import page_words, read_pdf
from sheet_layers import UTM, plan_context, plan_layers

from wiremap.draw.sheets.document import draw_sheets
from wiremap.model.tables import TIES, WIRE_RUNS

CORNERS = {"NE corner": (5.0, 12.0), "NW corner": (-12.0, 12.0)}
GREY = "Wire of several zones"
STAR = "* Building in the way"


def _pages(layers):
    return [
        page_words(page) for page in read_pdf(draw_sheets(layers, context=plan_context())).pages
    ]


@pytest.mark.parametrize(("zones", "is_named"), [("1", False), ("1;2", True), ("", True)])
def test_the_grey_of_shared_wire_is_explained_where_it_is_drawn(zones, is_named):
    """A wire of one zone has that zone's colour; any other is drawn in grey."""
    layers = plan_layers({"W1": [(0.0, 0.0), (18.0, 24.0)]})
    runs = gpd.GeoDataFrame(layers["wire_runs"].assign(zones=zones), crs=UTM)
    plan = _pages(layers | {"wire_runs": WIRE_RUNS.conform(runs, crs=UTM)})[0]

    assert (GREY in plan) is is_named
    assert ("Wire of zone" in plan) is not is_named


@pytest.mark.parametrize("blocked", [False, True])
def test_a_tie_through_a_building_is_marked_in_plan_table_and_legend(blocked):
    """The star beside the distance is explained wherever it stands, and only there."""
    layers = plan_layers({"W1": [(0.0, 0.0), (18.0, 24.0)]}, references=CORNERS)
    tie = {"layer": ["valves"], "feature_id": "V1", "reference_a": "NE corner", "distance_a_m": 17.7,
           "reference_b": "NW corner", "distance_b_m": 32.3, "source": "computed",
           "blocked_a": False, "blocked_b": blocked}  # fmt: skip
    words = " ".join(_pages(layers | {"ties": TIES.conform(pd.DataFrame(tie))}))

    assert (STAR in words) is blocked
    assert ("106.0 *" in words) is blocked
    assert ("106.0 ft *" in words) is blocked
    assert "58.1 *" not in words
