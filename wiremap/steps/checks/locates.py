"""Hold field locates against the rules of the contract.

Reads ``locates_in``; returns it with every row that can be used, each cell that cannot be true
emptied, and a finding for everything changed or set aside.
"""

from __future__ import annotations

import difflib
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from wiremap.model.cells import source_of
from wiremap.model.findings import Finding
from wiremap.model.kinds import ON_WIRE, Feature, Severity
from wiremap.model.tables import LOCATES_IN
from wiremap.steps.checks.duplicates import MARK, name_points, part_duplicates
from wiremap.steps.checks.limits import hold_limits
from wiremap.steps.checks.reports import filled, report_rows, text_of

if TYPE_CHECKING:
    import pandas as pd

    from wiremap.model.settings import Settings

WORDS_REPORTED = 20
"""Unknown feature words that are reported one by one (project choice)."""


class Checked(NamedTuple):
    """Locates that can be used, and what was found."""

    locates: pd.DataFrame
    findings: list[Finding]


def check_locates(locates: pd.DataFrame, *, settings: Settings) -> Checked:
    """Return the locates that can be used, and findings for all that was changed or set aside.

    Parameters
    ----------
    locates : DataFrame
        Table ``locates_in``.
    settings : Settings
        `locating.tone_scale` is used.

    Returns
    -------
    Checked
        `locates`: table ``locates_in``, index counted from 0. Every row that came in is in it,
        or is named by a finding. A point without identifier is called after its file and row; an
        identifier used twice with other content gets ``~2`` behind it; exact repeats are set
        aside. Numbers outside their limits are emptied. Rows of one wire without a run's name
        are joined under their zone's or file's name.

    Examples
    --------
    >>> from wiremap.model.settings import Settings
    >>> checked = check_locates(LOCATES_IN.empty(), settings=Settings())
    >>> len(checked.locates), checked.findings
    (0, [])
    """
    work = locates.reset_index(drop=True)
    findings: list[Finding] = []
    work["feature"], found = _settle_features(work)
    findings += found
    work["point"], found = name_points(work)
    findings += found
    work, found = part_duplicates(work)
    findings += found
    work, found = hold_limits(work, settings=settings)
    findings += found
    findings += _clear_offsets(work)
    findings += _check_pairs(work)
    work["run"], found = _name_runs(work)
    findings += found
    return Checked(LOCATES_IN.conform(work), findings)


def _settle_features(work: pd.DataFrame) -> tuple[pd.Series, list[Finding]]:
    """Take rows that carry a run or a depth pair as path marks; report unknown words."""
    lowered = work["feature"].str.lower()
    named = filled(lowered)
    known = lowered.isin([str(f) for f in Feature]).to_numpy()
    if known.all():
        return lowered, []
    feature = lowered.where(known, work["feature"])
    pairs = work[["offset_left_m", "offset_right_m"]].notna().any(axis=1).to_numpy()
    traced = filled(work["run"]) | pairs
    findings = _report_unknown(work, np.flatnonzero(named & ~known))
    text = "The row names no feature; it is kept but not used."
    silent = np.flatnonzero(~named & ~traced)
    findings += report_rows("unknown-feature", work, silent, text)
    as_path = ~named & traced
    if as_path.any():
        feature = feature.mask(as_path, str(Feature.PATH))
        text = (
            f"{as_path.sum()} rows name no feature; they were taken as path marks,"
            " for they carry a run or a depth pair."
        )
        file = text_of(work["source_file"].iloc[int(np.argmax(as_path))])
        note = Finding("unknown-feature", "feature", text, severity=Severity.NOTE, source_file=file)
        findings.append(note)
    return feature, findings


def _report_unknown(work: pd.DataFrame, rows: np.ndarray) -> list[Finding]:
    """Report words that are no feature, with the nearest one that is."""
    findings = []
    words = work["feature"].iloc[rows]
    for word in words.unique()[:WORDS_REPORTED]:
        near = next(iter(difflib.get_close_matches(word.lower()[:40], list(Feature), n=1)), "")
        hint = f"Write {near} if that was meant" if near else "Use a feature of the contract"
        advice = f"{hint}, or map the word under [features] in property.toml."
        text = "The feature is none that wiremap knows, got {value}; the row is kept but not used."
        same = rows[(words == word).to_numpy()]
        findings += report_rows(
            "unknown-feature", work, same, text, column="feature", advice=advice
        )
    left = rows[words.isin(words.unique()[WORDS_REPORTED:]).to_numpy()]
    text = "The feature is none that wiremap knows; the row is kept but not used."
    return findings + report_rows("unknown-feature", work, left, text, column="feature")


def _clear_offsets(work: pd.DataFrame) -> list[Finding]:
    """Empty depth pairs on rows that stand on no wire."""
    has_pair = work[["offset_left_m", "offset_right_m"]].notna().any(axis=1).to_numpy()
    if not has_pair.any():
        return []
    off_wire = work["feature"].isin([str(f) for f in Feature if f not in ON_WIRE]).to_numpy()
    broken = has_pair & off_wire
    if broken.any():
        work["offset_left_m"] = work["offset_left_m"].mask(broken)
        work["offset_right_m"] = work["offset_right_m"].mask(broken)
    text = "A depth pair belongs to a mark over the wire, got a {value}; the offsets were emptied."
    advice = "Put the offsets on the path mark that they were measured from."
    rows = np.flatnonzero(broken)
    return report_rows("bad-value", work, rows, text, column="feature", advice=advice)


def _check_pairs(work: pd.DataFrame) -> list[Finding]:
    """Empty pairs that name no point; report offset marks that belong to none."""
    marks = (work["feature"] == str(Feature.OFFSET_MARK)).to_numpy(dtype=bool, na_value=False)
    named = filled(work["pair"])
    if not marks.any() and not named.any():
        return []
    there = work["pair"].isin(work["point"]).to_numpy()
    itself = (work["pair"] == work["point"]).to_numpy(dtype=bool, na_value=False)
    lost = named & (~there | itself)
    advice = "Write the point of the path mark that the offset was measured from."
    text = "pair must name another point of the property, got {value}; no depth comes from the row."
    found = report_rows("bad-value", work, np.flatnonzero(lost), text, column="pair", advice=advice)
    text = "An offset mark must name its path mark in pair; no depth comes from the row."
    found += report_rows("bad-value", work, np.flatnonzero(marks & ~named), text, advice=advice)
    work["pair"] = work["pair"].mask(lost)
    return found


def _name_runs(work: pd.DataFrame) -> tuple[pd.Series, list[Finding]]:
    """Give path marks without a run the name of their zone, else of their file."""
    is_path = (work["feature"] == str(Feature.PATH)).to_numpy(dtype=bool, na_value=False)
    nameless = is_path & ~filled(work["run"])
    if not nameless.any():
        return work["run"], []
    rows = work.loc[nameless]
    controller = rows["controller"].fillna("")
    by_zone = (controller + " zone " + rows["zone"]).str.strip()
    by_file = rows["source_file"].str.replace(r"^.*/|\.[^.]*$", "", regex=True).fillna("run")
    name = by_zone.fillna(by_file)
    taken = set(work["run"].dropna())
    own = {n: f"{n}{MARK}2" if n in taken else n for n in name.unique()}
    name = name.map(own)
    run = work["run"].astype(object)
    run[nameless] = name
    findings = []
    for group, members in rows.groupby(name, sort=False):
        first = members.iloc[0]
        joined = len(members) > 1
        text = (
            f"{len(members)} path marks name no run; they were joined as run {group!r}"
            " in the order of their rows."
            if joined
            else f"A path mark names no run; it was put on run {group!r}."
        )
        severity = None if joined else Severity.NOTE
        findings.append(
            Finding("run-without-name", str(group), text, severity=severity, **source_of(first))
        )
    return run.astype("str"), findings
