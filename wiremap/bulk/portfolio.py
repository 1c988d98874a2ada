"""The portfolio's own files: index, map, summary, failures; each appears whole or not at all."""

from __future__ import annotations

import csv
import io
from typing import TYPE_CHECKING

from wiremap.bulk.overview import draw_overview
from wiremap.bulk.records import BOOKS, write_whole
from wiremap.bulk.results import tabulate_failures, tabulate_index, tabulate_summary
from wiremap.errors import WriteError
from wiremap.write.findings import guard_formula

if TYPE_CHECKING:
    from collections.abc import Sequence
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


def write_portfolio(out: Path, outcomes: Sequence[Outcome]) -> None:
    """Write index, map, summary and failures.

    Parameters
    ----------
    out : Path
        Output folder.
    outcomes : sequence of Outcome

    Raises
    ------
    WriteError
        A file cannot be written; what stood there is untouched.
    """
    try:
        write_whole(out / "summary.csv", _as_csv(tabulate_summary(outcomes)))
        write_whole(out / "failures.csv", _as_csv(tabulate_failures(outcomes)))
        write_whole(out / "portfolio.html", draw_overview(outcomes))
        _write_index(out, tabulate_index(outcomes))
    except OSError as error:
        raise WriteError(f"cannot be written: {error}", path=str(out)) from error


def _as_csv(table: pd.DataFrame) -> str:
    """Return a table as CSV with a byte order mark; no cell can be taken for a formula."""
    text = io.StringIO()
    rows = csv.writer(text)
    rows.writerow(table.columns)
    rows.writerows([guard_formula(_plain(cell)) for cell in row] for row in table.to_numpy())
    return f"\ufeff{text.getvalue()}"


def _plain(cell: object) -> str:
    return str(cell).encode("utf-8", "backslashreplace").decode()


def _write_index(out: Path, index: gpd.GeoDataFrame) -> None:
    import pyogrio

    refuse_open_index(out)
    draft = out / BOOKS / INDEX
    draft.unlink(missing_ok=True)
    texts = index.columns[index.dtypes == "str"]
    plain = index.assign(**{name: index[name].map(_plain) for name in texts})
    try:
        pyogrio.write_dataframe(
            plain,
            draft,
            layer="properties",
            driver="GPKG",
            geometry_type=None if len(plain) else "Polygon",
            VERSION="1.3",
        )
        draft.replace(out / INDEX)
    except RuntimeError as error:
        raise OSError(str(error)) from error
    finally:
        draft.unlink(missing_ok=True)
