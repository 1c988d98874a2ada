"""``wiremap recover``: where a new ground surface leaves less cover over the wires."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from wiremap.cli.amend import Record
from wiremap.cli.terminal import printable


def recover(
    record: Record,
    surface: Annotated[
        Path,
        typer.Argument(
            help="Points of the new ground with elevations: csv, gpkg or another format.",
            show_default=False,
        ),
    ],
    out: Annotated[
        Path | None, typer.Option("--out", "-o", help="Folder for a CSV and a layer of the list.")
    ] = None,
    *,
    surface_sigma: Annotated[
        float, typer.Option(min=0, help="Standard deviation of the new elevations, metres.")
    ] = 0.03,
) -> None:
    """List where re-graded ground took cover from the wires, the shallowest stretch first."""
    from wiremap import recover_asbuilt
    from wiremap.cli.render import print_rows

    found = recover_asbuilt(record, surface, surface_sigma_m=surface_sigma)
    lost = found.lost_cover
    print_rows(lost, {"status": "status", "message": "what"})
    for sentence in found.unknown:
        typer.echo(printable(sentence))
    typer.echo(f"{len(lost)} stretches lost cover beyond doubt.")
    if out is not None:
        from wiremap.model.season_tables import LOST_COVER
        from wiremap.write.reports import write_report

        paths = write_report(lost, LOST_COVER, out, stem=f"{record.stem}-lost-cover")
        typer.echo(printable("wrote " + ", ".join(str(path) for path in paths)))
