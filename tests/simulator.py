"""Invented properties with a known truth: what the pipeline is scored against.

`simulate(Scenario(...))` lays wires in an invented ground, walks them as a technician does, and
returns the field tables together with the truth. `write_folder` writes a property folder.

The geometry of a depth pair is that of an infinite wire: a receiver leaning t from the vertical
nulls at u = D / (cos s / tan t - sin s) along ground that rises by s to that side.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from pyproj import Transformer
from shapely.geometry import LineString, Point

ORIGIN = (634_200.0, 3_906_400.0)  # an invented corner of EPSG:26914
CRS = "EPSG:26914"


@dataclass(frozen=True)
class Scenario:
    """What kind of property, and how carelessly it was walked."""

    seed: int = 1
    zones: int = 6
    name: str = "Simulated property"
    spacing_m: float = 4.0
    pair_every: int = 2
    rms_m: float = 0.05
    stated_rms_m: float | None = None  # None: the column says the truth
    slope_deg: float = 0.0
    lean_bias_deg: float = 0.0
    lean_sigma_deg: float = 2.0
    mark_sigma_m: float = 0.015
    depth_m: tuple[float, float] = (0.2, 0.45)
    one_sided_share: float = 0.0
    with_elevation: bool = False
    with_tone: bool = True
    tone_noise: float = 0.03
    decay_per_m: float = 0.0005
    faults: tuple[tuple[int, str, float], ...] = ()  # (zone, kind, loss)
    tied_valves: bool = False
    list_mistakes: tuple[str, ...] = ()


@dataclass
class Truth:
    """What really lies in the ground."""

    wires: dict[str, LineString] = field(default_factory=dict)
    depths: dict[str, tuple[np.ndarray, np.ndarray]] = field(
        default_factory=dict
    )  # chainage, depth
    valves: dict[str, Point] = field(default_factory=dict)
    faults: dict[str, tuple[str, float, float]] = field(
        default_factory=dict
    )  # kind, chainage, loss
    point_depths: dict[str, float] = field(default_factory=dict)
    walked_to: dict[str, float] = field(default_factory=dict)


@dataclass
class Simulated:
    """Field tables and truth."""

    scenario: Scenario
    locates: list[dict[str, object]]
    zones: list[dict[str, object]]
    references: list[dict[str, object]]
    truth: Truth


def simulate(scenario: Scenario, wires: dict[int, LineString] | None = None) -> Simulated:
    """Lay the wires, walk them, and return what was written down beside the truth.

    `wires` lays given wires, by zone, instead of invented ones.
    """
    rng = np.random.default_rng(scenario.seed)
    truth = Truth()
    controller = np.array(next(iter(wires.values())).coords[0] if wires else ORIGIN)
    gradient = _gradient(scenario, rng)
    lean_common = scenario.lean_bias_deg
    rows: list[dict[str, object]] = []
    zone_rows: list[dict[str, object]] = []
    faults = {zone: (kind, loss) for zone, kind, loss in scenario.faults}
    rows.append(_row("C1", "controller", controller, scenario, rng, controller="A"))
    for zone in wires or range(1, scenario.zones + 1):
        run = f"W{zone}"
        line = wires[zone] if wires else _wire(controller, rng)
        chainage, depth = _depths(line.length, scenario, rng)
        truth.wires[run], truth.depths[run] = line, (chainage, depth)
        truth.valves[run] = Point(line.coords[-1])
        rows += _walk(run, zone, line, (chainage, depth), gradient, lean_common,
                      faults.get(zone), scenario, rng, truth)  # fmt: skip
        ohms = rng.uniform(25, 50) + 2 * line.length * 0.0083
        zone_rows.append({"zone": zone, "controller": "A", "name": f"Bed {zone}", "valves": 1,
                          "awg": 14, "ohms": round(ohms, 1)})  # fmt: skip
    references = _references(controller)
    if scenario.tied_valves:
        _tie_valves(rows, references, truth, scenario, rng)
    _make_list_mistakes(zone_rows, rows, scenario)
    return Simulated(scenario, rows, zone_rows, references, truth)


def _gradient(scenario: Scenario, rng: np.random.Generator) -> np.ndarray:
    """Return the ground's slope as a vector pointing uphill, tangent in size."""
    azimuth = rng.uniform(0, 2 * np.pi)
    return np.tan(np.radians(scenario.slope_deg)) * np.array([np.sin(azimuth), np.cos(azimuth)])


def _wire(start: np.ndarray, rng: np.random.Generator) -> LineString:
    """Return a wire path of a few legs that leaves the controller and wanders off."""
    heading = rng.uniform(0, 2 * np.pi)
    points = [start + rng.normal(0, 0.05, 2)]
    for _ in range(rng.integers(2, 5)):
        length = rng.uniform(12, 35)
        points.append(points[-1] + length * np.array([np.sin(heading), np.cos(heading)]))
        heading += rng.choice([-1, 1]) * np.radians(rng.uniform(35, 90))
    return LineString(points)


def _depths(length: float, scenario: Scenario, rng: np.random.Generator) -> tuple:
    """Return depth along the wire: a mean, a slow wave and a little roughness."""
    chainage = np.linspace(0, length, max(int(length / 0.5), 4))
    low, high = scenario.depth_m
    mean, amplitude = rng.uniform(low, high), 0.12 * (high - low)
    phase, wave = rng.uniform(0, 2 * np.pi, 2), rng.uniform(20, 60)
    depth = mean + amplitude * np.sin(2 * np.pi * chainage / wave + phase[0])
    depth += 0.5 * amplitude * np.sin(2 * np.pi * chainage / (wave / 2.7) + phase[1])
    return chainage, np.clip(depth, 0.05, None)


def _stations(line: LineString, scenario: Scenario, rng: np.random.Generator) -> np.ndarray:
    """Return chainages that are marked: about every spacing, and at each corner."""
    count = max(int(line.length / scenario.spacing_m), 3)
    regular = np.linspace(0.3, line.length, count + 1)
    regular[1:-1] += rng.uniform(-0.2, 0.2, count - 1) * scenario.spacing_m
    corners = [line.project(Point(c)) for c in line.coords[1:-1]]
    far = [s for s in regular if all(abs(s - c) > 0.8 for c in corners)]
    return np.sort(np.array([*far, *corners]))


def _walk(
    run, zone, line, profile, gradient, lean_common, fault, scenario, rng, truth
) -> list[dict[str, object]]:
    """Return the rows of one traced wire."""
    stations = _stations(line, scenario, rng)
    kind, loss = fault or (None, 0.0)
    fault_at = None
    if kind in {"break", "leak"}:
        fault_at = rng.uniform(0.35, 0.75) * line.length
        truth.faults[run] = (kind, fault_at, loss)
    if kind == "open_end":
        fault_at = line.length
        stations = stations[stations < line.length - rng.uniform(4, 8)]
        truth.faults[run] = (kind, fault_at, 1.0)
    rows = []
    truth.walked_to[run] = line.length
    for i, s in enumerate(stations):
        last = i == len(stations) - 1
        feature = "valve" if last and kind not in {"break", "open_end"} else "path"
        silent = kind == "break" and s > fault_at
        if silent:
            feature = "lost"
        rows.append(_mark(run, zone, i, s, feature, line, profile, gradient, lean_common,
                          (kind, fault_at, loss), scenario, rng, truth))  # fmt: skip
        if silent:
            truth.walked_to[run] = s
            break
    if kind in {"break", "open_end"}:  # the box is found by other means
        rows.append(_row(f"V{zone}", "valve", np.array(line.coords[-1]), scenario, rng,
                         zone=zone, controller="A", date="2026-03-11"))  # fmt: skip
    if kind == "open_end":
        truth.walked_to[run] = float(stations[-1])
    return rows


def _mark(
    run, zone, i, s, feature, line, profile, gradient, lean_common, fault, scenario, rng, truth
) -> dict[str, object]:
    """Return one mark over the wire, with its depth pair and level."""
    here = np.array(line.interpolate(s).coords[0])
    ahead = np.array(line.interpolate(min(s + 0.05, line.length)).coords[0])
    behind = np.array(line.interpolate(max(s - 0.05, 0)).coords[0])
    along = (ahead - behind) / np.linalg.norm(ahead - behind)
    left = np.array([-along[1], along[0]])
    depth = float(np.interp(s, *profile))
    point = f"V{zone}" if feature == "valve" else f"{run}-{i:03d}"
    marked = here + left * rng.normal(0, scenario.mark_sigma_m)
    row = _row(point, feature, marked, scenario, rng, run=run, zone=zone, controller="A",
               date="2026-03-11", gain=3)  # fmt: skip
    if scenario.with_elevation:
        row["elevation"] = round(100 + float((here - ORIGIN) @ gradient) + rng.normal(0, 0.02), 3)
    truth.point_depths[point] = depth
    if feature != "lost" and i % scenario.pair_every == 0:
        slope = np.arctan(float(gradient @ left))
        _pair(row, depth, slope, lean_common, scenario, rng)
    if scenario.with_tone:
        row["tone"] = (
            0 if feature == "lost" else _level(s, depth, line.length, fault, scenario, rng)
        )
        if feature == "valve":
            row["tone"] = round(float(row["tone"]) * 3, 2)
    return row


def _pair(row, depth, slope, lean_common, scenario, rng) -> None:
    """Add the offsets of a depth pair to a row."""
    for side, sign in (("offset_left", 1), ("offset_right", -1)):
        error = lean_common + rng.normal(0, scenario.lean_sigma_deg)
        t = np.radians(45 + error)
        u = depth / (np.cos(slope) / np.tan(t) - np.sin(sign * slope))
        row[side] = round(u + rng.normal(0, scenario.mark_sigma_m), 3)
    if rng.random() < scenario.one_sided_share:
        del row[rng.choice(["offset_left", "offset_right"])]


def _level(s, depth, length, fault, scenario, rng) -> float:
    """Return the receiver's level beside the null at chainage s."""
    kind, at, loss = fault
    current = np.exp(-scenario.decay_per_m * s)
    if kind == "leak" and s > at:
        current *= 1 - loss
    if kind == "open_end":
        current *= max(1 - s / length, 0)
    return round(float(200 * current / (2 * depth) * (1 + rng.normal(0, scenario.tone_noise))), 2)


_TO_LONLAT = Transformer.from_crs(CRS, "EPSG:4269", always_xy=True)


def _row(point, feature, xy, scenario, rng, **columns) -> dict[str, object]:
    """Return a row with a GNSS position."""
    x, y = xy + rng.normal(0, scenario.rms_m / np.sqrt(2), 2)
    lon, lat = _TO_LONLAT.transform(x, y)
    stated = scenario.rms_m if scenario.stated_rms_m is None else scenario.stated_rms_m
    return {"point": point, "feature": feature, "lon": f"{lon:.9f}", "lat": f"{lat:.9f}",
            "h_rms": stated, **columns}  # fmt: skip


def _references(controller: np.ndarray) -> list[dict[str, object]]:
    """Return building corners near the controller."""
    corners = [(-8, -3), (4, -3), (4, 9), (-8, 9)]
    return [
        {"reference": f"B{i}", "easting": round(controller[0] + x, 3),
         "northing": round(controller[1] + y, 3), "rms": 0.01, "kind": "building corner"}
        for i, (x, y) in enumerate(corners, 1)
    ]  # fmt: skip


def _tie_valves(rows, references, truth, scenario, rng) -> None:
    """Replace the GNSS position of valves by taped distances from two building corners."""
    for row in rows:
        if row["feature"] != "valve":
            continue
        here = np.array(truth.valves[f"W{row['zone']}"].coords[0])
        a, b = (np.array([r["easting"], r["northing"]]) for r in (references[0], references[2]))
        cross = (b - a)[0] * (here - a)[1] - (b - a)[1] * (here - a)[0]
        for name in ("lon", "lat", "h_rms"):
            row.pop(name, None)
        row |= {"tie_a": "B1", "tie_b": "B3", "tie_side": "left" if cross > 0 else "right",
                "tie_a_dist": round(float(np.linalg.norm(here - a) + rng.normal(0, 0.02)), 3),
                "tie_b_dist": round(float(np.linalg.norm(here - b) + rng.normal(0, 0.02)), 3)}  # fmt: skip


def _make_list_mistakes(zones, rows, scenario) -> None:
    """Plant the named mistakes in the zone list and the labels."""
    for mistake in scenario.list_mistakes:
        if mistake == "zone-without-valve":
            zones.append({"zone": 90, "controller": "A", "name": "Never walked", "valves": 1})
        elif mistake == "valve-without-zone":
            zones[:] = [z for z in zones if z["zone"] != 2]
        elif mistake == "zone-claimed-twice":
            for row in rows:
                if row["feature"] == "valve" and row["zone"] == 3:
                    row["zone"] = 4
        elif mistake == "valve-count-differs":
            zones[0]["valves"] = 2
        elif mistake in {"ohms-open", "ohms-low", "ohms-high"}:
            reading = {"ohms-open": "open", "ohms-low": 6.0, "ohms-high": 180.0}[mistake]
            zones[-1]["ohms"] = reading


def write_folder(simulated: Simulated, folder: Path, *, toml: str = "") -> Path:
    """Write the property folder and return it."""
    folder.mkdir(parents=True, exist_ok=True)
    text = f'[property]\nname = "{simulated.scenario.name}"\n[coordinates]\n'
    text += f'input_crs = "EPSG:4269"\ncrs = "{CRS}"\n' + toml
    (folder / "property.toml").write_text(text, encoding="utf-8")
    _write_csv(folder / "locates.csv", simulated.locates)
    _write_csv(folder / "zones.csv", simulated.zones)
    if simulated.scenario.tied_valves:
        _write_csv(folder / "references.csv", [_lonlat(r) for r in simulated.references])
    return folder


def _lonlat(reference: dict[str, object]) -> dict[str, object]:
    lon, lat = _TO_LONLAT.transform(reference["easting"], reference["northing"])
    return {"reference": reference["reference"], "lon": f"{lon:.9f}", "lat": f"{lat:.9f}",
            "rms": reference["rms"], "kind": reference["kind"]}  # fmt: skip


def _write_csv(path: Path, rows: list[dict[str, object]]) -> None:
    columns = list(dict.fromkeys(name for row in rows for name in row))
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, columns)
        writer.writeheader()
        writer.writerows(rows)
