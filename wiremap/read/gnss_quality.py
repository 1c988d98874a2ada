"""How far a GNSS position may be off, from what the receiver says of its fix.

The figures are for the horizontal radial RMS at HDOP 1; the RMS grows in proportion to HDOP.
They are project choices on the cautious side of common practice: a stated RMS or the receiver's
own error estimate (GST) always goes before them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

RMS_AT_HDOP_1_M: dict[int, float] = {1: 4.0, 2: 1.5, 3: 3.0, 4: 0.025, 5: 0.4, 6: 15.0}
"""Horizontal radial RMS in metres at HDOP 1, by GGA fix quality.

- 1, autonomous: 4 m. Open-sky single-frequency error budgets come to about 4 m (1 sigma) a range.
- 2, differential (beacon or satellite): 1.5 m. What is left is multipath and receiver noise.
- 3, precise service: 3 m. As autonomous with the ionosphere measured.
- 4, real-time kinematic, fixed: 0.025 m. Makers commonly state 0.01 m plus 1 mm a km per axis.
- 5, real-time kinematic, float: 0.4 m. Decimetres until the ambiguities are fixed.
- 6, dead reckoning: 15 m. Grows with time since the last fix, which the sentence does not say.

Quality 7 (typed in) and anything else gives no figure, and 0 and 8 (none, simulator) no position.
"""


def estimate_rms(quality: ArrayLike, hdop: ArrayLike) -> NDArray[np.float64]:
    """Return the horizontal radial RMS that a fix's quality and HDOP let expect.

    Parameters
    ----------
    quality : array of float
        GGA fix quality, 0 to 8.
    hdop : array of float
        Horizontal dilution of precision, of the same shape.

    Returns
    -------
    array of float
        Metres; NaN where the quality has no figure or HDOP is missing or not positive.

    Examples
    --------
    >>> estimate_rms([1, 4, 7], [0.9, 1.0, 1.0]).tolist()
    [3.6, 0.025, nan]
    """
    quality = np.asarray(quality, dtype=float)
    hdop = np.asarray(hdop, dtype=float)
    at_one = np.full(quality.shape, np.nan)
    for number, rms_m in RMS_AT_HDOP_1_M.items():
        at_one[quality == number] = rms_m
    return np.where(hdop > 0, at_one * hdop, np.nan)
