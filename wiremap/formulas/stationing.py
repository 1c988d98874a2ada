"""Stationing: where points fall along one polyline, and where its chainages lie."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from wiremap.formulas.polylines import chainages, unit_vectors

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]


def line_length(vertices: Floats) -> float:
    """Return the length of one polyline.

    Parameters
    ----------
    vertices : array, shape (n, 2)
        Metres.

    Returns
    -------
    float
        Metres; zero for fewer than two vertices.

    Examples
    --------
    >>> line_length(np.array([[0.0, 0], [4, 0], [4, 4]]))
    8.0
    """
    legs = np.diff(vertices, axis=0)
    return float(np.hypot(legs[:, 0], legs[:, 1]).sum())


def project_on_line(points: Floats, vertices: Floats) -> tuple[Floats, Floats]:
    """Return where points fall on one polyline, and beyond its ends on the end legs carried on.

    Parameters
    ----------
    points : array, shape (m, 2)
        Metres.
    vertices : array, shape (n, 2)
        Metres, two vertices or more.

    Returns
    -------
    chainage : array, shape (m,)
        Metres from the first vertex; negative before it, beyond the length after the last one.
        Where two legs are as near, on the first of them.
    offset : array, shape (m,)
        Distance off the line in metres, to the left positive.

    Examples
    --------
    >>> line = np.array([[0.0, 0], [4, 0], [4, 4]])
    >>> chainage, offset = project_on_line(np.array([[1.0, 1], [-2, 0], [5, 9]]), line)
    >>> chainage.tolist(), offset.tolist()
    ([1.0, -2.0, 13.0], [1.0, 0.0, -1.0])
    """
    legs = np.diff(vertices, axis=0)
    length = np.hypot(legs[:, 0], legs[:, 1])
    unit = unit_vectors(legs)
    starts = np.concatenate([[0.0], np.cumsum(length)[:-1]])
    leg = _nearest_legs(points, vertices)
    relative = points - vertices[leg]
    low = np.where(leg == 0, -np.inf, 0.0)
    high = np.where(leg == len(legs) - 1, np.inf, length[leg])
    along = np.clip((relative * unit[leg]).sum(axis=1), low, high)
    off = relative - along[:, None] * unit[leg]
    side = unit[leg, 0] * off[:, 1] - unit[leg, 1] * off[:, 0]
    return starts[leg] + along, np.copysign(np.hypot(off[:, 0], off[:, 1]), side)


def _nearest_legs(points: Floats, vertices: Floats) -> Ints:
    """Return the leg nearest to each point, by a tree: walks from a log have many thousands."""
    import shapely

    legs = shapely.linestrings(np.stack([vertices[:-1], vertices[1:]], axis=1))
    row, near = shapely.STRtree(legs).query_nearest(shapely.points(points))
    nearest = np.full(len(points), len(legs), dtype=np.int64)
    np.minimum.at(nearest, row, near)
    return nearest


def locate_on_line(points: Floats, vertices: Floats) -> tuple[Floats, Floats]:
    """Return where points stand nearest to one polyline, and how far off it they stand.

    Parameters
    ----------
    points : array, shape (m, 2)
        Metres.
    vertices : array, shape (n, 2)
        Metres, two vertices or more.

    Returns
    -------
    chainage : array, shape (m,)
        Metres from the first vertex, held to the ends.
    distance : array, shape (m,)
        Metres.

    Examples
    --------
    >>> line = np.array([[0.0, 0], [4, 0], [4, 4]])
    >>> chainage, distance = locate_on_line(np.array([[1.0, 1], [-3, 4]]), line)
    >>> chainage.tolist(), distance.tolist()
    ([1.0, 0.0], [1.0, 5.0])
    """
    along, off = project_on_line(points, vertices)
    chainage = np.clip(along, 0.0, line_length(vertices))
    return chainage, np.hypot(off, along - chainage)


def points_at(chainage: Floats, vertices: Floats) -> Floats:
    """Return the points of one polyline at given chainages.

    Parameters
    ----------
    chainage : array, shape (m,)
        Metres from the first vertex; held to the ends beyond them.
    vertices : array, shape (n, 2)
        Metres.

    Returns
    -------
    array, shape (m, 2)
        Metres.

    Examples
    --------
    >>> points_at(np.array([1.0, 5.0]), np.array([[0.0, 0], [4, 0], [4, 4]])).tolist()
    [[1.0, 0.0], [4.0, 1.0]]
    """
    marks = chainages(vertices, np.zeros(len(vertices), dtype=np.int64))
    return np.column_stack([np.interp(chainage, marks, vertices[:, axis]) for axis in (0, 1)])
