"""Where the record comes from: inputs, CRS, software, and each setting that is not the default."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiremap.model.tables import PROVENANCE

if TYPE_CHECKING:
    from collections.abc import Iterable

    import pandas as pd

    from wiremap.model.property import Property
    from wiremap.model.settings import Settings


def tabulate_provenance(source: Property, notes: Iterable[tuple[str, str]]) -> pd.DataFrame:
    """Return the ``provenance`` layer.

    Parameters
    ----------
    source : Property
        What the as-built is built from.
    notes : iterable of (str, str)
        Items and values that the steps state.

    Returns
    -------
    DataFrame
        Table ``provenance``.
    """
    import pandas as pd

    from wiremap import __version__

    stated = source.settings.property
    items = [
        ("property", source.name),
        ("prepared by", stated.prepared_by or "not stated"),
        ("prepared on", stated.prepared_on.isoformat() if stated.prepared_on else "not stated"),
        ("software", f"wiremap {__version__}"),
        *notes,
        *((f"input {file.path}", f"sha256 {file.sha256}") for file in source.inputs),
        *_changed_settings(source.settings),
    ]
    table: pd.DataFrame = PROVENANCE.conform(pd.DataFrame(items, columns=["item", "value"]))
    return table


_STATED_APART = {("property", key) for key in ("name", "prepared_by", "prepared_on")}


def _changed_settings(settings: Settings) -> list[tuple[str, str]]:
    """Return each setting that differs from its default."""
    given = settings.model_dump(mode="json", exclude_defaults=True)
    return [
        (f"setting {section}.{key}", str(value))
        for section, values in given.items()
        for key, value in values.items()
        if (section, key) not in _STATED_APART
    ]
