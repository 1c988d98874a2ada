"""Layers of invented gardens, made straight from the declared tables.

`make_layers` builds every layer of a property of any size: a controller at a garage, one wire a
zone that leaves through a shared trench and branches to its valves, with depths, faults and
findings. Nothing here comes from a real place.
"""

from __future__ import annotations

from typing import NamedTuple

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from wiremap.model.settings import Settings
from wiremap.model.tables import LAYERS

CRS = "EPSG:26914"
ORIGIN = np.array([584_000.0, 4_205_000.0])
NAMES = (
    "Front lawn", "Rose border", "Orchard drip", "South terrace", "Kitchen garden", "Pond bank",
    "Drive verge", "Meadow edge",
)  # fmt: skip


class Synthetic(NamedTuple):
    """An invented property."""

    layers: dict[str, pd.DataFrame]
    curves: pd.DataFrame
    tones: pd.DataFrame
    base: dict[str, gpd.GeoDataFrame]
    settings: Settings

    def arguments(self, name: str = "Hazel Bank") -> dict[str, object]:
        """What `draw_map` takes by keyword."""
        return {
            "name": name,
            "settings": self.settings,
            "curves": self.curves,
            "tones": self.tones,
            "base": self.base,
        }


def make_layers(zones: int = 8, *, points_per_run: int = 24, seed: int = 4) -> Synthetic:
    """Return an invented property of so many zones, with so many locates on each run."""
    random = np.random.default_rng(seed)
    routes = [_route(number, zones, points_per_run, random) for number in range(zones)]
    runs = [f"W{number + 1}" for number in range(zones)]
    chainages = [np.r_[0.0, np.cumsum(np.hypot(*np.diff(route, axis=0).T))] for route in routes]
    depths = [0.28 + 0.1 * np.sin(c / 9.0 + n) + 0.02 * (n % 3) for n, c in enumerate(chainages)]
    sigmas = [0.02 + 0.01 * np.abs(np.sin(c / 5.0)) for c in chainages]
    layers = {
        "locates": _locates(runs, routes),
        "depth_readings": _readings(runs, routes, chainages, depths, sigmas),
        "wire_runs": _runs(runs, routes, chainages, depths),
        "wire_segments": _segments(runs, routes, chainages, depths, sigmas),
        "valves": _valves(runs, routes, depths),
        "splices": _frame(
            {"splice": ["S1"], "run": ["W1"], "box": ["round 6 in"], "depth_m": [0.31],
             "depth_sigma_m": [0.02], "position_rms_m": [0.2], "first_date": ["2026-04-02"],
             "last_date": ["2026-04-20"]},
            [routes[0][points_per_run // 2]],
        ),
        "faults": _faults(runs, routes, chainages),
        "controllers": _frame(
            {"controller": ["A"], "position_rms_m": [0.1], "first_date": ["2026-04-02"],
             "last_date": ["2026-04-20"]},
            [ORIGIN],
        ),
        "equipment": _frame(
            {"kind": ["ground", "backflow", "quick_coupler", "sensor"],
             "label": ["rod by the gate", "", "", "rain sensor on the eave"],
             "position_rms_m": [0.3, 0.3, 0.4, 0.2]},
            ORIGIN + np.array([[3.0, -4.0], [-5.0, 7.0], [24.0, 21.0], [-2.0, 5.0]]),
        ),
        "references": _frame(
            {"reference": ["NE corner of the garage", "SE corner of the garage", "gate post"],
             "kind": ["building corner", "building corner", "post"], "rms": [0.02, 0.02, 0.05],
             "is_permanent": [True, True, False]},
            ORIGIN + np.array([[0.3, 6.0], [0.3, -0.5], [40.0, -8.0]]),
        ),
        "ties": pd.DataFrame(
            {"layer": ["valves", "valves", "splices"], "feature_id": ["V1", "V2", "S1"],
             "reference_a": ["NE corner of the garage"] * 3, "distance_a_m": [3.78, 12.1, 8.4],
             "reference_b": ["SE corner of the garage"] * 3, "distance_b_m": [2.47, 9.9, 7.7],
             "side": ["right"] * 3, "source": ["measured", "computed", "computed"],
             "cut_angle_deg": [71.0, 44.0, 52.0]}
        ),
        "dig_buffer": _buffers(runs, routes),
        "zones": _zones(zones, runs, chainages),
        "findings": _findings(routes),
        "provenance": pd.DataFrame(
            {"item": ["software", "input locates/spring.csv"], "value": ["wiremap", "sha256 0a1b"]}
        ),
    }  # fmt: skip
    conformed = {
        table.name: table.conform(layers.get(table.name, table.empty()), crs=CRS)
        for table in LAYERS
    }
    curves = pd.concat(
        pd.DataFrame({"run": run, "chainage_m": c, "depth_m": d, "depth_sigma_m": s})
        for run, c, d, s in zip(runs, chainages, depths, sigmas, strict=True)
    )
    settings = Settings.model_validate(
        {"property": {"name": "Hazel Bank", "prepared_by": "the night shift",
                      "prepared_on": "2026-05-04"}}
    )  # fmt: skip
    return Synthetic(conformed, curves, _tones(runs, chainages), _base(), settings)


def _route(number: int, zones: int, points: int, random: np.random.Generator) -> np.ndarray:
    """Return a wire: out of the garage, along the shared trench, then off to its valve."""
    row, column = divmod(number, 4)
    side = 1 if row % 2 else -1
    leave = 10.0 + 9.0 * column
    reach = 9.0 + 4.0 * row + 1.5 * column
    corners = np.array([[0.0, 0.0], [leave, 0.4], [leave + 1.0, side * reach],
                        [leave + 8.0, side * (reach + 3.0)]])  # fmt: skip
    legs = np.r_[0.0, np.cumsum(np.hypot(*np.diff(corners, axis=0).T))]
    along = np.unique(np.r_[np.linspace(0.0, legs[-1], points - 2), legs[1:3]])
    placed = np.column_stack([np.interp(along, legs, corners[:, k]) for k in (0, 1)])
    wobble = random.normal(0.0, 0.05, placed.shape)
    wobble[0] = 0.0
    return ORIGIN + placed + wobble + np.array([0.0, 0.02 * number])


def _frame(columns: dict[str, object], positions: object) -> gpd.GeoDataFrame:
    points = shapely.points(np.asarray(positions, dtype=float))
    return gpd.GeoDataFrame(columns, geometry=points, crs=CRS)


def _locates(runs: list[str], routes: list[np.ndarray]) -> gpd.GeoDataFrame:
    sizes = [len(route) for route in routes]
    total = sum(sizes)
    zones = np.repeat([run[1:] for run in runs], sizes)
    return _frame(
        {
            "point": [f"L{n:04d}" for n in range(total)],
            "feature": ["path"] * total,
            "run": np.repeat(runs, sizes),
            "zone": zones,
            "position_rms_m": 0.4,
            "placed_by": ["gnss"] * total,
            "source_file": ["locates/spring.csv"] * total,
            "source_row": np.arange(2, total + 2),
            "date": ["2026-04-02"] * total,
            "operator": ["first crew"] * total,
            "tone": np.linspace(900.0, 300.0, total),
            "note": ["soft ground" if n % 7 == 0 else None for n in range(total)],
        },
        np.vstack(routes),
    )


def _readings(
    runs: list[str],
    routes: list[np.ndarray],
    chainages: list[np.ndarray],
    depths: list[np.ndarray],
    sigmas: list[np.ndarray],
) -> gpd.GeoDataFrame:
    taken = [np.arange(1, len(route), 3) for route in routes]
    sizes = [len(t) for t in taken]
    return _frame(
        {
            "point": [f"D{n:04d}" for n in range(sum(sizes))],
            "run": np.repeat(runs, sizes),
            "chainage_m": np.concatenate([c[t] for c, t in zip(chainages, taken, strict=True)]),
            "depth_m": np.concatenate([d[t] for d, t in zip(depths, taken, strict=True)]),
            "depth_sigma_m": np.concatenate([s[t] for s, t in zip(sigmas, taken, strict=True)]),
            "method": ["two_sided"] * sum(sizes),
            "date": ["2026-04-02"] * sum(sizes),
        },
        np.vstack([r[t] for r, t in zip(routes, taken, strict=True)]),
    )


def _runs(
    runs: list[str], routes: list[np.ndarray], chainages: list[np.ndarray],
    depths: list[np.ndarray],
) -> gpd.GeoDataFrame:  # fmt: skip
    return gpd.GeoDataFrame(
        {
            "run": runs,
            "zones": [run[1:] for run in runs],
            "controller": "A",
            "end_kind": ["lost" if n == 5 else "valve" for n in range(len(runs))],
            "length_m": [c[-1] for c in chainages],
            "depth_min_m": [d.min() for d in depths],
            "depth_mean_m": [d.mean() for d in depths],
            "depth_max_m": [d.max() for d in depths],
            "depth_count": [len(r) // 3 for r in routes],
            "position_rms_m": 0.4,
            "first_date": "2026-04-02",
            "last_date": "2026-04-20",
        },
        geometry=[shapely.LineString(route) for route in routes],
        crs=CRS,
    )


def _segments(
    runs: list[str], routes: list[np.ndarray], chainages: list[np.ndarray],
    depths: list[np.ndarray], sigmas: list[np.ndarray],
) -> gpd.GeoDataFrame:  # fmt: skip
    parts = []
    for n, (run, route, c, d, s) in enumerate(
        zip(runs, routes, chainages, depths, sigmas, strict=True)
    ):
        evidence = np.full(len(c) - 1, "traced", dtype=object)
        evidence[len(c) // 2 : len(c) // 2 + 4] = "inferred" if n % 2 else "exposed"
        parts.append(
            gpd.GeoDataFrame(
                {
                    "run": run,
                    "from_point": [f"{run}-{k}" for k in range(len(c) - 1)],
                    "to_point": [f"{run}-{k + 1}" for k in range(len(c) - 1)],
                    "chainage_from_m": c[:-1], "chainage_to_m": c[1:],
                    "depth_from_m": d[:-1], "depth_to_m": d[1:],
                    "depth_sigma_m": s[1:],
                    "cover_low_m": np.minimum(d[:-1], d[1:]) - 2 * s[1:],
                    "position_rms_m": 0.4,
                    "evidence": evidence,
                },
                geometry=shapely.linestrings(np.stack([route[:-1], route[1:]], axis=1)),
                crs=CRS,
            )
        )  # fmt: skip
    return pd.concat(parts, ignore_index=True)


def _valves(
    runs: list[str], routes: list[np.ndarray], depths: list[np.ndarray]
) -> gpd.GeoDataFrame:
    count = len(runs)
    status = np.full(count, "listed", dtype=object)
    zones = np.array([run[1:] for run in runs], dtype=object)
    if count > 3:
        status[3], zones[3] = "suggested", ""
    return _frame(
        {
            "valve": [f"V{run[1:]}" for run in runs],
            "zone": zones,
            "suggested_zone": [run[1:] if s == "suggested" else None
                               for run, s in zip(runs, status, strict=True)],
            "controller": "A",
            "run": runs,
            "box": "round 6 in",
            "depth_m": [d[-1] for d in depths],
            "depth_sigma_m": 0.025,
            "position_rms_m": 0.2,
            "observations": 2,
            "zone_status": status,
            "path_length_m": [31.0 + n for n in range(count)],
            "path_length_sigma_m": 0.6,
            "first_date": "2026-04-02",
            "last_date": "2026-04-20",
        },
        [route[-1] for route in routes],
    )  # fmt: skip


def _faults(
    runs: list[str], routes: list[np.ndarray], chainages: list[np.ndarray]
) -> gpd.GeoDataFrame:
    at = [(min(n, len(runs) - 1), kind, status) for n, kind, status in (
        (5, "break", "standing"), (2, "leak", "standing"), (6, "open_end", "standing"),
        (1, "reported", "repaired"),
    )]  # fmt: skip
    place = [2 * len(routes[n]) // 3 for n, _, _ in at]
    return _frame(
        {
            "fault": [f"F{k + 1}" for k in range(len(at))],
            "run": [runs[n] for n, _, _ in at],
            "kind": [kind for _, kind, _ in at],
            "chainage_m": [chainages[n][p] for (n, _, _), p in zip(at, place, strict=True)],
            "chainage_low_m": [
                chainages[n][p] - 1.2 for (n, _, _), p in zip(at, place, strict=True)
            ],
            "chainage_high_m": [
                chainages[n][p] + 1.4 for (n, _, _), p in zip(at, place, strict=True)
            ],
            "loss_fraction": [None, 0.4, None, None],
            "confidence": [0.97, 0.83, 0.9, None],
            "status": [status for _, _, status in at],
            "evidence": ["tone lost", "step in the tone", "tone tapers", "field note"],
        },
        [routes[n][p] for (n, _, _), p in zip(at, place, strict=True)],
    )


def _buffers(runs: list[str], routes: list[np.ndarray]) -> gpd.GeoDataFrame:
    return gpd.GeoDataFrame(
        {
            "run": runs, "half_width_m": 1.3, "cover_low_m": 0.16, "tolerance_m": 0.61,
            "confidence": 0.95, "advisory_only": True, "advisory": "Advisory only.",
        },
        geometry=[shapely.LineString(route).buffer(1.3).simplify(0.02) for route in routes],
        crs=CRS,
    )  # fmt: skip


def _zones(zones: int, runs: list[str], chainages: list[np.ndarray]) -> pd.DataFrame:
    status = ["partial" if n == 5 else "complete" for n in range(zones)]
    return pd.DataFrame(
        {
            "zone": [run[1:] for run in runs],
            "controller": "A",
            "name": [NAMES[n % len(NAMES)] for n in range(zones)],
            "valves_listed": 1,
            "valves_found": [0 if s == "partial" else 1 for s in status],
            "runs": runs,
            "status": status,
            "mapped_length_m": [c[-1] for c in chainages],
            "ohms": [28.0 + n for n in range(zones)],
            "ohms_status": ["open" if n == 5 else "as_expected" for n in range(zones)],
        }
    )


def _findings(routes: list[np.ndarray]) -> gpd.GeoDataFrame:
    frame = _frame(
        {
            "code": ["ohms-open", "shallow-cover", "not-surveyed"],
            "severity": ["error", "warning", "note"],
            "subject": ["zone 6", "run W2", "equipment"],
            "message": ["Station 6 reads open.", "Cover may be as little as 0.10 m along 3.2 m.",
                        "No pump was located on this property."],
            "advice": ["Check splices along the path and the coil.", "Dig by hand here.",
                       "Locate it, or confirm that there is none."],
            "source_file": ["zones.csv", "locates/spring.csv", None],
            "source_row": [7, 41, None],
        },
        [routes[-1][4], routes[0][5], routes[0][0]],
    )  # fmt: skip
    frame.loc[2, "geometry"] = None
    return frame


def _tones(runs: list[str], chainages: list[np.ndarray]) -> pd.DataFrame:
    parts = []
    for n, (run, c) in enumerate(zip(runs, chainages, strict=True)):
        model = np.exp(-c / 120.0) * np.where((n == 2) & (c > 0.66 * c[-1]), 0.6, 1.0)
        current = model * (1 + 0.03 * np.sin(7.0 * c))
        parts.append(
            pd.DataFrame({"run": run, "chainage_m": c, "level": 900 * current,
                          "current": current, "model": model})
        )  # fmt: skip
    return pd.concat(parts)


def _base() -> dict[str, gpd.GeoDataFrame]:
    boxes = {
        "property line": [shapely.box(-16, -32, 62, 36)],
        "buildings": [shapely.box(-9, -1, 0, 6.2), shapely.box(-14, 10, 1, 26)],
        "hardscape": [shapely.box(-9, -32, -3, -1), shapely.box(1, 10, 7, 26)],
    }
    moved = {
        name: [shapely.transform(s, lambda xy: xy + ORIGIN) for s in shapes]
        for name, shapes in boxes.items()
    }
    return {name: gpd.GeoDataFrame(geometry=shapes, crs=CRS) for name, shapes in moved.items()}
