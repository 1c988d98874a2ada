"""Bends of a wire: where its null stands near one, and corners that its marks cut off."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

_SHARPEST_DEG = 150.0
LARGEST_BULGE = 0.2597
"""Greatest distance of the null from the wire near a right-angle bend, in depths."""


def bulge_ratio(distance_ratio: Floats, turn_deg: Floats) -> Floats:
    """Return how far outside the wire its null stands, near a bend.

    The field of two half-infinite straight wires that meet at the bend, at the ground above:
    the null is where its vertical part vanishes, found by halving.

    Parameters
    ----------
    distance_ratio : array, shape (n,)
        Distance from the bend along the wire, in depths. 0 is over the bend.
    turn_deg : array, shape (n,)
        By how much the wire turns there, degrees, 0 to less than 180.

    Returns
    -------
    array, shape (n,)
        Distance of the null from the wire, outward, in depths. NaN gives NaN.

    References
    ----------
    Law of Biot and Savart for a straight conductor with one end, any open textbook of
    electromagnetism.

    Examples
    --------
    >>> bulge_ratio(np.array([0.0, 0.88, 10.0]), np.full(3, 90.0)).round(3).tolist()
    [0.0, 0.26, 0.05]
    """
    along = np.asarray(distance_ratio, dtype=np.float64)
    turn = np.radians(np.asarray(turn_deg, dtype=np.float64))
    low, high = (
        np.zeros(np.broadcast(along, turn).shape),
        np.full(np.broadcast(along, turn).shape, 3.0),
    )
    for _ in range(45):
        middle = 0.5 * (low + high)
        inside = _vertical_field(-along, -middle, turn) > 0
        low, high = np.where(inside, middle, low), np.where(inside, high, middle)
    unknown = np.isnan(along) | np.isnan(turn)
    return np.where(unknown, np.nan, 0.5 * (low + high))


def _vertical_field(x: Floats, y: Floats, turn: Floats) -> Floats:
    """Return the vertical field at depth 1 of a wire along x that turns left at the origin."""
    reach = np.sqrt(x**2 + y**2 + 1.0)
    x_out = x * np.cos(turn) + y * np.sin(turn)
    y_out = -x * np.sin(turn) + y * np.cos(turn)
    arriving = y / (y**2 + 1.0) * (1.0 - x / reach)
    leaving = y_out / (y_out**2 + 1.0) * (1.0 + x_out / reach)
    return arriving + leaving


def bulge_near(distance_ratio: Floats, turn_deg: Floats) -> Floats:
    """Return about how far outside the wire its null stands, near a bend, in one look-up.

    Parameters
    ----------
    distance_ratio : array, shape (n,)
        Distance from the bend along the wire, in depths. The bend itself is known no better
        than to a depth, so nearer than where the bulge is largest the largest counts.
    turn_deg : array, shape (n,)
        By how much the wire turns, degrees; the sign does not count.

    Returns
    -------
    array, shape (n,)
        In depths: `LARGEST_BULGE` beside a right angle, 0 where the wire does not turn.

    Notes
    -----
    Straight lines between values of `bulge_ratio`: the largest one at each 30 degrees, times the
    fall with distance at a right angle. Holds `bulge_ratio` to a fiftieth of the depth up to
    right angles; beside sharper bends the bulge falls more slowly.

    Examples
    --------
    >>> bulge_near(np.array([5.0, 0.0, 5.0]), np.array([0.0, -90.0, 90.0])).round(3).tolist()
    [0.0, 0.26, 0.096]
    """
    largest = np.interp(np.abs(turn_deg), _TURNS_DEG, _LARGEST)
    return largest * np.interp(distance_ratio, _DISTANCES, _FALL)


_TURNS_DEG = (0.0, 30.0, 60.0, 90.0, 120.0, 150.0, 180.0)
_LARGEST = (0.0, 0.0794, 0.1637, 0.2597, 0.3791, 0.5512, 0.5512)
_DISTANCES = (0.88, 1.0, 1.5, 2.0, 3.0, 5.0, 10.0, 20.0, 100.0)
_FALL = (1.0, 0.994, 0.895, 0.772, 0.578, 0.37, 0.191, 0.096, 0.0)


def cut_corners_m(x_m: ArrayLike, y_m: ArrayLike) -> Floats:
    """Return by how much the wire may be longer than each chord, cutting a corner unmarked.

    Where the line turns the same way at both ends of a chord, by up to 150 degrees together, the
    legs before and after it may meet in one corner between the two marks.

    Parameters
    ----------
    x_m, y_m : array-like, shape (n,)
        Vertices of one line, metres.

    Returns
    -------
    array, shape (n - 1,)
        Metres; zero at the first and last chord, and where no corner fits.

    Examples
    --------
    >>> cut_corners_m([0, 4, 8, 10, 10], [0, 0, 0, 2, 6]).round(2).tolist()
    [0.0, 0.0, 1.17, 0.0]
    """
    xy = np.column_stack([np.asarray(x_m, dtype=float), np.asarray(y_m, dtype=float)])
    step = np.diff(xy, axis=0)
    length = np.hypot(step[:, 0], step[:, 1])
    excess = np.zeros(len(length))
    if len(length) < 3:  # noqa: PLR2004 - a leg on either side of a chord
        return excess
    unit = step / np.maximum(length, 1e-9)[:, None]
    before, chord, after = unit[:-2], step[1:-1], unit[2:]
    turn = _cross(before, after)
    here, there = _cross(before, chord), _cross(chord, after)
    with np.errstate(divide="ignore", invalid="ignore"):
        detour = (here + there) / turn - length[1:-1]
    bent = (here * there > 0) & (here * turn > 0)
    bent &= (before * after).sum(axis=1) > np.cos(np.radians(_SHARPEST_DEG))
    excess[1:-1] = np.where(bent & np.isfinite(detour), np.maximum(detour, 0.0), 0.0)
    return excess


def _cross(a: Floats, b: Floats) -> Floats:
    crossed: Floats = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    return crossed
