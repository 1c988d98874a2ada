"""What a CRS counts its positions in."""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple


class Axes(NamedTuple):
    """Kind and unit of a CRS's horizontal axes, and the geographic CRS under it."""

    is_geographic: bool
    is_projected: bool
    metres_per_unit: float
    unit: str
    geographic: str


@lru_cache(maxsize=64)
def describe_axes(crs: str) -> Axes:
    """Return what a CRS counts its positions in.

    Parameters
    ----------
    crs : str
        Authority code, WKT or PROJ text.

    Returns
    -------
    Axes
        `metres_per_unit` is 1 for degrees; `unit` is the axis unit's own name.

    Raises
    ------
    ValueError
        PROJ knows no such CRS.

    Examples
    --------
    >>> describe_axes("EPSG:2264").unit
    'US survey foot'
    """
    from pyproj import CRS
    from pyproj.exceptions import CRSError

    if "+init" in crs:  # may name a file of definitions, and turns the axes
        raise ValueError(f"no CRS is known by {crs!r}")
    try:
        known = CRS.from_user_input(crs)
    except CRSError as error:
        raise ValueError(f"no CRS is known by {crs!r}") from error
    horizontal = known.sub_crs_list[0] if known.is_compound else known
    axis = horizontal.axis_info[0] if horizontal.axis_info else None
    metres = axis.unit_conversion_factor if axis and horizontal.is_projected else 1.0
    geodetic = horizontal.geodetic_crs
    return Axes(
        is_geographic=bool(horizontal.is_geographic),
        is_projected=bool(horizontal.is_projected),
        metres_per_unit=metres or 1.0,
        unit=axis.unit_name if axis else "",
        geographic=geodetic.to_string() if geodetic is not None else crs,
    )
