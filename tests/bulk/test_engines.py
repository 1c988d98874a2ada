"""Engines that read the portfolio's dataset as one table."""

from __future__ import annotations

import importlib

import geopandas as gpd
import pytest
from property_farm import Inline, make_property
from pyarrow import parquet

import wiremap
from wiremap.model.tables import LAYERS

SPARSE = (  # layers without rows, cells of many kinds under columns of the crew's own
    "point,feature,lon,lat,n,property,further\n"
    "C1,controller,-97.5,35.3,2.5,Oak,x\n"
    "C2,controller,-97.5,35.3001,text,,\n"
)


@pytest.fixture(scope="module")
def dataset(tmp_path_factory):
    """Two properties that have little in common, each in a part of its own."""
    folder = tmp_path_factory.mktemp("engines")
    make_property(folder / "root" / "full")
    (folder / "root" / "sparse").mkdir()
    (folder / "root" / "sparse" / "locates.csv").write_text(SPARSE)
    wiremap.build_properties(
        folder / "root", folder / "out", executor=Inline(), formats=["findings"], jobs=1
    )
    return folder / "out" / "portfolio"


def test_every_part_has_the_same_columns(dataset):
    """Names, types and metadata, also where a layer is empty or a column has no value."""
    for table in LAYERS:
        parts = sorted((dataset / table.name).iterdir())
        first, second = (parquet.read_schema(part) for part in parts)
        assert first.equals(second, check_metadata=True), table.name


def test_a_field_file_may_use_the_names_of_the_dataset(dataset):
    """The crew's own columns `property` and `further` stand in the JSON text."""
    locates = gpd.read_parquet(dataset / "locates")
    locates = locates[locates["property_folder"] == "sparse"].set_index("point")
    assert locates.loc["C1", "property"] == "sparse"
    assert locates.loc["C1", "further"] == '{"n":"2.5","property":"Oak","further":"x"}'


@pytest.mark.filterwarnings("ignore:The inplace keyword")  # the engine's own
def test_dask_geopandas_reads_it(dataset):
    """One partition a part; lengths as the column says, to the scale of a projection."""
    engine = importlib.import_module("dask_geopandas")
    runs = engine.read_parquet(dataset / "wire_runs")
    assert runs.npartitions == 2
    length_m = runs.to_crs(26914).length.sum().compute()
    assert length_m == pytest.approx(runs["length_m"].sum().compute(), rel=1e-3)


def test_sedona_reads_it(dataset):
    """SedonaDB finds every valve within the dig buffer of its property."""
    engine = importlib.import_module("sedonadb").connect()
    for name in ("valves", "dig_buffer"):
        engine.read_parquet(str(dataset / name)).to_view(name)
    query = """SELECT v.valve FROM valves v JOIN dig_buffer d
        ON v.property_folder = d.property_folder AND ST_Intersects(v.geometry, d.geometry)"""
    assert engine.sql(query).count() == len(gpd.read_parquet(dataset / "valves"))
