"""Composition: which sheets there are, and where plan, tables and profiles stand on each."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from wiremap.draw.sheets.flow import Placed, fill_frames
from wiremap.draw.sheets.papers import choose_tiling, find_scale
from wiremap.draw.sheets.profiles import Profiles, make_profiles
from wiremap.draw.sheets.schedules import list_tables
from wiremap.draw.sheets.views import View

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiremap.draw.sheets.contents import Contents
    from wiremap.draw.sheets.flow import Block
    from wiremap.draw.sheets.furniture import Layout
    from wiremap.draw.sheets.papers import Scale
    from wiremap.draw.sheets.views import Box

TABLE_SIZE = 0.84
"""Size of a table's letters in ordinary ones."""

_PLAN_PAD = 3.5
_GRID_EDGE = 2.0
_TITLE_EDGE = 2.6
_LEAST_SIDE = 46.0
_LEAST_FOOT = 15.5
_COLUMN = 70.0
_CLEAR = 220.0


@dataclass(frozen=True)
class Sheet:
    """What stands on one sheet.

    Attributes
    ----------
    title : str
    view : View or None
        The plan, if any.
    has_ties : bool
        Whether the plan is a tie plan.
    placed : tuple of Placed
        Tables and profiles.
    """

    title: str
    view: View | None = None
    has_ties: bool = False
    placed: tuple[Placed, ...] = ()


def compose_sheets(contents: Contents, layout: Layout, *, units: str) -> list[Sheet]:
    """Return the sheets of a property, plans first.

    1. The plan, on one sheet or over match lines on several.
    2. The tie plan, where there are ties.
    3. Tables and profiles: beside and below a plan that leaves room, else on sheets of their own;
       the profiles one scale smaller where that saves a sheet.

    Parameters
    ----------
    contents : Contents
    layout : Layout
    units : str
        ``ft`` or ``m``: scales to choose from.

    Returns
    -------
    list of Sheet
        One at least.
    """
    size = layout.text_pt
    columns = _column_frames(layout)
    tables: list[Block] = [*list_tables(contents, text_pt=TABLE_SIZE * size)]
    views = _plan_views(contents, layout, units=units)
    feet = _free_frames(views[0], layout)[1] if views else []
    profiles = make_profiles(contents, frames=[*feet, columns[0]], text_pt=TABLE_SIZE * size)
    choices: list[Profiles | None] = [profiles]
    if profiles and (smaller := profiles.at_next_scale()):
        choices.append(smaller)
    has_ties = bool(len(contents.layer("ties")))
    sets = [
        _fill_sheets(views, tables, [p] if p else [], layout, has_ties=has_ties) for p in choices
    ]
    return min(sets, key=len)


def _fill_sheets(
    views: Sequence[View],
    tables: Sequence[Block],
    drawings: Sequence[Block],
    layout: Layout,
    *,
    has_ties: bool,
) -> list[Sheet]:
    """Return the sheets: plans with what finds room beside them, then the rest."""
    sheets: list[Sheet] = []
    for is_tied in (False, True) if has_ties else (False,):
        for number, view in enumerate(views, start=1):
            numbered = _renumber(view, len(views) if is_tied else 0)
            side, foot = _free_frames(view, layout)
            placed, tables = fill_frames(tables, side)
            below, drawings = fill_frames(drawings, foot)
            numbered = _widen(numbered, layout, has_side=bool(placed), has_foot=bool(below))
            sheets.append(
                Sheet(_plan_title(is_tied, number, len(views)), numbered, is_tied,
                      (*placed, *below))
            )  # fmt: skip
    columns = _column_frames(layout)
    return sheets + _table_sheets([*tables, *drawings], columns, is_first=not sheets)


def _plan_title(is_tied: bool, number: int, count: int) -> str:  # noqa: FBT001
    title = "Ties to permanent references" if is_tied else "Plan of wires, valves and faults"
    return f"{title}, part {number} of {count}" if count > 1 else title


def _table_sheets(blocks: Sequence[Block], frames: Sequence[Box], *, is_first: bool) -> list[Sheet]:
    """Return sheets of tables and profiles until nothing is left."""
    sheets: list[Sheet] = []
    waiting = list(blocks)
    while waiting:
        placed, left = fill_frames(waiting, frames)
        if not placed:
            waiting = left[1:]
            continue
        sheets.append(Sheet("Schedules and depth profiles", placed=tuple(placed)))
        waiting = left
    if is_first and not sheets:
        return [Sheet("Nothing was located")]
    return sheets


def _column_frames(layout: Layout) -> list[Box]:
    """Return the columns of a sheet without a plan."""
    left, bottom, right, top = layout.body
    pad = 1.8 * layout.text_pt
    left, bottom, right, top = left + pad, bottom + pad, right - pad, top - pad
    count = max(1, int((right - left) // (_COLUMN * layout.text_pt)))
    gap = 2.4 * layout.text_pt
    width = (right - left - gap * (count - 1)) / count
    return [
        (left + n * (width + gap), bottom, left + n * (width + gap) + width, top)
        for n in range(count)
    ]


# Plans ----------------------------------------------------------------------------------------


def _full_window(layout: Layout) -> Box:
    """Return the largest window that a plan can have."""
    left, bottom, right, top = layout.body
    size = layout.text_pt
    return (
        left + (_GRID_EDGE + 0.6) * size, bottom + _GRID_EDGE * size,
        right - 1.2 * size, top - _TITLE_EDGE * size,
    )  # fmt: skip


def _plan_views(contents: Contents, layout: Layout, *, units: str) -> list[View]:
    """Return the view of each plan sheet."""
    extent = contents.extent
    if extent is None:
        return []
    pad = _PLAN_PAD * layout.text_pt
    left, bottom, right, top = _full_window(layout)
    room = (right - left - 2 * pad, top - bottom - 2 * pad)
    span = (max(extent[2] - extent[0], 1.0), max(extent[3] - extent[1], 1.0))
    scale = find_scale(contents.settings.sheets.scale)
    marks = sum(len(contents.layer(name)) for name in ("valves", "splices", "faults"))
    marks = sum(len(contents.layer(name)) for name in ("valves", "splices", "faults"))
    tiling = choose_tiling(
        span, room, units=units, scale=scale, least_pt2=_CLEAR * layout.text_pt**2 * marks
    )
    most = (room[0] / tiling.scale.points_per_m, room[1] / tiling.scale.points_per_m)
    columns = find_cuts(contents, 0, extent=extent, count=tiling.columns, most_m=most[0])
    rows = find_cuts(contents, 1, extent=extent, count=tiling.rows, most_m=most[1])
    return _tile_views(contents, columns, rows, tiling.scale, layout)


def find_cuts(
    contents: Contents, axis: int, *, extent: Box, count: int, most_m: float
) -> list[float]:
    """Return where a plan is cut along an axis, ends included: where fewest wires cross.

    Of places that are alike in that, the one farthest from devices and ends of wires.

    Parameters
    ----------
    contents : Contents
    axis : int
        0 for cuts across the eastings, 1 for cuts across the northings.
    extent : tuple of float
        Ground box of the plan.
    count : int
        Tiles that it is cut into.
    most_m : float
        Greatest size of a tile.

    Returns
    -------
    list of float
        One more than `count`, ascending.
    """
    low, high = extent[axis], extent[axis + 2]
    if count == 1:
        return [low, high]
    pieces = [part[:, axis] for part in contents.wires.corners if len(part) > 1]
    starts = np.concatenate([np.minimum(p[:-1], p[1:]) for p in pieces] or [np.empty(0)])
    ends = np.concatenate([np.maximum(p[:-1], p[1:]) for p in pieces] or [np.empty(0)])
    spots = [*contents.points.values(), *(p[[0, -1]] for p in contents.wires.corners if len(p))]
    devices = np.concatenate([xy[:, axis] for xy in spots] or [np.empty(0)])
    devices = devices[np.isfinite(devices)]
    cuts = [low]
    for left in range(count - 1, 0, -1):
        choices = np.linspace(max(high - left * most_m, cuts[-1]), min(cuts[-1] + most_m, high), 61)
        crossed = ((starts < choices[:, None]) & (ends > choices[:, None])).sum(axis=1)
        away = np.abs(devices - choices[:, None]).min(axis=1, initial=most_m)
        cuts.append(float(choices[np.lexsort((-away, crossed))[0]]))
    return [*cuts, high]


def _tile_views(
    contents: Contents, columns: list[float], rows: list[float], scale: Scale, layout: Layout
) -> list[View]:
    """Return the views of a plan, row by row from the upper left; none of an empty tile."""
    views: dict[tuple[int, int], View] = {}
    last = len(rows) - 2
    for row in range(last + 1):
        for column in range(len(columns) - 1):
            low = (columns[column], rows[last - row])
            high = (columns[column + 1], rows[last - row + 1])
            is_alone = len(columns) + len(rows) == 4  # noqa: PLR2004 - two ends each
            if is_alone or _has_wires(contents, np.array(low), np.array(high)):
                views[column, row] = _view_of((*low, *high), scale, layout)
    names = {place: str(number) for number, place in enumerate(views, start=1)}
    sides = ((-1, 0), (0, 1), (1, 0), (0, -1))
    found = []
    for (column, row), view in views.items():
        left, below, right, above = (names.get((column + x, row + y), "") for x, y in sides)
        found.append(replace(view, neighbours=(left, below, right, above)))
    return found


def _view_of(tile: Box, scale: Scale, layout: Layout) -> View:
    """Return the view of a tile: no larger than it needs where that leaves room for tables."""
    size = layout.text_pt
    left, bottom, right, top = _full_window(layout)
    pad = 2 * _PLAN_PAD * size
    wide = (tile[2] - tile[0]) * scale.points_per_m + pad
    high = (tile[3] - tile[1]) * scale.points_per_m + pad
    if right - left - wide >= _LEAST_SIDE * size:
        right = left + max(wide, 0.3 * (right - left))
    if top - bottom - high >= _LEAST_FOOT * size:
        bottom = top - max(high, 0.3 * (top - bottom))
    window = (left, bottom, right, top)
    middle = ((tile[0] + tile[2]) / 2, (tile[1] + tile[3]) / 2)
    return _with_tile(View(window, middle, scale, window), tile)


def _with_tile(view: View, tile: Box) -> View:
    """Return a view with its tile where it stands on the page."""
    low, high = view.to_page(np.array([tile[:2], tile[2:]])).tolist()
    return replace(view, tile=(low[0], low[1], high[0], high[1]))


def _widen(view: View, layout: Layout, *, has_side: bool, has_foot: bool) -> View:
    """Return a view that takes the room that nothing else has filled."""
    left, bottom, right, top = view.window
    _, low, far, _ = _full_window(layout)
    ground = view.to_ground(np.array([view.tile[:2], view.tile[2:]]))
    window = (left, bottom if has_foot else low, right if has_side else far, top)
    return _with_tile(replace(view, window=window), (*ground[0].tolist(), *ground[1].tolist()))


def _has_wires(contents: Contents, low: np.ndarray, high: np.ndarray) -> bool:
    """Return whether a tile holds a wire or a device."""
    import shapely

    box = shapely.box(*low, *high)
    lines = [line for line in contents.lines.values() if not line.is_empty]
    if lines and bool(shapely.intersects(np.array(lines, dtype=object), box).any()):
        return True
    return any(
        bool(((xy >= low) & (xy <= high)).all(axis=1).any()) for xy in contents.points.values()
    )


def _renumber(view: View, by: int) -> View:
    """Return a view whose neighbours are numbered as they stand in the set."""
    if not by:
        return view
    left, below, right, above = (str(int(n) + by) if n else "" for n in view.neighbours)
    return replace(view, neighbours=(left, below, right, above))


def _free_frames(view: View, layout: Layout) -> tuple[list[Box], list[Box]]:
    """Return the room that a plan leaves at its side and at its foot."""
    size = layout.text_pt
    left, bottom, right, top = view.window
    _, low, far, _ = layout.body
    gap = 1.8 * size
    side = (
        [(right + gap, low + gap, far - gap, top)] if far - right > 0.8 * _LEAST_SIDE * size else []
    )
    under = bottom - (_GRID_EDGE + 1.0) * size
    foot = [(left, low + gap, right, under)] if under - low > 0.7 * _LEAST_FOOT * size else []
    return _halve(side, size), foot


def _halve(frames: list[Box], size: float) -> list[Box]:
    """Return a frame in two columns where it is wide enough for both."""
    found: list[Box] = []
    for left, bottom, right, top in frames:
        count = max(1, int((right - left) // (_COLUMN * size)))
        gap = 2.4 * size
        width = (right - left - gap * (count - 1)) / count
        found += [
            (left + n * (width + gap), bottom, left + n * (width + gap) + width, top)
            for n in range(count)
        ]
    return found
