"""``wiremap bulk``: every property folder below a folder, in parallel."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from wiremap.cli.options import Out


def bulk(
    root: Annotated[
        Path,
        typer.Argument(help="Folder with the property folders, at any depth.", show_default=False),
    ],
    out: Out,
    *,
    jobs: Annotated[
        int | None,
        typer.Option(min=1, help="Properties built at a time; one a processor by default."),
    ] = None,
    cluster: Annotated[
        str | None, typer.Option(help="Address of a Dask scheduler to work on.")
    ] = None,
    formats: Annotated[
        list[str] | None,
        typer.Option("--format", help="Write only this format; may be given several times."),
    ] = None,
) -> None:
    """Build every property folder below a folder, and the portfolio of them all."""
    from wiremap.bulk.cluster import connect_cluster
    from wiremap.bulk.run import build_properties
    from wiremap.cli.render import print_portfolio, show_count

    try:
        with connect_cluster(cluster, jobs) as (executor, width), show_count(str(root)) as say:
            result = build_properties(
                root, out, executor=executor, jobs=width, formats=formats, progress=say
            )
    except KeyboardInterrupt:
        sys.stderr.write("wiremap: stopped; run the same command again to go on from here\n")
        raise typer.Exit(2) from None
    print_portfolio(result)
    raise typer.Exit(result.exit_code)
