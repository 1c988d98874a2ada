"""Cross slope along runs: what the ground and the pairs around let expect at each pair.

A slope makes a pair uneven, and so does a second conductor. Slope is what the ground shows, or
what neighbouring pairs share; what is left over is not explained.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from wiremap.formulas.gaussian_process import smooth_chains

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Array = NDArray[np.float64]

_TURN_DEG = 20.0
_SECTOR_DEG = 30.0
_HALF_WINDOW = 2
_ODD_Z = 2.5
_LEAST_FOR_SCALE = 20
_MOST_ROLLING = 3.0
_BY_CHANCE = 1.5  # the farther of two comparisons is taken: its median is greater by half
_LEAST_A_SIDE = 2
_OFFSET_SCATTER = 0.2


class SlopeCheck(NamedTuple):
    """Cross slopes as tangents, one entry a pair.

    Attributes
    ----------
    expected, expected_sigma : array
        From all that is known, the pair's own slope included.
    residual, residual_sigma : array
        The pair's own slope less what everything else lets expect; NaN at one-sided pairs.
    window_residual, window_sigma : array
        Mean slope of the five pairs around less the ground's, or where the ground is not known
        less the rest of the stretch's; infinite sigma where neither tells.
    """

    expected: Array
    expected_sigma: Array
    residual: Array
    residual_sigma: Array
    window_residual: Array
    window_sigma: Array


def number_stretches(
    run: ArrayLike, chainage_m: ArrayLike, heading_deg: ArrayLike
) -> NDArray[np.intp]:
    """Return a number for each stretch of one run and one heading.

    Parameters
    ----------
    run : array-like of int, shape (n,)
        Run; below zero for a place on no run, which stands alone.
    chainage_m, heading_deg : array-like, shape (n,)
        Distance along the run, and direction walked. NaN heading counts as north.

    Returns
    -------
    array of int
        A turn of more than 20 degrees starts a new stretch, and so does a bend that has led more
        than 15 degrees off the stretch's first heading, then each 30 degrees.

    Examples
    --------
    >>> number_stretches([0, 0, 0, 1], [0, 5, 10, 0], [90, 92, 180, 180]).tolist()
    [1, 1, 2, 3]
    """
    run = np.asarray(run)
    order = np.lexsort((np.asarray(chainage_m, dtype=float), run))
    heading = np.nan_to_num(np.asarray(heading_deg, dtype=float)[order])
    turn = np.abs((np.diff(heading) + 180) % 360 - 180)
    code = run[order]
    fresh = np.ones(len(code), dtype=bool)
    fresh[1:] = (code[1:] != code[:-1]) | (turn > _TURN_DEG) | (code[1:] < 0)
    # a gentle bend leaves its first heading without any turn: cut it by sectors
    first = np.flatnonzero(fresh)[np.cumsum(fresh) - 1]
    led = (heading - heading[first] + 180) % 360 - 180
    sector = np.round(led / _SECTOR_DEG)
    fresh[1:] |= sector[1:] != sector[:-1]
    stretch = np.empty(len(code), dtype=np.intp)
    stretch[order] = np.cumsum(fresh)
    return stretch


def shared_count(stretch: ArrayLike, chainage_m: ArrayLike, *, reach_m: ArrayLike) -> Array:
    """Return how many places lie within reach along the stretch, the place itself included.

    Slopes of planes through the same elevations share their error, so that as many of them as
    this count know no more than one.

    Parameters
    ----------
    stretch, chainage_m : array-like, shape (n,)
        Stretch number, and distance along the run.
    reach_m : array-like, shape (n,)
        How far from each place the elevations lie that its plane goes through.

    Returns
    -------
    array
        At least 1.

    Examples
    --------
    >>> shared_count([0, 0, 0], [0.0, 5.0, 40.0], reach_m=12.0).tolist()
    [2.0, 2.0, 1.0]
    """
    chainage = np.nan_to_num(np.asarray(chainage_m, dtype=float))
    reach = np.asarray(reach_m, dtype=float)
    span = 4 * (np.max(np.abs(chainage), initial=0.0) + np.max(reach, initial=0.0))
    place = np.asarray(stretch) * span + chainage
    ordered = np.sort(place)
    count: Array = (
        np.searchsorted(ordered, place + reach, side="right")
        - np.searchsorted(ordered, place - reach)
    ).astype(float)
    return count


def borrowed_slopes(
    stretch: ArrayLike, left_m: ArrayLike, right_m: ArrayLike, *, lean_deg: ArrayLike
) -> tuple[Array, Array]:
    """Return the slope of each stretch from its one-sided pairs, left against right.

    Where some pairs of a stretch have only a left offset and others only a right one, their means
    differ by the slope as the two offsets of one pair do, but for the depth's own changes.

    Parameters
    ----------
    stretch : array-like of int, shape (n,)
        From `number_stretches`.
    left_m, right_m : array-like, shape (n,)
        Offsets; NaN where that side was not measured.
    lean_deg : array-like
        Lean of the receiver.

    Returns
    -------
    slope_tan, sigma_tan : array, shape (n,)
        At one-sided pairs of stretches with at least two of each side; else NaN, and infinite.
        One stretch's values are one piece of knowledge: the sigma of each is widened so that
        together they weigh as one.

    Notes
    -----
    One offset in five parts scatters by one, for the depth's changes, lean and marks together:
    a project choice for wires at 0.2 to 0.5 m.

    Examples
    --------
    >>> slope, sigma = borrowed_slopes([0] * 4, [0.37, float("nan")] * 2, [float("nan"), 0.26] * 2,
    ...                                lean_deg=45.0)
    >>> slope.round(2).tolist(), sigma.round(2).tolist()
    ([0.17, 0.17, 0.17, 0.17], [0.2, 0.2, 0.2, 0.2])
    """
    tan = np.tan(np.radians(lean_deg))
    left, right = np.asarray(left_m, dtype=float), np.asarray(right_m, dtype=float)
    lone_left, lone_right = np.isfinite(left) & np.isnan(right), np.isfinite(right) & np.isnan(left)
    stretch = np.asarray(stretch)

    def total(values: Array) -> Array:
        summed: Array = np.bincount(stretch, values, minlength=1).astype(float)
        return summed

    lefts, rights = total(lone_left * 1.0), total(lone_right * 1.0)
    enough = (lefts >= _LEAST_A_SIDE) & (rights >= _LEAST_A_SIDE)
    with np.errstate(divide="ignore", invalid="ignore"):
        mean_left = total(np.where(lone_left, left / tan, 0.0)) / lefts
        mean_right = total(np.where(lone_right, right / tan, 0.0)) / rights
        slope = (mean_left - mean_right) / (mean_left + mean_right)
        sigma = _OFFSET_SCATTER / 2 * np.sqrt((1 / lefts + 1 / rights) * (lefts + rights))
    usable = enough[stretch] & (lone_left | lone_right)
    return (
        np.where(usable, slope[stretch] / tan, np.nan),
        np.where(usable, sigma[stretch] / tan, np.inf),
    )


def check_slopes(  # noqa: PLR0913 - two kinds of slope and what is held of them, by keyword
    stretch: ArrayLike,
    chainage_m: ArrayLike,
    *,
    pair_tan: ArrayLike,
    pair_sigma_tan: ArrayLike,
    ground_tan: ArrayLike,
    ground_sigma_tan: ArrayLike,
    others_tan: ArrayLike,
    others_sigma_tan: ArrayLike,
    length_scale_m: float,
    change_tan: float,
    prior_tan: float,
) -> SlopeCheck:
    """Return what is known of the cross slope at each pair, and what of it is not explained.

    Parameters
    ----------
    stretch, chainage_m : array-like, shape (n,)
        From `number_stretches`, and distance along the run.
    pair_tan, pair_sigma_tan : array-like, shape (n,)
        Slope that the pair's own offsets give; NaN at one-sided pairs.
    ground_tan, ground_sigma_tan : array-like, shape (n,)
        Slope that notes or elevations give; NaN with infinite sigma where there is none.
    others_tan, others_sigma_tan : array-like, shape (n,)
        Slope that the other runs of the property let expect; NaN, infinite where there is none.
        Nothing but the check of a whole stretch rests on it.
    length_scale_m, change_tan : float
        Distance over which slope stays alike along a stretch, and how far it strays.
    prior_tan : float
        Standard deviation of a stretch's mean slope before anything is known.

    Returns
    -------
    SlopeCheck
        Empty for no pairs.

    Examples
    --------
    >>> check = check_slopes([0, 0], [0.0, 5.0], pair_tan=[0.17, 0.18], pair_sigma_tan=[0.05, 0.05],
    ...     ground_tan=[float("nan")] * 2, ground_sigma_tan=[float("inf")] * 2,
    ...     others_tan=[float("nan")] * 2, others_sigma_tan=[float("inf")] * 2,
    ...     length_scale_m=15.0, change_tan=0.03, prior_tan=0.1)
    >>> check.expected.round(2).tolist()
    [0.16, 0.16]
    """
    pair, ground = np.asarray(pair_tan, dtype=float), np.asarray(ground_tan, dtype=float)
    pair_sigma = np.where(np.isfinite(pair), pair_sigma_tan, 1.0)
    ground_sigma = np.where(np.isfinite(ground), ground_sigma_tan, 1.0)
    count = len(pair)
    if not count:
        return SlopeCheck(*(np.zeros(0) for _ in range(6)))
    chainage = np.nan_to_num(np.asarray(chainage_m, dtype=float))
    known = smooth_chains(
        np.tile(np.asarray(stretch), 2), np.tile(chainage, 2),
        np.concatenate((pair, ground)), np.concatenate((pair_sigma, ground_sigma)),
        length_scale_m=length_scale_m, amplitude=change_tan, mean=0.0, mean_sigma=prior_tan,
    )  # fmt: skip
    residual, sigma = known.left_out_residual[:count], known.left_out_sigma[:count]
    others, others_sigma = (np.asarray(a, dtype=float) for a in (others_tan, others_sigma_tan))
    scale = _scatter(residual / sigma)
    # a pair that stands out by itself says nothing of the pairs around it
    odd = np.abs(np.nan_to_num(residual)) > _ODD_Z * scale * np.nan_to_num(sigma, nan=np.inf)
    (whole, whole_sigma), (rest, rest_sigma) = (
        _windows(
            np.asarray(stretch), chainage, values, pair_sigma, change_tan,
            beside=((ground, ground_sigma), (others, others_sigma)),
        )
        for values in (pair, np.where(odd, np.nan, pair))
    )  # fmt: skip
    window, window_sigma = np.where(odd, whole, rest), np.where(odd, whole_sigma, rest_sigma)
    # on rolling ground all stretches change their slope, and none is odd for it
    rolls = _scatter(window / window_sigma, most=_MOST_ROLLING) / _BY_CHANCE
    return SlopeCheck(
        known.mean[:count], known.sigma[:count],
        residual, sigma * scale, window, window_sigma * max(scale, rolls),
    )  # fmt: skip


def _scatter(z: Array, *, most: float = 1.5) -> float:
    """Return how far the property's pairs scatter against their stated noise, 1 where few."""
    z = z[np.isfinite(z)]
    if len(z) < _LEAST_FOR_SCALE:
        return 1.0
    # the median of |z| is 0.6745 where the noise is as stated
    return float(np.clip(np.median(np.abs(z)) / 0.6745, 0.8, most))


def _windows(
    stretch: NDArray[np.intp],
    chainage: Array,
    pair: Array,
    pair_sigma: Array,
    change_tan: float,
    *,
    beside: tuple[tuple[Array, Array], ...],
) -> tuple[Array, Array]:
    """Return the mean of five pairs less what else is known of the slope there, and its sigma.

    Else is the ground; without it the rest of the stretch or the other runs, whichever the five
    pairs stand farther off.
    """
    residual, sigma = np.full(len(pair), np.nan), np.full(len(pair), np.inf)
    seen = np.flatnonzero(np.isfinite(pair))
    seen = seen[np.lexsort((chainage[seen], stretch[seen]))]
    if not len(seen):
        return residual, sigma
    line = stretch[seen]
    first, last = np.searchsorted(line, line), np.searchsorted(line, line, side="right")
    at = np.arange(len(seen))
    begin, end = np.maximum(at - _HALF_WINDOW, first), np.minimum(at + _HALF_WINDOW + 1, last)

    def total(values: Array, start: NDArray[np.intp], stop: NDArray[np.intp]) -> Array:
        running = np.concatenate(([0.0], np.cumsum(values)))
        difference: Array = running[stop] - running[start]
        return difference

    weight = pair_sigma[seen] ** -2
    inside, whole = total(weight, begin, end), total(weight, first, last)
    inside_sum = total(weight * pair[seen], begin, end)
    rest = whole - inside
    with np.errstate(divide="ignore", invalid="ignore"):
        elsewhere = (total(weight * pair[seen], first, last) - inside_sum) / rest
        rest_variance = np.where(rest > weight, 1 / rest + change_tan**2, np.inf)
    (ground, ground_sigma), (others, others_sigma) = beside
    mean = inside_sum / inside
    by_rest = mean - elsewhere, np.sqrt(1 / inside + rest_variance)
    by_others = mean - others[seen], np.sqrt(1 / inside + others_sigma[seen] ** 2)
    farther = np.nan_to_num(np.abs(by_others[0] / by_others[1])) > np.nan_to_num(
        np.abs(by_rest[0] / by_rest[1])
    )
    by_ground = mean - ground[seen], np.sqrt(1 / inside + ground_sigma[seen] ** 2)
    on_ground = np.isfinite(ground[seen])
    for out, ground_part, others_part, rest_part in zip(
        (residual, sigma), by_ground, by_others, by_rest, strict=True
    ):
        out[seen] = np.where(on_ground, ground_part, np.where(farther, others_part, rest_part))
    return residual, sigma
