"""Direct-current arithmetic of a valve circuit: wire, coil, station reading, voltage at the valve.

All lengths are one way, along the wire, in metres; all functions take floats or arrays, NaN gives
NaN. A reading is evidence about a circuit, never a verdict.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

COPPER_OHM_M = 1e-6 / 58.0
"""Resistivity of annealed copper at 20 °C: IACS, 1/58 ohm mm^2/m (0.15328 ohm g/m^2)."""

COPPER_PER_C = 0.00393
"""Temperature coefficient of that resistivity at 20 °C, per degree Celsius (IACS)."""


def wire_diameter_m(awg: ArrayLike) -> NDArray[np.float64]:
    """Return the diameter of a solid wire of a gauge.

    Parameters
    ----------
    awg : array_like
        Gauge number, 0 to 44.

    Returns
    -------
    ndarray
        Metres, not rounded to the mil.

    References
    ----------
    ASTM B258, the geometric series of the gauge: 0.005 in times 92 to the power of (36 - n)/39.

    Examples
    --------
    >>> round(float(wire_diameter_m(18)) * 1000, 5)
    1.02369
    """
    return np.asarray(0.005 * 0.0254 * 92.0 ** ((36.0 - np.asarray(awg, dtype=float)) / 39.0))


def wire_ohm_per_m(awg: ArrayLike, *, temperature_c: ArrayLike = 20.0) -> NDArray[np.float64]:
    """Return the resistance of one metre of solid, uncoated copper wire.

    Parameters
    ----------
    awg : array_like
        Gauge number. NaN gives NaN.
    temperature_c : array_like
        Temperature of the wire, degrees Celsius.

    Returns
    -------
    ndarray
        Ohms per metre of one conductor.

    References
    ----------
    IACS resistivity and temperature coefficient; ASTM B258 diameter. Stranded wire reads about
    2 % higher (NEC Chapter 9 Table 8).

    Examples
    --------
    >>> round(float(wire_ohm_per_m(14)) * 304.8, 4)  # ohms per 1000 ft
    2.5254
    """
    area_m2 = np.pi / 4.0 * wire_diameter_m(awg) ** 2
    warmth = 1.0 + COPPER_PER_C * (np.asarray(temperature_c, dtype=float) - 20.0)
    return np.asarray(COPPER_OHM_M * warmth / area_m2)


def parallel_ohm(ohms: ArrayLike) -> float:
    """Return the resistance of several coils or conductors side by side.

    Parameters
    ----------
    ohms : array_like, shape (n,)
        Each branch in ohms; infinite for an open one. NaN gives NaN.

    Returns
    -------
    float
        Ohms; infinite where every branch is open or there is none.

    Examples
    --------
    >>> round(parallel_ohm([52.0, 24.0]), 3)
    16.421
    """
    with np.errstate(divide="ignore"):
        return float(np.divide(1.0, np.sum(1.0 / np.asarray(ohms, dtype=float))))


def station_ohm(
    coil_ohm: ArrayLike,
    path_length_m: ArrayLike,
    *,
    hot_ohm_per_m: ArrayLike,
    common_ohm_per_m: ArrayLike,
    coils: ArrayLike = 1,
) -> NDArray[np.float64]:
    """Return what a station reads against common: coils side by side, and wire both ways.

    Parameters
    ----------
    coil_ohm : array_like
        Resistance of one coil.
    path_length_m : array_like
        Wire path from the controller to the valve, one way.
    hot_ohm_per_m, common_ohm_per_m : array_like
        Resistance of the station's and of the common wire, per metre.
    coils : array_like
        How many equal coils the station has.

    Returns
    -------
    ndarray
        Ohms.

    Examples
    --------
    >>> round(float(station_ohm(30.0, 100.0, hot_ohm_per_m=0.02, common_ohm_per_m=0.01)), 2)
    33.0
    >>> round(float(station_ohm(30.0, 100.0, hot_ohm_per_m=0.02, common_ohm_per_m=0.01,
    ...                         coils=2)), 2)
    18.0
    """
    coil = np.asarray(coil_ohm, dtype=float) / np.asarray(coils, dtype=float)
    per_m = np.asarray(hot_ohm_per_m, dtype=float) + np.asarray(common_ohm_per_m, dtype=float)
    return np.asarray(coil + np.asarray(path_length_m, dtype=float) * per_m)


def implied_length_m(
    station_ohm: ArrayLike,
    coil_ohm: ArrayLike,
    *,
    hot_ohm_per_m: ArrayLike,
    common_ohm_per_m: ArrayLike,
    coils: ArrayLike = 1,
) -> NDArray[np.float64]:
    """Return the wire path that a reading implies once the coil is taken off.

    Parameters
    ----------
    station_ohm : array_like
        Station to common as read; infinite gives infinite.
    coil_ohm : array_like
        Resistance of one coil; 0 for far ends twisted together.
    hot_ohm_per_m, common_ohm_per_m : array_like
        Resistance of the station's and of the common wire, per metre.
    coils : array_like
        How many equal coils the station has.

    Returns
    -------
    ndarray
        Metres one way; negative where the reading is less than the coil alone.

    Examples
    --------
    >>> round(float(implied_length_m(33.0, 30.0, hot_ohm_per_m=0.02, common_ohm_per_m=0.01)), 3)
    100.0
    """
    coil = np.asarray(coil_ohm, dtype=float) / np.asarray(coils, dtype=float)
    per_m = np.asarray(hot_ohm_per_m, dtype=float) + np.asarray(common_ohm_per_m, dtype=float)
    return np.asarray((np.asarray(station_ohm, dtype=float) - coil) / per_m)


def valve_volts(
    supply_v: ArrayLike,
    current_a: ArrayLike,
    path_length_m: ArrayLike,
    *,
    hot_ohm_per_m: ArrayLike,
    common_ohm_per_m: ArrayLike,
) -> NDArray[np.float64]:
    """Return the voltage left at the valve under a current.

    Parameters
    ----------
    supply_v : array_like
        Voltage at the controller's terminals.
    current_a : array_like
        Current of all coils of the station together: inrush or holding.
    path_length_m : array_like
        Wire path from the controller to the valve, one way.
    hot_ohm_per_m, common_ohm_per_m : array_like
        Resistance of the station's and of the common wire, per metre.

    Returns
    -------
    ndarray
        Volts. The drop is taken as purely resistive, which over-states it a little on a coil.

    Examples
    --------
    >>> round(float(valve_volts(24.0, 0.4, 100.0, hot_ohm_per_m=0.02, common_ohm_per_m=0.01)), 2)
    22.8
    """
    per_m = np.asarray(hot_ohm_per_m, dtype=float) + np.asarray(common_ohm_per_m, dtype=float)
    drop = np.asarray(current_a, dtype=float) * np.asarray(path_length_m, dtype=float) * per_m
    return np.asarray(np.asarray(supply_v, dtype=float) - drop)


def reach_m(
    drop_v: ArrayLike,
    current_a: ArrayLike,
    *,
    hot_ohm_per_m: ArrayLike,
    common_ohm_per_m: ArrayLike,
) -> NDArray[np.float64]:
    """Return how far a valve may stand from the controller.

    Parameters
    ----------
    drop_v : array_like
        Voltage that may be lost in the wires.
    current_a : array_like
        Current of all coils of the station together, inrush as a rule.
    hot_ohm_per_m, common_ohm_per_m : array_like
        Resistance of the station's and of the common wire, per metre.

    Returns
    -------
    ndarray
        Metres of wire path, one way.

    Examples
    --------
    >>> r = wire_ohm_per_m(18)
    >>> round(float(reach_m(4.0, 0.5, hot_ohm_per_m=r, common_ohm_per_m=r)) / 0.3048)  # feet
    626
    """
    per_m = np.asarray(hot_ohm_per_m, dtype=float) + np.asarray(common_ohm_per_m, dtype=float)
    return np.asarray(
        np.asarray(drop_v, dtype=float) / (np.asarray(current_a, dtype=float) * per_m)
    )


def thinnest_awg(
    path_length_m: float,
    *,
    drop_v: float,
    current_a: float,
    temperature_c: float = 20.0,
    gauges: tuple[int, ...] = (18, 16, 14, 12, 10),
) -> int | None:
    """Return the thinnest gauge, both ways alike, that serves a valve.

    Parameters
    ----------
    path_length_m : float
        Wire path, one way.
    drop_v : float
        Voltage that may be lost in the wires.
    current_a : float
        Current of all coils of the station together.
    temperature_c : float
        Temperature of the wire.
    gauges : tuple of int
        Gauges to choose from, in any order.

    Returns
    -------
    int or None
        Gauge number; None where even the thickest loses too much.

    Examples
    --------
    >>> thinnest_awg(609.6, drop_v=2.0, current_a=0.4)
    10
    >>> thinnest_awg(6096.0, drop_v=2.0, current_a=0.4) is None
    True
    """
    for awg in sorted(gauges, reverse=True):
        per_m = float(wire_ohm_per_m(awg, temperature_c=temperature_c))
        reach = reach_m(drop_v, current_a, hot_ohm_per_m=per_m, common_ohm_per_m=per_m)
        if reach >= path_length_m:
            return awg
    return None
