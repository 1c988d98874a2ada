"""Attacks through the images of a base: the aerial, and the terrain."""

import os
import warnings

import numpy as np
import rasterio
from attacks import LAT, LON, attack
from pyproj import Transformer
from rasterio.transform import Affine, from_origin

EAST, NORTH = Transformer.from_crs(4326, 32614, always_xy=True).transform(LON, LAT)
WEB_SERVICE = (
    "<GDAL_WMS><Service name='TMS'><ServerUrl>{address}/${{z}}/${{x}}/${{y}}.png</ServerUrl>"
    "</Service><DataWindow><UpperLeftX>-20037508</UpperLeftX><UpperLeftY>20037508</UpperLeftY>"
    "<LowerRightX>20037508</LowerRightX><LowerRightY>-20037508</LowerRightY>"
    "<TileLevel>18</TileLevel><TileCountX>1</TileCountX><TileCountY>1</TileCountY>"
    "<YOrigin>top</YOrigin></DataWindow><Projection>EPSG:3857</Projection>"
    "<BlockSizeX>256</BlockSizeX><BlockSizeY>256</BlockSizeY><BandsCount>3</BandsCount></GDAL_WMS>"
)
VIRTUAL = (
    "<VRTDataset rasterXSize='9' rasterYSize='9'><SRS>EPSG:32614</SRS>"
    "<GeoTransform>700000,1,0,4600000,0,-1</GeoTransform><VRTRasterBand dataType='Float32' band='1'>"
    "<SimpleSource><SourceFilename>/vsicurl/{address}/x.tif</SourceFilename></SimpleSource>"
    "</VRTRasterBand></VRTDataset>"
)
COVERAGE = "<WCS_GDAL><ServiceURL>{address}/?</ServiceURL><CoverageName>x</CoverageName></WCS_GDAL>"
NOTES = (
    "<PAMDataset><Metadata domain='OVERVIEWS'><MDI key='OVERVIEW_FILE'>/vsicurl/{address}/o.tif"
    "</MDI></Metadata></PAMDataset>"
)
NOWHERE = "http://192.0.2.1"


def place(folder, name, content):
    """Write a file of the base."""
    path = folder / "base" / name
    path.parent.mkdir(exist_ok=True)
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    return path


def image(folder, name="dem.tif", *, size=64, cell=1.0, bands=1, dtype="float32", fill=300.0,
          crs="EPSG:32614", transform=None, **more):  # fmt: skip
    """Write an image around the sound property; one without a fill is all holes."""
    corner = EAST - size * cell / 2, NORTH + size * cell / 2
    path = place(folder, name, b"")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        with rasterio.open(
            path, "w", driver="GTiff", width=size, height=size, count=bands, dtype=dtype, crs=crs,
            transform=transform or from_origin(*corner, cell, cell), **more,
        ) as target:  # fmt: skip
            if fill is not None:
                target.write(np.full((bands, size, size), fill, dtype))
    return path


@attack("Image: a terrain that is the description of a web service", "is not a georeferenced image")
def image_service(folder, scale):
    place(folder, "dem.tif", WEB_SERVICE.format(address=NOWHERE))


@attack("Image: an aerial that is a virtual one of an address", "is not a georeferenced image")
def image_virtual(folder, scale):
    place(folder, "air.png", VIRTUAL.format(address=NOWHERE))


@attack("Image: smaller copies beside it that are a web service", "is not a TIFF image")
def image_copies(folder, scale):
    image(folder)
    place(folder, "dem.tif.ovr", WEB_SERVICE.format(address=NOWHERE))


@attack("Image: notes beside it that lead to an address", "leads elsewhere")
def image_notes(folder, scale):
    image(folder)
    place(folder, "dem.tif.aux.xml", NOTES.format(address=NOWHERE))


@attack("Image: its notes are a pipe that nobody writes to", "leads elsewhere")
def image_pipe(folder, scale):
    image(folder)
    os.mkfifo(folder / "base" / "dem.tif.aux.xml")


@attack("Image: a terrain cut in the middle", "dem.tif")
def image_cut(folder, scale):
    path = image(folder, size=512)
    path.write_bytes(path.read_bytes()[:400_000])


@attack("Image: a terrain of 40 thousand million empty cells on the property", "dem.tif")
def image_sparse(folder, scale):
    image(folder, size=200_000, cell=0.0005, fill=None, tiled=True, SPARSE_OK=True,
          compress="deflate")  # fmt: skip


@attack("Image: heights of NaN, infinity and 3e38", "wrote")
def image_heights(folder, scale):
    path = image(folder)
    with rasterio.open(path, "r+") as target:
        cells = target.read(1)
        cells[::2], cells[1::4], cells[::5] = np.nan, np.inf, 3e38
        target.write(cells, 1)


@attack("Image: a pixel of no size, one of NaN and one of 1e300", "dem.tif|wrote")
def image_transforms(folder, scale):
    image(folder, transform=Affine(0, 0, EAST, 0, 0, NORTH))
    image(folder, "terrain.tif", transform=Affine(float("nan"), 0, 0, 0, -1, 0))
    image(folder, "topo.tif", transform=Affine(1e300, 0, -1e308, 0, -1e300, 1e308))


@attack("Image: a terrain in a CRS of no place", "dem.tif")
def image_local(folder, scale):
    image(folder, crs='LOCAL_CS["site",UNIT["metre",1]]')


@attack("Image: a grid of text of two thousand million columns", "dem.asc")
def image_text(folder, scale):
    place(folder, "dem.asc", "ncols 2000000000\nnrows 2000000000\nxllcorner 0\nyllcorner 0\n"
                             "cellsize 1\n1 2 3\n")  # fmt: skip


@attack("Image: one that is all head, and its position of NaN", "air.jpg")
def image_head(folder, scale):
    place(folder, "air.jpg", b"\xff\xd8\xff" + b"x" * 100)
    place(folder, "air.jgw", "nan\n0\n0\n-1\n1e308\ninf\n")
