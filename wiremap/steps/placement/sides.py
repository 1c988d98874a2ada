"""On which side of its two references a taped point lies, where the row does not say."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from wiremap.formulas.repeats import radial_rms
from wiremap.steps.placement.rows import numbers, words

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

    from wiremap.steps.placement.rows import Fixes

    Floats = NDArray[np.float64]
    Rows = NDArray[np.intp]

CLEAR = 3.0
"""A candidate is taken for the point's side where the other is this many times as far from what
is known, and by this many times its noise. Project choice."""


class Third(NamedTuple):
    """The third tie of each row: its fixed point, plane distance (NaN: none) and noise."""

    xy: Floats
    distance: Floats
    sigma_m: float


def tell_sides(
    frame: pd.DataFrame,
    rows: Rows,
    written: Floats,
    near: Fixes,
    candidates: tuple[Floats, Floats],
    *,
    third: Third,
) -> Floats:
    """Return the side of each row: +1 left, -1 right, 0 where nothing tells.

    1. Where the third tie speaks clearly for one side, that one, whatever was written.
    2. The side as written.
    3. The side clearly nearer to the row's own other position, else to the placed rows next to it
       in its run. `near` holds the positions known of all rows of `frame`.
    """
    off = [np.abs(np.hypot(*(xy - third.xy).T) - third.distance) for xy in candidates]
    judged = _clear_side(*off, noise=np.full(len(rows), third.sigma_m))
    side = np.where(judged != 0, judged, written)
    if (side != 0).all():
        return side
    placed = near.xy.copy()
    own = near.xy[rows]
    solved = np.where((side > 0)[:, None], *candidates)
    placed[rows] = np.where(np.isnan(own) & (side != 0)[:, None], solved, own)
    rough = np.where(np.isfinite(own), own, _beside(frame, placed)[rows])
    noise = np.nan_to_num(radial_rms(near.cov[rows]))
    off = [np.hypot(*(xy - rough).T) for xy in candidates]
    return np.where(side == 0, _clear_side(*off, noise=noise), side)


def _clear_side(off_left: Floats, off_right: Floats, *, noise: Floats) -> Floats:
    """+1 or -1 where one candidate is off by much more than the other; NaN decides nothing."""
    apart = np.abs(off_left - off_right) > CLEAR * noise
    left, right = off_right > CLEAR * off_left, off_left > CLEAR * off_right
    sign: Floats = np.where(apart, left.astype(float) - right, 0.0)
    return sign


def _beside(frame: pd.DataFrame, placed: Floats) -> Floats:
    """Return the middle of the placed rows before and after each row in its run, else NaN."""
    runs, order = words(frame, "run"), numbers(frame, "order")
    codes = np.unique(runs.astype(str), return_inverse=True)[1]
    ranks = np.where(np.isfinite(order), order, np.arange(len(frame)))
    walk = np.lexsort((ranks, codes))
    known = np.isfinite(placed[walk]).all(axis=1)
    place = np.arange(len(walk))
    before = np.maximum.accumulate(np.where(known, place, -1))
    after = np.minimum.accumulate(np.where(known, place, len(walk))[::-1])[::-1]
    beside = np.full((2, *placed.shape), np.nan)
    for target, found in zip(beside, (before, after), strict=True):
        at = np.clip(found, 0, len(walk) - 1)
        same = (found == at) & (codes[walk][at] == codes[walk]) & (runs[walk] != "")
        target[walk[same]] = placed[walk[at[same]]]
    count = np.isfinite(beside).sum(axis=0)
    total = np.nansum(beside, axis=0)
    middle: Floats = np.divide(total, count, out=np.full_like(placed, np.nan), where=count > 0)
    return middle
