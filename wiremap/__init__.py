"""wiremap: a season of irrigation wire locates, turned into a permanent as-built.

Public names are resolved on first use, so that ``import wiremap`` loads nothing heavy.

Examples
--------
>>> import wiremap
>>> "build_asbuilt" in dir(wiremap)
True
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from wiremap.asbuilt import AsBuilt
    from wiremap.errors import (
        ClusterError,
        EmptyPropertyError,
        MissingExtraError,
        ReadError,
        SettingsError,
        TableError,
        UnknownFormatError,
        WiremapError,
        WiremapWarning,
        WriteError,
    )
    from wiremap.model.findings import CODES, Finding
    from wiremap.model.property import Property
    from wiremap.model.settings import Settings
    from wiremap.model.tables import LAYERS
    from wiremap.read.folders import read_property
    from wiremap.steps.buffers import buffer_runs
    from wiremap.steps.checks import check_locates
    from wiremap.steps.depths import reduce_depths
    from wiremap.steps.devices import find_devices
    from wiremap.steps.dimensions import dimension_features
    from wiremap.steps.faults import find_faults
    from wiremap.steps.network import join_runs
    from wiremap.steps.placement import place_locates
    from wiremap.steps.profiles import profile_runs
    from wiremap.steps.runs import summarise_runs
    from wiremap.steps.traces import trace_runs
    from wiremap.steps.zones import reconcile_zones
    from wiremap.workflow import build_asbuilt

__version__ = "0.1.0"

_MODULES = {
    "asbuilt": ("AsBuilt",),
    "errors": (
        "ClusterError",
        "EmptyPropertyError",
        "MissingExtraError",
        "ReadError",
        "SettingsError",
        "TableError",
        "UnknownFormatError",
        "WiremapError",
        "WiremapWarning",
        "WriteError",
    ),
    "model.findings": ("CODES", "Finding"),
    "model.property": ("Property",),
    "model.settings": ("Settings",),
    "model.tables": ("LAYERS",),
    "read.folders": ("read_property",),
    "steps.buffers": ("buffer_runs",),
    "steps.checks": ("check_locates",),
    "steps.depths": ("reduce_depths",),
    "steps.devices": ("find_devices",),
    "steps.dimensions": ("dimension_features",),
    "steps.faults": ("find_faults",),
    "steps.network": ("join_runs",),
    "steps.placement": ("place_locates",),
    "steps.profiles": ("profile_runs",),
    "steps.runs": ("summarise_runs",),
    "steps.traces": ("trace_runs",),
    "steps.zones": ("reconcile_zones",),
    "workflow": ("build_asbuilt",),
}
_HOMES = {name: module for module, names in _MODULES.items() for name in names}

__all__ = [
    "CODES",
    "LAYERS",
    "AsBuilt",
    "ClusterError",
    "EmptyPropertyError",
    "Finding",
    "MissingExtraError",
    "Property",
    "ReadError",
    "Settings",
    "SettingsError",
    "TableError",
    "UnknownFormatError",
    "WiremapError",
    "WiremapWarning",
    "WriteError",
    "__version__",
    "buffer_runs",
    "build_asbuilt",
    "check_locates",
    "dimension_features",
    "find_devices",
    "find_faults",
    "join_runs",
    "place_locates",
    "profile_runs",
    "read_property",
    "reconcile_zones",
    "reduce_depths",
    "summarise_runs",
    "trace_runs",
]


def __getattr__(name: str) -> Any:
    """Load a public name's module when the name is first used."""
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    value = getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    """Return the public names."""
    return sorted(__all__)
