"""The ground of a plan: base, dig band and grid, and the names of what stands on it."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from wiremap.draw.sheets.inks import BAND, QUIET, RULE
from wiremap.draw.sheets.labels import Label
from wiremap.draw.sheets.lettering import cut
from wiremap.draw.styles import BASE_STYLES, STYLES

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from wiremap.draw.sheets.contents import Contents
    from wiremap.draw.sheets.pen import Pen
    from wiremap.draw.sheets.views import View

    Floats = NDArray[np.float64]


def draw_ground(pen: Pen, contents: Contents, view: View, *, text_pt: float) -> None:
    """Draw base areas, the band over them, base outlines over both, and grid crosses.

    Parameters
    ----------
    pen : Pen
    contents : Contents
    view : View
    text_pt : float
        Size of ordinary letters; lines are as heavy in proportion.
    """
    shapes = [
        (BASE_STYLES[kind], kind, [view.to_page(ring) for ring in rings])
        for kind, _, rings in contents.base
    ]
    shapes = [shape for shape in shapes if view.touches(shape[2][0])]
    for style, _, rings in shapes:
        if style.fill and len(rings[0]) > 3:  # noqa: PLR2004 - a closed ring
            pen.area(rings, fill=style.fill.light)
    _draw_band(pen, contents, view)
    for style, _, rings in shapes:
        dash = tuple(0.6 * d for d in style.dash_px)
        pen.lines(
            rings, ink=style.ink.light, width_pt=style.width_px * 0.06 * text_pt, dash_pt=dash
        )
    for x, y in _grid_crosses(contents, view).tolist():
        pen.line((x - 3.0, y), (x + 3.0, y), ink=RULE, width_pt=0.3)
        pen.line((x, y - 3.0), (x, y + 3.0), ink=RULE, width_pt=0.3)


def _draw_band(pen: Pen, contents: Contents, view: View) -> None:
    """Draw the band as one area: all outlines first, then every part over them."""
    style = STYLES["dig_buffer"]
    parts = [[view.to_page(ring) for ring in rings] for rings in contents.band]
    parts = [rings for rings in parts if view.touches(rings[0])]
    for rings in parts:
        pen.lines(rings, ink=style.ink.light, width_pt=0.9, dash_pt=(0.9, 2.4))
    for rings in parts:
        pen.area(rings, fill=BAND)


def grid_step(view: View, metres_per_unit: float) -> float:
    """Return the distance between grid lines in units of the working CRS: 1, 2 or 5 times ten.

    Parameters
    ----------
    view : View
    metres_per_unit : float
        Metres on the ground in one unit.

    Returns
    -------
    float
        So that lines stand 1.6 to 4 inches apart on paper.
    """
    least = 115.0 / (view.scale.points_per_m * metres_per_unit)
    power = 10.0 ** math.floor(math.log10(least))
    return next(n * power for n in (1.0, 2.0, 5.0, 10.0) if n * power >= least)


def grid_lines(contents: Contents, view: View) -> tuple[list[tuple[float, float]], ...]:
    """Return grid eastings with their place across, and northings with their place up the page.

    Parameters
    ----------
    contents : Contents
    view : View

    Returns
    -------
    tuple of two lists of (value, position)
    """
    corners = np.array([view.window[:2], view.window[2:]])
    low, high = contents.plane.to_grid(view.to_ground(corners))
    step = grid_step(view, contents.plane.metres_per_unit)
    found = []
    for axis in (0, 1):
        values = np.arange(math.ceil(low[axis] / step), math.floor(high[axis] / step) + 1) * step
        places = np.tile(low, (len(values), 1))
        places[:, axis] = values
        at = view.to_page(contents.plane.to_ground(places))[:, axis]
        found.append(list(zip(values.tolist(), at.tolist(), strict=True)))
    return found[0], found[1]


def _grid_crosses(contents: Contents, view: View) -> Floats:
    across, up = grid_lines(contents, view)
    return np.array([(x, y) for _, x in across for _, y in up]).reshape(-1, 2)


def base_labels(contents: Contents, view: View, *, text_pt: float) -> list[Label]:
    """Return the names of base areas, to stand inside them.

    Parameters
    ----------
    contents : Contents
    view : View
    text_pt : float

    Returns
    -------
    list of Label
        None for an area that its name does not fit into.
    """
    import shapely

    labels = []
    for kind, name, rings in contents.base:
        page = view.to_page(rings[0])
        if not name or kind == "property" or len(page) < 4 or not view.touches(page):  # noqa: PLR2004
            continue
        shape = shapely.Polygon(page)
        if not shape.is_valid:
            continue
        label = Label((cut(name.upper(), 140.0, 0.8 * text_pt),), (0.0, 0.0), 0.8 * text_pt,
                      rank=8, ink=QUIET)  # fmt: skip
        spots = _spots_inside(shape, label.size)
        if len(spots):
            labels.append(replace(label, spots=spots))
    return labels


def _spots_inside(shape: object, size: tuple[float, float]) -> Floats:
    """Return where a box of a size fits into a polygon, near its middle first."""
    import shapely

    left, bottom, right, top = shapely.bounds(shape)
    x, y = np.meshgrid(np.linspace(left, right, 13)[1:-1], np.linspace(bottom, top, 11)[1:-1])
    xy = np.column_stack([x.ravel(), y.ravel()])
    xy = np.vstack([shapely.get_coordinates(shapely.point_on_surface(shape)), xy])
    half = np.array(size) / 2
    xy = xy[shapely.contains(shape, shapely.box(*(xy - half).T, *(xy + half).T))]
    away = np.hypot(*(xy - shapely.get_coordinates(shapely.centroid(shape))).T)
    xy = xy[np.argsort(away, kind="stable")]
    return np.column_stack([xy, np.zeros(len(xy))])
