"""Sizes of paper and the engineering scales that plans are drawn at."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

POINTS_PER_M = 72 / 0.0254
"""PDF points in one metre of paper."""

_IN = 72.0
_MM = 72.0 / 25.4
_FOOT_M = 0.3048


@dataclass(frozen=True)
class Paper:
    """A sheet, landscape.

    Attributes
    ----------
    label : str
        Name for people.
    width_pt, height_pt : float
        Size, PDF points.
    text_pt : float
        Size of ordinary letters.
    units : str
        Unit of dimensions where the settings leave it open: ``ft`` or ``m``.
    """

    label: str
    width_pt: float
    height_pt: float
    text_pt: float
    units: str


PAPERS: dict[str, Paper] = {
    "arch-d": Paper("ARCH D, 36 x 24 in", 36 * _IN, 24 * _IN, 12.0, "ft"),
    "a1": Paper("A1, 841 x 594 mm", 841 * _MM, 594 * _MM, 11.6, "m"),
    "a3": Paper("A3, 420 x 297 mm", 420 * _MM, 297 * _MM, 7.0, "m"),
    "tabloid": Paper("tabloid, 17 x 11 in", 17 * _IN, 11 * _IN, 7.0, "ft"),
    "letter": Paper("letter, 11 x 8.5 in", 11 * _IN, 8.5 * _IN, 5.8, "ft"),
}
"""Papers by their name in property.toml."""


@dataclass(frozen=True)
class Scale:
    """An engineering scale.

    Attributes
    ----------
    name : str
        As property.toml writes it.
    label : str
        As a drawing states it.
    points_per_m : float
        PDF points for one metre on the ground.
    """

    name: str
    label: str
    points_per_m: float

    @property
    def ratio(self) -> float:
        """Metres on the ground for one metre of paper."""
        return POINTS_PER_M / self.points_per_m


def _feet(feet: int) -> Scale:
    return Scale(f"1in={feet}ft", f"1 in = {feet} ft", _IN / (feet * _FOOT_M))


def _metric(ratio: int) -> Scale:
    return Scale(f"1:{ratio}", f"1:{ratio}", POINTS_PER_M / ratio)


SCALES: dict[str, tuple[Scale, ...]] = {
    "ft": tuple(_feet(feet) for feet in (10, 20, 30, 40, 50, 60, 100)),
    "m": tuple(_metric(ratio) for ratio in (100, 200, 250, 500)),
}
"""Scales to choose from, by unit, the largest drawing first."""

_LEGIBLE = {"ft": "1in=40ft", "m": "1:500"}
"""Smallest drawing that one sheet is preferred at; beyond it the plan is split."""

_MOST_SHEETS = 9
_FEW_SHEETS = 4
"""Sheets that a plan is split over before the next scale is taken; and to be less crowded."""


@dataclass(frozen=True)
class Tiling:
    """A scale, and how many sheets the plan takes across and down."""

    scale: Scale
    columns: int
    rows: int


def find_scale(name: str) -> Scale | None:
    """Return a scale by its name, or None.

    Parameters
    ----------
    name : str
        As property.toml writes it; ``auto`` is no scale.

    Returns
    -------
    Scale or None

    Examples
    --------
    >>> round(find_scale("1in=20ft").ratio), find_scale("auto")
    (240, None)
    """
    return next((s for scales in SCALES.values() for s in scales if s.name == name), None)


def choose_tiling(
    size_m: tuple[float, float],
    window_pt: tuple[float, float],
    *,
    units: str,
    scale: Scale | None = None,
    least_pt2: float = 0.0,
) -> Tiling:
    """Return the scale of a plan and how it is split.

    1. The largest scale at which the plan fits one sheet, down to 1 in = 40 ft or 1:500.
    2. Else that scale or the next that takes no more than nine sheets.
    3. Else the smallest scale, over as many sheets as it takes.
    4. Where the drawing is too small for what it must hold, the next larger scale that is large
       enough, if it takes no more than four sheets.

    Parameters
    ----------
    size_m : (float, float)
        Width and height of what is drawn, metres on the ground.
    window_pt : (float, float)
        Width and height of the drawing's window on a sheet, points.
    units : str
        ``ft`` or ``m``: which scales to choose from.
    scale : Scale, optional
        The scale asked for; chosen where not given.
    least_pt2 : float, default 0
        Least area of the drawing that its labels can be read in, square points.

    Returns
    -------
    Tiling

    Examples
    --------
    >>> choose_tiling((60.0, 50.0), (2000.0, 1600.0), units="ft").scale.label
    '1 in = 10 ft'
    >>> choose_tiling((600.0, 600.0), (2000.0, 1600.0), units="m").columns
    2
    """
    if scale:
        return _tile(size_m, window_pt, scale=scale)
    choices: Sequence[Scale] = SCALES[units]
    last = next(i for i, s in enumerate(choices) if s.name == _LEGIBLE[units])
    tilings = [_tile(size_m, window_pt, scale=s) for s in choices]
    for place, tiling in enumerate(tilings[: last + 1]):
        if tiling.columns * tiling.rows == 1:
            roomy = [
                t for t in tilings[: place + 1]
                if t.columns * t.rows <= _FEW_SHEETS
                and size_m[0] * size_m[1] * t.scale.points_per_m**2 >= least_pt2
            ]  # fmt: skip
            return roomy[-1] if roomy else tiling
    few = [t for t in tilings[last:] if t.columns * t.rows <= _MOST_SHEETS]
    return few[0] if few else tilings[-1]


def _tile(size_m: tuple[float, float], window_pt: tuple[float, float], *, scale: Scale) -> Tiling:
    across, down = (
        max(1, -int(-size * scale.points_per_m // window))
        for size, window in zip(size_m, window_pt, strict=True)
    )
    return Tiling(scale, across, down)
