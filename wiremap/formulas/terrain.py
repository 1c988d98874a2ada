"""Slope of the ground from elevations scattered around a place."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import ArrayLike, NDArray

    Array = NDArray[np.float64]
    Surface = Callable[[ArrayLike, ArrayLike], ArrayLike]

_NO_TRIANGLE = "a surface needs three points or more that do not stand in one line"
_NEIGHBOURS = 16
FAR_REACH = 5.0
_FAR_NEIGHBOURS = 48
FAR_SIGMA_TAN = 0.05
_LEAST_POINTS = 5  # three unknowns, two to check
_ROUNDS = 3
_LEAST_SPREAD_M = 0.02
_ROBUST_CUT = 2.5


class GroundSlope(NamedTuple):
    """Tangent of the ground's slope in a direction, and its standard deviation."""

    slope_tan: Array
    sigma_tan: Array


def plane_slope_tan(
    x_m: ArrayLike,
    y_m: ArrayLike,
    elevation_m: ArrayLike,
    *,
    at_x_m: ArrayLike,
    at_y_m: ArrayLike,
    bearing_deg: ArrayLike,
    reach_m: float = 12.0,
) -> GroundSlope:
    """Return the slope of a robust plane through the elevations around each place.

    Parameters
    ----------
    x_m, y_m, elevation_m : array-like, shape (m,)
        Points of known elevation; rows with NaN are left out.
    at_x_m, at_y_m, bearing_deg : array-like, shape (n,)
        Places, and the direction of the slope wanted, degrees clockwise from grid north.
    reach_m : float
        Farthest point used; nearer points weigh more. The nearest 16 at most. Where they do not
        settle the slope to 0.05, the nearest 48 within five times as far, with 0.05 (a project
        choice) added to their sigma.

    Returns
    -------
    GroundSlope
        Rising in the direction positive. NaN, with infinite sigma, where fewer than five points
        lie in reach or the points do not spread in that direction.

    References
    ----------
    .. [1] Holland, Welsch, "Robust regression using iteratively reweighted least-squares",
       Communications in Statistics A6 (1977), Huber's weights (from memory).

    Examples
    --------
    >>> x, y = (g.ravel() for g in np.meshgrid(np.arange(4.0), np.arange(4.0)))
    >>> ground = plane_slope_tan(x, y, 100 + 0.1 * x, at_x_m=[1.5], at_y_m=[1.5], bearing_deg=[90])
    >>> float(ground.slope_tan[0].round(6))
    0.1
    """
    points = np.column_stack([np.asarray(a, dtype=float) for a in (x_m, y_m, elevation_m)])
    points = points[np.isfinite(points).all(axis=1)]
    at = np.column_stack([np.asarray(a, dtype=float) for a in (at_x_m, at_y_m)])
    found = GroundSlope(np.full(len(at), np.nan), np.full(len(at), np.inf))
    known = np.isfinite(at).all(axis=1) & np.isfinite(np.asarray(bearing_deg, dtype=float))
    if len(points) < _LEAST_POINTS or not known.any():
        return found
    place, bearing = at[known], np.radians(np.asarray(bearing_deg, dtype=float)[known])
    near = _planes(points, place, reach_m, _NEIGHBOURS)
    slope, sigma = near.toward(bearing, np.arange(len(place)))
    poor = sigma > FAR_SIGMA_TAN
    if poor.any():
        # so wide a plane is the same for all places of one cell
        cells, cell = np.unique(np.round(place[poor] / (2 * reach_m)), axis=0, return_inverse=True)
        far_slope, far_sigma = _planes(
            points, cells * 2 * reach_m, FAR_REACH * reach_m, _FAR_NEIGHBOURS
        ).toward(bearing[poor], cell.ravel())
        far_sigma = np.hypot(far_sigma, FAR_SIGMA_TAN)
        better = far_sigma < sigma[poor]
        slope[poor] = np.where(better, far_slope, slope[poor])
        sigma[poor] = np.where(better, far_sigma, sigma[poor])
    found.slope_tan[known], found.sigma_tan[known] = slope, sigma
    return found


class _Planes(NamedTuple):
    """Gradients (n, 2), their covariances (n, 2, 2), and which of them can be used."""

    gradient: Array
    covariance: Array
    usable: NDArray[np.bool_]

    def toward(self, bearing: Array, which: NDArray[np.intp]) -> tuple[Array, Array]:
        """Return slopes of the planes in directions; NaN and infinite sigma where unknown."""
        unit = np.column_stack((np.sin(bearing), np.cos(bearing)))
        slope = (unit * self.gradient[which]).sum(axis=1)
        east, north = unit.T
        covariance = self.covariance[which]
        variance = (
            east**2 * covariance[:, 0, 0]
            + 2 * east * north * covariance[:, 0, 1]
            + north**2 * covariance[:, 1, 1]
        )
        usable = self.usable[which] & np.isfinite(variance)
        sigma = np.sqrt(np.where(usable, variance, np.inf))
        return np.where(usable, slope, np.nan), sigma


def _planes(points: Array, at: Array, reach_m: float, neighbours: int) -> _Planes:
    """Return a robust plane through the points around each place."""
    toward, elevation, weight = _neighbourhoods(points, at, reach_m, neighbours)
    gradient, covariance = _fit_planes(toward, elevation, weight)
    return _Planes(gradient, covariance, (weight > 0).sum(axis=1) >= _LEAST_POINTS)


def triangulate_heights(points_m: ArrayLike, *, reach_m: float) -> Surface:
    """Return the ground between points of known height, as flat triangles.

    Parameters
    ----------
    points_m : array-like, shape (m, 3)
        Plane x, plane y and height; rows with NaN are left out. Of points at one place the first
        counts.
    reach_m : float
        Farthest from the nearest point at which a height is still given.

    Returns
    -------
    callable
        Takes x and y arrays in metres and returns heights, NaN outside of the triangles and
        beyond the reach.

    Raises
    ------
    ValueError
        Fewer than three points, or all in one line.

    Examples
    --------
    >>> ground = triangulate_heights([[0, 0, 1], [4, 0, 1], [0, 4, 3]], reach_m=10)
    >>> ground([1.0, 9.0], [1.0, 9.0]).tolist()
    [1.5, nan]
    """
    from scipy.interpolate import LinearNDInterpolator
    from scipy.spatial import QhullError, cKDTree

    points = np.asarray(points_m, dtype=float).reshape(-1, 3)
    points = points[np.isfinite(points).all(axis=1)]
    points = points[np.sort(np.unique(points[:, :2], axis=0, return_index=True)[1])]
    if len(points) < 3:  # noqa: PLR2004 - a triangle
        raise ValueError(_NO_TRIANGLE)
    middle = points[:, :2].mean(axis=0)
    try:
        heights = LinearNDInterpolator(points[:, :2] - middle, points[:, 2])
    except QhullError as error:
        raise ValueError(_NO_TRIANGLE) from error
    tree = cKDTree(points[:, :2])

    def surface(x_m: ArrayLike, y_m: ArrayLike) -> Array:
        places = np.stack([np.asarray(a, dtype=float) for a in (x_m, y_m)], axis=-1)
        known = np.isfinite(places).all(axis=-1)
        apart = np.full(known.shape, np.inf)
        apart[known] = tree.query(places[known])[0]
        found = heights(places - middle).reshape(known.shape)
        return np.where(apart <= reach_m, found, np.nan)

    return surface


def surface_slope_tan(
    surface: Surface,
    *,
    at_x_m: ArrayLike,
    at_y_m: ArrayLike,
    bearing_deg: ArrayLike,
    step_m: float = 2.0,
    slope_sigma_deg: float = 1.5,
) -> GroundSlope:
    """Return the slope of a surface in a direction, by central difference over two lengths.

    Parameters
    ----------
    surface : callable
        Takes x and y arrays and returns ground elevations in metres; NaN outside.
    at_x_m, at_y_m, bearing_deg : array-like, shape (n,)
        Places and directions, degrees clockwise from grid north.
    step_m : float
        Half the distance between the two elevations of the slope; that of the check is twice as
        long.
    slope_sigma_deg : float
        How well a surface gives the slope at best.

    Returns
    -------
    GroundSlope
        Rising in the direction positive. Where the slopes over the two lengths differ, as on a
        bank or between coarse contours, the difference counts into the sigma; where only the
        shorter is known the sigma is twice the best. NaN and infinite sigma outside the surface.

    Examples
    --------
    >>> tilted = lambda x, y: 0.2 * y
    >>> ground = surface_slope_tan(tilted, at_x_m=[0], at_y_m=[0], bearing_deg=[0])
    >>> float(ground.slope_tan.round(6)[0]), float(ground.sigma_tan.round(3)[0])
    (0.2, 0.026)
    """
    x, y = np.asarray(at_x_m, dtype=float), np.asarray(at_y_m, dtype=float)
    bearing = np.radians(np.asarray(bearing_deg, dtype=float))

    def slope_over(half_m: float) -> Array:
        east, north = half_m * np.sin(bearing), half_m * np.cos(bearing)
        rise = np.asarray(surface(x + east, y + north)) - np.asarray(surface(x - east, y - north))
        slope: Array = rise / (2 * half_m)
        return slope

    near, far = slope_over(step_m), slope_over(2 * step_m)
    best = float(np.tan(np.radians(slope_sigma_deg)))
    sigma = np.where(np.isfinite(far), np.hypot(best, near - far), 2 * best)
    return GroundSlope(near, np.where(np.isfinite(near), sigma, np.inf))


def _neighbourhoods(
    points: Array, at: Array, reach_m: float, neighbours: int
) -> tuple[Array, Array, Array]:
    """Return offsets (n, k, 2), elevations (n, k) and weights (n, k) of the nearest points."""
    from scipy.spatial import cKDTree

    count = min(neighbours, len(points))
    distance, index = cKDTree(points[:, :2]).query(at, k=count, distance_upper_bound=reach_m)
    found = np.isfinite(distance)
    index = np.where(found, index, 0)
    toward = np.where(found[..., None], points[index, :2] - at[:, None, :], 0.0)
    elevation = np.where(found, points[index, 2], 0.0)
    middle = elevation.sum(axis=1) / np.maximum(found.sum(axis=1), 1)
    weight = np.where(found, (1 - (np.minimum(distance, reach_m) / reach_m) ** 2) ** 2, 0.0)
    return toward, elevation - middle[:, None], weight


def _fit_planes(toward: Array, elevation: Array, weight: Array) -> tuple[Array, Array]:
    """Return gradients (n, 2) and their covariances by Huber-weighted least squares."""
    design = np.concatenate((np.ones((*toward.shape[:2], 1)), toward), axis=2)
    turned = np.ascontiguousarray(design.transpose(0, 2, 1))
    count = (weight > 0).sum(axis=1)
    # three unknowns taken from the residuals, and Huber's consistency is left to the floor
    stretch = np.sqrt(count / np.maximum(count - 3, 1))
    total = weight
    for _ in range(_ROUNDS):
        weighted = turned * total[:, None, :]
        # a hair of ridge keeps points in one line solvable; their sigma says how little they tell
        inverse = np.linalg.inv(weighted @ design + 1e-6 * np.eye(3))
        solution = inverse @ (weighted @ elevation[..., None])
        residual = np.abs(elevation - (design @ solution)[..., 0])
        mean_square = (total * residual**2).sum(axis=1) / total.sum(axis=1).clip(1e-12)
        spread = np.maximum(np.sqrt(mean_square) * stretch, _LEAST_SPREAD_M)
        total = weight * np.minimum(1, _ROBUST_CUT * spread[:, None] / residual.clip(1e-12))
    # a few points may fit a plane by chance: elevations are no better here than elsewhere
    settled = count >= _LEAST_POINTS
    if settled.any():
        spread = np.maximum(spread, np.median(spread[settled]))
    loud = weighted * spread[:, None, None]
    meat = loud @ loud.transpose(0, 2, 1)
    # along a direction without spread the ridge alone speaks: its own variance counts
    covariance = inverse @ (meat + 1e-6 * np.eye(3)) @ inverse
    return solution[:, 1:, 0], covariance[:, 1:, 1:]
