"""All files of an as-built appear whole or not at all."""

from __future__ import annotations

import errno
import os
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest
from sample_layers import make_context, make_layers

from wiremap.errors import MissingExtraError, WriteError
from wiremap.plugins import WRITERS, Registry, Writer
from wiremap.write import findings, geojson, geopackage, outputs

BUILT_IN = {w.name: w for w in (geopackage.WRITER, geojson.WRITER, findings.WRITER)}


def write_text(name, text="new"):
    """Return a writer of one small text file."""

    def write(layers, target, context):
        path = target / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text)
        return [path]

    return Writer(name, (Path(name).suffix,), write)


def failing(error):
    """Return a writer that fails."""

    def write(layers, target, context):
        (target / "half.gpkg").write_bytes(b"half of a file")
        raise error

    return Writer("failing", (), write)


@pytest.fixture
def install(monkeypatch):
    """Install writers in place of those of this installation."""

    def put(*writers):
        registry = Registry(WRITERS, {w.name: w for w in writers})
        monkeypatch.setattr(outputs, "registry", lambda group: registry)

    put(*BUILT_IN.values())
    return put


def contents(folder):
    """Return every file of a folder with its bytes."""
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def write(out, **more):
    """Write the sample layers."""
    return outputs.write_layers(make_layers(), out, context=make_context(), **more)


def test_every_default_format_is_in_place_and_nothing_else(tmp_path, install):
    """The package, a GeoJSON file a layer and the findings; no staging folder is left."""
    paths = write(tmp_path / "deep" / "out")
    names = {p.relative_to(tmp_path / "deep" / "out").as_posix() for p in paths}
    assert {"quarry-pond.gpkg", "findings.csv", "geojson/valves.geojson"} <= names
    assert set(contents(tmp_path / "deep" / "out")) == names


def test_writing_twice_replaces_the_former_output(tmp_path, install):
    """The second build's package holds the second build's rows."""
    write(tmp_path)
    outputs.write_layers(make_layers(5), tmp_path, context=make_context(), formats=["geopackage"])
    with closing(sqlite3.connect(tmp_path / "quarry-pond.gpkg")) as db:
        assert db.execute("SELECT count(*) FROM valves").fetchone() == (5,)


def test_formats_are_chosen_by_name_and_unknown_ones_are_named(tmp_path, install):
    """Only what is asked for is written; a wrong name lists the right ones."""
    assert [p.name for p in write(tmp_path, formats=["findings"])] == ["findings.csv"]
    with pytest.raises(WriteError, match="no such format, got shape; choose among findings, geojs"):
        write(tmp_path, formats=["shape"])


def test_a_format_that_is_not_default_is_written_only_when_asked_for(tmp_path, install):
    """Writer.default decides."""
    install(write_text("a.txt"), Writer("b", (), write_text("b.txt").write, default=False))
    assert [p.name for p in write(tmp_path)] == ["a.txt"]
    assert [p.name for p in write(tmp_path, formats=["b", "b"])] == ["b.txt"]


@pytest.mark.parametrize(
    "error",
    [OSError(errno.ENOSPC, "No space left on device"), RuntimeError("GDAL: disk I/O error")],
)
def test_a_writer_that_fails_leaves_the_former_output_as_it_was(tmp_path, install, error):
    """Bytes of every former file are the same, and the half-written file is gone."""
    write(tmp_path)
    before = contents(tmp_path)
    install(*BUILT_IN.values(), failing(error))
    with pytest.raises(WriteError, match=r"cannot be written: .*nothing was replaced"):
        write(tmp_path)
    assert contents(tmp_path) == before


def test_a_missing_extra_is_told_as_such(tmp_path, install):
    """The message with the install line is not wrapped."""
    install(write_text("a.txt"), failing(MissingExtraError("XlsxWriter", "xlsx")))
    with pytest.raises(MissingExtraError, match=r"pip install 'wiremap\[xlsx\]'"):
        write(tmp_path)
    assert contents(tmp_path) == {}


def test_a_full_disk_at_the_flush_leaves_the_former_output_as_it_was(
    tmp_path, install, monkeypatch
):
    """The disk may say that it is full only when the data is flushed."""
    write(tmp_path)
    before = contents(tmp_path)

    def full(descriptor):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(WriteError, match="No space left on device"):
        write(tmp_path)
    assert contents(tmp_path) == before


def test_a_move_that_fails_midway_puts_back_what_was_moved(tmp_path, install, monkeypatch):
    """The first file is already replaced when the second fails: it comes back."""
    install(write_text("a.txt", "old"), write_text("b.txt", "old"))
    write(tmp_path)
    install(write_text("a.txt"), write_text("new.txt"), write_text("b.txt"))
    real = Path.replace

    def replace(self, target):
        if Path(target) == tmp_path / "b.txt":
            raise PermissionError(errno.EACCES, "Permission denied")
        return real(self, target)

    monkeypatch.setattr(Path, "replace", replace)
    with pytest.raises(WriteError, match="Permission denied"):
        write(tmp_path)
    assert contents(tmp_path) == {"a.txt": b"old", "b.txt": b"old"}


def test_backups_do_not_need_hard_links(tmp_path, install, monkeypatch):
    """Some file systems have none; the former file is copied then."""

    def no_links(source, target):
        raise OSError(errno.EPERM, "Operation not permitted")

    install(write_text("a.txt", "old"))
    write(tmp_path)
    install(write_text("a.txt"), write_text("b/c.txt"))
    monkeypatch.setattr(os, "link", no_links)
    (tmp_path / "b").write_text("a file where a folder is needed")
    with pytest.raises(WriteError, match="cannot be written"):
        write(tmp_path)
    assert (tmp_path / "a.txt").read_text() == "old"


def test_a_package_that_another_program_holds_is_refused_before_anything_is_written(
    tmp_path, install
):
    """Writers replace a locked package in silence; wiremap does not start."""
    write(tmp_path)
    before = contents(tmp_path)
    code = (
        "import sqlite3, sys\n"
        "db = sqlite3.connect(sys.argv[1], isolation_level=None)\n"
        "db.execute('BEGIN EXCLUSIVE')\n"
        "print('held', flush=True)\n"
        "sys.stdin.read()\n"
    )
    package = str(tmp_path / "quarry-pond.gpkg")
    with subprocess.Popen(
        [sys.executable, "-c", code, package], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    ) as holder:
        assert holder.stdout.readline().strip() == b"held"
        install(BUILT_IN["geopackage"], failing(AssertionError("no writer may run")))
        with pytest.raises(WriteError, match="database is locked; close it in every program"):
            write(tmp_path)
        holder.stdin.close()
    after = contents(tmp_path)
    assert {name: after[name] for name in before} == before


@pytest.mark.parametrize("side", ["-wal", "-journal", "-shm"])
def test_a_package_with_a_side_file_is_refused(tmp_path, install, side):
    """A -wal or -journal file holds changes of another program."""
    write(tmp_path)
    (tmp_path / f"quarry-pond.gpkg{side}").write_bytes(b"x")
    before = contents(tmp_path)
    with pytest.raises(WriteError, match=f"{side} file stands beside it"):
        write(tmp_path)
    assert contents(tmp_path) == before


def test_a_target_that_is_no_database_is_refused(tmp_path, install):
    """Somebody else's file under the same name is not replaced."""
    (tmp_path / "quarry-pond.gpkg").write_bytes(b"not a database, but somebody's notes" * 40)
    with pytest.raises(WriteError, match="file is not a database; close it in every program, or m"):
        write(tmp_path)


def test_an_empty_file_under_the_target_name_is_replaced(tmp_path, install):
    """Nothing is lost with a file of no bytes."""
    (tmp_path / "quarry-pond.gpkg").touch()
    assert write(tmp_path, formats=["geopackage"])[0].stat().st_size


def test_a_folder_in_the_place_of_a_file_is_refused(tmp_path, install):
    """A folder is never removed."""
    (tmp_path / "findings.csv").mkdir()
    with pytest.raises(WriteError, match="a folder stands where the file goes"):
        write(tmp_path)
    assert list(tmp_path.iterdir()) == [tmp_path / "findings.csv"]


def test_a_link_that_leads_out_of_the_folder_is_refused(tmp_path, install):
    """The file behind the link is not touched."""
    (tmp_path / "precious.csv").write_text("precious")
    out = tmp_path / "out"
    out.mkdir()
    (out / "findings.csv").symlink_to(tmp_path / "precious.csv")
    with pytest.raises(WriteError, match="leads out of the output folder"):
        write(out)
    assert (tmp_path / "precious.csv").read_text() == "precious"


def test_a_linked_subfolder_that_leads_out_is_refused(tmp_path, install):
    """The folder geojson may be a link too."""
    (tmp_path / "elsewhere").mkdir()
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "geojson").symlink_to(tmp_path / "elsewhere")
    with pytest.raises(WriteError, match="leads out of the output folder"):
        write(tmp_path / "out")
    assert contents(tmp_path) == {}


def test_a_name_that_leads_out_of_the_folder_is_refused(tmp_path, install):
    """The name of the files comes from the property's."""
    with pytest.raises(WriteError, match="leads out of the output folder"):
        outputs.write_layers(make_layers(), tmp_path / "out", context=make_context(slug="../up"))
    assert contents(tmp_path) == {}


def test_an_output_that_is_a_file_is_refused(tmp_path, install):
    """The output must be a folder."""
    (tmp_path / "out").write_text("a file")
    with pytest.raises(WriteError, match="the output must be a folder, got a file"):
        write(tmp_path / "out")


def test_a_folder_that_cannot_be_written_to_is_told(tmp_path, install, monkeypatch):
    """The error of the file system becomes one line with the remedy."""

    def refuse(**arguments):
        raise PermissionError(errno.EACCES, "Permission denied")

    monkeypatch.setattr(outputs.tempfile, "mkdtemp", refuse)
    with pytest.raises(WriteError, match="Permission denied; see that the folder is writable"):
        write(tmp_path)


def test_a_process_that_ended_unasked_is_dead(tmp_path):
    """Where nothing asks how processes ended, as in many containers, they stay listed."""
    ended = subprocess.Popen([sys.executable, "-c", ""])
    try:
        os.waitid(os.P_PID, ended.pid, os.WEXITED | os.WNOWAIT)
        left = tmp_path / f".wiremap-staging-{outputs._host()}-{ended.pid}-abc"
        left.mkdir()
        outputs.write_files(tmp_path, [], lambda _: [])
        assert not left.exists()
    finally:
        ended.wait()


def test_a_staging_folder_of_a_dead_process_is_cleared_and_others_are_left(tmp_path, install):
    """Numbers of processes are told by the folder's name; another host's folder is left."""
    with subprocess.Popen([sys.executable, "-c", ""]) as gone:
        pass
    host = outputs._host()
    dead = tmp_path / f".wiremap-staging-{host}-{gone.pid}-abc"
    alive = tmp_path / f".wiremap-staging-{host}-{os.getpid()}-abc"
    foreign = tmp_path / f".wiremap-staging-elsewhere-{gone.pid}-abc"
    odd = tmp_path / ".wiremap-staging-x"
    for folder in (dead, alive, foreign, odd):
        folder.mkdir()
        (folder / "part").write_text("x")
    install(write_text("a.txt"))
    write(tmp_path)
    assert not dead.exists()
    assert alive.exists()
    assert foreign.exists()
    os.utime(foreign, (0, 0))
    write(tmp_path)
    assert not foreign.exists()
    assert odd.exists()


@pytest.mark.parametrize("name", ["../escaped.txt", "missing.txt", "empty.txt"])
def test_a_third_party_writer_that_misnames_its_file_is_refused(tmp_path, install, name):
    """What a writer returns must be a file with content inside the staging folder."""

    def lie(layers, target, context):
        (target / "empty.txt").touch()
        return [target / name]

    install(Writer("lie", (), lie))
    with pytest.raises(
        WriteError, match=r"the writer lie (named a file it did not|wrote an empty)"
    ):
        write(tmp_path)
    assert contents(tmp_path) == {}
