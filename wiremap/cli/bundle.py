"""``wiremap bundle``: what was built, zipped for hand-over."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from wiremap.cli.terminal import printable


def bundle(
    out: Annotated[Path, typer.Argument(help="Folder that was built into.", show_default=False)],
) -> None:
    """Zip what was built, with a manifest of SHA-256 and a README for the owner."""
    from wiremap import write_bundle

    made = write_bundle(out)
    typer.echo(printable(f"wrote {made.path}, {len(made.names)} files"))
    if made.missing:
        typer.echo(f"not built, so not in it: {', '.join(made.missing)}")
