"""The package in a real desktop GIS. Run with ``-m qgis``; needs QGIS 3.22 or later."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import matplotlib.pyplot as plt
import numpy as np
import pytest

import wiremap
from wiremap.draw.styles import STYLES, wire_ink

pytestmark = pytest.mark.qgis

ROOT = Path(__file__).parent.parent.parent
DEMO = Path(wiremap.__file__).parent / "demo"
SYSTEM_PYTHON = "/usr/bin/python3"
DRAWN = ("dig_buffer", "wire_segments", "wire_runs", "depth_readings", "references", "equipment",
         "splices", "faults", "controllers", "valves")  # fmt: skip


@pytest.fixture
def environment(tmp_path):
    """An environment in which QGIS keeps its settings in a folder of the test."""
    runtime = tmp_path / "runtime"
    runtime.mkdir(mode=0o700)
    own = {
        "QT_QPA_PLATFORM": "offscreen",
        "XDG_RUNTIME_DIR": str(runtime),
        "HOME": str(tmp_path),
        "QGIS_CUSTOM_CONFIG_PATH": str(tmp_path / "qgis"),
    }
    return {name: os.environ[name] for name in ("PATH", "LANG") if name in os.environ} | own


@pytest.fixture(scope="module")
def demo():
    """The bundled property, built."""
    return wiremap.build_asbuilt(wiremap.read_property(DEMO))


def render(package, picture, environment, *names):
    """Draw a package in QGIS and return what it tells of each layer."""
    done = subprocess.run(
        [SYSTEM_PYTHON, str(Path(__file__).with_name("render.py")), package, picture, *names],
        env=environment, capture_output=True, text=True, check=True,
    )  # fmt: skip
    return json.loads(done.stdout.splitlines()[-1])


def test_columns_that_nothing_fills_are_out_of_sight(demo, tmp_path, environment):
    """The locates carry every column of the contract; the demo fills about half of them."""
    (package,) = demo.write(tmp_path / "out", formats=["geopackage"])
    told = render(package, tmp_path / "map.png", environment, "locates")["locates"]

    assert set(told["hidden"]) == set(told["not_in_form"]) < set(told["columns"])
    assert {"point", "feature", "run", "position_rms_m"} <= set(told["columns"]) - set(
        told["hidden"]
    )
    assert len(told["hidden"]) > 20


def test_the_package_opens_styled_and_labelled(demo, tmp_path, environment):
    """Every drawn layer finds its style; every rule is an expression that QGIS understands."""
    (package,) = demo.write(tmp_path / "out", formats=["geopackage"])
    told = render(package, tmp_path / "map.png", environment, *DRAWN)
    for name, layer in told.items():
        assert layer["is_valid"]
        assert layer["crs"] == "EPSG:26914"
        assert layer["rows"] == len(demo.layers[name])
        assert layer["style"] == "Loaded from Provider"
        assert layer["wrong"] == []
        assert layer["rules"]
    assert told["wire_runs"]["rules"][0] == "\"zones\" = '1'"
    assert all(layer["is_labelled"] for name, layer in told.items() if name != "wire_segments")


def test_the_picture_has_the_colours_of_the_map(demo, tmp_path, environment):
    """Exact pixels of wire, fault and band colours; a picture of an unstyled layer has none."""
    (package,) = demo.write(tmp_path / "out", formats=["geopackage"])
    render(package, tmp_path / "map.png", environment, *DRAWN)
    pixels = np.round(plt.imread(tmp_path / "map.png")[..., :3] * 255).astype(int)
    inks = [wire_ink(str(zone)).ink for zone in range(1, 9)]
    inks += [STYLES["faults"].ink, STYLES["controllers"].fill, STYLES["depth_readings"].ink]
    for ink in inks:
        color = [int(ink.light[i : i + 2], 16) for i in (1, 3, 5)]
        assert (pixels == color).all(axis=2).sum() > 5, ink
    assert (pixels != 255).any(axis=2).mean() > 0.05


def test_looking_does_not_change_the_package(demo, tmp_path, environment):
    """The same bytes after QGIS has read and drawn it, and nothing left beside it."""
    (package,) = demo.write(tmp_path / "out", formats=["geopackage"])
    before = hashlib.sha256(package.read_bytes()).hexdigest()
    render(package, tmp_path / "map.png", environment, *DRAWN)
    assert hashlib.sha256(package.read_bytes()).hexdigest() == before
    assert [path.name for path in package.parent.iterdir()] == [package.name]


@pytest.fixture
def process(tmp_path, environment):
    """Run the command line of QGIS with the provider switched on."""
    plugins = tmp_path / "qgis" / "profiles" / "default" / "python" / "plugins"
    plugins.mkdir(parents=True)
    shutil.copytree(ROOT / "examples/qgis/wiremap_provider", plugins / "wiremap_provider")
    program = tmp_path / "wiremap"
    program.write_text(f'#!/bin/sh\nexec "{sys.executable}" -m wiremap "$@"\n')
    program.chmod(0o755)

    def run(*words):
        return subprocess.run(
            ["qgis_process.bin", *words], env={**environment, "WIREMAP_PROGRAM": str(program)},
            cwd=ROOT, capture_output=True, text=True, check=False,
        )  # fmt: skip

    assert run("plugins", "enable", "wiremap_provider").returncode == 0
    return run


def test_the_toolbox_builds_an_asbuilt(process, tmp_path):
    """qgis_process runs the provider, which runs the command line."""
    done = process("run", "wiremap:build", "--", f"FOLDER={DEMO}", f"OUT={tmp_path / 'out'}")
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "out" / "tanager-court.gpkg").is_file()
    assert (tmp_path / "out" / "tanager-court.html").is_file()
    assert f"PACKAGE:\t{tmp_path / 'out' / 'tanager-court.gpkg'}" in done.stdout


def test_the_toolbox_checks_and_tells_what_is_missing(process):
    """The lines of `wiremap check` are shown as they are."""
    done = process("run", "wiremap:check", "--", f"FOLDER={DEMO}", "PROFILE=cad-survey-feet")
    assert done.returncode == 0, done.stderr
    assert "requirement-missing cad-survey-feet, survey-feet" in done.stdout
    assert "HAS_ERRORS:\ttrue" in done.stdout


def test_a_folder_that_cannot_be_built_fails_with_the_reason(process, tmp_path):
    """The one line of the command line is what QGIS says."""
    (tmp_path / "empty").mkdir()
    done = process(
        "run", "wiremap:build", "--", f"FOLDER={tmp_path / 'empty'}", f"OUT={tmp_path / 'out'}"
    )
    assert done.returncode == 1
    assert "wiremap: " in done.stderr
