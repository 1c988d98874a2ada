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
    from wiremap.bulk.results import BulkResult
    from wiremap.bulk.run import build_properties
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
    from wiremap.model.requirements import RequirementProfile
    from wiremap.model.settings import Settings
    from wiremap.model.tables import LAYERS
    from wiremap.read.folders import read_property
    from wiremap.read.requirements import list_profiles, read_profile
    from wiremap.seasons import amend_asbuilt, compare_asbuilts, recover_asbuilt
    from wiremap.steps.buffers import buffer_runs, buffer_zones, dissolve_buffers
    from wiremap.steps.checks import check_locates
    from wiremap.steps.depths import reduce_depths
    from wiremap.steps.devices import find_devices
    from wiremap.steps.dimensions import dimension_features
    from wiremap.steps.faults import find_faults
    from wiremap.steps.network import join_runs
    from wiremap.steps.placement import place_locates
    from wiremap.steps.profiles import profile_runs
    from wiremap.steps.requirements import check_requirements
    from wiremap.steps.runs import summarise_runs
    from wiremap.steps.traces import trace_runs
    from wiremap.steps.zones import reconcile_zones
    from wiremap.workflow import build_asbuilt
    from wiremap.write.bundle import write_bundle
    from wiremap.write.templates import Templates, write_templates

__version__ = "0.1.0"

_MODULES = {
    "asbuilt": ("AsBuilt",),
    "bulk.results": ("BulkResult",),
    "bulk.run": ("build_properties",),
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
    "model.requirements": ("RequirementProfile",),
    "read.folders": ("read_property",),
    "read.requirements": ("list_profiles", "read_profile"),
    "seasons": ("amend_asbuilt", "compare_asbuilts", "recover_asbuilt"),
    "steps.buffers": ("buffer_runs", "buffer_zones", "dissolve_buffers"),
    "steps.checks": ("check_locates",),
    "steps.depths": ("reduce_depths",),
    "steps.devices": ("find_devices",),
    "steps.dimensions": ("dimension_features",),
    "steps.faults": ("find_faults",),
    "steps.network": ("join_runs",),
    "steps.placement": ("place_locates",),
    "steps.profiles": ("profile_runs",),
    "steps.requirements": ("check_requirements",),
    "steps.runs": ("summarise_runs",),
    "steps.traces": ("trace_runs",),
    "steps.zones": ("reconcile_zones",),
    "workflow": ("build_asbuilt",),
    "write.bundle": ("write_bundle",),
    "write.templates": ("Templates", "write_templates"),
}
_HOMES = {name: module for module, names in _MODULES.items() for name in names}

__all__ = [
    "CODES",
    "LAYERS",
    "AsBuilt",
    "BulkResult",
    "ClusterError",
    "EmptyPropertyError",
    "Finding",
    "MissingExtraError",
    "Property",
    "ReadError",
    "RequirementProfile",
    "Settings",
    "SettingsError",
    "TableError",
    "Templates",
    "UnknownFormatError",
    "WiremapError",
    "WiremapWarning",
    "WriteError",
    "__version__",
    "amend_asbuilt",
    "buffer_runs",
    "buffer_zones",
    "build_asbuilt",
    "build_properties",
    "check_locates",
    "check_requirements",
    "compare_asbuilts",
    "dimension_features",
    "dissolve_buffers",
    "find_devices",
    "find_faults",
    "join_runs",
    "list_profiles",
    "place_locates",
    "profile_runs",
    "read_profile",
    "read_property",
    "reconcile_zones",
    "recover_asbuilt",
    "reduce_depths",
    "summarise_runs",
    "trace_runs",
    "write_bundle",
    "write_templates",
]


def __getattr__(name: str) -> Any:
    """Load a public name's module when the name is first used."""
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    import_module(f"{__name__}.notebook")  # registers the .wiremap accessor
    value = getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    """Return the public names."""
    return sorted(__all__)
