"""The as-built on matplotlib axes: for notebooks and reports.

Reads the layers of an as-built; draws them in the colours and symbols of `wiremap.draw.styles`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from wiremap.draw import styles
from wiremap.errors import MissingExtraError

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    import pandas as pd
    from matplotlib.axes import Axes

POINTS_PER_PX = 0.75
_LONGEST_LABEL = 24


def plot_asbuilt(layers: Mapping[str, pd.DataFrame], *, ax: Axes | None = None) -> Axes:
    """Draw runs, devices, faults and the dig buffer of a property.

    Parameters
    ----------
    layers : mapping of str to DataFrame
        Layers of an as-built by name, in one CRS; any may be missing or empty.
    ax : Axes, optional
        Axes to draw on; new ones where not given.

    Returns
    -------
    Axes
        In the units of the layers' CRS, equal on both axes.

    Raises
    ------
    MissingExtraError
        matplotlib is not installed.

    Notes
    -----
    The drawing and its dig-by-hand band are advisory only; they are not a utility locate.

    Examples
    --------
    >>> plot_asbuilt({}).get_aspect()
    1.0
    """
    axes = _new_axes() if ax is None else ax
    _draw_areas(axes, layers.get("dig_buffer"))
    _draw_wires(axes, layers.get("wire_runs"))
    for order, name in enumerate(("references", "equipment", "splices", "controllers", "valves",
                                  "faults")):  # fmt: skip
        _draw_points(axes, layers.get(name), name, order=5 + order)
    axes.set_aspect("equal")
    axes.set_axis_off()
    axes.set_title("Advisory only, not a utility locate", loc="left", fontsize=8)
    return axes


def _new_axes() -> Axes:
    try:
        import matplotlib.pyplot as plt
    except ImportError as error:
        raise MissingExtraError("matplotlib", "plot") from error
    axes: Axes = plt.subplots(layout="constrained")[1]
    return axes


def _placed(frame: pd.DataFrame | None) -> Any:
    """Return the rows that have a geometry; None where there are none."""
    if frame is None or len(frame) == 0:
        return None
    kept = frame.loc[~(frame.geometry.isna() | frame.geometry.is_empty)]
    return kept if len(kept) else None


def _draw_areas(axes: Axes, frame: pd.DataFrame | None) -> None:
    placed = _placed(frame)
    if placed is None:
        return
    style = styles.STYLES["dig_buffer"]
    wash = placed.union_all()
    placed.iloc[:1].set_geometry([wash]).plot(
        ax=axes, facecolor=style.ink.light, edgecolor="none", alpha=style.fill_opacity, zorder=1
    )


def _draw_wires(axes: Axes, runs: pd.DataFrame | None) -> None:
    from matplotlib.collections import LineCollection

    placed = _placed(runs)
    if placed is None:
        return
    zones = placed["zones"] if "zones" in placed else [""] * len(placed)
    inks = [styles.wire_ink(text if isinstance(text, str) else "") for text in zones]
    lines = [np.asarray(line.coords)[:, :2] for line in placed.geometry]
    width = styles.STYLES["wire_runs"].width_px * POINTS_PER_PX
    axes.add_collection(
        LineCollection(lines, colors=[ink.ink.light for ink in inks], linewidths=width, zorder=3)
    )
    striped = [(line, ink) for line, ink in zip(lines, inks, strict=True) if ink.tracer is not None]
    axes.add_collection(
        LineCollection(
            [line for line, _ in striped],
            colors=[ink.tracer.light for _, ink in striped if ink.tracer],
            linestyles=[(0, ink.tracer_dash_px) if ink.tracer_dash_px else "solid"
                        for _, ink in striped] or "solid",
            linewidths=width / 3,
            zorder=4,
        )
    )  # fmt: skip
    axes.autoscale_view()


def _draw_points(axes: Axes, frame: pd.DataFrame | None, name: str, *, order: int) -> None:
    placed = _placed(frame)
    if placed is None:
        return
    xy = np.column_stack([placed.geometry.x, placed.geometry.y])
    for style, rows in _by_style(placed, name):
        axes.scatter(
            xy[rows, 0],
            xy[rows, 1],
            s=(style.size_px * POINTS_PER_PX) ** 2,
            marker=_marker(style.symbol),
            facecolor=style.fill.light if style.fill else "none",
            edgecolor=style.ink.light,
            linewidth=style.width_px * POINTS_PER_PX,
            zorder=order,
        )
    label = {"valves": "zone", "controllers": "controller"}.get(name)
    if label is None or label not in placed:
        return
    for text, at in zip(placed[label], xy, strict=True):
        if isinstance(text, str) and text:
            axes.annotate(
                text[:_LONGEST_LABEL], at, xytext=(6, 6), textcoords="offset points",
                fontsize=8, parse_math=False, zorder=20,
            )  # fmt: skip


def _by_style(placed: pd.DataFrame, name: str) -> Iterator[tuple[styles.Style, Any]]:
    """Yield each style that the layer's rows take, with the rows that take it."""
    style = styles.STYLES[name]
    values = placed[style.by].astype(str) if style.by and style.by in placed else None
    if values is None:
        yield style, np.ones(len(placed), dtype=bool)
        return
    repaired = np.zeros(len(placed), dtype=bool)
    if name == "faults" and "status" in placed:
        repaired = (placed["status"] == "repaired").fillna(value=False).to_numpy(dtype=bool)
    for value in values.unique():
        yield style.of(value), (values == value).to_numpy(dtype=bool) & ~repaired
    if repaired.any():
        yield styles.REPAIRED, repaired


def _marker(symbol: str) -> Any:
    """Return a symbol's corners as a matplotlib marker."""
    corners = styles.SYMBOLS[symbol]
    return [(x, -y) for x, y in (*corners, corners[0])] if corners else "o"
