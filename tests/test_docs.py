"""The documentation holds what the code declares, and what it shows works."""

from __future__ import annotations

import ast
import importlib
import importlib.util
import inspect
import re
import shlex
import sys
import tomllib
from functools import cache
from itertools import pairwise
from pathlib import Path

import pytest
import typer
from pydantic import BaseModel

import wiremap
from wiremap.cli.main import app
from wiremap.model import kinds
from wiremap.model.findings import CODES
from wiremap.model.season_tables import CHANGES, LOST_COVER
from wiremap.model.settings import FileSection, Settings
from wiremap.model.tables import INPUTS, LAYERS, LOCATES_IN
from wiremap.plugins import READERS, WRITERS, registry
from wiremap.read.settings_file import read_settings
from wiremap.steps.requirements import CHECKS

ROOT = Path(__file__).resolve().parent.parent
DOCS = ROOT / "docs"
SITE = sorted(p for p in DOCS.rglob("*.md") if not {"_build", "notebooks"} & set(p.parts))
PAGES = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *SITE]
FENCE = re.compile(r"^( *)(`{3,})(\S*)[^\n]*\n(.*?)^\1\2$", re.MULTILINE | re.DOTALL)
COMMANDS = typer.main.get_command(app).commands


def name_page(path: Path) -> str:
    """Return how a page is called in the tests' names."""
    return path.relative_to(ROOT).as_posix()


@cache
def read(path: Path) -> str:
    """Return a page's text."""
    return path.read_text(encoding="utf-8")


def blocks(*words: str) -> list[tuple[str, str]]:
    """Return page and body of every fenced block of some languages."""
    return [
        (name_page(page), body)
        for page in PAGES
        for _, _, word, body in FENCE.findall(read(page))
        if word in words
    ]


def number(found: list[tuple[str, str]]) -> list:
    """Return blocks as parameters that are called by their pages."""
    return [pytest.param(*block, id=f"{block[0]}-{n}") for n, block in enumerate(found)]


def section(page: str, heading: str) -> str:
    """Return what stands under a heading of a reference page, up to the next."""
    parts = re.split(r"^#+ (.+)$", read(DOCS / "reference" / page), flags=re.MULTILINE)
    found = dict(zip(parts[1::2], parts[2::2], strict=True))
    assert heading in found, f"{page} has no section {heading}"
    return found[heading]


def generator():
    """Return docs/generate.py as a module."""
    sys.path.insert(0, str(DOCS))
    try:
        return importlib.import_module("generate")
    finally:
        sys.path.pop(0)


def test_reference_pages_are_up_to_date():
    """docs/reference and the heads of docs/findings are what docs/generate.py writes."""
    generate = generator()
    stale = [n for n, page in generate.PAGES.items() if read(DOCS / "reference" / n) != page()]
    stale += [c for c in CODES if not read_finding(c).startswith(generate.head_finding(c))]
    assert stale == [], "run python docs/generate.py"


def read_finding(code: str) -> str:
    """Return the page of a finding code, empty where there is none."""
    page = DOCS / "findings" / f"{code}.md"
    return page.read_text(encoding="utf-8") if page.exists() else ""


@pytest.mark.parametrize("table", [*INPUTS, *LAYERS, CHANGES, LOST_COVER], ids=lambda t: t.name)
def test_every_table_and_column_is_documented(table):
    """Its section has a row for each column, with its type and its meaning."""
    text = section("tables.md", table.name)
    assert table.meaning in text
    assert [
        c.name for c in table.columns if f"| `{c.name}` | {c.type} | {c.meaning}" not in text
    ] == []


def test_every_column_of_a_record_is_declared():
    """A layer has no column beside those of its table, unless the field files brought it."""
    layers = wiremap.build_asbuilt(wiremap.read_property(ROOT / "data/hollow-oak-garden")).layers
    for table in LAYERS:
        known = {*table.column_names, "geometry"}
        known |= set(LOCATES_IN.column_names) if table.name == "locates" else set()
        assert set(layers[table.name]) <= known, table.name


@pytest.mark.parametrize("name", sorted(COMMANDS))
def test_every_command_and_option_is_documented(name):
    """Its section has its help, and each argument and option with theirs."""
    text = section("commands.md", f"wiremap {name}")
    command = COMMANDS[name]
    assert command.help in text
    for parameter in command.params:
        assert parameter.help, f"{parameter.name} has no help"
        for spelling in (*parameter.opts, *parameter.secondary_opts):
            shown = spelling if spelling.startswith("-") else spelling.upper()
            assert f"`{shown}`" in text
    assert any(f"wiremap {name}" in body for _, body in blocks("sh", "console", "bash")), (
        "no page shows it at work"
    )


def settings_keys(kind: type[BaseModel], name: str) -> list[tuple[str, str]]:
    """Return every section and key of property.toml."""
    found = []
    for key, field in kind.model_fields.items():
        default = field.get_default(call_default_factory=True)
        inner = type(default) if isinstance(default, BaseModel) else None
        found += settings_keys(inner, f"{name}.{key}".strip(".")) if inner else [(name, key)]
    return found


def test_every_setting_is_documented():
    """Each key stands in the section that it is written into."""
    for name, key in settings_keys(Settings, ""):
        if name:
            assert f"| `{key}` |" in section("settings.md", f"[{name}]"), f"{name}.{key}"
        else:
            assert section("settings.md", f"[{key}]").strip(), key
    for key in FileSection.model_fields:
        assert f"| `{key}` |" in section("settings.md", "[files]"), f"files.{key}"


def test_every_choice_of_a_setting_is_documented():
    """Where a key takes one of some words, the row of a key of that name lists them."""
    page = read(DOCS / "reference" / "settings.md")
    kinds_of_section = Settings.model_json_schema()["$defs"].values()
    keys = {k: v for kind in kinds_of_section for k, v in kind.get("properties", {}).items()}
    chosen = {key: value["enum"] for key, value in keys.items() if "enum" in value}
    assert {"length_unit", "tone_scale", "paper", "scale"} <= set(chosen)
    for key, words in chosen.items():
        rows = [line for line in page.splitlines() if line.startswith(f"| `{key}` |")]
        assert any(all(f'`"{word}"`' in row for word in words) for row in rows), key


def test_every_format_is_documented():
    """Each reader and writer has a row with its endings, and a section with its docstring."""
    for group, word in ((READERS, "read"), (WRITERS, "written")):
        for name, item in registry(group).formats.items():
            endings = ", ".join(f"`{suffix}`" for suffix in item.suffixes)
            assert f"| [`{name}`](#format-" in read(DOCS / "reference" / "formats.md")
            assert endings in section("formats.md", f"Files that are {word}")
            work = item.read if group == READERS else item.write
            assert f"{work.__module__}.{work.__qualname__}" in section(
                "formats.md", f"{name} {word}"
            )


def test_every_requirement_is_documented():
    """Each profile has a section, each of its items a row with its source."""
    for name in wiremap.list_profiles():
        profile = wiremap.read_profile(name)
        text = section("requirements.md", name)
        assert [
            i.id for i in profile.items if f"| `{i.id}` | {i.says} | {profile.cite(i)}" not in text
        ] == []


def test_every_check_of_a_profile_is_documented():
    """Each check has a row with its limits."""
    text = section("requirements.md", "Checks")
    for name, check in CHECKS.items():
        row = next(line for line in text.splitlines() if line.startswith(f"| `{name}` |"))
        assert all(f"`{limit}`" in row for limit in [*inspect.signature(check).parameters][1:])


def test_every_public_name_is_documented():
    """Each name of wiremap.__all__ has a directive, and a docstring for it where it can."""
    text = read(DOCS / "reference" / "api.md")
    shown = re.findall(r"^\.\. (?:auto\w+|py:data):: wiremap\.(\w+)$", text, flags=re.MULTILINE)
    assert sorted(shown) == sorted(wiremap.__all__)
    named = [getattr(wiremap, name) for name in wiremap.__all__]
    assert [n for n in named if callable(n) and not n.__doc__] == []


def test_every_formula_is_documented():
    """Each module of wiremap.formulas is on the page."""
    text = read(DOCS / "reference" / "formulas.md")
    modules = [p.stem for p in (ROOT / "wiremap" / "formulas").glob("[a-z]*.py")]
    assert [m for m in modules if f".. automodule:: wiremap.formulas.{m}\n" not in text] == []


def test_every_word_of_a_closed_set_has_a_meaning():
    """No kind is listed without saying what it is."""
    rows = re.findall(
        r"^\| `(\w+)` \| (.*) \|$", read(DOCS / "reference" / "kinds.md"), re.MULTILINE
    )
    assert [word for word, meaning in rows if not meaning.strip()] == [], (
        "add it to docs/kinds.toml"
    )
    assert {str(f) for f in kinds.Feature} <= {word for word, _ in rows}


@pytest.mark.parametrize("code", CODES)
def test_every_finding_has_a_page_that_says_something(code):
    """How it comes about, why it matters, what to do: each in words of its own."""
    text = read_finding(code)
    assert f"(../findings/{code}.md)" in read(DOCS / "reference" / "findings.md")
    parts = re.split(r"^## (.+)$", text, flags=re.MULTILINE)
    assert parts[1::2] == ["How it comes about", "Why it matters", "What to do"]
    assert [part for part in parts[2::2] if len(part) < 60] == []
    assert len(text) > 500


def test_no_two_findings_say_the_same():
    """No sentence stands on two pages, and there is no page of a code that is gone."""
    pages = sorted((DOCS / "findings").glob("*.md"))
    assert [p.stem for p in pages] == sorted(CODES)
    mark = generator().MARK
    texts = [" ".join(read(page).partition(mark)[2].split()) for page in pages]
    sentences = [
        s for text in texts for s in re.split(r"(?<=\.) |## [A-Z][a-z ]+", text) if len(s) > 60
    ]
    assert [s for s in set(sentences) if sentences.count(s) > 1] == []


def test_defaults_that_the_pages_name_are_the_defaults():
    """``min_cut_angle_deg (20 degrees unless set)`` is what the settings say."""
    flat = dict(_flatten(Settings()))
    said = []
    for page in SITE:
        text = " ".join(read(page).split())
        for key, number, unit in re.findall(
            r"`(\w+)`[^`.]{0,40}?(\d+(?:\.\d+)?) ?(kilohm)?[^`.]{0,30}unless set", text
        ):
            said.append(key)
            assert float(number) * (1000 if unit else 1) == pytest.approx(flat[key]), (
                page.name,
                key,
            )
    assert len(said) >= 8


def _flatten(model: BaseModel):
    for key, value in model:
        yield from _flatten(value) if isinstance(value, BaseModel) else [(key, value)]


@pytest.mark.parametrize(("page", "body"), number(blocks("toml", "{code-block}")))
def test_settings_that_the_pages_show_are_known(page, body, tmp_path):
    """A block of property.toml is read without a word; other TOML parses."""
    body = re.sub(r"\A:caption: \S+\n\n", "", body)
    if "=" not in body:  # a table of rows in a tutorial
        return
    found = tomllib.loads(body)
    if "items" in found:
        (tmp_path / "profile.toml").write_text(body, encoding="utf-8")
        for item in wiremap.read_profile(str(tmp_path / "profile.toml")).items:
            inspect.signature(CHECKS[item.check]).bind(None, **item.limits)
        return
    if not set(found) <= set(Settings.model_fields):
        assert "[project." in body
        return
    (tmp_path / "property.toml").write_text(body, encoding="utf-8")
    assert [f.message for f in read_settings(tmp_path).findings] == []


def shown_commands() -> list[tuple[str, str]]:
    """Return every line of the pages that calls wiremap."""
    lines = []
    for page, body in blocks("sh", "console", "bash", "text"):
        for line in body.replace("\\\n", " ").splitlines():
            found = re.match(r"(?:\$ |[A-Z_]+=\S+ )*(?:\S*/)?wiremap (.+)", line)
            if found:
                lines.append((page, re.split(r"\s+#|;|\|", found[1])[0]))
    return lines


def test_commands_that_the_pages_show_can_be_called():
    """Every command, option, format and profile that stands in a block exists."""
    formats = {*registry(WRITERS).formats, "valve-list"}  # the one that a page teaches to write
    profiles = set(wiremap.list_profiles())
    lines = shown_commands()
    assert len(lines) > 40
    for page, line in lines:
        if "[OPTIONS]" in line or line.startswith("COMMAND"):
            continue
        name, *words = shlex.split(line)
        assert name in COMMANDS, f"{page}: {line}"
        known = {o for p in COMMANDS[name].params for o in (*p.opts, *p.secondary_opts)} | {
            "--help"
        }
        assert [w for w in words if w.startswith("-") and w not in known] == [], f"{page}: {line}"
        for option, value in pairwise(words):
            assert option != "--format" or value in formats, f"{page}: {line}"
            assert option != "--profile" or value in profiles or value.endswith(".toml"), line


@pytest.mark.parametrize(("page", "body"), number(blocks("python")))
def test_python_that_the_pages_show_compiles_and_names_what_is_there(page, body):
    """Every name taken from wiremap, by attribute or import, exists."""
    for node in ast.walk(ast.parse(body)):
        if isinstance(node, ast.Attribute) and getattr(node.value, "id", "") == "wiremap":
            assert hasattr(wiremap, node.attr), f"{page}: wiremap.{node.attr}"
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("wiremap"):
            module = importlib.import_module(node.module)
            assert [a.name for a in node.names if not hasattr(module, a.name)] == [], page


def test_parts_of_the_package_that_the_pages_name_are_there():
    """``wiremap.read.files.MOST_COLUMNS`` is a module, or something in one."""
    groups = {READERS, WRITERS}
    named = {
        (name_page(page), name)
        for page in PAGES
        for name in re.findall(r"`(wiremap(?:\.\w+)+)`", read(page))
        if name not in groups
    }
    assert len(named) > 10
    for page, name in named:
        home, _, last = name.rpartition(".")
        found = hasattr(importlib.import_module(home), last) or importlib.util.find_spec(name)
        assert found, f"{page}: {name}"


def slugs(path: Path) -> set[str]:
    """Return the anchors of a page: its headings as a repository browser and the site name them."""
    text = FENCE.sub("", read(path))
    heads = re.findall(r"^#+ (.+)$", text, flags=re.MULTILINE)
    made = {re.sub(r"[^\w\- ]", "", head.lower()).replace(" ", "-") for head in heads}
    return made | set(re.findall(r"^\((\S+)\)=$", text, flags=re.MULTILINE))


@pytest.mark.parametrize("page", PAGES, ids=name_page)
def test_links_lead_somewhere(page):
    """Every relative link names a file that is there, and an anchor that is in it."""
    for target in re.findall(r"\]\((?!https?:)([^)\s]+)\)", FENCE.sub("", read(page))):
        name, _, anchor = target.partition("#")
        there = (page.parent / name) if name else page
        assert there.exists(), target
        assert not anchor or anchor in slugs(there), target


def test_every_page_stands_in_the_site():
    """From the first page every other one is reached by the tables of contents."""
    seen, waiting = set(), [DOCS / "index.md"]
    while waiting:
        page = waiting.pop()
        seen.add(page)
        for word, body in [(w, b) for _, _, w, b in FENCE.findall(read(page)) if w == "{toctree}"]:
            entries = [line for line in body.splitlines() if line and not line.startswith(":")]
            targets = [(page.parent / f"{e}.md").resolve() for e in entries]
            waiting += [t for t in targets if t.exists() and t not in seen]
            assert word == "{toctree}"
    assert sorted(map(name_page, set(SITE) - seen)) == []


def test_scripts_that_the_pages_name_are_there():
    """``python tests/accuracy_table.py`` can be called; each table of figures names its command."""
    for page in PAGES:
        for script in re.findall(r"python ((?:tests|docs|examples)/\S+?\.py)", read(page)):
            assert (ROOT / script).exists(), f"{name_page(page)}: {script}"
    for name in ("accuracy", "faults", "speed", "security"):
        text = re.sub(r"<!--.*?-->", "", read(DOCS / "explanation" / f"{name}.md"), flags=re.DOTALL)
        assert re.search(r"`python tests/\S+\.py", text), name


def test_the_caution_stands_where_people_start():
    """README, the first page, limits and the dig buffer say advisory, 811 and other utilities."""
    for page in ("README.md", "docs/index.md", "docs/explanation/limits.md"):
        text = read(ROOT / page)
        assert all(
            word in text for word in ("Advisory only", "811", "ther utilities are not shown")
        )
    assert "not a utility locate" in read(DOCS / "howto" / "dig-buffer.md")


def test_the_readme_opens_with_the_job():
    """One paragraph says what goes in, what comes out and who has it, before anything else."""
    first = read(ROOT / "README.md").split("\n\n")[1]
    assert all(w in first for w in ("valve wire", "depth", "as-built", "dig buffer"))
    assert not first.startswith(("#", "!", "["))


def test_the_site_is_built_with_warnings_as_errors():
    """.ci/run builds it, and the configuration fetches nothing."""
    ci = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    assert re.search(r"sphinx-build -W --keep-going .*docs docs/_build/site", ci)
    configuration = (DOCS / "conf.py").read_text(encoding="utf-8")
    assert not {"intersphinx", "http:", "https:"} & set(
        re.findall(r"intersphinx|https?:", configuration)
    )
