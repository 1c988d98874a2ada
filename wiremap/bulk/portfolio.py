"""The portfolio: index, map, summary, failures, dataset; they appear together or not at all."""

from __future__ import annotations

import csv
import io
from typing import TYPE_CHECKING

from wiremap.bulk.overview import draw_overview
from wiremap.bulk.results import tabulate_failures, tabulate_index, tabulate_summary
from wiremap.bulk.shelf import gather_parts, publish_parts
from wiremap.errors import WriteError
from wiremap.write.findings import guard_formula
from wiremap.write.outputs import write_files

if TYPE_CHECKING:
    from collections.abc import Sequence
    from collections.abc import Set as AbstractSet
    from pathlib import Path

    import geopandas as gpd
    import pandas as pd

    from wiremap.bulk.records import Outcome

INDEX = "portfolio.gpkg"


def refuse_open_index(out: Path) -> None:
    """Refuse an index that another program has open, before any work is done.

    Parameters
    ----------
    out : Path
        Output folder.

    Raises
    ------
    WriteError
        A ``-wal``, ``-journal`` or ``-shm`` file stands beside the index.
    """
    for side in ("-wal", "-journal", "-shm"):
        if (out / f"{INDEX}{side}").exists():
            raise WriteError(
                f"a {side} file stands beside it, so the package is open or was left unfinished",
                path=str(out / INDEX),
                remedy="close the package in every program, then run again",
            )


def write_portfolio(out: Path, outcomes: Sequence[Outcome], parts: AbstractSet[str]) -> None:
    """Put index, map, summary, failures and dataset in the place of the former ones.

    Everything is written beside them first; then all of it is moved.

    Parameters
    ----------
    out : Path
        Output folder.
    outcomes : sequence of Outcome
    parts : set of str
        Names of the parts that make up the dataset.

    Raises
    ------
    WriteError
        A file cannot be written; what stood there is untouched.
    """

    def write(staging: Path) -> list[Path]:
        is_new = gather_parts(out, parts)
        texts = {
            "summary.csv": _as_csv(tabulate_summary(outcomes)),
            "failures.csv": _as_csv(tabulate_failures(outcomes)),
            "portfolio.html": draw_overview(outcomes),
        }
        for name, text in texts.items():
            (staging / name).write_text(text, encoding="utf-8", newline="")
        _write_index(staging / INDEX, tabulate_index(outcomes))
        if is_new:
            publish_parts(out)
        return [staging / name for name in (*texts, INDEX)]

    write_files(out, [INDEX], write)


def _as_csv(table: pd.DataFrame) -> str:
    """Return a table as CSV with a byte order mark; no cell can be taken for a formula."""
    text = io.StringIO()
    rows = csv.writer(text)
    rows.writerow(table.columns)
    rows.writerows([guard_formula(str(cell)) for cell in row] for row in table.to_numpy())
    return f"\ufeff{text.getvalue()}"


def _write_index(path: Path, index: gpd.GeoDataFrame) -> None:
    import pyogrio

    pyogrio.write_dataframe(
        index,
        path,
        layer="properties",
        driver="GPKG",
        geometry_type=None if len(index) else "Polygon",
        VERSION="1.3",
    )
