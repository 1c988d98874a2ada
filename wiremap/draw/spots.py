"""Places of labels that do not cover each other, nor a symbol, and as few wires as can be.

Labels are placed one after another, the most important first. Each has a list of spots, the
best first; the spot that covers nothing and costs least is taken. The same labels land in the
same places every time. Lengths are in any one unit: points on a sheet, units of a CAD drawing.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Generic, NamedTuple, Protocol, TypeVar

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

_WIRE_COST, _LEADER_COST = 1.6, 1.2
_SQUARE = 2.0  # side of a square of the grid, in lengths of the middle label


class Wanted(Protocol):
    """A text that wants a place near a point, or on a line."""

    @property
    def size(self) -> tuple[float, float]:
        """Width and height, with the clear space around."""

    @property
    def at(self) -> tuple[float, float]:
        """The point it belongs to."""

    @property
    def clear(self) -> float:
        """Half the size of the symbol at the point."""

    @property
    def step(self) -> float:
        """How far out the second ring of spots lies; each further one 1.6 times as far."""

    @property
    def rings(self) -> int:
        """How many rings: the first is beside the point, the others need a leader."""

    @property
    def spots(self) -> Floats | None:
        """Middles and angles (degrees) to choose from instead, on a line; (n, 3)."""

    @property
    def rank(self) -> int:
        """Lower is placed first."""

    @property
    def owner(self) -> str:
        """Run whose own wire it may cover."""

    @property
    def most_wires(self) -> int:
        """Other wires it may cover at most; rather than cover more it is left off."""


W = TypeVar("W", bound=Wanted)


class PlacedLabel(NamedTuple, Generic[W]):
    """A label with the middle of its place, whether it needs a leader, and covers a wire."""

    label: W
    middle: tuple[float, float]
    angle_deg: float
    has_leader: bool
    covers_wire: bool


class _Taken:
    """Places already given away, kept by the squares of a grid that they reach into."""

    def __init__(self, side: float) -> None:
        self._side = side
        self._boxes: list[Floats] = []
        self._shapes: list[Any] = []
        self._squares: dict[tuple[int, int], list[int]] = {}

    def _reached(self, low: Floats, high: Floats) -> Iterator[tuple[int, int]]:
        (left, bottom), (right, top) = (np.floor(xy / self._side).tolist() for xy in (low, high))
        columns, rows = range(int(left), int(right) + 1), range(int(bottom), int(top) + 1)
        return ((x, y) for x in columns for y in rows)

    def add(self, box: Floats, shape: Any) -> None:
        """Give a place away."""
        for square in self._reached(box[:2], box[2:]):
            self._squares.setdefault(square, []).append(len(self._boxes))
        self._boxes.append(box)
        self._shapes.append(shape)

    def near(self, low: Floats, high: Floats) -> tuple[Floats, NDArray[np.object_]]:
        """Return boxes and shapes of the places that may reach between two corners."""
        squares = self._reached(low, high)
        found = sorted({place for square in squares for place in self._squares.get(square, ())})
        boxes = np.array([self._boxes[place] for place in found]).reshape(-1, 4)
        return boxes, np.array([self._shapes[place] for place in found], dtype=object)


class Placement(NamedTuple, Generic[W]):
    """Labels that found a place, and those that did not."""

    placed: list[PlacedLabel[W]]
    left_off: list[W]


def place_labels(
    labels: Sequence[W],
    *,
    window: tuple[float, float, float, float],
    symbols: Floats,
    wires: Floats,
    wire_runs: NDArray[np.object_],
) -> Placement[W]:
    """Return where each label goes.

    1. Labels are taken by rank, then in the order given.
    2. A spot outside the window, over a symbol or over a placed label is no spot.
    3. Of the rest the cheapest is taken: each wire covered costs 1.6, each step outward 1.2.
    4. A label without a spot is left off and returned as such.

    Parameters
    ----------
    labels : sequence of Wanted
    window : tuple of float
        Left, bottom, right, top that labels must stay in.
    symbols : array of shape (n, 4)
        Boxes of what may not be covered.
    wires : array of shape (n, 4)
        Pieces of wire, from x, y to x, y.
    wire_runs : array of str, shape (n,)
        Run of each piece.

    Returns
    -------
    Placement

    Examples
    --------
    >>> from wiremap.draw.sheets.labels import Label
    >>> twice = [Label(("V1",), (50.0, 50.0), 8.0), Label(("V2",), (50.0, 50.0), 8.0)]
    >>> nothing = np.empty((0, 4))
    >>> found = place_labels(
    ...     twice, window=(0, 0, 100, 100), symbols=nothing, wires=nothing,
    ...     wire_runs=np.empty(0, object),
    ... )
    >>> len({place.middle for place in found.placed}), found.left_off
    (2, [])
    """
    import shapely

    tree = shapely.STRtree(shapely.linestrings(wires.reshape(-1, 2, 2))) if len(wires) else None
    lengths = [max(label.size) for label in labels]
    taken = _Taken(_SQUARE * float(np.median(lengths)) if lengths else 1.0)
    for box, shape in zip(symbols, shapely.box(*symbols.T), strict=True):
        taken.add(box, shape)
    placed, left_off = [], []
    for label in sorted(labels, key=lambda one: one.rank):
        found = _place(label, window=window, taken=taken, tree=tree, wire_runs=wire_runs)
        if found is None:
            left_off.append(label)
        else:
            placed.append(found)
    return Placement(placed, left_off)


def _place(
    label: W,
    *,
    window: tuple[float, float, float, float],
    taken: _Taken,
    tree: Any,
    wire_runs: NDArray[np.object_],
) -> PlacedLabel[W] | None:
    """Return the cheapest free spot of one label and mark it as taken."""
    import shapely

    spots, cost, is_led = _spots(label)
    corners = _corners(spots, label.size)
    boxes = np.hstack([corners.min(axis=1), corners.max(axis=1)])
    shapes = shapely.polygons(corners)
    inside = (boxes[:, :2] >= window[:2]).all(axis=1) & (boxes[:, 2:] <= window[2:]).all(axis=1)
    free = inside & ~_covers(boxes, shapes, taken)
    if not free.any():
        return None
    rows = np.flatnonzero(free)
    covered = np.zeros(len(rows))
    if tree is not None:
        hit, piece = tree.query(shapes[rows], predicate="intersects")
        foreign = wire_runs[piece] != label.owner
        covered += np.bincount(hit[foreign], minlength=len(rows))
    total = np.where(covered > label.most_wires, np.inf, cost[rows] + _WIRE_COST * covered)
    choice = int(total.argmin())
    if not np.isfinite(total[choice]):
        return None
    best = int(rows[choice])
    taken.add(boxes[best], shapes[best])
    x, y, angle = spots[best]
    return PlacedLabel(
        label, (float(x), float(y)), float(angle), bool(is_led[best]), bool(covered[choice])
    )


_EDGE = 0.99
_AROUND: Floats = np.array(
    [(1, 0.6), (1, -0.6), (-1, 0.6), (-1, -0.6), (0.35, 1), (0.35, -1), (-0.35, 1), (-0.35, -1),
     (1, 0), (-1, 0), (0, 1), (0, -1)]
)  # fmt: skip


def _spots(label: Wanted) -> tuple[Floats, Floats, NDArray[np.bool_]]:
    """Return middles with angle, what each costs beforehand, and whether it needs a leader."""
    if label.spots is not None:
        count = len(label.spots)
        return label.spots, 0.15 * np.arange(count, dtype=float), np.zeros(count, dtype=np.bool_)
    width, height = label.size
    steps = np.concatenate([[0.0], label.step * 1.6 ** np.arange(label.rings - 1)])
    reach = label.clear + steps[:, None, None]
    side = np.sign(_AROUND) * (np.abs(_AROUND) > _EDGE)
    offset = side * (np.array([width, height]) / 2 + reach)
    slide = (_AROUND - side) * np.array([width, height]) / 2 * (np.abs(_AROUND) < _EDGE)
    middle = (offset + slide[None]).reshape(-1, 2) + label.at
    spots = np.column_stack([middle, np.zeros(len(middle))])
    ring = np.repeat(np.arange(label.rings), len(_AROUND))
    preference = np.tile(0.06 * np.arange(len(_AROUND)), label.rings)
    return spots, (_LEADER_COST * ring + preference).astype(float), ring > 0


def _corners(spots: Floats, size: tuple[float, float]) -> Floats:
    """Return the four corners of each spot, shape (n, 4, 2)."""
    half = np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)]) * np.array(size) / 2
    angle = np.radians(spots[:, 2])
    turned = np.stack(
        [
            np.cos(angle)[:, None] * half[:, 0] - np.sin(angle)[:, None] * half[:, 1],
            np.sin(angle)[:, None] * half[:, 0] + np.cos(angle)[:, None] * half[:, 1],
        ],
        axis=2,
    )
    return turned + spots[:, None, :2]


def _covers(boxes: Floats, shapes: NDArray[np.object_], taken: _Taken) -> NDArray[np.bool_]:
    """Return which spots cover something that is there."""
    import shapely

    other, outlines = taken.near(boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0))
    apart = (
        (boxes[:, None, 0] >= other[None, :, 2]) | (boxes[:, None, 2] <= other[None, :, 0])
        | (boxes[:, None, 1] >= other[None, :, 3]) | (boxes[:, None, 3] <= other[None, :, 1])
    )  # fmt: skip
    spot, there = np.nonzero(~apart)
    touching = shapely.intersects(shapes[spot], outlines[there])
    covered = np.zeros(len(boxes), dtype=bool)
    covered[spot[touching]] = True
    return covered
