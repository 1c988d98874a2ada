"""The portfolio's dataset: GeoParquet, one folder a layer, one part a batch of properties.

Positions are WGS 84 longitude and latitude, so that properties of all zones fit one table. Every
part of a layer has the same columns: those declared, the property's name and folder, and further
columns of the field files as JSON text.
"""

from __future__ import annotations

import json
import os
import shutil
import tempfile
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from wiremap.bulk.outlines import to_lonlat
from wiremap.bulk.records import BOOKS, plain_text
from wiremap.bulk.shelf import WAITING
from wiremap.errors import MissingExtraError
from wiremap.model.tables import LAYERS, LOCATES, LOCATES_IN

if TYPE_CHECKING:
    from collections.abc import Iterator

    import pandas as pd
    import pyarrow as pa
    from pyarrow.parquet import ParquetWriter

    from wiremap.asbuilt import AsBuilt
    from wiremap.bulk.jobs import Job
    from wiremap.model.columns import Column, Table

ROWS_A_GROUP = 50_000
"""Rows that are gathered before they are written (project choice: some megabytes a layer)."""


def has_pyarrow() -> bool:
    """Tell whether the package that writes GeoParquet is installed."""
    from importlib.util import find_spec

    return find_spec("pyarrow") is not None


def columns_of(table: Table) -> tuple[Column, ...]:
    """Return the columns of a layer in the dataset, between property and geometry.

    Parameters
    ----------
    table : Table

    Returns
    -------
    tuple of Column
        Those declared; for ``locates`` also those of the field files.
    """
    if table.name != LOCATES.name:
        return table.columns
    return table.columns + tuple(c for c in LOCATES_IN.columns if c not in table.columns)


class Part:
    """One part of every layer, being written.

    Parameters
    ----------
    writers : dict of str to ParquetWriter
        By layer.
    """

    def __init__(self, writers: dict[str, ParquetWriter]) -> None:
        self._writers = writers
        self._waiting: dict[str, list[pa.Table]] = {name: [] for name in writers}
        self.is_whole = False

    def add(self, asbuilt: AsBuilt, job: Job) -> None:
        """Add the layers of a property: all of them, or none where one cannot be converted.

        Parameters
        ----------
        asbuilt : AsBuilt
        job : Job
        """
        tables = {table.name: _to_arrow(table, asbuilt, job) for table in LAYERS}
        for name, table in tables.items():
            self._waiting[name].append(table)
            if sum(map(len, self._waiting[name])) >= ROWS_A_GROUP:
                self._flush(name)

    def finish(self) -> None:
        """Write what is gathered; the part is whole."""
        for name in self._writers:
            self._flush(name)
        self.is_whole = True

    def _flush(self, name: str) -> None:
        import pyarrow as pa

        if self._waiting[name]:
            self._writers[name].write_table(pa.concat_tables(self._waiting[name]))
            self._waiting[name] = []


@contextmanager
def open_part(out: Path, name: str) -> Iterator[Part]:
    """Open a part of every layer; it waits to be published once it is whole.

    Parameters
    ----------
    out : Path
        Output folder.
    name : str
        Name of the part.

    Yields
    ------
    Part
        To be finished by the caller; a part that is not leaves nothing.

    Raises
    ------
    MissingExtraError
        pyarrow is not installed.
    OSError
        The part cannot be written.
    """
    try:
        from pyarrow.parquet import ParquetWriter
    except ImportError as error:
        raise MissingExtraError("pyarrow", "parquet") from error
    (out / BOOKS / "staging").mkdir(parents=True, exist_ok=True)
    staging = Path(tempfile.mkdtemp(prefix=f"{name}-", dir=out / BOOKS / "staging"))
    try:
        with ExitStack() as files:
            part = Part(
                {
                    table.name: files.enter_context(
                        ParquetWriter(
                            staging / f"{table.name}.parquet", _schema(table), compression="zstd"
                        )
                    )
                    for table in LAYERS
                }
            )
            yield part
        if part.is_whole:
            _flush(staging)
            target = out / BOOKS / WAITING / name
            target.parent.mkdir(parents=True, exist_ok=True)
            shutil.rmtree(target, ignore_errors=True)
            staging.rename(target)
    finally:
        shutil.rmtree(staging, ignore_errors=True)


def _flush(folder: Path) -> None:
    """Have the disk hold what was written, so that a machine that goes down loses no part."""
    for path in folder.iterdir():
        with path.open("rb+") as file:
            os.fsync(file.fileno())


def _schema(table: Table) -> pa.Schema:
    import pyarrow as pa

    types = {"text": pa.string(), "number": pa.float64(), "integer": pa.int64(), "flag": pa.bool_()}
    fields = [("property", pa.string()), ("property_folder", pa.string())]
    fields += [(column.name, types[column.type]) for column in columns_of(table)]
    fields.append(("further", pa.string()))
    if table.geometry is None:
        return pa.schema(fields)
    fields.append(("geometry", pa.binary()))
    return pa.schema(fields, metadata={"geo": json.dumps(_GEO)})


_GEO = {
    "version": "1.1.0",
    "primary_column": "geometry",
    "columns": {"geometry": {"encoding": "WKB", "geometry_types": []}},
}
"""GeoParquet 1.1.0: types may be left open, and no ``crs`` means OGC:CRS84."""


def _to_arrow(table: Table, asbuilt: AsBuilt, job: Job) -> pa.Table:
    """Return a layer as rows of the dataset."""
    import numpy as np
    import pyarrow as pa
    import shapely

    layer = asbuilt.layers[table.name]
    schema = _schema(table)
    columns: dict[str, Any] = {
        "property": pa.repeat(pa.scalar(plain_text(asbuilt.name), pa.string()), len(layer)),
        "property_folder": pa.repeat(pa.scalar(plain_text(job.path), pa.string()), len(layer)),
    }
    declared = [column.name for column in columns_of(table)]
    for name in declared:
        columns[name] = _cells(layer, name, schema.field(name).type)
    known = {*declared, "geometry"}
    columns["further"] = _further(layer.drop(columns=[c for c in layer if c in known]))
    if table.geometry is not None:
        shapes = np.asarray(layer.geometry.array, dtype=object)
        columns["geometry"] = pa.array(shapely.to_wkb(to_lonlat(shapes, asbuilt.frame)))
    return pa.Table.from_arrays([_fit(columns[f.name], f.type) for f in schema], schema=schema)


def _fit(cells: Any, kind: pa.DataType) -> Any:
    return cells if cells.type == kind else cells.cast(kind)


def _cells(layer: pd.DataFrame, name: str, kind: pa.DataType) -> pa.Array:
    import pyarrow as pa

    if name not in layer:
        return pa.nulls(len(layer), kind)
    return pa.array(layer[name].to_numpy(dtype=object), kind, from_pandas=True)


def _further(extras: pd.DataFrame) -> pa.Array:
    """Return undeclared columns as JSON text, one object a row."""
    import pyarrow as pa

    if extras.empty:
        return pa.nulls(len(extras), pa.string())
    plain = extras.set_axis([str(name) for name in extras.columns], axis=1)
    lines = plain.to_json(orient="records", lines=True, default_handler=str).splitlines()
    return pa.array(lines, pa.string())
