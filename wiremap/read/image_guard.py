"""Refuse images that are not what their name says: GDAL would follow them anywhere."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiremap.errors import ReadError
from wiremap.read.layers import require_start, translated

if TYPE_CHECKING:
    from pathlib import Path

_TIFF = (b"II*\x00", b"MM\x00*", b"II+\x00", b"MM\x00+")
_GRID = tuple(
    word
    for name in (b"ncols", b"nrows", b"xll", b"yll", b"dx", b"dy", b"cellsize")
    for word in (name, name.upper())
)
_STARTS = (
    *_TIFF,
    b"\x89PNG\r\n",
    b"\xff\xd8\xff",
    b"\x00\x00\x00\x0cjP  ",
    b"\xff\x4f\xff\x51",  # JPEG 2000 without a box around it
    *_GRID,
)
_PARTS = (".ovr", ".msk")  # smaller copies and masks, which GDAL opens with the image
_NOTES = ".aux.xml"
_LARGEST_NOTES = 10_000_000
_LEADS_OUT = b"overview_file"


def guard_image(path: Path) -> None:
    """Refuse an image that is no image, or whose parts are kept elsewhere.

    Parameters
    ----------
    path : Path
        GeoTIFF, PNG, JPEG, JPEG 2000 or ASCII grid, whatever its ending.

    Raises
    ------
    ReadError
        The file starts otherwise, such as the description of a web service; or a file beside it,
        which is opened with it, is none of its own kind or names another.
    """
    require_start(path, _STARTS, "georeferenced image")
    own = f"{path.name.lower()}."
    for part in sorted(p for p in path.parent.iterdir() if p.name.lower().startswith(own)):
        if part.name.lower().endswith((*_PARTS, _NOTES)) and not part.is_file():
            raise _leads_out(part)
        if part.suffix.lower() in _PARTS:
            require_start(part, _TIFF, "TIFF image")
        elif part.name.lower().endswith(_NOTES):
            _refuse_notes(part)


def _refuse_notes(part: Path) -> None:
    """Refuse an image's notes that are a flood, or name a file for GDAL to open."""
    with translated(part):
        is_large = part.stat().st_size > _LARGEST_NOTES
        if is_large or _LEADS_OUT in part.read_bytes().lower():
            raise _leads_out(part)


def _leads_out(part: Path) -> ReadError:
    return ReadError(
        f"comes with a file that leads elsewhere, {part.name}",
        path=part.name,
        remedy="remove that file, or export the image again",
    )
