"""Every table that wiremap reads and writes, declared once.

The GeoPackage's column descriptions, the reference pages of the documentation and the pandera
schemas all come from these declarations. Lengths are metres, angles degrees, resistances ohms.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiremap.model import kinds
from wiremap.model.columns import Column, Table

if TYPE_CHECKING:
    from enum import StrEnum


def _text(name: str, meaning: str, options: type[StrEnum] | None = None) -> Column:
    return Column(name, "text", meaning, options)


def _number(name: str, meaning: str) -> Column:
    return Column(name, "number", meaning)


def _integer(name: str, meaning: str) -> Column:
    return Column(name, "integer", meaning)


# Columns that several tables share.
_POINT = _text("point", "Identifier of the located point, unique in the property.")
_RUN = _text("run", "Name of the wire traced.")
_ZONE = _text("zone", "Zone number(s) as on the controller, several parted by a semicolon.")
_CONTROLLER = _text("controller", "Controller name.")
_RMS = _number("position_rms_m", "Horizontal radial RMS of the position, sqrt(sx^2 + sy^2).")
_DEPTH = _number("depth_m", "Depth of the wire below the ground, plumb.")
_DEPTH_SIGMA = _number("depth_sigma_m", "One standard deviation of the depth.")
_FILE = _text("source_file", "Field file, relative to the property folder.")
_ROW = _integer("source_row", "Row in that file, as a person counts it.")
_CHAINAGE = _number("chainage_m", "Distance along the run from its start.")
_SEEN = (
    _text("first_date", "Date of the first observation, ISO 8601."),
    _text("last_date", "Date of the last observation, ISO 8601."),
    _integer("observations", "How many locates the row rests on."),
)

LOCATES_IN = Table(
    "locates_in",
    None,
    "Field locates as read: the contract's columns, in metres, degrees and ohms.",
    (
        _POINT,
        _text("feature", "What the point is.", kinds.Feature),
        _RUN,
        _number("order", "Position along the run, any increasing number."),
        _ZONE,
        _CONTROLLER,
        _number("lon", "Longitude in the position's own CRS, degrees."),
        _number("lat", "Latitude in the position's own CRS, degrees."),
        _number("easting", "Easting in the position's own CRS and its own unit."),
        _number("northing", "Northing in the position's own CRS and its own unit."),
        _text("position_crs", "CRS of the position."),
        _number("elevation_m", "Ground elevation."),
        _text("tie_a", "First reference of a taped tie."),
        _number("tie_a_dist_m", "Taped distance from the first reference."),
        _text("tie_b", "Second reference of a taped tie."),
        _number("tie_b_dist_m", "Taped distance from the second reference."),
        _text("tie_c", "Third reference of a taped tie."),
        _number("tie_c_dist_m", "Taped distance from the third reference."),
        _text("tie_side", "Side of the line from the first to the second: left or right."),
        _text("baseline_a", "Reference where the baseline starts."),
        _text("baseline_b", "Reference that the baseline points at."),
        _number("baseline_chainage_m", "Distance along the baseline."),
        _number("baseline_offset_m", "Distance square off the baseline, right positive."),
        _number("grid_x_m", "Site-grid x."),
        _number("grid_y_m", "Site-grid y."),
        _number("h_rms_m", "Horizontal radial RMS stated for this position."),
        _number("offset_left_m", "Null mark to the left with the receiver leaning, along ground."),
        _number(
            "offset_right_m", "Null mark to the right with the receiver leaning, along ground."
        ),
        _number("lean_deg", "Lean of the receiver from the vertical."),
        _number("receiver_height_m", "Height of the receiver's antenna above the ground."),
        _text("pair", "On an offset mark: the point of its path mark."),
        _DEPTH,
        _number("cross_slope_deg", "Ground slope across the path, rising to the left positive."),
        _number("tone", "Receiver level beside the null, in the receiver's own units."),
        _number("gain", "Receiver sensitivity setting."),
        _text("date", "Date or time, ISO 8601."),
        _text("operator", "Who located the point."),
        _text("box", "Valve or splice box."),
        _text("awg", "Wire gauge."),
        _text("wire_color", "Colour of the wire."),
        _text("photo", "Photo file."),
        _text("note", "Free text."),
        _text("status", "State of a fault: standing or repaired."),
        _FILE,
        _ROW,
    ),
)

ZONE_LIST = Table(
    "zone_list",
    None,
    "The controller's zone list as read.",
    (
        _ZONE,
        _CONTROLLER,
        _text("name", "What the zone waters."),
        _integer("valves", "How many valves are expected; 1 where not said."),
        _text("awg", "Wire gauge."),
        _text("wire_color", "Colour of the zone's wire."),
        _text("common", "Colour or name of the common wire."),
        _number("ohms", "Station to common at the controller; infinite where it reads open."),
        _number("ohms_to_ground", "Station to ground; infinite where it reads open."),
        _text("kind", "zone, master_valve, pump_start or spare."),
        _text("note", "Free text."),
        _text("accepted", "Valves that the technician decided for the zone."),
        _FILE,
        _ROW,
    ),
)

REFERENCES_IN = Table(
    "references_in",
    None,
    "Fixed points as read.",
    (
        _text("reference", "Name of the fixed point."),
        _number("lon", "Longitude in the position's own CRS, degrees."),
        _number("lat", "Latitude in the position's own CRS, degrees."),
        _number("easting", "Easting in the position's own CRS and its own unit."),
        _number("northing", "Northing in the position's own CRS and its own unit."),
        _text("position_crs", "CRS of the position."),
        _number("elevation_m", "Elevation."),
        _number("grid_x_m", "Site-grid x."),
        _number("grid_y_m", "Site-grid y."),
        _number("rms_m", "Horizontal radial RMS of the position."),
        _text("kind", "What it is: building corner, curb, monument, tree."),
        _FILE,
        _ROW,
    ),
)

READINGS = Table(
    "readings",
    None,
    "Electrical readings at the controller or along a wire.",
    (
        _ZONE,
        _CONTROLLER,
        _text("date", "Date, ISO 8601."),
        _text("kind", "ohms, ohms_to_ground, loop_ohms, murray, varley, capacitance."),
        _text("value", "Value as written."),
        _text("note", "Free text."),
        _FILE,
        _ROW,
    ),
)

LOCATES = Table(
    "locates",
    "Point",
    "Every located point, placed, with what came in.",
    (
        _POINT,
        _text("feature", "What the point is.", kinds.Feature),
        _RUN,
        _ZONE,
        _RMS,
        _text("placed_by", "How the position was fixed.", kinds.PlacedBy),
        _FILE,
        _ROW,
    ),
)

DEPTH_READINGS = Table(
    "depth_readings",
    "Point",
    "One row a measured depth.",
    (
        _POINT,
        _RUN,
        _CHAINAGE,
        _DEPTH,
        _DEPTH_SIGMA,
        _text("method", "How the depth was measured.", kinds.DepthMethod),
        _number("cross_slope_deg", "Cross slope used or found, rising to the left positive."),
        _text("slope_source", "Where the cross slope came from."),
        _text("date", "Date of the reading, ISO 8601."),
    ),
)

WIRE_RUNS = Table(
    "wire_runs",
    "LineString",
    "One row a traced wire.",
    (
        _RUN,
        _text("zones", "Zones the wire serves, parted by semicolons."),
        _CONTROLLER,
        _text("start_point", "First point of the line."),
        _text("end_point", "Last point of the line."),
        _text("end_kind", "What stands at the far end.", kinds.EndKind),
        _number("length_m", "Length along the ground."),
        _number("depth_min_m", "Least depth read."),
        _number("depth_mean_m", "Mean depth along the run."),
        _number("depth_max_m", "Greatest depth read."),
        _integer("depth_count", "Number of depth readings."),
        _RMS,
        *_SEEN,
    ),
)

WIRE_SEGMENTS = Table(
    "wire_segments",
    "LineString",
    "One row a stretch of wire between two located points.",
    (
        _RUN,
        _text("from_point", "Point where the stretch starts."),
        _text("to_point", "Point where the stretch ends."),
        _number("chainage_from_m", "Distance along the run where the stretch starts."),
        _number("chainage_to_m", "Distance along the run where the stretch ends."),
        _number("depth_from_m", "Depth where the stretch starts."),
        _number("depth_to_m", "Depth where the stretch ends."),
        _number("depth_sigma_m", "Greatest standard deviation of the depth on the stretch."),
        _number("cover_low_m", "Shallow bound of the cover at the stated confidence."),
        _RMS,
        _text("evidence", "How the stretch is known.", kinds.Evidence),
    ),
)

VALVES = Table(
    "valves",
    "Point",
    "One row a valve.",
    (
        _text("valve", "Name of the valve."),
        _ZONE,
        _CONTROLLER,
        _RUN,
        _text("box", "Valve box."),
        _DEPTH,
        _DEPTH_SIGMA,
        _RMS,
        _integer("observations", "How many locates the row rests on."),
        _text("zone_status", "How its zone stands against the list.", kinds.ValveZoneStatus),
        _text("suggested_zone", "Zone that the evidence suggests, never adopted in silence."),
        _number("suggested_margin", "How clear the suggestion is: 0 none, 1 certain."),
        _number("path_length_m", "Wire path from the controller."),
        _number("path_length_sigma_m", "One standard deviation of that length."),
        _text("first_date", "Date of the first observation, ISO 8601."),
        _text("last_date", "Date of the last observation, ISO 8601."),
    ),
)

SPLICES = Table(
    "splices",
    "Point",
    "One row a splice.",
    (
        _text("splice", "Name of the splice."),
        _RUN,
        _DEPTH,
        _DEPTH_SIGMA,
        _RMS,
        _text("box", "Splice box."),
        *_SEEN,
    ),
)

FAULTS = Table(
    "faults",
    "Point",
    "One row a fault, reported or computed from the tone.",
    (
        _text("fault", "Name of the fault."),
        _RUN,
        _text("kind", "What is wrong.", kinds.FaultKind),
        _CHAINAGE,
        _number("chainage_low_m", "Near end of the 95 % interval along the run."),
        _number("chainage_high_m", "Far end of the 95 % interval along the run."),
        _number("loss_fraction", "Share of the current that leaves the wire here."),
        _number("loss_fraction_low", "Low end of its 95 % interval."),
        _number("loss_fraction_high", "High end of its 95 % interval."),
        _number("confidence", "Probability that the fault is of this kind."),
        _text("status", "Whether it is still there.", kinds.FaultStatus),
        _text("evidence", "What it rests on."),
        _text("dig", "Where to open first, and what else could explain it."),
        _RMS,
        *_SEEN,
    ),
)

CONTROLLERS = Table("controllers", "Point", "One row a controller.", (_CONTROLLER, _RMS, *_SEEN))

EQUIPMENT = Table(
    "equipment",
    "Point",
    "The rest of the system, as far as it was located.",
    (
        _text("kind", "What it is.", kinds.Feature),
        _text("label", "Name of the item."),
        _RMS,
        *_SEEN,
    ),
)

REFERENCES = Table(
    "references",
    "Point",
    "Fixed points that ties, baselines and site grids hang on.",
    (
        _text("reference", "Name of the fixed point."),
        _text("kind", "What it is."),
        _number("rms", "Horizontal radial RMS of the position, metres."),
        Column("is_permanent", "flag", "Whether it is an immovable object."),
    ),
)

TIES = Table(
    "ties",
    None,
    "Each controller, valve, splice and fault dimensioned from two permanent points.",
    (
        _text("layer", "Layer of the feature."),
        _text("feature_id", "Name of the feature in that layer."),
        _text("reference_a", "First reference."),
        _number("distance_a_m", "Distance from the first reference."),
        _text("reference_b", "Second reference."),
        _number("distance_b_m", "Distance from the second reference."),
        _text("side", "Side of the line from the first to the second reference."),
        _text("source", "measured or computed."),
        _number("cut_angle_deg", "Angle at which the two distances cross."),
    ),
)

DIG_BUFFER = Table(
    "dig_buffer",
    "Polygon",
    "Advisory band around each run: dig by hand inside it. Not a utility locate.",
    (
        _RUN,
        _number("half_width_m", "Greatest half width of the band."),
        _number("cover_low_m", "Least shallow bound of the cover along the run."),
        _number("tolerance_m", "Tolerance added to the wire's own uncertainty."),
        _number("confidence", "Confidence of the wire's own uncertainty."),
        _number("area_m2", "Area of the band."),
        Column("advisory_only", "flag", "Always true."),
        _text("advisory", "The caution in words."),
    ),
)

ZONES = Table(
    "zones",
    None,
    "The controller's zones against the ground.",
    (
        _ZONE,
        _CONTROLLER,
        _text("name", "What the zone waters."),
        _integer("valves_listed", "Valves that the list expects."),
        _integer("valves_found", "Valves found on the ground."),
        _text("runs", "Runs traced for the zone, parted by semicolons."),
        _text("status", "How the zone stands against the ground.", kinds.ZoneStatus),
        _number("mapped_length_m", "Wire path from the controller to the farthest valve."),
        _number("ohms", "Station to common as read."),
        _number("ohms_expected_low", "Low end of what coil and wire let expect."),
        _number("ohms_expected_high", "High end of what coil and wire let expect."),
        _text("ohms_status", "How the reading stands against that.", kinds.OhmsStatus),
    ),
)

FINDINGS = Table(
    "findings",
    "Point",
    "What is wrong, doubtful or worth knowing.",
    (
        _text("code", "Stable code."),
        _text("severity", "How much it matters.", kinds.Severity),
        _text("subject", "What it is about."),
        _text("message", "The rule and what was found."),
        _text("advice", "What to do."),
        _FILE,
        _ROW,
        _text("column", "Column in that file."),
        _text("value", "Value as found."),
    ),
)

PROVENANCE = Table(
    "provenance",
    None,
    "Where the record comes from and with which settings it was made.",
    (_text("item", "What is stated."), _text("value", "Its value.")),
)

LAYERS: tuple[Table, ...] = (
    LOCATES, DEPTH_READINGS, WIRE_RUNS, WIRE_SEGMENTS, VALVES, SPLICES, FAULTS, CONTROLLERS,
    EQUIPMENT, REFERENCES, TIES, DIG_BUFFER, ZONES, FINDINGS, PROVENANCE,
)  # fmt: skip
"""The layers of an as-built, in the order they are written."""

INPUTS: tuple[Table, ...] = (LOCATES_IN, ZONE_LIST, REFERENCES_IN, READINGS)
"""The tables that a property folder is read into."""
