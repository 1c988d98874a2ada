"""A property folder: which files are found and how each is read."""

import hashlib

import pytest

from wiremap.errors import ReadError, UnknownFormatError
from wiremap.model.tables import LOCATES_IN, READINGS, REFERENCES_IN, ZONE_LIST
from wiremap.read.folders import read_property
from wiremap.read.listing import find_locates

ROWS = "point,feature,run,lat,lon\nP1,path,A,41.5,-97.1\nP2,path,A,41.6,-97.1\n"


@pytest.fixture
def folder(tmp_path):
    def write(files):
        for name, content in files.items():
            path = tmp_path / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(content.encode() if isinstance(content, str) else content)
        return tmp_path

    return write


def codes(found):
    return [f.code for f in found.findings]


def test_a_folder_with_locates_alone_is_a_property(folder):
    """Every other table is there and empty; the file is named with its SHA-256."""
    found = read_property(folder({"locates.csv": ROWS}))

    assert found.locates["point"].tolist() == ["P1", "P2"]
    assert found.locates.columns.tolist() == LOCATES_IN.column_names
    assert found.zones.columns.tolist() == ZONE_LIST.column_names
    assert found.references.columns.tolist() == REFERENCES_IN.column_names
    assert found.readings.columns.tolist() == READINGS.column_names
    (file,) = found.inputs
    assert (file.path, file.format, file.rows) == ("locates.csv", "delimited", 2)
    assert file.sha256 == hashlib.sha256(ROWS.encode()).hexdigest()
    assert found.findings == ()


def test_files_are_found_by_name_and_place_and_read_in_order(folder):
    """locates*, then locates/, then visits/; hidden files, parts and read-me files are not data."""
    path = folder(
        dict.fromkeys(("locates.csv", "locates_front.tsv", "Locates-back.CSV", "locates/b.csv", "locates/a/c.csv", "visits/2026-05-04/topo.csv", "visits/2026-05-04/zones.csv", "locates/README.txt", "locates/~$b.xlsx", "locates/.hidden.csv", "locates/b.prj", "zones.csv", "notes.csv"), "")
    )  # fmt: skip

    assert [p.relative_to(path).as_posix() for p in find_locates(path)] == [
        "Locates-back.CSV", "locates.csv", "locates_front.tsv", "locates/a/c.csv", "locates/b.csv",
        "visits/2026-05-04/topo.csv",
    ]  # fmt: skip


def test_names_may_be_written_in_capitals(folder):
    """Some systems do not tell ``Locates`` from ``locates``, so people do not either."""
    base = '{"type":"Feature","properties":{},"geometry":{"type":"Point","coordinates":[0,0]}}'
    files = {"Locates/a.csv": ROWS, "VISITS/2026-05-04/topo.csv": ROWS, "Base/site.geojson": base}
    found = read_property(folder({**files, "Property.TOML": "[property]\nname = 'Oak Court'"}))

    assert found.settings.property.name == "Oak Court"
    assert found.locates["date"].tolist()[2:] == ["2026-05-04"] * 2
    assert list(found.base) == ["site"]
    assert found.findings == ()


def test_rows_of_a_visit_take_the_date_of_its_folder(folder):
    """Where they carry none of their own."""
    found = read_property(folder({"visits/2026-05-04 spring/topo.csv": ROWS}))

    assert found.locates["date"].tolist() == ["2026-05-04", "2026-05-04"]
    assert found.locates["source_file"].tolist() == ["visits/2026-05-04 spring/topo.csv"] * 2


def test_a_section_of_property_toml_says_how_one_file_is_read(folder):
    """A survey point list without a header, in a CRS of its own."""
    toml = """
[files."locates/topo.csv"]
header = false
columns = ["point", "northing", "easting", "elevation", "feature"]
crs = "EPSG:26914"
operator = "K"
[features]
"TP" = "path"
"""
    found = read_property(
        folder({"property.toml": toml, "locates/topo.csv": "101,4600000.0,500000.0,300.1,TP\n"})
    )

    row = found.locates.iloc[0]
    assert (row["point"], row["northing"], row["easting"], row["feature"], row["operator"]) == (
        "101",
        4600000,
        500000,
        "path",
        "K",
    )
    assert row["position_crs"] == "EPSG:26914"
    assert row["source_row"] == 1


def test_files_of_several_formats_make_one_table(folder):
    """Columns beyond the contract have one spelling."""
    found = read_property(folder({
        "locates.csv": "point,feature,lat,lon,Soil\nP1,path,41,-97,clay\n",
        "locates_2.csv": "point;feature;lat;lon;soil\nP2;path;41,5;-97,1;sand\n",
    }))  # fmt: skip

    assert found.locates["Soil"].tolist() == ["clay", "sand"]
    assert found.locates["lat"].tolist() == [41.0, 41.5]
    assert "soil" not in found.locates.columns


def test_one_unreadable_file_of_several_is_a_finding_and_the_rest_is_built(folder):
    """Binary data named .csv, a format nobody knows, and a good file."""
    found = read_property(
        folder({"locates.csv": ROWS, "locates/bad.csv": b"PK\x03\x04x", "locates/x.abc": "x"})
    )

    assert len(found.locates) == 2
    assert [f.source_file for f in found.findings if f.code == "unread-file"] == [
        "locates/bad.csv",
        "locates/x.abc",
    ]


@pytest.mark.parametrize(
    ("files", "kind", "message"),
    [
        ({}, ReadError, "the folder holds no field locates"),
        ({"locates.csv": ""}, ReadError, r"locates\.csv: the file is empty"),
        ({"locates.csv": "point,lat,lon\n"}, ReadError, "a header and no rows"),
        ({"locates.csv": b"SQLite format 3\x00"}, ReadError, "GeoPackage"),
        ({"locates.abc": "x"}, UnknownFormatError, r"no reader knows files ending in \.abc; use one of .*\.csv"),
        ({"locates/sub/a.csv": "Ptt,Wert\n1,2\n3,4\n"}, ReadError, r"locates/sub/a\.csv: no header|locates/sub/a\.csv: no columns give a position"),
    ],
)  # fmt: skip
def test_a_folder_that_nothing_can_be_read_from_is_one_clear_line(folder, files, kind, message):
    """File, rule and remedy."""
    with pytest.raises(kind, match=message) as caught:
        read_property(folder(files))

    assert "\n" not in str(caught.value)


def test_a_missing_folder_and_a_file_in_its_place_are_told_apart(folder):
    """Both are usage errors."""
    path = folder({"locates.csv": ROWS})

    with pytest.raises(ReadError, match="there is no such folder"):
        read_property(path / "nowhere")
    with pytest.raises(ReadError, match="this is a file, not a folder"):
        read_property(path / "locates.csv")


def test_an_unreadable_zone_list_does_not_stop_the_property(folder):
    """It is a finding, and the zone list is empty."""
    found = read_property(folder({"locates.csv": ROWS, "zones.csv": b"\x00\x01\x02"}))

    assert codes(found) == ["unread-file"]
    assert found.zones.empty


def test_zone_list_references_and_readings_are_read(folder):
    """Each by its own name."""
    found = read_property(folder({
        "locates.csv": ROWS,
        "zones.csv": "zone,name\n1,lawn\n",
        "references.csv": "reference,lon,lat\nSW,-97.1,41.5\n",
        "readings.csv": "zone,kind,value\n1,ohms,28\n",
    }))  # fmt: skip

    assert (len(found.zones), len(found.references), len(found.readings)) == (1, 1, 1)
    assert [f.path for f in found.inputs] == [
        "locates.csv",
        "zones.csv",
        "references.csv",
        "readings.csv",
    ]


def test_columns_beyond_the_contract_have_one_type_over_all_files(folder):
    """Numbers of one file beside words of another are words."""
    found = read_property(
        folder({
            "locates.geojson": '{"type": "FeatureCollection", "features": [{"type": "Feature", "properties": '
            '{"point": "P1", "feature": "path", "Soil": 3}, "geometry": {"type": "Point", "coordinates": [-97, 41]}}]}',
            "locates_2.csv": "point,feature,lat,lon,Soil\nP2,path,41,-97,clay\n",
        })
    )  # fmt: skip

    assert sorted(found.locates["Soil"]) == ["3", "clay"]


def test_marks_that_have_only_a_time_stand_where_the_log_was_then(folder):
    """A list of what was found and when, beside a receiver's track of its own times."""
    track = (
        '<?xml version="1.0"?><gpx version="1.1" creator="t" xmlns="http://www.topografix.com/GPX/1/1">'
        '<trk><name>walk</name><trkseg><trkpt lat="41.0" lon="-97.0"><time>2026-05-04T12:00:00Z</time></trkpt>'
        '<trkpt lat="41.0" lon="-97.001"><time>2026-05-04T12:00:02Z</time></trkpt></trkseg></trk></gpx>'
    )
    marks = "point,feature,date\nV1,valve,2026-05-04T12:00:01Z\n"
    found = read_property(folder({"locates/walk.gpx": track, "locates/marks.csv": marks}))

    valve = found.locates[found.locates["feature"] == "valve"].iloc[0]
    assert (valve["lon"], valve["lat"]) == pytest.approx((-97.0005, 41.0))
    with pytest.raises(ReadError, match="no columns give a position"):
        read_property(folder({"alone/locates.csv": marks}) / "alone")


def test_a_reader_that_breaks_is_a_line_with_its_name(folder, monkeypatch):
    """A plugin may raise anything."""
    from wiremap.plugins import FileOptions, Reader, Registry
    from wiremap.read import files

    def fail(path, options: FileOptions):
        raise KeyError("depth")

    broken = Registry("wiremap.readers", {"broken": Reader("broken", (".csv",), fail)})
    monkeypatch.setattr(files, "registry", lambda group: broken)

    with pytest.raises(ReadError, match="the reader 'broken' failed: KeyError: 'depth'"):
        read_property(folder({"locates.csv": ROWS}))


def test_a_section_for_a_file_that_is_not_there_is_a_finding(folder):
    """With the files that are."""
    found = read_property(
        folder({"locates.csv": ROWS, "property.toml": '[files."topo.csv"]\nheader = true\n'})
    )

    (finding,) = found.findings
    assert finding.code == "unknown-setting"
    assert "locates.csv" in finding.advice


def test_base_layers_are_read_as_frames_by_their_names(folder):
    """Vector files in base/ and base.<ext>; an image is left alone with a note."""
    import geopandas as gpd
    from shapely.geometry import box

    path = folder({"locates.csv": ROWS, "base/aerial.png": b"\x89PNG", "base/broken.gpkg": b"no"})
    lot = gpd.GeoDataFrame({"kind": ["lot"]}, geometry=[box(0, 0, 1, 1)], crs="EPSG:26914")
    lot.to_file(path / "base" / "site.gpkg", layer="lot")
    lot.to_file(path / "base.geojson", layer="outline")

    found = read_property(path)
    assert set(found.base) == {"lot", "outline"} or set(found.base) == {"lot", "base"}
    assert found.base["lot"].crs == "EPSG:26914"
    assert sorted(codes(found)) == ["read-note", "unread-file"]
