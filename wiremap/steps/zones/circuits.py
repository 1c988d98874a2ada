"""Stations' resistances against what coils and mapped wire let expect.

Reads the stations, the mapped wire paths and the electrical readings; returns figures a station
and findings. Every figure is evidence about a circuit, never a verdict.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from wiremap.formulas.circuits import implied_length_m, reach_m, valve_volts, wire_ohm_per_m
from wiremap.model.findings import Finding
from wiremap.model.kinds import OhmsStatus
from wiremap.steps.zones.labels import count_conductors, read_gauge

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from wiremap.model.settings import Thresholds
    from wiremap.steps.zones.stations import Station

    Floats = NDArray[np.float64]

GAUGES = (18, 16, 14, 12, 10)
"""Gauges that valve wire is sold in."""


class Circuit(NamedTuple):
    """What is known of a station's circuit on the ground.

    Attributes
    ----------
    station : Station
    found : int
        Valves that claim it.
    path_m, path_sigma_m : float
        Mapped wire path to its farthest valve; NaN where not mapped.
    awg : str
        Gauge written on the ground.
    ohms, ohms_to_ground : float
        Latest readings; NaN where not read.
    """

    station: Station
    found: int
    path_m: float
    path_sigma_m: float
    awg: str
    ohms: float
    ohms_to_ground: float


class Wires(NamedTuple):
    """Resistance per metre of hot and common: least and greatest that the gauges allow."""

    hot_low: Floats
    hot_high: Floats
    common_low: Floats
    common_high: Floats


class Figures(NamedTuple):
    """Figures, one entry a circuit; NaN where they do not apply.

    Attributes
    ----------
    ohms, low, high : array
        Reading and expected interval.
    status : list of OhmsStatus
    least_length_m, most_length_m : array
        Wire path that the reading implies with the greatest and with the least coil.
    coil_ohm : array
        One coil, were the reading made of equal coils and the mapped wire: to compare stations.
    volts_holding, volts_inrush : array
        Voltage left at the valve.
    wires : Wires
    """

    ohms: Floats
    low: Floats
    high: Floats
    status: list[OhmsStatus]
    least_length_m: Floats
    most_length_m: Floats
    coil_ohm: Floats
    volts_holding: Floats
    volts_inrush: Floats
    wires: Wires


def check_circuits(
    circuits: Sequence[Circuit], *, thresholds: Thresholds
) -> tuple[Figures, list[Finding]]:
    """Return each station's expected resistance, how its reading stands, and findings.

    The expected interval runs from the least coil to the greatest coil plus the wire both ways,
    at the warmest the wire gets and with slack. Coils stand in parallel: as many as the list
    expects or the ground shows, whichever makes the interval wider. A pump start has no
    expectation, and a spare is expected open.

    Parameters
    ----------
    circuits : sequence of Circuit
    thresholds : Thresholds

    Returns
    -------
    Figures
    list of Finding
        `ohms-open`, `ohms-low`, `ohms-high`, `insulation-low`.

    References
    ----------
    Coil range: 20 to 60 ohm through the wires, as several trade and handbook texts accept. Slack:
    a public specification rejects a loop above 120 % of the calculated resistance.
    """
    wires = _wires(circuits, thresholds)
    ohms = np.array([c.ohms for c in circuits], dtype=float)
    path = np.array([c.path_m for c in circuits], dtype=float)
    sigma = np.nan_to_num(np.array([c.path_sigma_m for c in circuits], dtype=float))
    few, many = _coils(circuits)
    mapped = path[np.isfinite(path)]
    unmapped = max(thresholds.unmapped_path_m, float(mapped.max(initial=0.0)))
    longest = np.where(np.isfinite(path), path + 2 * sigma, unmapped) * thresholds.wire_slack_factor
    low = thresholds.coil_low_ohm / many
    high = thresholds.coil_high_ohm / few + longest * (wires.hot_high + wires.common_high)
    expects = np.array([c.station.kind in {"zone", "master_valve"} for c in circuits], dtype=bool)
    low[~expects] = high[~expects] = np.nan
    status = [
        _status(c, a, b, thresholds.open_ohm)
        for c, a, b in zip(circuits, low.tolist(), high.tolist(), strict=True)
    ]
    thin = {"hot_ohm_per_m": wires.hot_high, "common_ohm_per_m": wires.common_high}
    thick = {"hot_ohm_per_m": wires.hot_low, "common_ohm_per_m": wires.common_low}
    finite = np.where(np.isfinite(ohms) & expects, ohms, np.nan)
    least = implied_length_m(finite, thresholds.coil_high_ohm, coils=few, **thin)
    most = implied_length_m(finite, thresholds.coil_low_ohm, coils=many, **thick)
    holding, inrush = (
        np.where(expects, valve_volts(thresholds.supply_v, a * many, path, **thin), np.nan)
        for a in (thresholds.holding_a, thresholds.inrush_a)
    )
    coil = (finite - path * sum(wires) / 2) * few
    figures = Figures(ohms, low, high, status, least, most, coil, holding, inrush, wires)
    findings = [f for i, c in enumerate(circuits) for f in _findings(c, figures, i, thresholds)]
    return figures, findings


def list_reach(thresholds: Thresholds) -> dict[int, float]:
    """Return how far a valve may stand from the controller, by gauge, same wire both ways.

    Parameters
    ----------
    thresholds : Thresholds
        Supply, least voltage and inrush.

    Returns
    -------
    dict of int to float
        Metres of wire path by gauge, at the warmest the wire gets.

    Examples
    --------
    >>> from wiremap.model.settings import Thresholds
    >>> {awg: round(length) for awg, length in list_reach(Thresholds()).items()}
    {18: 221, 16: 352, 14: 559, 12: 890, 10: 1415}
    """
    per_m = wire_ohm_per_m(GAUGES, temperature_c=thresholds.wire_warm_c)
    drop = thresholds.supply_v - thresholds.least_valve_v
    reach = reach_m(drop, thresholds.inrush_a, hot_ohm_per_m=per_m, common_ohm_per_m=per_m)
    return dict(zip(GAUGES, reach.tolist(), strict=True))


def _wires(circuits: Sequence[Circuit], thresholds: Thresholds) -> Wires:
    hot = np.array([_gauge(c) for c in circuits], dtype=float)
    common = np.array([read_gauge(c.station.common, marked=True) for c in circuits], dtype=float)
    side_by_side = np.array([count_conductors(c.station.common) for c in circuits], dtype=float)

    def per_m(awg: Floats, default: float, temperature_c: float) -> Floats:
        known = np.where(np.isnan(awg), default, awg)
        return np.asarray(wire_ohm_per_m(known, temperature_c=temperature_c), dtype=float)

    thick = thresholds.thick_awg, thresholds.wire_cold_c
    thin = thresholds.thin_awg, thresholds.wire_warm_c
    return Wires(
        per_m(hot, *thick),
        per_m(hot, *thin),
        per_m(common, *thick) / side_by_side,
        per_m(common, *thin) / side_by_side,
    )


def _gauge(circuit: Circuit) -> float:
    listed = read_gauge(circuit.station.awg)
    return read_gauge(circuit.awg) if math.isnan(listed) else listed


def _coils(circuits: Sequence[Circuit]) -> tuple[Floats, Floats]:
    """Return the fewest and the most coils that a station may have."""
    listed = np.array([max(c.station.valves, 1) for c in circuits], dtype=float)
    most = np.array([max(c.station.most_valves, 1) for c in circuits], dtype=float)
    found = np.array([c.found or max(c.station.valves, 1) for c in circuits], dtype=float)
    return np.minimum(listed, found), np.maximum(most, found)


def _status(circuit: Circuit, low: float, high: float, open_ohm: float) -> OhmsStatus:
    ohms, kind = circuit.ohms, circuit.station.kind
    if math.isnan(ohms):
        return OhmsStatus.NOT_READ
    if kind == "spare":
        return OhmsStatus.AS_EXPECTED
    if ohms >= open_ohm:
        return OhmsStatus.OPEN
    if ohms < low:
        return OhmsStatus.LOW
    return OhmsStatus.HIGH if ohms > high else OhmsStatus.AS_EXPECTED


def _findings(circuit: Circuit, figures: Figures, i: int, thresholds: Thresholds) -> list[Finding]:
    station, ohms = circuit.station, circuit.ohms
    name = _capital(station.subject)
    read = f"{name} reads {ohms:.1f} ohm; coil and wire let expect"
    read += f" {figures.low[i]:.1f} to {figures.high[i]:.1f} ohm."
    shown = "" if math.isinf(ohms) else f" ({ohms:.0f} ohm)"
    odd = {
        OhmsStatus.OPEN: (
            "ohms-open",
            f"{name} reads open{shown}; the wire, a splice or the coil does not conduct.",
        ),
        OhmsStatus.LOW: ("ohms-low", read + _why_low(circuit, thresholds)),
        OhmsStatus.HIGH: ("ohms-high", read + _why_high(circuit, float(figures.least_length_m[i]))),
    }
    findings = []
    if figures.status[i] in odd:
        code, text = odd[figures.status[i]]
        findings.append(_finding(code, station, "ohms", ohms, text))
    to_ground = circuit.ohms_to_ground
    if to_ground < thresholds.min_ohms_to_ground:
        text = (
            f"{name} reads {to_ground:.0f} ohm to ground, under the limit of"
            f" {thresholds.min_ohms_to_ground:.0f} ohm (min_ohms_to_ground)."
        )
        findings.append(_finding("insulation-low", station, "ohms_to_ground", to_ground, text))
    return findings


def _finding(code: str, station: Station, column: str, ohms: float, text: str) -> Finding:
    return Finding(
        code,
        station.subject,
        text,
        source_file=station.source_file,
        source_row=station.source_row,
        column=column,
        value="open" if math.isinf(ohms) else f"{ohms:g}",
    )


def _why_low(circuit: Circuit, thresholds: Thresholds) -> str:
    more = max(circuit.station.valves, circuit.found, 1) + 1
    if circuit.ohms >= thresholds.coil_low_ohm / more:
        return f" {more} coils in parallel would explain it, and so would damaged insulation."
    return " That is less than two coils explain; two conductors may touch."


def _why_high(circuit: Circuit, least_length_m: float) -> str:
    mapped = f"{circuit.path_m:.0f} m are mapped" if circuit.path_m >= 0 else "none is mapped"
    return f" Wire alone would have to be at least {least_length_m:.0f} m long ({mapped})."


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
