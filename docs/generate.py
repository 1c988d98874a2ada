"""Writes the reference pages from the declarations: python docs/generate.py.

The pages stand in the repository, so that a change of a declaration shows as a change of a page;
a test holds them against what is declared. Of the pages of docs/findings only the head is
written, up to the mark; what follows is written by hand.
"""

from __future__ import annotations

import inspect
import json
import re
import tomllib
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal, get_args, get_origin, get_type_hints

import typer
from pydantic import BaseModel
from sources import describe_sources

import wiremap
from wiremap.cli.main import app
from wiremap.model import kinds
from wiremap.model.findings import CODES
from wiremap.model.season_tables import CHANGES, LOST_COVER
from wiremap.model.settings import Settings
from wiremap.model.tables import INPUTS, LAYERS, Table
from wiremap.plugins import READERS, WRITERS, registry
from wiremap.read import synonyms
from wiremap.read.features import KNOWN
from wiremap.read.requirements import list_profiles, read_profile
from wiremap.steps.requirements import CHECKS

if TYPE_CHECKING:
    from collections.abc import Iterable
DOCS = Path(__file__).parent
REFERENCE, FINDINGS = DOCS / "reference", DOCS / "findings"
PLACEHOLDER = re.compile(r"(?<!`)(<\w+>)")
MARK = "<!-- above: written by docs/generate.py -->"


def tabulate(columns: str, rows: Iterable[tuple[str, ...]]) -> str:
    """Return a Markdown table; columns are parted by bars."""
    names = columns.split("|")
    lines = [names, ["---"] * len(names), *rows]
    lines = [[PLACEHOLDER.sub(r"`\1`", cell) for cell in line] for line in lines]
    return "\n".join("| " + " | ".join(line) + " |" for line in lines) + "\n"


def quote(words: Iterable[str]) -> str:
    """Return words as code, parted by commas."""
    return ", ".join(f"`{word}`" for word in words)


def describe_table(table: Table) -> str:
    """Return a table's columns as Markdown."""
    rows = []
    for column in table.columns:
        one_of = f" One of {quote(column.options)}." if column.options else ""
        rows.append((f"`{column.name}`", column.type, column.meaning + one_of))
    shape = f" Geometry: {table.geometry}." if table.geometry else ""
    return f"### {table.name}\n\n{table.meaning}{shape}\n\n" + tabulate("column|type|meaning", rows)


def describe_tables() -> str:
    """Return the page of all tables."""
    parts = {
        "What goes in": "A length column of a field file may carry a unit suffix (`_m _cm _mm _ft"
        " _in _ftus`) in place of `_m`. Headings that are understood beside these names are listed"
        " under [field words](field-words.md).",
        "What comes out": "The layers of a record, in the GeoPackage, as GeoJSON and in Python as"
        " `asbuilt.layers`.",
        "What comparing and re-grading give": "Written by `wiremap compare` and `wiremap recover`.",
    }
    tables = (INPUTS, LAYERS, (CHANGES, LOST_COVER))
    text = "# Tables and columns\n\nLengths are metres, angles degrees, resistances ohms.\n"
    for (title, intro), group in zip(parts.items(), tables, strict=True):
        text += f"\n## {title}\n\n{intro}\n\n" + "\n".join(map(describe_table, group))
    return text


def describe_findings() -> str:
    """Return the page of finding codes."""
    rows = (
        (f"[`{c.code}`](../findings/{c.code}.md)", c.severity, c.meaning, c.advice)
        for c in CODES.values()
    )
    return (
        "# Findings\n\nBad data is a finding, not an exception: the row is set aside or the cell"
        " emptied, and the rest is built. An *error* makes the exit code 1, a *warning* wants a"
        " look, a *note* says how something was taken. Each code has a page: how it comes about,"
        " why it matters, what to do on site.\n\n"
        + tabulate("code|severity|what it means|what to do", rows)
        + "\n```{toctree}\n:hidden:\n\n"
        + "".join(f"../findings/{code}\n" for code in CODES)
        + "```\n"
    )


def head_finding(code: str) -> str:
    """Return the head of one code's page."""
    declared = CODES[code]
    return (
        f"# {code}\n\n**{declared.severity.capitalize()}.** {declared.meaning} *{declared.advice}*"
        f"\n\n{MARK}\n"
    )


def describe_settings() -> str:
    """Return the page of property.toml."""
    text = "# Settings: property.toml\n\nEvery key is optional; one without a default is not set.\n"
    for section, field in Settings.model_fields.items():
        kind = field.annotation
        if isinstance(kind, type) and issubclass(kind, BaseModel):
            text += describe_section(section, kind)
            continue
        text += f"\n## [{section}]\n\n{field.description}\n"
        inner = field.annotation.__args__[-1] if field.annotation else None
        if isinstance(inner, type) and issubclass(inner, BaseModel):
            text += "\n" + tabulate("key|default|meaning", list_keys(inner)[0])
    return text


def list_keys(kind: type[BaseModel]) -> tuple[list[tuple[str, ...]], dict[str, type[BaseModel]]]:
    """Return the rows of a section's keys, and the sections below it."""
    rows: list[tuple[str, ...]] = []
    below: dict[str, type[BaseModel]] = {}
    for key, item in kind.model_fields.items():
        default = item.get_default(call_default_factory=True)
        if isinstance(default, BaseModel):
            below[key] = type(default)
        else:
            choices = [c for c in walk_choices(item.annotation) if c is not None]
            one_of = f" One of {quote(map(write_toml, choices))}." if choices else ""
            shown = "" if default is None else f"`{write_toml(default)}`"
            rows.append((f"`{key}`", shown, f"{item.description}{one_of}"))
    return rows, below


def walk_choices(annotation: Any) -> list[Any]:
    """Return the words that a key can be, where its type is a closed set."""
    parts = get_args(annotation)
    if get_origin(annotation) is Literal:
        return list(parts)
    return [choice for part in parts for choice in walk_choices(part)]


def write_toml(value: Any) -> str:
    """Return a value as it is written into property.toml."""
    if isinstance(value, dict):
        return "{" + ", ".join(f"{k} = {write_toml(v)}" for k, v in value.items()) + "}"
    if isinstance(value, tuple):
        return "[" + ", ".join(map(write_toml, value)) + "]"
    return json.dumps(value) if isinstance(value, (str, bool)) else f"{value}"


def describe_section(section: str, kind: type[BaseModel]) -> str:
    """Return one section of property.toml, and those below it, as Markdown."""
    rows, below = list_keys(kind)
    doc = (kind.__doc__ or "").strip().splitlines()[0]
    text = f"\n## [{section}]\n\n{doc}\n\n" + tabulate("key|default|meaning", rows)
    return text + "".join(describe_section(f"{section}.{k}", v) for k, v in below.items())


def describe_requirements() -> str:
    """Return the page of requirement profiles."""
    text = (
        "# Requirement profiles\n\n`wiremap check FOLDER --profile NAME` holds a record against"
        " one. Each is a TOML file; an agency's own is given by its path. A profile is a reading"
        " aid: the agency's own text decides. To write one:"
        " [an agency's own list](../howto/profiles.md).\n"
    )
    rows = []
    for name, check in CHECKS.items():
        _record, *limits = inspect.signature(check).parameters
        rows.append((f"`{name}`", (check.__doc__ or "").splitlines()[0], quote(limits)))
    text += "\n## Checks\n\nWhat an item's `check` can be, and the `limits` that it takes.\n\n"
    text += tabulate("check|what it does|limits", rows)
    for profile in map(read_profile, list_profiles()):
        items = ((f"`{i.id}`", i.says, profile.cite(i)) for i in profile.items)
        text += f"\n## {profile.name}\n\n{profile.title}.\n\n"
        text += tabulate("item|what is asked|source", items)
    return text


def describe_commands() -> str:
    """Return the page of all commands, from the command line's own help."""
    group: Any = typer.main.get_command(app)
    text = (
        f"# Commands\n\n{group.help}\n\n`wiremap COMMAND --help` prints the same. Exit codes: 0"
        " done; 1 done, with findings of severity error (for `bulk` also where a property failed,"
        " for `check --profile` also where something asked for is missing); 2 not done, with one"
        " line on stderr that says where, which rule, what was found and what to do.\n\n"
        "## wiremap\n\nThese stand before the command's name.\n\n"
        + tabulate("option|default|meaning", map(describe_option, group.params))
    )
    callbacks = {c.callback.__name__: c.callback for c in app.registered_commands if c.callback}
    for name, command in sorted(group.commands.items()):
        arguments = [p for p in command.params if "Argument" in type(p).__name__]
        options = [p for p in command.params if p not in arguments]
        needed = "".join(f" {p.opts[0]} {p.name.upper()}" for p in options if p.required)
        usage = "".join(f" {p.name.upper()}" for p in arguments) + needed
        more = " [OPTIONS]" if any(not p.required for p in options) else ""
        text += f"\n## wiremap {name}\n\n{command.help}\n\n"
        text += f"```text\nwiremap {name}{usage}{more}\n```\n"
        rows = [(f"`{p.name.upper()}`", p.help) for p in arguments]
        text += "\n" + tabulate("argument|meaning", rows) if rows else ""
        hints = get_type_hints(callbacks[name])
        rows = [describe_option(p, hints[p.name]) for p in options]
        text += "\n" + tabulate("option|default|meaning", rows) if rows else ""
    return text


def describe_option(option: Any, kind: Any = None) -> tuple[str, ...]:
    """Return an option's row: its spellings, its default, its meaning with the words it takes."""
    spellings = quote([*option.opts, *option.secondary_opts])
    default = "required" if option.required else ""
    if option.default not in {None, "", False}:
        default = f"`{option.default}`"
    choices = kind if isinstance(kind, type) and issubclass(kind, StrEnum) else ()
    return spellings, default, option.help + (f" One of {quote(choices)}." if choices else "")


def describe_formats() -> str:
    """Return the page of all readers and writers that come with wiremap."""
    text = (
        "# Formats\n\n`wiremap formats` lists those of an installation, plugins included. A file"
        " is read by its ending; `--format NAME` and `[output]` in"
        " [property.toml](settings.md) name a writer. To add one:"
        " [write a plugin](../howto/plugins.md).\n"
    )
    for title, group in (("Files that are read", READERS), ("Files that are written", WRITERS)):
        found = registry(group)
        formats = [f for name, f in found.formats.items() if found.origins[name] == "wiremap"]
        rows = []
        for item in formats:
            when = () if group == READERS else ("always" if item.default else "on request",)
            link = f"[`{item.name}`](#format-{group.split('.')[-1]}-{item.name})"
            rows.append((link, quote(item.suffixes), *when, item.meaning.rstrip(".") + "."))
        head = "name|endings|meaning" if group == READERS else "name|endings|written|meaning"
        text += f"\n## {title}\n\n" + tabulate(head, rows)
        for item in formats:
            work = item.read if group == READERS else item.write
            target = f"format-{group.split('.')[-1]}-{item.name}"
            text += f"\n({target})=\n### {item.name} {title.split()[-1]}\n\n"
            text += directive("autofunction", f"{work.__module__}.{work.__qualname__}")
    return text


def directive(name: str, target: str, *options: str) -> str:
    """Return an autodoc directive as Markdown."""
    lines = "".join(f"   :{option}:\n" for option in options)
    return f"```{{eval-rst}}\n.. {name}:: {target}\n{lines}```\n"


AREAS = {
    "Read": ("read",),
    "Build": ("workflow", "asbuilt"),
    "Steps, each alone": ("steps",),
    "Seasons": ("seasons",),
    "Many properties, hand-over, templates": ("bulk", "write"),
    "Data and settings": ("model",),
    "Errors and warnings": ("errors",),
}
"""Headings of the Python API, with the parts of the package whose public names stand there."""

CONSTANTS = {
    "CODES": "All finding codes by name, in the order of the work: `code`, `severity`, `meaning`,"
    " `advice`.",
    "LAYERS": "The layers of a record: tables with `name`, `geometry`, `meaning` and `columns`.",
    "__version__": "The version of wiremap, as text.",
}
"""What the public names mean that are neither functions nor classes."""


def describe_api() -> str:
    """Return the page of every public name; autodoc fills in the docstrings."""
    text = (
        "# Python API\n\nEverything that `import wiremap` offers. Names are resolved on first use,"
        " so that the import itself loads nothing heavy. [Plugins and the accessor of"
        " notebooks](plugins.md) and the [formulas](formulas.md) have pages of their own.\n"
    )
    for title, homes in AREAS.items():
        names = [name for name in wiremap.__all__ if home_of(name) in homes]
        text += f"\n## {title}\n" + "".join(f"\n{describe_name(name)}" for name in names)
    return text


def home_of(name: str) -> str:
    """Return the part of the package that a public name comes from; empty for plain data."""
    module = getattr(getattr(wiremap, name), "__module__", "wiremap.model")
    return "".join(module.split(".")[1:2])


def describe_name(name: str) -> str:
    """Return the directive of one public name."""
    found = getattr(wiremap, name)
    if inspect.isfunction(found):
        return directive("autofunction", f"wiremap.{name}")
    if not inspect.isclass(found):
        return f"```{{eval-rst}}\n.. py:data:: wiremap.{name}\n\n   {CONSTANTS[name]}\n```\n"
    options = ("members",)
    if issubclass(found, BaseException):
        options = ("show-inheritance",)
    elif issubclass(found, BaseModel):
        options = ()
    return directive("autoclass", f"wiremap.{name}", *options)


def describe_plugins() -> str:
    """Return the page of what plugins are made of, and of the accessor of notebooks."""
    names = ("Reader", "Writer", "RawTable", "Problem", "FileOptions", "Registry")
    plugins = [directive("autoclass", f"wiremap.plugins.{name}") for name in names]
    plugins.append(directive("autofunction", "wiremap.plugins.registry"))
    accessor = directive("autoclass", "wiremap.notebook.LocatesAccessor", "members")
    return (
        "# Plugins and notebooks\n\n## Readers and writers\n\n"
        + "\n".join(plugins)
        + f"\n## The accessor `frame.wiremap`\n\n{accessor}"
    )


def describe_formulas() -> str:
    """Return the page of the formulas; autodoc fills in the docstrings."""
    text = (
        "# Formulas\n\nArithmetic on floats and arrays, each with its source. Formulas know no"
        " tables and need no property: import them from `wiremap.formulas.<module>`. How they work"
        " together is told under [methods](../explanation/methods.md).\n"
    )
    for path in sorted((Path(wiremap.__file__).parent / "formulas").glob("[a-z]*.py")):
        text += f"\n## {path.stem}\n\n"
        text += directive("automodule", f"wiremap.formulas.{path.stem}", "members")
    return text


def describe_kinds() -> str:
    """Return the page of the closed sets of words."""
    meanings: dict[str, dict[Any, str]] = tomllib.loads(
        (DOCS / "kinds.toml").read_text(encoding="utf-8")
    )
    text = (
        "# Kinds\n\nThe closed sets of words that tables use, stored in lower case as they"
        " stand here.\n"
    )
    for kind in vars(kinds).values():
        if isinstance(kind, type) and issubclass(kind, StrEnum) and kind is not StrEnum:
            known = kinds.MEANINGS if kind is kinds.Feature else meanings.get(kind.__name__, {})
            rows = [(f"`{item}`", known.get(item, "")) for item in kind]
            text += f"\n## {kind.__name__}\n\n{kind.__doc__}\n\n" + tabulate("word|meaning", rows)
    return text


def describe_words() -> str:
    """Return the page of the headings and feature words that are understood."""
    text = (
        "# Field words\n\nHeadings and feature words are understood without regard to case, spaces"
        " and punctuation. A heading that is taken by its meaning is a finding"
        " ([`guessed-column`](../findings/guessed-column.md)), never silent. Your own words go into"
        " `[columns]` and `[features]` of [property.toml](settings.md).\n\n"
        "## Feature words\n\n"
    )
    rows = [(f"`{f}`", ", ".join(w for w, of in KNOWN.items() if of == f)) for f in kinds.Feature]
    text += tabulate("feature|words", rows)
    tables = {
        "Positions": synonyms.POSITIONS,
        "Locates": synonyms.LOCATES,
        "Zone list": synonyms.ZONE_LIST,
        "References": synonyms.REFERENCES,
        "Readings": synonyms.READINGS,
        "Decisions": synonyms.DECISIONS,
    }
    for title, words in tables.items():
        rows = [(f"`{name}`", ", ".join(other)) for name, other in words.items()]
        text += f"\n## Headings: {title.lower()}\n\n" + tabulate("column|headings", rows)
    return text


PAGES = {
    "tables.md": describe_tables,
    "kinds.md": describe_kinds,
    "field-words.md": describe_words,
    "findings.md": describe_findings,
    "settings.md": describe_settings,
    "requirements.md": describe_requirements,
    "commands.md": describe_commands,
    "formats.md": describe_formats,
    "api.md": describe_api,
    "plugins.md": describe_plugins,
    "formulas.md": describe_formulas,
    "sources.md": describe_sources,
}


def write_heads() -> None:
    """Write the head of each finding's page, and leave what stands below it."""
    for code in CODES:
        page = FINDINGS / f"{code}.md"
        written = page.read_text(encoding="utf-8") if page.exists() else ""
        page.write_text(head_finding(code) + written.partition(MARK)[2][1:], encoding="utf-8")


def main() -> None:
    """Write the pages."""
    REFERENCE.mkdir(exist_ok=True)
    for name, page in PAGES.items():
        (REFERENCE / name).write_text(page(), encoding="utf-8")
    write_heads()


if __name__ == "__main__":
    main()
