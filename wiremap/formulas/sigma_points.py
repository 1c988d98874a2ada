"""Uncertainty of a computed value from central differences one sigma wide."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import ArrayLike, NDArray


class Propagated(NamedTuple):
    """A computed value, its second-order bias, and what each error source adds.

    Attributes
    ----------
    value : array, shape (..., n)
        The value as computed.
    bias : array, shape (..., n)
        How much the value is too great on average, to second order.
    parts : array, shape (k, ..., n)
        Change of the value for one sigma of each source, signed.
    """

    value: NDArray[np.float64]
    bias: NDArray[np.float64]
    parts: NDArray[np.float64]

    @property
    def sigma(self) -> NDArray[np.float64]:
        """One standard deviation, all sources and the bias together."""
        total: NDArray[np.float64] = np.sqrt((self.parts**2).sum(axis=0) + self.bias**2)
        return total


def propagate(
    function: Callable[[NDArray[np.float64]], NDArray[np.float64]], sigmas: ArrayLike
) -> Propagated:
    """Return a value with the share of each independent error source.

    Parameters
    ----------
    function : callable
        Takes the errors of the sources, shape (k, n), and returns the values, shape (..., n).
        Zero errors give the value itself.
    sigmas : array-like, shape (k, n)
        One standard deviation of each source. Zero for a source that does not act.

    Returns
    -------
    Propagated
        NaN where the function gives NaN.

    References
    ----------
    .. [1] Norgaard, Poulsen, Ravn, "New developments in state estimation for nonlinear
       systems", Automatica 36 (2000), the second-order filter with unit step (from memory).

    Examples
    --------
    >>> squared = propagate(lambda error: (2.0 + error[0]) ** 2, [[0.1]])
    >>> float(squared.value.round(6)[0]), float(squared.bias.round(6)[0])
    (4.0, 0.01)
    """
    step = np.asarray(sigmas, dtype=float)
    middle = np.asarray(function(np.zeros_like(step)), dtype=float)
    parts, bias = [], np.zeros_like(middle)
    for source in range(len(step)):
        error = np.zeros_like(step)
        error[source] = step[source]
        above, below = function(error), function(-error)
        parts.append((above - below) / 2)
        bias = bias + (above + below - 2 * middle) / 2
    return Propagated(middle, bias, np.array(parts))
