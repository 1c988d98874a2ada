"""One depth for each place where one was measured, with its uncertainty."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd

from wiremap.model.kinds import DepthMethod, Feature
from wiremap.model.tables import DEPTH_READINGS
from wiremap.steps.depths.lean import reduce_all, settle_lean
from wiremap.steps.depths.pairs import Pairs, collect_pairs
from wiremap.steps.depths.rows import Rows
from wiremap.steps.depths.slopes import (
    expect_slopes,
    ground_slopes,
    judge_pairs,
    property_slopes,
    widen_uneven,
)

if TYPE_CHECKING:
    import geopandas as gpd
    from numpy.typing import NDArray

    from wiremap.formulas.depth_pairs import PairDepths
    from wiremap.formulas.terrain import Surface
    from wiremap.model.findings import Finding
    from wiremap.model.frame import Frame
    from wiremap.model.settings import Settings

    Array = NDArray[np.float64]
    Index = NDArray[np.intp]


class Depths(NamedTuple):
    """What `reduce_depths` returns.

    Attributes
    ----------
    readings : GeoDataFrame
        Layer ``depth_readings`` with ``locate`` (row of the placed locates),
        ``systematic_sigma_m`` (the part of the sigma that all readings share), and
        ``slope_part_m`` (the part that one-sided readings of a run share through a cross slope
        that was not measured at each; negative on the side where it makes the depth less).
    findings : list of Finding
    """

    readings: gpd.GeoDataFrame
    findings: list[Finding]


def reduce_depths(
    placed: gpd.GeoDataFrame,
    points: gpd.GeoDataFrame,
    *,
    frame: Frame,
    settings: Settings,
    surface: Surface | None = None,
) -> Depths:
    """Return one depth for each place where one was measured, with its uncertainty.

    A depth seen in an open hole beats a probed one, which beats a pair; a taped pair beats a
    located one. A one-sided pair takes the cross slope from the row's own ``cross_slope_deg``,
    from the elevations of the points around, from the surface, from the other pairs and slopes
    of the run, and from the lie of the whole property, each by its weight; what stays unknown
    of it is in the sigma. A pair more uneven than its neighbours and the ground explain is
    reported, and its sigma widened; no depth is corrected.

    Parameters
    ----------
    placed : GeoDataFrame
        Placed locates; columns point, feature, offset_left_m, offset_right_m, lean_deg,
        receiver_height_m, pair, depth_m, cross_slope_deg, elevation_m, position_rms_m,
        placed_by, date, source_file, source_row.
    points : GeoDataFrame
        Points on runs; columns locate, run, chainage_m, heading_deg.
    frame : Frame
        The working plane.
    settings : Settings
        Sections ``locating`` and ``thresholds``.
    surface : callable, optional
        Takes plane x and y arrays and returns ground elevations in metres, NaN outside.

    Returns
    -------
    Depths
        Readings in the order of the placed locates; run empty and chainage NaN off every run.

    Examples
    --------
    >>> import geopandas as gpd
    >>> from pyproj import CRS
    >>> from wiremap.model.frame import Frame
    >>> from wiremap.model.settings import Settings
    >>> crs = CRS("EPSG:26914")
    >>> row = {"point": ["P1"], "feature": ["path"], "offset_left_m": [0.36984],
    ...        "offset_right_m": [0.25897]}
    >>> placed = gpd.GeoDataFrame(row, geometry=gpd.points_from_xy([0], [0]), crs=crs)
    >>> on_run = {"locate": [0], "run": ["A"], "chainage_m": [0.0], "heading_deg": [0.0]}
    >>> points = gpd.GeoDataFrame(on_run, geometry=placed.geometry)
    >>> depths = reduce_depths(placed, points, frame=Frame(crs, crs), settings=Settings())
    >>> depths.readings["method"].tolist(), depths.readings["depth_m"].round(2).tolist()
    (['two_sided'], [0.3])
    """
    rows = Rows(placed, points)
    pairs, findings = collect_pairs(rows, frame=frame, settings=settings)
    ground = ground_slopes(rows, pairs, surface=surface, settings=settings)
    own = np.full(len(pairs.locate), np.nan)
    lean = settle_lean(pairs, ground, settings)
    first = reduce_all(pairs, own, own, lean)
    ground = property_slopes(pairs, first, ground)
    slopes, source = expect_slopes(pairs, first, ground, settings)
    uneven = judge_pairs(pairs, first, slopes, settings)
    # two sides speak for themselves, in closed form
    expected = np.where(pairs.two_sided, np.nan, slopes.expected)
    reduced = reduce_all(pairs, expected, slopes.expected_sigma, lean)
    widened, called = widen_uneven(rows, pairs, reduced, uneven)
    findings += called
    direct = np.flatnonzero(np.isfinite(rows.number("depth_m")) & (rows.number("depth_m") > 0))
    findings += _disagreements(rows, pairs, reduced, widened, direct, settings)
    readings = _tabulate(rows, pairs, reduced, widened, source, direct, settings)
    return Depths(readings, findings)


def _direct_sigma(rows: Rows, direct: Index, settings: Settings) -> tuple[Array, Array]:
    """Return whether each direct depth was seen in an open hole, and its sigma."""
    exposed = rows.text("feature")[direct] == Feature.EXPOSED
    mark = settings.locating.mark_sigma_m
    # a probe rod meets the wire from the side and bends: twice a mark, a project choice
    return exposed, np.where(exposed, mark, 2 * mark)


def _disagreements(
    rows: Rows,
    pairs: Pairs,
    reduced: PairDepths,
    sigma: Array,
    direct: Index,
    settings: Settings,
) -> list[Finding]:
    """Return findings where a pair and a direct depth at one point disagree."""
    both, of_pair, _ = np.intersect1d(pairs.locate, direct, return_indices=True)
    _, direct_sigma = _direct_sigma(rows, both, settings)
    seen = rows.number("depth_m")[both]
    gap = reduced.depth_m[of_pair] - seen
    apart = np.abs(gap) > 3 * np.hypot(sigma[of_pair], direct_sigma)
    return [
        rows.finding(
            "depth-disagrees", both[i],
            f"a pair and a direct depth of one point must agree within 3 standard deviations, got"
            f" {seen[i] + gap[i]:.2f} m from the pair and {seen[i]:.2f} m direct; the direct"
            " depth was kept.", column="depth_m",
        )
        for i in np.flatnonzero(apart)
    ]  # fmt: skip


def _tabulate(
    rows: Rows,
    pairs: Pairs,
    reduced: PairDepths,
    sigma: Array,
    source: NDArray[np.object_],
    direct: Index,
    settings: Settings,
) -> gpd.GeoDataFrame:
    """Return the layer, one row a depth, direct depths in the place of pairs."""
    keep = ~np.isin(pairs.locate, direct) & np.isfinite(reduced.depth_m) & (reduced.depth_m > 0)
    method = np.where(pairs.two_sided, DepthMethod.TWO_SIDED, DepthMethod.ONE_SIDED)
    method = np.where(pairs.located, DepthMethod.LOCATED_PAIR, method)
    exposed, direct_sigma = _direct_sigma(rows, direct, settings)
    locate = np.concatenate((pairs.locate[keep], direct))
    blank, nothing = np.full(len(direct), np.nan), np.zeros(len(direct))
    # a slope noted at each place errs at each place anew
    common = source != "noted"
    order = np.argsort(locate, kind="stable")
    run = np.append(rows.run_names, "")[rows.run_code[locate]]
    table = pd.DataFrame({
        "point": rows.text("point")[locate],
        "run": run,
        "chainage_m": rows.chainage[locate],
        "depth_m": np.concatenate((reduced.depth_m[keep], rows.number("depth_m")[direct])),
        "depth_sigma_m": np.concatenate((sigma[keep], direct_sigma)),
        "method": np.concatenate((
            method[keep], np.where(exposed, DepthMethod.EXPOSED, DepthMethod.PROBED),
        )),
        "cross_slope_deg": np.degrees(np.arctan(np.concatenate((reduced.slope_tan[keep], blank)))),
        "slope_source": np.concatenate((source[keep], np.full(len(direct), ""))),
        "date": rows.text("date")[locate],
        "locate": locate,
        "systematic_sigma_m": np.concatenate((reduced.systematic_sigma_m[keep], nothing)),
        "slope_part_m": np.concatenate((np.where(common, reduced.slope_part_m, 0)[keep], nothing)),
        "geometry": rows.frame.geometry.to_numpy()[locate],
    }).iloc[order]  # fmt: skip
    return DEPTH_READINGS.conform(table, crs=rows.frame.crs)
