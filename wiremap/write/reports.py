"""One table beside a record, as CSV and GeoPackage, and pages that go with it."""

from __future__ import annotations

import csv
from typing import TYPE_CHECKING

from wiremap.write.findings import guard_formula
from wiremap.write.outputs import write_files
from wiremap.write.plain_text import plain_text

if TYPE_CHECKING:
    from pathlib import Path

    import geopandas as gpd

    from wiremap.model.columns import Table


def write_report(
    frame: gpd.GeoDataFrame, table: Table, out: Path, *, stem: str, page: str = ""
) -> list[Path]:
    """Write a table as ``<stem>.csv`` and ``<stem>.gpkg``, and a page; whole or not at all.

    Parameters
    ----------
    frame : GeoDataFrame
        The rows.
    table : Table
        What they are; the layer of the package bears its name.
    out : Path
        Folder; made where it is missing.
    stem : str
        Name of the files.
    page : str
        HTML to write as ``<stem>.html``; none where empty.

    Returns
    -------
    list of Path
        The files now in place.

    Raises
    ------
    WriteError
        A target is locked or cannot be written. What stood there before is untouched.
    """

    def write(folder: Path) -> list[Path]:
        paths = [folder / f"{stem}.csv", folder / f"{stem}.gpkg"]
        _write_csv(frame, table, paths[0])
        options = {"DESCRIPTION": table.meaning, "IDENTIFIER": table.name}
        table.conform(frame).to_file(
            paths[1], layer=table.name, driver="GPKG", layer_options=options,
            geometry_type=None if len(frame) else table.geometry,
        )  # fmt: skip
        if page:
            paths.append(folder / f"{stem}.html")
            paths[2].write_text(page, encoding="utf-8")
        return paths

    suffixes = (".csv", ".gpkg", ".html") if page else (".csv", ".gpkg")
    return write_files(out, [f"{stem}{suffix}" for suffix in suffixes], write)


def _write_csv(frame: gpd.GeoDataFrame, table: Table, path: Path) -> None:
    """Write the declared columns; no cell can be taken for a formula."""
    columns = [[_cell(value) for value in frame[name]] for name in table.column_names]
    with path.open("w", encoding="utf-8-sig", newline="") as file:
        rows = csv.writer(file)
        rows.writerow(table.column_names)
        rows.writerows(zip(*columns, strict=True))


def _cell(value: object) -> str:
    if isinstance(value, float):
        return "" if value != value else f"{value:.4f}"  # noqa: PLR0124 - NaN
    return guard_formula(plain_text(value, longest=2_000))
