"""``wiremap check``: what is wrong with a property folder; writes nothing."""

from __future__ import annotations

from typing import Annotated

import typer

from wiremap.cli.options import Folder


def check(
    folder: Folder,
    *,
    profiles: Annotated[
        list[str] | None,
        typer.Option(
            "--profile",
            help="Hold the record against this requirement profile, a name or a TOML file; may be"
            " given several times. A name that is not known lists them all.",
        ),
    ] = None,
) -> None:
    """Print the findings of a property folder; write nothing."""
    from wiremap import build_asbuilt, check_requirements, read_profile, read_property
    from wiremap.cli.render import print_findings, print_requirements, print_summary, show_progress
    from wiremap.workflow import STEPS

    wanted = [read_profile(name) for name in profiles or ()]
    with show_progress(["read", *STEPS], folder.name) as say:
        say("read")
        asbuilt = build_asbuilt(read_property(folder), progress=say)
    print_findings(asbuilt.findings)
    is_short = False
    for profile in wanted:
        held = check_requirements(
            asbuilt.layers,
            profile,
            frame=asbuilt.frame,
            settings=asbuilt.settings,
            base=asbuilt.base,
        )
        print_requirements(profile, held)
        is_short = is_short or bool(held.findings)
    print_summary(asbuilt, [])
    raise typer.Exit(1 if asbuilt.has_errors or is_short else 0)
