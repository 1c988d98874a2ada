"""What every part of the drawing is drawn with, and the three kinds of entity it is made of."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from wiremap.write.plain_text import plain_text

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from wiremap.model.settings import CadLayers


class Sheet(NamedTuple):
    """Model space and the sizes that all entities share.

    Attributes
    ----------
    space : Modelspace
    names : CadLayers
        Drawing layer of each kind.
    height : float
        Text height in drawing units.
    metres : float
        Metres in one drawing unit.
    unit : str
        Short name of the drawing unit.
    """

    space: Any
    names: CadLayers
    height: float
    metres: float
    unit: str

    def length(self, length_m: float, *, decimals: int = 2) -> str:
        """Return a length as the drawing states it; empty where it is not known."""
        if not np.isfinite(length_m):
            return ""
        return f"{length_m / self.metres:.{decimals}f} {self.unit}"


def escape_text(value: object) -> str:
    r"""Return a text that no CAD program takes for a command.

    Parameters
    ----------
    value : object
        Cell of a layer.

    Returns
    -------
    str
        One plain line. Percent signs that would start a control code, carets and coded
        characters are written so that they show as they are or nearly so.

    Examples
    --------
    >>> escape_text("50%%d ^J \\U+0041")
    '50% %d ^ J \\ U+0041'
    """
    text = plain_text(value)
    for command, harmless in (("%%", "% %"), ("^", "^ "), ("\\U+", "\\ U+"), ("\\M+", "\\ M+")):
        text = text.replace(command, harmless)
    return text


def draw_text(
    sheet: Sheet,
    text: str,
    *,
    at: tuple[float, float],
    layer: str,
    angle_deg: float | None = None,
    size: float = 1.0,
) -> Any:
    """Write one line of text into the drawing.

    Parameters
    ----------
    sheet : Sheet
    text : str
        Any text; it is escaped here.
    at : tuple of float
        Middle of the text's lower edge where an angle is given, else its left end; drawing
        units.
    layer : str
        Name of the drawing layer.
    angle_deg : float, optional
        Anticlockwise from the x axis.
    size : float, default 1
        Multiple of the drawing's text height.

    Returns
    -------
    Text
        The entity.
    """
    from ezdxf.enums import TextEntityAlignment

    entity = sheet.space.add_text(
        escape_text(text),
        height=size * sheet.height,
        rotation=angle_deg or 0.0,
        dxfattribs={"layer": layer},
    )
    is_turned = angle_deg is not None
    align = TextEntityAlignment.BOTTOM_CENTER if is_turned else TextEntityAlignment.LEFT
    entity.set_placement(at, align=align)
    return entity


def draw_shapes(
    sheet: Sheet, shapes: NDArray[np.object_], *, layer: str, color: str = "", width: float = 0.0
) -> None:
    """Draw geometries of any type in plan.

    Parameters
    ----------
    sheet : Sheet
    shapes : array of object
        Shapely geometries in drawing units; None and empty ones are passed over.
    layer : str
        Name of the drawing layer.
    color : str, optional
        ``#rrggbb``; the layer's own where not given.
    width : float, default 0
        Width of polylines, drawing units.
    """
    import shapely
    from ezdxf.colors import RGB, rgb2int

    attributes: dict[str, Any] = {"layer": layer}
    if color:
        attributes["true_color"] = rgb2int(RGB.from_hex(color))
    lines = {**attributes, "const_width": width} if width else attributes
    there = shapes[~(shapely.is_missing(shapes) | shapely.is_empty(shapes))]
    for part in shapely.get_parts(shapely.get_parts(shapely.force_2d(there))):
        if part.geom_type == "Point":
            sheet.space.add_point((part.x, part.y), dxfattribs=attributes)
            continue
        is_area = part.geom_type == "Polygon"
        for ring in (part.exterior, *part.interiors) if is_area else (part,):
            points = np.asarray(ring.coords)
            closed = bool(len(points) > 2 and (points[0] == points[-1]).all())  # noqa: PLR2004
            sheet.space.add_lwpolyline(
                points[:-1] if closed else points, close=closed, dxfattribs=lines
            )
