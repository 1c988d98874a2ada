"""``wiremap template``: the field sheet to print, and empty tables to fill in."""

from __future__ import annotations

import sys
from enum import StrEnum
from typing import Annotated

import typer

from wiremap.cli.options import Out
from wiremap.cli.terminal import printable


class Paper(StrEnum):
    """Paper of the field sheet."""

    LETTER = "letter"
    A4 = "a4"


class Units(StrEnum):
    """Units of the headings."""

    AUTO = "auto"
    FEET = "ft"
    METRES = "m"


def template(
    out: Out,
    *,
    paper: Annotated[Paper, typer.Option(help="Paper of the field sheet.")] = Paper.LETTER,
    units: Annotated[
        Units, typer.Option(help="Unit of lengths in the headings; auto is that of the paper.")
    ] = Units.AUTO,
) -> None:
    """Write a field sheet to print and empty tables to fill in; nothing is overwritten."""
    from wiremap import write_templates

    done = write_templates(out, paper=paper.value, units=units.value)
    for path in done.written:
        typer.echo(printable(f"wrote {path}"))
    for path in done.kept:
        typer.echo(printable(f"left alone, it was there already: {path}"))
    for error in done.missing:
        sys.stderr.write(f"wiremap: {printable(error)}\n")
    raise typer.Exit(2 if done.missing else 0)
