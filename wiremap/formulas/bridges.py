"""Distances to a fault from readings taken at the wire's end: loop bridges, loop, capacitance.

Bridge arms are named so that P stands beside the sound wire's end and Q beside the faulty wire's
end at which the reading is taken; distances count from that end. Floats or arrays in, the same
out; NaN gives NaN. A distance from a reading is evidence of where to open first, never a verdict.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray


def murray_ohm(p: ArrayLike, q: ArrayLike, loop_ohm: ArrayLike) -> NDArray[np.float64]:
    """Return the wire resistance up to an earth fault by the Murray loop.

    Parameters
    ----------
    p, q : array_like
        Bridge arms at balance, in ohms or as a ratio.
    loop_ohm : array_like
        Resistance of the whole loop: faulty wire out, sound wire back.

    Returns
    -------
    ndarray
        Ohms from the test end to the fault.

    References
    ----------
    Murray loop at balance, X = Q/(P + Q) R; any text on electrical measurement.

    Examples
    --------
    >>> float(murray_ohm(3.0, 1.0, 8.0))
    2.0
    """
    p, q = np.asarray(p, dtype=float), np.asarray(q, dtype=float)
    return np.asarray(q / (p + q) * np.asarray(loop_ohm, dtype=float))


def murray_m(
    p: ArrayLike,
    q: ArrayLike,
    length_m: ArrayLike,
    *,
    sound_ohm_per_m: ArrayLike = 1.0,
    faulty_ohm_per_m: ArrayLike = 1.0,
) -> NDArray[np.float64]:
    """Return the distance to an earth fault by the Murray loop.

    Parameters
    ----------
    p, q : array_like
        Bridge arms at balance, in ohms or as a ratio.
    length_m : array_like
        Length of the wire from end to end, one way; both wires are as long.
    sound_ohm_per_m, faulty_ohm_per_m : array_like
        Resistance of the sound and of the faulty wire per metre; only their ratio counts.

    Returns
    -------
    ndarray
        Metres from the test end to the fault. Does not depend on the fault's own resistance.

    References
    ----------
    Murray loop, x = Q/(P + Q) (L r_s + L r_f)/r_f.

    Examples
    --------
    >>> float(murray_m(3.0, 1.0, 600.0))
    300.0
    """
    length, faulty = np.asarray(length_m, dtype=float), np.asarray(faulty_ohm_per_m, dtype=float)
    loop = length * (np.asarray(sound_ohm_per_m, dtype=float) + faulty)
    return np.asarray(murray_ohm(p, q, loop) / faulty)


def varley_loop_ohm(p: ArrayLike, q: ArrayLike, s_loop_ohm: ArrayLike) -> NDArray[np.float64]:
    """Return the loop resistance from the Varley bridge's first reading.

    Parameters
    ----------
    p, q : array_like
        Ratio arms.
    s_loop_ohm : array_like
        Variable arm at balance with the battery on the far end of the ratio arms.

    Returns
    -------
    ndarray
        Ohms of the whole loop, P/Q times the arm.

    Examples
    --------
    >>> float(varley_loop_ohm(1000.0, 1000.0, 4.97))
    4.97
    """
    ratio = np.asarray(p, dtype=float) / np.asarray(q, dtype=float)
    return np.asarray(ratio * np.asarray(s_loop_ohm, dtype=float))


def varley_ohm(
    p: ArrayLike, q: ArrayLike, s_earth_ohm: ArrayLike, loop_ohm: ArrayLike
) -> NDArray[np.float64]:
    """Return the wire resistance up to an earth fault by the Varley loop.

    Parameters
    ----------
    p, q : array_like
        Ratio arms.
    s_earth_ohm : array_like
        Variable arm at balance with the battery earthed.
    loop_ohm : array_like
        Resistance of the whole loop.

    Returns
    -------
    ndarray
        Ohms from the test end to the fault.

    References
    ----------
    Varley loop, X = (Q R - P S)/(P + Q); half the difference of the readings where P equals Q.

    Examples
    --------
    >>> round(float(varley_ohm(1000.0, 1000.0, 3.314173, 4.971260)), 6)
    0.828544
    """
    p, q = np.asarray(p, dtype=float), np.asarray(q, dtype=float)
    loop, earth = np.asarray(loop_ohm, dtype=float), np.asarray(s_earth_ohm, dtype=float)
    return np.asarray((q * loop - p * earth) / (p + q))


def short_m(
    loop_ohm: ArrayLike, *, hot_ohm_per_m: ArrayLike, common_ohm_per_m: ArrayLike
) -> NDArray[np.float64]:
    """Return how far away two wires touch, at most.

    Parameters
    ----------
    loop_ohm : array_like
        Resistance between the two wires at the test end.
    hot_ohm_per_m, common_ohm_per_m : array_like
        Resistance of the two wires per metre.

    Returns
    -------
    ndarray
        Metres; an upper bound, because the contact's own resistance adds to the reading.

    Examples
    --------
    >>> float(short_m(3.0, hot_ohm_per_m=0.02, common_ohm_per_m=0.01))
    100.0
    """
    per_m = np.asarray(hot_ohm_per_m, dtype=float) + np.asarray(common_ohm_per_m, dtype=float)
    return np.asarray(np.asarray(loop_ohm, dtype=float) / per_m)


def capacitance_m(
    near_capacitance: ArrayLike, far_capacitance: ArrayLike, length_m: ArrayLike
) -> NDArray[np.float64]:
    """Return the distance to a break from the capacitance read at both ends.

    Parameters
    ----------
    near_capacitance, far_capacitance : array_like
        Capacitance of the broken wire to the others, read at the near and at the far end, in one
        unit.
    length_m : array_like
        Length of the wire from end to end.

    Returns
    -------
    ndarray
        Metres from the near end.

    Examples
    --------
    >>> float(capacitance_m(100.0, 400.0, 10.0))
    2.0
    """
    near, far = np.asarray(near_capacitance, dtype=float), np.asarray(far_capacitance, dtype=float)
    return np.asarray(np.asarray(length_m, dtype=float) * near / (near + far))
