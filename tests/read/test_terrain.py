"""Terrain images: the ground's elevation near the located points."""

from __future__ import annotations

import sys

import geopandas as gpd
import numpy as np
import pytest
import rasterio
from rasterio.transform import from_origin

import wiremap
from wiremap.errors import ReadError
from wiremap.read.terrain import REACH_M, read_terrain

# the image library multiplies transforms in a way that its own dependency means to end
pytestmark = pytest.mark.filterwarnings("ignore:Use `@` matmul:PendingDeprecationWarning")

CRS = "EPSG:26914"
EAST, NORTH = 620_000.0, 3_350_000.0
AROUND = gpd.GeoDataFrame(geometry=gpd.points_from_xy([EAST, EAST + 30], [NORTH, NORTH]), crs=CRS)


def hill(x, y):
    return 150 + 0.2 * (x - EAST) - 0.05 * (y - NORTH)


@pytest.fixture
def folder(tmp_path):
    def write(files):
        for name, content in files.items():
            path = tmp_path / "site" / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(content.encode() if isinstance(content, str) else content)
        return tmp_path / "site"

    return write


def write_terrain(path, *, cell=1.0, size=200, crs=CRS, unit="", per_metre=1.0, dtype="float32"):
    """Write the hill as an image of cells, its top left corner up to the north west."""
    left, top = EAST - size * cell / 2, NORTH + size * cell / 2
    x = left + (np.arange(size) + 0.5) * cell
    y = top - (np.arange(size) + 0.5) * cell
    heights = (hill(x[None, :], y[:, None]) * per_metre).astype(dtype)
    heights[0, 0] = -9999
    with rasterio.open(path, "w", driver="GTiff", width=size, height=size, count=1, dtype=dtype,
                       crs=crs, transform=from_origin(left, top, cell, cell),
                       nodata=-9999) as image:  # fmt: skip
        image.write(heights, 1)
        if unit:
            image.units = (unit,)
    return path


@pytest.mark.parametrize("cell", [0.25, 1.0, 3.0])
def test_cells_near_the_points_come_with_their_height(tmp_path, cell):
    """Heights are the hill's, cells are no farther than the reach and none is below a metre."""
    cells = read_terrain(write_terrain(tmp_path / "dem.tif", cell=cell, size=600), around=AROUND)
    x, y = cells.get_coordinates().to_numpy().T
    assert cells["elevation"].to_numpy() == pytest.approx(hill(x, y), abs=0.02)
    apart = np.hypot(x[:, None] - [EAST, EAST + 30], y[:, None] - NORTH).min(axis=1)
    assert apart.max() <= REACH_M
    assert len(cells) == pytest.approx(2 * np.pi * REACH_M**2 / max(cell, 1) ** 2, rel=0.15)


def test_the_unit_that_an_image_states_is_in_the_column(tmp_path):
    """Survey feet are told from feet."""
    path = write_terrain(tmp_path / "dem.tif", unit="US survey foot", per_metre=3937 / 1200)
    assert list(read_terrain(path, around=AROUND).columns) == ["elevation_ftus", "geometry"]


def test_an_image_that_does_not_reach_the_points_gives_no_cell(tmp_path):
    """A tile of the neighbouring town."""
    path = write_terrain(tmp_path / "dem.tif")
    far = gpd.GeoDataFrame(geometry=gpd.points_from_xy([EAST + 5000], [NORTH]), crs=CRS)
    assert read_terrain(path, around=far).empty


@pytest.mark.parametrize("case", ["no image", "no CRS"])
def test_an_image_that_cannot_be_used_says_why(tmp_path, case):
    """The rule names the file and what is wrong."""
    path = tmp_path / "dem.tif"
    if case == "no image":
        path.write_bytes(b"II*\0nothing")
    else:
        write_terrain(path, crs=None)
    with pytest.raises(ReadError, match=r"dem\.tif: cannot be read as terrain"):
        read_terrain(path, around=AROUND)


LOCATES = "point,feature,run,easting,northing,offset_left,depth\n" + "".join(
    f"P{i},path,A,{EAST - 20},{NORTH - 20 + 4 * i},0.30,\n" for i in range(10)
)
SETTINGS = f'[coordinates]\ninput_crs = "{CRS}"\ncrs = "{CRS}"\n'


def test_one_sided_depths_take_the_cross_slope_from_the_terrain(folder, tmp_path):
    """Walking north over ground that rises 0.2 to the east: to the left it falls.

    u = D / (cos s / tan t - sin s), s rising to the side of the offset: D = 0.30 (cos s + sin s)
    with tan s = 0.2 is 0.353 m; taken as flat it would be 0.30 m.
    """
    path = folder({"locates.csv": LOCATES, "property.toml": SETTINGS})
    flat = wiremap.build_asbuilt(wiremap.read_property(path)).layers["depth_readings"]
    (path / "base").mkdir()
    write_terrain(path / "base" / "dem.tif")
    source = wiremap.read_property(path)
    assert source.terrain == path / "base" / "dem.tif"
    assert source.aerial is None
    assert "base/dem.tif" in [file.path for file in source.inputs]
    built = wiremap.build_asbuilt(source)
    told = built.layers["depth_readings"]
    slope = np.arctan(0.2)
    assert told["depth_m"].to_numpy() == pytest.approx(
        0.3 * (np.cos(slope) + np.sin(slope)), abs=0.004
    )
    assert (told["depth_sigma_m"] < 0.75 * flat["depth_sigma_m"]).all()
    assert set(told["slope_source"]) == {"ground"}
    notes = built.layers["provenance"].set_index("item")["value"]
    assert "heights of terrain cells" in notes["ground"]
    assert built.layers["wire_runs"].geometry.has_z.all()
    z = built.layers["wire_runs"].geometry.iloc[0].coords[0][2]
    assert z == pytest.approx(hill(EAST - 20, NORTH - 20) - 0.353, abs=0.02)


def test_an_amended_record_keeps_the_ground_that_its_depths_rest_on(folder, tmp_path):
    """The package carries the cells: the image need not be there any more."""
    path = folder({"locates.csv": LOCATES, "property.toml": SETTINGS})
    (path / "base").mkdir()
    write_terrain(path / "base" / "dem.tif")
    built = wiremap.build_asbuilt(wiremap.read_property(path))
    first = built.write(tmp_path / "out")
    package = next(p for p in first if p.suffix == ".gpkg")
    (path / "base" / "dem.tif").unlink()
    visit = tmp_path / "later.csv"
    visit.write_text(
        f"point,feature,easting,northing,date\nQ1,splice,{EAST - 20},{NORTH},2026-05-01\n"
    )
    amended = wiremap.amend_asbuilt(package, visit)
    before, after = (b.layers["depth_readings"] for b in (built, amended))
    assert after["depth_m"].to_numpy() == pytest.approx(before["depth_m"].to_numpy())


def test_a_terrain_that_cannot_be_read_is_a_finding_and_the_rest_is_built(folder):
    """Damaged images never stop a build."""
    path = folder({"locates.csv": LOCATES, "property.toml": SETTINGS, "base/dem.tif": b"II*\0no"})
    built = wiremap.build_asbuilt(wiremap.read_property(path))
    told = [row for row in built.findings.itertuples() if row.source_file == "base/dem.tif"]
    assert len(told) == 1
    assert "not read as the ground's height" in told[0].message


def test_a_terrain_that_needs_a_package_is_left_out_and_the_rest_is_built(folder, monkeypatch):
    """Without rasterio the image is a finding that names the extra; the wires stand on the map."""
    path = folder({"locates.csv": LOCATES, "property.toml": SETTINGS})
    (path / "base").mkdir()
    write_terrain(path / "base" / "dem.tif")
    source = wiremap.read_property(path)
    monkeypatch.setitem(sys.modules, "rasterio", None)
    built = wiremap.build_asbuilt(source)
    (told,) = built.findings[built.findings["code"] == "unread-file"].to_dict("records")
    assert told["source_file"] == "base/dem.tif"
    assert "wiremap[aerial]" in told["message"]
    assert len(built.layers["wire_runs"])
