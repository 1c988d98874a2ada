"""GeoJSON that follows RFC 7946."""

from __future__ import annotations

import json
import tempfile
import warnings
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from geojson_pydantic import FeatureCollection
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import CRS, Transformer
from pyproj.transformer import AreaOfInterest, TransformerGroup
from sample_layers import UTM, make_context, make_layer, make_layers

from wiremap.model.frame import Frame
from wiremap.model.tables import DIG_BUFFER, FINDINGS, LAYERS, LOCATES, WIRE_RUNS, ZONES
from wiremap.write import geojson
from wiremap.write.geojson import find_operation, to_degrees, write_geojson

SAME = Transformer.from_crs("EPSG:4326", "EPSG:4326", always_xy=True)


def refuse(constant):
    """Refuse NaN and Infinity, which are not JSON."""
    raise ValueError(constant)


def write(folder, layers, **more):
    """Write layers and return the parsed files by layer name."""
    paths = write_geojson(layers, folder, make_context(**more))
    return {p.stem: json.loads(p.read_text("utf-8"), parse_constant=refuse) for p in paths}


@pytest.mark.parametrize("rows", [0, 3])
def test_every_layer_is_a_valid_feature_collection(tmp_path, rows):
    """RFC 7946, sections 3.3 and 4: structure by geojson-pydantic; no crs member."""
    files = write(tmp_path, make_layers(rows))
    tables = [table for table in LAYERS if table.name != "inputs"]  # the package alone keeps them
    assert list(files) == [table.name for table in tables]
    for table in tables:
        file = files[table.name]
        FeatureCollection.model_validate(file)
        assert "crs" not in file
        assert len(file["features"]) == rows
        for feature in file["features"]:
            assert set(table.column_names) == set(feature["properties"])
            assert (feature["geometry"] is None) == (table.geometry is None)


def test_positions_are_longitude_and_latitude(tmp_path):
    """RFC 7946, section 4: EPSG:26914 at the central meridian is 99 degrees west."""
    files = write(tmp_path, {"locates": make_layer(LOCATES, 1)})
    lon, lat = files["locates"]["features"][0]["geometry"]["coordinates"]
    assert lon == pytest.approx(-99.0, abs=1e-7)
    assert 36 < lat < 37


def test_outer_rings_run_counter_clockwise(tmp_path):
    """RFC 7946, section 3.1.6; the sample's rings run clockwise."""
    frame = make_layer(DIG_BUFFER, 1)
    assert not shapely.is_ccw(frame.geometry.iloc[0].exterior)
    files = write(tmp_path, {"dig_buffer": frame})
    ring = files["dig_buffer"]["features"][0]["geometry"]["coordinates"][0]
    assert shapely.is_ccw(shapely.LinearRing(ring))
    assert ring[0] == ring[-1]


def test_numbers_that_json_cannot_say_are_null(tmp_path):
    """NaN and infinity; a number that is there stays a number."""
    frame = make_layer(ZONES, 3)
    frame["ohms"] = [np.nan, np.inf, 24.5]
    files = write(tmp_path, {"zones": frame})
    assert [f["properties"]["ohms"] for f in files["zones"]["features"]] == [None, None, 24.5]


def test_a_finding_without_a_place_is_a_feature_without_a_geometry(tmp_path):
    """RFC 7946, section 3.2: an unlocated feature has a null geometry."""
    frame = make_layer(FINDINGS, 2).set_geometry([None, shapely.Point(500_000, 4e6)], crs=UTM)
    features = write(tmp_path, {"findings": frame})["findings"]["features"]
    assert features[0]["geometry"] is None
    assert features[1]["geometry"]["type"] == "Point"


def test_heights_stay_and_flat_lines_stay_flat(tmp_path):
    """A third coordinate is kept as it is; none is made up."""
    line = shapely.linestrings([[500_000, 4e6, 250.5], [500_003, 4_000_004, 250.25]])
    frame = make_layer(WIRE_RUNS, 2).set_geometry([line, shapely.force_2d(line)], crs=UTM)
    features = write(tmp_path, {"wire_runs": frame})["wire_runs"]["features"]
    first, second = (f["geometry"]["coordinates"] for f in features)
    assert [position[2] for position in first] == [250.5, 250.25]
    assert [len(position) for position in second] == [2, 2]


def test_a_layer_across_the_antimeridian_is_cut(tmp_path):
    """RFC 7946, section 3.1.9: the parts end at 180 degrees."""
    crs = CRS("EPSG:32660")
    to_plane = Transformer.from_crs("EPSG:4326", crs, always_xy=True).transform
    ends = np.column_stack(to_plane([179.9, -179.9 + 360], [-16.0, -16.1]))
    frame = make_layer(WIRE_RUNS, 1, crs=crs).set_geometry([shapely.linestrings(ends)], crs=crs)
    feature = write(tmp_path, {"wire_runs": frame}, crs=crs)["wire_runs"]["features"][0]
    longitudes = shapely.get_coordinates(shapely.geometry.shape(feature["geometry"]))[:, 0]
    assert (np.abs(longitudes) <= 180).all()
    assert feature["geometry"]["type"] == "MultiLineString"


def test_an_area_across_the_antimeridian_is_cut_into_two(tmp_path):
    """Each part keeps to its side, and their rings run counter-clockwise."""
    area = shapely.box(179.9, -16.1, 180.1, -16.0)
    degrees = shapely.transform(
        area, lambda x, y: (np.where(x > 180, x - 360, x), y), interleaved=False
    )
    (moved,) = to_degrees(np.array([degrees], dtype=object), SAME)
    assert moved.geom_type == "MultiPolygon"
    assert sorted(part.bounds[0] for part in moved.geoms) == [-180.0, 179.9]
    assert all(shapely.is_ccw(part.exterior) for part in moved.geoms)
    assert moved.area == pytest.approx(area.area)


def test_positions_are_rounded_to_what_the_data_can_say():
    """RFC 7946, section 11.2: seven decimals are 11 mm; heights are to the millimetre."""
    shapes = np.array([shapely.Point(-99.123456789, 36.1, 250.12345), shapely.Point(), None])
    moved = to_degrees(shapes, SAME)
    assert shapely.get_coordinates(moved[:1], include_z=True).tolist() == [
        [-99.1234568, 36.1, 250.123]
    ]
    assert moved[1:].tolist() == [None, None]


def test_corners_that_rounding_makes_alike_are_written_once():
    """Two corners of a buffer may stand closer than 11 mm."""
    near = shapely.Polygon([(0, 0), (1, 0), (1, 1), (1, 1 + 1e-9), (0, 1)])
    (moved,) = to_degrees(np.array([near], dtype=object), SAME)
    assert len(moved.exterior.coords) == 5
    assert moved.is_valid


def test_m_values_are_dropped(tmp_path):
    """RFC 7946, section 3.1.1: not more than three numbers a position."""
    measured = shapely.from_wkt("LINESTRING ZM (500000 4000000 9 100, 500003 4000004 8 105)")
    frame = make_layer(WIRE_RUNS, 1).set_geometry([measured], crs=UTM)
    feature = write(tmp_path, {"wire_runs": frame})["wire_runs"]["features"][0]
    assert [p[2:] for p in feature["geometry"]["coordinates"]] == [[9], [8]]


@settings(max_examples=25, deadline=None)
@given(
    st.lists(
        st.tuples(
            st.none() | st.text(max_size=8), st.none() | st.floats(), st.none() | st.booleans()
        ),
        max_size=5,
    ),
    st.text(max_size=8),
)
def test_any_text_number_and_flag_comes_back(rows, name):
    """Round trip through strict JSON: quotes, percent signs, controls, any number of nulls."""
    frame = pd.DataFrame(
        {
            "text": pd.Series([r[0] for r in rows], dtype=object),
            "number": pd.Series([r[1] for r in rows], dtype="float64"),
            "flag": pd.array([r[2] for r in rows], dtype="boolean"),
            f"x{name}": 1,
        }
    )
    with tempfile.TemporaryDirectory() as folder:
        features = write(Path(folder), {"own": frame})["own"]["features"]
    got = [list(feature["properties"].values()) for feature in features]
    assert got == [
        [
            None if text is None else text.encode(errors="replace").decode(),
            number if number is not None and np.isfinite(number) else None,
            flag,
            1,
        ]
        for text, number, flag in rows
    ]


@pytest.mark.parametrize("code", ["EPSG:26914", "EPSG:32614", "EPSG:2275", "EPSG:6372"])
def test_a_position_in_wgs84_comes_out_as_it_went_in(code):
    """The inverse of the operation that placed the data is taken, in any datum and unit."""
    crs = CRS(code)
    lon, lat = -99.1, 32.5
    area = AreaOfInterest(lon - 0.01, lat - 0.01, lon + 0.01, lat + 0.01)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", UserWarning)  # grids that are missing offline
        group = TransformerGroup("EPSG:4326", crs, always_xy=True, area_of_interest=area)
    for operation in group.transformers:
        frame = Frame(crs, crs, lon_deg=lon, lat_deg=lat, transformation=operation.description)
        back = find_operation(frame).transform(*operation.transform(lon, lat))
        assert back == pytest.approx((lon, lat), abs=1e-8)


def test_a_property_without_a_middle_still_has_an_operation():
    """An empty property has no position to choose an operation by."""
    frame = Frame(UTM, UTM)
    assert find_operation(frame).transform(500_000, 4e6)[0] == pytest.approx(-99, abs=1e-6)


@pytest.mark.parametrize("rows", [1, 4, 5])
def test_a_layer_is_written_in_blocks(tmp_path, monkeypatch, rows):
    """Large layers are not held in memory as one text; no row is lost between blocks."""
    monkeypatch.setattr(geojson, "_ROWS_AT_ONCE", 2)
    frame = pd.DataFrame({"n": range(rows)})
    features = write(tmp_path, {"own": frame})["own"]["features"]
    assert [f["properties"]["n"] for f in features] == list(range(rows))


def test_further_layers_are_written_too(tmp_path):
    """A caller's own layer is reprojected like the others."""
    own = gpd.GeoDataFrame({"a": [1]}, geometry=[shapely.Point(500_000, 4e6)], crs=UTM)
    files = write(tmp_path, {"own": own})
    assert files["own"]["features"][0]["geometry"]["coordinates"][0] == pytest.approx(-99)
