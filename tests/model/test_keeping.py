"""What a package keeps of its inputs gives the inputs back."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import geopandas as gpd
import pandas as pd
import pytest
from shapely.geometry import Point, Polygon

import wiremap
from wiremap.errors import ReadError
from wiremap.model import keeping
from wiremap.model.keeping import keep_property, restore_property
from wiremap.model.season_tables import KEPT
from wiremap.model.tables import LOCATES_IN

DATA = Path(__file__).parents[2] / "data"


def assert_equal(one, other):
    """Hold two tables equal; texts may be stored in either of the two ways that pandas has."""
    assert list(one.columns) == list(other.columns)
    plain = [frame.astype(object).set_axis(range(frame.shape[1]), axis=1) for frame in (one, other)]
    pd.testing.assert_frame_equal(*plain)
    assert one.dtypes.map(str).tolist() == other.dtypes.map(str).tolist()


@pytest.mark.parametrize("name", ["millrace-court", "ridge-terrace"])
def test_a_property_comes_back_whole(name):
    """Tables, settings, findings and files are equal, the messy property's too."""
    source = wiremap.read_property(DATA / name)
    again = restore_property(keep_property(source))
    for table in ("locates", "zones", "references", "readings"):
        assert_equal(getattr(again, table), getattr(source, table))
    assert again.name == source.name
    assert again.inputs == source.inputs
    assert again.settings.thresholds == source.settings.thresholds
    assert [f.line for f in again.findings] == [f.line for f in source.findings]


def test_infinite_and_missing_numbers_and_text_columns_of_the_owner_come_back():
    """An open station reads infinite; a column of the owner's keeps its type."""
    source = wiremap.read_property(DATA / "hollow-oak-garden")
    zones = source.zones.copy()
    zones.loc[0, "ohms"] = float("inf")
    locates = source.locates.assign(
        crew=pd.array(["x"] * len(source.locates), dtype="str"), count=1, ok=True, level=0.1 + 0.2
    )
    again = restore_property(keep_property(replace(source, zones=zones, locates=locates)))
    assert again.zones.loc[0, "ohms"] == float("inf")
    assert_equal(again.locates, locates)


def test_base_layers_keep_their_crs_and_columns():
    """A building in feet and a tree with a height."""
    shape = Polygon([(0, 0), (10, 0), (10, 5)])
    base = {
        "house": gpd.GeoDataFrame({"name": ["Barn"]}, geometry=[shape], crs="EPSG:2277"),
        "none": gpd.GeoDataFrame({"geometry": []}, geometry="geometry", crs="EPSG:4326"),
        "tree": gpd.GeoDataFrame({"girth": [1.5]}, geometry=[Point(1, 2, 3)]),
    }
    source = replace(wiremap.read_property(DATA / "hollow-oak-garden"), base=base)
    again = restore_property(keep_property(source)).base
    assert list(again) == list(base)
    assert again["house"].crs == base["house"].crs
    assert again["house"].geometry.iloc[0].equals(shape)
    assert again["tree"].crs is None
    assert again["tree"].geometry.iloc[0].z == 3


def test_long_tables_are_kept_in_parts(monkeypatch):
    """Parts of 7 rows, put together again in order."""
    monkeypatch.setattr(keeping, "ROWS_AT_ONCE", 7)
    source = wiremap.read_property(DATA / "hollow-oak-garden")
    kept = keep_property(source)
    assert (kept["input"] == "locates").sum() == -(-len(source.locates) // 7)
    again = restore_property(kept.iloc[::-1])
    assert_equal(again.locates, source.locates)


def test_the_content_is_plain_json():
    """It can be read without wiremap: no NaN, no code."""
    kept = keep_property(wiremap.read_property(DATA / "hollow-oak-garden"))
    locates = json.loads(kept.loc[kept["input"] == "locates", "content"].iloc[0])
    assert set(locates) == {"types", "columns", "rows"}
    assert "point" in LOCATES_IN.column_names
    assert len(locates["columns"]["point"]) == locates["rows"]


def test_an_empty_table_says_that_nothing_is_kept():
    """A package of other software, or of an earlier version."""
    with pytest.raises(ReadError, match="does not hold what it was built from"):
        restore_property(KEPT.empty(), path="old.gpkg")


@pytest.mark.parametrize("text", ["{", "[]", '{"format": 1}', '{"format": "x"}'])
def test_damaged_inputs_are_one_error(text):
    """Whatever stands there instead of the facts."""
    kept = KEPT.conform(pd.DataFrame({"input": ["property"], "part": [0], "content": [text]}))
    with pytest.raises(ReadError, match="damaged"):
        restore_property(kept, path="x.gpkg")


def test_a_later_format_asks_for_an_update():
    """A package from the future is not guessed at."""
    kept = KEPT.conform(
        pd.DataFrame({"input": ["property"], "part": [0], "content": ['{"format": 99}']})
    )
    with pytest.raises(ReadError, match="later version"):
        restore_property(kept)


def test_base_layers_with_dates_lists_and_endless_numbers_come_back_as_text(tmp_path):
    """A base layer may carry any attribute; what JSON has no word for is kept as text."""
    base = gpd.GeoDataFrame(
        {"built": pd.to_datetime(["2026-05-04T10:00Z", None]), "size": [float("inf"), 2.0],
         "tags": [["a", "b"], None]},
        geometry=[Point(0, 1), Point(2, 3)], crs="EPSG:4326",
    )  # fmt: skip
    source = replace(wiremap.read_property(DATA / "hollow-oak-garden"), base={"yard": base})
    again = restore_property(keep_property(source)).base["yard"]
    assert again["built"].astype(str).iloc[0] == "2026-05-04 10:00:00+00:00"
    assert again["size"].tolist() == ["Infinity", 2.0]
    assert again.geometry.iloc[1] == Point(2, 3)
