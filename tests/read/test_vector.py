"""GeoJSON, GeoPackage and Shapefile as tables of positions."""

from __future__ import annotations

import hashlib
import json
import sqlite3
from contextlib import closing

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import pytest
import shapely

from wiremap.errors import ReadError
from wiremap.plugins import FileOptions
from wiremap.read.vector import GEOJSON, GEOPACKAGE, SHAPEFILE

NONE = FileOptions()


def save_geojson(path, *features, **members):
    """Write features given as (geometry, properties)."""
    rows = [{"type": "Feature", "geometry": g, "properties": p} for g, p in features]
    path.write_text(json.dumps({"type": "FeatureCollection", "features": rows} | members))
    return path


def point(*xy):
    """Return a point geometry."""
    return {"type": "Point", "coordinates": list(xy)}


def read_one(reader, path, options=NONE):
    """Read a file that holds one table."""
    (table,) = reader.read(path, options)
    return table


def test_points_become_rows_with_longitude_latitude_and_their_attributes(tmp_path):
    """Names stay as they are; rows are counted from 1; GeoJSON is in WGS 84."""
    path = save_geojson(
        tmp_path / "a.geojson",
        (point(-99.5, 36.25), {"point": "P1", "Offset L (in)": 14.5, "note": None}),
        (point(-99.6, 36.35), {"point": "P2", "Offset L (in)": None, "note": "x"}),
    )
    table = read_one(GEOJSON, path)
    assert table.crs == "EPSG:4326"
    assert table.frame.index.tolist() == [1, 2]
    assert table.frame[["lon", "lat"]].to_numpy().tolist() == [[-99.5, 36.25], [-99.6, 36.35]]
    assert table.frame["Offset L (in)"].tolist()[0] == 14.5
    assert table.frame["note"].isna().tolist() == [True, False]
    assert "elevation_m" not in table.frame


def test_a_line_becomes_the_path_of_a_run_in_order(tmp_path):
    """One row a vertex, the run named by the feature, each row with a point of its own."""
    line = {"type": "LineString", "coordinates": [[1, 2], [3, 4], [5, 6]]}
    path = save_geojson(
        tmp_path / "a.geojson",
        (point(9, 9), {"name": "V1", "feature": "valve"}),
        (line, {"name": "North run", "feature": None}),
        (line, {"name": None, "feature": "exposed"}),
    )
    frame = read_one(GEOJSON, path).frame
    assert frame["feature"].tolist() == ["valve", *["path"] * 3, *["exposed"] * 3]
    assert frame["run"].isna().tolist() == [True, *[False] * 6]
    assert frame["run"].tolist()[1:] == ["North run"] * 3 + ["a 3"] * 3
    assert frame["point"].tolist()[1:4] == ["North run-1", "North run-2", "North run-3"]
    assert frame["lon"].tolist() == [9, 1, 3, 5, 1, 3, 5]
    assert frame.index.tolist() == [1, 2, 2, 2, 3, 3, 3]


def test_a_line_with_attributes_of_the_contract_keeps_its_run_and_numbers_its_points(tmp_path):
    """A point identifier of the whole line would stand for every vertex."""
    line = {"type": "MultiLineString", "coordinates": [[[1, 2], [3, 4]], [[5, 6], [7, 8]]]}
    path = save_geojson(
        tmp_path / "a.geojson", (line, {"point": "L", "run": "R9", "order": 4, "name": "x"})
    )
    frame = read_one(GEOJSON, path).frame
    assert frame["run"].tolist() == ["R9"] * 4
    assert frame["point"].tolist() == ["R9-1", "R9-2", "R9-3", "R9-4"]
    assert frame["order"].tolist() == [1, 2, 3, 4]


def test_of_a_collection_the_lines_or_else_the_points_are_read(tmp_path):
    """Map programs put a label's point beside a line; the line is what was drawn."""
    line = {"type": "LineString", "coordinates": [[1, 2], [3, 4]]}
    both = {"type": "GeometryCollection", "geometries": [point(9, 9), line]}
    lone = {"type": "GeometryCollection", "geometries": [point(5, 6)]}
    path = save_geojson(tmp_path / "a.geojson", (both, {"name": "Z1"}), (lone, {"name": "V1"}))
    table = read_one(GEOJSON, path)
    assert table.frame[["lon", "lat"]].to_numpy().tolist() == [[1, 2], [3, 4], [5, 6]]
    assert "2 collections" in table.notes[0]


def test_areas_are_read_as_centroids_and_collections_of_areas_are_refused(tmp_path):
    """A valve box drawn as an area has a middle; a collection of areas has no one position."""
    square = {"type": "Polygon", "coordinates": [[[0, 0], [2, 0], [2, 2], [0, 2], [0, 0]]]}
    mixed = {"type": "GeometryCollection", "geometries": [square]}
    table = read_one(
        GEOJSON, save_geojson(tmp_path / "a.geojson", (square, {"a": 1}), (mixed, {"a": 2}))
    )
    assert table.frame[["lon", "lat"]].to_numpy().tolist() == [[1, 1]]
    assert "1 areas were read as their centroids" in table.notes
    assert [(p.row, p.rule) for p in table.problems] == [
        (2, "a collection of geometries has no one position")
    ]


def test_a_feature_without_a_geometry_is_a_problem_with_its_number(tmp_path):
    """The other features are read."""
    empty = {"type": "Point", "coordinates": []}
    path = save_geojson(
        tmp_path / "a.geojson", (None, {"a": 1}), (point(1, 2), {"a": 2}), (empty, {"a": 3})
    )
    table = read_one(GEOJSON, path)
    assert table.frame.index.tolist() == [2]
    assert [(p.row, p.rule) for p in table.problems] == [(1, "no geometry"), (3, "no geometry")]


def test_a_feature_without_a_geometry_that_carries_a_tie_is_kept(tmp_path):
    """Its position comes from the tape."""
    path = save_geojson(
        tmp_path / "a.geojson",
        (None, {"point": "P1", "tie_a": "BC1"}),
        (None, {"point": "P2", "tie_a": None}),
    )
    table = read_one(GEOJSON, path)
    assert table.frame["point"].tolist() == ["P1"]
    assert table.frame["lon"].isna().all()
    assert [p.row for p in table.problems] == [2]


def test_coordinates_that_are_not_finite_are_problems(tmp_path):
    """A GeoPackage can hold NaN and infinity."""
    shapes = shapely.points([[1, 2], [np.inf, 2], [1, np.nan]])
    gdf = gpd.GeoDataFrame({"a": [1, 2, 3]}, geometry=shapes, crs="EPSG:26914")
    gdf.to_file(tmp_path / "a.gpkg", layer="locates")
    table = read_one(GEOPACKAGE, tmp_path / "a.gpkg")
    assert table.frame["a"].tolist() == [1]
    assert table.frame[["easting", "northing"]].to_numpy().tolist() == [[1, 2]]
    assert 2 in [p.row for p in table.problems]
    assert len(table.problems) == 2


def test_longitude_and_latitude_zero_is_a_missing_position(tmp_path):
    """Programs write 0, 0 for a position that they do not have; a plane may start there."""
    path = save_geojson(tmp_path / "a.geojson", (point(0, 0), {"a": 1}), (point(1, 2), {"a": 2}))
    table = read_one(GEOJSON, path)
    assert table.frame["a"].tolist() == [2]
    assert [(p.row, p.value) for p in table.problems] == [(1, "0.0, 0.0")]
    assert len(read_one(GEOJSON, path, FileOptions(crs="EPSG:26914")).frame) == 2


@pytest.mark.parametrize(
    ("crs", "name"),
    [
        ("EPSG:4326", "elevation_m"),
        ("EPSG:26914", "elevation_m"),
        ("EPSG:2275", "elevation_ftus"),
        ("EPSG:2222", "elevation_ft"),
        ("EPSG:6318+5703", "elevation_m"),
    ],
)
def test_heights_become_elevations_in_the_unit_of_their_crs(tmp_path, crs, name):
    """NAD83 / Texas North Central counts in US survey feet, Arizona East in feet (EPSG)."""
    gdf = gpd.GeoDataFrame({"a": [1, 2]}, geometry=shapely.points([[1, 2, 9], [3, 4, 8]]), crs=crs)
    gdf.to_file(tmp_path / "a.gpkg")
    table = read_one(GEOPACKAGE, tmp_path / "a.gpkg")
    assert table.frame[name].tolist() == [9, 8]


def test_heights_that_are_all_zero_are_no_elevations(tmp_path):
    """Many programs write 0 for a height that nobody measured."""
    gdf = gpd.GeoDataFrame({"a": [1]}, geometry=shapely.points([[1, 2, 0]]), crs="EPSG:4326")
    gdf.to_file(tmp_path / "a.gpkg")
    assert list(read_one(GEOPACKAGE, tmp_path / "a.gpkg").frame) == ["a", "lon", "lat"]


def test_m_values_are_dropped_and_heights_stay(tmp_path):
    """Measures along a line are another program's; the third value is still the height."""
    line = shapely.from_wkt("LINESTRING ZM (1 2 9 100, 3 4 8 105)")
    path = tmp_path / "a.gpkg"
    flat = shapely.from_wkt("LINESTRING Z (1 2 9, 3 4 8)")
    gpd.GeoDataFrame({"a": [1]}, geometry=[flat], crs="EPSG:26914").to_file(path, layer="runs")
    with closing(sqlite3.connect(path)) as db:
        (blob,) = db.execute("SELECT geom FROM runs").fetchone()
        header = blob[: 8 + 48] if blob[3] & 0x0E == 4 else blob[: 8 + 32]
        measured = header + shapely.to_wkb(line, output_dimension=4, flavor="iso")
        for (trigger,) in db.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'"):
            db.execute(f'DROP TRIGGER "{trigger}"')
        db.execute("UPDATE runs SET geom = ?", (measured,))
        db.execute("UPDATE gpkg_geometry_columns SET m = 1")
        db.commit()
    frame = read_one(GEOPACKAGE, path).frame
    assert frame[["easting", "northing", "elevation_m"]].to_numpy().tolist() == [
        [1, 2, 9],
        [3, 4, 8],
    ]


def test_every_feature_layer_of_a_geopackage_is_read_and_styles_are_not(tmp_path):
    """Tables without positions are read only where they look like locates."""
    path = tmp_path / "a.gpkg"
    hostile = 'x"; DROP TABLE "valves'
    one = gpd.GeoDataFrame({"a": [1]}, geometry=shapely.points([[1, 2]]), crs="EPSG:26914")
    one.to_file(path, layer="valves")
    one.to_file(path, layer=hostile)
    for name, column in (("layer_styles", "styleQML"), ("notes", "text"), ("taped", "Feature")):
        pyogrio.write_dataframe(pd.DataFrame({column: ["valve"]}), path, layer=name)
    tables = GEOPACKAGE.read(path, NONE)
    assert sorted(t.part for t in tables) == sorted(["valves", hostile, "taped"])
    valves = next(t for t in tables if t.part == "valves")
    assert valves.frame["feature"].tolist() == ["valve"]


def test_reading_does_not_change_the_file(tmp_path):
    """The folder of field files is only read: same bytes, no file beside."""
    path = tmp_path / "a.gpkg"
    gpd.GeoDataFrame({"a": [1]}, geometry=shapely.points([[1, 2]]), crs=4326).to_file(path)
    before = hashlib.sha256(path.read_bytes()).hexdigest()
    GEOPACKAGE.read(path, NONE)
    assert hashlib.sha256(path.read_bytes()).hexdigest() == before
    assert list(tmp_path.iterdir()) == [path]


def test_a_shapefile_is_read_with_its_projection_and_encoding(tmp_path):
    """The .prj names the CRS; without .cpg the encoding may be given."""
    path = tmp_path / "a.shp"
    gdf = gpd.GeoDataFrame({"note": ["Küche"]}, geometry=shapely.points([[1, 2]]), crs=26914)
    gdf.to_file(path, encoding="cp1252")
    (tmp_path / "a.cpg").unlink()
    table = read_one(SHAPEFILE, path, FileOptions(encoding="cp1252"))
    assert table.frame["note"].tolist() == ["Küche"]
    assert table.crs == "EPSG:26914"
    assert table.frame["easting"].tolist() == [1]


@pytest.mark.parametrize(
    ("xy", "names"), [([-99.5, 36.0], ("lon", "lat")), ([500_000, 4e6], ("easting", "northing"))]
)
def test_a_shapefile_without_a_projection_is_announced(tmp_path, xy, names):
    """What the coordinates were taken for is said; the property's own CRS is used then."""
    path = tmp_path / "a.shp"
    gpd.GeoDataFrame({"a": [1]}, geometry=shapely.points([xy]), crs=4326).to_file(path)
    (tmp_path / "a.prj").unlink()
    table = read_one(SHAPEFILE, path)
    assert table.crs is None
    assert table.frame[list(names)].to_numpy().tolist() == [xy]
    assert table.notes[0].startswith("the file names no CRS; positions were taken as ")


def test_the_crs_of_property_toml_stands_in_place_of_the_files_own(tmp_path):
    """A file may name the wrong one."""
    path = save_geojson(tmp_path / "a.geojson", (point(500_000, 4e6), {"a": 1}))
    table = read_one(GEOJSON, path, FileOptions(crs="EPSG:26914"))
    assert table.crs == "EPSG:26914"
    assert table.frame["easting"].tolist() == [500_000]


def test_an_attribute_with_the_name_of_a_position_is_kept_aside(tmp_path):
    """The geometry is the position."""
    path = save_geojson(tmp_path / "a.geojson", (point(-99, 36), {"lon": "rough", "lat": 36.1}))
    frame = read_one(GEOJSON, path).frame
    assert frame["lon"].tolist() == [-99]
    assert frame["lon (attribute)"].tolist() == ["rough"]


@pytest.mark.parametrize(
    ("reader", "name", "data", "message"),
    [
        (GEOJSON, "a.geojson", b"", "is not a GeoJSON file, got an empty file"),
        (GEOJSON, "a.geojson", b"<OGRVRTDataSource/>", "is not a GeoJSON file, got b'<OGRVRT"),
        (GEOJSON, "a.geojson", b'{"type":"FeatureCollection","features":[', "cannot be read"),
        (GEOPACKAGE, "a.gpkg", b"PK\x03\x04 a zip", "is not a GeoPackage file"),
        (
            GEOPACKAGE,
            "a.gpkg",
            b"SQLite format 3\x00" + b"x" * 2000,
            "cannot be read|holds no layer",
        ),
        (SHAPEFILE, "a.shp", b"\x00\x00\x27\x0a" + b"\x00" * 200, "cannot be read"),
    ],
)
def test_a_file_that_is_not_what_it_claims_is_one_clear_error(
    tmp_path, reader, name, data, message
):
    """Signature first, so that no other driver of GDAL opens it."""
    path = tmp_path / name
    path.write_bytes(data)
    with pytest.raises(ReadError, match=message) as caught:
        reader.read(path, NONE)
    assert str(caught.value).startswith(f"{name}: ")
    assert str(tmp_path) not in str(caught.value)


POINT = '{"type":"Point","coordinates":[1,2]}'
DEEP_GEOMETRY = '{"type":"GeometryCollection","geometries":[' * 1000 + POINT + "]}" * 1000
DEEP_VALUE = "[" * 1000 + "]" * 1000


@pytest.mark.parametrize(
    "feature",
    [
        f'{{"type":"Feature","properties":{{}},"geometry":{DEEP_GEOMETRY}}}',
        f'{{"type":"Feature","properties":{{"a":{DEEP_VALUE}}},"geometry":{POINT}}}',
    ],
)
def test_a_file_nested_a_thousand_deep_is_refused_in_words(tmp_path, feature):
    """Deep nesting is an attack on parsers; it never crashes wiremap."""
    (tmp_path / "a.geojson").write_text(feature)
    with pytest.raises(
        ReadError, match=r"a\.geojson: cannot be read: .*(too deep|Too many nested)"
    ):
        GEOJSON.read(tmp_path / "a.geojson", NONE)


def test_a_missing_file_is_one_clear_error(tmp_path):
    """The error of the system is not shown raw."""
    with pytest.raises(ReadError, match=r"gone\.geojson: cannot be read: .*No such file"):
        GEOJSON.read(tmp_path / "gone.geojson", NONE)


def test_a_file_without_features_is_an_empty_table(tmp_path):
    """Whether nothing at all is left to build is for the property to say."""
    path = save_geojson(tmp_path / "a.geojson")
    assert len(read_one(GEOJSON, path).frame) == 0


def test_the_standards_own_views_do_not_refuse_a_package(tmp_path):
    """OGC 12-128r17 has SQL/MM views of its own tables; GDAL neither lists nor runs them."""
    path = tmp_path / "town.gpkg"
    points = gpd.GeoDataFrame({"a": [1]}, geometry=[shapely.Point(-97.5, 35.3)], crs=4326)
    points.to_file(path, layer="valves")
    view = "CREATE VIEW {} AS SELECT srs_name, srs_id FROM gpkg_spatial_ref_sys"
    with closing(sqlite3.connect(path)) as db:
        db.execute(view.format("st_spatial_ref_sys"))
    assert [len(table.frame) for table in GEOPACKAGE.read(path, NONE)] == [1]
    with closing(sqlite3.connect(path)) as db:
        db.execute(view.format("mine"))
    with pytest.raises(ReadError, match="a query"):
        GEOPACKAGE.read(path, NONE)
