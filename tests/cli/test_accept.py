"""A technician's decision on a suggested zone is recorded and holds from then on."""

from __future__ import annotations

import shutil
from pathlib import Path

import pandas as pd
import pytest

import wiremap
from wiremap.cli.main import run

MESSY = Path(__file__).parent.parent.parent / "data" / "millrace-court"


@pytest.fixture
def folder(tmp_path):
    """A copy of the messy property, whose valve V3 carries the label of zone 4."""
    return Path(shutil.copytree(MESSY, tmp_path / "property"))


def build(folder, out, *more):
    """Build from the command line and return the exit code."""
    with pytest.raises(SystemExit) as left:
        run(["build", str(folder), "-o", str(out), *map(str, more)])
    return left.value.code


def test_an_accepted_zone_is_kept_in_the_folder_and_holds(folder, tmp_path):
    """--accept writes decisions.csv; the zone is complete in this build and in the next."""
    before = wiremap.build_asbuilt(wiremap.read_property(folder))
    assert "zone-suggested" in set(before.findings["code"])
    decided = tmp_path / "decided.csv"
    decided.write_text("valve,zone\nV3,3\n")

    assert build(folder, tmp_path / "out", "--accept", decided) == 1

    after = wiremap.build_asbuilt(wiremap.read_property(folder))
    valves = after.layers["valves"].set_index("valve")
    assert valves.loc["V3", "zone"] == "3"
    assert "zone-claimed-twice" not in set(after.findings["code"])
    kept = pd.read_csv(folder / "decisions.csv", dtype="str")
    assert kept[["valve", "zone"]].to_numpy().tolist() == [["V3", "3"]]


def test_a_later_decision_replaces_an_earlier_one(folder, tmp_path):
    """The newest decision on a valve stands; the others are kept."""
    for zone in ("3", "5"):
        decided = tmp_path / f"decided{zone}.csv"
        decided.write_text(f"valve,zone\nV3,{zone}\n")
        build(folder, tmp_path / "out", "--accept", decided)
    kept = pd.read_csv(folder / "decisions.csv", dtype="str")
    assert kept[["valve", "zone"]].to_numpy().tolist() == [["V3", "5"]]


def test_earlier_decisions_stay_however_their_file_is_written(folder, tmp_path):
    """A spreadsheet saved the file with semicolons; a valve may be called NA."""
    (folder / "decisions.csv").write_text("valve;zone;checked\nV1;1;yes\nNA;2;no\n")
    decided = tmp_path / "decided.csv"
    decided.write_text("valve,zone\nV3,3\n")
    build(folder, tmp_path / "out", "--accept", decided)
    kept = pd.read_csv(folder / "decisions.csv", dtype="str", keep_default_na=False)
    assert kept[["valve", "zone"]].to_numpy().tolist() == [["V1", "1"], ["NA", "2"], ["V3", "3"]]
    assert kept["checked"].tolist() == ["yes", "no", ""]


def test_a_file_without_valves_is_refused(folder, tmp_path, capsys):
    """A decision file must name valve and zone; nothing is written."""
    (tmp_path / "decided.csv").write_text("colour,size\nred,3\n")
    assert build(folder, tmp_path / "out", "--accept", tmp_path / "decided.csv") == 2
    assert "valve" in capsys.readouterr().err
    assert not (folder / "decisions.csv").exists()
