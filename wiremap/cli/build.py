"""``wiremap build``: a property folder in, the as-built out."""

from __future__ import annotations

from typing import Annotated

import typer

from wiremap.cli.options import Folder, Out


def build(
    folder: Folder,
    out: Out,
    *,
    strict: Annotated[
        bool, typer.Option(help="Write nothing when there are findings of severity error.")
    ] = False,
    formats: Annotated[
        list[str] | None,
        typer.Option("--format", help="Write only this format; may be given several times."),
    ] = None,
) -> None:
    """Build the as-built of a property folder and write its files."""
    from wiremap import build_asbuilt, read_property
    from wiremap.cli.render import print_summary, show_progress
    from wiremap.workflow import STEPS

    with show_progress(["read", *STEPS, "write"], folder.name) as say:
        say("read")
        asbuilt = build_asbuilt(read_property(folder), strict=strict, progress=say)
        say("write")
        paths = asbuilt.write(out, formats=formats)
    print_summary(asbuilt, paths)
    raise typer.Exit(1 if asbuilt.has_errors else 0)
