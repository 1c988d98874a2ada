"""An aerial image under the map: cut to the property, turned to the map's axes, made small.

Reads a georeferenced image; returns it as a data URI with the corners it stands between.
"""

from __future__ import annotations

import base64
import warnings
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from wiremap.errors import MissingExtraError, ReadError

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

BUDGET_BYTES = 600_000
"""Size that an embedded image is held to (project choice: it leaves the file under 3 MB)."""

LARGEST_PX = 2048
MOST_PIXELS = 2_000_000_000
"""Pixels around a property that are looked through (project choice: 450 m at a centimetre)."""
_SMALLEST_PX = 256
_MARGIN = 0.2
_QUALITIES = (80, 65, 50)
_MAP_CRS = "EPSG:3857"
_GROUND = (251, 248, 241)


@dataclass(frozen=True)
class Aerial:
    """An image that a page carries: its data URI, and west, south, east, north in degrees."""

    uri: str
    bounds: tuple[float, float, float, float]


def embed_aerial(
    path: Path, *, around: Sequence[float], crs: str | None = None, budget_bytes: int = BUDGET_BYTES
) -> Aerial | None:
    """Return an aerial image of a property, small enough to stand inside its map.

    Parameters
    ----------
    path : Path
        GeoTIFF, or an image with a world file beside it. Bands 1 to 3 are red, green and blue; a
        single band is grey.
    around : sequence of float
        West, south, east and north of the record, degrees; the image is cut a fifth beyond.
    crs : str, optional
        CRS of an image that names none, as one with a world file.
    budget_bytes : int
        Bytes that the encoded image may take.

    Returns
    -------
    Aerial or None
        None where the image does not reach the property.

    Raises
    ------
    MissingExtraError
        rasterio is not installed.
    ReadError
        The file is no image, or has no position.

    Notes
    -----
    Images are turned to the axes of EPSG:3857, which web maps draw in: placed by its corners
    alone, a UTM image would stand rotated by the grid convergence.

    Examples
    --------
    >>> from pathlib import Path
    >>> embed_aerial(Path("missing.tif"), around=(0, 0, 1, 1))  # doctest: +ELLIPSIS
    Traceback (most recent call last):
    ...
    wiremap.errors.ReadError: missing.tif: the image cannot be read, got ...
    """
    try:
        import rasterio
    except ImportError as error:
        raise MissingExtraError("rasterio", "aerial") from error
    try:
        with rasterio.open(path) as source:
            _require_place(source, crs, name=path.name)
            return _cut(source, source.crs or crs, around, budget_bytes)
    except ReadError:
        raise
    except Exception as error:  # GDAL and PROJ raise what is no error of rasterio's
        told = " ".join(str(error).split())[:120]
        raise ReadError("the image cannot be read", path=path.name, value=told) from error


def _require_place(source: Any, crs: str | None, *, name: str) -> None:
    if source.crs is None and crs is None:
        raise ReadError("the image names no CRS", path=name, remedy="use a GeoTIFF")
    if source.transform.is_identity:
        raise ReadError("the image has no position", path=name, remedy="add its world file")


def _cut(source: Any, crs: Any, around: Sequence[float], budget_bytes: int) -> Aerial | None:
    from rasterio.warp import transform_bounds

    west, south, east, north = transform_bounds("EPSG:4326", _MAP_CRS, *around)
    pad = _MARGIN * max(east - west, north - south)
    wanted = (west - pad, south - pad, east + pad, north + pad)
    there = transform_bounds(crs, _MAP_CRS, *source.bounds)
    frame = (
        max(wanted[0], there[0]), max(wanted[1], there[1]),
        min(wanted[2], there[2]), min(wanted[3], there[3]),
    )  # fmt: skip
    if frame[0] >= frame[2] or frame[1] >= frame[3]:
        return None
    share = (frame[2] - frame[0]) * (frame[3] - frame[1])
    share /= (there[2] - there[0]) * (there[3] - there[1])
    if share * source.width * source.height > MOST_PIXELS:
        raise ValueError(f"more than {MOST_PIXELS:.0e} of its pixels lie on the property")
    metres_per_px = (there[2] - there[0]) / source.width
    longest = max(frame[2] - frame[0], frame[3] - frame[1]) / metres_per_px
    largest_px = int(min(max(longest, 1), LARGEST_PX))
    encoded = _encode(source, crs, frame, largest_px, budget_bytes=budget_bytes)
    while len(encoded) > budget_bytes and largest_px > _SMALLEST_PX:
        largest_px = largest_px * 2 // 3
        encoded = _encode(source, crs, frame, largest_px, budget_bytes=budget_bytes)
    uri = "data:image/jpeg;base64," + base64.b64encode(encoded).decode()
    return Aerial(uri, transform_bounds(_MAP_CRS, "EPSG:4326", *frame))


def _encode(
    source: Any,
    crs: Any,
    frame: tuple[float, ...],
    largest_px: int,
    budget_bytes: int = BUDGET_BYTES,
) -> bytes:
    """Return the framed part as JPEG, in the best quality that meets the budget, else the least."""
    from rasterio.errors import NotGeoreferencedWarning
    from rasterio.io import MemoryFile

    pixels = _warped(source, crs, frame, largest_px)
    encoded = b""
    for quality in _QUALITIES:
        with MemoryFile() as memory, warnings.catch_warnings():
            warnings.simplefilter("ignore", NotGeoreferencedWarning)  # the map knows its place
            with memory.open(
                driver="JPEG", dtype="uint8", count=3, height=pixels.shape[1],
                width=pixels.shape[2], quality=quality,
            ) as target:  # fmt: skip
                target.write(pixels)
            encoded = bytes(memory.read())
        if len(encoded) <= budget_bytes:
            break
    return encoded


def _warped(source: Any, crs: Any, frame: tuple[float, ...], largest_px: int) -> Any:
    """Return the framed part as bands, rows and columns of red, green and blue."""
    from rasterio.enums import ColorInterp, Resampling
    from rasterio.transform import from_bounds
    from rasterio.vrt import WarpedVRT

    px_per_m = largest_px / max(frame[2] - frame[0], frame[3] - frame[1])
    width = max(1, round((frame[2] - frame[0]) * px_per_m))
    height = max(1, round((frame[3] - frame[1]) * px_per_m))
    has_alpha = ColorInterp.alpha in source.colorinterp
    colors = source.count - has_alpha
    bands = (1, 2, 3) if colors >= 3 else (1, 1, 1)  # noqa: PLR2004 - red, green and blue
    with WarpedVRT(
        source, src_crs=crs, crs=_MAP_CRS, transform=from_bounds(*frame, width, height),
        width=width, height=height, resampling=Resampling.average, add_alpha=not has_alpha,
    ) as warped:  # fmt: skip
        pixels = warped.read(bands).astype(float)
        seen = warped.dataset_mask() > 0
    pixels = _to_bytes(pixels, source.dtypes[0])
    ground = np.array(_GROUND, dtype=np.uint8)[:, None, None]
    return np.where(seen[None], pixels, ground)


def _to_bytes(pixels: Any, dtype: str) -> Any:
    """Return pixel values of any depth as bytes; those deeper than bytes are stretched."""
    if dtype == "uint8":
        return pixels.astype(np.uint8)
    low, high = np.percentile(pixels, (1, 99))
    return (np.clip((pixels - low) / max(high - low, 1e-9), 0, 1) * 255).astype(np.uint8)
