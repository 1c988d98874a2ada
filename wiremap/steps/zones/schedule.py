"""The wire schedule: one row a zone, with its valve, wire, path, reading, fault and ties."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from wiremap.steps.zones.stations import read_numbers, read_texts

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from wiremap.steps.zones.circuits import Figures
    from wiremap.steps.zones.differences import Tally
    from wiremap.steps.zones.ground import Ground


def tabulate_schedule(
    tallies: Sequence[Tally], ground: Ground, figures: Figures, lengths_m: Sequence[float]
) -> pd.DataFrame:
    """Return the wire schedule as far as the zones themselves tell it.

    Parameters
    ----------
    tallies : sequence of Tally
    ground : Ground
    figures : Figures
        One entry a tally.
    lengths_m : sequence of float
        Mapped wire path to each zone's farthest valve.

    Returns
    -------
    DataFrame
        Columns zone, controller, name, kind, valves_listed, valves_found, valve, run, wire_color,
        awg, path_length_m, ohms, ohms_expected_low, ohms_expected_high, ohms_status, coil_ohms
        (reading less mapped wire, to compare stations), implied_length_low_m and
        implied_length_high_m (wire path that the reading implies), volts_holding, volts_inrush,
        status; several valves or runs parted by semicolons.
    """
    rows: dict[str, list[object]] = {
        name: []
        for name in (
            "zone", "controller", "name", "kind", "valves_listed", "valves_found", "valve", "run",
            "wire_color", "awg", "status",
        )
    }  # fmt: skip
    for tally in tallies:
        for column, value in zip(rows.values(), _schedule_cells(tally, ground), strict=True):
            column.append(value)
    status = rows.pop("status")
    return pd.DataFrame(
        rows
        | {
            "path_length_m": np.asarray(lengths_m, dtype=float),
            "ohms": figures.ohms,
            "ohms_expected_low": figures.low,
            "ohms_expected_high": figures.high,
            "ohms_status": [str(s) for s in figures.status],
            "coil_ohms": figures.coil_ohm,
            "implied_length_low_m": np.maximum(figures.least_length_m, 0.0),
            "implied_length_high_m": np.maximum(figures.most_length_m, 0.0),
            "volts_holding": figures.volts_holding,
            "volts_inrush": figures.volts_inrush,
            "status": status,
        }
    )


def _schedule_cells(tally: Tally, ground: Ground) -> tuple[object, ...]:
    """Return zone to colour, gauge and status of one zone; the ground fills in a silent list."""
    station, valves = tally.station, [ground.valves[i] for i in tally.valves]
    runs = dict.fromkeys([*(ground.runs[i].name for i in tally.runs), *(v.run for v in valves)])
    awg = station.awg if station else ""
    color = station.wire_color if station else ""
    return (
        tally.zone,
        tally.controller,
        station.name if station else "",
        station.kind if station else "zone",
        station.valves if station else 0,
        len(valves),
        "; ".join(v.name for v in valves),
        "; ".join(name for name in runs if name),
        color or next((v.wire_color for v in valves if v.wire_color), ""),
        awg or next((v.awg for v in valves if v.awg), ""),
        str(tally.status),
    )


def complete_schedule(
    schedule: pd.DataFrame, layers: Mapping[str, pd.DataFrame], paths: pd.DataFrame
) -> pd.DataFrame:
    """Return the wire schedule with what the later layers add.

    Parameters
    ----------
    schedule : DataFrame
        From `reconcile_zones`.
    layers : mapping of str to DataFrame
        Layers wire_runs, splices, faults and ties, as far as they exist.
    paths : DataFrame
        Columns valve and runs: the runs from the controller to each valve.

    Returns
    -------
    DataFrame
        Further columns depth_min_m, depth_max_m (over the runs on the way), splices (their
        names), fault and ties (of the valves, as text).

    Examples
    --------
    >>> schedule = pd.DataFrame({"zone": ["1"], "valve": ["V1"], "run": ["R1"]})
    >>> splices = pd.DataFrame({"splice": ["S1"], "run": ["R1"]})
    >>> complete_schedule(schedule, {"splices": splices}, pd.DataFrame())["splices"].tolist()
    ['S1']
    """
    way = dict(zip(read_texts(paths, "valve"), read_texts(paths, "runs"), strict=True))
    on_way = [
        _names(run) + [r for valve in _names(valves) for r in _names(way.get(valve, ""))]
        for run, valves in zip(
            read_texts(schedule, "run"), read_texts(schedule, "valve"), strict=True
        )
    ]
    runs = layers.get("wire_runs", pd.DataFrame())
    least, most = (
        dict(zip(read_texts(runs, "run"), read_numbers(runs, name), strict=True))
        for name in ("depth_min_m", "depth_max_m")
    )
    splices = _by(layers.get("splices"), "run", "splice")
    faults = _by(layers.get("faults"), "run", "kind")
    ties = _ties(layers.get("ties"))
    valves = [_names(text) for text in read_texts(schedule, "valve")]
    return schedule.assign(
        depth_min_m=[_extreme(min, [least.get(r, math.nan) for r in names]) for names in on_way],
        depth_max_m=[_extreme(max, [most.get(r, math.nan) for r in names]) for names in on_way],
        splices=[_join(splices, names) for names in on_way],
        fault=[_join(faults, names) for names in on_way],
        ties=[_join(ties, names) for names in valves],
    )


def _names(text: str) -> list[str]:
    return [part.strip() for part in text.split(";") if part.strip()]


def _extreme(choose: Callable[[list[float]], float], values: list[float]) -> float:
    known = [value for value in values if not math.isnan(value)]
    return choose(known) if known else math.nan


def _by(layer: pd.DataFrame | None, place: str, name: str) -> dict[str, list[str]]:
    """Return the names of a layer's rows by run."""
    named: dict[str, list[str]] = {}
    if layer is not None:
        for key, value in zip(read_texts(layer, place), read_texts(layer, name), strict=True):
            named.setdefault(key, []).append(value)
    return named


def _ties(ties: pd.DataFrame | None) -> dict[str, list[str]]:
    """Return the ties of valves in words."""
    named: dict[str, list[str]] = {}
    if ties is None:
        return named
    texts = [read_texts(ties, n) for n in ("layer", "feature_id", "reference_a", "reference_b")]
    numbers = [read_numbers(ties, n) for n in ("distance_a_m", "distance_b_m")]
    for layer, feature, a, b, to_a, to_b in zip(*texts, *numbers, strict=True):
        if layer == "valves":
            named.setdefault(feature, []).append(f"{a} {to_a:.2f} m, {b} {to_b:.2f} m")
    return named


def _join(named: Mapping[str, list[str]], keys: list[str]) -> str:
    return "; ".join(dict.fromkeys(value for key in keys for value in named.get(key, [])))
