"""Which located rows are one and the same device.

Reads rows of one kind of device as plain lists and arrays; returns a group number a row.
"""

from __future__ import annotations

import re
from collections import defaultdict
from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from wiremap.formulas.repeats import chi_square_limit

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from numpy.typing import NDArray

_REPEAT = re.compile(
    r"^(?P<stem>.+?)(?:[\s._/-]+\d{1,4}|\s*\(\d{1,2}\)|[\s._-]*(?:repeat|rep|again|check|bis|r)\d*)$",
    re.IGNORECASE,
)
MOST_NEIGHBOURS = 250
"""Rows of one kind that a row is held against, the nearest ones. Project choice: far more than
devices stand within reach of one position, so that only a flood of rows is cut short."""
_NEVER = 9  # beyond every rank
_AT_ONCE = 2_000  # rows whose neighbours are looked for together: bounds the memory
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
    one, other, near = _candidates(rows, size_m)
    ranks = [
        rank(rows, i, j, is_near)
        for i, j, is_near in zip(one.tolist(), other.tolist(), near.tolist(), strict=True)
    ]
    sureness = np.array([_NEVER if known is None else known for known in ranks], dtype=int)
    apart = np.hypot(*(rows.xy[one] - rows.xy[other]).T)
    order = np.lexsort((other, one, apart, sureness))
    order = order[sureness[order] < _NEVER]
    groups = {
        i: _Group([i], {zone} - {""}, {turn})
        for i, (zone, turn) in enumerate(zip(rows.zone, rows.turn, strict=True))
    }
    leader = list(range(len(rows.name)))
    for k, i, j in zip(
        sureness[order].tolist(), one[order].tolist(), other[order].tolist(), strict=True
    ):
        a, b = sorted((leader[i], leader[j]))
        if a != b and (k == 0 or _may_join(groups[a], groups[b], k)):
            for member in groups[b].members:
                leader[member] = a
            groups[a].take(groups.pop(b))
    number = {group: n for n, group in enumerate(sorted(groups))}
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


@lru_cache(maxsize=100_000)
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


class _Group(NamedTuple):
    """Rows that are one device so far, the zones they name, and the turns they were met in."""

    members: list[int]
    zones: set[str]
    turns: set[str]

    def take(self, other: _Group) -> None:
        """Take in the rows of another group."""
        self.members.extend(other.members)
        self.zones.update(other.zones)
        self.turns.update(other.turns)


def _may_join(a: _Group, b: _Group, sureness: int) -> bool:
    if a.zones and b.zones and a.zones.isdisjoint(b.zones):
        return False
    return sureness == 1 or a.turns.isdisjoint(b.turns)


def _candidates(
    rows: Rows, size_m: float
) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.bool_]]:
    """Return the pairs that may be one device, each once, and whether the two stand near."""
    count = len(rows.name)
    near = _near_pairs(rows.xy, rows.cov + size_m**2 * np.eye(2))
    alike = np.array([i * count + j for i, j in _named_alike(rows)], dtype=np.int64)
    pairs = _each_once(np.concatenate([near, alike]))
    is_near = np.zeros(len(pairs), dtype=bool)
    is_near[np.searchsorted(pairs, near)] = True
    return *np.divmod(pairs, max(count, 1)), is_near


def _each_once(values: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return values sorted, each once; numpy's own way is slow with many alike."""
    ordered = np.sort(values)
    return ordered[np.diff(ordered, prepend=-1) > 0]


def _named_alike(rows: Rows) -> Iterator[tuple[int, int]]:
    """Yield the pairs that share a name, or a box and zone, or repeat a name with a suffix."""
    named: dict[tuple[str, ...], int] = {}
    boxed: dict[tuple[str, str], list[int]] = defaultdict(list)
    for i, (name, zone, box) in enumerate(zip(rows.name, rows.zone, rows.box, strict=True)):
        for key in ((name,), (name, zone)):
            if key in named:
                yield named[key], i
            named.setdefault(key, i)
        if zone and box:
            boxed[box, zone].append(i)
    for i, (name, zone) in enumerate(zip(rows.name, rows.zone, strict=True)):
        stem = stem_of(name)
        for key in ((stem,), (stem, zone)):
            first = named.get(key, i)
            if first != i:
                yield min(first, i), max(first, i)
    for group in boxed.values():
        for one, other in _neighbours(rows.xy[group], np.inf):
            yield from zip(
                np.take(group, one).tolist(), np.take(group, other).tolist(), strict=True
            )


def _near_pairs(xy: NDArray[np.float64], cov: NDArray[np.float64]) -> NDArray[np.int64]:
    """Return the pairs that stand within their combined uncertainty (chi-square 0.9999).

    A pair of rows i < j of n is the number i * n + j.
    """
    if len(xy) < 2:  # noqa: PLR2004 - a pair
        return np.empty(0, dtype=np.int64)
    variance = cov[:, 0, 0] + cov[:, 1, 1]
    pairs = []
    for i, j in _neighbours(xy, float(np.sqrt(2 * _CHI_SQUARE * variance.max()))):
        (dx, dy), both = (xy[i] - xy[j]).T, cov[i] + cov[j]
        xx, xy_, yy = both[:, 0, 0], both[:, 0, 1], both[:, 1, 1]
        chi2 = (yy * dx**2 - 2 * xy_ * dx * dy + xx * dy**2) / (xx * yy - xy_**2)
        pairs.append((i * len(xy) + j)[chi2 <= _CHI_SQUARE])
    return _each_once(np.concatenate(pairs))


def _neighbours(
    xy: NDArray[np.float64], reach_m: float
) -> Iterator[tuple[NDArray[np.int64], NDArray[np.int64]]]:
    """Yield pairs of points, lower index first, each with the nearest within reach."""
    from scipy.spatial import cKDTree

    tree = cKDTree(xy)
    count = min(MOST_NEIGHBOURS + 1, len(xy))  # a point is its own nearest
    for start in range(0, len(xy), _AT_ONCE):
        part = xy[start : start + _AT_ONCE]
        _, found = tree.query(part, k=[*range(1, count + 1)], distance_upper_bound=reach_m)
        place, column = np.nonzero(found < len(xy))
        one, other = place + start, found[place, column]
        apart = one != other
        yield np.minimum(one, other)[apart], np.maximum(one, other)[apart]
