"""The inputs of a record as table ``inputs``, and back: what lets a package be amended alone.

Everything is JSON in plain text, column by column, so that it can be read without wiremap.
"""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from wiremap.errors import ReadError
from wiremap.model.findings import Finding
from wiremap.model.kinds import Severity
from wiremap.model.property import InputFile, Property
from wiremap.model.season_tables import KEPT
from wiremap.model.settings import Settings
from wiremap.model.tables import DECISIONS, LOCATES_IN, READINGS, REFERENCES_IN, ZONE_LIST

if TYPE_CHECKING:
    from collections.abc import Iterator

    import geopandas as gpd
    import pandas as pd

    from wiremap.model.columns import Table

ROWS_AT_ONCE = 20_000
"""Rows in one part: some megabytes of text, which any program can show. Project choice."""

_TABLES = {
    "zones": ZONE_LIST,
    "references": REFERENCES_IN,
    "readings": READINGS,
    "decisions": DECISIONS,
}
_FORMAT = 1


def keep_property(source: Property) -> pd.DataFrame:
    """Return everything that a property was read from, as table ``inputs``.

    Parameters
    ----------
    source : Property

    Returns
    -------
    DataFrame
        Table ``inputs``. `restore_property` turns it back into an equal property.

    Examples
    --------
    >>> from wiremap import read_property
    >>> source = read_property("data/hollow-oak-garden")
    >>> len(restore_property(keep_property(source)).locates) == len(source.locates)
    True
    """
    import pandas as pd

    facts = {
        "format": _FORMAT,
        "name": source.name,
        "settings": source.settings.model_dump(mode="json"),
        "files": [asdict(file) for file in source.inputs],
        "findings": [_pack_finding(finding) for finding in source.findings],
    }
    rows = [("property", 0, 1, _dump(facts))]
    for number in range(0, max(len(source.locates), 1), ROWS_AT_ONCE):
        part = source.locates.iloc[number : number + ROWS_AT_ONCE]
        rows.append(("locates", number // ROWS_AT_ONCE, len(part), _pack(part)))
    for name in _TABLES:
        frame = getattr(source, name)
        if frame is not None and len(frame):
            rows.append((name, 0, len(frame), _pack(frame)))
    for name, layer in source.base.items():
        rows.append((f"base {name}", 0, len(layer), _pack_layer(layer)))
    if source.ground is not None:
        rows.append(("ground", 0, len(source.ground), _pack_layer(source.ground)))
    return pd.DataFrame(KEPT.conform(pd.DataFrame(rows, columns=KEPT.column_names)))


def restore_property(kept: pd.DataFrame, *, path: str = "") -> Property:
    """Return the property that a record was built from.

    Parameters
    ----------
    kept : DataFrame
        Table ``inputs``.
    path : str
        The package, for messages.

    Returns
    -------
    Property
        Its folder is the package.

    Raises
    ------
    ReadError
        The table is empty, damaged, or of a later version of wiremap.
    """
    contents = dict(zip(_keys(kept), kept["content"], strict=True))
    remedy = "build the record again from its field files"
    if ("property", 0) not in contents:
        raise ReadError(
            "the package does not hold what it was built from", path=path, remedy=remedy
        )
    try:
        facts = json.loads(contents["property", 0])
        is_later = facts["format"] > _FORMAT
        restored = None if is_later else _assemble(facts, contents, path)
    except Exception as error:
        rule = f"the inputs that the package holds are damaged ({type(error).__name__})"
        raise ReadError(rule, path=path, remedy=remedy) from error
    if restored is None:
        rule = "a later version of wiremap wrote the package"
        raise ReadError(rule, path=path, remedy="update wiremap")
    return restored


def _keys(kept: pd.DataFrame) -> Iterator[tuple[str, int]]:
    return zip(kept["input"].astype(object), (int(part) for part in kept["part"]), strict=True)


def _assemble(facts: dict[str, Any], contents: dict[tuple[str, int], str], path: str) -> Property:
    import pandas as pd

    settings = Settings.model_validate(facts["settings"])
    named = settings.property.model_copy(update={"name": facts["name"]})
    parts = sorted(key for key in contents if key[0] == "locates")
    locates = [_unpack(contents[key], LOCATES_IN) for key in parts]
    tables: dict[str, Any] = {
        name: _unpack(contents[name, 0], table) if (name, 0) in contents else table.empty()
        for name, table in _TABLES.items()
    }
    return Property(
        folder=Path(path),
        settings=settings.model_copy(update={"property": named}),
        locates=locates[0] if len(locates) == 1 else LOCATES_IN.conform(pd.concat(locates)),
        base={
            name.removeprefix("base "): _unpack_layer(text)
            for (name, _), text in contents.items()
            if name.startswith("base ")
        },
        ground=_unpack_layer(contents["ground", 0]) if ("ground", 0) in contents else None,
        findings=tuple(_unpack_finding(finding) for finding in facts["findings"]),
        inputs=tuple(InputFile(**file) for file in facts["files"]),
        **tables,
    )


def _dump(value: object) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False, separators=(",", ":"))


def _pack(frame: pd.DataFrame) -> str:
    """Return a table as JSON: types and values of each column that holds any."""
    columns, types = {}, {}
    for name, column in frame.items():
        missing = np.asarray(column.array.isna())
        if missing.all() and name in LOCATES_IN.column_names:
            continue
        values = column.to_numpy(dtype=object, copy=True)
        values[missing] = None
        if column.dtype.kind == "f":
            endless = np.isinf(column.to_numpy(dtype=float, na_value=np.nan))
            values[endless] = np.where(values[endless] > 0, "Infinity", "-Infinity")
        elif column.dtype.kind not in "iufb" and str(column.dtype) not in {"Int64", "boolean"}:
            values[~missing] = [str(value) for value in values[~missing]]
        columns[str(name)] = values.tolist()
        types[str(name)] = _type_name(column)
    return _dump({"types": types, "columns": columns, "rows": len(frame)})


def _type_name(column: pd.Series) -> str:
    name = str(column.dtype)
    return name if name in {"float64", "Int64", "int64", "boolean", "bool"} else "str"


def _unpack(text: str, table: Table) -> pd.DataFrame:
    """Return a table from its JSON, of its declared types."""
    import pandas as pd

    packed = json.loads(text)
    if not 0 <= packed["rows"] <= len(text):
        raise ValueError("no text holds more rows than letters")
    columns = {
        name: pd.Series(_floats(values) if packed["types"][name] == "float64" else values,
                        dtype=packed["types"][name])
        for name, values in packed["columns"].items()
    }  # fmt: skip
    frame = pd.DataFrame(columns, index=pd.RangeIndex(packed["rows"]))
    return pd.DataFrame(table.conform(frame))


def _floats(values: list[Any]) -> list[float]:
    return [float("nan") if value is None else float(value) for value in values]


def _pack_layer(layer: gpd.GeoDataFrame) -> str:
    """Return a base layer as JSON: its CRS, and its features as GeoJSON in that CRS."""
    crs = layer.crs.to_wkt() if layer.crs is not None else None
    text = layer.to_json(to_wgs84=False, drop_id=True, default=str)  # dates and lists of cells
    features = json.loads(text, parse_constant=str)["features"]  # an endless number is no JSON
    return _dump({"crs": crs, "columns": [str(c) for c in layer.columns], "features": features})


def _unpack_layer(text: str) -> gpd.GeoDataFrame:
    import geopandas as gpd

    packed = json.loads(text)
    if not packed["features"]:
        return gpd.GeoDataFrame({"geometry": []}, geometry="geometry", crs=packed["crs"])
    layer = gpd.GeoDataFrame.from_features(packed["features"], crs=packed["crs"])
    return layer[[name for name in packed["columns"] if name in layer]]


def _pack_finding(finding: Finding) -> dict[str, Any]:
    packed = {name: value for name, value in asdict(finding).items() if value not in ("", None)}
    return {name: value for name, value in packed.items() if value == value}  # noqa: PLR0124 - NaN


def _unpack_finding(packed: dict[str, Any]) -> Finding:
    severity = packed.get("severity")
    return Finding(**packed | {"severity": Severity(severity) if severity else None})
