"""The tables of a trace: vertices, lines, points."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd

from wiremap.formulas.bends import bulge_near
from wiremap.formulas.polylines import (
    chainages,
    directions,
    headings_deg,
    neighbours,
    step_lengths,
    turns_deg,
)
from wiremap.formulas.stationing import locate_on_line, points_at
from wiremap.model.kinds import Feature
from wiremap.steps.traces.walks import texts

if TYPE_CHECKING:
    import geopandas as gpd
    from numpy.typing import NDArray

    from wiremap.model.frame import Frame
    from wiremap.steps.traces.walks import Walks

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Flags = NDArray[np.bool_]


class Vertices(NamedTuple):
    """Vertices of all lines: place among the walks, position, and what each rests on."""

    place: Ints
    xy: Floats
    shrink: Floats
    passes: Ints

    def take(self, choice: Ints | Flags) -> Vertices:
        """Return the chosen vertices."""
        return Vertices(
            self.place[choice], self.xy[choice], self.shrink[choice], self.passes[choice]
        )


def tabulate_vertices(
    found: Vertices, walks: Walks, placed: gpd.GeoDataFrame, frame: Frame, depth_m: float
) -> pd.DataFrame:
    """Return the vertices table."""
    run, locate = walks.run[found.place], walks.locate[found.place]
    names = np.array(walks.names, dtype=object)
    first = np.searchsorted(run, run)
    columns = ("cov_xx_m2", "cov_xy_m2", "cov_yy_m2")
    cov = placed[list(columns)].to_numpy(dtype=float)[locate] * found.shrink[:, None]
    cov += _bulge(found.xy, run, depth_m)
    feature, date = texts(placed, "feature")[locate], texts(placed, "date")[locate]
    first_date, last_date = _date_range(found, walks, texts(placed, "date"), date)
    return pd.DataFrame(
        {
            "run": pd.array(names[run] if len(names) else run.astype(object), dtype="str"),
            "sequence": np.arange(len(run)) - first,
            "point": pd.array(texts(placed, "point")[locate], dtype="str"),
            "feature": pd.array(feature, dtype="str"),
            "controller": pd.array(texts(placed, "controller")[locate], dtype="str"),
            "chainage_m": chainages(found.xy, run) / frame.scale_factor,
            "x_m": found.xy[:, 0],
            "y_m": found.xy[:, 1],
            **{name: cov[:, i] for i, name in enumerate(columns)},
            "position_rms_m": np.sqrt(cov[:, 0] + cov[:, 2]),
            "is_exposed": feature == str(Feature.EXPOSED),
            "date_first": pd.array(first_date, dtype="str"),
            "date_last": pd.array(last_date, dtype="str"),
            "observations": found.passes,
        }
    )


def _date_range(
    found: Vertices, walks: Walks, dates: NDArray[np.object_], own: NDArray[np.object_]
) -> tuple[NDArray[np.object_], NDArray[np.object_]]:
    """Return first and last date of each vertex: of its run's visits where it rests on several."""
    first, last = own.copy(), own.copy()
    run = walks.run[found.place]
    for several in np.unique(run[found.passes > 1]):
        seen = sorted({str(d) for d in dates[walks.locate[walks.run == several]] if d})
        if seen:
            averaged = (run == several) & (found.passes > 1)
            first[averaged], last[averaged] = seen[0], seen[-1]
    first[first == ""] = None
    last[last == ""] = None
    return first, last


def _bulge(xy: Floats, run: Ints, depth_m: float) -> Floats:
    """Return what bends add to each vertex's covariance: the null bulges outward beside them."""
    turn = turns_deg(xy, run)
    along = directions(xy, run)
    across = np.column_stack([-along[:, 1], along[:, 0]])
    variance = (depth_m * bulge_near(np.zeros(len(xy)), turn)) ** 2
    step = step_lengths(xy, run)
    for shift, length in ((-1, step), (1, step[neighbours(run, 1)[0]])):
        beside, exists = neighbours(run, shift)
        size = depth_m * bulge_near(length / depth_m, turn[beside])
        variance += np.where(exists, size**2, 0.0)
    return (
        np.column_stack([across[:, 0] ** 2, across[:, 0] * across[:, 1], across[:, 1] ** 2])
        * variance[:, None]
    )


def draw_lines(found: Vertices, walks: Walks, frame: Frame) -> gpd.GeoDataFrame:
    """Return the lines table."""
    import geopandas as gpd
    import shapely

    run = walks.run[found.place]
    drawn, number = np.unique(run, return_inverse=True)
    geometry = shapely.linestrings(found.xy, indices=number) if len(run) else []
    names = [walks.names[i] for i in drawn]
    length = shapely.length(geometry) / frame.scale_factor
    columns = {"run": pd.array(names, dtype="str"), "length_m": length}
    return gpd.GeoDataFrame(columns, geometry=geometry, crs=frame.metric_crs)


def locate_points(
    found: Vertices,
    walks: Walks,
    placed: gpd.GeoDataFrame,
    outlier: Flags,
    frame: Frame,
    passes: Ints,
) -> gpd.GeoDataFrame:
    """Return the points table: chainage and walking direction of each located row."""
    count = len(walks.run)
    chainage, along = np.full(count, np.nan), np.full((count, 2), np.nan)
    run = walks.run[found.place]
    marks = chainages(found.xy, run)
    chainage[found.place] = marks
    along[found.place] = directions(found.xy, run)
    others = np.flatnonzero(np.isnan(chainage) & np.isin(walks.run, run))
    for one in np.unique(walks.run[others]):
        mine, line = others[walks.run[others] == one], found.xy[run == one]
        chainage[mine], _ = locate_on_line(walks.xy[mine], line)
        along[mine] = points_at(chainage[mine] + 0.05, line) - points_at(
            chainage[mine] - 0.05, line
        )
    along *= _sense(walks.run, passes, chainage)[:, None]
    order = np.lexsort((np.arange(count), np.nan_to_num(chainage, nan=0.0), walks.run))
    names = np.array(walks.names, dtype=object)
    points = placed.take(walks.locate[order]).reset_index(drop=True)
    points["run"] = pd.array(names[walks.run[order]] if count else [], dtype="str")
    points["chainage_m"] = chainage[order] / frame.scale_factor
    points["heading_deg"] = headings_deg(along)[order]
    points["on_line"] = (~outlier & ~np.isnan(chainage))[order]
    points["locate"] = walks.locate[order]
    return points


def _sense(run: Ints, passes: Ints, chainage: Floats) -> Floats:
    """Return 1 where a row was walked the way its line runs, -1 where the other way."""
    sense = np.ones(len(run))
    for one in np.unique(run[passes > 0]):
        for number in np.unique(passes[run == one]):
            rows = np.flatnonzero((run == one) & (passes == number))
            if chainage[rows[-1]] < chainage[rows[0]]:
                sense[rows] = -1.0
    return sense
