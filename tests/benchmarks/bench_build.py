"""Time the whole way from field files to an as-built against the least that it could cost.

Run it with ``python tests/benchmarks/bench_build.py``; ``--quick`` takes a tenth of the rows.

Two cases: 100 properties of 150 locates, and one property of 200,000. The floor of each is
measured in the same run on the same disk: reading the same rows with pandas and writing the same
layers with pyogrio, as GeoPackage and as GeoJSON. The ratio is what wiremap takes over that floor;
it covers reading, all steps, and the files that carry the layers: GeoPackage, GeoJSON, findings
and the web map. ``--sheets`` times the record-drawing sheets too, which have no floor.
"""

from __future__ import annotations

import argparse
import shutil
import sys
import tempfile
import time
import warnings
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pandas as pd
import pyogrio

import wiremap

LAYER_FORMATS = ("geopackage", "geojson", "findings", "webmap")
POINTS_A_RUN = 30
STEP_M = 3.0


class Times(NamedTuple):
    """Seconds that each part took."""

    read_s: float
    build_s: float
    write_s: float
    floor_read_s: float
    floor_write_s: float

    @property
    def ratio(self) -> float:
        """All of wiremap over all of the floor."""
        return sum(self[:3]) / sum(self[3:])


def make_property(folder: Path, *, locates: int, seed: int) -> None:
    """Write a property of parallel runs with depth pairs, tone levels, valves and a zone list."""
    rng = np.random.default_rng(seed)
    runs = -(-locates // POINTS_A_RUN)
    run, place = np.divmod(np.arange(locates), POINTS_A_RUN)
    wide = int(np.ceil(np.sqrt(runs)))
    column, row = np.divmod(run, wide)
    noise = rng.normal(scale=0.02, size=(2, locates))
    easting = 500_000 + column * (POINTS_A_RUN * STEP_M + 20) + place * STEP_M + noise[0]
    northing = 4_000_000 + row * 6.0 + np.sin(place / 5.0) + noise[1]
    is_last = place == POINTS_A_RUN - 1
    is_read = (place % 5 == 2) & ~is_last
    depth_m = 0.35 + 0.05 * np.sin(place / 7.0)
    offsets = depth_m * (1 + rng.normal(scale=0.03, size=(2, locates)))
    frame = pd.DataFrame(
        {
            "point": [f"P{i + 1}" for i in range(locates)],
            "feature": np.where(is_last, "valve", "path"),
            "run": [f"R{i + 1}" for i in run],
            "zone": np.where(is_last, (run + 1).astype(str), ""),
            "easting": easting.round(3),
            "northing": northing.round(3),
            "h_rms_m": 0.03,
            "offset_left_m": np.where(is_read, offsets[0], np.nan).round(3),
            "offset_right_m": np.where(is_read, offsets[1], np.nan).round(3),
            "tone": (100 * np.exp(-place / 200) * (1 + rng.normal(0, 0.02, locates))).round(1),
            "date": "2026-05-04",
        }
    )
    folder.mkdir(parents=True)
    frame.to_csv(folder / "locates.csv", index=False)
    zones = pd.DataFrame({"zone": range(1, runs + 1), "name": "Lawn", "valves": 1})
    zones.to_csv(folder / "zones.csv", index=False)
    (folder / "property.toml").write_text('[coordinates]\ninput_crs = "EPSG:26914"\n')


def measure(folders: list[Path], out: Path, *, formats: list[str]) -> Times:
    """Build every property, then do the floor's work for it."""
    seconds = np.zeros(5)
    for folder in folders:
        marks = [time.perf_counter()]
        property_ = wiremap.read_property(folder)
        marks.append(time.perf_counter())
        built = wiremap.build_asbuilt(property_)
        marks.append(time.perf_counter())
        built.write(out / folder.name, formats=formats)
        marks.append(time.perf_counter())
        for name in ("locates.csv", "zones.csv"):
            pd.read_csv(folder / name)
        marks.append(time.perf_counter())
        write_bare(built.layers, out / f"{folder.name}-floor")
        marks.append(time.perf_counter())
        seconds += np.diff(marks)
    return Times(*seconds)


def write_bare(layers: dict[str, pd.DataFrame], folder: Path) -> None:
    """Write layers with nothing but pyogrio."""
    folder.mkdir()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # tables without positions have no CRS
        for name, layer in layers.items():
            pyogrio.write_dataframe(layer, folder / "bare.gpkg", layer=name, driver="GPKG")
            if name != "inputs":  # the package alone keeps them
                path = folder / f"{name}.geojson"
                pyogrio.write_dataframe(layer, path, driver="GeoJSON", RFC7946="YES")


def report(label: str, times: Times) -> None:
    """Print one case."""
    parts = f"read {times.read_s:.2f}, build {times.build_s:.2f}, write {times.write_s:.2f}"
    floor = f"pandas read {times.floor_read_s:.2f}, pyogrio write {times.floor_write_s:.2f}"
    lines = (
        label,
        f"  wiremap {sum(times[:3]):8.2f} s   {parts}",
        f"  floor   {sum(times[3:]):8.2f} s   {floor}",
        f"  ratio   {times.ratio:8.2f}",
    )
    sys.stdout.write("\n".join(lines) + "\n")


def main() -> None:
    """Run both cases in a folder of their own, removed at the end."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--quick", action="store_true", help="a tenth of the rows")
    parser.add_argument("--sheets", action="store_true", help="write the sheets too")
    chosen = parser.parse_args()
    share = 10 if chosen.quick else 1
    formats = [*LAYER_FORMATS, "sheets"] if chosen.sheets else [*LAYER_FORMATS]
    cases = {"many": (100 // share, 150), "large": (1, 200_000 // share)}
    work = Path(tempfile.mkdtemp(prefix="wiremap-bench-"))
    try:
        make_property(work / "warm-up", locates=150, seed=0)
        measure([work / "warm-up"], work / "out", formats=formats)
        for name, (count, locates) in cases.items():
            folders = [work / f"{name}-{number}" for number in range(count)]
            for seed, folder in enumerate(folders):
                make_property(folder, locates=locates, seed=seed)
            times = measure(folders, work / "out", formats=formats)
            report(f"{count} x {locates:,} locates", times)
    finally:
        shutil.rmtree(work, ignore_errors=True)


if __name__ == "__main__":
    main()
