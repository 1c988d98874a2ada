"""The aerial image under the map."""

from __future__ import annotations

import base64
import json
import re
import sys

import numpy as np
import pytest
import rasterio
from pyproj import Transformer
from rasterio.io import MemoryFile
from rasterio.transform import from_origin
from synthetic_layers import CRS, ORIGIN, make_layers

from wiremap.draw.aerial import embed_aerial
from wiremap.draw.record import lonlat_bounds
from wiremap.draw.webmap import draw_map
from wiremap.errors import MissingExtraError, ReadError

# rasterio 1.4 multiplies transforms in a way that its own package affine has put on notice
pytestmark = [
    pytest.mark.filterwarnings("ignore:Use `@` matmul:PendingDeprecationWarning"),
    pytest.mark.filterwarnings("ignore::rasterio.errors.NotGeoreferencedWarning"),
]

MARK = ORIGIN + np.array([20.0, 5.0])
GREY = (90, 120, 80)


@pytest.fixture(scope="module")
def garden():
    return make_layers(6)


def picture(path, *, crs=CRS, size=600, bands=3, dtype="uint8", transform=None):
    """A 120 m square image, 0.2 m a pixel, plain but for a 2 m white square on MARK."""
    corner = ORIGIN + np.array([-30.0, 60.0])
    pixels = np.stack([np.full((size, size), GREY[b % 3]) for b in range(bands)]).astype(dtype)
    column, row = ((MARK - corner) * [1, -1] / 0.2).astype(int)
    pixels[:, row - 5 : row + 5, column - 5 : column + 5] = 255
    with rasterio.open(
        path, "w", driver="GTiff", width=size, height=size, count=bands, dtype=dtype, crs=crs,
        transform=transform or from_origin(*corner, 0.2, 0.2),
    ) as target:  # fmt: skip
        target.write(pixels)
    return path


def pixels_of(aerial):
    data = base64.b64decode(aerial.uri.removeprefix("data:image/jpeg;base64,"))
    with MemoryFile(data) as memory, memory.open() as source:
        return source.read()


@pytest.mark.parametrize("bands", [1, 3, 4])
def test_a_mark_on_the_ground_is_where_the_map_puts_it(tmp_path, garden, bands):
    """A white square at known coordinates lands within 0.3 m of them in the embedded image.

    Held against pyproj: UTM 14 to EPSG:3857, in which the page stretches the image.
    """
    path = picture(tmp_path / "a.tif", bands=bands)
    aerial = embed_aerial(path, around=lonlat_bounds(garden.layers))
    pixels = pixels_of(aerial)
    rows, columns = np.nonzero(pixels.min(axis=0) > 180)
    west, south, east, north = aerial.bounds
    to_map = Transformer.from_crs(4326, 3857, always_xy=True).transform
    (x0, y0), (x1, y1) = to_map(west, south), to_map(east, north)
    x = x0 + (columns.mean() + 0.5) / pixels.shape[2] * (x1 - x0)
    y = y1 - (rows.mean() + 0.5) / pixels.shape[1] * (y1 - y0)
    found = Transformer.from_crs(3857, CRS, always_xy=True).transform(x, y)

    assert np.hypot(*(np.array(found) - MARK)) < 0.3


def test_the_image_keeps_its_budget(tmp_path, garden):
    """A noisy picture is made smaller until it fits."""
    path = picture(tmp_path / "a.tif")
    with rasterio.open(path, "r+") as source:
        source.write(np.random.default_rng(1).integers(0, 255, (3, 600, 600)).astype("uint8"))
    around = lonlat_bounds(garden.layers)
    small = embed_aerial(path, around=around, budget_bytes=20_000)

    assert len(base64.b64decode(small.uri.split(",")[1])) <= 20_000
    assert len(small.uri) < len(embed_aerial(path, around=around).uri)


def test_deeper_pixels_are_stretched(tmp_path, garden):
    """A sixteen-bit image is shown, not black."""
    path = picture(tmp_path / "a.tif", dtype="uint16")
    with rasterio.open(path, "r+") as source:
        source.write(np.tile(np.linspace(0, 9000, 600), (3, 600, 1)).astype("uint16"))

    assert np.ptp(pixels_of(embed_aerial(path, around=lonlat_bounds(garden.layers)))) > 100


def test_an_image_of_elsewhere_is_left_out(tmp_path, garden):
    """It would only fill the page."""
    path = picture(tmp_path / "a.tif", transform=from_origin(100_000, 4_000_000, 0.2, 0.2))

    assert embed_aerial(path, around=lonlat_bounds(garden.layers)) is None


def test_an_image_without_a_place_is_refused(tmp_path, garden):
    """No CRS, no world file, or no image at all: the error says which."""
    around = lonlat_bounds(garden.layers)
    (tmp_path / "b.tif").write_bytes(b"no image")
    with pytest.raises(ReadError, match="cannot be read"):
        embed_aerial(tmp_path / "b.tif", around=around)
    with pytest.raises(ReadError, match="names no CRS"):
        embed_aerial(picture(tmp_path / "c.tif", crs=None), around=around)
    flat = picture(tmp_path / "d.tif", crs=None, transform=rasterio.Affine.identity())
    with pytest.raises(ReadError, match="has no position"):
        embed_aerial(flat, around=around, crs=CRS)


def test_without_rasterio_the_install_line_is_named(monkeypatch, tmp_path):
    """The error says which extra to install."""
    monkeypatch.setitem(sys.modules, "rasterio", None)
    with pytest.raises(MissingExtraError, match=r"pip install 'wiremap\[aerial\]'"):
        embed_aerial(tmp_path / "a.tif", around=(0, 0, 1, 1))


def test_the_page_carries_the_image(tmp_path, garden):
    """As a data block; an image of elsewhere leaves it empty."""
    path = picture(tmp_path / "a.tif")
    text = draw_map(garden.layers, **garden.arguments(), aerial=path).page()
    block = json.loads(re.search(r'id="wiremap-data-aerial">(.*?)</script>', text)[1])

    assert block["uri"].startswith("data:image/jpeg;base64,")
    assert len(block["bounds"]) == 4
