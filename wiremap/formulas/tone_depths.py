"""Whether a step in the level is the current's or the depth's: what the depth readings say.

Where depth was read beside a level, their product is current without any interpolated depth.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import numpy.typing as npt

    from wiremap.formulas.tone_evidence import Levels

    Floats = npt.NDArray[np.float64]

_LEAKS_TO_DEPTH_STEPS = 3.0
_DECAY_SIGMA = 0.004
_UNKNOWN = 5.0
_TINY = 1e-6


def leak_share(levels: Levels, gap: int, others: list[int]) -> float:
    """Return the probability that a step down is a leak rather than a step in the depth.

    Parameters
    ----------
    levels : Levels
        With the depths read at some of them; a decay already taken out.
    gap : int
        The step lies between levels ``gap`` and ``gap + 1``.
    others : list of int
        Gaps of further steps, left free.

    Returns
    -------
    float
        Three quarters where no depth was read to one side of the step (project choice: a leak is
        thrice as likely as a trench that steps unseen where the level steps); 1 where the
        levels come without `read_shift`.

    References
    ----------
    Bayes factor of a step whose size is not known against none, normal errors: any text on
    Bayesian model choice.

    Examples
    --------
    >>> from wiremap.formulas.tone_evidence import Levels
    >>> x, noise = np.arange(8.0), np.full(8, 0.03)
    >>> level = np.where(x > 3, -0.3, 0.0)
    >>> free, unread = np.empty((8, 0)), np.full(8, np.nan)
    >>> taken_even = Levels(x, level, noise, noise, 15.0, free, unread, unread)
    >>> round(leak_share(taken_even, 3, []), 3)
    0.75
    >>> deeper = taken_even._replace(read_shift=-level, read_noise=np.full(8, 0.05))
    >>> leak_share(deeper, 3, []) < 0.5
    True
    """
    if not len(levels.read_shift):
        return 1.0
    drop, sigma = _read_step(levels, gap, others)
    if sigma >= _UNKNOWN:
        return _LEAKS_TO_DEPTH_STEPS / (1.0 + _LEAKS_TO_DEPTH_STEPS)
    from scipy.special import log_ndtr

    leak = -drop + sigma**2 / 2.0 + float(log_ndtr((drop - sigma**2) / sigma))
    depth = -0.5 * (drop / sigma) ** 2 - np.log(sigma * np.sqrt(2.0 * np.pi))
    log_odds = np.log(_LEAKS_TO_DEPTH_STEPS) + leak - depth
    return float(np.exp(-np.logaddexp(0.0, -log_odds)))


def _read_step(levels: Levels, gap: int, others: list[int]) -> tuple[float, float]:
    """Return the drop in log current over the points where depth was read, and its sigma."""
    at = np.flatnonzero(np.isfinite(levels.read_shift))
    if not (at <= gap).any() or not (at > gap).any():
        return 0.0, np.inf
    scatter = np.hypot(levels.noise[at], levels.read_noise[at])
    steps = [(at > each).astype(np.float64) for each in (gap, *others)]
    along = levels.chainage_m[at] - levels.chainage_m[at].mean()
    free = [np.ones(len(at)), *levels.free_steps[at].T]
    design = np.column_stack([along, *steps, *free]) / scatter[:, None]
    decay = np.zeros(design.shape[1])
    decay[0] = 1.0 / _DECAY_SIGMA
    design = np.vstack([design, decay])
    values = np.append((levels.log_current[at] + levels.read_shift[at]) / scatter, 0.0)
    weights = np.linalg.pinv(design, rcond=_TINY)[1]
    if abs(float(weights @ design[:, 1]) - 1.0) > _TINY:  # not to be told from the others
        return 0.0, np.inf
    return -float(weights @ values), float(np.sqrt((weights**2).sum()))
