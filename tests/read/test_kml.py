"""KML and KMZ placemarks."""

from __future__ import annotations

import zipfile

import pytest

from wiremap.errors import ReadError
from wiremap.plugins import FileOptions
from wiremap.read import kml, xml_guard
from wiremap.read.kml import READER

DOCUMENT = """<?xml version="1.0"?><kml xmlns="http://www.opengis.net/kml/2.2"><Document>
<Folder><name>Valves</name>
<Placemark><name>V1</name><description>green lid</description><ExtendedData>
<Data name="zone"><value>3</value></Data></ExtendedData>
<Point><altitudeMode>absolute</altitudeMode><coordinates>-99.25,36.5,300.5</coordinates></Point>
</Placemark>
<Placemark><name>V2</name><Point><coordinates>-99.26,36.6,7</coordinates></Point></Placemark>
</Folder>
<Folder><name>wires</name><Placemark><name>North</name>
<TimeStamp><when>2026-05-04T12:00:00Z</when></TimeStamp>
<LineString><coordinates>-99,36 -99.1,36.1</coordinates></LineString></Placemark></Folder>
</Document></kml>"""


def save(path, text=DOCUMENT):
    """Write a document, in an archive where the name asks for one."""
    if path.suffix == ".kmz":
        with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
            archive.writestr("files/icon.png", b"x")
            archive.writestr("doc.kml", text)
    else:
        path.write_text(text)
    return path


@pytest.mark.parametrize("name", ["a.kml", "a.kmz"])
def test_placemarks_are_read_by_folder(tmp_path, name):
    """Name, description and extended data; a folder named after a kind gives the kind."""
    valves, wires = READER.read(save(tmp_path / name), FileOptions())
    assert valves.crs == wires.crs == "EPSG:4326"
    frame = valves.frame
    assert frame["point"].tolist() == ["V1", "V2"]
    assert frame["feature"].tolist() == ["valve", "valve"]
    assert frame["zone"].tolist()[0] == "3"
    assert frame["description"].tolist()[0] == "green lid"
    assert frame[["lon", "lat"]].to_numpy().tolist() == [[-99.25, 36.5], [-99.26, 36.6]]
    assert wires.frame["run"].tolist() == ["North", "North"]
    assert wires.frame["feature"].tolist() == ["path", "path"]
    assert wires.frame["date"].tolist()[0].startswith("2026-05-04T12:00:00")


def test_only_an_absolute_height_is_an_elevation(tmp_path):
    """OGC 07-147r2: the default mode, clampToGround, ignores heights."""
    valves = READER.read(save(tmp_path / "a.kml"), FileOptions())[0].frame
    assert valves["elevation_m"].tolist()[0] == 300.5
    assert valves["elevation_m"].isna().tolist() == [False, True]
    plain = DOCUMENT.replace("<altitudeMode>absolute</altitudeMode>", "")
    assert "elevation_m" not in READER.read(save(tmp_path / "b.kml", plain), FileOptions())[0].frame


def test_coordinates_that_are_no_numbers_are_a_problem(tmp_path):
    """The driver reads them as 0, 0."""
    text = DOCUMENT.replace("-99.26,36.6,7", "abc,def")
    table = READER.read(save(tmp_path / "a.kml", text), FileOptions())[0]
    assert table.frame["point"].tolist() == ["V1"]
    assert [p.row for p in table.problems] == [2]


def test_a_link_to_another_document_is_not_followed(tmp_path):
    """Nothing is fetched from the network."""
    link = "<NetworkLink><Link><href>http://127.0.0.1:9/x.kml</href></Link></NetworkLink>"
    text = DOCUMENT[: DOCUMENT.index("<Folder>")] + link + "</Document></kml>"
    with pytest.raises(ReadError, match="holds no placemark"):
        READER.read(save(tmp_path / "a.kml", text), FileOptions())


def test_folders_of_one_name_are_both_read(tmp_path):
    """Names of folders need not be unique."""
    text = DOCUMENT.replace("<name>wires</name>", "<name>Valves</name>")
    tables = READER.read(save(tmp_path / "a.kml", text), FileOptions())
    assert [len(table.frame) for table in tables] == [2, 2]
    assert tables[1].frame["run"].tolist() == ["North", "North"]


@pytest.mark.parametrize(
    "namespace", ["http://earth.google.com/kml/2.0", "http://earth.google.com/kml/2.2"]
)
def test_old_namespaces_are_read(tmp_path, namespace):
    """Files of other years carry other namespaces."""
    text = DOCUMENT.replace("http://www.opengis.net/kml/2.2", namespace)
    assert len(READER.read(save(tmp_path / "a.kml", text), FileOptions())) == 2


@pytest.mark.parametrize(
    "member", ["../doc.kml", "/etc/doc.kml", "C:/doc.kml", "a\\..\\..\\doc.kml"]
)
def test_an_archive_that_leads_out_of_itself_is_refused(tmp_path, member):
    """Nothing of it is read."""
    path = tmp_path / "a.kmz"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr(member, DOCUMENT)
    with pytest.raises(ReadError, match="a file in the archive leads out of it"):
        READER.read(path, FileOptions())


def test_an_archive_that_unpacks_to_a_flood_is_refused(tmp_path, monkeypatch):
    """By its ratio, by its size, and by its number of files."""
    path = tmp_path / "a.kmz"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("doc.kml", b" " * 3_000_000)
    with pytest.raises(ReadError, match="unpacks to far more than it should, got 3000000 bytes"):
        READER.read(path, FileOptions())
    monkeypatch.setattr(kml, "MAX_MEMBERS", 1)
    with pytest.raises(ReadError, match="holds more than 1 files"):
        READER.read(save(tmp_path / "b.kmz"), FileOptions())


def test_an_archive_that_understates_its_size_is_cut_at_the_limit(tmp_path, monkeypatch):
    """The limit holds for what is unpacked, not for what the archive says."""
    path = save(tmp_path / "a.kmz")
    monkeypatch.setattr(kml, "MAX_XML_BYTES", 100)
    monkeypatch.setattr(xml_guard, "MAX_XML_BYTES", 100)
    monkeypatch.setattr(kml, "_refuse_hostile", lambda path, members: None)
    with pytest.raises(ReadError, match="is larger than 100 bytes"):
        READER.read(path, FileOptions())


@pytest.mark.parametrize(
    ("name", "data", "message"),
    [
        ("a.kmz", b"PK\x03\x04 cut off", "is not a KMZ archive that can be unpacked"),
        ("a.kml", b"<kml></kml>", "cannot be read|holds no placemark"),
        ("a.kml", b'<!DOCTYPE kml [<!ENTITY a "b">]><kml/>', "declares a document type"),
        ("a.kml", b"", "got an empty file"),
        ("a.kml", DOCUMENT[:400].encode(), "cannot be read"),
    ],
)
def test_a_file_that_cannot_be_used_is_one_clear_error(tmp_path, name, data, message):
    """Cut off, empty, hostile or without a placemark."""
    (tmp_path / name).write_bytes(data)
    with pytest.raises(ReadError, match=message):
        READER.read(tmp_path / name, FileOptions())


def test_an_archive_without_a_document_is_refused(tmp_path):
    """A KMZ holds a .kml file."""
    with zipfile.ZipFile(tmp_path / "a.kmz", "w") as archive:
        archive.writestr("icon.png", b"x")
    with pytest.raises(ReadError, match="is an archive without a KML document"):
        READER.read(tmp_path / "a.kmz", FileOptions())


def test_entities_inside_an_archive_are_refused(tmp_path):
    """The guard holds for what is unpacked."""
    text = DOCUMENT.replace("<kml", '<!DOCTYPE kml [<!ENTITY a "b">]><kml', 1)
    with pytest.raises(ReadError, match="declares a document type"):
        READER.read(save(tmp_path / "a.kmz", text), FileOptions())


TRACK = """<kml xmlns="http://www.opengis.net/kml/2.2" xmlns:gx="urn:gx"><Placemark><name>
north
</name><gx:Track><altitudeMode>absolute</altitudeMode>
<when>2026-05-04T12:00:00Z</when><when>2026-05-04T12:00:09Z</when>
<gx:coord>-99.25 36.5 300</gx:coord><gx:coord>-99.26 36.5 301</gx:coord></gx:Track></Placemark></kml>"""


def test_a_track_keeps_its_day_and_its_heights(tmp_path):
    """Times of single points are not kept, that of the start is; a name is one line."""
    (table,) = READER.read(save(tmp_path / "a.kml", TRACK), FileOptions())
    assert table.frame["point"].tolist() == ["north-1", "north-2"]
    assert table.frame["date"].str.slice(0, 10).tolist() == ["2026-05-04"] * 2
    assert table.frame["elevation_m"].tolist() == [300, 301]
