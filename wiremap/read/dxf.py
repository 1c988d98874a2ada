"""Reader of DXF drawings: points, blocks and texts as reference points."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from wiremap.errors import MissingExtraError, ReadError
from wiremap.model.kinds import Feature
from wiremap.plugins import FileOptions, Problem, RawTable, Reader

if TYPE_CHECKING:
    from pathlib import Path

_UNITS = {1: "in", 2: "ft", 4: "mm", 5: "cm", 6: "m", 21: "ftus"}
_LONGEST_REASON = 120
_QUERY = "POINT INSERT TEXT MTEXT"


def read_dxf(path: Path, options: FileOptions) -> list[RawTable]:
    """Read the points of a DXF drawing as reference points.

    Parameters
    ----------
    path : Path
        The file.
    options : FileOptions
        ``crs`` is the CRS of the drawing: DXF carries none.

    Returns
    -------
    list of RawTable
        One table of the points, block insertions and texts of model space: ``reference`` and
        ``point`` (the text, an attribute of the block, else the block's name or the entity's
        handle), ``feature`` (reference), ``kind`` (the drawing layer), ``easting``, ``northing``
        in drawing units, and ``elevation`` where any is not 0.

    Raises
    ------
    ReadError
        The file is not DXF, is damaged, or holds no point.
    MissingExtraError
        ezdxf is not installed.
    """
    drawing = _open(path)
    rows, problems = [], []
    for number, entity in enumerate(drawing.modelspace().query(_QUERY), start=1):
        x, y, z = _position(entity)
        name, layer = _plain(_name(entity)), _plain(str(entity.dxf.layer))
        if not all(abs(value) < float("inf") for value in (x, y)):
            problems.append(Problem("a coordinate is not a finite number", row=number, value=name))
            continue
        rows.append((number, name, layer, x, y, z))
    if not rows:
        raise ReadError("holds no point, block or text in model space", path=path.name)
    unit = _UNITS.get(drawing.header.get("$INSUNITS", 0), "")
    return [
        RawTable(
            frame=_tabulate(rows, unit),
            crs=options.crs,
            notes=(f"drawing units: {unit or 'not stated'}",),
            problems=tuple(problems),
        )
    ]


def _open(path: Path) -> Any:
    try:
        import ezdxf
    except ImportError as error:
        raise MissingExtraError("ezdxf", "dxf") from error
    try:
        return ezdxf.readfile(path)  # type: ignore[attr-defined]
    except Exception as error:  # a damaged drawing may break the library anywhere
        reason = " ".join(str(error).split())[:_LONGEST_REASON] or type(error).__name__
        raise ReadError(
            f"is not a DXF drawing that can be read: {reason}",
            path=path.name,
            remedy="save it again as DXF R2010 or later",
        ) from error


def _position(entity: Any) -> tuple[float, float, float]:
    point = entity.dxf.get("location" if entity.dxftype() == "POINT" else "insert")
    if point is None:
        return math.nan, math.nan, math.nan
    return float(point[0]), float(point[1]), float(point[2])


def _plain(text: str) -> str:
    """Return a text without halves of characters, which no table can hold."""
    return text.encode("utf-8", "replace").decode()


def _name(entity: Any) -> str:
    """Return what the drawing calls an entity."""
    kind = entity.dxftype()
    if kind == "TEXT":
        return str(entity.dxf.text).strip()
    if kind == "MTEXT":
        return " ".join(entity.plain_text().split())
    if kind == "INSERT":
        values = [a.dxf.text.strip() for a in entity.attribs if a.dxf.text.strip()]
        return str(values[0] if values else entity.dxf.name)
    return str(entity.dxf.handle)


def _tabulate(rows: list[tuple[int, str, str, float, float, float]], unit: str) -> Any:
    import pandas as pd

    number, name, layer, x, y, z = (list(column) for column in zip(*rows, strict=True))
    frame = pd.DataFrame(
        {
            "reference": name,
            "point": name,
            "feature": str(Feature.REFERENCE),
            "kind": layer,
            "easting": x,
            "northing": y,
        },
        index=pd.Index(number),
    )
    if any(z):
        frame[f"elevation_{unit}" if unit else "elevation"] = z
    return frame


READER = Reader("dxf", (".dxf",), read_dxf, "DXF points, blocks and texts as reference points")
