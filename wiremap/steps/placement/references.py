"""Fixed points that ties, baselines and site grids hang on, and which of them are permanent."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any, NamedTuple

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from wiremap.formulas.repeats import chi_square_limit, combine, radial_rms
from wiremap.model.findings import Finding
from wiremap.model.kinds import Feature
from wiremap.model.tables import REFERENCES
from wiremap.steps.placement.rows import Fixes, numbers, row_finding, rows_of, words

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import NDArray
    from pyproj import CRS

    Floats = NDArray[np.float64]
    Objects = NDArray[np.object_]

NOT_PERMANENT = re.compile(
    r"\b(?:trees?|shrubs?|bush(?:es)?|hedges?|plants?|fences?|flags?|stakes?|pegs?|lath|cones?"
    r"|chalk|paint(?:ed)?|whiskers?|benches|bench|bins?|pots?|planters?|temporary|temp)\b",
    re.IGNORECASE,
)
"""Words for what may be moved or grows: records want buildings, curbs, walks, drainage inlets,
poles and monuments. A point of which nothing is said is taken as permanent: it was listed as a
fixed point."""


NOT_LISTED, NOT_NAMED = -1, -2
"""What `Anchors.find` gives for a name that is not listed, and where no name is written."""


APART_M = 0.05
"""References nearer each other than this give no direction. Project choice."""


class Anchors(NamedTuple):
    """Named fixed points in the metric plane; names as written, keys in lower case."""

    names: Objects
    xy: Floats
    cov: Floats
    rows: dict[str, int]

    def stand_apart(self, a: NDArray[np.intp], b: NDArray[np.intp]) -> NDArray[np.bool_]:
        """Whether the fixed points a and b are far enough apart to give a direction."""
        apart = self.xy[a] - self.xy[b]
        return np.hypot(apart[:, 0], apart[:, 1]) >= APART_M

    def find(self, wanted: Objects) -> NDArray[np.intp]:
        """Return the row of each name; NOT_LISTED or NOT_NAMED where there is none."""
        codes, unique = pd.factorize(wanted)
        rows = [self.rows.get(key_of(name), NOT_LISTED) if name else NOT_NAMED for name in unique]
        return np.array(rows, dtype=np.intp)[codes]


def key_of(name: str) -> str:
    """How a reference's name is matched: case and outer spaces do not count."""
    return " ".join(name.casefold().split())


def is_permanent(kinds: Sequence[str], names: Sequence[str]) -> list[bool]:
    """Whether each fixed point is an immovable object, by its kind, else by its name."""
    return [
        NOT_PERMANENT.search((kind or name).replace("_", " ")) is None
        for kind, name in zip(kinds, names, strict=True)
    ]


def gather_anchors(names: Objects, xy: Floats, cov: Floats) -> tuple[Anchors, list[Finding]]:
    """Return one fixed point a name: several positions combine, and are tested for agreement."""
    known = np.isfinite(xy).all(axis=1) & (names != "")
    names, xy, cov = names[known], xy[known], cov[known]
    groups, keys = pd.factorize(np.array([key_of(name) for name in names], dtype=object))
    # one position listed twice is one survey, not two
    once = np.unique(np.column_stack([groups, xy.round(3)]), axis=0, return_index=True)[1]
    once.sort()
    names, xy, cov, groups = names[once], xy[once], cov[once], groups[once]
    met = combine(xy, cov, groups=groups)
    first = np.unique(groups, return_index=True)[1]
    disagree = met.chi2 > chi_square_limit(met.dof)
    spread = np.where(disagree, met.chi2 / np.maximum(met.dof, 1), 1.0)
    anchors = Anchors(
        names[first], met.xy, met.cov * spread[:, None, None], {k: i for i, k in enumerate(keys)}
    )
    return anchors, list(_disagreements(anchors, xy, cov, groups, np.flatnonzero(disagree)))


def _disagreements(
    anchors: Anchors, xy: Floats, cov: Floats, groups: NDArray[np.intp], bad: NDArray[np.intp]
) -> Iterable[Finding]:
    for i in bad:
        mine = groups == i
        apart = np.hypot(*(xy[mine] - anchors.xy[i]).T)
        message = (
            f"Reference {anchors.names[i]}: {mine.sum()} positions lie up to {apart.max():.3f} m"
            f" from their mean; their stated RMS is {radial_rms(cov[mine]).max():.3f} m at most."
        )
        x_m, y_m = anchors.xy[i]
        yield Finding("repeat-disagrees", str(anchors.names[i]), message,
                      "Survey the reference again, or remove the wrong position.",
                      x_m=float(x_m), y_m=float(y_m))  # fmt: skip


def unknown_reference(frame: pd.DataFrame, row: int, column: str, name: str) -> Finding:
    """Say that a row names a fixed point that has no position."""
    message = f"{column} names the reference {name!r}, which has no known position."
    return row_finding("unknown-reference", frame, row, message, column=column, value=name)


class Listed(NamedTuple):
    """Every statement about a fixed point: listed rows first, then located ones."""

    names: Objects
    kinds: Objects
    xy: Floats
    cov: Floats
    grid: Floats
    elevation_m: Floats


def list_references(
    table: pd.DataFrame, fixed: Fixes, locates: pd.DataFrame, near: Fixes
) -> Listed:
    """Return the listed fixed points and the located rows of feature ``reference``."""
    rows = rows_of(locates, Feature.REFERENCE)
    located = locates.iloc[rows]
    return Listed(
        np.concatenate([words(table, "reference"), words(located, "point")]),
        np.concatenate([words(table, "kind"), np.full(len(rows), "", dtype=object)]),
        np.concatenate([fixed.xy, near.xy[rows]]),
        np.concatenate([fixed.cov, near.cov[rows]]),
        np.concatenate([grid_positions(table), grid_positions(located)]),
        np.concatenate([numbers(table, "elevation_m"), numbers(located, "elevation_m")]),
    )


def grid_positions(frame: pd.DataFrame) -> Floats:
    """Return the site-grid positions of a table's rows."""
    return np.stack([numbers(frame, "grid_x_m"), numbers(frame, "grid_y_m")], axis=1)


def stated(anchors: Anchors, listed: Listed, values: NDArray[Any], blank: object) -> NDArray[Any]:
    """Return, for each fixed point, the first value that is stated for it, else `blank`."""
    found = np.full((len(anchors.names), *values.shape[1:]), blank, dtype=values.dtype)
    for name, value in zip(listed.names[::-1], values[::-1], strict=True):
        at = anchors.rows.get(key_of(name))
        if at is not None and not np.any(pd.isna(value) | (value == "")):
            found[at] = value
    return found


def tabulate_references(anchors: Anchors, listed: Listed, *, crs: CRS) -> gpd.GeoDataFrame:
    """Return the layer ``references``."""
    kinds = stated(anchors, listed, listed.kinds, "")
    grid = stated(anchors, listed, listed.grid, np.nan)
    columns = {
        "reference": anchors.names,
        "kind": kinds,
        "rms": radial_rms(anchors.cov),
        "is_permanent": is_permanent(list(kinds), list(anchors.names)),
        "elevation_m": stated(anchors, listed, listed.elevation_m, np.nan),
        "grid_x_m": grid[:, 0],
        "grid_y_m": grid[:, 1],
    }
    frame = gpd.GeoDataFrame(columns, geometry=shapely.points(anchors.xy), crs=crs)
    return REFERENCES.conform(frame)
