"""GPX: waypoints, routes and tracks."""

from __future__ import annotations

import numpy as np
import pytest

from wiremap.errors import ReadError
from wiremap.plugins import FileOptions
from wiremap.read.folders import read_property
from wiremap.read.gpx import READER

HEAD = (
    '<?xml version="1.0"?><gpx version="1.1" creator="test" xmlns="http://www.topografix.com/GPX/1/1"'
    ' xmlns:f="http://example.org/field">'
)


def read(tmp_path, body, head=HEAD):
    """Read a GPX document and return its tables by part."""
    path = tmp_path / "walk.gpx"
    path.write_text(f"{head}{body}</gpx>", encoding="utf-8")
    return {table.part: table for table in READER.read(path, FileOptions())}


def test_a_waypoint_carries_its_name_height_time_symbol_and_note(tmp_path):
    """GPX 1.1: ele in metres, time in UTC, WGS 84."""
    table = read(
        tmp_path,
        '<wpt lat="36.5" lon="-99.25"><ele>300.5</ele><time>2026-05-04T12:00:01Z</time>'
        "<name>V1</name><desc>green lid</desc><sym>valve</sym></wpt>",
    )["waypoints"]
    row = table.frame.loc[1]
    assert table.crs == "EPSG:4326"
    assert row[["lon", "lat", "elevation_m"]].tolist() == [-99.25, 36.5, 300.5]
    assert row[["point", "sym", "desc"]].tolist() == ["V1", "valve", "green lid"]
    assert row["date"].startswith("2026-05-04T12:00:01")


def test_extensions_keep_the_names_of_the_contract(tmp_path):
    """A namespace prefix in front of a contract's name is taken off; others stay as they are."""
    table = read(
        tmp_path,
        '<wpt lat="36" lon="-99"><sym>Flag</sym><extensions><f:feature>splice</f:feature>'
        "<f:offset_left_in>14.5</f:offset_left_in><f:mood>good</f:mood></extensions></wpt>",
    )["waypoints"]
    row = table.frame.loc[1]
    assert row["feature"] == "splice"
    assert float(row["offset_left_in"]) == 14.5
    assert row["f_mood"] == "good"


@pytest.mark.parametrize(
    ("words", "feature"),
    [
        ("<sym>Flag, Blue</sym><type>valve</type>", "valve"),
        ("<sym>Valve</sym><type>user</type>", "valve"),
        ("<desc>splice box</desc>", "splice"),
        ("<extensions><f:feature>fault</f:feature></extensions>", "fault"),
    ],
)
def test_a_property_of_one_gpx_file_knows_its_features(tmp_path, words, feature):
    """Symbol, type, description or extension: whichever says what the point is."""
    body = f'<wpt lat="36" lon="-99"><ele>3</ele><name>A1</name>{words}</wpt>'
    (tmp_path / "locates.gpx").write_text(f"{HEAD}{body}</gpx>")
    locates = read_property(tmp_path).locates
    assert locates[["point", "feature", "lon", "lat", "elevation_m"]].to_numpy().tolist() == [
        ["A1", feature, -99.0, 36.0, 3.0]
    ]


def test_a_track_only_file_is_the_path_of_its_tracks(tmp_path):
    """Points in order, the run named by the track; segments of one track are one run."""
    body = (
        '<trk><name>North</name><trkseg><trkpt lat="36" lon="-99"><ele>1</ele></trkpt>'
        '<trkpt lat="36.1" lon="-99"/></trkseg><trkseg><trkpt lat="36.2" lon="-99"/></trkseg></trk>'
        '<trk><trkseg><trkpt lat="37" lon="-99"/></trkseg></trk>'
    )
    tables = read(tmp_path, body)
    assert list(tables) == ["track points"]
    frame = tables["track points"].frame
    assert frame["lat"].tolist() == [36, 36.1, 36.2, 37]
    assert frame["run"].tolist() == ["North", "North", "North", "track 2"]
    assert frame["point"].tolist() == ["North-1", "North-2", "North-3", "track 2-1"]
    assert set(frame["feature"]) == {"path"}


def test_waypoints_routes_and_tracks_of_one_file_are_all_read(tmp_path):
    """A route's points may carry names of their own."""
    body = (
        '<wpt lat="36" lon="-99"/>'
        '<rte><name>R</name><rtept lat="36" lon="-99"><name>p1</name></rtept>'
        '<rtept lat="36.1" lon="-99"/></rte>'
        '<trk><trkseg><trkpt lat="36" lon="-99"/></trkseg></trk>'
    )
    tables = read(tmp_path, body)
    assert list(tables) == ["waypoints", "route points", "track points"]
    assert tables["route points"].frame["point"].tolist() == ["p1", "R-2"]
    assert tables["route points"].frame["run"].tolist() == ["R", "R"]
    assert tables["route points"].notes == ("2 route points",)


@pytest.mark.parametrize(
    ("fix", "rms_m", "told"),
    [("3d", 4.8, "4 m for quality 1"), ("dgps", 1.8, "1.5 m for quality 2"),
     ("", None, "HDOP alone is none"), ("none", None, "HDOP alone is none")],
)  # fmt: skip
def test_hdop_gives_an_rms_where_the_fix_is_told_and_that_is_said(tmp_path, fix, rms_m, told):
    """Settings rms_at_hdop_1_m: 4 m at HDOP 1, differential 1.5 m; no fix gives none."""
    fix = f"<fix>{fix}</fix>" if fix else ""
    body = f'<wpt lat="36" lon="-99"><name>V1</name><sym>valve</sym>{fix}<hdop>1.2</hdop></wpt>'
    (tmp_path / "locates.gpx").write_text(f"{HEAD}{body}</gpx>", encoding="utf-8")
    found = read_property(tmp_path)
    (value,) = found.locates["h_rms_m"].tolist()
    assert value == (pytest.approx(rms_m) if rms_m else pytest.approx(float("nan"), nan_ok=True))
    assert any(told in f.message for f in found.findings)


def test_a_stated_rms_goes_before_hdop(tmp_path):
    """The receiver's own figure is an extension."""
    body = (
        '<wpt lat="36" lon="-99"><hdop>1.2</hdop><extensions><f:h_rms_m>0.02</f:h_rms_m>'
        "</extensions></wpt>"
    )
    frame = read(tmp_path, body)["waypoints"].frame
    assert [float(value) for value in frame["h_rms_m"]] == [0.02]


def test_a_position_out_of_range_is_a_problem(tmp_path):
    """GPX 1.1: latitude within 90 degrees; the good points stay."""
    places = [(136, -99), (36, -99), (0, 0), (36, -181)]
    body = "".join(f'<wpt lat="{lat}" lon="{lon}"/>' for lat, lon in places)
    table = read(tmp_path, body)["waypoints"]
    assert table.frame.index.tolist() == [2]
    assert [(p.row, p.value) for p in table.problems] == [
        (1, "136.0, -99.0"),
        (3, "0.0, 0.0"),
        (4, "36.0, -181.0"),
    ]


def test_gpx_1_0_and_a_prefix_are_read(tmp_path):
    """Old receivers write version 1.0."""
    head = '<?xml version="1.0"?><gpx version="1.0" xmlns="http://www.topografix.com/GPX/1/0">'
    table = read(tmp_path, '<wpt lat="36" lon="-99"><name>a</name></wpt>', head)["waypoints"]
    assert table.frame["point"].tolist() == ["a"]


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (f"{HEAD}</gpx>", "holds no waypoint, route point or track point"),
        (f'{HEAD}<wpt lat="36" lon="-99">', "cannot be read"),
        ('<!DOCTYPE gpx [<!ENTITY a "b">]><gpx/>', "declares a document type or an entity"),
        ("not xml", "has no gpx element"),
        ("", "got an empty file"),
    ],
)
def test_a_file_that_cannot_be_used_is_one_clear_error(tmp_path, text, message):
    """Empty, cut off, hostile or not GPX at all."""
    path = tmp_path / "walk.gpx"
    path.write_text(text)
    with pytest.raises(ReadError, match=f"walk.gpx: .*{message}"):
        READER.read(path, FileOptions())


TRACK_EXTENSIONS = (
    "<extensions><g:TrackPointExtension><g:depth>0.45</g:depth><g:hr>111</g:hr>"
    "</g:TrackPointExtension><p:accuracy>0.3</p:accuracy></extensions>"
)
"""As watches and phones write them: nested, and in track points alone."""


def test_extensions_of_track_points_are_read_where_nothing_else_has_any(tmp_path):
    """GDAL passes over them, and over numbers in nested elements, without a word."""
    points = "".join(
        f'<trkpt lat="36.000{k}" lon="-99">{TRACK_EXTENSIONS if k else ""}</trkpt>'
        for k in range(3)
    )
    body = f"<trk><name>Z1</name><trkseg>{points}</trkseg></trk>"
    table = read(tmp_path, body)["track points"]
    assert table.frame["depth"].tolist() == pytest.approx([float("nan"), 0.45, 0.45], nan_ok=True)
    assert table.frame["accuracy"].tolist()[1:] == [0.3, 0.3]
    assert table.frame["g_hr"].tolist()[1:] == [111, 111]


def test_extensions_that_are_empty_or_stand_in_one_another_lose_no_point(tmp_path):
    """An empty element opens nothing, and one of the same name within does not end the outer."""
    inner = "<g:extensions><g:depth>0.45</g:depth></g:extensions>"
    points = "".join(
        f"<trkpt lat='36.000{k}' lon='-99'>{within}</trkpt>"
        for k, within in enumerate(("", "<extensions />", f"<extensions>{inner}</extensions>"))
    )
    body = f"<trk><name>Z1</name><extensions/><trkseg>{points}</trkseg></trk>"
    table = read(tmp_path, body)["track points"]
    assert table.frame["lat"].tolist() == [36.0, 36.0001, 36.0002]
    assert table.frame["depth"].tolist() == pytest.approx([np.nan, np.nan, 0.45], nan_ok=True)


def test_quoted_text_of_an_extension_is_kept(tmp_path):
    """CDATA may hold what looks like an element."""
    quoted = "<extensions><g:tone><![CDATA[55]]></g:tone><g:memo><![CDATA[a <b> & c]]></g:memo>"
    body = f"<wpt lat='36' lon='-99'><name>V1</name>{quoted}</extensions></wpt>"
    frame = read(tmp_path, body)["waypoints"].frame
    assert frame["tone"].tolist() == [55]
    assert frame["g_memo"].tolist() == ["a <b> & c"]


@pytest.mark.parametrize(
    "cut", ["<trkpt lat='36.0003", "<trkpt lat='36.0003' lon='-99'><time>20", ""]
)
def test_a_log_that_breaks_off_is_read_up_to_there(tmp_path, cut):
    """A receiver that lost power: the points before count, and an error says where it ends."""
    path = tmp_path / "walk.gpx"
    points = "".join(f"<trkpt lat='36.000{k}' lon='-99'><ele>9</ele></trkpt>\n" for k in range(3))
    path.write_text(f"{HEAD}<trk><trkseg>\n{points}{cut}")
    table = READER.read(path, FileOptions())[0]
    assert table.frame["lat"].tolist() == [36.0, 36.0001, 36.0002]
    assert [(p.code, p.rule) for p in table.problems] == [
        ("bad-value", "the file breaks off behind line 4; what stands before was read")
    ]
