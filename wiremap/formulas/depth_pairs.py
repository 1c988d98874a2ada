"""Depth of a wire from where a leaning null antenna falls silent.

All angles are referred to gravity. The wire lies plumb under the path mark at depth ``D``. With
the receiver leaning ``t`` from the vertical, the null stands a distance ``u`` along the ground
from the path mark, on ground that rises to that side at slope ``s``::

    u = D / (cos s / tan t - sin s)

Both sides together give depth and slope in closed form; one side needs the slope.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from wiremap.formulas.sigma_points import propagate

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Array = NDArray[np.float64]

_LEAST_OFFSET_M = 0.01
_SYSTEMATIC, _SLOPE = 3, 7  # places of these error sources


class PairDepths(NamedTuple):
    """Depths of pairs, with what each depth and slope are worth.

    Attributes
    ----------
    depth_m, depth_sigma_m : array, shape (n,)
        Depth below the ground, plumb, and its standard deviation.
    systematic_sigma_m : array, shape (n,)
        The part of it that all readings of one receiver and one hand have in common.
    slope_part_m : array, shape (n,)
        Change of the depth for one sigma of the slope given, signed; zero where none was used.
    slope_tan, slope_sigma_tan : array, shape (n,)
        Tangent of the cross slope, rising to the left positive: the slope given, else the pair's
        own.
    """

    depth_m: Array
    depth_sigma_m: Array
    systematic_sigma_m: Array
    slope_part_m: Array
    slope_tan: Array
    slope_sigma_tan: Array


def null_offset_m(
    depth_m: ArrayLike, *, slope_deg: ArrayLike = 0.0, lean_deg: ArrayLike = 45.0
) -> Array:
    """Return how far along the ground from the path mark a leaning receiver falls silent.

    Parameters
    ----------
    depth_m : array-like
        Depth plumb under the path mark, the receiver's height above the ground included.
    slope_deg : array-like
        Slope of the ground, rising to the side of the null positive.
    lean_deg : array-like
        Lean of the receiver from the vertical.

    Returns
    -------
    array
        NaN where the ground is so steep that there is no null on that side.

    Examples
    --------
    >>> null_offset_m(0.3, slope_deg=[0, 10, -10]).round(5).tolist()
    [0.3, 0.36984, 0.25897]
    """
    slope, lean = np.radians(slope_deg), np.radians(lean_deg)
    reach = np.cos(slope) / np.tan(lean) - np.sin(slope)
    with np.errstate(divide="ignore", invalid="ignore"):
        offset: Array = np.where(reach > 0, np.asarray(depth_m, dtype=float) / reach, np.nan)
    return offset


def two_sided_depth_m(
    left_m: ArrayLike, right_m: ArrayLike, *, lean_deg: ArrayLike = 45.0
) -> Array:
    """Return the depth from both offsets, exact on any cross slope.

    Parameters
    ----------
    left_m, right_m : array-like
        Distances along the ground from the path mark to the two nulls. NaN gives NaN.
    lean_deg : array-like
        Lean of the receiver from the vertical, the same on both sides.

    Returns
    -------
    array
        Depth plumb under the path mark, metres.

    Examples
    --------
    >>> float(two_sided_depth_m(0.36984, 0.25897).round(4))
    0.3
    """
    left, right = np.asarray(left_m, dtype=float), np.asarray(right_m, dtype=float)
    slope = np.arctan(cross_slope_tan(left, right, lean_deg=lean_deg))
    depth: Array = np.cos(slope) / np.tan(np.radians(lean_deg)) * 2 * left * right / (left + right)
    return depth


def cross_slope_tan(left_m: ArrayLike, right_m: ArrayLike, *, lean_deg: ArrayLike = 45.0) -> Array:
    """Return the tangent of the cross slope that explains a pair's two offsets.

    Parameters
    ----------
    left_m, right_m : array-like
        Distances from the path mark to the two nulls, along the ground or in plan.
    lean_deg : array-like
        Lean of the receiver from the vertical, the same on both sides.

    Returns
    -------
    array
        Rising to the left positive: the left offset is then the longer.

    Examples
    --------
    >>> round(float(np.degrees(np.arctan(cross_slope_tan(0.36984, 0.25897)))), 2)
    10.0
    """
    left, right = np.asarray(left_m, dtype=float), np.asarray(right_m, dtype=float)
    slope: Array = (left - right) / (left + right) / np.tan(np.radians(lean_deg))
    return slope


def one_sided_depth_m(
    offset_m: ArrayLike, *, slope_deg: ArrayLike = 0.0, lean_deg: ArrayLike = 45.0
) -> Array:
    """Return the depth from one offset and the slope of the ground.

    Parameters
    ----------
    offset_m : array-like
        Distance along the ground from the path mark to the null.
    slope_deg : array-like
        Slope of the ground, rising to the side of the null positive.
    lean_deg : array-like
        Lean of the receiver from the vertical.

    Returns
    -------
    array
        Depth plumb under the path mark, metres; not above zero where the ground is too steep.

    Examples
    --------
    >>> float(one_sided_depth_m(0.36984, slope_deg=10).round(4))
    0.3
    """
    slope, lean = np.radians(slope_deg), np.radians(lean_deg)
    reach = np.cos(slope) / np.tan(lean) - np.sin(slope)
    depth: Array = np.asarray(offset_m, dtype=float) * reach
    return depth


def reduce_pairs(  # noqa: PLR0913 - one argument a measured quantity, all by keyword
    left_m: ArrayLike,
    right_m: ArrayLike,
    *,
    lean_deg: ArrayLike = 45.0,
    height_m: ArrayLike = 0.0,
    slope_tan: ArrayLike = np.nan,
    slope_sigma_tan: ArrayLike = 0.0,
    mark_sigma_m: ArrayLike = 0.015,
    path_sigma_m: ArrayLike = 0.015,
    lean_sigma_deg: float = 2.0,
    common_share: float = 0.5,
    systematic_share: float = 0.3,
    in_plan: ArrayLike = False,
) -> PairDepths:
    """Return depths of two-sided and one-sided pairs with their uncertainty.

    Where both offsets are there and no slope is given, slope and depth come from them in closed
    form. Where a slope is given, each side gives a depth with it, and two sides their mean: the
    same value if the slope is the pair's own, and less noise if it is known better than that.
    Error sources: each mark, the path mark (which lengthens one offset and shortens the other),
    lean common to both sides, lean of each side, and the slope given.

    Parameters
    ----------
    left_m, right_m : array-like, shape (n,)
        Offsets from the path mark; NaN where that side was not measured.
    lean_deg : array-like
        Lean from the vertical.
    height_m : array-like
        Height of the antenna above the ground, taken off the depth.
    slope_tan, slope_sigma_tan : array-like
        Tangent of the cross slope, rising to the left positive, and its standard deviation. NaN:
        a two-sided pair uses its own, a one-sided pair gives no depth.
    mark_sigma_m, path_sigma_m : array-like
        Standard deviation of a null mark, and of the path mark.
    lean_sigma_deg : float
        How well the lean was held.
    common_share : float
        Share of the lean's variance that the two sides of a pair have in common.
    systematic_share : float
        Share of the lean's variance that all readings have in common; at most `common_share`.
    in_plan : array-like of bool
        Whether the offsets are horizontal distances rather than distances along the ground.

    Returns
    -------
    PairDepths
        NaN where neither side was measured, or one and no slope given.

    Notes
    -----
    A lean too great by the same error on both sides makes a depth too great by 2 per radian, 3.5 %
    a degree, at 45 degrees; one too great and one too small by the same error nearly cancel.

    Examples
    --------
    >>> pair = reduce_pairs([0.36984], [0.25897])
    >>> pair.depth_m.round(2).tolist(), pair.depth_sigma_m.round(3).tolist()
    ([0.3], [0.023])
    """
    arrays = (left_m, right_m, lean_deg, height_m, slope_tan, slope_sigma_tan, mark_sigma_m,
              path_sigma_m, in_plan)  # fmt: skip
    left, right, lean, height, slope, slope_sigma, mark, path, plan = np.broadcast_arrays(
        *(np.atleast_1d(np.asarray(a, dtype=float)) for a in arrays)
    )
    lean_sigma = np.radians(lean_sigma_deg)
    ones = np.ones_like(left)
    sigmas = np.array(
        [
            path,
            mark,
            mark,
            ones * lean_sigma * np.sqrt(systematic_share),
            ones * lean_sigma * np.sqrt(max(common_share - systematic_share, 0.0)),
            ones * lean_sigma * np.sqrt(1 - common_share),
            ones * lean_sigma * np.sqrt(1 - common_share),
            np.where(np.isfinite(slope), slope_sigma, 0.0),
        ]
    )

    def solve(error: Array) -> Array:
        # the error made in the field is taken off what was measured
        to_left = np.maximum(left - error[0] - error[1], _LEAST_OFFSET_M)
        to_right = np.maximum(right + error[0] - error[2], _LEAST_OFFSET_M)
        both = np.radians(lean) + error[3] + error[4]
        left_cot, right_cot = 1 / np.tan(both + error[5]), 1 / np.tan(both + error[6])
        return _solve(to_left, to_right, left_cot, right_cot, slope + error[7], plan)

    solved = propagate(solve, sigmas)
    depth, slopes = solved.value
    depth_sigma, slope_sigma = solved.sigma
    shared, by_slope = np.abs(solved.parts[_SYSTEMATIC, 0]), solved.parts[_SLOPE, 0]
    return PairDepths(depth - height, depth_sigma, shared, by_slope, slopes, slope_sigma)


def _solve(
    left: Array, right: Array, left_cot: Array, right_cot: Array, slope: Array, plan: Array
) -> Array:
    """Return depth and slope tangent, stacked; leans of the two sides may differ."""
    # D / u = cos s * (cot t -+ tan s), the sign by side; in plan without the cosine
    own = (left * left_cot - right * right_cot) / (left + right)
    tan = np.where(np.isfinite(slope), slope, own)
    cos = np.where(plan > 0, 1.0, 1 / np.sqrt(1 + tan**2))
    from_left, from_right = left * cos * (left_cot - tan), right * cos * (right_cot + tan)
    one_side = np.where(np.isfinite(from_left), from_left, from_right)
    depth = np.where(np.isfinite(own), (from_left + from_right) / 2, one_side)
    return np.array([depth, tan])
