"""``wiremap compare``: how two records of one property differ."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from wiremap.cli.terminal import printable


def compare(
    old: Annotated[
        Path, typer.Argument(help="GeoPackage of the older record.", show_default=False)
    ],
    new: Annotated[
        Path, typer.Argument(help="GeoPackage of the newer record.", show_default=False)
    ],
    out: Annotated[
        Path | None,
        typer.Option("--out", "-o", help="Folder for a CSV, a layer and a page of the changes."),
    ] = None,
    *,
    confidence: Annotated[
        float, typer.Option(min=0.5, max=0.999, help="Of the uncertainty that changes are beyond.")
    ] = 0.95,
) -> None:
    """Say what was added, moved, gone, deeper, of another zone; and faults opened and closed."""
    from wiremap.cli.render import print_rows
    from wiremap.read.asbuilts import read_asbuilt
    from wiremap.steps.comparison import compare_layers

    former, latter = read_asbuilt(old), read_asbuilt(new)
    comparison = compare_layers(former.layers, latter.layers, confidence=confidence)
    changes = comparison.changes
    print_rows(changes, {"change": "change", "run": "run", "message": "what"})
    typer.echo(printable(f"{latter.name}: {comparison.summary}"))
    if out is not None:
        from wiremap.draw.before_after import draw_changes
        from wiremap.model.property import slugify
        from wiremap.model.season_tables import CHANGES
        from wiremap.write.reports import write_report

        page = draw_changes(
            former.layers, latter.layers, changes, title=latter.name, summary=comparison.summary
        )
        stem = f"{slugify(latter.name)}-changes"
        paths = write_report(changes, CHANGES, out, stem=stem, page=page)
        typer.echo(printable("wrote " + ", ".join(str(path) for path in paths)))
