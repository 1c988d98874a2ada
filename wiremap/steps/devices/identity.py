"""Which located rows are one and the same device.

Reads rows of one kind of device as plain lists and arrays; returns a group number a row.
"""

from __future__ import annotations

import re
from collections import defaultdict
from itertools import combinations
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import shapely

from wiremap.formulas.repeats import chi_square_limit

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from numpy.typing import NDArray

_REPEAT = re.compile(
    r"^(?P<stem>.+?)(?:[\s._/-]+\d{1,4}|\s*\(\d{1,2}\)|[\s._-]*(?:repeat|rep|again|check|bis|r)\d*)$",
    re.IGNORECASE,
)
_CHI_SQUARE = float(chi_square_limit(2, confidence=0.9999))  # one device, if perhaps badly located


class Rows(NamedTuple):
    """Located rows of devices, one entry a row; empty text where a cell is missing.

    Attributes
    ----------
    name, zone, box, run, controller, visit, date : list of str
    turn : list of str
        Rows of one turn are different devices, unless they share a name: the visit, and for
        splices also the run that they were met from.
    xy : array, shape (n, 2)
        Positions in the metric plane.
    cov : array, shape (n, 2, 2)
        Their covariances.
    locate : array of int, shape (n,)
        Index of the row in the placed locates.
    """

    name: list[str]
    zone: list[str]
    box: list[str]
    run: list[str]
    controller: list[str]
    visit: list[str]
    date: list[str]
    turn: list[str]
    xy: NDArray[np.float64]
    cov: NDArray[np.float64]
    locate: NDArray[np.int64]


def match_rows(
    rows: Rows, *, rank: Callable[[Rows, int, int, bool], int | None], size_m: float
) -> list[int]:
    """Return a group number for every row: rows of one device share it.

    Pairs are joined from the surest to the least sure. Apart from rows that share a name, a
    group takes one row a turn, and never two different zones.

    Parameters
    ----------
    rows : Rows
    rank : callable
        ``rank(rows, i, j, near)``: how sure it is that two rows are one device, 0 surest, None
        where they are not. `near` says that they stand within their combined uncertainty.
    size_m : float
        How far apart two marks on one such device may stand, one standard deviation.

    Returns
    -------
    list of int
        Counted from 0 in the order of first appearance.
    """
    near = _near_pairs(rows.xy, rows.cov + size_m**2 * np.eye(2))
    ranked = []
    for i, j in {*near, *_named_alike(rows)}:
        sureness = rank(rows, i, j, (i, j) in near)
        if sureness is not None:
            apart = float(np.hypot(*(rows.xy[i] - rows.xy[j])))
            ranked.append((sureness, apart, i, j))
    members = {i: [i] for i in range(len(rows.name))}
    leader = list(range(len(rows.name)))
    for sureness, _, i, j in sorted(ranked):
        a, b = sorted((leader[i], leader[j]))
        if a != b and (sureness == 0 or _may_join(rows, members[a], members[b], sureness)):
            members[a] += members.pop(b)
            for k in members[a]:
                leader[k] = a
    number = {group: n for n, group in enumerate(sorted(members))}
    return [number[group] for group in leader]


def valve_rank(rows: Rows, i: int, j: int, near: bool) -> int | None:  # noqa: FBT001 - a callback
    """Return how sure two valve rows are one valve; see `match_rows`.

    0 same name; 1 the name repeated with a suffix; 2 same box and zone on another visit; 3 same
    zone and place on another visit; 4 same run and place on another visit.

    Parameters
    ----------
    rows : Rows
    i, j : int
        The two rows.
    near : bool
        Whether they stand within their combined uncertainty.

    Returns
    -------
    int or None
    """
    if rows.name[i] == rows.name[j]:
        return 0
    if not (_agree(rows.zone, i, j) and _agree(rows.box, i, j)):
        return None
    if _repeats_name(rows, i, j) and (near or _share(rows.zone, i, j)):
        return 1
    if rows.visit[i] == rows.visit[j]:
        return None
    if _share(rows.box, i, j) and _share(rows.zone, i, j):
        return 2
    if near and _share(rows.zone, i, j):
        return 3
    return 4 if near and _share(rows.run, i, j) else None


def splice_rank(rows: Rows, i: int, j: int, near: bool) -> int | None:  # noqa: FBT001 - a callback
    """Return how sure two splice rows are one splice; see `match_rows`.

    0 same name; 1 the name repeated with a suffix; 2 same place, met on another visit or from
    another run.

    Parameters
    ----------
    rows : Rows
    i, j : int
        The two rows.
    near : bool
        Whether they stand within their combined uncertainty.

    Returns
    -------
    int or None
    """
    if rows.name[i] == rows.name[j]:
        return 0
    if not (near and _agree(rows.box, i, j)):
        return None
    if _repeats_name(rows, i, j):
        return 1
    other_run = rows.run[i] != rows.run[j] and rows.run[i] and rows.run[j]
    return 2 if rows.visit[i] != rows.visit[j] or other_run else None


def equipment_rank(rows: Rows, i: int, j: int, near: bool) -> int | None:  # noqa: FBT001 - a callback
    """Return how sure two rows are one item; see `match_rows`. Their kind stands in `zone`.

    Parameters
    ----------
    rows : Rows
    i, j : int
        The two rows.
    near : bool
        Whether they stand within their combined uncertainty.

    Returns
    -------
    int or None
        0 same name and kind; 1 same kind and place, on another visit or under a repeated name.
    """
    if rows.zone[i] != rows.zone[j]:
        return None
    if rows.name[i] == rows.name[j]:
        return 0
    again = rows.visit[i] != rows.visit[j] or _repeats_name(rows, i, j)
    return 1 if near and again else None


def controller_rank(rows: Rows, i: int, j: int, near: bool) -> int | None:  # noqa: FBT001 - a callback
    """Return how sure two rows are one controller; see `match_rows`. Its name stands in `zone`.

    Parameters
    ----------
    rows : Rows
    i, j : int
        The two rows.
    near : bool
        Whether they stand within their combined uncertainty.

    Returns
    -------
    int or None
        0 same name; 1 one place, and not two names.
    """
    if rows.name[i] == rows.name[j]:
        return 0
    return 1 if near and _agree(rows.zone, i, j) else None


def stem_of(name: str) -> str:
    """Return a name without the suffix that marks a repeated locate; the name where it has none.

    Parameters
    ----------
    name : str

    Returns
    -------
    str

    Examples
    --------
    >>> stem_of("V3-2"), stem_of("V3 (2)"), stem_of("V12"), stem_of("V3 repeat")
    ('V3', 'V3', 'V12', 'V3')
    """
    match = _REPEAT.match(name)
    return match["stem"] if match else name


def _repeats_name(rows: Rows, i: int, j: int) -> bool:
    """Whether one name is the other with a suffix."""
    a, b = rows.name[i], rows.name[j]
    return stem_of(a) == b or stem_of(b) == a


def _share(values: list[str], i: int, j: int) -> bool:
    return bool(values[i]) and values[i] == values[j]


def _agree(values: list[str], i: int, j: int) -> bool:
    return not values[i] or not values[j] or values[i] == values[j]


def _may_join(rows: Rows, a: list[int], b: list[int], sureness: int) -> bool:
    zones = [{rows.zone[k] for k in group} - {""} for group in (a, b)]
    if zones[0] and zones[1] and not zones[0] & zones[1]:
        return False
    return sureness == 1 or not ({rows.turn[k] for k in a} & {rows.turn[k] for k in b})


def _named_alike(rows: Rows) -> Iterator[tuple[int, int]]:
    """Yield the pairs that share a name, or a box and zone, or repeat a name with a suffix."""
    named: dict[str, int] = {}
    boxed: dict[tuple[str, str], list[int]] = defaultdict(list)
    for i, (name, zone, box) in enumerate(zip(rows.name, rows.zone, rows.box, strict=True)):
        if name in named:
            yield named[name], i
        named.setdefault(name, i)
        if zone and box:
            boxed[box, zone].append(i)
    for i, name in enumerate(rows.name):
        first = named.get(stem_of(name), i)
        if first != i:
            yield min(first, i), max(first, i)
    for group in boxed.values():
        yield from combinations(group, 2)


def _near_pairs(xy: NDArray[np.float64], cov: NDArray[np.float64]) -> set[tuple[int, int]]:
    """Return the pairs that stand within their combined uncertainty (chi-square 0.9999)."""
    if len(xy) < 2:  # noqa: PLR2004 - a pair
        return set()
    variance = cov[:, 0, 0] + cov[:, 1, 1]
    points = shapely.points(xy)
    reach = np.sqrt(_CHI_SQUARE * (variance + variance.max()))
    i, j = shapely.STRtree(points).query(points, predicate="dwithin", distance=reach)
    i, j = i[i < j], j[i < j]
    (dx, dy), both = (xy[i] - xy[j]).T, cov[i] + cov[j]
    xx, xy_, yy = both[:, 0, 0], both[:, 0, 1], both[:, 1, 1]
    chi2 = (yy * dx**2 - 2 * xy_ * dx * dy + xx * dy**2) / (xx * yy - xy_**2)
    near = chi2 <= _CHI_SQUARE
    return set(zip(i[near].tolist(), j[near].tolist(), strict=True))
