"""Options that several commands share."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

Folder = Annotated[Path, typer.Argument(help="Property folder.", show_default=False)]
Out = Annotated[Path, typer.Option("--out", "-o", help="Folder to write into.", show_default=False)]
