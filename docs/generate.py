"""Writes the reference pages from the declarations: python docs/generate.py."""

from __future__ import annotations

from pathlib import Path

from pydantic import BaseModel

from wiremap.model.findings import CODES
from wiremap.model.settings import Settings
from wiremap.model.tables import INPUTS, LAYERS, Table
from wiremap.read.requirements import list_profiles, read_profile

REFERENCE = Path(__file__).parent / "reference"


def describe_table(table: Table) -> str:
    """Return a table's columns as Markdown."""
    rows = []
    for column in table.columns:
        options = ", ".join(f"`{o}`" for o in column.options) if column.options else ""
        meaning = f"{column.meaning} One of {options}." if options else column.meaning
        rows.append(f"| `{column.name}` | {column.type} | {meaning} |")
    shape = f" Geometry: {table.geometry}." if table.geometry else ""
    head = (
        f"## {table.name}\n\n{table.meaning}{shape}\n\n| column | type | meaning |\n|---|---|---|\n"
    )
    return head + "\n".join(rows) + "\n"


def describe_tables() -> str:
    """Return the page of all tables."""
    return (
        "# Tables and columns\n\nLengths are metres, angles degrees, resistances ohms.\n\n"
        "# What goes in\n\nA length column of a field file may carry a unit suffix "
        "(`_m _cm _mm _ft _in _ftus`) in place of `_m`.\n\n"
        + "\n".join(describe_table(t) for t in INPUTS)
        + "\n# What comes out\n\n"
        + "\n".join(describe_table(t) for t in LAYERS)
    )


def describe_findings() -> str:
    """Return the page of finding codes."""
    rows = [f"| `{c.code}` | {c.severity} | {c.meaning} | {c.advice} |" for c in CODES.values()]
    return (
        "# Findings\n\n| code | severity | what it means | what to do |\n|---|---|---|---|\n"
        + "\n".join(rows)
        + "\n"
    )


def describe_settings() -> str:
    """Return the page of property.toml."""
    text = "# Settings: property.toml\n\nEvery key is optional.\n"
    for section, field in Settings.model_fields.items():
        kind = field.annotation
        if not hasattr(kind, "model_fields"):
            text += f"\n## [{section}]\n\n{field.description or 'One file: how it is read.'}\n"
            continue
        text += describe_section(section, kind)
    return text


def describe_section(section: str, kind: type[BaseModel]) -> str:
    """Return one section of property.toml, and those below it, as Markdown."""
    rows, below = [], ""
    for key, item in kind.model_fields.items():
        default = item.get_default(call_default_factory=True)
        if isinstance(default, BaseModel):
            below += describe_section(f"{section}.{key}", type(default))
        else:
            rows.append(f"| `{key}` | `{default!r}` | {item.description} |")
    doc = (kind.__doc__ or "").strip().splitlines()[0]
    head = f"\n## [{section}]\n\n{doc}\n\n| key | default | meaning |\n|---|---|---|\n"
    return head + "\n".join(rows) + "\n" + below


def describe_requirements() -> str:
    """Return the page of requirement profiles."""
    text = (
        "# Requirement profiles\n\n`wiremap check FOLDER --profile NAME` holds a record against"
        " one. Each is a TOML file; an agency's own is given by its path. A profile is a reading"
        " aid: the agency's own text decides.\n"
    )
    for profile in map(read_profile, list_profiles()):
        text += f"\n## {profile.name}\n\n{profile.title}.\n\n"
        text += "| item | what is asked | source |\n|---|---|---|\n"
        rows = (f"| `{i.id}` | {i.says} | {profile.cite(i)} |\n" for i in profile.items)
        text += "".join(rows)
    return text


PAGES = {
    "tables.md": describe_tables,
    "findings.md": describe_findings,
    "settings.md": describe_settings,
    "requirements.md": describe_requirements,
}


def main() -> None:
    """Write the pages."""
    REFERENCE.mkdir(exist_ok=True)
    for name, page in PAGES.items():
        (REFERENCE / name).write_text(page(), encoding="utf-8")


if __name__ == "__main__":
    main()
