"""Visits: the rows of a season in one order, whatever order the files came in.

Reads table ``locates_in``; returns it with the visit of each row, before anything is checked.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd

from wiremap.model.cells import source_of, texts
from wiremap.model.findings import Finding
from wiremap.model.kinds import Severity

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Texts = NDArray[np.object_]
    Ints = NDArray[np.int64]

AGAIN = "@"
"""Stands between an identifier and the day on which the feature was seen again."""


class Visits(NamedTuple):
    """What `arrange_visits` returns.

    Attributes
    ----------
    locates : DataFrame
        Table ``locates_in``, oldest visit first. Where there are several visits: with the further
        column ``visit`` (day, empty where no row of the file has a date), and ``label`` where an
        identifier was used on several of them.
    findings : list of Finding
    """

    locates: pd.DataFrame
    findings: list[Finding]


def arrange_visits(locates: pd.DataFrame) -> Visits:
    """Return field locates visit by visit, so that the order of the files does not matter.

    1. A row without a date belongs to the visit of the row before it in its file.
    2. Visits follow each other by day, files of one day by name; rows of a file keep their order.
       Files without any date come first.
    3. An identifier that a later visit uses again names the same feature, seen again: the row
       keeps it as its label and gets the day behind its identifier.

    Parameters
    ----------
    locates : DataFrame, table ``locates_in``
        Columns point, pair, date, source_file.

    Returns
    -------
    Visits
        The same table where there is one visit, or none.

    Examples
    --------
    >>> from wiremap.model.tables import LOCATES_IN
    >>> days = ["2026-06-12", "2026-03-11"]
    >>> rows = LOCATES_IN.conform(pd.DataFrame({"point": ["V1", "V1"], "date": days}))
    >>> arrange_visits(rows).locates[["point", "label", "visit"]].to_numpy().tolist()
    [['V1', 'V1', '2026-03-11'], ['V1@2026-06-12', 'V1', '2026-06-12']]
    """
    file = pd.factorize(texts(locates, "source_file"), sort=True)[0]
    day, days = _days(locates, file)
    if len(days) < 2:  # noqa: PLR2004 - several
        return Visits(locates, [])
    order = np.lexsort((np.arange(len(day)), file, day))
    arranged = locates.take(order).reset_index(drop=True)
    day = day[order]
    visit = days[day]
    arranged["visit"] = pd.array(visit, dtype="str")
    return Visits(arranged, _mark_repeats(arranged, day, visit))


def _days(locates: pd.DataFrame, file: Ints) -> tuple[Ints, Texts]:
    """Return the number of each row's day, in order of time, and the days."""
    code, written = pd.factorize(texts(locates, "date"))
    text = np.array([str(date)[:10] for date in written], dtype=object)
    day = text[code] if len(text) else code.astype(object)
    blank = day == ""
    if blank.any() and not blank.all():
        known = pd.Series(day).mask(blank)
        within = known.groupby(file).ffill()
        day = within.fillna(known.groupby(file).bfill()).fillna("").to_numpy(dtype=object)
    number, days = pd.factorize(day, sort=True)
    return number.astype(np.int64), np.asarray(days, dtype=object)


def _mark_repeats(arranged: pd.DataFrame, day: Ints, visit: Texts) -> list[Finding]:
    """Give later sights of one identifier the day behind it, all of them a label."""
    point = texts(arranged, "point")
    shared = arranged["point"].duplicated(keep=False).to_numpy() & (point != "")
    if not shared.any():
        return []
    code, _ = pd.factorize(point)
    first = np.full(int(code.max()) + 1, np.iinfo(np.int64).max)
    np.minimum.at(first, code, day)
    again = shared & (day > first[code])
    if not again.any():
        return []
    several = np.isin(code, code[again])
    label = texts(arranged, "label")
    label = np.where(several & (label == ""), point, label)
    arranged["label"] = pd.Series(label, dtype="str").mask(label == "")
    renamed = point.copy()
    renamed[again] = [f"{p}{AGAIN}{d}" for p, d in zip(point[again], visit[again], strict=True)]
    _follow_pairs(arranged, point, visit, again, renamed)
    arranged["point"] = pd.Series(renamed, dtype="str").mask(renamed == "")
    return _report_repeats(arranged, again, visit)


def _follow_pairs(
    arranged: pd.DataFrame, point: Texts, visit: Texts, again: NDArray[np.bool_], renamed: Texts
) -> None:
    """Let an offset mark follow the path mark of its own visit."""
    pair = texts(arranged, "pair")
    if not (pair != "").any():
        return
    own = [point[again], visit[again]]
    new = pd.Series(renamed[again], index=pd.MultiIndex.from_arrays(own))
    new = new[~new.index.duplicated()]
    followed = new.reindex(pd.MultiIndex.from_arrays([pair, visit])).to_numpy(dtype=object)
    changed = pd.notna(followed)
    pair[changed] = followed[changed]
    arranged["pair"] = pd.Series(pair, dtype="str").mask(pair == "")


def _report_repeats(
    arranged: pd.DataFrame, again: NDArray[np.bool_], visit: Texts
) -> list[Finding]:
    """Return one note a visit that uses identifiers of earlier ones."""
    findings = []
    for day in np.unique(visit[again].astype(str)):
        rows = np.flatnonzero(again & (visit == day))
        row = arranged.iloc[int(rows[0])]
        text = (
            f"{len(rows)} rows of the visit of {day} carry point identifiers of earlier visits;"
            " they were taken as the same features seen again, and the day stands behind them,"
            f" such as {row['point']}."
        )
        advice = "Rename the points in the field file if they are others."
        source = source_of(row)
        findings.append(
            Finding(
                "duplicate-point", str(day), text, advice, Severity.NOTE, **source, column="point"
            )
        )
    return findings
