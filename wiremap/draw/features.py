"""Layers as compact GeoJSON text, column by column.

Reads the layers of an as-built; returns text that can stand in a script element: coordinates to
7 decimals (about a centimetre), numbers to a thousandth, missing values left out, and no
character of field text that a page or a template could take for its own.
"""

from __future__ import annotations

import json
from functools import lru_cache
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    import geopandas as gpd
    import pandas as pd
    from numpy.typing import NDArray

DECIMALS_DEG = 7
DECIMALS = 3

_ESCAPES = {ord(c): f"\\u{ord(c):04x}" for c in "<>&{}$`'\u2028\u2029"}


def json_text(value: str) -> str:
    r"""Return a text as JSON that can stand in a script element and pass any template unchanged.

    Parameters
    ----------
    value : str

    Returns
    -------
    str
        In quotes, ASCII only.

    Examples
    --------
    >>> json_text("</script>{{7*7}}")
    '"\\u003c/script\\u003e\\u007b\\u007b7*7\\u007d\\u007d"'
    """
    return json.dumps(value).translate(_ESCAPES)


def json_value(value: Any) -> str:
    r"""Return nested mappings, sequences, texts and numbers as JSON, with texts as `json_text`.

    Parameters
    ----------
    value : any
        Of the types that JSON knows. Numbers that are not finite become null.

    Returns
    -------
    str

    Examples
    --------
    >>> json_value({"zone": "{3}", "ohms": float("nan")})
    '{"zone":"\\u007b3\\u007d","ohms":null}'
    """
    if isinstance(value, str):
        return json_text(value)
    if isinstance(value, dict):
        return "{" + ",".join(f"{json_text(k)}:{json_value(v)}" for k, v in value.items()) + "}"
    if isinstance(value, list | tuple):
        return "[" + ",".join(map(json_value, value)) + "]"
    if isinstance(value, float) and not np.isfinite(value):
        return "null"
    return json.dumps(value)


def number_list(values: Any, *, decimals: int = DECIMALS) -> str:
    """Return numbers as a JSON list; what is not finite becomes null.

    Parameters
    ----------
    values : array_like
        Of any shape.
    decimals : int
        Digits kept behind the point.

    Returns
    -------
    str

    Examples
    --------
    >>> number_list([1.23456, float("nan")])
    '[1.235,null]'
    """
    array = np.round(np.asarray(values, dtype=float), decimals)
    array = np.where(np.isinf(array), np.nan, array)
    text = json.dumps(array.tolist(), separators=(",", ":"))
    return text.replace("NaN", "null").replace(".0,", ",").replace(".0]", "]")


def lonlat_geometry(frame: gpd.GeoDataFrame) -> NDArray[np.object_]:
    """Return a frame's geometries in longitude and latitude, 2-D, rounded as they are written.

    Parameters
    ----------
    frame : GeoDataFrame
        With a CRS, or already in longitude and latitude.

    Returns
    -------
    ndarray of geometry
        None where there is none.

    Examples
    --------
    >>> import geopandas as gpd
    >>> from shapely import Point
    >>> frame = gpd.GeoDataFrame(geometry=[Point(584000, 4205000), None], crs=26914)
    >>> [str(shape) for shape in lonlat_geometry(frame)]
    ['POINT (-98.0434079 37.9887641)', 'None']
    """
    import shapely

    geometry = np.asarray(frame.geometry.array, dtype=object)
    flat = shapely.force_2d(geometry)
    coordinates = shapely.get_coordinates(flat)
    if len(coordinates) == 0:
        return flat  # type: ignore[no-any-return]
    placed = _to_lonlat(coordinates, crs=None if frame.crs is None else frame.crs.to_wkt())
    return shapely.set_coordinates(flat.copy(), np.round(placed, DECIMALS_DEG))  # type: ignore[no-any-return]


def lonlat_corners(frame: gpd.GeoDataFrame) -> tuple[float, float, float, float]:
    """Return west, south, east and north of a frame, degrees.

    Parameters
    ----------
    frame : GeoDataFrame

    Returns
    -------
    tuple of float
        NaN where nothing is placed.

    Examples
    --------
    >>> import geopandas as gpd
    >>> from shapely import Point
    >>> lonlat_corners(gpd.GeoDataFrame(geometry=[Point(-95, 39), None], crs=4326))
    (-95.0, 39.0, -95.0, 39.0)
    """
    west, south, east, north = (float(value) for value in frame.total_bounds)
    if frame.crs is None or not np.isfinite(west):
        return west, south, east, north
    bounds: tuple[float, float, float, float] = _transformer(frame.crs.to_wkt()).transform_bounds(
        west, south, east, north
    )
    return bounds


def _to_lonlat(coordinates: NDArray[np.float64], *, crs: str | None) -> NDArray[np.float64]:
    if crs is None:
        return coordinates
    return np.column_stack(_transformer(crs).transform(coordinates[:, 0], coordinates[:, 1]))


@lru_cache(maxsize=16)
def _transformer(crs: str) -> Any:
    from pyproj import Transformer

    return Transformer.from_crs(crs, "EPSG:4326", always_xy=True)


def feature_collection(frame: gpd.GeoDataFrame, *, columns: Sequence[str] | None = None) -> str:
    """Return a layer as the text of a GeoJSON feature collection.

    Parameters
    ----------
    frame : GeoDataFrame
        In any CRS.
    columns : sequence of str, optional
        Columns to carry; all where not given. Those that the frame lacks are passed over.

    Returns
    -------
    str
        One feature a row, in order; a row without geometry has a null one.

    Examples
    --------
    >>> import geopandas as gpd
    >>> from shapely import Point
    >>> frame = gpd.GeoDataFrame({"zone": ["3"]}, geometry=[Point(-95, 39)], crs=4326)
    >>> feature_collection(frame)[40:125]
    '{"type":"Feature","geometry":{"type":"Point","coordinates":[-95.0,39.0]},"properties"'
    """
    import shapely

    geometry = shapely.to_geojson(lonlat_geometry(frame))
    properties = row_texts(frame, columns=columns)
    features = (
        f'{{"type":"Feature","geometry":{shape or "null"},"properties":{{{row}}}}}'
        for shape, row in zip(geometry, properties, strict=True)
    )
    return '{"type":"FeatureCollection","features":[' + ",".join(features) + "]}"


def row_texts(frame: pd.DataFrame, *, columns: Sequence[str] | None = None) -> list[str]:
    """Return the members of each row as JSON text without braces, missing values left out.

    Parameters
    ----------
    frame : DataFrame
    columns : sequence of str, optional
        Columns to carry; all but the geometry where not given.

    Returns
    -------
    list of str
        One text a row.

    Examples
    --------
    >>> import pandas as pd
    >>> row_texts(pd.DataFrame({"zone": ["3", None], "ohms": [24.5, 25.0]}))
    ['"zone":"3","ohms":24.5', '"ohms":25']
    """
    members = [_members(str(name), values) for name, values in _kept(frame, columns)]
    if not members:
        return [""] * len(frame)
    return [row[1:] for row in map("".join, zip(*members, strict=True))]


def _kept(frame: pd.DataFrame, columns: Sequence[str] | None) -> Iterator[tuple[str, pd.Series]]:
    for name, values in frame.items():
        if name != "geometry" and (columns is None or name in columns):
            yield str(name), values


def records(frame: pd.DataFrame) -> str:
    """Return a table as a JSON list of objects, missing values left out.

    Parameters
    ----------
    frame : DataFrame

    Returns
    -------
    str

    Examples
    --------
    >>> import pandas as pd
    >>> records(pd.DataFrame({"zone": ["3", None]}))
    '[{"zone":"3"},{}]'
    """
    return "[" + ",".join(f"{{{row}}}" for row in row_texts(frame)) + "]"


def grouped_collection(
    frame: gpd.GeoDataFrame, *, by: str, columns: Sequence[str] | None = None
) -> str:
    """Return a layer of many points as a feature collection with one multipoint a group.

    A value that all points of a group share stands once; others stand in a list beside the
    coordinates. That is a fifth of the size of a feature a point.

    Parameters
    ----------
    frame : GeoDataFrame
        Of points, in any CRS. Rows without geometry are left out.
    by : str
        Column that groups the points.
    columns : sequence of str, optional
        Columns to carry; all where not given.

    Returns
    -------
    str

    Examples
    --------
    >>> import geopandas as gpd
    >>> from shapely import Point
    >>> frame = gpd.GeoDataFrame(
    ...     {"run": ["A", "A"], "tone": [7.0, 8.5]}, geometry=[Point(1, 2), Point(3, 4)], crs=4326
    ... )
    >>> grouped_collection(frame, by="run")[-42:]
    '"properties":{"run":"A","tone":[7,8.5]}}]}'
    """
    import shapely

    placed = frame.loc[~(frame.geometry.isna() | frame.geometry.is_empty)]
    keys = np.asarray(_cells(placed[by]), dtype=object)
    order = np.argsort(keys, kind="stable")
    keys = keys[order]
    edges = np.r_[0, np.flatnonzero(keys[1:] != keys[:-1]) + 1, len(keys)]
    at = shapely.get_coordinates(lonlat_geometry(placed))[order]
    cells = {
        json_text(name): np.asarray(_cells(values), dtype=object)[order].tolist()
        for name, values in _kept(placed, columns)
    }
    features = (
        '{"type":"Feature","geometry":{"type":"MultiPoint","coordinates":'
        f"{number_list(at[start:end], decimals=DECIMALS_DEG)}}},"
        f'"properties":{{{",".join(_group_members(cells, start, end))}}}}}'
        for start, end in pairwise(edges)
        if end > start
    )
    return '{"type":"FeatureCollection","features":[' + ",".join(features) + "]}"


def _group_members(cells: dict[str, list[str]], start: int, end: int) -> Iterator[str]:
    for key, texts in cells.items():
        group = texts[start:end]
        if len(set(group)) > 1:
            yield f"{key}:[{','.join([text or 'null' for text in group])}]"
        elif group[0]:
            yield f"{key}:{group[0]}"


def _members(name: str, values: pd.Series) -> Iterable[str]:
    """Return ``,"name":value`` for each value, and nothing for a missing one."""
    key = f",{json_text(name)}:"
    return [key + text if text else "" for text in _cells(values)]


def _cells(values: pd.Series) -> list[str]:
    """Return each value as JSON text, a missing one as an empty text."""
    if values.dtype.kind not in "fiu":
        return _distinct_cells(values)
    numbers = values.to_numpy(dtype=float, na_value=np.nan)
    finite = np.isfinite(numbers)
    texts = number_list(np.where(finite, numbers, 0.0))[1:-1].split(",")
    if finite.all():
        return texts if len(numbers) else []
    return [text if there else "" for text, there in zip(texts, finite.tolist(), strict=True)]


def _distinct_cells(values: pd.Series) -> list[str]:
    """Return texts, flags and all else as JSON; each distinct value is written once."""
    import pandas as pd

    if values.dtype != "str" and values.dtype.kind != "b":
        values = values.astype(str).where(values.notna())
    codes, distinct = pd.factorize(values.to_numpy(dtype=object))
    written = [_cell(value) for value in distinct.tolist()]
    written.append("")  # a missing value has code -1
    return [written[code] for code in codes.tolist()]


def _cell(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    text = str(value)
    return json_text(text) if text else ""
