"""``wiremap amend``: a visit added to a record, without its old field files."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from wiremap.cli.options import Out
from wiremap.cli.terminal import printable

Record = Annotated[
    Path, typer.Argument(help="GeoPackage of the record, <slug>.gpkg.", show_default=False)
]


def amend(
    record: Record,
    visit: Annotated[
        Path, typer.Argument(help="Field locates of the visit: a file or a folder.",
                             show_default=False)
    ],
    out: Out,
    *,
    date: Annotated[
        str, typer.Option(help="Day of the visit, for rows without a date: 2026-06-12.")
    ] = "",
    by: Annotated[str, typer.Option(help="Who amends the record.")] = "",
) -> None:  # fmt: skip
    """Add a visit to a record and write it as a new revision."""
    from wiremap import amend_asbuilt
    from wiremap.cli.render import print_summary, show_progress
    from wiremap.workflow import STEPS

    with show_progress(["read", *STEPS, "write"], record.stem) as say:
        say("read")
        asbuilt = amend_asbuilt(record, visit, date=date, by=by, progress=say)
        say("write")
        paths = asbuilt.write(out)
    last = asbuilt.layers["revisions"].iloc[-1]
    print_summary(asbuilt, paths)
    typer.echo(printable(f"revision {last['number']}: {last['what']}"))
    raise typer.Exit(1 if asbuilt.has_errors else 0)
