"""The whole way from a property to its as-built: the only place that knows the order of steps.

Reads a `Property`, returns an `AsBuilt`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from wiremap.asbuilt import AsBuilt
from wiremap.errors import EmptyPropertyError, TableError
from wiremap.model.findings import Finding, tabulate_findings
from wiremap.model.kinds import FaultKind, Severity
from wiremap.model.tables import LAYERS

if TYPE_CHECKING:
    from collections.abc import Callable

    import geopandas as gpd
    import pandas as pd

    from wiremap.formulas.terrain import Surface
    from wiremap.model.frame import Frame
    from wiremap.model.property import Property
    from wiremap.steps.depths import Depths
    from wiremap.steps.faults import Faults
    from wiremap.steps.ground import Ground
    from wiremap.steps.history import Earlier, SettledDepths, SettledFaults, SettledPlaces
    from wiremap.steps.placement import Placed
    from wiremap.steps.profiles import Profiles
    from wiremap.steps.traces import Traces

STEPS = (
    "check", "place", "trace", "depths", "profiles", "devices", "network", "faults", "runs",
    "zones", "buffers", "ties", "layers",
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
    import pandas as pd

    with pd.option_context("mode.string_storage", "python"):  # quicker on tables of this size
        return _build(property, strict=strict, say=progress or (lambda _: None))


def _build(source: Property, *, strict: bool, say: Callable[[str], None]) -> AsBuilt:
    """Return the as-built: the steps in their order."""
    from wiremap.steps.checks import check_locates, check_zone_list
    from wiremap.steps.history import settle_places
    from wiremap.steps.placement import place_locates
    from wiremap.steps.visits import arrange_visits

    settings = source.settings
    say("check")
    visits = arrange_visits(source.locates)
    checked = check_locates(visits.locates, settings=settings)
    listed = check_zone_list(source.zones, settings=settings)
    findings = [*source.findings, *visits.findings, *checked.findings, *listed.findings]
    say("place")
    placed = place_locates(checked.locates, source.references, settings=settings)
    findings += placed.findings
    if placed.locates.empty:
        raise _nothing_left(source, findings)
    settled = settle_places(placed.locates, settings=settings)
    source, ground = _survey_ground(source, placed)
    placed = placed._replace(notes=[*placed.notes, *ground.notes])
    tables, results = _compute(
        placed, settled, listed.zones, source, surface=ground.surface, say=say
    )
    findings += ground.findings + settled.findings
    findings += [finding for result in results for finding in result.findings]
    if strict:
        _hold_strict(findings)
    say("layers")
    return _assemble(source, placed, tables, findings)


def _survey_ground(source: Property, placed: Placed) -> tuple[Property, Ground]:
    """Return the property with what its terrain says near the located points, and the ground."""
    from dataclasses import replace

    from wiremap.errors import MissingExtraError, ReadError
    from wiremap.read.files import describe_unread
    from wiremap.read.terrain import read_terrain
    from wiremap.steps.ground import lay_ground

    unread, terrain = [], source.terrain
    if terrain is not None:
        try:
            source = replace(source, ground=read_terrain(terrain, around=placed.locates))
        except (ReadError, MissingExtraError) as error:
            unread = [describe_unread(terrain.relative_to(source.folder).as_posix(), error)]
    layers = dict(source.base)
    if source.ground is not None:
        layers["terrain cells"] = source.ground
    ground = lay_ground(layers, placed.locates, frame=placed.frame, settings=source.settings)
    return source, ground._replace(findings=[*unread, *ground.findings])


def _compute(
    placed: Placed,
    settled: SettledPlaces,
    zone_list: pd.DataFrame,
    source: Property,
    *,
    surface: Surface | None,
    say: Callable[[str], None],
) -> tuple[dict[str, Any], list[Any]]:
    """Return the tables of all steps after placement, by name, and the steps' results."""
    from wiremap.steps.buffers import buffer_runs, buffer_zones
    from wiremap.steps.dimensions import dimension_features
    from wiremap.steps.history import date_record, widen_with_age
    from wiremap.steps.zones import accept_suggestions, complete_schedule, reconcile_zones

    shared: dict[str, Any] = {"frame": placed.frame, "settings": source.settings}
    earlier = _judge_earlier(placed.locates, shared, surface=surface)
    wires, results = _follow_wires(
        settled.current, shared, surface=surface, earlier=earlier, say=say
    )
    say("zones")
    valves = wires["valves"]
    if source.decisions is not None and len(source.decisions):
        valves = accept_suggestions(valves, source.decisions)
    zones = reconcile_zones(
        zone_list, valves, wires["wire_runs"], wires["paths"], source.readings,
        wires["coils"], settings=source.settings, controllers=wires["controllers"],
    )  # fmt: skip
    say("buffers")
    until = date_record(placed.locates, settings=source.settings)
    vertices = widen_with_age(
        wires["vertices"], wires["wire_runs"], until=until, settings=source.settings
    )
    buffers = buffer_runs(vertices, wires["wire_segments"], wires["lines"], **shared)
    say("ties")
    found = {
        "controllers": wires["controllers"],
        "valves": zones.valves,
        "splices": wires["splices"],
        "faults": wires["faults"],
    }
    dimensions = dimension_features(
        found, settled.current, placed.references, base=source.base, **shared
    )
    known = {**found, "wire_runs": wires["wire_runs"], "ties": dimensions.ties}
    tables = {
        **wires,
        **found,
        "locates": placed.locates.assign(superseded_on=settled.superseded_on),
        "references": placed.references,
        "history": _stack([settled.history, *wires["history"]]),
        "ties": dimensions.ties,
        "dig_buffer": buffers.dig_buffer,
        "zone_buffers": buffer_zones(buffers.dig_buffer, zones.zones, frame=placed.frame),
        "zones": zones.zones,
        "schedule": complete_schedule(zones.schedule, known, wires["paths"]),
    }
    return tables, [*results, zones, buffers, dimensions]


def _judge_earlier(
    locates: gpd.GeoDataFrame, shared: dict[str, Any], *, surface: Surface | None
) -> list[Earlier]:
    """Return the faults that the tone showed before later visits listened anew, by day."""
    from wiremap.steps.history import Earlier, list_earlier_tones

    found = []
    for day, rows in list_earlier_tones(locates):
        stood = locates.drop(columns="visit").take(rows).reset_index(drop=True)
        tables, _ = _follow_wires(stood, shared, surface=surface, earlier=[], say=lambda _: None)
        faults = tables["faults"]
        shown = faults[faults["kind"] != FaultKind.REPORTED]
        found.append(Earlier(day, shown, tables["lines"]))
    return found


def _follow_wires(
    locates: gpd.GeoDataFrame,
    shared: dict[str, Any],
    *,
    surface: Surface | None,
    earlier: list[Earlier],
    say: Callable[[str], None],
) -> tuple[dict[str, Any], list[Any]]:
    """Return the tables of the steps that need no zone list, and the steps' results."""
    from wiremap.steps.devices import find_devices
    from wiremap.steps.faults import find_faults
    from wiremap.steps.network import join_runs
    from wiremap.steps.runs import summarise_runs

    traces, reduced, depths, profiles = _measure_wires(locates, shared, surface=surface, say=say)
    say("devices")
    devices = find_devices(locates, profiles.points, depths.readings, **shared)
    say("network")
    network = join_runs(
        traces.lines, traces.vertices, devices.valves, devices.splices, devices.controllers,
        **shared,
    )  # fmt: skip
    say("faults")
    faults = find_faults(
        profiles.points, locates, traces.lines, network.connections,
        readings=depths.readings, **shared,
    )  # fmt: skip
    kept = _settle_faults(faults, earlier, profiles.points, traces.lines, shared)
    say("runs")
    runs = summarise_runs(
        traces.lines, traces.vertices, profiles.points, depths.readings, profiles.curves,
        network.connections, devices.valves, surface=surface, **shared,
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
        "faults": kept.faults,
        "coils": faults.coils,
        "tones": faults.tones,
        "wire_runs": runs.wire_runs,
        "history": [depths.history, kept.history],
    }
    return tables, [traces, reduced, depths, profiles, devices, network, faults, kept, runs]


def _measure_wires(
    locates: gpd.GeoDataFrame,
    shared: dict[str, Any],
    *,
    surface: Surface | None,
    say: Callable[[str], None],
) -> tuple[Traces, Depths, SettledDepths, Profiles]:
    """Return the runs, the depth readings as taken and as they stand, and depth along the runs."""
    from wiremap.steps.depths import reduce_depths
    from wiremap.steps.history import settle_depths
    from wiremap.steps.profiles import profile_runs
    from wiremap.steps.traces import trace_runs

    say("trace")
    traces = trace_runs(locates, **shared)
    say("depths")
    reduced = reduce_depths(locates, traces.points, surface=surface, **shared)
    depths = settle_depths(reduced.readings, locates)
    say("profiles")
    profiles = profile_runs(traces.vertices, traces.points, depths.readings, **shared)
    return traces, reduced, depths, profiles


def _settle_faults(
    faults: Faults,
    earlier: list[Earlier],
    points: gpd.GeoDataFrame,
    lines: gpd.GeoDataFrame,
    shared: dict[str, Any],
) -> SettledFaults:
    """Return one row a fault over all visits."""
    from wiremap.steps.history import Latest, settle_faults

    undecided = {f.subject for f in faults.findings if f.code == "tone-undecided"}
    return settle_faults(
        faults.faults, earlier, Latest(points, faults.tones, undecided), lines,
        scale_factor=shared["frame"].scale_factor, settings=shared["settings"],
    )  # fmt: skip


def _assemble(
    source: Property, placed: Placed, tables: dict[str, Any], findings: list[Finding]
) -> AsBuilt:
    """Return the as-built: layers in their declared shape and in the working CRS."""
    import pandas as pd

    from wiremap.model.keeping import keep_property
    from wiremap.steps.history import count_days, date_record
    from wiremap.steps.provenance import tabulate_provenance
    from wiremap.steps.revisions import tabulate_revisions

    frame = placed.frame
    parts = {
        **tables,
        "revisions": tabulate_revisions(source),
        "inputs": keep_property(source),
        "findings": tabulate_findings(findings, crs=frame.metric_crs),
        "provenance": tabulate_provenance(source, placed.notes),
    }
    until = date_record(placed.locates, settings=source.settings)
    layers = {}
    for table in LAYERS:
        shaped = table.conform(parts[table.name], crs=frame.metric_crs)
        if "age_days" in shaped:
            age = pd.Series(count_days(shaped["last_date"], until=until), index=shaped.index)
            shaped["age_days"] = age.astype("Int64")
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
        base={name: _to_crs(layer, frame) for name, layer in source.base.items()},
        aerial=source.aerial,
    )


def _stack(frames: list[gpd.GeoDataFrame]) -> gpd.GeoDataFrame:
    """Return frames of one table, one below the other."""
    import pandas as pd

    filled = [frame for frame in frames if len(frame)] or frames[:1]
    return pd.concat(filled, ignore_index=True) if len(filled) > 1 else filled[0]


_INNER_COLUMNS = ("locate", "cov_xx_m2", "cov_xy_m2", "cov_yy_m2")


def _to_crs(layer: gpd.GeoDataFrame, frame: Frame) -> gpd.GeoDataFrame:
    """Return a base layer in the working CRS; one that names no CRS is taken to be in it."""
    return layer.set_crs(frame.crs) if layer.crs is None else layer.to_crs(frame.crs)


def _nothing_left(source: Property, findings: list[Finding]) -> EmptyPropertyError:
    graver = (Severity.ERROR, Severity.WARNING)
    ranked = [f for s in graver for f in findings if f.gravity == s]
    first = f"; the first finding: {ranked[0].line}" if ranked else ""
    return EmptyPropertyError(
        f"no row can be placed on the map, of {len(source.locates)} read{first}",
        path=str(source.folder),
        remedy="correct the rows (wiremap check lists all findings) and build again",
    )


def _hold_strict(findings: list[Finding]) -> None:
    errors = [finding.line for finding in findings if finding.gravity == Severity.ERROR]
    if errors:
        raise TableError(errors)
