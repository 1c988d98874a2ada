"""What holds for the project as a whole: exports, layering, sizes, light imports."""

from __future__ import annotations

import ast
import pickle
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

import wiremap
from wiremap import errors
from wiremap.model.findings import CODES

ROOT = Path(__file__).resolve().parent.parent
MODULES = sorted((ROOT / "wiremap").rglob("*.py"))


def test_public_names_are_all_there():
    """Every name of __all__ resolves, and the lists agree."""
    assert sorted(wiremap.__all__) == wiremap.__all__ or set(wiremap.__all__) == set(dir(wiremap))
    assert all(getattr(wiremap, name) is not None for name in wiremap.__all__)
    assert set(wiremap._HOMES) | {"__version__"} == set(wiremap.__all__)


def test_versions_agree():
    """pyproject.toml and the package say the same version."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    assert project["project"]["version"] == wiremap.__version__


@pytest.mark.parametrize("argument", ["--help", "--version"])
def test_the_command_answers_without_loading_geopandas(argument):
    """Help is quick because nothing heavy is imported for it."""
    code = (
        "import sys; from wiremap.cli.main import app; sys.argv = ['wiremap', sys.argv[1]]\n"
        "try: app()\nexcept SystemExit: pass\n"
        "assert not {'geopandas', 'pandas', 'scipy', 'folium'} & set(sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code, argument], capture_output=True, check=False)
    assert done.returncode == 0, done.stderr.decode()


def test_importing_wiremap_is_light():
    """``import wiremap`` loads no pandas until a public name is used."""
    code = "import sys, wiremap; assert not {'pandas', 'numpy', 'geopandas'} & set(sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def _error_classes():
    return [
        item
        for item in vars(errors).values()
        if isinstance(item, type) and issubclass(item, errors.WiremapError)
    ]


@pytest.mark.parametrize("kind", _error_classes())
def test_every_error_survives_pickling(kind):
    """Worker processes hand errors back whole."""
    error = kind()
    error.remedy = "do this"
    again = pickle.loads(pickle.dumps(error))
    assert str(again) == str(error)
    assert again.__dict__ == error.__dict__


def test_every_finding_code_is_raised_somewhere():
    """A code that nothing raises is a promise that nothing keeps."""
    source = "".join(p.read_text(encoding="utf-8") for p in MODULES if p.name != "findings.py")
    assert [code for code in CODES if f'"{code}"' not in source] == []


def test_layers_hold():
    """Dependencies point down only; a step imports no step, a reader no reader."""
    done = subprocess.run(
        [Path(sys.executable).with_name("lint-imports")], cwd=ROOT, capture_output=True, check=False
    )
    assert done.returncode == 0, done.stdout.decode()


def test_modules_stay_readable():
    """Modules stay near 400 lines, bodies near 40, and no drawer is named utils."""
    lines = {p: len(p.read_text("utf-8").splitlines()) for p in MODULES}
    declared = {"tables.py", "settings.py", "findings.py"}  # lists of declarations, no logic
    assert {p.name: n for p, n in lines.items() if n > (600 if p.name in declared else 450)} == {}
    assert not {p.stem for p in MODULES} & {"utils", "helpers", "common", "misc", "core", "base"}
    bodies = {}
    for path in MODULES:
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.FunctionDef):
                first = (
                    node.body[1] if ast.get_docstring(node) and len(node.body) > 1 else node.body[0]
                )
                lines = node.end_lineno - first.lineno + 1
                if lines > 50:
                    bodies[f"{path.name}:{node.name}"] = lines
    assert bodies == {}


def test_the_readme_commands_are_the_ones_that_ci_runs():
    """`.ci/run` calls the README's test command."""
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    commands = [line for line in readme.splitlines() if line.startswith("python3 -m venv")]
    assert len(commands) == 2
    ran = [line.strip() for line in (ROOT / ".ci/run").read_text(encoding="utf-8").splitlines()]
    assert commands[1] in ran


def test_doctests_run():
    """Examples in docstrings do what they say, run from the project's root."""
    done = subprocess.run(
        [sys.executable, "-m", "pytest", "-q", "--doctest-modules", "-p", "no:cacheprovider",
         "--ignore=wiremap/__main__.py", "wiremap"],
        cwd=ROOT, capture_output=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout.decode()[-3000:]
