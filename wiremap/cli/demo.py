"""``wiremap demo``: builds the bundled invented property."""

from __future__ import annotations

from wiremap.cli.options import Out


def demo(out: Out) -> None:
    """Build the bundled invented property, so that there is something to look at."""
    from importlib.resources import as_file, files

    from wiremap.cli.build import build

    with as_file(files("wiremap").joinpath("demo")) as folder:
        build(folder, out)
