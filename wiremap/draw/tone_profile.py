"""The tone of a run, as a picture."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.axes import Axes

_MODEL, _LEVEL = "#1b5e9a", "#222222"
_FAULTS = {"break": "#b3261e", "leak": "#c77700", "open_end": "#6a3d9a", "reported": "#555555"}


def plot_tone_profile(tones: pd.DataFrame, faults: pd.DataFrame, *, ax: Axes | None = None) -> Axes:
    """Draw a run's relative current against chainage: levels, model, band, and faults.

    Parameters
    ----------
    tones : DataFrame
        One run's rows of the tone profiles: chainage_m, current, model, low, high. NaN leaves a
        gap; empty draws no levels.
    faults : DataFrame
        One run's rows of ``faults``: kind, chainage_m, chainage_low_m, chainage_high_m.
    ax : matplotlib Axes, optional
        Drawn into; a new figure where not given.

    Returns
    -------
    matplotlib Axes
        Current relative to the run's start upward, metres along the run to the right; each fault
        a line with its 95 % interval shaded.

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
    chainage = tones["chainage_m"]
    ax.fill_between(
        chainage, tones["low"], tones["high"], color=_MODEL, alpha=0.2, lw=0, label="95 % of levels"
    )
    ax.plot(chainage, tones["model"], color=_MODEL, lw=1.5, label="model")
    ax.plot(chainage, tones["current"], "o", ms=3.5, color=_LEVEL, label="level times depth")
    _mark_faults(ax, faults)
    ax.set(xlabel="Chainage (m)", ylabel="Relative current")
    ax.set_ylim(bottom=0)
    ax.legend(loc="lower left", fontsize="small", ncols=2)
    return ax


def _mark_faults(ax: Axes, faults: pd.DataFrame) -> None:
    """Draw each fault's place and interval, named once a kind."""
    named: set[str] = set()
    columns = ("kind", "chainage_m", "chainage_low_m", "chainage_high_m")
    for kind, middle, low, high in zip(*(faults[c] for c in columns), strict=True):
        label = None if kind in named else str(kind).replace("_", " ")
        named.add(kind)
        ax.axvspan(low, high, color=_FAULTS[kind], alpha=0.15, lw=0)
        ax.axvline(middle, color=_FAULTS[kind], lw=1.5, label=label)
