"""The step: every run judged, reports matched, the layer and its findings written."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple, cast

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from wiremap.formulas.bends import cut_corners_m
from wiremap.model.findings import Finding
from wiremap.model.kinds import FaultKind, FaultStatus, Feature
from wiremap.model.tables import FAULTS
from wiremap.model.units import share_text
from wiremap.steps.faults.coils import compare_coils
from wiremap.steps.faults.judge import chainage_sigma, judge_run
from wiremap.steps.faults.levels import Places, listen_along
from wiremap.steps.faults.places import (
    branch_places,
    crossing_places,
    fed_at_far_end,
    splices_beside,
)
from wiremap.steps.faults.reported import contradict, list_reported, match_reported
from wiremap.steps.faults.rows import arrange_rows
from wiremap.steps.faults.words import CAUTION, REPAIRED, describe_evidence, recommend_dig

if TYPE_CHECKING:
    from wiremap.formulas.tone_models import Verdict
    from wiremap.model.frame import Frame
    from wiremap.model.settings import Settings
    from wiremap.steps.faults.judge import Found, Judged
    from wiremap.steps.faults.levels import RunTone
    from wiremap.steps.faults.reported import Reported

_CONTRADICTING_LOSS = 0.35
_REPORTED_CONFIDENCE = 0.5
_MOST_CONFIDENCE = 0.999
_LEAST_SCATTER = 0.3
_TONES = ("run", "chainage_m", "level", "current", "model", "low", "high")


class Faults(NamedTuple):
    """What `find_faults` returns.

    Attributes
    ----------
    faults : GeoDataFrame
        Layer ``faults``.
    coils : DataFrame
        Levels read at coils: valve, run, point, level, margin, locate.
    tones : DataFrame
        Tone profiles: run, chainage_m, level, current (relative to the run's first levels), model,
        low and high (95 % band of a reading about the model).
    findings : list of Finding
    """

    faults: gpd.GeoDataFrame
    coils: pd.DataFrame
    tones: pd.DataFrame
    findings: list[Finding]


def find_faults(
    points: gpd.GeoDataFrame, placed: gpd.GeoDataFrame, lines: gpd.GeoDataFrame,
    connections: pd.DataFrame, *, frame: Frame, settings: Settings,
    readings: pd.DataFrame | None = None,
) -> Faults:  # fmt: skip
    """Find breaks, leaks and open ends from the tone, and hold reported faults against them.

    The level beside the null times the depth is relative current, one gain at a time. Along a
    sound run it decays slowly; a step down that lasts is a leak; silence after a standing level
    is a break; a taper to nothing is an open end. A drop at a known branch, splice or valve, at
    a change of gain or visit, or at a wire that crosses is no fault.

    Parameters
    ----------
    points : GeoDataFrame
        Points on runs, ordered by run and chainage: run, point, feature, tone, gain, chainage_m,
        on_line, wire_depth_m, wire_depth_sigma_m (NaN where not known), position_rms_m, locate.
    placed : GeoDataFrame
        All located rows; reported faults and valves are taken from here.
    lines : GeoDataFrame
        One row a run: run, geometry, length_m.
    connections : DataFrame
        run, chainage_m, other_kind: where current may divide.
    frame : Frame
        Working frame.
    settings : Settings
        Tone scale, gain table, join distance, depth length scale.
    readings : DataFrame, optional
        Layer ``depth_readings`` with locate: tells a step in the depth from a leak.

    Returns
    -------
    Faults
        Empty tables where no row has a tone, none is lost and no fault is reported.

    References
    ----------
    Field of a long wire: `wiremap.formulas.tone`; models: `wiremap.formulas.tone_models`. That a
    break silences, damage weakens and an open end fades is common practice, no source.
    """
    tones = listen_along(
        arrange_rows(points, readings=readings, settings=settings),
        _list_places(lines, placed, connections, frame, settings),
        depth_length_m=settings.thresholds.depth_length_scale_m,
    )
    judged = {tone.run: judge_run(tone) for tone in tones}
    reported = list_reported(
        placed, points, lines, scale_factor=frame.scale_factor, settings=settings
    )
    join_m = settings.thresholds.join_m
    matched = match_reported(reported, judged, join_m=join_m)
    computed = [found for run in judged.values() for found in run.found]
    records = _computed_rows(computed, matched, reported, lines, frame, tones)
    records += _reported_rows(reported, matched)
    findings = _find_computed(records) + _find_contradicted(reported, matched, judged, join_m)
    findings += _find_undecided(judged)
    return Faults(
        _as_layer(records, frame), compare_coils(placed, settings=settings),
        _draw_tones(tones, judged), findings,
    )  # fmt: skip


def _list_places(
    lines: gpd.GeoDataFrame, placed: gpd.GeoDataFrame, connections: pd.DataFrame,
    frame: Frame, settings: Settings,
) -> Places:  # fmt: skip
    lengths = dict(zip(lines["run"], lines["length_m"], strict=True))
    splices = placed[(placed["feature"] == Feature.SPLICE).to_numpy(dtype=bool)]
    beside = splices_beside(
        lines, splices, reach_m=settings.thresholds.join_m, scale_factor=frame.scale_factor
    )
    return Places(
        branches=branch_places(connections, beside),
        crossings=crossing_places(lines, scale_factor=frame.scale_factor),
        fed_far=fed_at_far_end(connections, lengths),
    )


def _computed_rows(
    computed: list[Found], matched: dict[int, Found], reported: list[Reported],
    lines: gpd.GeoDataFrame, frame: Frame, tones: list[RunTone],
) -> list[dict[str, object]]:  # fmt: skip
    reports = {id(found): reported[index] for index, found in matched.items()}
    line_of = dict(zip(lines["run"], lines.geometry, strict=True)) if len(lines) else {}
    sigma_of = {tone.run: tone.sigma_m for tone in tones}
    counts: dict[str, int] = {}
    records = []
    for found in computed:
        counts[found.run] = counts.get(found.run, 0) + 1
        record = _record(found, reports.get(id(found)), counts[found.run])
        line = line_of.get(found.run)
        record["geometry"] = _on_line(line, found.chainage_m, frame)
        record["chainage_high_m"] = found.high_m + _cut_off(line, found.high_m, frame)
        along = (found.high_m - found.low_m) / (2 * 1.96)
        short = _falls_short(line, found.chainage_m, frame)
        scatter = sigma_of[found.run] * np.sqrt(2.0)
        record["position_rms_m"] = float(np.sqrt(scatter**2 + along**2 + short**2))
        if short > 0:
            record["evidence"] = (
                f"{record['evidence']}; shown at the line's end, {short:.1f} m short"
            )
        records.append(record)
    return records


def _cut_off(line: object, chainage_m: float, frame: Frame) -> float:
    """Return by how much corners cut off between marks may lengthen the wire up to a chainage."""
    if line is None:
        return 0.0
    x, y = shapely.get_coordinates(line).T / frame.scale_factor
    start = np.cumsum(np.hypot(np.diff(x), np.diff(y))) - np.hypot(np.diff(x), np.diff(y))
    return float(cut_corners_m(x, y)[start < chainage_m].sum())


def _falls_short(line: object, chainage_m: float, frame: Frame) -> float:
    """Return how far beyond the end of its line a chainage lies: the line is not drawn on."""
    if line is None:
        return 0.0
    length: float = line.length / frame.scale_factor  # type: ignore[attr-defined]
    return max(chainage_m - length, 0.0)


def _on_line(line: object, chainage_m: float, frame: Frame) -> object:
    if line is None:
        return None
    return line.interpolate(max(chainage_m, 0.0) * frame.scale_factor)  # type: ignore[attr-defined]


def _record(found: Found, report: Reported | None, number: int) -> dict[str, object]:
    record: dict[str, object] = {
        "fault": f"{found.run}-fault-{number}", "run": found.run, "kind": str(found.kind),
        "chainage_m": found.chainage_m, "chainage_low_m": found.low_m,
        "chainage_high_m": found.high_m, "loss_fraction": found.loss,
        "loss_fraction_low": found.loss_low, "loss_fraction_high": found.loss_high,
        "confidence": min(found.confidence, _MOST_CONFIDENCE),
        "status": str(FaultStatus.STANDING), "evidence": describe_evidence(found),
        "dig": recommend_dig(found), "first_date": found.visit, "last_date": found.visit,
        "observations": found.levels,
    }  # fmt: skip
    return record if report is None else record | _agreement(found, report)


def _agreement(found: Found, report: Reported) -> dict[str, object]:
    """Return what a report that agrees changes in a computed fault's row."""
    doubt = (1.0 - found.confidence) * (1.0 - _REPORTED_CONFIDENCE)
    days = sorted(day for day in (found.visit, report.date) if day)
    told = f"reported: {report.name} at {report.chainage_m:.1f} m"
    changed: dict[str, object] = {
        "fault": report.name,
        "confidence": min(1.0 - doubt, _MOST_CONFIDENCE),
        "status": str(report.status),
        "evidence": f"tone: {describe_evidence(found)}; {told}",
        "first_date": days[0] if days else "",
        "last_date": days[-1] if days else "",
        "observations": found.levels + 1,
    }
    if report.status == FaultStatus.REPAIRED:
        changed["dig"] = REPAIRED
    return changed


def _reported_rows(reported: list[Reported], matched: dict[int, Found]) -> list[dict[str, object]]:
    records: list[dict[str, object]] = []
    for index, report in enumerate(reported):
        if index in matched:
            continue
        repaired = report.status == FaultStatus.REPAIRED
        spread = 1.96 * chainage_sigma(report.chainage_m, report.rms_m / np.sqrt(2.0))
        note = f": {report.note}" if report.note else ""
        dig = REPAIRED if repaired else f"Open first at the point. {CAUTION}"
        records.append({
            "fault": report.name, "run": report.run, "kind": str(FaultKind.REPORTED),
            "chainage_m": report.chainage_m,
            "chainage_low_m": np.maximum(report.chainage_m - spread, 0.0),
            "chainage_high_m": report.chainage_m + spread, "loss_fraction": float("nan"),
            "loss_fraction_low": float("nan"), "loss_fraction_high": float("nan"),
            "confidence": _REPORTED_CONFIDENCE, "status": str(report.status),
            "evidence": f"reported in the field{note}", "dig": dig,
            "position_rms_m": report.rms_m, "first_date": report.date, "last_date": report.date,
            "observations": 1, "geometry": shapely.Point(report.x_m, report.y_m),
        })  # fmt: skip
    return records


def _find_computed(records: list[dict[str, object]]) -> list[Finding]:
    found = []
    for record in records:
        if record["kind"] == FaultKind.REPORTED or record["status"] == FaultStatus.REPAIRED:
            continue
        kind = str(record["kind"]).replace("_", " ")
        place = record["geometry"]
        sure = share_text(cast("float", record["confidence"]))
        x, y = (place.x, place.y) if place is not None else (float("nan"),) * 2  # type: ignore[attr-defined]
        found.append(
            Finding(
                "fault-found", str(record["fault"]),
                f"run {record['run']}: {kind} near {record['chainage_m']:.1f} m,"
                f" confidence {sure}; {record['evidence']}",
                advice=str(record["dig"]), x_m=x, y_m=y,
            )
        )  # fmt: skip
    return found


def _find_contradicted(
    reported: list[Reported], matched: dict[int, Found], judged: dict[str, Judged], join_m: float
) -> list[Finding]:
    findings = []
    for index, report in enumerate(reported):
        if index in matched:
            continue
        how = contradict(report, judged, least_loss=_CONTRADICTING_LOSS, join_m=join_m)
        if how:
            findings.append(
                Finding(
                    "fault-contradicted", report.name, f"fault {report.name} {how}",
                    source_file=report.source_file, source_row=report.source_row,
                    column="feature", value="fault", x_m=report.x_m, y_m=report.y_m,
                )
            )  # fmt: skip
    return findings


def _find_undecided(judged: dict[str, Judged]) -> list[Finding]:
    return [
        Finding("tone-undecided", name, f"run {name}: {run.undecided}")
        for name, run in judged.items()
        if run.undecided
    ]


def _as_layer(records: list[dict[str, object]], frame: Frame) -> gpd.GeoDataFrame:
    if not records:
        return FAULTS.empty(crs=frame.metric_crs)
    columns = {name: [record.get(name) for record in records] for name in records[0]}
    return FAULTS.conform(
        gpd.GeoDataFrame(columns, geometry="geometry", crs=frame.metric_crs), crs=frame.metric_crs
    )


def _draw_tones(tones: list[RunTone], judged: dict[str, Judged]) -> pd.DataFrame:
    """Return the profiles, current relative to the model at each run's first levels."""
    parts = [_draw_tone(tone, judged[tone.run].verdict) for tone in tones]
    if not parts:
        return pd.DataFrame({name: [] for name in _TONES})
    stacked = [np.concatenate(each) for each in zip(*parts, strict=True)]
    return pd.DataFrame(dict(zip(_TONES, stacked, strict=True)))


def _draw_tone(tone: RunTone, verdict: Verdict | None) -> tuple[np.ndarray, ...]:
    levels = tone.levels
    count = len(levels.chainage_m)
    model = np.full(count, np.nan) if verdict is None else verdict.model
    ends = (levels.log_current if verdict is None else model)[:3]
    scale = float(np.median(ends)) if count else 0.0
    spread = 1.96 * levels.noise * max(1.0 if verdict is None else verdict.sigma, _LEAST_SCATTER)
    logs = (levels.log_current, model, model - spread, model + spread)
    currents = (np.exp(each - scale) for each in logs)
    columns = (np.full(count, tone.run, dtype=object), levels.chainage_m, tone.level, *currents)
    if np.isnan(tone.reverse_m):
        return columns
    run, chainage, *rest = (column[::-1] for column in columns)
    return (run, tone.reverse_m - chainage, *rest)
