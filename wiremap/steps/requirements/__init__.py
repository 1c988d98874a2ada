"""Requirements: an as-built held against what a receiving agency asks for.

Reads the layers of an as-built and a requirement profile; returns what is missing, as findings.
"""

from __future__ import annotations

import inspect
from typing import TYPE_CHECKING, NamedTuple

from wiremap.errors import SettingsError
from wiremap.model.findings import Finding
from wiremap.steps.requirements.contents import CONTENTS
from wiremap.steps.requirements.drafting import DRAFTING
from wiremap.steps.requirements.record import Record

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    import geopandas as gpd
    import pandas as pd

    from wiremap.model.frame import Frame
    from wiremap.model.requirements import Requirement, RequirementProfile
    from wiremap.model.settings import Settings

__all__ = ["CHECKS", "Requirements", "check_requirements"]

CHECKS: dict[str, Callable[..., list[str]]] = {**CONTENTS, **DRAFTING}
"""Checks by the name that profiles use. Each takes a `Record` and its limits by keyword, and
returns what is missing, one text a gap; nothing where the requirement is met."""

_SHOWN = 5


class Requirements(NamedTuple):
    """What `check_requirements` returns.

    Attributes
    ----------
    met : list of str
        Ids of the items that are met.
    findings : list of Finding
        One `requirement-missing` an item that is not met.
    """

    met: list[str]
    findings: list[Finding]


def check_requirements(
    layers: Mapping[str, pd.DataFrame],
    profile: RequirementProfile,
    *,
    frame: Frame,
    settings: Settings,
    base: Mapping[str, gpd.GeoDataFrame] | None = None,
) -> Requirements:
    """Return what an as-built lacks of a requirement profile.

    Parameters
    ----------
    layers : mapping of str to DataFrame
        Layers of an as-built by name.
    profile : RequirementProfile
        From `wiremap.read_profile`.
    frame : Frame
        Working frame of the as-built.
    settings : Settings
    base : mapping of str to GeoDataFrame, optional
        Base layers by name.

    Returns
    -------
    Requirements
        A profile is a reading aid: it holds what its excerpt asks, and the agency's own text
        decides.

    Raises
    ------
    SettingsError
        The profile names a check or a limit that does not exist.

    Examples
    --------
    >>> from wiremap import build_asbuilt, read_profile, read_property
    >>> asbuilt = build_asbuilt(read_property("data/hollow-oak-garden"))
    >>> held = check_requirements(asbuilt.layers, read_profile("two-references"),
    ...                           frame=asbuilt.frame, settings=asbuilt.settings)
    >>> held.met
    ['ties', 'permanent-points']
    """
    record = Record(layers, frame, settings, base or {})
    met, findings = [], []
    for item in profile.items:
        gaps = _run_check(record, item, profile)
        if gaps:
            findings.append(_finding(item, gaps, profile))
        else:
            met.append(item.id)
    return Requirements(met, findings)


def _run_check(record: Record, item: Requirement, profile: RequirementProfile) -> list[str]:
    """Run the check of an item; a limit that it does not take is the profile's mistake."""
    check = CHECKS.get(item.check)
    if check is None:
        raise SettingsError(
            "the profile names a check that does not exist",
            path=profile.name,
            column=item.id,
            value=item.check,
            remedy=f"choose among {', '.join(sorted(CHECKS))}",
        )
    try:
        inspect.signature(check).bind(record, **item.limits)
    except TypeError as error:
        raise SettingsError(
            f"the check {item.check} does not take these limits: {error}",
            path=profile.name,
            column=item.id,
        ) from error
    return check(record, **item.limits)


def _finding(item: Requirement, gaps: list[str], profile: RequirementProfile) -> Finding:
    more = f"; and {len(gaps) - _SHOWN} more" if len(gaps) > _SHOWN else ""
    message = (
        f"{profile.name}, {item.id}: {item.says} Missing: {'; '.join(gaps[:_SHOWN])}{more}."
        f" Source: {profile.cite(item)}."
    )
    return Finding("requirement-missing", item.id, message, item.advice)
