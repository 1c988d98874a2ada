"""What the commands print: progress, a summary table, findings."""

from __future__ import annotations

import re
import sys
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

from rich.console import Console
from rich.table import Table
from rich.text import Text

from wiremap.cli.terminal import printable

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence
    from pathlib import Path

    import pandas as pd

_STYLES = {"error": "bold red", "warning": "yellow", "note": "dim"}


def _plain(text: object) -> Text:
    """Return a text of the field files as rich takes it: no markup, no commands."""
    return Text(printable(text))


@contextmanager
def show_progress(steps: Sequence[str], title: str) -> Iterator[Callable[[str], None]]:
    """Show a progress bar over the named steps; nothing where stderr is not a terminal.

    Parameters
    ----------
    steps : sequence of str
        Names of the steps, in order.
    title : str
        What is being done.

    Yields
    ------
    callable
        To be called with the name of each step as it starts.
    """
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    console = Console(stderr=True)
    if not console.is_terminal:
        yield lambda _: None
        return
    title = printable(title)
    told = TextColumn("{task.description}", markup=False)
    with Progress(told, BarColumn(), TimeElapsedColumn(), console=console, transient=True) as bar:
        task = bar.add_task(title, total=len(steps))
        yield lambda step: bar.update(task, advance=1, description=f"{title}: {step}")


def print_summary(asbuilt: Any, paths: Sequence[Path]) -> None:
    """Print what was built, what to walk next, and where it lies; plain lines off a terminal.

    Parameters
    ----------
    asbuilt : AsBuilt
    paths : sequence of Path
        Files written.
    """
    counts = asbuilt.findings["severity"].value_counts()
    found = ", ".join(_count(counts.get(s, 0), s) for s in ("error", "warning", "note"))
    console = Console(highlight=False, soft_wrap=True)
    if console.is_terminal:
        console.print(_summary_table(asbuilt))
    console.print(_plain(f"{asbuilt.name}: {found}"))
    for line in asbuilt.reconciliation:
        console.print(_plain(line))
    if paths:
        main = [str(p) for p in paths if p.suffix in {".gpkg", ".html"}]
        console.print(_plain("wrote " + ", ".join(main or [str(p) for p in paths])))


def _count(number: int, word: str) -> str:
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


def _summary_table(asbuilt: Any) -> Table:
    layers = asbuilt.layers
    table = Table(title=_plain(f"As-built of {asbuilt.name}"), show_header=False)
    length_m = layers["wire_runs"]["length_m"].sum()
    zones = layers["zones"]
    complete = int((zones["status"] == "complete").sum())
    rows = [
        ("locates placed", str(len(layers["locates"]))),
        ("wire runs", f"{len(layers['wire_runs'])}, {length_m:.0f} m ({length_m / 0.3048:.0f} ft)"),
        ("depth readings", str(len(layers["depth_readings"]))),
        ("valves", str(len(layers["valves"]))),
        ("splices", str(len(layers["splices"]))),
        ("faults", str(len(layers["faults"]))),
        ("zones complete", f"{complete} of {len(zones)}"),
    ]
    for row in rows:
        table.add_row(*row)
    return table


def print_findings(findings: pd.DataFrame) -> None:
    """Print findings, most severe first: a table on a terminal, else one line each.

    Findings that lie in no row and differ in nothing but their subject share a line.

    Parameters
    ----------
    findings : DataFrame
        Table ``findings``.
    """
    console = Console(highlight=False, soft_wrap=not sys.stdout.isatty())
    if findings.empty:
        console.print("no findings")
        return
    columns = ["severity", "code", "source_file", "source_row", "message", "advice"]
    told = _gather_alike(findings)[columns]
    rows = told.astype(object).where(told.notna(), "")
    if not console.is_terminal:
        for severity, code, file, row, message, advice in rows.itertuples(index=False):
            where = f"{file} row {row}: " if row != "" else f"{file}: " if file else ""
            console.print(_plain(f"{severity} {code} {where}{message} {advice}"))
        return
    table = Table("", "code", "where", "what", "what to do", show_lines=False)
    for severity, code, file, row, message, advice in rows.itertuples(index=False):
        where = f"{file} row {row}" if row != "" else str(file)
        texts = (severity, code, where, message, advice)
        table.add_row(*(_plain(t) for t in texts), style=_STYLES[severity])
    console.print(table)


def _gather_alike(findings: pd.DataFrame) -> pd.DataFrame:
    """Put findings that differ in nothing but their subject, and lie in no row, into one line."""
    subjects = [str(subject).replace("_", " ") for subject in findings["subject"]]
    said = [
        re.sub(rf"(?<![\w.]){re.escape(subject)}(?!\w|\.\w)", "*", message, count=1)
        for message, subject in zip(findings["message"], subjects, strict=True)
    ]
    told = findings.assign(subject=subjects, said=said)
    loose = told[told["source_row"].isna()]
    alike = ["code", "source_file", "said", "advice"]
    for _, rows in loose.groupby(alike, dropna=False, sort=False):
        others = rows["subject"].drop_duplicates().iloc[1:]
        if len(others) > 1:
            told.loc[rows.index[0], "message"] += f" Likewise: {', '.join(others)}."
            told = told.drop(rows.index[1:])
    return told


def print_requirements(profile: Any, held: Any) -> None:
    """Print what a record lacks of a requirement profile.

    Parameters
    ----------
    profile : RequirementProfile
    held : Requirements
        From `wiremap.check_requirements`.
    """
    from wiremap.model.findings import tabulate_findings

    total = len(profile.items)
    console = Console(highlight=False, soft_wrap=True)
    line = f"{profile.name}: {profile.title}: {len(held.met)} of {total} requirements met"
    console.print(_plain(line))
    if held.findings:
        print_findings(tabulate_findings(held.findings))


@contextmanager
def show_count(title: str) -> Iterator[Callable[[int, int, Any], None]]:
    """Show how many are done, the rate and the time left; nothing where stderr is no terminal.

    Parameters
    ----------
    title : str
        What is being done.

    Yields
    ------
    callable
        To be called as ``say(done, total, outcome)``.
    """
    from rich.progress import (
        BarColumn,
        MofNCompleteColumn,
        Progress,
        TextColumn,
        TimeRemainingColumn,
    )

    console = Console(stderr=True)
    if not console.is_terminal:
        yield lambda _done, _total, _outcome: None
        return
    rate = TextColumn("{task.fields[rate]}")
    columns = (
        TextColumn("{task.description}", markup=False),
        BarColumn(),
        MofNCompleteColumn(),
        rate,
    )
    with Progress(*columns, TimeRemainingColumn(), console=console, transient=True) as bar:
        task = bar.add_task(printable(title), total=None, rate="")

        def say(done: int, total: int, _outcome: Any) -> None:
            speed = bar.tasks[0].speed or 0.0
            bar.update(task, completed=done, total=total, rate=f"{speed:.1f}/s")

        yield say


def print_portfolio(result: Any) -> None:
    """Print what became of many properties; failures one a line on stderr.

    Parameters
    ----------
    result : BulkResult
    """
    counts = ", ".join(f"{result.count(s)} {s}" for s in ("built", "kept", "failed"))
    for folder, error, message in result.failures.itertuples(index=False):
        sys.stderr.write(f"wiremap: {printable(folder)}: {error}: {printable(message)}\n")
    console = Console(highlight=False, soft_wrap=True)
    worst = sum(outcome.worst == "error" for outcome in result.outcomes)
    total = len(result.outcomes)
    console.print(_plain(f"{total} {'property' if total == 1 else 'properties'}: {counts}"))
    console.print(_plain(f"{worst} with findings of severity error"))
    console.print(_plain(f"wrote {result.out / 'portfolio.gpkg'}, {result.out / 'portfolio.html'}"))


def print_rows(rows: pd.DataFrame, columns: Mapping[str, str]) -> None:
    """Print some columns of a table: a table on a terminal, else one line each.

    Parameters
    ----------
    rows : DataFrame
    columns : mapping of str to str
        Column: its heading.
    """
    console = Console(highlight=False, soft_wrap=not sys.stdout.isatty())
    if rows.empty:
        return
    cells = rows[list(columns)].astype(object).where(rows[list(columns)].notna(), "")
    if not console.is_terminal:
        for row in cells.itertuples(index=False):
            console.print(_plain(" ".join(str(cell) for cell in row if cell != "")))
        return
    table = Table(*columns.values())
    for row in cells.itertuples(index=False):
        table.add_row(*(_plain(cell) for cell in row))
    console.print(table)
