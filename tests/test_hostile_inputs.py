"""Every attack ends in an as-built with findings or in one clear line; nothing gets in or out."""

from __future__ import annotations

import re
import sqlite3
import subprocess
import sysconfig
import threading
from contextlib import closing
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path

import pytest
from attacks import ATTACKS, load_all, write_sound
from attacks_images import COVERAGE, NOTES, VIRTUAL, WEB_SERVICE, image, place
from attacks_xml import VRT

from wiremap.cli.main import run

load_all()
SCALE = 0.01


def call(*words):
    """Run the command line and return its exit code."""
    try:
        run([str(word) for word in words])
    except SystemExit as left:
        return left.code or 0
    raise AssertionError("the command line always exits")


@pytest.mark.parametrize("attack", ATTACKS.values(), ids=list(ATTACKS))
def test_an_attack_ends_in_findings_or_in_one_clear_line(attack, tmp_path, capsys):
    """Exit 0 or 1 with a sound package and findings, or exit 2 with one line; no traceback."""
    folder, out = write_sound(tmp_path / "garden"), tmp_path / "out"
    attack.make(folder, SCALE)

    code = call("build", folder, "-o", out, *attack.options)

    said = capsys.readouterr()
    assert code in attack.codes, said.err
    assert "Traceback" not in said.err
    assert "unexpected" not in said.err
    assert said.err.count("\n") == (1 if code == 2 else 0), said.err
    told = said.err if code == 2 else _told(out, said.out)
    assert re.search(attack.says, told), told[:2000]
    assert {path.name for path in tmp_path.iterdir()} <= {"garden", "out"}


def _told(out, printed):
    """Hold the package against SQLite's check; return what a user is told."""
    (package,) = out.glob("*.gpkg")
    with closing(sqlite3.connect(package)) as db:
        assert db.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    for page in out.glob("*.html"):
        assert "<script>alert(1)" not in page.read_text(encoding="utf-8")
    return printed + (out / "findings.csv").read_text(encoding="utf-8-sig")


@pytest.fixture
def server():
    """Return the address of a server here, and what was asked of it."""
    asked = []

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self):
            asked.append(self.path)
            self.send_error(404)

        do_HEAD = do_GET  # noqa: N815 - the name that http.server calls

        def log_message(self, *_):
            """Say nothing."""

    with HTTPServer(("127.0.0.1", 0), Handler) as server:
        thread = threading.Thread(target=server.serve_forever)
        thread.start()
        yield f"http://127.0.0.1:{server.server_port}", asked
        server.shutdown()
        thread.join()


@pytest.mark.parametrize("suffix", ["geojson", "json", "kml", "gpkg", "shp", "dxf"])
@pytest.mark.parametrize("place", ["base/x", "locates-x"])
def test_no_file_of_the_folder_makes_wiremap_ask_the_network(tmp_path, suffix, place, server):
    """A virtual layer that leads to a server here is not followed, whatever its name."""
    address, asked = server
    folder = write_sound(tmp_path / "garden")
    path = folder / f"{place}.{suffix}"
    path.parent.mkdir(exist_ok=True)
    path.write_text(VRT.format(f"/vsicurl/{address}/x.csv"))

    assert call("build", folder, "-o", tmp_path / "out", "--format=findings") == 1
    assert asked == []


IMAGES = {
    "service": ("dem.tif", WEB_SERVICE), "coverage": ("air.png", COVERAGE),
    "virtual": ("dem.asc", VIRTUAL), "smaller copies": ("sound.tif.ovr", WEB_SERVICE),
    "mask": ("sound.tif.msk", WEB_SERVICE), "notes": ("sound.tif.aux.xml", NOTES),
}  # fmt: skip


@pytest.mark.filterwarnings("ignore:Use `@` matmul:PendingDeprecationWarning")  # rasterio's own
@pytest.mark.parametrize("kind", IMAGES)
def test_no_image_of_the_base_makes_wiremap_ask_the_network(tmp_path, kind, server):
    """Neither itself, where it is the description of a service, nor a file beside it."""
    address, asked = server
    folder, (name, text) = write_sound(tmp_path / "garden"), IMAGES[kind]
    image(folder, "sound.tif")
    place(folder, name, text.format(address=address))

    code = call("build", folder, "-o", tmp_path / "out", "--format=findings", "--format=webmap")

    assert code in {0, 1}
    assert asked == []
    assert name.partition(".")[0] in (tmp_path / "out" / "findings.csv").read_text("utf-8-sig")


@pytest.mark.filterwarnings("ignore:Use `@` matmul:PendingDeprecationWarning")
@pytest.mark.filterwarnings("always:the map shows no image")
def test_a_damaged_aerial_image_is_left_out_of_the_map_and_a_line_says_so(tmp_path, capsys):
    """The record is worth more than what lies beneath it."""
    folder = write_sound(tmp_path / "garden")
    path = image(folder, "air.tif", size=512, bands=3, dtype="uint8", fill=90)
    path.write_bytes(path.read_bytes()[:200_000])

    assert call("build", folder, "-o", tmp_path / "out", "--format=webmap") == 0
    assert "the map shows no image: air.tif" in capsys.readouterr().err


def test_a_formula_in_the_field_notes_is_text_in_findings_csv(tmp_path):
    """No cell of the file starts with a sign that a spreadsheet takes for a formula."""
    folder = write_sound(tmp_path / "garden")
    ATTACKS["text-templates"].make(folder, SCALE)

    call("build", folder, "-o", tmp_path / "out", "--format=findings")

    text = (tmp_path / "out" / "findings.csv").read_text(encoding="utf-8-sig")
    assert not re.search(r'(?m)(?:^|,)"?[=+@\t]', text)


def test_what_nobody_thought_of_is_one_line_and_a_traceback_only_with_debug(
    tmp_path, capsys, monkeypatch
):
    """The line says how to see more; `--debug` shows it."""
    monkeypatch.setenv("WIREMAP_DEBUG", "")
    monkeypatch.setattr("wiremap.workflow._build", lambda *_, **__: 1 / 0)
    folder = write_sound(tmp_path / "garden")
    capsys.readouterr()

    assert call("build", folder, "-o", tmp_path / "out") == 2
    short = capsys.readouterr().err
    assert call("--debug", "build", folder, "-o", tmp_path / "out") == 2
    long = capsys.readouterr().err

    assert short.count("\n") == 1
    assert "ZeroDivisionError" in short
    assert "wiremap --debug" in short
    assert "Traceback" not in short
    assert "Traceback (most recent call last)" in long
    assert long.endswith(short)


def test_code_that_stands_in_the_property_folder_is_not_run(tmp_path):
    """Modules and entry points beside the field files are none of the installation's."""
    folder = write_sound(tmp_path / "garden")
    code = f"open({str(tmp_path / 'ran')!r}, 'w').close()\n"
    for name in ("numpy", "evil", "sitecustomize", "wiremap"):
        (folder / f"{name}.py").write_text(code)
    info = folder / "evil-1.0.dist-info"
    info.mkdir()
    (info / "METADATA").write_text("Metadata-Version: 2.1\nName: evil\nVersion: 1.0\n")
    (info / "entry_points.txt").write_text("[wiremap.readers]\nevil = evil:READER\n")
    command = Path(sysconfig.get_path("scripts")) / "wiremap"

    built = subprocess.run([command, "build", ".", "-o", "out"], cwd=folder, check=False)
    listed = subprocess.run([command, "formats"], cwd=folder, capture_output=True, check=True)

    assert built.returncode == 0
    assert b"evil" not in listed.stdout
    assert not (tmp_path / "ran").exists()
