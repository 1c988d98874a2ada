"""The base under the map."""

from __future__ import annotations

import geopandas as gpd
import pytest
from shapely import LineString, Point, box

from wiremap.draw.backdrop import sort_base


def frame(**columns):
    size = len(next(iter(columns.values()))) if columns else 1
    return gpd.GeoDataFrame(columns, geometry=[box(0, 0, 1, 1)] * size, crs=26914)


@pytest.mark.parametrize(
    ("name", "kind"),
    [
        ("Property line", "property"), ("parcels_2024", "property"), ("House footprint", "building"),
        ("driveway", "hardscape"), ("Patio & walks", "hardscape"), ("trees", "other"), ("", "other"),
    ],
)  # fmt: skip
def test_a_layer_takes_its_style_from_its_name(name, kind):
    """Words that people give such layers; common practice, no source."""
    assert [k for k, _ in sort_base({name: frame()})] == [kind]


def test_a_row_s_own_kind_comes_before_the_layer_s_name():
    """One file may hold everything; what a row does not tell, its layer does."""
    mixed = frame(kind=["property_line", "building", None, "oak"])
    found = {k: len(rows) for k, rows in sort_base({"paving": mixed})}

    assert found == {"property": 1, "building": 1, "hardscape": 2}


def test_paving_lies_beneath_buildings_and_the_property_line_on_top():
    """The order is the order of drawing."""
    layers = {"property": frame(), "buildings": frame(), "trees": frame(), "drive": frame()}

    assert [k for k, _ in sort_base(layers)] == ["hardscape", "building", "other", "property"]


def test_rows_without_geometry_are_left_out():
    """So are empty layers."""
    gone = gpd.GeoDataFrame(geometry=[None, LineString(), Point(1, 2)], crs=26914)

    assert [len(rows) for _, rows in sort_base({"x": gone})] == [1]
    assert sort_base({"x": gone.iloc[:0]}) == []
