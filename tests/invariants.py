"""What holds of every as-built, whatever the field files were: run as a script for many.

Usage: python tests/invariants.py [properties] [seed]
"""

from __future__ import annotations

import csv
import sys
import tempfile
import warnings
from pathlib import Path

import numpy as np
import shapely
from strategies_properties import properties, write_property

import wiremap
from wiremap.errors import EmptyPropertyError, ReadError
from wiremap.model.tables import LAYERS

UNCERTAIN = ("_sigma_m", "_sigma_deg", "_rms_m", "half_width_m")
SAME_PLACE_M = 0.01
SHARES = ("systematic_sigma_m",)  # the part of a sigma that readings have in common: may be none


def build(folder):
    """Return the as-built and None, or None and the one-line refusal."""
    try:
        return wiremap.build_asbuilt(wiremap.read_property(folder)), None
    except (EmptyPropertyError, ReadError) as refusal:
        return None, refusal


def check(folder):
    """Build the property and hold the as-built against every invariant."""
    asbuilt, refusal = build(folder)
    if asbuilt is None:
        assert "\n" not in str(refusal)
        return
    check_rows(folder, asbuilt)
    check_depths(asbuilt)
    check_buffers(asbuilt)
    check_uncertainty(asbuilt)
    check_tables(asbuilt)


def check_rows(folder, asbuilt):
    """Every row of the locate file that holds anything is placed, or a finding names it."""
    with (folder / "locates.csv").open(newline="", encoding="utf-8") as file:
        reader = csv.reader(file)
        next(reader)
        rows = {reader.line_num for row in reader if any(cell.strip() for cell in row)}
    kept = set(asbuilt.layers["locates"]["source_row"].dropna())
    findings = asbuilt.findings
    named = set(findings.loc[findings["source_file"] == "locates.csv", "source_row"].dropna())
    assert rows <= kept | named, rows - kept - named


def check_depths(asbuilt):
    """No depth without a reading: nowhere in runs, segments or valves."""
    layers = asbuilt.layers
    readings = layers["depth_readings"]
    assert readings["depth_sigma_m"].notna()[readings["depth_m"].notna()].all()
    measured = {"offset_left_m", "offset_right_m", "depth_m", "pair"}
    locates = layers["locates"]
    said = locates[list(measured & set(locates.columns))].notna().any(axis=None)
    assert said or readings["depth_m"].notna().sum() == 0
    deep = readings[readings["depth_m"].notna()]
    runs, there = layers["wire_runs"], shapely.union_all(deep.geometry)
    shares = [line.distance(there) < SAME_PLACE_M for line in runs.geometry]  # a mark of two runs
    known = {*deep["run"].dropna(), *runs.loc[shares, "run"]}
    for layer, columns in (
        ("wire_runs", ("depth_mean_m",)),
        ("wire_segments", ("depth_from_m", "depth_to_m")),
    ):
        frame = layers[layer]
        deep = frame[list(columns)].notna().any(axis=1)
        assert set(frame.loc[deep, "run"]) <= known, layer


def check_buffers(asbuilt):
    """Every run has a buffer, and it holds the run."""
    runs, buffers = asbuilt.layers["wire_runs"], asbuilt.layers["dig_buffer"]
    for run, line in zip(runs["run"], runs.geometry, strict=True):
        own = buffers.geometry[buffers["run"] == run]
        assert len(own), f"run {run} has no buffer"
        assert own.union_all().buffer(1e-6).covers(line), f"the buffer of {run} does not hold it"


def check_uncertainty(asbuilt):
    """Every uncertainty is a positive number, and every point has a position."""
    for name, frame in asbuilt.layers.items():
        for column in frame.columns:
            if column.endswith(UNCERTAIN) and column not in SHARES:
                values = frame[column].dropna().to_numpy(dtype=float)
                assert (values > 0).all(), f"{name}.{column}"
                assert np.isfinite(values).all(), f"{name}.{column}"
        if "position_rms_m" in frame and name not in {"wire_runs", "history"}:
            assert frame["position_rms_m"].notna().all(), name


def check_tables(asbuilt):
    """Every layer has its declared columns, types, options and geometry."""
    assert set(asbuilt.layers) == {table.name for table in LAYERS}
    for table in LAYERS:
        frame = asbuilt.layers[table.name]
        assert list(frame.columns[: len(table.columns)]) == table.column_names, table.name
        for column in table.columns:
            assert str(frame[column.name].dtype) == column.dtype, f"{table.name}.{column.name}"
            kept = (table.name, column.name) == ("locates", "feature")  # unknown words stay
            if column.options is not None and not kept:
                values = {v for v in frame[column.name].dropna() if v != ""}
                assert values <= {str(o) for o in column.options}, f"{table.name}.{column.name}"
        if table.geometry:
            kinds = set(frame.geometry.dropna().geom_type)
            assert kinds <= {table.geometry, f"Multi{table.geometry}"}, table.name


def main(count, seed):
    """Hold many random properties against the invariants."""
    from hypothesis import HealthCheck, Phase, given, settings
    from hypothesis import seed as seeded

    warnings.simplefilter("error")
    done = 0

    @seeded(seed)
    @settings(max_examples=count, deadline=None, database=None, derandomize=False,
              phases=[Phase.generate, Phase.shrink], suppress_health_check=list(HealthCheck))  # fmt: skip
    @given(properties())
    def run(files):
        nonlocal done
        done += 1
        with tempfile.TemporaryDirectory() as folder:
            check(write_property(files, Path(folder) / "p"))

    run()
    sys.stdout.write(f"{done} random properties, every invariant holds\n")


if __name__ == "__main__":
    main(int([*sys.argv, "10000"][1]), int([*sys.argv, "", "1"][2] or 1))
