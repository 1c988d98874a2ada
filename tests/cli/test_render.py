"""What the commands show while they work."""

from __future__ import annotations

import io

from rich.console import Console

from wiremap.cli import render


def test_a_folder_named_like_markup_shows_its_progress(monkeypatch):
    """Square brackets in a name are no commands to the terminal; [/] alone stopped the build."""
    shown = io.StringIO()
    terminal = Console(file=shown, force_terminal=True, width=80)
    monkeypatch.setattr(render, "Console", lambda **_: terminal)
    with render.show_progress(["read", "write"], "[red]garden[/]") as say:
        say("read")
    assert "[red]garden[/]: read" in shown.getvalue()
