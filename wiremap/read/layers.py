"""Feature layers, read through GDAL; its errors become one of wiremap's own.

Shared by the readers of vector formats.
"""

from __future__ import annotations

import re
import warnings
from contextlib import contextmanager
from typing import TYPE_CHECKING, NamedTuple

from wiremap.errors import ReadError
from wiremap.read.xml_guard import SEEN_BYTES, refuse_disguise

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    import numpy as np
    import pandas as pd
    from numpy.typing import NDArray


_MEMORY = re.compile(r"/vsimem/\S+")  # where pyogrio keeps contents for GDAL
_QUERY = re.compile(r"sqlite3_\w+\(.*\)", re.DOTALL)  # all of a statement that failed
_MAX_TOLD = 5
MOST_LAYERS = 500
"""Most layers of one file that are read; project choice."""


class Layer(NamedTuple):
    """One layer as read: attributes, geometries and CRS, and what GDAL said about it."""

    name: str
    frame: pd.DataFrame
    geometries: NDArray[np.object_] | None
    crs: str | None
    notes: tuple[str, ...] = ()


@contextmanager
def translated(path: Path) -> Iterator[list[str]]:
    """Turn what GDAL raises into a ReadError, and gather what it warns of.

    Parameters
    ----------
    path : Path
        The file, for the message.

    Yields
    ------
    list of str
        Filled with GDAL's warnings, each once, when the block ends.

    Raises
    ------
    ReadError
        For every error of GDAL, shapely or the file system.
    """
    from shapely.errors import ShapelyError

    told: list[str] = []
    try:
        with warnings.catch_warnings(record=True) as caught:
            warnings.simplefilter("always")
            yield told
        messages = dict.fromkeys(_without_places(str(w.message), path) for w in caught)
        told += list(messages)[:_MAX_TOLD]
    except ReadError:
        raise
    except UnicodeError as error:
        remedy = "save it again as UTF-8, or name its encoding under [files] in property.toml"
        raise ReadError("holds text in another encoding", path=path.name, remedy=remedy) from error
    except (RuntimeError, ShapelyError, OSError) as error:  # those of pyogrio are RuntimeErrors
        raise ReadError(
            f"cannot be read: {_without_places(str(error), path)}",
            path=path.name,
            remedy="open it in a desktop GIS and save it again, or remove it",
        ) from error


def _without_places(text: str, path: Path) -> str:
    """Return a message of GDAL without folders, and without its advice on drivers."""
    reason = _MEMORY.sub(path.name, text.partition("; It might help")[0])
    for folder in (path.resolve().parent, path.parent):
        reason = reason.replace(f"{folder}/", "").replace(f"{folder}\\", "")
    return _QUERY.sub("a query", reason).rstrip(".")


def require_start(path: Path, starts: tuple[bytes, ...], kind: str) -> None:
    """Refuse a file whose first bytes are not those of its format.

    Parameters
    ----------
    path : Path
        The file.
    starts : tuple of bytes
        What the file may start with, after white space and a byte order mark.
    kind : str
        Name of the format, for the message.

    Raises
    ------
    ReadError
        The file is empty, starts otherwise, leads to other files, or cannot be opened.
    """
    with translated(path), path.open("rb") as file:
        head = file.read(SEEN_BYTES).removeprefix(b"\xef\xbb\xbf").lstrip()
    if not head.startswith(starts):
        raise ReadError(
            f"is not a {kind} file",
            path=path.name,
            value=repr(head[:24]) if head else "an empty file",
            remedy="give the file the ending of its own format",
        )
    refuse_disguise(head, path=path.name)


def list_layers(path: Path) -> list[tuple[str, str | None]]:
    """Return the layers of a file with their geometry types, None for a plain table.

    Parameters
    ----------
    path : Path
        The file.

    Returns
    -------
    list of tuple
        Name and geometry type.

    Raises
    ------
    ReadError
        GDAL cannot open the file, or it holds more than `MOST_LAYERS`.
    """
    import pyogrio

    with translated(path):
        layers = [(str(name), kind) for name, kind in pyogrio.list_layers(path.resolve())]
    require_few(len(layers), path=path.name)
    return layers


def require_few(count: int, *, path: str) -> None:
    """Refuse a file of more layers than `MOST_LAYERS`.

    Parameters
    ----------
    count : int
        Number of layers.
    path : str
        Name of the file, for the message.

    Raises
    ------
    ReadError
        There are more.
    """
    if count > MOST_LAYERS:
        raise ReadError(
            f"holds more than {MOST_LAYERS} layers or folders",
            path=path,
            value=str(count),
            remedy="keep the layers of this property alone",
        )


def read_layer(
    path: Path,
    name: str,
    *,
    data: bytes | None = None,
    number: int | None = None,
    encoding: str | None = None,
) -> Layer:
    """Return one layer, dates as ISO 8601 text, geometry as shapely objects.

    Parameters
    ----------
    path : Path
        The file; never written to.
    name : str
        Name of the layer.
    data : bytes, optional
        Contents to read in place of the file's.
    number : int, optional
        Place of the layer, counted from 0, where names may be doubled.
    encoding : str, optional
        Text encoding, where the format does not say.

    Returns
    -------
    Layer
        The frame is numbered from 1.

    Raises
    ------
    ReadError
        GDAL cannot read the layer.
    """
    import pandas as pd
    import shapely
    from pyogrio.raw import read

    with translated(path) as told:
        meta, _, wkb, columns = read(
            data if data is not None else path.resolve(),
            layer=name if number is None else number,
            datetime_as_string=True,
            encoding=encoding,
        )
        names = [str(field) for field in meta["fields"]]
        index = range(1, _length(wkb, columns) + 1)
        frame = pd.DataFrame(dict(enumerate(columns)), index=pd.Index(index))
        frame.columns = pd.Index(names, dtype="str")
        for field, kind in zip(names, meta["dtypes"], strict=True):
            if str(kind).startswith("list"):
                frame[field] = frame[field].map(_join_list, na_action="ignore")
        geometries = None if wkb is None else shapely.from_wkb(wkb, on_invalid="ignore")
    return Layer(name, frame.infer_objects(), geometries, meta["crs"], tuple(told))


def _join_list(values: NDArray[np.generic]) -> str:
    """Return the values of a cell that holds several as one text."""
    return "; ".join(str(value) for value in values)


def _length(wkb: NDArray[np.object_] | None, columns: list[NDArray[np.generic]]) -> int:
    if wkb is not None:
        return len(wkb)
    return len(columns[0]) if columns else 0
