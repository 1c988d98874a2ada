"""From coordinates to the plane: working CRS, transformations, and what is odd about them."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from wiremap.model.findings import Finding
from wiremap.model.kinds import PlacedBy, Severity
from wiremap.steps.placement.crs import (
    NOWHERE,
    distortion_findings,
    geodetic,
    make_frame,
    parse_crs,
    working_crs,
)
from wiremap.steps.placement.datum import NULL_M, is_nad83_and_wgs84, nad83_offset_m
from wiremap.steps.placement.direct import choose_crs, land
from wiremap.steps.placement.plausible import (
    FOOT_M,
    SURVEY_FOOT_M,
    area_findings,
    frame_findings,
    set_far_aside,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    import pandas as pd
    from numpy.typing import NDArray
    from pyproj import CRS

    from wiremap.model.frame import Frame
    from wiremap.model.settings import Settings
    from wiremap.steps.placement.choosing import Chosen
    from wiremap.steps.placement.direct import Batch, Landed

    Floats = NDArray[np.float64]

OFF_UNIT_M = 0.01
"""A foot read as the other foot is reported where it moves the coordinates by more than this."""


class Ground(NamedTuple):
    """The frame, the coordinates of both tables in its plane, and what to say about them."""

    frame: Frame
    located: list[Landed]
    fixed: list[Landed]
    notes: list[tuple[str, str]]
    findings: list[Finding]

    def datum_accuracies(self, chosen: Chosen) -> Floats:
        """Each row's common datum shift that is not in its RMS; NaN where there is none.

        What was taped from references shares the worst of theirs.
        """
        found = np.full(len(chosen.which), np.nan)
        kinds = np.array(chosen.kinds, dtype=object)[chosen.which]
        direct = np.isin(kinds, [PlacedBy.GNSS, PlacedBy.SURVEY])
        found[~direct] = np.fmax.reduce([_apart(item) for item in self.fixed] or [np.nan])
        for item in self.located:
            rows = item.batch.rows[kinds[item.batch.rows] == item.batch.kind]
            found[rows] = _apart(item)
        return found


def _apart(item: Landed) -> float:
    """Return the accuracy of an operation between datums that moves nothing."""
    operation = item.operation
    return float("nan") if operation.is_carried else operation.accuracy_m


def lay_ground(
    locates: pd.DataFrame,
    batches: list[Batch],
    references: pd.DataFrame,
    fixed: list[Batch],
    *,
    settings: Settings,
) -> Ground:
    """Choose the working CRS and bring all coordinates into its metric plane."""
    named = settings.coordinates.crs
    given = None if named is None else working_crs(named)
    batches, findings = _inside_their_area(batches, locates, given)
    fixed, more = _inside_their_area(fixed, references, given)
    chosen = choose_crs(batches or fixed)
    crs = given or chosen or parse_crs(NOWHERE)
    frame = make_frame(crs, None)
    located, refused = land(batches, frame, locates, settings=settings)
    anchored, refused_fixed = land(fixed, frame, references, settings=settings)
    findings += more + refused + refused_fixed
    findings += set_far_aside(
        [(item, locates) for item in located] + [(item, references) for item in anchored]
    )
    frame = make_frame(crs, _centre(located or anchored))
    landed = located + anchored
    if given is None and chosen is not None:
        findings.append(_chosen(frame, landed))
    findings += distortion_findings(frame)
    if all(finding.code != "outside-area-of-use" for finding in findings):
        findings += frame_findings(frame)
    findings += _datum_findings(frame, landed) + _unit_findings(landed, settings)
    frame = _with_operation(frame, landed)
    return Ground(frame, located, anchored, _notes(frame, landed, chosen=given is None), findings)


def _centre(landed: Sequence[Landed]) -> Floats | None:
    """Return the middle of all positions; None where there is none."""
    if not landed:
        return None
    plane = np.concatenate([item.plane for item in landed])
    plane = plane[np.isfinite(plane[:, 0])]
    return plane.mean(axis=0) if len(plane) else None


def _inside_their_area(
    batches: Sequence[Batch], table: pd.DataFrame, given: CRS | None
) -> tuple[list[Batch], list[Finding]]:
    """Drop batches that some mistake put outside their area, and report them."""
    kept: list[Batch] = []
    findings: list[Finding] = []
    for batch in batches:
        found, aside = area_findings(batch, table, given)
        findings += found
        if not aside:
            kept.append(batch)
    return kept, findings


def _chosen(frame: Frame, landed: Sequence[Landed]) -> Finding:
    kept = all(item.operation.same_datum for item in landed)
    message = (
        f"No working CRS was given; {frame.crs.name} was chosen: the UTM zone of the data"
        f"{', in the datum of the data, so that no datum shift is involved' if kept else ''}."
    )
    return Finding("crs-chosen", "coordinates.crs", message, value=frame.crs.name)


def _datum_findings(frame: Frame, landed: Sequence[Landed]) -> list[Finding]:
    """Say for each transformation between datums how good it is and where its error went."""
    shifted = {item.batch.crs.name: item for item in landed if not item.operation.same_datum}
    mixed = len({geodetic(item.batch.crs).name for item in landed}) > 1
    findings = []
    for name, item in shifted.items():
        known = np.isfinite(item.operation.accuracy_m)
        doubtful = not known or (mixed and not item.operation.is_carried)
        severity = Severity.WARNING if doubtful else None
        message = _datum_message(frame, name, item, mixed=mixed)
        findings.append(Finding("datum-shift", name, message, "", severity, value=name))
    return findings


def _datum_message(frame: Frame, name: str, item: Landed, *, mixed: bool) -> str:
    operation = item.operation
    accuracy = operation.accuracy_m
    stated = f"{accuracy:.3g} m" if np.isfinite(accuracy) else "unknown, it may be metres off"
    moved = (
        f"moves them {operation.moved_m:.2f} m" if operation.moved_m > NULL_M else "moves nothing"
    )
    used = (
        f"Positions in {name} were taken to {frame.crs.name} by '{operation.name}', which {moved};"
        f" its stated accuracy is {stated}."
    )
    parts = [used]
    if is_nad83_and_wgs84(item.batch.crs, frame.crs) and np.isfinite(frame.lon_deg):
        apart = nad83_offset_m(frame.lon_deg, frame.lat_deg)
        parts.append(f"Today's WGS 84 and NAD83(2011) lie {apart:.2f} m apart here.")
    if operation.better:
        parts.append(f"'{operation.better}' would be better; its grid is not installed.")
    if operation.is_carried:
        parts.append("The accuracy is part of every position's RMS.")
    elif mixed:
        parts.append(
            "Positions from different datums are mixed, and may be shifted against each other by"
            " as much; that is not in position_rms_m."
        )
    else:
        parts.append(
            "It is one shift common to the whole map, so it is stated in datum_accuracy_m and not"
            " added to position_rms_m: lengths, depths and what the same receiver finds again are"
            " untouched, the place against other maps is not."
        )
    return " ".join(parts)


def _unit_findings(landed: Sequence[Landed], settings: Settings) -> list[Finding]:
    """Say where lengths are written in one foot and positions stand in the other."""
    unit = {"ft": FOOT_M, "ftus": SURVEY_FOOT_M}.get(settings.coordinates.length_unit)
    findings = []
    for item in landed:
        axis = _unit_m(item.batch.crs)
        if unit is None or item.batch.kind is not PlacedBy.SURVEY or axis == 1:
            continue
        x, y = item.batch.middle
        off = float(np.hypot(x, y)) * abs(axis - unit)
        if abs(axis / unit - 1) > 1e-9 and off > OFF_UNIT_M:  # noqa: PLR2004 - the feet differ by 2e-6
            message = (
                f"Eastings and northings were read in the {item.batch.crs.axis_info[0].unit_name}"
                f" of {item.batch.crs.name}, but length_unit is"
                f" {settings.coordinates.length_unit!r}; in that foot they would lie {off:.2f} m"
                " from there."
            )
            findings.append(
                Finding("unit-mismatch", item.batch.crs.name, message, column="easting",
                        value=settings.coordinates.length_unit)
            )  # fmt: skip
    return findings


def _unit_m(crs: CRS) -> float:
    return float(crs.axis_info[0].unit_conversion_factor)


def _with_operation(frame: Frame, landed: Sequence[Landed]) -> Frame:
    """Return the frame with the operation of most positions, and the worst accuracy."""
    if not landed:
        return frame
    main = max(landed, key=lambda item: len(item.plane))
    accuracies = [i.operation.accuracy_m for i in landed if not i.operation.same_datum]
    worst = max(accuracies, default=float("nan"))
    return replace(frame, transformation=main.operation.name, accuracy_m=worst)


def _notes(frame: Frame, landed: Sequence[Landed], *, chosen: bool) -> list[tuple[str, str]]:
    """Lines of provenance about the CRS and the transformations."""
    code = frame.crs.to_authority()
    name = f"{frame.crs.name} ({':'.join(code)})" if code else frame.crs.name
    notes = [("working CRS", f"{name}, {'chosen from the data' if chosen else 'given'}")]
    if np.isfinite(frame.lon_deg):
        notes += [
            ("grid scale factor", f"{frame.scale_factor:.7f}"),
            ("grid convergence", f"{frame.convergence_deg:.5f} degrees"),
        ]
    seen = {}
    for item in landed:
        seen[item.batch.crs.name, item.batch.kind] = item
    for (name, kind), item in seen.items():
        op = item.operation
        accuracy = "no datum change" if op.same_datum else f"accuracy {op.accuracy_m:.3g} m"
        carried = ", in position_rms_m" if op.is_carried else ""
        unit = "" if kind is PlacedBy.GNSS else f", read in {item.batch.crs.axis_info[0].unit_name}"
        notes.append(
            (f"transformation, {kind} from {name}", f"{op.name}; {accuracy}{carried}{unit}")
        )
    return notes
