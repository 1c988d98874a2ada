"""The wires of a plan: lines, hazards, dimension points, and the words that go with them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from wiremap.draw.sheets.contents import numbers, texts
from wiremap.draw.sheets.inks import MUTED_WIRE
from wiremap.draw.sheets.labels import Label
from wiremap.draw.sheets.lettering import cut
from wiremap.draw.sheets.pen import WHITE
from wiremap.draw.styles import GRAPHITE, STYLES, wire_ink, zone_number

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from wiremap.draw.sheets.contents import Contents
    from wiremap.draw.sheets.pen import Pen
    from wiremap.draw.sheets.views import View

    Floats = NDArray[np.float64]

_BLACK_DASHES: tuple[tuple[float, ...], ...] = ((), (9.0, 2.0), (5.0, 1.5, 1.0, 1.5), (3.0, 1.5))


def black_dash(zones: str) -> tuple[float, ...]:
    """Return the dash that tells wires apart where there is black ink only.

    Parameters
    ----------
    zones : str
        Zone(s) that the wire serves.

    Returns
    -------
    tuple of float
        Lengths of dash and gap, points; empty for an unbroken line.
    """
    first, _, _ = zones.partition(";")
    return _BLACK_DASHES[zone_number(first or "1") % len(_BLACK_DASHES)]


def draw_wires(pen: Pen, contents: Contents, view: View, *, text_pt: float, is_muted: bool) -> None:
    """Draw every stretch: insulation, tracer, and a dash where it is inferred.

    Parameters
    ----------
    pen : Pen
    contents : Contents
    view : View
    text_pt : float
        Size of ordinary letters; wires are as heavy in proportion.
    is_muted : bool
        Draw them thin and grey, as the ground for something else.
    """
    wires = contents.wires
    for run_zones, evidence, corners in zip(
        wires.zones, wires.evidence, wires.corners, strict=True
    ):
        part = view.to_page(corners)
        if not view.touches(part):
            continue
        width = 0.17 * text_pt * (1.5 if evidence == "exposed" else 1.0)
        if is_muted:
            pen.lines([part], ink=MUTED_WIRE, width_pt=0.06 * text_pt, is_round=True)
            continue
        dash = (0.6 * text_pt, 0.5 * text_pt) if evidence == "inferred" else ()
        draw_wire(pen, run_zones, part, width_pt=width, dash_pt=dash)


def draw_wire(
    pen: Pen, zones: str, path: Floats, *, width_pt: float, dash_pt: tuple[float, ...] = ()
) -> None:
    """Draw a piece of wire in the look of its zones: insulation and tracer, or a dash in black.

    Parameters
    ----------
    pen : Pen
    zones : str
        Zone(s) that the wire serves.
    path : array of shape (n, 2)
        On the page.
    width_pt : float
        Width in colours; half of it where there is black ink only.
    dash_pt : tuple of float, optional
        Dash of the insulation; unbroken, or the zone's own in black, where not given.
    """
    if pen.is_monochrome:
        dash_pt = dash_pt or black_dash(zones)
        pen.lines([path], width_pt=0.5 * width_pt, dash_pt=dash_pt, is_round=True)
        return
    look = wire_ink(zones)
    pen.lines([path], ink=look.ink.light, width_pt=width_pt, dash_pt=dash_pt, is_round=True)
    if look.tracer:
        tracer_dash = tuple(0.6 * d for d in look.tracer_dash_px)
        pen.lines([path], ink=WHITE, width_pt=0.35 * width_pt, dash_pt=tracer_dash)


def draw_hazards(pen: Pen, contents: Contents, view: View, *, text_pt: float) -> None:
    """Draw where cover is below the limit, and the interval of each fault.

    Parameters
    ----------
    pen : Pen
    contents : Contents
    view : View
    text_pt : float
    """
    import shapely

    alarm = STYLES["hand_dig"].ink.light
    frame = contents.layer("wire_segments")
    shallow = numbers(frame, "cover_low_m") < contents.settings.advisory.min_cover_m
    if shallow.any():
        shapes = shapely.force_2d(np.asarray(frame.geometry.array, dtype=object)[shallow])
        parts = [
            view.to_page(contents.plane.to_ground(shapely.get_coordinates(shape)))
            for shape in shapes
        ]
        pen.lines(
            [part for part in parts if len(part) and view.touches(part)],
            ink=alarm, width_pt=0.42 * text_pt, dash_pt=(0.12 * text_pt, 0.3 * text_pt),
        )  # fmt: skip
    for part in _fault_intervals(contents):
        pen.lines([_beside(view.to_page(part), 0.45 * text_pt)], ink=alarm, width_pt=0.9)
        pen.lines([_beside(view.to_page(part), -0.45 * text_pt)], ink=alarm, width_pt=0.9)


def _fault_intervals(contents: Contents) -> list[Floats]:
    """Return the stretch of wire that each standing fault lies in, with 95 % probability."""
    import shapely
    from shapely.ops import substring

    frame = contents.layer("faults")
    spans = zip(
        texts(frame, "run"), texts(frame, "status"),
        numbers(frame, "chainage_low_m"), numbers(frame, "chainage_high_m"), strict=True,
    )  # fmt: skip
    found = []
    for run, status, low, high in spans:
        line = contents.lines.get(run)
        if line is None or line.is_empty or status == "repaired" or not low < high:
            continue
        part = shapely.get_coordinates(substring(line, low, min(high, line.length)))
        if len(part) > 1:
            found.append(part)
    return found


def _beside(part: Floats, by_pt: float) -> Floats:
    """Return a broken line shifted to its left."""
    import shapely

    shifted = shapely.get_coordinates(
        shapely.offset_curve(shapely.LineString(part), by_pt, join_style="bevel")
    )
    return shifted if len(shifted) else part


def wire_pieces(contents: Contents, view: View) -> tuple[Floats, NDArray[np.object_]]:
    """Return the pieces of wire that a view shows, on the page, and the run of each.

    Parameters
    ----------
    contents : Contents
    view : View

    Returns
    -------
    pieces : array of shape (n, 4)
        From x, y to x, y, points.
    runs : array of str, shape (n,)
    """
    pieces, runs = [np.empty((0, 4))], [np.empty(0, object)]
    for run, corners in zip(contents.wires.run, contents.wires.corners, strict=True):
        page = view.to_page(corners)
        if len(page) > 1 and view.touches(page):
            pieces.append(np.hstack([page[:-1], page[1:]]))
            runs.append(np.full(len(page) - 1, run, dtype=object))
    return np.concatenate(pieces), np.concatenate(runs)


def wire_labels(contents: Contents, view: View, *, text_pt: float) -> list[Label]:
    """Return the names of the runs, to stand on their wires.

    Parameters
    ----------
    contents : Contents
    view : View
    text_pt : float

    Returns
    -------
    list of Label
        One for each run in view, more for a long one.
    """
    labels = []
    frame = contents.layer("wire_runs")
    zones = dict(zip(texts(frame, "run"), texts(frame, "zones"), strict=True))
    for run, line in contents.lines.items():
        spots = _spots_along(line, view, text_pt=text_pt)
        ink = wire_ink(zones.get(run, "")).ink.light
        labels += [
            Label((cut(run, 60.0, 0.72 * text_pt, bold=True),), (0.0, 0.0), 0.72 * text_pt, rank=4,
                  spots=part, bold=True, frame=ink, owner=run)
            for part in spots
        ]  # fmt: skip
    return labels


def _spots_along(line: object, view: View, *, text_pt: float) -> list[Floats]:
    """Return spots along a run as far as the window shows it, one array for each label."""
    import shapely

    if shapely.is_empty(line):
        return []
    corners = view.to_page(shapely.get_coordinates(line))
    if not view.touches(corners):
        return []
    page = shapely.linestrings(corners)
    length = float(page.length)
    count = min(max(int(length // 8), 3), 400)
    along = np.linspace(0.0, length, count + 2)[1:-1]
    xy = shapely.get_coordinates(shapely.line_interpolate_point(page, along))
    seen = view.owns(xy)
    xy, along = xy[seen], along[seen]
    labels = 1 + int(len(along) * length / count // (65 * text_pt))
    found = []
    for part in np.array_split(np.arange(len(along)), labels):
        if not len(part):
            continue
        middle = along[part[0]] + 0.62 * (along[part[-1]] - along[part[0]])
        order = part[np.argsort(np.abs(along[part] - middle), kind="stable")][:60]
        found.append(np.column_stack([xy[order], np.zeros(len(order))]))
    return found


def draw_route(pen: Pen, contents: Contents, view: View, *, text_pt: float) -> None:
    """Draw a small ring at each dimension point.

    Parameters
    ----------
    pen : Pen
    contents : Contents
    view : View
    text_pt : float
    """
    page = view.to_page(contents.route.xy)
    turn = np.radians(np.arange(22.5, 360.0, 45.0))
    ring = 0.12 * text_pt * np.column_stack([np.cos(turn), np.sin(turn)])
    rings = list(page[view.holds(page)][:, None, :] + ring)
    pen.area(rings, ink=GRAPHITE.light, fill=WHITE, width_pt=0.5)


def route_labels(contents: Contents, view: View, *, text_pt: float) -> list[Label]:
    """Return distance along the wire and depth, for turns and the points between.

    Parameters
    ----------
    contents : Contents
    view : View
    text_pt : float

    Returns
    -------
    list of Label
        Ends have none: the label of the device there says more.
    """
    route, units = contents.route, contents.units
    page = view.to_page(route.xy)
    shown = view.owns(page) & np.isin(route.kind, ("turn", "through"))
    labels = []
    for row in np.flatnonzero(shown):
        along = units.length(route.chainage_m[row], has_unit=False)
        depth = units.depth(contents.route_depths[row, 0], has_unit=False)
        at = (float(page[row, 0]), float(page[row, 1]))
        text = f"{along} / {depth}" if depth else along
        labels.append(Label((text,), at, 0.68 * text_pt, rank=7, clear_pt=0.15 * text_pt, rings=2,
                            most_wires=0))  # fmt: skip
    return labels
