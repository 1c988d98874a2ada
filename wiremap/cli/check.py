"""``wiremap check``: what is wrong with a property folder; writes nothing."""

from __future__ import annotations

import typer

from wiremap.cli.options import Folder


def check(folder: Folder) -> None:
    """Print the findings of a property folder; write nothing."""
    from wiremap import build_asbuilt, read_property
    from wiremap.cli.render import print_findings, print_summary, show_progress
    from wiremap.workflow import STEPS

    with show_progress(["read", *STEPS], folder.name) as say:
        say("read")
        asbuilt = build_asbuilt(read_property(folder), progress=say)
    print_findings(asbuilt.findings)
    print_summary(asbuilt, [])
    raise typer.Exit(1 if asbuilt.has_errors else 0)
