"""Depth pairs: offsets taped left and right, or taken from the positions of offset marks."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd

from wiremap.model.kinds import Feature, PlacedBy

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from wiremap.model.findings import Finding
    from wiremap.model.frame import Frame
    from wiremap.model.settings import Settings
    from wiremap.steps.depths.rows import Rows

    Array = NDArray[np.float64]
    Index = NDArray[np.intp]

_COARSE_SHARE = 1 / 3
_LEAST_FOR_TYPICAL = 5
_TOLD_APART = 2.0
_SQUARE_SHARE = 0.1


@dataclass
class Pairs:
    """Everything known of each depth pair, one entry a path mark."""

    locate: Index
    left: Array
    right: Array
    lean: Array
    height: Array
    mark_sigma: Array
    path_sigma: Array
    located: NDArray[np.bool_]
    # where it stands on its run; code -1 off every run
    run: Index
    chainage: Array
    heading: Array
    x: Array
    y: Array

    @property
    def two_sided(self) -> NDArray[np.bool_]:
        """Whether both sides were measured."""
        return np.isfinite(self.left) & np.isfinite(self.right)


def collect_pairs(rows: Rows, *, frame: Frame, settings: Settings) -> tuple[Pairs, list[Finding]]:
    """Return taped and located pairs, one entry a path mark, and what is wrong with them."""
    left, right = rows.number("offset_left_m"), rows.number("offset_right_m")
    left, right = np.where(left > 0, left, np.nan), np.where(right > 0, right, np.nan)
    taped = np.isfinite(left) | np.isfinite(right)
    lean, height = rows.number("lean_deg").copy(), rows.number("receiver_height_m").copy()
    sigma = np.full(rows.count, settings.locating.mark_sigma_m)
    path_sigma = sigma.copy()
    located = np.zeros(rows.count, dtype=bool)
    marks, findings = _locate_marks(rows, taped, frame=frame, settings=settings)
    for side, offset in ((True, left), (False, right)):
        mine = marks.is_left == side
        offset[marks.path[mine]] = marks.distance[mine]
        for target, source in ((lean, "lean_deg"), (height, "receiver_height_m")):
            given = rows.number(source)[marks.mark[mine]]
            target[marks.path[mine]] = np.where(np.isfinite(given), given, target[marks.path[mine]])
    # half of what the two positions do not share is the path mark's
    sigma[marks.path] = path_sigma[marks.path] = marks.sigma / np.sqrt(2)
    located[marks.path] = True
    at = np.flatnonzero(taped | located)
    pairs = Pairs(
        at, left[at], right[at],
        np.where(np.isfinite(lean[at]), lean[at], settings.locating.lean_deg),
        np.nan_to_num(height[at]), sigma[at], path_sigma[at], located[at],
        rows.run_code[at], rows.chainage[at], rows.heading[at], rows.x[at], rows.y[at],
    )  # fmt: skip
    return pairs, findings


class Marks(NamedTuple):
    """Usable located offset marks: their rows, path rows, side, distance and its sigma."""

    mark: Index
    path: Index
    is_left: NDArray[np.bool_]
    distance: Array
    sigma: Array


def _locate_marks(
    rows: Rows, taped: NDArray[np.bool_], *, frame: Frame, settings: Settings
) -> tuple[Marks, list[Finding]]:
    """Return the offset marks whose positions are good enough to give a distance."""
    pair = rows.text("pair")
    mark = np.flatnonzero((rows.text("feature") == Feature.OFFSET_MARK) & (pair != ""))
    if not len(mark):
        nothing = np.zeros(0)
        return Marks(mark, mark, nothing > 0, nothing, nothing), []
    path = _first_rows(rows.text("point"), pair[mark])
    findings = [
        rows.finding(
            "bad-value", row, f"pair must name a placed path mark, got {pair[row]!r}.",
            advice="Correct the name; the offset mark gave no depth.",
            column="pair", value=str(pair[row]),
        )
        for row in mark[path < 0]
    ]  # fmt: skip
    keep = (path >= 0) & ~taped[path]
    mark, path = mark[keep], path[keep]
    east, north = rows.x[mark] - rows.x[path], rows.y[mark] - rows.y[path]
    heading = np.radians(rows.heading[path])
    left = (north * np.sin(heading) - east * np.cos(heading)) / frame.scale_factor
    ahead = (east * np.sin(heading) + north * np.cos(heading)) / frame.scale_factor
    plan = np.hypot(east, north) / frame.scale_factor
    sigma = _relative_sigma(rows, mark, path, plan, ahead, settings)
    coarse = _too_coarse(plan, sigma)
    findings += [
        rows.finding(
            "position-too-coarse-for-depth", mark[i],
            f"the positions of {pair[mark[i]]} and this mark must be known to a third of their"
            f" distance, got {plan[i]:.2f} m known to {sigma[i]:.2f} m.",
            column="pair", value=f"{plan[i]:.2f} m",
        )
        for i in np.flatnonzero(coarse)
    ]  # fmt: skip
    # two noisy positions stand too far apart by about sigma^2 / 2 distance
    distance = np.sqrt(np.maximum(plan**2 - sigma**2, 0))
    good = ~coarse
    return Marks(mark[good], path[good], left[good] > 0, distance[good], sigma[good]), findings


def _too_coarse(plan: Array, sigma: Array) -> NDArray[np.bool_]:
    """Return which distances are not known to a third of what the marks' distance is.

    To choose among many poor distances by their own size would keep those that are too long: a
    few pairs stand on their own, more on their typical distance, less what noise adds to it.
    """
    if len(plan) < _LEAST_FOR_TYPICAL:
        return sigma > plan * _COARSE_SHARE
    weight = sigma**-4.0
    square = float((weight * (plan**2 - 2 * sigma**2)).sum() / weight.sum())
    typical = np.sqrt(max(square, 0.0))
    coarse: NDArray[np.bool_] = (sigma > typical * _COARSE_SHARE) | (plan < _TOLD_APART * sigma)
    return coarse


def _first_rows(names: NDArray[np.object_], wanted: NDArray[np.object_]) -> Index:
    """Return the first row of each name wanted; -1 where there is none."""
    index = pd.Index(names)
    first = np.flatnonzero(~index.duplicated())
    found = index[first].get_indexer(pd.Index(wanted))
    rows: Index = np.where(found >= 0, first[found], -1)
    return rows


def _relative_sigma(
    rows: Rows, mark: Index, path: Index, plan: Array, ahead: Array, settings: Settings
) -> Array:
    """Return how well the distance of two positions is known.

    A share of each position's RMS, and the noise of any fix, is its own, the rest common to both.
    Offsets are set square to the run: where the marks stand ahead of or behind their path marks
    by more than the share lets expect, the positions are as poor as that says.
    """
    share = np.where(
        np.isin(rows.text("placed_by"), (PlacedBy.GNSS, PlacedBy.SURVEY)),
        settings.thresholds.relative_rms_share,
        1.0,
    )
    rms = np.nan_to_num(rows.number("position_rms_m"), nan=settings.coordinates.default_rms_m)
    own = np.hypot(share * rms, np.minimum(settings.thresholds.relative_floor_m, rms))
    # along one direction each position carries its radial rms over the root of two
    sigma: Array = np.hypot(own[mark], own[path]) / np.sqrt(2)
    checked = np.isfinite(ahead) & (sigma > 0)
    if not checked.any():
        return sigma
    # squareness itself is held to a tenth of the offset, a project choice
    excess = np.maximum(ahead**2 - (_SQUARE_SHARE * plan) ** 2, 0)[checked] / sigma[checked] ** 2
    observed = excess.mean()
    # two standard deviations of a mean of squares
    expected = 1 + 2 * np.sqrt(2 / checked.sum())
    return sigma * np.sqrt(observed) if observed > expected else sigma
