"""``wiremap build``: a property folder in, the as-built out."""

from __future__ import annotations

from pathlib import Path
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
    accept: Annotated[
        Path | None,
        typer.Option(
            help="CSV of decisions on suggested zones (valve, zone); kept as decisions.csv in"
            " the property folder."
        ),
    ] = None,
    formats: Annotated[
        list[str] | None,
        typer.Option("--format", help="Write only this format; may be given several times."),
    ] = None,
) -> None:
    """Build the as-built of a property folder and write its files."""
    from wiremap import build_asbuilt, read_property
    from wiremap.cli.render import print_summary, show_progress
    from wiremap.workflow import STEPS

    if accept is not None:
        _keep_decisions(folder, accept)
    with show_progress(["read", *STEPS, "write"], folder.name) as say:
        say("read")
        source = read_property(folder)
        _refuse_inputs(folder, out / f"{source.slug}.gpkg")
        asbuilt = build_asbuilt(source, strict=strict, progress=say)
        say("write")
        paths = asbuilt.write(out, formats=formats)
    print_summary(asbuilt, paths)
    raise typer.Exit(1 if asbuilt.has_errors else 0)


def _keep_decisions(folder: Path, accept: Path) -> None:
    """Add decisions to those that the property folder holds, however that file is written."""
    import pandas as pd

    from wiremap.read.folders import read_decisions_file
    from wiremap.write.decisions import DECISIONS_FILE, write_decisions

    former = folder / DECISIONS_FILE
    files = [former, accept] if former.exists() else [accept]
    write_decisions(folder, pd.concat([read_decisions_file(file) for file in files]))


def _refuse_inputs(folder: Path, target: Path) -> None:
    """Refuse an output that the next build would read as an input, or that replaces one."""
    from wiremap.errors import WriteError
    from wiremap.read.inputs import is_input_name

    if is_input_name(folder, target):
        raise WriteError(
            "the output would be read as field locates or another input the next time",
            path=str(target),
            remedy="write into a folder of its own, such as out/",
        )
