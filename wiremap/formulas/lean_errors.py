"""How the lean of the receiver was held, judged by how the depths of a property scatter.

A lean held wrong on every reading shifts all depths alike and shows nowhere; one held wrong at
each pair makes depths scatter along the runs; one held wrong at each side makes the two offsets
of a pair uneven, as a slope does. What scatters is not shared, and is measured; what is left of
the accuracy stated may be shared.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Array = NDArray[np.float64]

LEVELS: tuple[float, ...] = (0.0, 0.25, 0.5, 0.75, 1.0, 1.5, 2.25)
"""Variances that the error of each side, and of each pair, may have, in units of that stated."""
_SHARED = (0.05, 0.15, 0.25, 0.4, 0.55, 0.75, 1.0, 1.35, 1.8, 2.4)
_HELD_BY = 2.5
_LEAST_HELD_BY = 0.5
_TOTAL_SPREAD = 0.25
_TOTAL_FREEDOM = 3.0
_EDGE = 0.06


class LeanError(NamedTuple):
    """How the lean was held.

    Attributes
    ----------
    sigma_deg : float
        Standard deviation of the lean on one side of a pair.
    common_share : float
        Share of its variance that the two sides of a pair have in common.
    systematic_share : float
        Share of it that all readings have in common; at most `common_share`.
    """

    sigma_deg: float
    common_share: float
    systematic_share: float


def weigh_lean(by_depth: ArrayLike, by_slope: ArrayLike, *, stated: LeanError) -> LeanError:
    """Return how the lean was held, from what is stated and from what the readings favour.

    Parameters
    ----------
    by_depth : array-like, shape (k, k)
        Log evidence of the depths for each variance of `LEVELS` of the lean of each side (rows)
        and of each pair (columns).
    by_slope : array-like, shape (k,)
        Log evidence of the pairs' own slopes for each variance of the lean of each side.
    stated : LeanError
        What is held before any reading.

    Returns
    -------
    LeanError
        Means over all variances of side, pair and property.

    Notes
    -----
    What all readings share cannot be seen in them: it is what the total stated leaves over. The
    total is held near the one stated by Student's t of its logarithm, the shares by a Dirichlet
    density about those stated: project choices, set so that few readings leave what was stated
    and a hundred show an error that is not shared.

    Examples
    --------
    >>> none, stated = np.zeros(len(LEVELS)), LeanError(2.0, 0.5, 0.3)
    >>> [round(x, 2) for x in weigh_lean(none + none[:, None], none, stated=stated)]
    [2.0, 0.53, 0.37]
    >>> scattered = -10 * np.abs(np.array(LEVELS) - 1)
    >>> [round(x, 2) for x in weigh_lean(none + none[:, None], scattered, stated=stated)]
    [2.23, 0.22, 0.17]
    """
    levels, shared = np.array(LEVELS), np.array(_SHARED)
    parts = np.meshgrid(levels, levels, shared, indexing="ij")
    total = parts[0] + parts[1] + parts[2]
    shares = (1 - stated.common_share, stated.common_share - stated.systematic_share,
              stated.systematic_share)  # fmt: skip
    off = (np.log(total) / _TOTAL_SPREAD) ** 2 / _TOTAL_FREEDOM
    belief = -(_TOTAL_FREEDOM + 1) / 2 * np.log1p(off) - len(parts) * np.log(total)
    for part, share in zip(parts, shares, strict=True):
        # the edges stand half a step off, where the density is finite
        near = np.log((part + _EDGE) / (total + len(parts) * _EDGE))
        belief += (max(_HELD_BY * share, _LEAST_HELD_BY) - 1) * near
    width, shared_width = np.log(np.gradient(levels)), np.log(np.gradient(shared))
    belief += width[:, None, None] + width[None, :, None] + shared_width
    belief += np.asarray(by_depth)[:, :, None] + np.asarray(by_slope)[:, None, None]
    weight = np.exp(belief - belief.max())
    side, pair, common = (float((weight * part).sum() / weight.sum()) for part in parts)
    whole = side + pair + common
    return LeanError(
        stated.sigma_deg * float(np.sqrt(whole)), (pair + common) / whole, common / whole
    )
