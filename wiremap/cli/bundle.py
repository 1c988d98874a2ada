"""``wiremap bundle``: what was built, zipped for hand-over."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def bundle(
    out: Annotated[Path, typer.Argument(help="Folder that was built into.", show_default=False)],
) -> None:
    """Zip what was built, with a manifest of SHA-256 and a README for the owner."""
    from rich.console import Console
    from rich.text import Text

    from wiremap import write_bundle

    made = write_bundle(out)
    console = Console(highlight=False, soft_wrap=True)
    console.print(Text(f"wrote {made.path}, {len(made.names)} files"))
    if made.missing:
        console.print(Text(f"not built, so not in it: {', '.join(made.missing)}"))
