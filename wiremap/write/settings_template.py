"""property.toml with every ordinary setting at its default, commented, ready to be changed."""

from __future__ import annotations

import datetime as dt
import json
import textwrap
from typing import TYPE_CHECKING, Any

from wiremap.model.settings import Settings

if TYPE_CHECKING:
    from pydantic import BaseModel

_SECTIONS = ("property", "coordinates", "locating", "advisory", "output", "sheets")
_EXAMPLES: dict[str, Any] = {
    "prepared_on": dt.date(2026, 5, 4),
    "crs": "EPSG:26914",
    "none_here": ["pump", "filter"],
    "formats": ["dxf", "kmz"],
    "gain_table": {"3": 1.0, "4": 2.0},
}
"""What is shown for a setting whose default says nothing."""

_HEAD = """\
# Settings of the property. Every line that starts with "# " and a name shows the default, or an
# example where there is none: take the "# " away and change the value.
"""

_MAPPINGS = """
[columns]
# A file's own column names: the name that wiremap uses.
# "Pt No" = "point"

[features]
# A file's own feature words or codes: the word that wiremap uses.
# "SOL" = "valve"

# One file's own reading, by its name in the folder.
# [files."locates/topo.csv"]
# header = false
# columns = ["point", "northing", "easting", "elevation", "feature"]
# crs = "EPSG:26914"
"""


def write_settings_template() -> str:
    """Return property.toml as it is handed out: all keys of the ordinary sections, commented.

    Returns
    -------
    str
        TOML that sets nothing until a line is uncommented.

    Examples
    --------
    >>> '# lean_deg = 45.0' in write_settings_template()
    True
    """
    parts = [_HEAD]
    for name in _SECTIONS:
        section: BaseModel = getattr(Settings(), name)
        parts.append(f"\n[{name}]\n{_comment(type(section).__doc__ or '')}")
        for key, field in type(section).model_fields.items():
            value = getattr(section, key)
            if key in _EXAMPLES:
                value = _EXAMPLES[key]
            elif isinstance(value, tuple | dict) or value is None:
                continue
            parts.append(f"\n{_comment(field.description or '')}# {key} = {_write(value)}\n")
    return "".join([*parts, _MAPPINGS])


def _comment(text: str) -> str:
    lines = textwrap.wrap(text, 96, break_long_words=False)
    return "".join(f"#  {line}\n" for line in lines)


def _write(value: Any) -> str:
    """Return a value as TOML."""
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, dict):
        return "{ " + ", ".join(f'"{key}" = {_write(v)}' for key, v in value.items()) + " }"
    return json.dumps(value, ensure_ascii=False)
