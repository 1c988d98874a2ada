"""The tutorials do what they say: every command is run, every output and every file is compared."""

from __future__ import annotations

import doctest
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path
from typing import NamedTuple

import pytest

import wiremap
import wiremap.plugins

ROOT = Path(__file__).parent.parent
PAGES = sorted(p for p in (ROOT / "docs" / "tutorials").glob("*.md") if p.stem != "index")
FENCE = re.compile(
    r"^```(?P<word>\S+)(?P<rest>[^\n]*)\n(?P<body>.*?)^```$", re.MULTILINE | re.DOTALL
)
CAPTION = re.compile(r":caption: (\S+)\n\n")
FLAGS = doctest.ELLIPSIS | doctest.NORMALIZE_WHITESPACE


class Command(NamedTuple):
    """One line typed at the prompt, and what the page says it prints."""

    line: str
    printed: str


def read_commands(body: str) -> list[Command]:
    """Return the commands of a console block."""
    parts = re.split(r"^\$ ", body, flags=re.MULTILINE)
    assert not parts[0].strip(), f"output without a command: {parts[0]}"
    return [Command(*part.partition("\n")[::2]) for part in parts[1:]]


def run_command(command: Command, folder: Path) -> None:
    """Run a line in a shell, and hold what it prints against the page."""
    paths = os.pathsep.join([str(Path(sys.executable).parent), os.environ["PATH"]])
    done = subprocess.run(
        ["bash", "-c", command.line], cwd=folder, env={**os.environ, "PATH": paths},
        stdout=subprocess.PIPE, stderr=subprocess.STDOUT, check=False, text=True,
    )  # fmt: skip
    same = doctest.OutputChecker().check_output(command.printed, done.stdout, FLAGS)
    assert same, f"$ {command.line}\n{done.stdout}\n-- but the page says\n{command.printed}"


def run_python(body: str, names: dict, page: Path) -> None:
    """Run a block of a Python session; names live on from block to block."""
    test = doctest.DocTestParser().get_doctest(body, names, page.stem, str(page), 0)
    said: list[str] = []
    result = doctest.DocTestRunner(optionflags=FLAGS).run(test, out=said.append, clear_globs=False)
    assert result.failed == 0, "".join(said)
    names.update(test.globs)


@pytest.mark.parametrize("page", PAGES, ids=lambda p: p.stem)
def test_the_tutorial_does_what_it_says(page, tmp_path, monkeypatch):
    """Commands, Python and files of the page, from top to bottom in an empty folder."""
    shutil.copytree(ROOT / "data", tmp_path / "data")
    monkeypatch.chdir(tmp_path)
    names: dict = {}
    seen = {"console": 0, "pycon": 0, "{code-block}": 0}
    for fence in FENCE.finditer(page.read_text(encoding="utf-8")):
        word, body = fence["word"], fence["body"]
        seen[word] = seen.get(word, 0) + 1
        if word == "console":
            for command in read_commands(body):
                run_command(command, tmp_path)
        elif word == "pycon":
            run_python(body, names, page)
        elif word == "{code-block}":
            caption = CAPTION.match(body)
            target = tmp_path / caption[1]
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_text(body[caption.end() :], encoding="utf-8")
    assert seen["console"] + seen["pycon"] >= 5
    assert not set(seen) - {"console", "pycon", "{code-block}", "{toctree}"}, seen


def _list_python() -> list:
    """Return the Python of the README and the how-tos, but for what needs a cluster."""
    pages = [ROOT / "README.md", *sorted((ROOT / "docs" / "howto").glob("*.md"))]
    found = []
    for page in pages:
        blocks = [
            f["body"] for f in FENCE.finditer(page.read_text("utf-8")) if f["word"] == "python"
        ]
        named = [(f"{page.stem}-{n}", body) for n, body in enumerate(blocks, 1)]
        found += [pytest.param(body, id=name) for name, body in named if "Client(" not in body]
    return found


@pytest.fixture(scope="module")
def yard(tmp_path_factory):
    """A folder with what the how-tos speak of: a property, a record, a visit, a new surface."""
    folder = tmp_path_factory.mktemp("yard")
    demo = ROOT / "wiremap" / "demo"
    shutil.copytree(ROOT / "data" / "millrace-court", folder / "my-property")
    shutil.copytree(demo, folder / "season-2026" / "tanager-court")
    asbuilt = wiremap.build_asbuilt(wiremap.read_property(demo))
    asbuilt.write(folder / "out", formats=["geopackage", "geojson"])
    valve = asbuilt.layers["valves"].to_crs(4326).iloc[0]
    lon, lat = valve.geometry.x, valve.geometry.y
    rows = f"point,feature,lon,lat,h_rms,date\n{valve['valve']},valve,{lon},{lat},0.1,2026-06-12\n"
    (folder / "june.csv").write_text(rows, encoding="utf-8")
    points = "".join(f"S{n},{lon + n % 2 / 1e4},{lat + n / 1e4},327.0\n" for n in range(4))
    (folder / "new-surface.csv").write_text("point,lon,lat,elevation\n" + points, encoding="utf-8")
    wiremap.build_properties(folder / "season-2026", folder / "asbuilts", jobs=1)
    return folder


@pytest.mark.parametrize("body", _list_python())
def test_python_of_the_how_tos_runs(body, yard, monkeypatch):
    """Every block runs from top to bottom; what would start worker processes is left to its guard."""
    monkeypatch.chdir(yard)
    exec(compile(body, "page", "exec"), {"__name__": "page"})


def test_the_first_field_file_of_the_readme_is_enough(tmp_path):
    """Its four rows make a run with a controller, a valve and two depths on level ground."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    (body,) = [fence["body"] for fence in FENCE.finditer(text) if fence["word"] == "csv"]
    (tmp_path / "locates.csv").write_text(body, encoding="utf-8")
    layers = wiremap.build_asbuilt(wiremap.read_property(tmp_path)).layers
    assert layers["wire_runs"][["run", "end_kind"]].to_numpy().tolist() == [["W1", "valve"]]
    assert layers["valves"]["zone"].tolist() == ["1"]
    inches = layers["depth_readings"]["depth_m"] / 0.0254
    assert inches.round(1).tolist() == [11.6, 10.1]  # harmonic means of the pairs' offsets
    assert len(layers["controllers"]) == 1


def test_the_plugins_that_a_page_teaches_work(yard, monkeypatch):
    """Its reader reads a line and reports another one; its writer writes a line a valve."""
    monkeypatch.chdir(yard)
    reader, writer = (
        param.values[0] for param in _list_python() if param.id.startswith("plugins-")
    )
    names: dict = {"__name__": "page"}
    exec(compile(reader, "reader", "exec"), names)
    exec(compile(writer, "writer", "exec"), names)
    Path("a.notes").write_text("A1 path W1 -97.5236 35.2920\nA2 path\n", encoding="utf-8")
    (table,) = names["READER"].read(Path("a.notes"), wiremap.plugins.FileOptions())
    assert table.frame.loc[1].tolist() == ["A1", "path", "W1", "-97.5236", "35.2920"]
    assert [problem.row for problem in table.problems] == [2]
    layers = wiremap.build_asbuilt(wiremap.read_property("my-property")).layers
    (path,) = names["WRITER"].write(layers, yard, {"slug": "millrace"})
    assert len(path.read_text(encoding="utf-8").splitlines()) == len(layers["valves"])


def test_a_page_that_tells_another_output_is_found_out(tmp_path):
    """The comparison can fail: another word, another number."""
    run_command(Command("echo 4 of 4 zones", "4 of ... zones\n"), tmp_path)
    with pytest.raises(AssertionError, match="but the page says"):
        run_command(Command("echo 4 of 5 zones", "4 of 4 zones\n"), tmp_path)
    with pytest.raises(AssertionError, match="Expected"):
        run_python(">>> 1 + 1\n3\n", {}, Path("page.md"))
