"""``wiremap check --profile`` and ``wiremap bundle``."""

from __future__ import annotations

from pathlib import Path

import pytest

import wiremap
from wiremap.cli.main import run

ROOT = Path(__file__).parent.parent.parent
DEMO = str(Path(wiremap.__file__).parent / "demo")


def call(capsys, *words):
    """Run the command line; return its exit code and what it printed."""
    with pytest.raises(SystemExit, match=r"\d") as exit_:
        run(list(words))
    printed = capsys.readouterr()
    return exit_.value.code, printed.out, printed.err


def test_a_profile_that_is_met_changes_nothing(capsys):
    """Exit 0, and the count of requirements that are met."""
    code, out, _ = call(capsys, "check", DEMO, "--profile", "two-references")
    assert code == 0
    assert "2 of 2 requirements met" in out


def test_check_exits_1_until_the_list_is_complete(capsys):
    """What is missing is named with its clause."""
    code, out, _ = call(
        capsys, "check", DEMO, "--profile", "cad-survey-feet", "--profile", "two-references"
    )
    assert code == 1
    assert "got NAD83 / UTM zone 14N in metre. Source: Henry County" in out
    assert "2 of 2 requirements met" in out


def test_a_profile_that_does_not_exist_is_one_line(capsys):
    """Exit 2, and the names of those that do."""
    code, _, err = call(capsys, "check", DEMO, "--profile", "tow-references")
    assert code == 2
    assert "choose two-references, or one of cad-survey-feet" in err


def test_bundle_zips_what_was_built(capsys, tmp_path):
    """The whole way: build, bundle, and what was not built is said."""
    assert call(capsys, "build", DEMO, "-o", str(tmp_path))[0] == 0
    code, out, _ = call(capsys, "bundle", str(tmp_path))
    assert code == 0
    assert (tmp_path / "tanager-court-handover.zip").is_file()
    assert "not built, so not in it: " in out
    assert "dxf" in out


def test_bundle_of_nothing_is_one_line(capsys, tmp_path):
    """Exit 2, and how to get something to bundle."""
    code, _, err = call(capsys, "bundle", str(tmp_path))
    assert code == 2
    assert "build into it first: wiremap build FOLDER -o OUT" in err
