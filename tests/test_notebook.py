"""The ``.wiremap`` accessor: there on tables of locates, absent elsewhere, one step or all."""

from __future__ import annotations

import subprocess
import sys

import folium
import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from matplotlib import pyplot as plt
from property_farm import make_property

import wiremap

plt.switch_backend("Agg")

STEPS = {
    "trace": wiremap.trace_runs,
    "depths": wiremap.reduce_depths,
    "profiles": wiremap.profile_runs,
    "devices": wiremap.find_devices,
    "network": wiremap.join_runs,
    "faults": wiremap.find_faults,
}


@pytest.fixture(scope="module")
def source(tmp_path_factory):
    """One small property, as read."""
    return wiremap.read_property(make_property(tmp_path_factory.mktemp("p"), zones=2))


@pytest.fixture(scope="module")
def asbuilt(source):
    """The same, built."""
    return wiremap.build_asbuilt(source)


@pytest.mark.parametrize(
    "frame",
    [pd.DataFrame({"a": [1]}), pd.DataFrame({"point": ["A"]}), gpd.GeoDataFrame(geometry=[])],
    ids=["other", "no feature", "empty"],
)
def test_other_frames_have_no_accessor(frame):
    """AttributeError, so that hasattr says no."""
    assert not hasattr(frame, "wiremap")
    with pytest.raises(AttributeError, match="a table of locates has"):
        frame.wiremap  # noqa: B018


def test_the_first_public_name_registers_it_and_the_import_alone_does_not():
    """``import wiremap`` stays light; any public name makes the accessor known."""
    code = (
        "import sys, wiremap; assert 'pandas' not in sys.modules\n"
        "wiremap.read_property; import pandas\n"
        "assert hasattr(pandas.DataFrame({'point': [], 'feature': []}), 'wiremap')"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, check=False)
    assert done.returncode == 0, done.stderr.decode()


def test_check_and_place_are_the_public_steps(source):
    """The same rows and positions as the functions give."""
    options = {"settings": source.settings}
    checked = wiremap.check_locates(source.locates, **options)
    pd.testing.assert_frame_equal(source.locates.wiremap.check(**options).locates, checked.locates)
    placed = wiremap.place_locates(checked.locates, source.references, **options)
    ours = source.locates.wiremap.place(references=source.references, **options)
    assert ours.locates.geometry.geom_equals_exact(placed.locates.geometry, 0).all()
    assert ours.frame.crs == placed.frame.crs


@pytest.mark.parametrize("step", STEPS)
def test_each_step_alone_gives_what_its_function_gives(source, step):
    """A step runs those before it, and returns the function's own result."""
    result = getattr(source.locates.wiremap, step)(settings=source.settings)
    expected = STEPS[step].__annotations__["return"]
    assert type(result).__name__ == str(expected)
    assert len(result[0]) > 0 or step == "faults"


def test_depths_alone_are_the_depths_of_the_build(source, asbuilt):
    """No visits, so nothing settles in between: the readings agree."""
    alone = source.locates.wiremap.depths(settings=source.settings).readings
    layer = asbuilt.layers["depth_readings"]
    assert np.allclose(alone["depth_m"], layer["depth_m"])
    assert np.allclose(alone["depth_sigma_m"], layer["depth_sigma_m"])


def assert_same_runs(one, other, *, within_m=0.001):
    """Hold the runs and depths of two as-builts against each other."""
    a, b = (x.layers["wire_runs"].set_index("run").sort_index() for x in (one, other))
    assert list(a.index) == list(b.index)
    assert a.geometry.hausdorff_distance(b.geometry.to_crs(a.crs)).max() < within_m
    assert np.allclose(a["depth_mean_m"], b["depth_mean_m"])


def test_a_frame_read_with_pandas_builds_like_the_folder(source, asbuilt):
    """The field file's own columns are understood as the readers understand them."""
    folder = source.folder
    built = pd.read_csv(folder / "locates.csv").wiremap.build(
        zones=pd.read_csv(folder / "zones.csv"), settings=source.settings
    )
    assert_same_runs(built, asbuilt)
    assert built.layers["zones"]["status"].tolist() == asbuilt.layers["zones"]["status"].tolist()


@pytest.mark.parametrize("crs", ["EPSG:4269", "EPSG:26914"])
def test_the_geometry_of_a_geodataframe_is_the_position(source, asbuilt, crs):
    """Whatever CRS the frame has, points land where they were."""
    rows = pd.read_csv(source.folder / "locates.csv")
    points = gpd.points_from_xy(rows["lon"], rows["lat"], crs="EPSG:4269")
    frame = gpd.GeoDataFrame(rows.drop(columns=["lon", "lat"]), geometry=points).to_crs(crs)
    before = frame.copy()
    assert_same_runs(frame.wiremap.build(settings=source.settings), asbuilt)
    pd.testing.assert_frame_equal(frame, before)


def test_the_locates_layer_builds_again(source, asbuilt):
    """The layer of an as-built, filtered or not, is a table of locates."""
    layer = asbuilt.layers["locates"]
    again = layer.wiremap.build(settings=source.settings)
    assert_same_runs(again, asbuilt)
    assert "unmapped-column" not in set(again.findings["code"])
    one = layer[layer["run"] == "W1"].wiremap.trace(settings=source.settings)
    assert one.lines["run"].tolist() == ["W1"]


def test_a_bad_row_is_a_finding_with_its_place(source):
    """Rows are counted from 0, as iloc does."""
    rows = pd.read_csv(source.folder / "locates.csv", dtype=str)
    rows.loc[3, "offset_left"] = "about a foot"
    findings = rows.wiremap.property(settings=source.settings).findings
    assert [f.source_row for f in findings if f.code == "bad-value"] == [3]


def test_explore_and_plot_mirror_the_asbuilt(source):
    """explore gives a folium map, on a given one too; the plots give their axes."""
    access, options = source.locates.wiremap, {"settings": source.settings}
    assert isinstance(access.explore(**options), folium.Map)
    given = folium.Map(tiles=None)
    assert access.explore(given, layers=["wire_runs"], **options) is given
    _, ax = plt.subplots()
    assert access.plot(ax, **options) is ax
    assert access.plot_profile("W1", **options).has_data()
    assert access.plot_tone("W1", **options).has_data()
    plt.close("all")
