"""Symbols of the map as small PNG pictures."""

from __future__ import annotations

import struct
import zlib
from typing import TYPE_CHECKING

import numpy as np

from wiremap.draw.styles import SYMBOLS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from wiremap.draw.styles import Style

SIZE_PX = 48
_SAMPLES = 3  # points looked at across each pixel, so that edges are smooth
_REACH = 1.2  # half width of the picture, in half widths of the symbol
_OUTLINE = 0.16
_HALO = 0.1


def draw_symbol(style: Style) -> bytes:
    """Return the symbol of a style as a PNG picture with a clear ground.

    Parameters
    ----------
    style : Style
        Of points. The symbol is filled and outlined as the map draws it on light paper, and
        stands on a light halo, so that it shows on an aerial image too.

    Returns
    -------
    bytes
        A picture `SIZE_PX` wide and high.

    Examples
    --------
    >>> from wiremap.draw.styles import STYLES
    >>> draw_symbol(STYLES["splices"])[1:4]
    b'PNG'
    """
    import shapely

    corners = SYMBOLS[style.symbol]
    shape = shapely.Polygon(corners) if corners else shapely.Point(0, 0).buffer(1.0, 32)
    step = 2 * _REACH / (SIZE_PX * _SAMPLES)
    axis = -_REACH + step * (np.arange(SIZE_PX * _SAMPLES) + 0.5)
    x, y = np.meshgrid(axis, axis)
    fill = style.fill or style.ink
    parts = (
        (shape.buffer(_OUTLINE / 2 + _HALO), "#ffffff"),
        (shape.buffer(_OUTLINE / 2, join_style="mitre"), style.ink.light),
        (shape.buffer(-_OUTLINE / 2), fill.light),
    )
    picture = np.zeros((*x.shape, 4))
    for part, color in parts:
        shapely.prepare(part)
        inside = shapely.contains_xy(part, x, y)
        picture[inside] = [int(color[i : i + 2], 16) for i in (1, 3, 5)] + [255]
    return _encode_png(_shrink(picture))


def _shrink(picture: NDArray[np.float64]) -> NDArray[np.uint8]:
    """Return the picture with each block of samples made one pixel."""
    blocks = picture.reshape(SIZE_PX, _SAMPLES, SIZE_PX, _SAMPLES, 4)
    opacity = blocks[..., 3:].sum(axis=(1, 3))
    color = (blocks[..., :3] * blocks[..., 3:]).sum(axis=(1, 3)) / np.maximum(opacity, 1.0)
    return np.round(np.concatenate([color, opacity / _SAMPLES**2], axis=2)).astype(np.uint8)


def _encode_png(pixels: NDArray[np.uint8]) -> bytes:
    """Return pixels as PNG (W3C PNG, second edition, clauses 5 and 11): 8 bits, RGB and alpha."""
    height, width, _ = pixels.shape
    rows = np.concatenate([np.zeros((height, 1), np.uint8), pixels.reshape(height, -1)], axis=1)
    header = struct.pack(">IIBBBBB", width, height, 8, 6, 0, 0, 0)
    chunks = ((b"IHDR", header), (b"IDAT", zlib.compress(rows.tobytes(), 9)), (b"IEND", b""))
    return b"\x89PNG\r\n\x1a\n" + b"".join(
        struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
        for kind, data in chunks
    )
