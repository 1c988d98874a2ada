"""The step itself: the order in which positions are found, and which one a row gets."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from geopandas.array import from_shapely

from wiremap.formulas.repeats import radial_rms
from wiremap.model.kinds import PlacedBy
from wiremap.steps.placement.checkpoints import gather_checks, state_accuracy
from wiremap.steps.placement.choosing import Chosen, choose, compare
from wiremap.steps.placement.direct import fixes_of, read_batches, stated_rms
from wiremap.steps.placement.framing import Ground, lay_ground
from wiremap.steps.placement.grid import Grid, describe_grid, fit_grid, place_by_grid
from wiremap.steps.placement.offsets import place_by_baseline
from wiremap.steps.placement.references import (
    Anchors,
    Listed,
    gather_anchors,
    grid_positions,
    key_of,
    list_references,
    stated,
    tabulate_references,
)
from wiremap.steps.placement.rows import Fixes, numbers, row_finding, words
from wiremap.steps.placement.ties import place_by_ties

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from wiremap.model.findings import Finding
    from wiremap.model.frame import Frame
    from wiremap.model.settings import Settings
    from wiremap.steps.placement.direct import Landed

    Floats = NDArray[np.float64]

TIE_COLUMNS = ("tie_a", "tie_b", "tie_c", "tie_a_dist_m", "tie_b_dist_m", "tie_c_dist_m")
BASELINE_COLUMNS = ("baseline_a", "baseline_b", "baseline_chainage_m")
TAPE_NAMES = ("tie_a", "tie_b", "tie_c", "baseline_a", "baseline_b")
TAPE_DISTANCES = ("tie_a_dist_m", "tie_b_dist_m", "tie_c_dist_m", "baseline_chainage_m")


class Placed(NamedTuple):
    """What `place_locates` returns.

    Attributes
    ----------
    locates : GeoDataFrame
        Points in the frame's metric CRS: every input column, and position_rms_m, placed_by,
        cov_xx_m2, cov_xy_m2, cov_yy_m2, datum_accuracy_m. Index counted from 0.
    references : GeoDataFrame
        Layer ``references``, in the same plane.
    frame : Frame
        Working CRS, its metric twin, and how the plane differs from the ground.
    notes : list of (item, value)
        How positions were made, for provenance.
    findings : list of Finding
        Rows that could not be placed, and what is doubtful about others.
    """

    locates: gpd.GeoDataFrame
    references: gpd.GeoDataFrame
    frame: Frame
    notes: list[tuple[str, str]]
    findings: list[Finding]


def place_locates(locates: pd.DataFrame, references: pd.DataFrame, *, settings: Settings) -> Placed:
    """Return every located point in one metric plane, with its uncertainty.

    1. Coordinates (lon and lat, easting and northing) go to the working CRS by the best operation
       known there; its accuracy joins the RMS where the operation moves points.
    2. References are the listed ones and the located rows of feature ``reference``.
    3. Where references carry a site grid, it is fitted to the map and places grid positions.
    4. Ties and baselines hang on the references; taped distances are reduced to the plane.
    5. A row with several positions gets the one with the smallest RMS (in a draw: survey, gnss,
       ties, baseline, grid); positions that disagree beyond chi-square 0.999 are reported.

    Parameters
    ----------
    locates : DataFrame, table ``locates_in``
        Missing position columns count as empty.
    references : DataFrame, table ``references_in``
        May be empty.
    settings : Settings
        Sections coordinates and thresholds.

    Returns
    -------
    Placed
        Rows without a usable position are left out and reported. Empty input gives empty layers.

    Raises
    ------
    SettingsError
        coordinates.crs or coordinates.input_crs names no CRS, or the working CRS is not projected.

    Examples
    --------
    >>> import pandas as pd
    >>> from wiremap.model.settings import Settings
    >>> from wiremap.model.tables import LOCATES_IN, REFERENCES_IN
    >>> rows = LOCATES_IN.conform(pd.DataFrame({"point": ["P1"], "lon": [-97.5], "lat": [30.0]}))
    >>> placed = place_locates(rows, REFERENCES_IN.empty(), settings=Settings())
    >>> placed.frame.crs.name, placed.locates.position_rms_m.tolist()
    ('WGS 84 / UTM zone 14N', [0.5])
    """
    batches, findings = read_batches(locates, settings=settings)
    fixed, more = read_batches(references, settings=settings)
    ground = lay_ground(locates, batches, references, fixed, settings=settings)
    findings += more + ground.findings
    notes = list(ground.notes)
    default_m = settings.coordinates.default_rms_m
    found = _coordinate_fixes(ground.located, stated_rms(locates, "h_rms_m", default_m))
    listed_fixes = _coordinate_fixes(ground.fixed, stated_rms(references, "rms_m", default_m))
    listed = list_references(
        references,
        choose(listed_fixes, len(references)).fixes,
        locates,
        choose(found, len(locates)).fixes,
    )
    anchors, grid, more = _anchor(listed, ground, settings)
    findings += more + _lost_references(references, anchors)
    if grid is not None:
        notes.append(("site grid", describe_grid(grid)))
    taped, more = _taped_fixes(locates, found, anchors, grid, ground, settings)
    findings += more
    found |= taped
    chosen = choose(found, len(locates))
    doubts, said = compare(locates, found, chosen)
    findings += doubts + _without_position(locates, chosen)
    accuracy, statement = state_accuracy(gather_checks(locates, found, chosen, anchors, listed))
    return Placed(
        _tabulate(locates, chosen, ground),
        tabulate_references(anchors, listed, crs=ground.frame.metric_crs),
        ground.frame,
        notes + said + statement,
        findings + accuracy,
    )


def _coordinate_fixes(landed: Sequence[Landed], rms_m: Floats) -> dict[PlacedBy, Fixes]:
    """Positions by coordinates, by kind."""
    kinds = (PlacedBy.GNSS, PlacedBy.SURVEY)
    fixes = {kind: fixes_of(landed, kind, rms_m) for kind in kinds}
    return {kind: fix for kind, fix in fixes.items() if fix is not None}


def _anchor(
    listed: Listed, ground: Ground, settings: Settings
) -> tuple[Anchors, Grid | None, list[Finding]]:
    """Return fixed points and the site grid fitted over them, which places the rest of them."""
    anchors, findings = gather_anchors(listed.names, listed.xy, listed.cov)
    tape_m, scale = settings.thresholds.tape_sigma_m, ground.frame.scale_factor
    positions = stated(anchors, listed, listed.grid, np.nan)
    variances = radial_rms(anchors.cov) ** 2 / 2 + (tape_m * scale) ** 2
    grid, more = fit_grid(anchors.names, positions, anchors.xy, variances, scale=scale)
    if grid is None:
        return anchors, None, findings + more
    mapped = place_by_grid(grid, listed.grid, sigma_m=tape_m)
    known = np.array([key_of(name) in anchors.rows for name in listed.names], dtype=bool)
    if (mapped.known & ~known).any():
        xy = np.where(known[:, None], listed.xy, mapped.xy)
        cov = np.where(known[:, None, None], listed.cov, mapped.cov)
        anchors, findings = gather_anchors(listed.names, xy, cov)
    return anchors, grid, findings + more


def _lost_references(references: pd.DataFrame, anchors: Anchors) -> list[Finding]:
    """Report listed references that have neither coordinates nor a grid position of use."""
    message = "A reference needs lon and lat, easting and northing, or a fitted grid position."
    advice = "Add its position to references.csv."
    told = _has_coordinates(references)
    return [
        row_finding("no-position", references, row, message, column="reference", advice=advice)
        for row, name in enumerate(words(references, "reference"))
        if name and key_of(name) not in anchors.rows and not told[row]
    ]


def _has_coordinates(frame: pd.DataFrame) -> NDArray[np.bool_]:
    """Which rows give a whole pair of coordinates; where such a row has no place, it was told."""
    lonlat = np.isfinite(numbers(frame, "lon")) & np.isfinite(numbers(frame, "lat"))
    plane = np.isfinite(numbers(frame, "easting")) & np.isfinite(numbers(frame, "northing"))
    return lonlat | plane


def _taped_fixes(
    locates: pd.DataFrame,
    found: Mapping[PlacedBy, Fixes],
    anchors: Anchors,
    grid: Grid | None,
    ground: Ground,
    settings: Settings,
) -> tuple[dict[PlacedBy, Fixes], list[Finding]]:
    """Positions by site grid, baseline and ties, by kind, as far as rows carry them."""
    fixes: dict[PlacedBy, Fixes] = {}
    findings: list[Finding] = []
    limits, scale = settings.thresholds, ground.frame.scale_factor
    positions = grid_positions(locates)
    if np.isfinite(positions).all(axis=1).any():
        if grid is None:
            findings += _without_grid(locates, positions)
        else:
            fixes[PlacedBy.GRID] = place_by_grid(grid, positions, sigma_m=limits.tape_sigma_m)
    if _is_used(locates, BASELINE_COLUMNS):
        fixes[PlacedBy.BASELINE], more = place_by_baseline(
            locates, anchors, scale=scale, thresholds=limits
        )
        findings += more
    if _is_used(locates, TIE_COLUMNS):
        near = choose({**found, **fixes}, len(locates)).fixes
        fixes[PlacedBy.TIES], more = place_by_ties(
            locates, anchors, near, scale=scale, thresholds=limits
        )
        findings += more
    return fixes, findings


def _is_used(frame: pd.DataFrame, columns: Sequence[str]) -> bool:
    return any(name in frame and bool(frame[name].notna().any()) for name in columns)


def _without_grid(locates: pd.DataFrame, positions: Floats) -> list[Finding]:
    message = (
        "A grid position needs two references that carry both grid_x, grid_y and map coordinates;"
        " there are not two."
    )
    return [
        row_finding("bad-tie", locates, int(row), message, column="grid_x")
        for row in np.flatnonzero(np.isfinite(positions).all(axis=1))
    ]


def _without_position(locates: pd.DataFrame, chosen: Chosen) -> list[Finding]:
    """Report rows that give no position at all; a position that failed has its own finding."""
    lost = np.flatnonzero(~chosen.fixes.known)
    if not len(lost):
        return []
    rows = locates.iloc[lost]
    tried = _has_coordinates(rows) | np.isfinite(grid_positions(rows)).all(axis=1)
    for name in TAPE_NAMES:
        tried |= words(rows, name) != ""
    for name in TAPE_DISTANCES:
        tried |= np.isfinite(numbers(rows, name))
    message = "A row needs a position: lon and lat, easting and northing, ties, baseline or grid."
    return [row_finding("no-position", locates, int(row), message) for row in lost[~tried]]


def _tabulate(locates: pd.DataFrame, chosen: Chosen, ground: Ground) -> gpd.GeoDataFrame:
    """Return the placed rows with their position, its RMS and covariance."""
    known = chosen.fixes.known
    whole = bool(known.all())
    rows = slice(None) if whole else known
    frame = (locates if whole else locates.loc[known]).reset_index(drop=True)
    xy, cov = chosen.fixes.xy[rows], chosen.fixes.cov[rows]
    names = np.array([str(kind) for kind in chosen.kinds], dtype=object)
    columns: dict[str, Any] = {
        "position_rms_m": chosen.rms_m[rows],
        "placed_by": pd.array(names[chosen.which[rows]], dtype="str"),
        "cov_xx_m2": cov[:, 0, 0],
        "cov_xy_m2": cov[:, 0, 1],
        "cov_yy_m2": cov[:, 1, 1],
        "datum_accuracy_m": ground.datum_accuracies(chosen)[rows],
        "geometry": from_shapely(shapely.points(xy), crs=ground.frame.metric_crs),
    }
    # without a copy: the columns that came in are shared with the input
    return gpd.GeoDataFrame(frame.assign(**columns), copy=False)
