"""Positional accuracy from check points: NSSDA and ASPRS figures."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

RADIAL_95 = float(np.sqrt(-np.log(0.05)))
"""1.7308: radius of 95 % over the radial RMSE, equal errors in both axes (FGDC-STD-007.3)."""

AXIS_95 = float(np.sqrt(-2 * np.log(0.05)))
"""2.4477: radius of 95 % over the RMSE of one axis (FGDC-STD-007.3, App. 3-A)."""

VERTICAL_95 = 1.9600
"""Interval of 95 % over the vertical RMSE (FGDC-STD-007.3, App. 3-A.2)."""

MIN_AXIS_RATIO = 0.6
"""Smaller over larger axis RMSE below which the NSSDA gives no formula (App. 3-A.1)."""

NSSDA_POINTS, ASPRS_POINTS = 20, 30
"""Fewest check points of FGDC-STD-007.3 (3.2.2) and of ASPRS Ed. 2 (2023)."""


class Horizontal(NamedTuple):
    """Horizontal accuracy.

    Attributes
    ----------
    points : int
        Check points used.
    rmse_x, rmse_y, rmse_r : float
        Root mean square errors by axis and radial, metres.
    mean_x, mean_y : float
        Mean errors, metres: a shift that all points share.
    accuracy_95 : float
        Radius that holds 95 % of errors by the NSSDA; NaN where it gives no formula.
    bound_95 : float
        2.4477 times the larger axis RMSE: never too small for normal errors.
    """

    points: int
    rmse_x: float
    rmse_y: float
    rmse_r: float
    mean_x: float
    mean_y: float
    accuracy_95: float
    bound_95: float


def horizontal_accuracy(errors: ArrayLike) -> Horizontal:
    """Return the NSSDA figures of horizontal errors.

    Parameters
    ----------
    errors : array_like, shape (n, 2)
        Map less check position, metres. Rows with NaN are left out.

    Returns
    -------
    Horizontal
        NaN figures where no error is left.

    References
    ----------
    FGDC-STD-007.3-1998, *National Standard for Spatial Data Accuracy*, App. 3-A.

    Examples
    --------
    >>> met = horizontal_accuracy([(3, 4), (-3, -4)])
    >>> met.rmse_r, round(met.accuracy_95, 5)
    (5.0, 8.56711)
    >>> horizontal_accuracy([]).points
    0
    """
    e = np.asarray(errors, dtype=float).reshape(-1, 2)
    e = e[np.isfinite(e).all(axis=1)]
    if not len(e):
        return Horizontal(0, *[float("nan")] * 7)
    rmse_x, rmse_y = (float(v) for v in np.sqrt(np.mean(e**2, axis=0)))
    mean_x, mean_y = (float(v) for v in e.mean(axis=0))
    low, high = sorted((rmse_x, rmse_y))
    known = high == 0 or low / high >= MIN_AXIS_RATIO
    accuracy = AXIS_95 * 0.5 * (rmse_x + rmse_y) if known else float("nan")
    radial = float(np.hypot(rmse_x, rmse_y))
    return Horizontal(len(e), rmse_x, rmse_y, radial, mean_x, mean_y, accuracy, AXIS_95 * high)


def vertical_accuracy(errors: ArrayLike) -> tuple[int, float, float]:
    """Return count, RMSE and the 95 % interval of vertical errors.

    Parameters
    ----------
    errors : array_like, shape (n,)
        Map less check elevation, metres. NaN is left out.

    Returns
    -------
    count : int
    rmse_z : float
        Metres; NaN where no error is left.
    accuracy_95 : float
        1.96 times that.

    References
    ----------
    FGDC-STD-007.3-1998, App. 3-A.2.

    Examples
    --------
    >>> vertical_accuracy([0.1, -0.1])
    (2, 0.1, 0.196)
    """
    e = np.asarray(errors, dtype=float).reshape(-1)
    e = e[np.isfinite(e)]
    rmse = float(np.sqrt(np.mean(e**2))) if len(e) else float("nan")
    return len(e), rmse, VERTICAL_95 * rmse


def asprs_rmse(fit_rmse: float, survey_rms: float) -> float:
    """Return the RMSE that the 2023 standard reports: the check survey's own error added.

    Parameters
    ----------
    fit_rmse : float
        RMSE of map against check points, metres.
    survey_rms : float
        RMS of the check points' own positions, metres.

    Returns
    -------
    float
        Metres.

    References
    ----------
    ASPRS *Positional Accuracy Standards for Digital Geospatial Data*, Ed. 2 (2023), from memory.

    Examples
    --------
    >>> asprs_rmse(0.04, 0.03)
    0.05
    """
    return float(np.hypot(fit_rmse, survey_rms))
