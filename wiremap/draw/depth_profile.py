"""The depth profile of a run, as a picture."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.axes import Axes

_WIRE, _LIMIT, _READING = "#1b5e9a", "#b3261e", "#222222"
_TWO_SIDED_95 = 1.96


def plot_depth_profile(
    curve: pd.DataFrame, readings: pd.DataFrame, *, min_cover_m: float, ax: Axes | None = None
) -> Axes:
    """Draw a run's depth against chainage: readings, curve, 95 % band, cover limit.

    Parameters
    ----------
    curve : DataFrame
        One run's rows of the curves: chainage_m, depth_m, depth_sigma_m; gaps where NaN.
    readings : DataFrame
        One run's rows of ``depth_readings``: chainage_m, depth_m, depth_sigma_m.
    min_cover_m : float
        Cover limit, drawn as a line.
    ax : matplotlib Axes, optional
        Drawn into; a new figure where not given.

    Returns
    -------
    matplotlib Axes
        Ground at the top, depth downward, metres.

    Raises
    ------
    MissingExtraError
        matplotlib is not installed.
    """
    try:
        import matplotlib.pyplot as plt
    except ImportError as error:
        from wiremap.errors import MissingExtraError

        raise MissingExtraError("matplotlib", "plot") from error

    if ax is None:
        _, ax = plt.subplots(figsize=(9, 3), layout="constrained")
    deepest = [ax.get_ylim()[0]] if ax.yaxis_inverted() else []  # of axes that share this one's
    chainage, depth = curve["chainage_m"], curve["depth_m"]
    half = _TWO_SIDED_95 * curve["depth_sigma_m"]
    ax.fill_between(
        chainage, (depth - half).clip(lower=0), depth + half, color=_WIRE, alpha=0.2, lw=0,
        label="95 % interval",
    )  # fmt: skip
    ax.plot(chainage, depth, color=_WIRE, lw=1.5, label="wire")
    read, read_half = readings["depth_m"], _TWO_SIDED_95 * readings["depth_sigma_m"]
    ax.errorbar(
        readings["chainage_m"], read, yerr=read_half,
        fmt="o", ms=3.5, lw=1, capsize=2, color=_READING, label="readings",
    )  # fmt: skip
    ax.axhline(min_cover_m, color=_LIMIT, lw=1, ls="--", label=f"cover limit {min_cover_m:.3f} m")
    ax.axhline(0, color="#5b7f3a", lw=2)
    ax.set(xlabel="Chainage (m)", ylabel="Depth (m)")
    deepest += [1.05 * (depth + half).max(), 1.05 * (read + read_half).max(), 1.2 * min_cover_m]
    ax.set_ylim(top=-0.02, bottom=np.nanmax(deepest))
    ax.legend(loc="lower right", fontsize="small", ncols=2)
    return ax
