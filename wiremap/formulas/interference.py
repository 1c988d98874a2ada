"""What a second conductor does to nulls and to the depth read from them.

A wire at depth ``d`` below the origin carries current ``I``; a second conductor at distance ``a``
to the right, at the same depth, carries ``q I``. A coil leaning ``t`` from the vertical falls
silent where ::

    (x - T) ((x - a)^2 + d^2) + q (x - a - T) (x^2 + d^2) = 0,   T = d tan t

on level ground: a cubic in ``x``.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Array = NDArray[np.float64]

BIAS_PER_ASYMMETRY = 1.1
"""Relative error of a two-sided depth for each unit of unexplained asymmetry: what
`second_conductor_nulls_m` gives, as a root mean square, for asymmetries of 0.02 to 0.2 from
conductors 0.3 to 3 depths away that carry up to 0.3 of the current either way."""


def second_conductor_nulls_m(
    depth_m: float, *, spacing_m: float, share: float, lean_deg: float = 0.0
) -> Array:
    """Return where a leaning coil falls silent over two parallel conductors.

    Parameters
    ----------
    depth_m : float
        Depth of both conductors.
    spacing_m : float
        Distance of the second conductor, to the right positive.
    share : float
        Current of the second conductor over that of the first; negative for a return.
    lean_deg : float
        Lean of the coil from the vertical, null to the right positive.

    Returns
    -------
    array
        Distances right of the first conductor, ascending: one null or three; for a return that
        balances (share -1) two, or one.

    References
    ----------
    .. [1] Field of a long straight conductor, Biot and Savart; any text on electromagnetism.

    Examples
    --------
    >>> second_conductor_nulls_m(0.3, spacing_m=0.3, share=0.2, lean_deg=45).round(5).tolist()
    [0.4]
    """
    reach = depth_m * np.tan(np.radians(lean_deg))
    first = np.polymul([1, -reach], [1, -2 * spacing_m, spacing_m**2 + depth_m**2])
    second = np.polymul([1, -spacing_m - reach], [1, 0, depth_m**2])
    cubic = np.polyadd(first, share * second)
    cubic[np.abs(cubic) < 1e-12 * np.abs(cubic).max()] = 0
    roots = np.roots(cubic)
    real: Array = np.sort(roots.real[np.abs(roots.imag) < 1e-9 * (1 + np.abs(roots))])
    return real


def asymmetry(left_m: ArrayLike, right_m: ArrayLike) -> Array:
    """Return how uneven a pair is: the difference of its offsets over their sum.

    Parameters
    ----------
    left_m, right_m : array-like
        Offsets of the two nulls. NaN gives NaN.

    Returns
    -------
    array
        Left longer positive.

    Examples
    --------
    >>> float(asymmetry(0.36984, 0.25897).round(3))
    0.176
    """
    left, right = np.asarray(left_m, dtype=float), np.asarray(right_m, dtype=float)
    uneven: Array = (left - right) / (left + right)
    return uneven


def likely_bias_m(depth_m: ArrayLike, unexplained_asymmetry: ArrayLike) -> Array:
    """Return how wrong a two-sided depth likely is where a second conductor makes it uneven.

    The direction is not known: a conductor that carries current the same way makes the depth too
    great, a return too small. It widens the uncertainty; it never corrects the depth.

    Parameters
    ----------
    depth_m : array-like
        Depth read.
    unexplained_asymmetry : array-like
        Asymmetry left when the slope of the ground is taken off.

    Returns
    -------
    array
        One standard deviation, metres.

    Examples
    --------
    >>> float(likely_bias_m(0.3, 0.1).round(3))
    0.033
    """
    bias: Array = BIAS_PER_ASYMMETRY * np.abs(unexplained_asymmetry) * np.asarray(depth_m)
    return bias
