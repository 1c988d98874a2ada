"""Lists of what was found, joined to the points of another file by their names."""

from __future__ import annotations

import pandas as pd
import pytest

from wiremap.errors import ReadError
from wiremap.read.folders import read_property
from wiremap.read.notes import join_notes

PLACES = "point,lon,lat\n001,-97.1,41.1\n002,-97.2,41.2\nV9,-97.3,41.3\n"
NOTES = "point,feature,run,depth_m\n1,path,R1,0.3\n2,valve,R1,\n"


def write(folder, **files):
    (folder / "locates").mkdir()
    for name, text in files.items():
        (folder / "locates" / f"{name}.csv").write_text(text)
    return folder


def test_the_rows_of_a_list_go_into_the_points_that_they_name(tmp_path):
    """A spreadsheet made 1 of 001; a point that the list does not name stays as it is."""
    found = read_property(write(tmp_path, a=NOTES, b=PLACES))
    rows = found.locates.set_index("point")
    assert list(rows.index) == ["001", "002", "V9"]
    assert rows["feature"].fillna("").tolist() == ["path", "valve", ""]
    assert rows.loc["001", ["lon", "depth_m"]].tolist() == [-97.1, 0.3]
    assert rows["source_file"].unique().tolist() == ["locates/b.csv"]
    assert any("2 of 2 rows" in f.message for f in found.findings)


def test_a_row_that_names_no_point_is_left_to_be_reported(tmp_path):
    """Most of the list is known, so the rest is a slip of the pen and not another file's."""
    found = read_property(write(tmp_path, a=NOTES + "7,splice,R1,\n", b=PLACES))
    lost = found.locates[found.locates["lon"].isna()]
    assert lost["point"].tolist() == ["7"]


@pytest.mark.parametrize("names", [("81", "82"), ("001", "82", "83")])
def test_a_list_of_other_points_is_refused_as_before(tmp_path, names):
    """With the line that would name its columns."""
    text = "point,feature\n" + "".join(f"{name},valve\n" for name in names)
    found = read_property(write(tmp_path, a=text, b=PLACES))
    (unread,) = [f for f in found.findings if f.code == "unread-file"]
    assert "no columns give a position" in unread.message.lower()
    with pytest.raises(ReadError, match="no columns give a position"):
        read_property(write(tmp_path / "locates", a=text))


def test_what_the_points_own_file_says_stands(tmp_path):
    """The list fills what is empty, and a feature that its own word is none of."""
    own = "point,feature,run,lon,lat\nA,valve,R1,-97,41\nB,Flag,,-97.1,41\n"
    said = "point,feature,run\nA,splice,R2\nB,splice,R2\n"
    rows = read_property(write(tmp_path, a=own, b=said)).locates
    assert rows[["feature", "run"]].to_numpy().tolist() == [["valve", "R1"], ["splice", "R2"]]


def test_names_that_stand_twice_are_joined_to_nothing():
    """Which of the two was meant is nobody's guess."""
    table = pd.DataFrame({
        "point": ["A", "A", "A"], "feature": [None, None, "valve"], "lon": [-97.0, -97.1, None],
        "source_file": ["a", "a", "b"],
    })  # fmt: skip
    joined = join_notes(table, lists=["b"])
    assert joined.locates["feature"].isna().tolist() == [True, True, False]
    assert "0 of 1 rows" in joined.note
