"""Reader of DXF drawings: points, blocks and texts as reference points."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from wiremap.errors import MissingExtraError, ReadError
from wiremap.model.kinds import Feature
from wiremap.plugins import FileOptions, Problem, RawTable, Reader

if TYPE_CHECKING:
    from pathlib import Path

_UNITS = {1: "in", 2: "ft", 4: "mm", 5: "cm", 6: "m", 21: "ftus"}
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
        name = _name(entity)
        if not all(abs(value) < float("inf") for value in (x, y)):
            problems.append(Problem("a coordinate is not a finite number", row=number, value=name))
            continue
        rows.append((number, name, entity.dxf.layer, x, y, z))
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
    except (ezdxf.DXFError, OSError, UnicodeError, ValueError) as error:  # type: ignore[attr-defined]
        raise ReadError(
            f"is not a DXF drawing that can be read: {error}",
            path=path.name,
            remedy="save it again as DXF R2010 or later",
        ) from error


def _position(entity: Any) -> tuple[float, float, float]:
    point = entity.dxf.location if entity.dxftype() == "POINT" else entity.dxf.insert
    return float(point[0]), float(point[1]), float(point[2])


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
