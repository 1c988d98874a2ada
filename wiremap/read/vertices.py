"""Features as rows with positions.

A point gives one row; a line gives one row for each of its vertices, in order, as the path of one
run. Heights become a column, M values are dropped.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from wiremap.model.kinds import Feature
from wiremap.model.units import METRES_PER_UNIT
from wiremap.plugins import Problem, RawTable

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray
    from pyproj import CRS
    from shapely.geometry.base import BaseGeometry

    from wiremap.read.layers import Layer

_LINE_TYPES = (1, 2, 5)  # shapely: LineString, LinearRing, MultiLineString
_AREA_TYPES = (3, 6)  # Polygon, MultiPolygon
_COLLECTION_TYPE = 7
_OTHER_POSITIONS = ("tie_a", "baseline_a", "grid_x", "grid_x_m", "easting", "lon")
_UNIT_TOLERANCE = 1e-9  # foot and US survey foot differ by 2e-6


def tabulate_layer(layer: Layer, *, crs: str | None = None) -> RawTable:
    """Return a layer as a table of positions.

    Parameters
    ----------
    layer : Layer
        As read.
    crs : str, optional
        CRS that stands in place of the layer's own.

    Returns
    -------
    RawTable
        ``lon`` and ``lat`` where the CRS is geographic, else ``easting`` and ``northing`` in its
        own units; an elevation where Z is given. Features without a geometry are problems unless
        they carry another kind of position, as are positions that are not finite.
    """
    problems: list[Problem] = []
    notes: list[str] = list(layer.notes)
    vertices = _explode(layer, problems, notes)
    known = crs or layer.crs
    is_good = np.isfinite(vertices.xyz[:, :2]).all(axis=1)
    is_null_island = _is_geographic(known, vertices.xyz) & (vertices.xyz[:, :2] == 0).all(axis=1)
    for bad, rule in (
        (~is_good, "a coordinate is not a finite number"),
        (is_null_island, "longitude and latitude are both 0, as where a position is missing"),
    ):
        problems += _name_bad(vertices, bad & vertices.is_placed, rule)
    kept = (is_good & ~is_null_island) | ~vertices.is_placed
    feature, xyz, is_line = vertices.feature[kept], vertices.xyz[kept], vertices.is_line[kept]
    frame = layer.frame.take(feature)
    positions, note = _name_positions(xyz, known)
    notes += [note] if note else []
    taken = [c for c in frame.columns if c.strip().lower() in positions]
    frame = frame.rename(columns={name: f"{name} (attribute)" for name in taken})
    frame = frame.assign(**positions)
    frame = _fill_feature(frame, is_line, layer.name)
    if is_line.any():
        frame = _name_vertices(frame, feature, is_line, layer.name)
    return RawTable(
        frame=frame,
        crs=known,
        part="".join(c for c in layer.name if c.isprintable()),
        notes=tuple(notes),
        problems=tuple(problems),
    )


class _Vertices(NamedTuple):
    """One row a position: number of its feature, coordinates, whether of a line, whether placed."""

    feature: NDArray[np.intp]
    xyz: NDArray[np.float64]
    is_line: NDArray[np.bool_]
    is_placed: NDArray[np.bool_]


def _explode(layer: Layer, problems: list[Problem], notes: list[str]) -> _Vertices:
    """Return the positions of all features, in order."""
    import shapely

    count = len(layer.frame)
    geometries = layer.geometries
    if geometries is None:
        geometries = np.full(count, None, dtype=object)
    types = shapely.get_type_id(geometries)
    is_area = np.isin(types, _AREA_TYPES)
    if is_area.any():
        notes.append(f"{int(is_area.sum())} areas were read as their centroids")
        geometries = np.where(is_area, shapely.centroid(geometries), geometries)
    is_mixed = types == _COLLECTION_TYPE
    if is_mixed.any():
        geometries = geometries.copy()
        geometries[is_mixed] = [_main_part(g) for g in geometries[is_mixed]]
        count = int(is_mixed.sum())
        notes.append(f"of {count} collections of geometries the lines, else the points, were read")
        types = shapely.get_type_id(geometries)
        is_mixed = types == _COLLECTION_TYPE
    is_bare = shapely.is_missing(geometries) | shapely.is_empty(geometries) | is_mixed
    placed_otherwise = _has_other_position(layer.frame)
    for i in np.flatnonzero(is_bare & ~placed_otherwise):
        rule = "a collection of geometries has no one position" if is_mixed[i] else "no geometry"
        problems.append(Problem(rule, row=int(i) + 1, remedy="give the feature a position"))
    geometries = geometries.copy()
    geometries[is_bare] = None
    xyz, feature = shapely.get_coordinates(geometries, include_z=True, return_index=True)
    bare = np.flatnonzero(is_bare & placed_otherwise)
    feature = np.concatenate([feature, bare])
    order = np.argsort(feature, kind="stable")
    xyz = np.vstack([xyz, np.full((len(bare), 3), np.nan)])[order]
    is_placed = (np.arange(len(feature)) < len(feature) - len(bare))[order]
    feature = feature[order]
    return _Vertices(feature, xyz, np.isin(types, _LINE_TYPES)[feature], is_placed)


def _main_part(collection: BaseGeometry) -> BaseGeometry:
    """Return the lines of a collection, else its points; itself where it has neither."""
    import shapely

    parts = shapely.get_parts(shapely.get_parts(collection))
    kinds = shapely.get_type_id(parts)
    lines, points = parts[np.isin(kinds, _LINE_TYPES)], parts[kinds == 0]
    if len(lines):
        return shapely.multilinestrings(lines)
    return shapely.multipoints(points) if len(points) else collection


def _name_bad(vertices: _Vertices, bad: NDArray[np.bool_], rule: str) -> list[Problem]:
    """Return a problem for each position that breaks a rule."""
    return [
        Problem(
            rule,
            row=int(vertices.feature[i]) + 1,
            value=f"{vertices.xyz[i, 0]}, {vertices.xyz[i, 1]}",
            remedy="give the feature a position",
        )
        for i in np.flatnonzero(bad)
    ]


def _has_other_position(frame: pd.DataFrame) -> NDArray[np.bool_]:
    """Tell which rows carry a position in their attributes: a tie, a baseline, a grid."""
    given = np.zeros(len(frame), dtype=bool)
    for name in frame.columns:
        if name.strip().lower() in _OTHER_POSITIONS:
            given |= frame[name].notna().to_numpy()
    return given


def _name_positions(
    xyz: NDArray[np.float64], crs: str | None
) -> tuple[dict[str, NDArray[np.float64]], str]:
    """Return the position columns under names that say what they are."""
    x, y, z = xyz.T
    known = _parse_crs(crs)
    is_geographic = _is_geographic(crs, xyz)
    note = ""
    if known is None:
        note = "the file names no CRS; positions were taken as " + (
            "longitude and latitude" if is_geographic else "easting and northing"
        )
    names = ("lon", "lat") if is_geographic else ("easting", "northing")
    columns = dict(zip(names, (x, y), strict=True))
    if bool((np.isfinite(z) & (z != 0)).any()):
        unit = _vertical_unit(known)
        columns[f"elevation_{unit}" if unit else "elevation"] = z
    return columns, note


def _is_geographic(crs: str | None, xyz: NDArray[np.float64]) -> bool:
    """Tell whether positions are degrees: by their CRS, else by their size."""
    known = _parse_crs(crs)
    if known is not None:
        return bool(known.is_geographic)
    x, y = np.abs(xyz[:, :2]).T
    return bool((np.isnan(x) | ((x <= 180) & (y <= 90))).all())  # noqa: PLR2004 - degrees


def _parse_crs(crs: str | None) -> CRS | None:
    from pyproj import CRS
    from pyproj.exceptions import CRSError

    if not crs:
        return None
    try:
        return CRS.from_user_input(crs)
    except CRSError:
        return None


def _vertical_unit(crs: CRS | None) -> str:
    """Return the unit of heights: the vertical axis's, else the plane's; metres with degrees."""
    if crs is None:
        return ""
    axes = crs.axis_info
    axis = axes[-1]
    if crs.is_geographic and len(axes) == 2:  # noqa: PLR2004 - no vertical axis
        return "m"
    for unit, metres in METRES_PER_UNIT.items():
        if abs(axis.unit_conversion_factor / metres - 1) < _UNIT_TOLERANCE:
            return unit
    return ""


def _find_column(frame: pd.DataFrame, name: str) -> str | None:
    return next((c for c in frame.columns if c.strip().lower() == name), None)


def _fill_feature(frame: pd.DataFrame, is_line: NDArray[np.bool_], layer: str) -> pd.DataFrame:
    """Say what a row is: a vertex of a line is path; a layer named after a kind is that kind."""
    word = layer.strip().lower().replace(" ", "_").removesuffix("s")
    kind = word if word in list(Feature) else None
    column = _find_column(frame, "feature")
    if column is None and kind is None and not is_line.any():
        return frame
    given = np.full(len(frame), None, dtype=object)
    if column is not None:
        given = frame[column].astype("object").to_numpy(copy=True)
        given[frame[column].isna().to_numpy()] = None
    blank = np.array([value is None or value == "" for value in given], dtype=bool)
    given[blank & is_line] = str(Feature.PATH)
    if kind is not None:
        given[blank & ~is_line] = kind
    return frame.assign(**{column or "feature": given})


def _name_vertices(
    frame: pd.DataFrame, feature: NDArray[np.intp], is_line: NDArray[np.bool_], layer: str
) -> pd.DataFrame:
    """Give each vertex of a line its run and a point identifier of its own."""
    source = next((c for w in ("run", "name", "point") if (c := _find_column(frame, w))), None)
    numbered = np.array([f"{layer} {number + 1}" for number in feature], dtype=object)
    run = numbered
    if source is not None:
        own = frame[source]
        run = np.where(own.isna() | (own.astype("str") == ""), numbered, own.astype("str"))
    is_first = np.r_[True, feature[1:] != feature[:-1]]
    start = np.maximum.accumulate(np.where(is_first, np.arange(len(feature)), 0))
    place = np.arange(len(feature)) - start + 1
    point = np.array([f"{r}-{k}" for r, k in zip(run, place, strict=True)], dtype=object)
    columns = {
        "run": (run, _find_column(frame, "run")),
        "point": (point, _find_column(frame, "point")),
    }
    for name, (made, column) in columns.items():
        former = frame[column].to_numpy(dtype=object) if column else np.full(len(frame), None)
        frame = frame.assign(**{column or name: np.where(is_line, made, former)})
    order = _find_column(frame, "order")
    if order is not None:
        frame = frame.assign(**{order: np.where(is_line, place, frame[order])})
    return frame
