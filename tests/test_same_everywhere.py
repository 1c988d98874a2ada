"""The figures of a record depend on the field notes alone: not on row order, files or machine."""

from __future__ import annotations

import os
import random
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import wiremap

DATA = Path(__file__).parent.parent / "data"
FIXED = "1770000000"
FORMATS = ("geopackage", "geojson", "findings", "schedule", "webmap", "sheets", "dxf", "kml", "kmz")
PLACES = {
    "again": {},
    "hash seed 1": {"PYTHONHASHSEED": "1"},
    "far east, plain ASCII": {
        "TZ": "Pacific/Kiritimati", "LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0",
    },
    "far west, one thread": {
        "TZ": "Pacific/Pago_Pago", "LC_ALL": "C.UTF-8", "OMP_NUM_THREADS": "1",
        "OPENBLAS_NUM_THREADS": "1", "GDAL_NUM_THREADS": "1", "PYTHONHASHSEED": "7",
    },
}  # fmt: skip
FROM_THE_FILE = ("source_file", "source_row", "sequence", "locate", "number", "order")


def build(folder, out, **environment):
    """Build in a process of its own and return the bytes of every file written."""
    words = [sys.executable, "-m", "wiremap", "build", str(folder), "-o", str(out)]
    words += [f"--format={name}" for name in FORMATS]
    settings = {**os.environ, "SOURCE_DATE_EPOCH": FIXED, **environment}
    done = subprocess.run(words, env=settings, capture_output=True, check=False)
    assert done.returncode in {0, 1}, done.stderr
    return {p.relative_to(out): p.read_bytes() for p in sorted(out.rglob("*")) if p.is_file()}


def test_every_file_has_the_same_bytes_wherever_and_whenever_it_is_written(tmp_path):
    """SOURCE_DATE_EPOCH fixed; hash seed, time zone, locale and number of threads vary."""
    first = build(DATA / "hollow-oak-garden", tmp_path / "first")
    assert {path.suffix for path in first} >= {".gpkg", ".geojson", ".html", ".pdf", ".dxf", ".kmz"}
    for number, (what, environment) in enumerate(PLACES.items()):
        again = build(DATA / "hollow-oak-garden", tmp_path / str(number), **environment)
        differs = [str(path) for path in first if again.get(path) != first[path]]
        assert differs == [], what
        assert set(again) == set(first)


def figures(folder):
    """Return the layers of a record without what tells where in the files a row stood."""
    layers = wiremap.build_asbuilt(wiremap.read_property(folder)).layers
    told = {}
    for name, layer in layers.items():
        if name in {"provenance", "findings", "inputs", "revisions"}:
            continue
        frame = pd.DataFrame(layer).drop(columns=[c for c in FROM_THE_FILE if c in layer])
        if "geometry" in frame:
            frame["geometry"] = layer.geometry.normalize().to_wkt(rounding_precision=6)
        text = frame.map(
            lambda v: "" if pd.isna(v) else f"{v:.7g}" if isinstance(v, float) else str(v)
        )
        told[name] = sorted(map(tuple, text.to_numpy().tolist()))
    return told


@pytest.fixture(scope="module", params=["hollow-oak-garden", "larkmoor-campus"])
def numbered(request, tmp_path_factory):
    """Return a property whose rows have their place in the run written down, and its figures."""
    folder = tmp_path_factory.mktemp("numbered") / "garden"
    shutil.copytree(DATA / request.param, folder)
    rows = pd.read_csv(folder / "locates.csv", dtype=str, keep_default_na=False)
    rows["order"] = np.arange(1, len(rows) + 1)
    rows.to_csv(folder / "locates.csv", index=False)
    return folder, rows, figures(folder)


def copy(folder, target):
    shutil.copytree(folder, target, ignore=shutil.ignore_patterns("locates.csv"))
    return target


@pytest.mark.parametrize("seed", [1, 2])
def test_shuffled_rows_give_the_same_figures(numbered, tmp_path, seed):
    """Rows that say their order may stand in any."""
    folder, rows, expected = numbered
    target = copy(folder, tmp_path / "garden")
    places = random.Random(seed).sample(range(len(rows)), len(rows))
    rows.iloc[places].to_csv(target / "locates.csv", index=False)
    assert_same(figures(target), expected)


def test_rows_of_the_runs_in_turn_give_the_same_figures(numbered, tmp_path):
    """One row of each run after the other, each run in its own order."""
    folder, rows, expected = numbered
    target = copy(folder, tmp_path / "garden")
    turn = rows.groupby("run").cumcount()
    rows.drop(columns="order").iloc[np.argsort(turn, kind="stable")].to_csv(
        target / "locates.csv", index=False
    )
    assert_same(figures(target), expected)


def test_a_file_in_parts_under_other_names_gives_the_same_figures(numbered, tmp_path):
    """A file for every run, in `locates/`, with the line ends of another system."""
    folder, rows, expected = numbered
    target = copy(folder, tmp_path / "garden")
    (target / "locates").mkdir()
    for number, (_, part) in enumerate(rows.groupby("run", sort=False)):
        part.to_csv(target / "locates" / f"z{9 - number}.csv", index=False, lineterminator="\r\n")
    assert_same(figures(target), expected)


def assert_same(one, other):
    """Hold the figures of two records equal, layer by layer."""
    assert set(one) == set(other)
    for name, rows in other.items():
        missing = [row for row in rows if row not in one[name]]
        assert not missing, (name, missing[:2], [r for r in one[name] if r not in rows][:2])
        assert len(one[name]) == len(rows), name
