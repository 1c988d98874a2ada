"""The technician's decisions on suggested zones, kept in the property folder."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

from wiremap.errors import WriteError

if TYPE_CHECKING:
    import pandas as pd

_COLUMNS = ["valve", "zone", "controller", "accepted", "date", "note"]


def write_decisions(folder: Path, decisions: pd.DataFrame) -> Path:
    """Add decisions to ``decisions.csv`` of a property folder; the newest of a valve stands.

    Parameters
    ----------
    folder : Path
        Property folder.
    decisions : DataFrame
        Table ``decisions``.

    Returns
    -------
    Path
        The file, written whole or not at all.

    Raises
    ------
    WriteError
        The folder cannot be written to.
    """
    import pandas as pd

    target = folder / "decisions.csv"
    try:
        kept = [pd.read_csv(target, dtype="str")] if target.exists() else []
        rows = pd.concat([*kept, decisions[_COLUMNS]]).drop_duplicates("valve", keep="last")
        handle, staged = tempfile.mkstemp(suffix=".part", dir=folder)
        with os.fdopen(handle, "w", encoding="utf-8", newline="") as file:
            rows.to_csv(file, index=False)
            file.flush()
            os.fsync(file.fileno())
        Path(staged).replace(target)
    except OSError as error:
        raise WriteError(
            f"the decisions cannot be written: {error.strerror or error}",
            path=str(target),
            remedy="give a property folder that can be written to",
        ) from error
    return target
