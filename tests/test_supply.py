"""The scripts that judge what is handed to users: archives, floors of versions, licences."""

from __future__ import annotations

import importlib.util
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent


def load(name):
    """Return a script of .ci as a module."""
    spec = importlib.util.spec_from_file_location(name, ROOT / ".ci" / f"{name}.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_every_dependency_states_its_lowest_version():
    """One without a floor would be tested at its newest only."""
    lowest = load("lowest_versions")
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    asked = project["dependencies"] + project["optional-dependencies"]["sheets"]
    assert len(lowest.find_floors(["sheets"])) == len(asked)
    assert lowest.find_floors([])["pandas"].startswith("3")


@pytest.mark.parametrize(
    ("installed", "floor", "is_floor"),
    [("1.1.0", "1.1", True), ("1.26.0", "1.26", True), ("1.1.1", "1.1", False),
     ("1.10", "1.1", False), ("18.0.0", "18", True), ("3.0.0rc1", "3.0", False)],
)  # fmt: skip
def test_a_floor_is_known_however_many_zeros_are_written(installed, floor, is_floor):
    """PEP 440: trailing zeros of a release do not count."""
    assert load("lowest_versions").is_release(installed, floor) is is_floor


SOUND = {"wiremap/__init__.py", "wiremap/py.typed"}
SOURCE = SOUND | {".ci/run", "data/a.csv", "docs/a.md", "examples/a.py", "tests/a.py",
                  "DEVELOPERS.md", "LICENSE", "README.md", "pyproject.toml"}  # fmt: skip


@pytest.mark.parametrize(
    ("wheel", "source", "fault"),
    [
        (SOUND | {"wiremap-0.1.0.dist-info/METADATA"}, SOURCE, ""),
        ({"wiremap/__init__.py"}, SOURCE, "the wheel lacks wiremap/py.typed"),
        (SOUND | {"tests/a.py"}, SOURCE, "the wheel holds tests/a.py"),
        (SOUND, SOURCE - {"tests/a.py"}, "the source archive lacks tests"),
        (SOUND, SOURCE | {"docs/__pycache__/a.pyc"}, "does not belong"),
    ],
)
def test_an_archive_that_lacks_a_part_or_holds_a_stray_one_is_found(wheel, source, fault):
    """The wheel is the package and nothing else; the source archive is the whole tree."""
    faults = load("check_dist").find_faults(wheel, source, SOUND)
    assert any(fault in text for text in faults) if fault else faults == []


def test_the_parts_of_a_bill_are_listed_with_their_licences():
    """CycloneDX 1.6: a licence is an id, a name or an expression (from memory)."""
    parts = load("list_parts").read_parts({
        "components": [
            {"name": "numpy", "version": "2.4", "licenses": [{"expression": "BSD-3-Clause AND MIT"}]},
            {"name": "Jinja2", "version": "3.1", "licenses": [{"license": {"name": "BSD License"}}]},
            {"name": "attrs", "version": "26", "licenses": [{"license": {"id": "MIT"}}]},
            {"name": "unsaid", "version": "1"},
        ]
    })  # fmt: skip
    assert [(name, licence) for name, _, licence in parts] == [
        ("attrs", "MIT"), ("Jinja2", "BSD License"), ("numpy", "BSD-3-Clause AND MIT"), ("unsaid", ""),
    ]  # fmt: skip


def test_licences_that_bind_the_whole_are_told_from_lesser_ones():
    """The LGPL allows what the GPL does not: linking from a program of another licence."""
    strong = load("list_parts").STRONG
    assert [bool(strong.search(w)) for w in ("GPL-3.0-only", "AGPL-3.0", "LGPL-2.1", "MIT")] == [
        True, True, False, False,
    ]  # fmt: skip
