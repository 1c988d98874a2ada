"""The hand-over bundle."""

from __future__ import annotations

import hashlib
import re
import subprocess
import zipfile

import pytest
from sample_layers import make_context, make_layers

from wiremap.draw.record import CAUTION
from wiremap.errors import WriteError
from wiremap.write.bundle import write_bundle
from wiremap.write.outputs import write_layers

FORMATS = ["geopackage", "geojson", "findings", "dxf", "kmz"]


@pytest.fixture
def built(tmp_path):
    """A folder that a property was built into, with a file of the owner's own."""
    layers = make_layers()
    facts = {
        "property": "Quarry Pond Gardens",
        "prepared by": "Crew 2\x07",
        "prepared on": "2026-05-04",
    }
    layers["provenance"] = (
        layers["provenance"].iloc[:3].assign(item=list(facts), value=list(facts.values()))
    )
    write_layers(layers, tmp_path / "out", context=make_context(), formats=FORMATS)
    (tmp_path / "out" / "private notes.txt").write_text("mine")
    (tmp_path / "out" / "other.html").write_text("mine")
    return tmp_path / "out"


def unzip(path):
    """Return the archive's members by name, without the folder they stand in."""
    with zipfile.ZipFile(path) as archive:
        assert archive.testzip() is None
        return {
            name.removeprefix("quarry-pond/"): archive.read(name) for name in archive.namelist()
        }


def test_the_bundle_holds_the_files_of_the_build_and_no_others(built):
    """What stands in the folder beside them is the owner's own."""
    made = write_bundle(built)
    assert made.path == built / "quarry-pond-handover.zip"
    files = unzip(made.path)
    assert set(files) == {"README.txt", "MANIFEST.sha256", *made.names}
    assert {"quarry-pond.gpkg", "quarry-pond.dxf", "quarry-pond.prj", "quarry-pond.kmz",
            "findings.csv", "geojson/valves.geojson"} <= set(files)  # fmt: skip
    assert not {"private notes.txt", "other.html"} & set(files)
    for name in made.names:
        assert files[name] == (built / name).read_bytes()


def test_the_manifest_holds_against_sha256sum(built, tmp_path):
    """GNU coreutils reads the manifest and finds every file whole (FIPS 180-4)."""
    made = write_bundle(built)
    with zipfile.ZipFile(made.path) as archive:
        archive.extractall(tmp_path / "open")
    folder = tmp_path / "open" / "quarry-pond"
    done = subprocess.run(
        ["sha256sum", "--strict", "-c", "MANIFEST.sha256"], cwd=folder, check=False
    )
    assert done.returncode == 0
    listed = [line.split("  ", 1) for line in (folder / "MANIFEST.sha256").read_text().splitlines()]
    assert {name for _, name in listed} == {*made.names, "README.txt"}
    sums = dict(map(reversed, listed))
    assert sums["findings.csv"] == hashlib.sha256((built / "findings.csv").read_bytes()).hexdigest()


def test_the_readme_tells_the_owner_what_is_there_and_warns(built):
    """In plain words, wrapped, with the caution and with what was not built."""
    text = unzip(write_bundle(built).path)["README.txt"].decode("utf-8-sig")
    flat = " ".join(text.split())
    assert CAUTION in flat
    assert "Irrigation wires of Quarry Pond Gardens" in flat
    assert "Prepared by Crew 2, 2026-05-04." in flat
    assert "valves 3" in flat
    assert "Not built, and so not in here: sheets" in flat
    assert max(map(len, text.splitlines())) <= 78
    assert all(line.endswith("\r\n") for line in text.splitlines(keepends=True))


def test_a_whole_set_is_called_whole(built):
    """Where sheets, drawing and kmz are there, nothing is said to be missing."""
    (built / "quarry-pond-sheets.pdf").write_bytes(b"%PDF")
    made = write_bundle(built)
    assert made.missing == []
    text = unzip(made.path)["README.txt"].decode("utf-8-sig")
    assert "Not built" not in text
    assert "quarry-pond-sheets.pdf: The record drawing" in text


def test_equal_files_give_equal_archives(built):
    """Times and the order of the folder leave no trace."""
    one = write_bundle(built).path.read_bytes()
    for file in built.iterdir():
        if file.is_file():
            file.touch()
    assert write_bundle(built).path.read_bytes() == one
    assert not list(built.glob(".wiremap-bundle-*"))


def test_a_folder_without_an_asbuilt_is_refused(tmp_path):
    """Nothing to hand over, and the message says how to get it."""
    for folder in (tmp_path, tmp_path / "nowhere"):
        with pytest.raises(WriteError, match="holds no as-built; build into it first"):
            write_bundle(folder)


def test_several_asbuilts_in_one_folder_are_refused(built):
    """A bundle is of one property."""
    (built / "second.gpkg").write_bytes(b"x")
    with pytest.raises(WriteError, match=r"several as-builts, got quarry-pond\.gpkg, second\.gpkg"):
        write_bundle(built)


def test_a_package_that_is_open_is_refused(built):
    """With a -wal file beside it the package alone is not the record."""
    (built / "quarry-pond.gpkg-wal").write_bytes(b"x")
    with pytest.raises(WriteError, match="close the package in every program"):
        write_bundle(built)


def test_a_package_that_is_none_leaves_the_former_bundle(built):
    """The archive appears whole or not at all."""
    former = write_bundle(built).path.read_bytes()
    (built / "quarry-pond.gpkg").write_bytes(b"this is no package at all")
    with pytest.raises(WriteError, match="cannot be written: file is not a database"):
        write_bundle(built)
    assert (built / "quarry-pond-handover.zip").read_bytes() == former
    assert not list(built.glob(".wiremap-bundle-*"))


def test_links_do_not_carry_other_files_into_the_bundle(built, tmp_path):
    """A link in the output folder may point anywhere."""
    (tmp_path / "secret").write_text("secret")
    (built / "quarry-pond.html").symlink_to(tmp_path / "secret")
    assert "quarry-pond.html" not in write_bundle(built).names


def test_no_path_of_this_machine_is_in_the_archive(built):
    """Members stand in a folder of the property's name, with forward slashes."""
    with zipfile.ZipFile(write_bundle(built).path) as archive:
        assert all(re.fullmatch(r"quarry-pond/[\w./-]+", name) for name in archive.namelist())
