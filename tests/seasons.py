"""Further visits to simulated properties: rows seen again, and folders of several visits."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
from simulator import Scenario, simulate, write_folder

import wiremap

METRES_PER_DEGREE_LAT = 110_950.0  # about 35 degrees north


def again(rows, day, *, seed=0, east_m=0.0, north_m=0.0, noise_m=0.03, **changes):
    """Rows of one visit as a later visit would write them: new day, new noise, and changes."""
    rng = np.random.default_rng(seed)
    seen = []
    for row in rows:
        lat = float(row["lat"]) + (north_m + rng.normal(0, noise_m)) / METRES_PER_DEGREE_LAT
        lon_m = METRES_PER_DEGREE_LAT * np.cos(np.radians(lat))
        lon = float(row["lon"]) + (east_m + rng.normal(0, noise_m)) / lon_m
        seen.append(row | {"lat": f"{lat:.9f}", "lon": f"{lon:.9f}", "date": day} | changes)
    return seen


def write_rows(path, rows):
    """Write rows as CSV and return the path."""
    path.parent.mkdir(parents=True, exist_ok=True)
    columns = list(dict.fromkeys(name for row in rows for name in row))
    with Path(path).open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, columns)
        writer.writeheader()
        writer.writerows(rows)
    return path


def first_visit(folder, **scenario):
    """Simulate a property, write its folder, and return its rows and the truth."""
    made = simulate(Scenario(**scenario))
    write_folder(made, folder)
    return made


def build(folder):
    """Read and build a folder."""
    return wiremap.build_asbuilt(wiremap.read_property(folder))
