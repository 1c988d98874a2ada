"""Names for the columns of a raw table, so that no column is lost to a name that is taken."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from wiremap.plugins import Problem

if TYPE_CHECKING:
    from collections.abc import Sequence


_LONGEST_TITLE = 120


class Named(NamedTuple):
    """Names of a raw table's columns, each once, and what was wrong with them."""

    names: list[str]
    problems: list[Problem]


def gather_titles(rows: Sequence[Sequence[object]]) -> tuple[str, ...]:
    """Return the rows that stand above the header, each as one text.

    Parameters
    ----------
    rows : sequence of sequences
        Cells; None and empty ones are left out.

    Returns
    -------
    tuple of str

    Examples
    --------
    >>> gather_titles([["Maple Court", ""], ["Controller A", None]])
    ('Maple Court', 'Controller A')
    """
    filled = ([str(c).strip() for c in row if c is not None] for row in rows)
    return tuple(" ".join(cell for cell in row if cell)[:_LONGEST_TITLE] for row in filled)


def describe_titles(titles: Sequence[str]) -> list[str]:
    """Return the note on rows that stand above the header, if there are any.

    Parameters
    ----------
    titles : sequence of str

    Returns
    -------
    list of str
        Empty where the header stands first.

    Examples
    --------
    >>> describe_titles(["Maple Court"])
    ['1 row above the header was left aside: Maple Court']
    """
    if not titles:
        return []
    many = len(titles) > 1
    said = " / ".join(titles)[:_LONGEST_TITLE]
    count = f"{len(titles)} row{'s' * many} above the header {'were' if many else 'was'}"
    return [f"{count} left aside: {said}"]


def name_columns(cells: Sequence[str], *, width: int) -> Named:
    """Return a name for each column of a raw table.

    Parameters
    ----------
    cells : sequence of str
        Names as written; may be fewer than the columns.
    width : int
        Number of columns.

    Returns
    -------
    Named
        A column without a name is called ``column 3``; the second of two alike gets `` (2)``
        behind its name, with a problem that says so.

    Examples
    --------
    >>> name_columns(["point", "depth", "depth"], width=4).names
    ['point', 'depth', 'depth (2)', 'column 4']
    """
    names: list[str] = []
    problems: list[Problem] = []
    taken: set[str] = set()
    for position in range(max(width, len(cells))):
        written = " ".join(str(cells[position]).split())[:120] if position < len(cells) else ""
        name, copy = written or f"column {position + 1}", 2
        while name.lower() in taken:
            name, copy = f"{written} ({copy})", copy + 1
        if written and name != written:
            problems.append(
                Problem(
                    rule=f"the column stands twice; the later one was kept as {name!r}",
                    column=written,
                    remedy="give each column its own name",
                    code="read-note",
                )
            )
        taken.add(name.lower())
        names.append(name)
    return Named(names, problems)
