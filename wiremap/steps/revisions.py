"""The revision table: the first issue, amendments that property.toml states, and visits added."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiremap.model.season_tables import REVISIONS

if TYPE_CHECKING:
    from collections.abc import Mapping
    from typing import Any

    import pandas as pd

    from wiremap.model.property import Property

FIRST = "Record drawing, first issue"


def tabulate_revisions(source: Property) -> pd.DataFrame:
    """Return the ``revisions`` layer.

    Parameters
    ----------
    source : Property
        What the as-built is built from; where it was amended, its own revisions stand.

    Returns
    -------
    DataFrame
        Table ``revisions``. The first issue is dated as the record is, else by its latest
        observation; no date where there is neither.
    """
    import pandas as pd

    rows = list(source.revisions) or _issued(source)
    return pd.DataFrame(REVISIONS.conform(pd.DataFrame(rows, columns=REVISIONS.column_names)))


def _issued(source: Property) -> list[Mapping[str, Any]]:
    stated = source.settings.property
    dates = source.locates["date"].dropna()
    latest = str(dates.max())[:10] if len(dates) else None
    first = {
        "number": 0,
        "date": stated.prepared_on.isoformat() if stated.prepared_on else latest,
        "what": FIRST,
        "by": stated.prepared_by or None,
        "inputs": ";".join(file.path for file in source.inputs) or None,
    }
    later = [
        {"number": n, "date": entry.date.isoformat(), "what": entry.text, "by": entry.by or None}
        for n, entry in enumerate(source.settings.sheets.revisions, start=1)
    ]
    return [first, *later]
