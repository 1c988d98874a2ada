"""Depth profiles on paper: one panel a run, all at one scale, packed in rows."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from wiremap.draw.sheets.contents import natural_key, numbers, texts
from wiremap.draw.sheets.flow import Piece
from wiremap.draw.sheets.inks import BAND, FAINT, QUIET, RULE
from wiremap.draw.sheets.lettering import cut, text_width
from wiremap.draw.sheets.papers import POINTS_PER_M, SCALES, Scale
from wiremap.draw.sheets.pen import WHITE
from wiremap.draw.styles import COPPER, GRAPHITE, STYLES, wire_ink

if TYPE_CHECKING:
    from collections.abc import Sequence

    import pandas as pd
    from numpy.typing import NDArray

    from wiremap.draw.sheets.contents import Contents
    from wiremap.draw.sheets.pen import Pen
    from wiremap.draw.sheets.views import Box

    Floats = NDArray[np.float64]

_Z_95 = 1.96
_SEVERAL = 5
_LOWEST, _TALLEST = 6.5, 15.0


@dataclass(frozen=True)
class Panel:
    """What one run's profile shows: along, depth and sigma of the curve and of the readings."""

    run: str
    zones: str
    length_m: float
    curve: Floats
    readings: Floats


@dataclass(frozen=True)
class Profiles:
    """Panels still to be drawn, at one horizontal and one vertical scale.

    Attributes
    ----------
    contents : Contents
    panels : tuple of Panel
    scale : Scale
        Along the wire.
    deepest_m : float
        Depth at the foot of each panel.
    text_pt : float
    is_continued : bool
    plot_lines : float
        Height of a panel's plot in text sizes; more where a frame would be left half empty.
    """

    contents: Contents
    panels: tuple[Panel, ...]
    scale: Scale
    deepest_m: float
    text_pt: float
    is_continued: bool = False
    plot_lines: float = 9.5

    @property
    def _axis(self) -> float:
        return 3.6 * self.text_pt

    @property
    def _plot(self) -> float:
        return self.plot_lines * self.text_pt

    @property
    def _row(self) -> float:
        return self._plot + 5.2 * self.text_pt

    @property
    def _head(self) -> float:
        return 4.6 * self.text_pt

    def at_next_scale(self) -> Profiles | None:
        """Return the profiles at the next smaller engineering scale; None where there is none.

        Returns
        -------
        Profiles or None
        """
        scales = SCALES[self.contents.units.name]
        if self.scale not in scales or self.scale == scales[-1]:
            return None
        return replace(self, scale=scales[scales.index(self.scale) + 1])

    def _width(self, panel: Panel) -> float:
        title = text_width(_title(panel, self.contents), self.text_pt, bold=True)
        plot = max(panel.length_m * self.scale.points_per_m, min(title, 16 * self.text_pt))
        return self._axis + plot + 2.4 * self.text_pt

    def take(self, width_pt: float, height_pt: float) -> tuple[Piece | None, Profiles | None]:
        """Return the rows of panels that fit, and the rest.

        Parameters
        ----------
        width_pt, height_pt : float
            Room that there is.

        Returns
        -------
        piece : Piece or None
            None where not one row fits.
        rest : Profiles or None
        """
        least = self._row - (self.plot_lines - _LOWEST) * self.text_pt
        rows = int((height_pt - self._head) // self._row)
        rows = rows or int((height_pt - self._head) // least)
        shelves: list[list[Panel]] = []
        count = 0
        while count < len(self.panels) and len(shelves) < rows:
            shelf: list[Panel] = []
            used = 0.0
            while count < len(self.panels) and used + self._width(self.panels[count]) <= width_pt:
                used += self._width(self.panels[count])
                shelf.append(self.panels[count])
                count += 1
            if not shelf:
                break
            shelves.append(shelf)
        if not shelves:
            return None, self
        whole = count == len(self.panels)
        spare = (height_pt - self._head) / len(shelves) - self._row
        spare = min(spare, 0.0) if whole else spare
        shown = replace(self, plot_lines=min(self.plot_lines + spare / self.text_pt, _TALLEST))
        piece = Piece(
            self._head + len(shelves) * shown._row,  # noqa: SLF001
            lambda pen, left, top: shown._draw(pen, left, top, width_pt, shelves),  # noqa: SLF001
        )
        rest = None if whole else replace(self, panels=self.panels[count:], is_continued=True)
        return piece, rest

    def _draw(
        self, pen: Pen, left: float, top: float, width_pt: float, shelves: Sequence[list[Panel]]
    ) -> None:
        size = self.text_pt
        title = "Depth profiles" + (", continued" if self.is_continued else "")
        pen.text(title, (left, top - 1.35 * size), 1.35 * size, bold=True, ink=GRAPHITE.light)
        ratio = self.scale.ratio * (self._plot / (72 / 0.0254)) / self.deepest_m
        limit = self.contents.units.depth(self.contents.settings.advisory.min_cover_m)
        note = (
            f"Along the wire {self.scale.label}; depth drawn {ratio:.0f} times as large. Ground at"
            f" the top. Band: 95 % interval. Dots: readings. Dashed: cover limit {limit}."
        )
        pen.text(cut(note, width_pt, size), (left, top - 2.9 * size), size, ink=QUIET)
        pen.line((left, top - 3.5 * size), (left + width_pt, top - 3.5 * size), ink=COPPER.light,
                 width_pt=1.2)  # fmt: skip
        at = top - self._head
        for shelf in shelves:
            x = left
            for panel in shelf:
                self._draw_panel(pen, panel, x, at)
                x += self._width(panel)
            at -= self._row

    def _draw_panel(self, pen: Pen, panel: Panel, left: float, top: float) -> None:
        size, units = self.text_pt, self.contents.units
        zero = (left + self._axis, top - 1.8 * size)
        room = self._width(panel) - self._axis - 0.5 * size
        pen.text(cut(_title(panel, self.contents), room, size, bold=True),
                 (zero[0], top - size), size, bold=True, ink=GRAPHITE.light)  # fmt: skip
        along = self.scale.points_per_m
        down = self._plot / self.deepest_m
        right = zero[0] + panel.length_m * along
        for depth_m in _ticks(self.deepest_m, units.is_feet, 0.6 * self._plot / size):
            y = zero[1] - depth_m * down
            pen.line((zero[0], y), (right, y), ink=FAINT, width_pt=0.3, dash_pt=(0.6, 1.8))
            words = f"{units.depth_from_metres(depth_m):g}"
            pen.text(words, (zero[0] - 0.4 * size, y - 0.26 * size), 0.72 * size, align="right")
        self._draw_curve(pen, panel, zero, along, down)
        limit = self.contents.settings.advisory.min_cover_m * down
        if limit < self._plot:
            pen.line((zero[0], zero[1] - limit), (right, zero[1] - limit), width_pt=0.7,
                     ink=STYLES["hand_dig"].ink.light, dash_pt=(4.0, 2.0))  # fmt: skip
        pen.line(zero, (right, zero[1]), ink=GRAPHITE.light, width_pt=1.2)
        self._draw_chainages(pen, panel, zero, along)

    def _draw_curve(
        self, pen: Pen, panel: Panel, zero: tuple[float, float], along: float, down: float
    ) -> None:
        size = self.text_pt
        for part in _known_stretches(panel.curve):
            x = zero[0] + part[:, 0] * along
            half = np.nan_to_num(_Z_95 * part[:, 2])
            upper = zero[1] - np.clip(part[:, 1] - half, 0, self.deepest_m) * down
            lower = zero[1] - np.clip(part[:, 1] + half, 0, self.deepest_m) * down
            ring = np.vstack([np.column_stack([x, upper]), np.column_stack([x, lower])[::-1]])
            outline = RULE if pen.is_monochrome else None
            pen.area([ring], fill=BAND, ink=outline, width_pt=0.3)
            y = zero[1] - np.clip(part[:, 1], 0, self.deepest_m) * down
            ink = wire_ink(panel.zones).ink.light
            pen.lines([np.column_stack([x, y])], ink=ink, width_pt=0.15 * size, is_round=True)
        for place, depth, sigma in panel.readings.tolist():
            x, y = zero[0] + place * along, zero[1] - min(depth, self.deepest_m) * down
            bar = min(_Z_95 * sigma, self.deepest_m) * down if np.isfinite(sigma) else 0.0
            ends = (max(y - bar, zero[1] - self._plot), min(y + bar, zero[1]))
            pen.line((x, ends[0]), (x, ends[1]), ink=GRAPHITE.light, width_pt=0.5)
            pen.circle((x, y), 0.17 * size, ink=GRAPHITE.light, fill=WHITE, width_pt=0.6)

    def _draw_chainages(
        self, pen: Pen, panel: Panel, zero: tuple[float, float], along: float
    ) -> None:
        size, units = self.text_pt, self.contents.units
        foot = zero[1] - self._plot
        right = zero[0] + panel.length_m * along
        pen.line((zero[0], foot), (right, foot), ink=FAINT, width_pt=0.4)
        pen.line(zero, (zero[0], foot), ink=FAINT, width_pt=0.4)
        step = _nice_step(4.2 * size / along, is_feet=units.is_feet)
        unit_m = 0.3048 if units.is_feet else 1.0
        for number in range(int(panel.length_m / (step * unit_m)) + 1):
            x = zero[0] + number * step * unit_m * along
            pen.line((x, foot), (x, foot - 0.3 * size), ink=GRAPHITE.light, width_pt=0.4)
            words = f"{number * step:g}" + (f" {units.name}" if number == 0 else "")
            pen.text(words, (x, foot - 1.15 * size), 0.72 * size, align="middle")


def make_profiles(contents: Contents, *, frames: Sequence[Box], text_pt: float) -> Profiles | None:
    """Return the depth profiles of all runs with a depth.

    Parameters
    ----------
    contents : Contents
    frames : sequence of (left, bottom, right, top)
        Frames that they may go into, the best first, the one of ordinary sheets last.
    text_pt : float

    Returns
    -------
    Profiles or None
        None where no depth is known.
    """
    panels = _find_panels(contents)
    if not panels:
        return None
    deepest = max(
        float(np.nanmax(part[:, 1] + np.nan_to_num(_Z_95 * part[:, 2])))
        for panel in panels
        for part in (panel.curve, panel.readings)
        if len(part) and np.isfinite(part[:, 1]).any()
    )
    limit = contents.settings.advisory.min_cover_m
    step = 0.1524 if contents.units.is_feet else 0.1
    deepest_m = float(np.ceil(max(deepest, 1.3 * limit) / step - 1e-9) * step)
    made = Profiles(contents, tuple(panels), SCALES[contents.units.name][0], deepest_m, text_pt)
    return _choose_scale(made, frames)


def _choose_scale(profiles: Profiles, frames: Sequence[Box]) -> Profiles:
    """Return the profiles at the largest scale at which one of the frames holds them all.

    Where none does, at one that leaves room for two of the longest panels side by side; where
    even the smallest scale is too large for that, as large as fits.
    """
    choices = [replace(profiles, scale=s) for s in SCALES[profiles.contents.units.name]]
    longest = max(panel.length_m for panel in profiles.panels)
    several = len(profiles.panels) >= _SEVERAL
    for left, bottom, right, top in frames:
        for choice in choices:
            if several and longest * choice.scale.points_per_m > 0.55 * (right - left):
                continue
            piece, rest = choice.take(right - left, top - bottom)
            if piece is not None and rest is None:
                return choice
    width = frames[-1][2] - frames[-1][0]
    for choice in choices:
        if longest * choice.scale.points_per_m <= 0.5 * width:
            return choice
    fit = min(choices[-1].scale.points_per_m, (width - 9 * profiles.text_pt) / longest)
    return replace(profiles, scale=Scale("fit", f"1:{POINTS_PER_M / fit:.0f}", fit))


def _find_panels(contents: Contents) -> list[Panel]:
    """Return one panel for each run that has a curve or readings, in the order of the runs."""
    curves = contents.curves
    lines = (
        _by_run(curves, ("chainage_m", "depth_m", "depth_sigma_m")) if curves is not None else {}
    )
    readings = _by_run(contents.layer("depth_readings"), ("chainage_m", "depth_m", "depth_sigma_m"))
    frame = contents.layer("wire_runs")
    zones = dict(zip(texts(frame, "run"), texts(frame, "zones"), strict=True))
    panels = []
    for run in sorted(contents.lines, key=natural_key):
        line = contents.lines[run]
        curve, read = lines.get(run, np.empty((0, 3))), readings.get(run, np.empty((0, 3)))
        read = read[np.isfinite(read[:, :2]).all(axis=1)]
        if line.length > 0 and (np.isfinite(curve[:, 1]).any() or len(read)):
            panels.append(Panel(run, zones.get(run, ""), float(line.length), curve, read))
    return panels


def _by_run(frame: pd.DataFrame, columns: Sequence[str]) -> dict[str, Floats]:
    """Return the rows of each run as an array."""
    runs = np.array(texts(frame, "run"), dtype=object)
    values = np.column_stack([numbers(frame, c) for c in columns])
    order = np.argsort(runs, kind="stable")
    runs, values = runs[order], values[order]
    if not len(runs):
        return {}
    starts = np.flatnonzero(np.r_[True, runs[1:] != runs[:-1]])
    return {
        str(runs[a]): values[a:b] for a, b in zip(starts, np.r_[starts[1:], len(runs)], strict=True)
    }


def _title(panel: Panel, contents: Contents) -> str:
    zone = f" · zone {panel.zones.replace(';', ', ')}" if panel.zones else ""
    return f"{panel.run}{zone} · {contents.units.length(panel.length_m)}"


def _known_stretches(curve: Floats) -> list[Floats]:
    """Return the parts of a curve between its gaps."""
    known = np.isfinite(curve[:, 1])
    edges = np.flatnonzero(np.diff(known.astype(int))) + 1
    return [
        curve[part]
        for part in np.split(np.arange(len(curve)), edges)
        if len(part) > 1 and known[part[0]]
    ]


def _ticks(deepest_m: float, is_feet: bool, most: float) -> list[float]:  # noqa: FBT001
    """Return depths to mark: whole inches or tenths of a metre, no more than fit."""
    unit_m = 0.0254 if is_feet else 1.0
    steps = (2, 3, 6, 12, 24, 48) if is_feet else (0.05, 0.1, 0.2, 0.5, 1.0, 2.0)
    step = next((s for s in steps if deepest_m / (s * unit_m) <= most), steps[-1])
    return [n * step * unit_m for n in range(int(deepest_m / (step * unit_m) + 1e-6) + 1)]


def _nice_step(least_m: float, *, is_feet: bool) -> float:
    """Return the distance between chainage marks in units of the drawing."""
    least = least_m / (0.3048 if is_feet else 1.0)
    return next(
        s for s in (1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1e3, 2e3, 5e3, 1e5)
        if s >= least or s == 1e5  # noqa: PLR2004
    )  # fmt: skip
