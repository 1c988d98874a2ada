"""What the command line prints: it stays on its lines, on any terminal, and commands nothing."""

from __future__ import annotations

import os
import subprocess
import sys
import warnings
from pathlib import Path

import pytest
import rich.console
from attacks import SOUND, write_sound

from wiremap import workflow
from wiremap.cli.main import run
from wiremap.cli.render import show_progress

NAME = "\U0001f4a7 M\u00e4rz \x1b]0;x\x07\u202e"
TOML_NAME = '[property]\nname = "\\U0001f4a7 M\u00e4rz \\u001b]0;x\\u0007\\u202e"\n'


@pytest.fixture
def garden(tmp_path):
    """Return a property whose name and words try to command the terminal."""
    folder = write_sound(tmp_path / "garden")
    (folder / "property.toml").write_text(TOML_NAME, encoding="utf-8")
    (folder / "locates.csv").write_text(SOUND.replace("V1,valve", "V1,va\x1b[31mlve"))
    return folder


def call(*words):
    with pytest.raises(SystemExit) as left:
        run([str(word) for word in words])
    return left.value.code or 0


@pytest.mark.parametrize("command", ["check", "build"])
def test_no_name_or_word_commands_the_terminal(garden, tmp_path, capsys, command):
    """Escape sequences and signs that turn the writing are written out."""
    more = [] if command == "check" else ["-o", tmp_path / "out", "--format=findings"]

    assert call(command, garden, *more) == 0
    said = capsys.readouterr().out
    assert "\U0001f4a7 M\u00e4rz \\x1b]0;x\\x07\\u202e" in said
    assert not {"\x1b", "\x07", "\u202e"} & set(said)


def test_an_error_commands_no_terminal(tmp_path, capsys):
    """The folder's name is the user's own, or what a script was given."""
    assert call("check", tmp_path / "\x1b[31mred") == 2
    assert "\\x1b[31mred: there is no such folder" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("redirect", "environment"),
    [("", {"PYTHONIOENCODING": "ascii"}), ("", {"PYTHONIOENCODING": "cp1252"}), (">&- 2>&-", {})],
)  # fmt: skip
def test_a_terminal_that_lacks_a_sign_or_is_closed_ends_no_build(
    garden, tmp_path, redirect, environment
):
    """As a service runs it, and as an old console shows it."""
    words = f"'{sys.executable}' -m wiremap build '{garden}' -o '{tmp_path}/out' --format=findings"
    done = subprocess.run(
        ["sh", "-c", f"{words} {redirect}"], check=False, env={**os.environ, **environment},
        cwd=Path(__file__).parents[2], capture_output=True,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "out" / "findings.csv").exists()
    assert done.stderr == b""


def test_a_folder_named_as_markup_shows_its_progress(monkeypatch, capsys):
    """`[/x]` would close a style that was never opened."""
    real = rich.console.Console
    monkeypatch.setattr(
        "wiremap.cli.render.Console", lambda **more: real(**more, force_terminal=True)
    )
    with show_progress(["read"], "[/x]") as say:
        say("read")
    assert "[/x]" in capsys.readouterr().err


@pytest.mark.filterwarnings("default")
def test_a_warning_of_a_library_is_not_shown_and_ends_no_build(garden, capsys, monkeypatch):
    """A newer release of a library may put on notice what an older one asked for."""
    real = workflow._build

    def warn(*words, **more):
        warnings.warn("use something else", FutureWarning, stacklevel=1)
        return real(*words, **more)

    monkeypatch.setattr(workflow, "_build", warn)
    assert call("check", garden) == 0
    assert capsys.readouterr().err == ""
