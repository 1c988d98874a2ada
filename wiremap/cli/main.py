"""The ``wiremap`` command: collects the commands and turns errors into one line."""

from __future__ import annotations

import io
import os
import sys
import traceback
import warnings
from typing import Annotated, Any

import typer

from wiremap import __version__
from wiremap.cli.amend import amend
from wiremap.cli.build import build
from wiremap.cli.bulk import bulk
from wiremap.cli.bundle import bundle
from wiremap.cli.check import check
from wiremap.cli.compare import compare
from wiremap.cli.demo import demo
from wiremap.cli.formats import formats
from wiremap.cli.recover import recover
from wiremap.cli.template import template
from wiremap.cli.terminal import printable
from wiremap.errors import WiremapError, WiremapWarning

app = typer.Typer(
    name="wiremap",
    help="Turn a season of irrigation wire locates into a permanent as-built of the property.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)
app.command()(amend)
app.command()(build)
app.command()(bulk)
app.command()(bundle)
app.command()(check)
app.command()(compare)
app.command()(demo)
app.command()(formats)
app.command()(recover)
app.command()(template)


def _say_version(value: bool) -> None:
    if value:
        typer.echo(f"wiremap {__version__}")
        raise typer.Exit


@app.callback()
def main(
    *,
    debug: Annotated[bool, typer.Option("--debug", help="Show the traceback of an error.")] = False,
    version: Annotated[
        bool,
        typer.Option("--version", callback=_say_version, is_eager=True, help="Show the version."),
    ] = False,
) -> None:
    """Turn a season of irrigation wire locates into a permanent as-built of the property."""
    if debug:
        os.environ["WIREMAP_DEBUG"] = "1"


def run(arguments: list[str] | None = None) -> None:
    """Run the command line; an error is one line on stderr and exit code 2.

    Parameters
    ----------
    arguments : list of str, optional
        The command line's words; those of the process where not given.

    Raises
    ------
    SystemExit
        Always, with the exit code: 0 done, 1 done with findings of severity error, 2 not done.
    """
    words = sys.argv[1:] if arguments is None else arguments
    _open_streams()
    try:
        with warnings.catch_warnings():
            warnings.showwarning = _show_warning
            code = app(args=words or ["--help"], prog_name="wiremap", standalone_mode=False)
    except Exception as error:  # noqa: BLE001 - no traceback reaches a user
        if os.environ.get("WIREMAP_DEBUG"):
            traceback.print_exc()
        sys.stderr.write(f"wiremap: {_describe(error)}\n")
        sys.exit(2)
    sys.exit(code or 0)


def _open_streams() -> None:
    """See that all can be printed: a stream may be closed, or lack the signs of a name."""
    sys.stdout = sys.stdout or open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115, PTH123
    sys.stderr = sys.stderr or open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115, PTH123
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")


def _show_warning(message: Warning | str, category: type[Warning], *_: Any, **__: Any) -> None:
    """Print a warning of wiremap's own as one line; those of libraries with --debug alone."""
    if issubclass(category, WiremapWarning) or os.environ.get("WIREMAP_DEBUG"):
        sys.stderr.write(f"wiremap: {_one_line(str(message))}\n")


def _describe(error: Exception) -> str:
    """Return an error as one line."""
    usage = getattr(error, "format_message", None)
    if usage is not None:
        return f"{_one_line(usage())} Run 'wiremap --help' to see how it is called."
    if isinstance(error, WiremapError):
        return _one_line(str(error))
    return (
        f"something unexpected happened: {_one_line(f'{type(error).__name__}: {error}')}; "
        "run again as 'wiremap --debug ...' and report what it shows"
    )


def _one_line(text: str) -> str:
    return printable(" ".join(text.split()))
