"""The whole way from a property to its as-built: the only place that knows the order of steps.

Reads a `Property`, returns an `AsBuilt`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from wiremap.asbuilt import AsBuilt
from wiremap.errors import EmptyPropertyError, TableError
from wiremap.model.findings import CODES, Finding, tabulate_findings
from wiremap.model.kinds import Severity
from wiremap.model.tables import LAYERS

if TYPE_CHECKING:
    from collections.abc import Callable

    import geopandas as gpd
    import pandas as pd

    from wiremap.model.property import Property
    from wiremap.steps.placement import Placed

STEPS = (
    "check", "place", "trace", "depths", "profiles", "devices", "network", "faults", "zones",
    "buffers", "ties", "runs", "layers",
)  # fmt: skip
"""The steps of a build, in order, as progress reports name them."""


def build_asbuilt(
    property: Property,  # noqa: A002 - the contract's word
    *,
    strict: bool = False,
    progress: Callable[[str], None] | None = None,
) -> AsBuilt:
    """Build the as-built of a property.

    Parameters
    ----------
    property : Property
        From `wiremap.read_property`.
    strict : bool, default False
        Raise on findings of severity error instead of building the rest.
    progress : callable, optional
        Called with the name of each step of `STEPS` as it starts.

    Returns
    -------
    AsBuilt

    Raises
    ------
    EmptyPropertyError
        No row of the field files can be placed.
    SettingsError
        property.toml names a CRS that does not exist or cannot be worked in.
    TableError
        With `strict`, when there are findings of severity error.

    Examples
    --------
    >>> from wiremap import read_property
    >>> build_asbuilt(read_property("data/hollow-oak-garden")).name
    'Hollow Oak Garden'
    """
    from wiremap.steps.checks import check_locates, check_zone_list
    from wiremap.steps.placement import place_locates

    say = progress or (lambda _: None)
    settings = property.settings
    say("check")
    checked = check_locates(property.locates, settings=settings)
    listed = check_zone_list(property.zones, settings=settings)
    findings = [*property.findings, *checked.findings, *listed.findings]
    say("place")
    placed = place_locates(checked.locates, property.references, settings=settings)
    findings += placed.findings
    if placed.locates.empty:
        raise _nothing_left(property, findings)
    parts = _compute(placed, listed.zones, property, say=say)
    findings += parts.pop("findings")
    if strict:
        _hold_strict(findings)
    say("layers")
    return _assemble(property, placed, parts, findings)


def _compute(
    placed: Placed, zone_list: pd.DataFrame, source: Property, *, say: Callable[[str], None]
) -> dict[str, Any]:
    """Return the tables of all steps after placement, by name."""
    from wiremap.steps.buffers import buffer_runs
    from wiremap.steps.dimensions import dimension_features
    from wiremap.steps.zones import complete_schedule, reconcile_zones

    shared: dict[str, Any] = {"frame": placed.frame, "settings": source.settings}
    wires, results = _follow_wires(placed.locates, shared, say=say)
    say("zones")
    zones = reconcile_zones(
        zone_list, wires["valves"], wires["wire_runs"], wires["paths"], source.readings,
        wires["coils"], settings=source.settings, controllers=wires["controllers"],
    )  # fmt: skip
    say("buffers")
    buffers = buffer_runs(wires["vertices"], wires["wire_segments"], wires["lines"], **shared)
    say("ties")
    found = {
        "controllers": wires["controllers"],
        "valves": zones.valves,
        "splices": wires["splices"],
        "faults": wires["faults"],
    }
    dimensions = dimension_features(found, placed.locates, placed.references, **shared)
    known = {**found, "wire_runs": wires["wire_runs"], "ties": dimensions.ties}
    return {
        **wires,
        **found,
        "ties": dimensions.ties,
        "dig_buffer": buffers.dig_buffer,
        "zones": zones.zones,
        "schedule": complete_schedule(zones.schedule, known, wires["paths"]),
        "findings": [
            finding
            for result in (*results, zones, buffers, dimensions)
            for finding in result.findings
        ],
    }


def _follow_wires(
    locates: gpd.GeoDataFrame, shared: dict[str, Any], *, say: Callable[[str], None]
) -> tuple[dict[str, Any], list[Any]]:
    """Return the tables of the steps that need no zone list, and the steps' results."""
    from wiremap.steps.depths import reduce_depths
    from wiremap.steps.devices import find_devices
    from wiremap.steps.faults import find_faults
    from wiremap.steps.network import join_runs
    from wiremap.steps.profiles import profile_runs
    from wiremap.steps.runs import summarise_runs
    from wiremap.steps.traces import trace_runs

    say("trace")
    traces = trace_runs(locates, **shared)
    say("depths")
    depths = reduce_depths(locates, traces.points, **shared)
    say("profiles")
    profiles = profile_runs(traces.vertices, traces.points, depths.readings, **shared)
    say("devices")
    devices = find_devices(locates, profiles.points, depths.readings, **shared)
    say("network")
    network = join_runs(
        traces.lines, traces.vertices, devices.valves, devices.splices, devices.controllers,
        **shared,
    )  # fmt: skip
    say("faults")
    faults = find_faults(profiles.points, locates, traces.lines, network.connections, **shared)
    say("runs")
    runs = summarise_runs(
        traces.lines, traces.vertices, profiles.points, depths.readings, profiles.curves,
        network.connections, devices.valves, **shared,
    )  # fmt: skip
    tables = {
        "vertices": traces.vertices,
        "lines": traces.lines,
        "depth_readings": depths.readings,
        "wire_segments": profiles.segments,
        "curves": profiles.curves,
        "valves": devices.valves,
        "splices": devices.splices,
        "controllers": devices.controllers,
        "equipment": devices.equipment,
        "connections": network.connections,
        "paths": network.paths,
        "faults": faults.faults,
        "coils": faults.coils,
        "tones": faults.tones,
        "wire_runs": runs.wire_runs,
    }
    return tables, [traces, depths, profiles, devices, network, faults, runs]


def _assemble(
    source: Property, placed: Placed, parts: dict[str, Any], findings: list[Finding]
) -> AsBuilt:
    """Return the as-built: layers in their declared shape and in the working CRS."""
    from wiremap.steps.provenance import tabulate_provenance

    frame = placed.frame
    parts["locates"] = placed.locates
    parts["references"] = placed.references
    parts["findings"] = tabulate_findings(findings, crs=frame.metric_crs)
    parts["provenance"] = tabulate_provenance(source, placed.frame, placed.notes)
    layers = {}
    for table in LAYERS:
        shaped = table.conform(parts[table.name], crs=frame.metric_crs)
        shaped = shaped.drop(columns=[c for c in _INNER_COLUMNS if c in shaped])
        layers[table.name] = frame.to_working_crs(shaped) if table.geometry else shaped
    return AsBuilt(
        name=source.name,
        slug=source.slug,
        settings=source.settings,
        frame=frame,
        layers=layers,
        curves=parts["curves"],
        tones=parts["tones"],
        schedule=parts["schedule"],
        connections=parts["connections"],
        base={name: layer.to_crs(frame.crs) for name, layer in source.base.items()},
    )


_INNER_COLUMNS = ("locate", "cov_xx_m2", "cov_xy_m2", "cov_yy_m2")


def _nothing_left(source: Property, findings: list[Finding]) -> EmptyPropertyError:
    errors = [f for f in findings if (f.severity or CODES[f.code].severity) == Severity.ERROR]
    first = f"; the first finding: {errors[0].line}" if errors else ""
    return EmptyPropertyError(
        f"no row can be placed on the map, of {len(source.locates)} read{first}",
        path=str(source.folder),
        remedy="correct the rows (wiremap check lists all findings) and build again",
    )


def _hold_strict(findings: list[Finding]) -> None:
    errors = [f for f in findings if (f.severity or CODES[f.code].severity) == Severity.ERROR]
    if errors:
        raise TableError([finding.line for finding in errors])
