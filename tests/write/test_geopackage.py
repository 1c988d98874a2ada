"""The GeoPackage: every layer, valid, described and styled."""

from __future__ import annotations

import sqlite3
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import pytest
import shapely
from osgeo_utils.samples.validate_gpkg import check
from pyproj import CRS
from sample_layers import UTM, make_context, make_layer, make_layers

from wiremap.errors import WriteError
from wiremap.model.tables import DIG_BUFFER, FINDINGS, LAYERS, LOCATES, WIRE_RUNS
from wiremap.write import geopackage


def write(folder, layers, **more):
    """Write layers and return the package's path."""
    return geopackage.write_geopackage(layers, folder, make_context(**more))[0]


def query(path, sql, *values):
    """Return all rows of a query."""
    with closing(sqlite3.connect(path)) as db:
        return db.execute(sql, values).fetchall()


@pytest.fixture(scope="module")
def package(tmp_path_factory):
    """A package of all layers with rows."""
    return write(tmp_path_factory.mktemp("package"), make_layers())


@pytest.fixture(scope="module")
def empty_package(tmp_path_factory):
    """A package of no rows at all."""
    return write(tmp_path_factory.mktemp("empty"), {})


def test_the_package_passes_the_public_validator(package, empty_package):
    """Rules of OGC 12-128 as held by validate_gpkg of gdal-utils."""
    for path in (package, empty_package):
        assert check(str(path), abort_at_first_error=False, verbose=False) == []


def test_the_package_is_version_1_3_and_whole(package):
    """OGC 12-128r17, requirements 2, 6 and 7: user_version 10300, integrity, foreign keys."""
    assert query(package, "PRAGMA user_version") == [(10300,)]
    assert query(package, "PRAGMA application_id") == [(0x47504B47,)]
    assert query(package, "PRAGMA integrity_check") == [("ok",)]
    assert query(package, "PRAGMA foreign_key_check") == []


@pytest.mark.parametrize("which", ["package", "empty_package"])
def test_every_layer_is_there_in_order_with_its_geometry_type(which, request):
    """Layers without a row keep their type; tables without positions are attributes."""
    path = request.getfixturevalue(which)
    names = set(pyogrio.list_layers(path)[:, 0]) - {"layer_styles", "valves_zones"}
    assert names == {t.name for t in LAYERS}
    rows = query(path, "SELECT rowid, table_name FROM gpkg_contents ORDER BY rowid")
    assert [name for _, name in rows if name != "layer_styles"] == [t.name for t in LAYERS]
    types = dict(query(path, "SELECT table_name, geometry_type_name FROM gpkg_geometry_columns"))
    declared = {t.name: t.geometry.upper() for t in LAYERS if t.geometry}
    assert types == declared
    kinds = dict(query(path, "SELECT table_name, data_type FROM gpkg_contents"))
    placeless = {t.name for t in LAYERS if t.geometry is None}
    assert {n for n, kind in kinds.items() if kind == "attributes"} == placeless | {"layer_styles"}


def test_values_come_back_as_they_went_in(package):
    """Round trip of every layer: text, number, whole number, flag, geometry and CRS."""
    for name, frame in make_layers().items():
        back = pyogrio.read_dataframe(package, layer=name)
        assert len(back) == len(frame)
        for column in frame.columns.drop("geometry", errors="ignore"):
            assert back[column].tolist() == frame[column].tolist()
        if "geometry" in frame:
            assert back.crs == UTM
            assert shapely.equals_exact(back.geometry.values, frame.geometry.values, 0).all()


def test_the_spatial_index_holds_every_geometry(package):
    """The index is checked by the validator for form only, so its content is counted here."""
    for table in LAYERS:
        if table.geometry:
            assert query(package, f"SELECT count(*) FROM rtree_{table.name}_geom") == [(3,)]


def test_missing_values_are_null(tmp_path):
    """NaN, NA and missing text are all null in the package; infinity is kept."""
    frame = make_layer(LOCATES, 2)
    frame.loc[0, ["position_rms_m", "source_row", "run"]] = [np.nan, pd.NA, np.nan]
    frame["ohms"] = [np.inf, 1.0]
    path = write(tmp_path, {"locates": frame})
    sql = "SELECT position_rms_m, source_row, run, ohms FROM locates"
    assert query(path, sql)[0] == (None, None, None, np.inf)


def test_a_finding_without_a_place_has_no_geometry(tmp_path):
    """None and an empty geometry are both null; the package stays valid."""
    frame = make_layer(FINDINGS, 3)
    frame["geometry"] = [None, shapely.Point(), shapely.Point(500_000, 4_000_000)]
    path = write(tmp_path, {"findings": frame.set_crs(UTM)})
    assert query(path, "SELECT geom IS NULL FROM findings") == [(1,), (1,), (0,)]
    assert check(str(path), abort_at_first_error=False, verbose=False) == []


def test_heights_are_written_only_where_every_geometry_has_one(tmp_path):
    """One dimension a layer: a missing height is never written as 0."""
    line = shapely.linestrings([[0, 0, 9], [3, 4, 8]])
    flat = shapely.force_2d(line)
    frame = make_layer(WIRE_RUNS, 2)
    for name, shapes, z in (("all", [line, line], 1), ("some", [line, flat], 0)):
        folder = tmp_path / name
        folder.mkdir()
        path = write(folder, {"wire_runs": frame.set_geometry(shapes, crs=UTM)})
        sql = "SELECT z FROM gpkg_geometry_columns WHERE table_name = 'wire_runs'"
        assert query(path, sql) == [(z,)]
        assert check(str(path), abort_at_first_error=False, verbose=False) == []
        back = pyogrio.read_dataframe(path, layer="wire_runs").geometry
        assert back.has_z.tolist() == [bool(z)] * 2


def test_m_values_are_dropped_and_heights_stay(tmp_path):
    """A measure cannot be carried through; the height beside it can."""
    frame = make_layer(WIRE_RUNS, 1)
    measured = shapely.from_wkt("LINESTRING ZM (0 0 9 100, 3 4 8 105)")
    path = write(tmp_path, {"wire_runs": frame.set_geometry([measured], crs=UTM)})
    back = pyogrio.read_dataframe(path, layer="wire_runs").geometry[0]
    assert back.wkt == "LINESTRING Z (0 0 9, 3 4 8)"


def test_a_buffer_of_several_parts_makes_the_layer_multi(tmp_path):
    """All of one type: single polygons are wrapped."""
    one, other = shapely.box(0, 0, 1, 1), shapely.box(5, 5, 6, 6)
    frame = make_layer(DIG_BUFFER, 2).set_geometry([shapely.union(one, other), one], crs=UTM)
    path = write(tmp_path, {"dig_buffer": frame})
    assert set(pyogrio.read_dataframe(path, layer="dig_buffer").geom_type) == {"MultiPolygon"}
    assert check(str(path), abort_at_first_error=False, verbose=False) == []


def test_columns_of_field_files_keep_their_values_under_any_name(tmp_path):
    """Names that a package needs for itself, or that differ by case only, are numbered."""
    frame = make_layer(LOCATES, 2)
    odd = {
        "fid": ["x", "y"],
        "geom": [1, 2],
        "Run": ["p", "q"],
        'a"b; DROP': [True, False],
        "": [1, 2],
    }
    frame = frame.assign(**odd)
    frame["seen"] = pd.to_datetime(["2026-05-04T12:00", None])
    frame["mixed"] = pd.Series([{"a": 1}, 2.5], dtype=object)
    path = write(tmp_path, {"locates": frame})
    back = pyogrio.read_dataframe(path, layer="locates")
    assert back[["fid_2", "geom_2", "Run_2", 'a"b; DROP', "column"]].to_dict("list") == {
        "fid_2": ["x", "y"], "geom_2": [1, 2], "Run_2": ["p", "q"], 'a"b; DROP': [True, False],
        "column": [1, 2],
    }  # fmt: skip
    assert back["seen"].tolist()[0] == "2026-05-04T12:00:00"
    assert back["mixed"].tolist() == ["{'a': 1}", "2.5"]


def test_further_layers_are_written_behind_the_declared_ones(tmp_path):
    """A caller may hand over layers of its own, with a hostile name too."""
    name = 'my "layer"; --'
    extra = gpd.GeoDataFrame({"a": [1]}, geometry=[shapely.Point(1, 2)], crs=UTM)
    path = write(tmp_path, {name: extra, "plain": pd.DataFrame({"b": ["x"]})})
    assert pyogrio.read_dataframe(path, layer=name)["a"].tolist() == [1]
    assert pyogrio.read_dataframe(path, layer="plain")["b"].tolist() == ["x"]


def test_a_working_crs_in_survey_feet_is_kept(tmp_path):
    """The package stands in the working CRS, whatever its unit."""
    feet = CRS("EPSG:2229")
    path = write(tmp_path, make_layers(crs=feet), crs=feet)
    assert pyogrio.read_info(path, layer="locates")["crs"] == "EPSG:2229"


def test_a_working_crs_without_a_code_is_kept(tmp_path):
    """A site's own projection is written by its definition."""
    own = CRS("+proj=tmerc +lat_0=36 +lon_0=-99 +k=1 +x_0=1000 +y_0=2000 +ellps=GRS80 +units=m")
    path = write(tmp_path, make_layers(crs=own), crs=own)
    back = pyogrio.read_dataframe(path, layer="locates").crs
    easting = next(p for p in back.coordinate_operation.params if p.name == "False easting")
    assert easting.value == 1000
    assert check(str(path), abort_at_first_error=False, verbose=False) == []


def test_equal_layers_give_equal_bytes_when_the_time_is_given(tmp_path):
    """A package can be compared by its hash."""
    written = []
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
        path = write(tmp_path / name, make_layers(), timestamp="2026-05-04T00:00:00.000Z")
        written.append(path.read_bytes())
    assert written[0] == written[1]


def test_options_of_gdal_are_put_back(tmp_path):
    """The staging options hold for the writing only."""
    pyogrio.set_gdal_config_options({"OGR_SQLITE_SYNCHRONOUS": "NORMAL"})
    try:
        write(tmp_path, {})
        assert pyogrio.get_gdal_config_option("OGR_SQLITE_SYNCHRONOUS") == "NORMAL"
        assert pyogrio.get_gdal_config_option("OGR_SQLITE_JOURNAL") is None
    finally:
        pyogrio.set_gdal_config_options({"OGR_SQLITE_SYNCHRONOUS": None})


def test_threads_do_not_leave_options_of_gdal_behind(tmp_path):
    """The options hold for the whole process, so that one thread at a time may change them."""
    folders = [tmp_path / str(number) for number in range(4)]
    for folder in folders:
        folder.mkdir()
    with ThreadPoolExecutor(4) as pool:
        list(pool.map(lambda folder: write(folder, {}), folders))
    assert pyogrio.get_gdal_config_option("OGR_SQLITE_SYNCHRONOUS") is None


def test_a_package_that_lost_rows_is_refused(tmp_path, monkeypatch):
    """Every layer is counted after it is written."""
    real = geopackage.add_layer_styles

    def lose(db, **options):
        db.execute("DELETE FROM zones")
        real(db, **options)

    monkeypatch.setattr(geopackage, "add_layer_styles", lose)
    with pytest.raises(WriteError, match="failed its verification, got zones holds 0 rows of 3"):
        write(tmp_path, make_layers())
