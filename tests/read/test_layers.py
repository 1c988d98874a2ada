"""What GDAL says, in wiremap's own words."""

from __future__ import annotations

import warnings

import geopandas as gpd
import pytest
import shapely

from wiremap.errors import ReadError
from wiremap.read.layers import list_layers, read_layer, require_start, translated


def save(folder):
    """Save a package of one layer."""
    path = folder / "a.gpkg"
    frame = gpd.GeoDataFrame({"n": [1, 2]}, geometry=shapely.points([[1, 2], [3, 4]]), crs=4326)
    frame.to_file(path, layer="valves")
    return path


def test_a_layer_is_read_with_its_attributes_positions_and_crs(tmp_path):
    """Rows are counted from 1, as a person counts features."""
    path = save(tmp_path)
    assert list_layers(path) == [("valves", "Point")]
    layer = read_layer(path, "valves")
    assert layer.frame["n"].to_dict() == {1: 1, 2: 2}
    assert shapely.to_wkt(layer.geometries).tolist() == ["POINT (1 2)", "POINT (3 4)"]
    assert layer.crs == "EPSG:4326"


def test_a_layer_that_is_not_there_is_one_clear_error(tmp_path):
    """The folder of the machine is not shown."""
    with pytest.raises(ReadError, match=r"^a\.gpkg: cannot be read: Layer 'x' could not be opened"):
        read_layer(save(tmp_path), "x")


@pytest.mark.parametrize("error", [OSError, RuntimeError, shapely.errors.GEOSException])
def test_errors_of_libraries_become_read_errors_with_their_cause(tmp_path, error):
    """One line that names the file, without folders."""
    path = tmp_path / "a.gpkg"
    line = r"^a\.gpkg: cannot be read: a\.gpkg is broken; "
    with pytest.raises(ReadError, match=line) as caught, translated(path):
        raise error(f"{path} is broken.")
    assert isinstance(caught.value.__cause__, error)


def test_a_mistake_of_wiremap_is_not_hidden(tmp_path):
    """Only errors of the file are translated."""
    with pytest.raises(KeyError, match="n"), translated(tmp_path):
        raise KeyError("n")


def test_warnings_are_gathered_each_once(tmp_path):
    """GDAL warns for each feature; a person reads it once."""
    path = tmp_path / "a.gpkg"
    with translated(path) as told:
        for number in (1, 1, 2, 3, 4, 5, 6):
            warnings.warn(f"{path}: {number}", RuntimeWarning, stacklevel=1)
    assert told == [f"a.gpkg: {number}" for number in (1, 2, 3, 4, 5)]


@pytest.mark.parametrize("start", [b"{", b"\xef\xbb\xbf{", b" \r\n\t{"])
def test_a_start_is_found_behind_a_mark_and_white_space(tmp_path, start):
    """Nothing is returned where the file may be read on."""
    path = tmp_path / "a.json"
    path.write_bytes(start + b"}")
    assert require_start(path, (b"{",), "JSON") is None
