"""Tone along a wire: field, level and relative current.

A long straight wire at depth D under the receiver gives a level that peaks at I/(2D) beside the
null; so level times depth is current, up to the receiver's own factor.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]

_BOTH_NEIGHBOURS = 3
_WINDOW = 5

_LEVEL_SCATTER = 0.05
_FEW_RUNS = 4

USUAL_DECAY_PER_M = 0.001
"""Decay of log current in a metre where nothing tells it. Project choice."""

NOISE_FLOOR = 0.01
"""Least relative noise that is believed of a level. Project choice: a read-out of two digits."""


def peak_level(current: Floats, depth_m: Floats) -> Floats:
    """Return the level beside the null, in units of current over metres.

    Parameters
    ----------
    current : ndarray
        Current in the wire, any unit.
    depth_m : ndarray
        Depth of the wire below the antenna in metres, same shape. NaN gives NaN.

    Returns
    -------
    ndarray
        I / (2 D), reached at one depth to either side of the null.

    References
    ----------
    Biot-Savart law of a long straight wire: the vertical component at offset x is
    I x / (x^2 + D^2), greatest at x = D. Any text on electromagnetic fields.

    Examples
    --------
    >>> peak_level(np.array([1.0]), np.array([0.25])).tolist()
    [2.0]
    """
    return current / (2.0 * depth_m)


def linear_level(level: Floats, *, scale: str = "linear") -> Floats:
    """Return levels on a linear scale.

    Parameters
    ----------
    level : ndarray
        Levels as read; ``0`` is silence on either scale, and NaN no reading.
    scale : {"linear", "decibel"}
        Scale of the receiver. Decibels are of field strength: 20 dB are a factor of ten.

    Returns
    -------
    ndarray
        Linear levels, same shape; silence stays 0, a negative linear level is NaN.

    Examples
    --------
    >>> linear_level(np.array([40.0, 0.0]), scale="decibel").tolist()
    [100.0, 0.0]
    >>> linear_level(np.array([])).tolist()
    []
    """
    level = np.asarray(level, dtype=np.float64)
    if scale == "decibel":
        return np.where(level == 0.0, 0.0, 10.0 ** (level / 20.0))
    return np.where(level < 0.0, np.nan, level)


def log_current(level: Floats, depth_m: Floats) -> Floats:
    """Return the natural logarithm of the relative current.

    Parameters
    ----------
    level : ndarray
        Linear levels of one gain. Silence and NaN give NaN.
    depth_m : ndarray
        Depth of the wire in metres, same shape.

    Returns
    -------
    ndarray
        log(2 D level).

    References
    ----------
    The inverse of `peak_level`.

    Examples
    --------
    >>> log_current(np.array([2.0, 0.0]), np.array([0.25, 0.25])).tolist()
    [0.0, nan]
    """
    heard = np.where(level > 0.0, level, np.nan)
    return np.log(2.0 * depth_m * heard)


def end_factor(distance_m: Floats, depth_m: float) -> Floats:
    """Return how much of a long wire's field is left near the wire's open end.

    Parameters
    ----------
    distance_m : ndarray
        Distance back from the end along the wire, in metres; negative beyond it.
    depth_m : float
        Distance from the wire to the antenna in metres.

    Returns
    -------
    ndarray
        Between 0 and 1: one half over the end, 0.95 at two depths before it.

    References
    ----------
    Biot-Savart law of a half-infinite wire: (1 + s / sqrt(s^2 + D^2)) / 2.

    Examples
    --------
    >>> end_factor(np.array([0.0, 0.6]), 0.3).round(3).tolist()
    [0.5, 0.947]
    """
    return 0.5 * (1.0 + distance_m / np.hypot(distance_m, depth_m))


def neighbour_residuals(chainage_m: Floats, values: Floats) -> Floats:
    """Return how far each inner value is from the line through its two neighbours.

    Parameters
    ----------
    chainage_m : ndarray
        Increasing distances along the run in metres.
    values : ndarray
        Values at them, such as log current; no NaN.

    Returns
    -------
    ndarray
        Two fewer than the values, scaled so that their standard deviation is that of the values'
        noise; empty for fewer than three values.

    References
    ----------
    Pseudo-residuals: Gasser, Sroka and Jennen-Steinmetz (1986), Biometrika 73(3) (from memory).

    Examples
    --------
    >>> neighbour_residuals(np.arange(5.0), np.arange(5.0)).tolist()
    [0.0, 0.0, 0.0]
    """
    if len(values) < _BOTH_NEIGHBOURS:
        return np.empty(0)
    span = chainage_m[2:] - chainage_m[:-2]
    share = np.where(span > 0, chainage_m[1:-1] - chainage_m[:-2], 0.5)
    share = share / np.where(span > 0, span, 1.0)
    residual = values[1:-1] - (1 - share) * values[:-2] - share * values[2:]
    scaled: Floats = residual / np.sqrt(1 + share**2 + (1 - share) ** 2)
    return scaled


def level_noise(residuals: Floats) -> float:
    """Return one robust standard deviation of residuals.

    Parameters
    ----------
    residuals : ndarray
        From `neighbour_residuals`. A step or a lone bump hardly moves the result.

    Returns
    -------
    float
        1.4826 times the median absolute residual; NaN for none.

    References
    ----------
    Median absolute deviation of the normal distribution: Hampel (1974), JASA 69(346)
    (from memory).

    Examples
    --------
    >>> level_noise(np.array([0.1, -0.1, 0.1, 5.0]))
    0.14826
    """
    if not len(residuals):
        return float("nan")
    return float(1.4826 * np.median(np.abs(residuals)))


def usual_decay(run: npt.NDArray[np.intp], chainage_m: Floats, values: Floats) -> float:
    """Return by how much log current falls in a metre along sound runs of one property.

    Parameters
    ----------
    run : ndarray of int
        ``(n,)`` the run of each value.
    chainage_m : ndarray
        ``(n,)`` distances along the runs in metres.
    values : ndarray
        ``(n,)`` log current; no NaN.

    Returns
    -------
    float
        Lower quartile of the runs' slopes, the better known weighing more, since a fault makes a
        run steeper; drawn toward 0.001 where they are few or short. A log ratio, not negative.

    References
    ----------
    Least squares slopes; that a quarter of the runs are sound is a project choice.

    Examples
    --------
    >>> x = np.tile(np.arange(0.0, 100, 5), 36)
    >>> round(usual_decay(np.repeat(np.arange(36), 20), x, -0.006 * x), 4)
    0.0054
    """
    if not len(run):
        return USUAL_DECAY_PER_M
    count = np.maximum(np.bincount(run), 1)
    along = chainage_m - (np.bincount(run, chainage_m) / count)[run]
    spread = np.bincount(run, along**2)
    told = spread > 0
    decay = -np.bincount(run, along * values)[told] / spread[told]
    weight = 1.0 / (_LEVEL_SCATTER**2 / spread[told] + USUAL_DECAY_PER_M**2)
    order = np.argsort(decay, kind="stable")
    share = np.cumsum(weight[order])
    if not len(share):
        return USUAL_DECAY_PER_M
    lower = float(decay[order][np.searchsorted(share, 0.25 * share[-1])])
    runs = float(share[-1]) * USUAL_DECAY_PER_M**2
    trust = runs / (runs + _FEW_RUNS)
    return float(max(trust * lower + (1.0 - trust) * USUAL_DECAY_PER_M, 0.0))


def lone_points(values: Floats, *, sigma: float) -> npt.NDArray[np.bool_]:
    """Return which inner values stand alone: bumps of one or two points, not steps.

    Parameters
    ----------
    values : ndarray
        Values along a run.
    sigma : float
        Their noise.

    Returns
    -------
    ndarray of bool
        True where a value is more than four sigma from the median of itself and its neighbours,
        two to either side (one beside the ends). The end points are never marked.

    References
    ----------
    Running median; window and limit are project choices: two points is the longest bump that
    five points outvote.

    Examples
    --------
    >>> lone_points(np.array([0, 0, 0, 9, 0, 0, 0, 5, 5, 5.0]), sigma=1.0).nonzero()[0].tolist()
    [3]
    """
    marked = np.zeros(len(values), dtype=bool)
    if len(values) < _WINDOW:
        return marked
    windows = np.lib.stride_tricks.sliding_window_view(values, _WINDOW)
    marked[2:-2] = np.abs(values[2:-2] - np.median(windows, axis=1)) > 4 * sigma
    for middle in (1, len(values) - 2):
        near = values[middle - 1 : middle + 2]
        marked[middle] = abs(values[middle] - np.median(near)) > 4 * sigma
    return marked
