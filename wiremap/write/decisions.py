"""The technician's decisions on suggested zones, kept in the property folder."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiremap.errors import WriteError
from wiremap.write.outputs import write_files

if TYPE_CHECKING:
    from pathlib import Path

    import pandas as pd

DECISIONS_FILE = "decisions.csv"
_READ_IN = ["source_file", "source_row"]


def write_decisions(folder: Path, decisions: pd.DataFrame) -> Path:
    """Write decisions as ``decisions.csv`` of a property folder; the last of a valve stands.

    Parameters
    ----------
    folder : Path
        Property folder.
    decisions : DataFrame
        Table ``decisions``: all that hold, those of a former file first.

    Returns
    -------
    Path
        The file, written whole or not at all.

    Raises
    ------
    WriteError
        There is no such folder, or it cannot be written to.
    """
    if not folder.is_dir():
        remedy = "give a property folder that can be written to"
        raise WriteError("there is no such folder", path=str(folder), remedy=remedy)
    rows = decisions.drop(columns=_READ_IN, errors="ignore")
    rows = rows.drop_duplicates("valve", keep="last")

    def write(staging: Path) -> list[Path]:
        path = staging / DECISIONS_FILE
        rows.to_csv(path, index=False)
        return [path]

    (path,) = write_files(folder, [DECISIONS_FILE], write)
    return path
