"""Which column of a file is which column of the contract.

Takes the names as written; gives matches. A name is tried as the owner mapped it, then as the
contract writes it, then by meaning. What matches nothing is kept under its own name.
"""

from __future__ import annotations

import difflib
import re
import unicodedata
from functools import cache
from typing import TYPE_CHECKING, Literal, NamedTuple

from wiremap.model import tables
from wiremap.model.units import METRES_PER_UNIT
from wiremap.read import synonyms

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from wiremap.model.columns import Table

_SYNONYMS = {
    "locates_in": {**synonyms.POSITIONS, **synonyms.LOCATES},
    "zone_list": synonyms.ZONE_LIST,
    "references_in": {**synonyms.POSITIONS, **synonyms.REFERENCES},
    "readings": synonyms.READINGS,
    "decisions": synonyms.DECISIONS,
}
_UNIT_WORDS = {
    **{unit: unit for unit in METRES_PER_UNIT},
    "metre": "m", "metres": "m", "meter": "m", "meters": "m", "centimetres": "cm",
    "centimeters": "cm", "millimetres": "mm", "millimeters": "mm", "foot": "ft", "feet": "ft",
    "inch": "in", "inches": "in", "usft": "ftus", "sft": "ftus", "usfeet": "ftus",
    "ussurveyfeet": "ftus", "ussurveyfoot": "ftus", "surveyfeet": "ftus",
}  # fmt: skip
_BRACKETS = re.compile(r"[(\[{]([^()\[\]{}]*)[)\]}]")
_LAST_WORD = re.compile(r"^(.*\S?)[\s_,./-]+([A-Za-z]+)\.?$")
PACKED = ("lat_lon", "lon_lat")
"""Targets that hold two coordinates in one cell."""
SIDES = ("lat_side", "lon_side")
"""Targets that hold the letter of a coordinate's hemisphere."""
RMS_PARTS = ("rms_east_m", "rms_north_m")
"""Targets that hold a position's RMS by axis."""


class Match(NamedTuple):
    """One column of a file and the table column it is; `unit` is empty where none is written."""

    source: str
    target: str
    unit: str
    how: Literal["set", "exact", "meaning"]


class _Name(NamedTuple):
    """A written name taken apart: its whole, the name without its unit, and the unit."""

    whole: str
    bare: str
    unit: str


def squeeze(name: str) -> str:
    """Return a name without case, accents, spaces and punctuation; ``#`` counts as ``no``.

    Parameters
    ----------
    name : str

    Returns
    -------
    str

    Examples
    --------
    >>> squeeze("Zone #"), squeeze("Pt. No"), squeeze("Elevación")
    ('zoneno', 'ptno', 'elevacion')
    """
    plain = unicodedata.normalize("NFKD", name.lower().replace("#", " no").replace("°", " deg"))
    return re.sub(r"[^a-z0-9]+", "", plain)


def is_unit(word: str) -> bool:
    """Return whether a word is a unit of length.

    Parameters
    ----------
    word : str

    Returns
    -------
    bool

    Examples
    --------
    >>> is_unit("ftUS"), is_unit("feet"), is_unit("P1")
    (True, True, False)
    """
    return squeeze(word) in _UNIT_WORDS


def _take_apart(written: str) -> _Name:
    written = written.strip()[:120]
    bracket = _BRACKETS.search(written)
    if bracket:
        bare = _BRACKETS.sub(" ", written)
        return _Name(squeeze(written), squeeze(bare), _UNIT_WORDS.get(squeeze(bracket[1]), ""))
    last = _LAST_WORD.match(written)
    unit = _UNIT_WORDS.get(last[2].lower(), "") if last else ""
    return _Name(squeeze(written), squeeze(last[1]) if last and unit else "", unit)


@cache
def _targets(table: Table) -> dict[str, str]:
    """Return the table's columns by squeezed contract name, with and without the unit."""
    found: dict[str, str] = {}
    for column in table.columns:
        if column.name in {"source_file", "source_row", "position_crs"}:
            continue
        bare = re.sub(r"_(m|deg)$", "", column.name) if column.type == "number" else column.name
        found[squeeze(bare)] = column.name
        if bare != column.name:
            found[squeeze(column.name)] = column.name
    return found


@cache
def _by_meaning(table: Table) -> dict[str, str]:
    """Return the table's column by each squeezed synonym; a word may stand for several."""
    exact = _targets(table)
    found: dict[str, str] = {}
    for name, words in _SYNONYMS[table.name].items():
        for word in words:
            found.setdefault(word, exact.get(squeeze(name), name))
    return found


def has_unit(target: str) -> bool:
    """Return whether a table column is a length, so that a written unit belongs to it.

    Parameters
    ----------
    target : str
        Name of a table column.

    Returns
    -------
    bool
    """
    return target.endswith("_m") or target in {"easting", "northing"}


def find_target(written: str, *, table: Table) -> tuple[str, str]:
    """Return the table column that a name of the contract stands for, and its unit.

    Parameters
    ----------
    written : str
        Such as ``depth``, ``depth_in``, ``Offset Left (ft)``.
    table : Table

    Returns
    -------
    target, unit : str
        Both empty where the contract has no such name; the unit is empty where none is written.

    Examples
    --------
    >>> find_target("Offset Left (in)", table=tables.LOCATES_IN)
    ('offset_left_m', 'in')
    """
    name, targets = _take_apart(written), _targets(table)
    if name.bare in targets and has_unit(targets[name.bare]) and name.unit:
        return targets[name.bare], name.unit
    if name.whole in targets:
        return targets[name.whole], ""
    if written in {*PACKED, *SIDES, *RMS_PARTS} and "lon" in table.column_names:
        return written, ""
    in_brackets = name.bare in targets and not name.unit
    return (targets[name.bare], "") if in_brackets else ("", "")


def match_columns(
    names: Sequence[str], *, table: Table, own: Mapping[str, str], is_geographic: bool
) -> list[Match]:
    """Return which columns of a file are which columns of a table.

    Parameters
    ----------
    names : sequence of str
        Column names as written in the file, each once.
    table : Table
        `LOCATES_IN`, `ZONE_LIST`, `REFERENCES_IN` or `READINGS`.
    own : mapping of str to str
        The owner's names: a file's column name to the contract's.
    is_geographic : bool
        Whether the file's positions are degrees, which ``X`` and ``Y`` are read by.

    Returns
    -------
    list of Match
        In the order of `names`; each target once. A name that matches nothing is not in it.

    Examples
    --------
    >>> match_columns(["Pt No", "Depth (in)"], table=tables.LOCATES_IN, own={}, is_geographic=True)
    [Match(source='Pt No', target='point', unit='', how='meaning'), \
Match(source='Depth (in)', target='depth_m', unit='in', how='exact')]
    """
    mapped = {key.strip(): value for key, value in own.items()}
    folded = {key.lower(): value for key, value in mapped.items()}
    found: dict[str, Match] = {}
    for name in names:
        bare = _BRACKETS.sub("", name).strip().lower()
        contract = mapped.get(name.strip()) or folded.get(name.strip().lower()) or folded.get(bare)
        if contract:
            target, unit = find_target(contract, table=table)
            if target:
                found.setdefault(target, Match(name, target, unit or _take_apart(name).unit, "set"))
    used = {match.source for match in found.values()}
    for name in names:
        target, unit = find_target(name, table=table)
        if name not in used and target:
            found.setdefault(target, Match(name, target, unit, "exact"))
    used = {match.source for match in found.values()}
    rest = [name for name in names if name not in used]
    for match in _guess(rest, table=table, taken=set(found), is_geographic=is_geographic):
        found[match.target] = match
    position = {name: place for place, name in enumerate(names)}
    return sorted(found.values(), key=lambda m: position[m.source])


def _guess(
    names: Sequence[str], *, table: Table, taken: set[str], is_geographic: bool
) -> list[Match]:
    """Match by meaning: for each column still free, its likeliest word that heads a column."""
    parted = {name: _take_apart(name) for name in names}
    free = dict(parted)
    found = []
    exact = _targets(table)
    words_of = dict(_SYNONYMS[table.name])
    known = {*exact, *_by_meaning(table)}
    if "lon" in words_of:
        words_of = _with_axes(words_of, is_geographic=is_geographic)
    for contract in words_of:
        target = exact.get(squeeze(contract), contract)
        is_surveyed = contract == "elevation" and {"easting", "northing"} <= taken
        words = words_of[contract] + (synonyms.SURVEYED_ELEVATION if is_surveyed else ())
        if target in taken or (target in PACKED and taken & {"lon", "lat", "easting"}):
            continue
        match = next((m for w in words if (m := _find_word(w, target, free))), None)
        match = match or _find_tail({squeeze(contract), *words}, target, free, known)
        if match:
            found.append(match)
            taken.add(target)
            del free[match.source]
    return found


def _with_axes(
    words_of: Mapping[str, tuple[str, ...]], *, is_geographic: bool
) -> dict[str, tuple[str, ...]]:
    x, y = ("lon", "lat") if is_geographic else ("easting", "northing")
    axes = {x: (*words_of[x], "x", "coordx"), y: (*words_of[y], "y", "coordy")}
    return {**words_of, **axes}


def _find_word(word: str, target: str, free: Mapping[str, _Name]) -> Match | None:
    for source, name in free.items():
        if name.whole == word:
            return Match(source, target, "", "meaning")
        if name.bare == word and (has_unit(target) or not name.unit):
            return Match(source, target, name.unit, "meaning")
    return None


def _find_tail(
    words: set[str], target: str, free: Mapping[str, _Name], known: set[str]
) -> Match | None:
    """Match what stands behind the group that a form writes before a name: ``mark:Latitude``.

    A name that is itself a word for a column has no group: ``Lat/Long``, ``Date/Time``.
    """
    for source, name in free.items():
        group, _, tail = source.replace("/", ":").rpartition(":")
        is_group = len(squeeze(group)) > 1 and name.whole not in known and " " not in source
        if is_group and squeeze(tail) in words:
            return Match(source, target, "", "meaning")
    return None


@cache
def is_number_name(name: str) -> bool:
    """Return whether a column so headed holds numbers in every table that knows the name.

    Parameters
    ----------
    name : str

    Returns
    -------
    bool
        False for a name that no table knows.

    Examples
    --------
    >>> is_number_name("offset_left_m"), is_number_name("point"), is_number_name("box")
    (True, False, False)
    """
    types = set()
    for table in tables.INPUTS:
        target = find_target(name, table=table)[0] or _by_meaning(table).get(squeeze(name), "")
        types |= {c.type for c in table.columns if c.name == target}
    return types == {"number"}


def nearest_target(written: str, *, table: Table) -> str:
    """Return the contract name that a name most likely means, or an empty text.

    Parameters
    ----------
    written : str
    table : Table

    Returns
    -------
    str

    Examples
    --------
    >>> nearest_target("Elevaton", table=tables.LOCATES_IN)
    'elevation_m'
    >>> nearest_target("Site-East", table=tables.LOCATES_IN)
    'easting'
    """
    name = _take_apart(written)
    known = {**_by_meaning(table), **_targets(table)}
    words = [squeeze(word) for word in re.split(r"[\s_:/.-]+", written[:120])]
    if len(words) > 1 and len(words[-1]) > 1 and words[-1] in known:
        return known[words[-1]]  # "Site-East" is an easting before it is anything alike
    for text in (name.whole, name.bare):
        close = difflib.get_close_matches(text, known, n=1, cutoff=0.7) if text else []
        if close:
            return known[close[0]]
    return ""


def suggest_mapping(names: Sequence[str], *, table: Table, matches: Sequence[Match]) -> str:
    """Return a line to paste at the top of property.toml that maps the columns of a file.

    Parameters
    ----------
    names : sequence of str
        Column names as written.
    table : Table
    matches : sequence of Match
        What was matched already.

    Returns
    -------
    str
        ``columns = { "file's name" = "contract's name" }`` with the best guess for each column,
        or ``?`` where there is none.

    Examples
    --------
    >>> suggest_mapping(["Elevaton"], table=tables.LOCATES_IN, matches=[])
    'columns = { "Elevaton" = "elevation" }'
    """
    matched = {m.source: m.target for m in matches}
    taken = set(matched.values())
    pairs = []
    for name in names[:40]:
        guess = matched.get(name) or nearest_target(name, table=table)
        guess = "" if name not in matched and guess in taken else guess
        taken.add(guess)
        contract = re.sub(r"_(m|deg)$", "", guess) or "?"
        quoted = name[:60].replace("\\", "\\\\").replace('"', '\\"')
        pairs.append(f'"{quoted}" = "{contract}"')
    return "columns = { " + ", ".join(pairs) + " }"
