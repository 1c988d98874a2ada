"""An as-built as a light HTML table, for notebooks."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import pandas as pd


def describe_layers(
    name: str, layers: Mapping[str, pd.DataFrame], *, lines: Sequence[str] = ()
) -> str:
    """Return layers with their row counts, the length of wire, and findings by severity.

    Parameters
    ----------
    name : str
        Name of the property.
    layers : mapping of str to DataFrame
        Layers by name; ``wire_runs`` and ``findings`` among them.
    lines : sequence of str
        Further lines of text.

    Returns
    -------
    str
        HTML; text is escaped.
    """
    runs = layers["wire_runs"]
    severities = layers["findings"]["severity"].value_counts()
    counts = ", ".join(f"{severities.get(s, 0)} {s}" for s in ("error", "warning", "note"))
    rows = "".join(
        f"<tr><td>{escape(layer)}</td><td style='text-align:right'>{len(frame)}</td></tr>"
        for layer, frame in layers.items()
    )
    told = "".join(f"<p>{escape(line)}</p>" for line in lines)
    return (
        f"<p><b>{escape(name)}</b>: {runs['length_m'].sum():.0f} m of wire in {len(runs)} runs; "
        f"findings: {counts}.</p>{told}"
        f"<table><thead><tr><th>layer</th><th>rows</th></tr></thead><tbody>{rows}</tbody></table>"
    )
