"""Layers as GeoJSON text."""

from __future__ import annotations

import json
import math

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from hostile import HALF, HOSTILE
from hypothesis import given
from hypothesis import strategies as st
from jinja2 import Template
from shapely import LineString, MultiPoint, Point
from synthetic_layers import make_layers

from wiremap.draw.features import (
    feature_collection,
    grouped_collection,
    json_text,
    json_value,
    number_list,
    records,
)


@given(st.text())
def test_any_text_survives_the_page_and_any_template(text):
    """It reads back equal, also after a template engine had it, and holds no markup."""
    written = json_text(text)

    assert json.loads(written) == text
    assert written.isascii()
    assert not set(written) & set("<>&{}`$")
    assert json.loads(Template(written).render()) == text


@pytest.mark.parametrize("text", [*HOSTILE, HALF])
def test_hostile_texts_read_back_equal(text):
    """So do the texts that are known to break pages."""
    assert json.loads(json_value({text: [text]})) == {text: [text]}


@given(st.lists(st.one_of(st.floats(-1e6, 1e6), st.just(math.nan), st.just(math.inf)), max_size=9))
def test_numbers_read_back_to_a_thousandth(numbers):
    """What is not finite becomes null."""
    back = json.loads(number_list(numbers))

    assert len(back) == len(numbers)
    for read, given_number in zip(back, numbers, strict=True):
        if math.isfinite(given_number):
            assert read == pytest.approx(given_number, abs=6e-4)
        else:
            assert read is None


def test_features_carry_positions_in_degrees_and_only_what_is_there():
    """EPSG:26914 to WGS 84; missing cells, NaN, infinity and empty texts are left out."""
    frame = gpd.GeoDataFrame(
        {
            "zone": ["3", None], "ohms": [math.inf, 24.5], "note": ["", "x"],
            "count": pd.array([4, None], dtype="Int64"),
            "is_permanent": pd.array([True, None], dtype="boolean"),
        },
        geometry=[Point(584000, 4205000), None],
        crs=26914,
    )  # fmt: skip
    first, second = json.loads(feature_collection(frame))["features"]

    expected = frame.geometry.to_crs(4326)[0]
    assert first["geometry"]["coordinates"] == [round(expected.x, 7), round(expected.y, 7)]
    assert first["properties"] == {"zone": "3", "count": 4, "is_permanent": True}
    assert second["geometry"] is None
    assert second["properties"] == {"ohms": 24.5, "note": "x"}


def test_heights_are_left_out():
    """The map is flat: a line with elevations is written with two coordinates."""
    frame = gpd.GeoDataFrame(geometry=[LineString([(1, 2, 3), (4, 5, 6)])], crs=4326)

    assert json.loads(feature_collection(frame))["features"][0]["geometry"]["coordinates"] == [
        [1, 2], [4, 5],
    ]  # fmt: skip


def test_grouped_points_hold_the_same_as_points_one_by_one():
    """Spreading each group gives every row and value back."""
    frame = make_layers(5, points_per_run=9).layers["locates"]
    one_by_one = json.loads(feature_collection(frame))["features"]
    spread = []
    for group in json.loads(grouped_collection(frame, by="run"))["features"]:
        listed = {k for k, v in group["properties"].items() if isinstance(v, list)}
        for i, at in enumerate(group["geometry"]["coordinates"]):
            row = {k: v[i] if k in listed else v for k, v in group["properties"].items()}
            spread.append((at, {k: v for k, v in row.items() if v is not None}))

    assert spread == [(f["geometry"]["coordinates"], f["properties"]) for f in one_by_one]


def test_grouping_is_many_times_smaller():
    """The reason for it, held: under a third of a feature a point."""
    frame = make_layers(10, points_per_run=60).layers["locates"]

    assert len(grouped_collection(frame, by="run")) < len(feature_collection(frame)) / 3


def test_empty_layers_give_empty_collections():
    """No row, no feature, and still GeoJSON."""
    frame = make_layers(1).layers["locates"].iloc[:0]

    assert json.loads(feature_collection(frame))["features"] == []
    assert json.loads(grouped_collection(frame, by="run"))["features"] == []
    assert records(pd.DataFrame({"zone": []})) == "[]"


def test_every_geometry_type_is_written():
    """A multipoint or an empty shape does not stop a layer."""
    frame = gpd.GeoDataFrame(geometry=[MultiPoint([(1, 2), (3, 4)]), Point()], crs=4326)
    first, second = json.loads(feature_collection(frame))["features"]

    assert first["geometry"]["type"] == "MultiPoint"
    assert second["geometry"]["coordinates"] == []


def test_columns_of_any_type_are_written_as_text_or_number():
    """Dates and odd objects become their text."""
    frame = pd.DataFrame(
        {"when": pd.to_datetime(["2026-05-04"]), "odd": [{"a": 1}], "number": np.float32(1.5)}
    )

    (row,) = json.loads(records(frame))
    assert row == {"when": "2026-05-04", "odd": "{'a': 1}", "number": 1.5}
