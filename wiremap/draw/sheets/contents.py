"""What a drawing shows, on the ground plane: wires, marks, base, band, dimension points.

Reads the layers of an as-built in the working CRS; returns arrays in metres on the ground from
an origin of its own, so that a ruler on paper reads ground distances.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from wiremap.draw.sheets.routes import (
    References,
    Route,
    choose_references,
    depths_at,
    dimension_route,
)
from wiremap.model.cells import flags

if TYPE_CHECKING:
    from collections.abc import Mapping

    import geopandas as gpd
    import pandas as pd
    from numpy.typing import NDArray

    from wiremap.draw.sheets.measures import Units
    from wiremap.model.frame import Frame
    from wiremap.model.settings import Settings

    Floats = NDArray[np.float64]

POINT_LAYERS = ("references", "equipment", "splices", "faults", "controllers", "valves")
"""Layers drawn as symbols, from the bottom up."""

FRAMED = ("wire_runs", "dig_buffer", "valves", "controllers", "splices", "faults", "equipment",
          "references")  # fmt: skip
"""Layers that the plan must hold."""

_APART_M, _SAME_M = 1e-3, 1e-6
_DETAIL = 1e-3
_BASE_REACH_M = 100.0  # least distance from what is recorded at which the base is still drawn


@dataclass(frozen=True)
class Plane:
    """From the working CRS to metres on the ground and back.

    Attributes
    ----------
    origin : tuple of float
        Working CRS position of the ground plane's origin.
    metres_per_unit : float
        Metres on the ground in one unit of the working CRS.
    """

    origin: tuple[float, float] = (0.0, 0.0)
    metres_per_unit: float = 1.0

    def to_ground(self, xy: Floats) -> Floats:
        """Return working CRS positions as metres on the ground."""
        return (np.asarray(xy, dtype=float) - self.origin) * self.metres_per_unit

    def to_grid(self, xy: Floats) -> Floats:
        """Return ground metres as positions in the working CRS."""
        return np.asarray(xy, dtype=float) / self.metres_per_unit + self.origin


@dataclass(frozen=True)
class Wires:
    """Unbroken stretches of wire, each of one run and one evidence.

    Attributes
    ----------
    run, zones, evidence : arrays of str
        One a stretch.
    corners : list of array
        Metres on the ground.
    """

    run: NDArray[np.object_] = field(default_factory=lambda: np.empty(0, object))
    zones: NDArray[np.object_] = field(default_factory=lambda: np.empty(0, object))
    evidence: NDArray[np.object_] = field(default_factory=lambda: np.empty(0, object))
    corners: list[Floats] = field(default_factory=list)


@dataclass(frozen=True)
class Contents:
    """Everything that the sheets draw of one property.

    Attributes
    ----------
    name, slug : str
    settings : Settings
    frame : Frame or None
    units : Units
    plane : Plane
    layers : mapping of str to DataFrame
    schedule, curves : DataFrame or None
    base : list of tuple
        Kind, name and rings of each base shape, from the bottom up.
    points : dict of str to array
        Positions of each layer of points; NaN where a row has none.
    band : list of list of array
        Rings of each part of the dig buffer.
    wires : Wires
    lines : dict of str to LineString
        Each run on the ground plane.
    runs : tuple of str
        Name of each run that `route` counts.
    route : Route
    route_depths : array of shape (n, 2)
    route_ties : References
    """

    name: str
    slug: str
    settings: Settings
    frame: Frame | None
    units: Units
    plane: Plane
    layers: Mapping[str, pd.DataFrame]
    schedule: pd.DataFrame | None
    curves: pd.DataFrame | None
    base: list[tuple[str, str, list[Floats]]]
    points: dict[str, Floats]
    band: list[list[Floats]]
    wires: Wires
    lines: dict[str, Any]
    runs: tuple[str, ...]
    route: Route
    route_depths: Floats
    route_ties: References
    _texts: dict[tuple[str, str], list[str]] = field(default_factory=dict, repr=False)

    def layer(self, name: str) -> pd.DataFrame:
        """Return a layer; an empty table where there is none."""
        import pandas as pd

        return self.layers.get(name, pd.DataFrame())

    def texts(self, layer: str, column: str) -> list[str]:
        """Return a column of a layer as texts; empty ones where it is missing."""
        if (layer, column) not in self._texts:
            self._texts[layer, column] = texts(self.layer(layer), column)
        return self._texts[layer, column]

    @cached_property
    def extent(self) -> tuple[float, float, float, float] | None:
        """Left, bottom, right and top of what is drawn, metres; None where nothing is.

        The base counts as far as it is of this property: a town's water mains do not.
        """
        parts = [*self.points.values(), *self.wires.corners]
        parts += [ring for rings in self.band for ring in rings]
        own = _finite(parts)
        base = _finite([ring for _, _, rings in self.base for ring in rings])
        if not len(own) and not len(base):
            return None
        if len(own):
            low, high = own.min(axis=0), own.max(axis=0)
            reach = max(float((high - low).max()), _BASE_REACH_M)
            base = base.clip(low - reach, high + reach)
        every = np.concatenate([own, base])
        low, high = every.min(axis=0), every.max(axis=0)
        return float(low[0]), float(low[1]), float(high[0]), float(high[1])

    @cached_property
    def outline(self) -> list[Floats]:
        """The runs with as much detail as a drawing of the size of a hand shows."""
        import shapely

        if self.extent is None or not self.lines:
            return []
        left, bottom, right, top = self.extent
        detail_m = max(right - left, top - bottom) * _DETAIL
        lines = shapely.simplify(np.array(list(self.lines.values())), detail_m)
        return [shapely.get_coordinates(line) for line in lines]


def _finite(parts: list[Floats]) -> Floats:
    """Return the positions of several arrays in one, without those that are none."""
    every: Floats = np.concatenate([np.empty((0, 2)), *parts])
    return every[np.isfinite(every).all(axis=1)]


def texts(frame: pd.DataFrame, column: str) -> list[str]:
    """Return a column as texts, an empty text where a value is missing.

    Parameters
    ----------
    frame : DataFrame
    column : str

    Returns
    -------
    list of str

    Examples
    --------
    >>> import pandas as pd
    >>> texts(pd.DataFrame({"zone": ["3", None]}), "zone"), texts(pd.DataFrame(), "zone")
    (['3', ''], [])
    """
    if column not in frame:
        return [""] * len(frame)
    missing = frame[column].isna().to_numpy()
    values = frame[column].astype(object).to_numpy()
    return ["" if gone else str(v) for v, gone in zip(values, missing, strict=True)]


def numbers(frame: pd.DataFrame, column: str) -> Floats:
    """Return a column as floats, NaN where it is missing.

    Parameters
    ----------
    frame : DataFrame
    column : str

    Returns
    -------
    array
    """
    if column not in frame:
        return np.full(len(frame), math.nan)
    return frame[column].to_numpy(dtype=float, na_value=math.nan)


def natural_key(name: str) -> list[tuple[int, int, str]]:
    """Return a key that sorts W2 before W10.

    Parameters
    ----------
    name : str

    Returns
    -------
    list of tuple

    Examples
    --------
    >>> sorted(["W10", "W2", "north"], key=natural_key)
    ['north', 'W2', 'W10']
    """
    return [
        (1, int(part), "") if part.isascii() and part.isdecimal() else (0, 0, part.lower())
        for part in re.split(r"([0-9]{1,18})", name)
        if part
    ]


def gather_contents(
    layers: Mapping[str, pd.DataFrame], *, context: Mapping[str, Any], units: Units
) -> Contents:
    """Return what the sheets draw.

    Parameters
    ----------
    layers : mapping of str to DataFrame
        Layers of an as-built by name, in the working CRS; any may be missing or empty.
    context : mapping of str to object
        ``name``, ``slug``, ``settings``, and where known ``frame``, ``curves``, ``schedule``,
        ``base``.
    units : Units
        Unit of the drawing's dimensions.

    Returns
    -------
    Contents
    """
    frame, settings = context.get("frame"), context["settings"]
    plane = _plane(layers, frame)
    points = {
        name: plane.to_ground(_point_xy(layers[name]))
        for name in POINT_LAYERS
        if name in layers and len(layers[name])
    }
    lines, runs = _run_lines(layers, plane)
    rms = numbers(layers["wire_runs"], "position_rms_m") if len(runs) else np.empty(0)
    route = dimension_route(lines, smoothing_m=2.0 * rms)
    curves = context.get("curves")
    base = _base_shapes(context.get("base") or {}, plane)
    return Contents(
        name=str(context["name"]),
        slug=str(context["slug"]),
        settings=settings,
        frame=frame,
        units=units,
        plane=plane,
        layers=layers,
        schedule=context.get("schedule"),
        curves=curves,
        base=base,
        points=points,
        band=_band_rings(layers, plane),
        wires=_find_wires(layers, plane),
        lines=dict(zip(runs, lines, strict=True)),
        runs=tuple(runs.tolist()),
        route=route,
        route_depths=depths_at(route, runs, curves),
        route_ties=_route_ties(layers, points, route, settings, base),
    )


def _plane(layers: Mapping[str, pd.DataFrame], frame: Frame | None) -> Plane:
    """Return the ground plane; its origin is the lower left corner of what is there."""
    bounds = [
        layers[name].geometry.total_bounds
        for name in (*FRAMED, "locates")
        if name in layers and len(layers[name]) and hasattr(layers[name], "geometry")
    ]
    found = np.array([b for b in bounds if np.isfinite(b).all()])
    origin = (0.0, 0.0)
    if len(found):
        origin = (float(math.floor(found[:, 0].min())), float(math.floor(found[:, 1].min())))
    if frame is None:
        return Plane(origin)
    return Plane(origin, frame.metres_per_unit / (frame.scale_factor or 1.0))


def _point_xy(frame: pd.DataFrame) -> Floats:
    """Return the positions of a layer of points, one a row."""
    import shapely

    shapes = np.asarray(frame.geometry.array, dtype=object)
    xy = np.full((len(shapes), 2), np.nan)
    there = shapely.get_num_coordinates(shapes) > 0
    if there.any():
        xy[there] = shapely.get_coordinates(shapely.centroid(shapes[there]))
    return xy


def _run_lines(
    layers: Mapping[str, pd.DataFrame], plane: Plane
) -> tuple[NDArray[np.object_], NDArray[np.object_]]:
    """Return each run's line on the ground plane, and its name."""
    import shapely

    runs = layers.get("wire_runs")
    if runs is None or not len(runs):
        return np.empty(0, object), np.empty(0, object)
    lines = shapely.force_2d(np.asarray(runs.geometry.array, dtype=object))
    lines = np.where(shapely.is_missing(lines), shapely.LineString(), lines)
    return shapely.transform(lines, plane.to_ground), np.array(texts(runs, "run"), dtype=object)


def _find_wires(layers: Mapping[str, pd.DataFrame], plane: Plane) -> Wires:
    """Return stretches strung together where run and evidence stay the same."""
    import shapely

    name = next((n for n in ("wire_segments", "wire_runs") if n in layers and len(layers[n])), None)
    if name is None:
        return Wires()
    frame: gpd.GeoDataFrame = layers[name]
    shapes = shapely.force_2d(np.asarray(frame.geometry.array, dtype=object))
    xy, row = shapely.get_coordinates(shapes, return_index=True)
    if not len(xy):
        return Wires()
    xy = plane.to_ground(xy)
    run = np.array(texts(frame, "run"), dtype=object)[row]
    evidence = np.array(texts(frame, "evidence"), dtype=object)[row]
    gap = np.hypot(*np.diff(xy, axis=0).T)
    is_new_row = np.diff(row) != 0
    starts = np.r_[
        True,
        (run[1:] != run[:-1]) | (evidence[1:] != evidence[:-1]) | (is_new_row & (gap > _APART_M)),
    ]
    keep = np.r_[True, (gap > _SAME_M) | starts[1:]]
    first = np.flatnonzero(starts)
    zones = dict(
        zip(*(texts(layers.get("wire_runs", frame), c) for c in ("run", "zones")), strict=True)
    )
    pieces = [xy[a:b][keep[a:b]] for a, b in zip(first, np.r_[first[1:], len(xy)], strict=True)]
    return Wires(
        run[first],
        np.array([zones.get(r, "") for r in run[first]], dtype=object),
        np.where(evidence[first] == "", "traced", evidence[first]),
        pieces,
    )


def _band_rings(layers: Mapping[str, pd.DataFrame], plane: Plane) -> list[list[Floats]]:
    import shapely

    band = layers.get("dig_buffer")
    if band is None or not len(band):
        return []
    shapes = np.asarray(band.geometry.array, dtype=object)
    return [_rings(part, plane) for part in shapely.get_parts(shapes[~shapely.is_missing(shapes)])]


def _rings(shape: Any, plane: Plane) -> list[Floats]:
    """Return the rings of a polygon, or the one line of a line."""
    import shapely

    if shape.geom_type == "Polygon":
        return [
            plane.to_ground(shapely.get_coordinates(ring))
            for ring in (shape.exterior, *shape.interiors)
        ]
    return [plane.to_ground(shapely.get_coordinates(shape))]


def _base_shapes(
    base: Mapping[str, gpd.GeoDataFrame], plane: Plane
) -> list[tuple[str, str, list[Floats]]]:
    """Return kind, name and rings of each part of the base."""
    import shapely

    from wiremap.draw.backdrop import sort_base

    shapes = []
    for kind, frame in sort_base(base):
        names = texts(frame, "name")
        for shape, name in zip(np.asarray(frame.geometry.array, dtype=object), names, strict=True):
            parts = shapely.get_parts(shape)
            shapes += [
                (kind, name, _rings(part, plane))
                for part in parts
                if part.geom_type in {"Polygon", "LineString", "LinearRing"}
            ]
    return shapes


def _route_ties(
    layers: Mapping[str, pd.DataFrame],
    points: Mapping[str, Floats],
    route: Route,
    settings: Settings,
    base: list[tuple[str, str, list[Floats]]],
) -> References:
    """Return two references for each dimension point; rows of the layer ``references``."""
    import shapely

    references = layers.get("references")
    xy = points.get("references", np.empty((0, 2)))
    fixed = np.isfinite(xy).all(axis=1)
    if references is not None and "is_permanent" in references:
        fixed &= flags(references, "is_permanent")
    rows = np.append(np.flatnonzero(fixed), -1)
    reach = settings.thresholds.tape_reach_m
    walls = [shapely.LineString(r) for kind, _, rings in base if kind == "building" for r in rings]
    found = choose_references(route.xy, xy[fixed], reach_m=reach, buildings=np.array(walls))
    return found._replace(first=rows[found.first], second=rows[found.second])
