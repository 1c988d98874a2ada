"""Where the parts of the dataset stand: those of this run wait, then take the place of the former.

A reader of the portfolio sees the former dataset or the new one, never a part of either.
"""

from __future__ import annotations

import os
import shutil
from typing import TYPE_CHECKING

from wiremap.bulk.records import BOOKS
from wiremap.model.tables import LAYERS

if TYPE_CHECKING:
    from collections.abc import Set as AbstractSet
    from pathlib import Path

DATASET = "portfolio"
"""Folder of the dataset in the output folder."""

WAITING = "parts"
"""Folder, in the run's records, of parts that are whole: one folder a part."""

_FORMER, _FRESH = "former", "dataset"


def part_path(out: Path, layer: str, name: str) -> Path:
    """Return where a layer's part stands once it is published.

    Parameters
    ----------
    out : Path
        Output folder.
    layer : str
    name : str
        Name of the part.

    Returns
    -------
    Path
    """
    return out / DATASET / layer / f"part-{name}.parquet"


def find_part(out: Path, layer: str, name: str) -> Path | None:
    """Return where a layer's part is, published or waiting.

    Parameters
    ----------
    out : Path
        Output folder.
    layer : str
    name : str
        Name of the part.

    Returns
    -------
    Path or None
    """
    places = (out / BOOKS / WAITING / name / f"{layer}.parquet", part_path(out, layer, name))
    return next((place for place in places if place.is_file()), None)


def recover_dataset(out: Path) -> None:
    """Finish what a run began that died while it published.

    Parameters
    ----------
    out : Path
        Output folder.

    Raises
    ------
    OSError
        The dataset cannot be put in its place.
    """
    former, fresh = out / BOOKS / _FORMER, out / BOOKS / _FRESH
    if former.exists() and not (out / DATASET).exists():
        (fresh if fresh.exists() else former).rename(out / DATASET)
    for folder in (former, fresh):
        shutil.rmtree(folder, ignore_errors=True)


def clear_waiting(out: Path, *, keep: AbstractSet[str] = frozenset()) -> None:
    """Remove waiting parts that no longer hold, or that are published.

    Parameters
    ----------
    out : Path
        Output folder.
    keep : set of str
        Names of the parts that stay.
    """
    waiting = out / BOOKS / WAITING
    for part in waiting.iterdir() if waiting.is_dir() else ():
        if part.name not in keep:
            shutil.rmtree(part, ignore_errors=True)


def gather_parts(out: Path, names: AbstractSet[str]) -> bool:
    """Lay out the dataset beside the published one, without copying where the disk can.

    Parameters
    ----------
    out : Path
        Output folder.
    names : set of str
        Names of the parts that make it up.

    Returns
    -------
    bool
        False where the published dataset is that already.

    Raises
    ------
    OSError
        It cannot be written.
    """
    wanted = {f"part-{name}.parquet" for name in names}
    published = [{p.name for p in (out / DATASET / t.name).glob("part-*")} for t in LAYERS]
    if all(there == wanted for there in published):
        return False
    fresh = out / BOOKS / _FRESH
    shutil.rmtree(fresh, ignore_errors=True)
    for table in LAYERS:
        (fresh / table.name).mkdir(parents=True)
        for name in names:
            part = find_part(out, table.name, name)
            assert part is not None, "a part that was recorded as whole is whole"
            _link(part, fresh / table.name / f"part-{name}.parquet")
    return True


def _link(source: Path, target: Path) -> None:
    try:
        os.link(source, target)
    except OSError:
        shutil.copy2(source, target)


def publish_parts(out: Path) -> None:
    """Put the dataset that was gathered in the place of the published one.

    Parameters
    ----------
    out : Path
        Output folder.

    Raises
    ------
    OSError
        It cannot be moved; the former dataset stands.
    """
    former, fresh = out / BOOKS / _FORMER, out / BOOKS / _FRESH
    if (out / DATASET).exists():
        (out / DATASET).rename(former)
    try:
        fresh.rename(out / DATASET)
    except OSError:
        if former.exists():
            former.rename(out / DATASET)
        raise
    shutil.rmtree(former, ignore_errors=True)
