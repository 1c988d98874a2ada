"""Every table that wiremap reads and writes, declared once.

The GeoPackage's column descriptions, the reference pages of the documentation and the pandera
schemas all come from these declarations. Lengths are metres, angles degrees, resistances ohms.
"""

from __future__ import annotations

from wiremap.model import kinds
from wiremap.model.columns import Column, Table
from wiremap.model.season_tables import HISTORY, KEPT, REVISIONS
from wiremap.model.usual_columns import (
    AGE,
    CHAINAGE,
    CONTROLLER,
    DEPTH,
    DEPTH_SIGMA,
    FILE,
    POINT,
    RMS,
    ROW,
    RUN,
    SEEN,
    ZONE,
    integer,
    number,
    text,
)

LOCATES_IN = Table(
    "locates_in",
    None,
    "Field locates as read: the contract's columns, in metres, degrees and ohms.",
    (
        POINT,
        text("feature", "What the point is.", kinds.Feature),
        RUN,
        number("order", "Position along the run, any increasing number."),
        ZONE,
        CONTROLLER,
        number("lon", "Longitude in the position's own CRS, degrees."),
        number("lat", "Latitude in the position's own CRS, degrees."),
        number("easting", "Easting in the position's own CRS and its own unit."),
        number("northing", "Northing in the position's own CRS and its own unit."),
        text("position_crs", "CRS of the position."),
        number("elevation_m", "Ground elevation."),
        text("tie_a", "First reference of a taped tie."),
        number("tie_a_dist_m", "Taped distance from the first reference."),
        text("tie_b", "Second reference of a taped tie."),
        number("tie_b_dist_m", "Taped distance from the second reference."),
        text("tie_c", "Third reference of a taped tie."),
        number("tie_c_dist_m", "Taped distance from the third reference."),
        text("tie_side", "Side of the line from the first to the second.", kinds.Side),
        text("baseline_a", "Reference where the baseline starts."),
        text("baseline_b", "Reference that the baseline points at."),
        number("baseline_chainage_m", "Distance along the baseline."),
        number("baseline_offset_m", "Distance square off the baseline, right positive."),
        number("grid_x_m", "Site-grid x."),
        number("grid_y_m", "Site-grid y."),
        number("h_rms_m", "Horizontal radial RMS stated for this position."),
        number("offset_left_m", "Null mark to the left with the receiver leaning, along ground."),
        number("offset_right_m", "Null mark to the right with the receiver leaning, along ground."),
        number("lean_deg", "Lean of the receiver from the vertical."),
        number("receiver_height_m", "Height of the receiver's antenna above the ground."),
        text("pair", "On an offset mark: the point of its path mark."),
        DEPTH,
        number("cross_slope_deg", "Ground slope across the path, rising to the left positive."),
        number("tone", "Receiver level beside the null, in the receiver's own units."),
        number("gain", "Receiver sensitivity setting."),
        text("date", "Date or time, ISO 8601."),
        text("operator", "Who located the point."),
        text("box", "Valve or splice box."),
        text("awg", "Wire gauge."),
        text("wire_color", "Colour of the wire."),
        text("photo", "Photo file."),
        text("note", "Free text."),
        text("status", "State of a fault: standing or repaired; of a device: moved or removed."),
        FILE,
        ROW,
    ),
)

ZONE_LIST = Table(
    "zone_list",
    None,
    "The controller's zone list as read.",
    (
        ZONE,
        CONTROLLER,
        text("name", "What the zone waters."),
        integer("valves", "How many valves are expected; 1 where not said."),
        text("awg", "Wire gauge."),
        text("wire_color", "Colour of the zone's wire."),
        text("common", "Colour or name of the common wire."),
        number("ohms", "Station to common at the controller; infinite where it reads open."),
        number("ohms_to_ground", "Station to ground; infinite where it reads open."),
        text("kind", "zone, master_valve, pump_start or spare."),
        text("note", "Free text."),
        text("accepted", "Valves that the technician decided for the zone."),
        FILE,
        ROW,
    ),
)

REFERENCES_IN = Table(
    "references_in",
    None,
    "Fixed points as read.",
    (
        text("reference", "Name of the fixed point."),
        number("lon", "Longitude in the position's own CRS, degrees."),
        number("lat", "Latitude in the position's own CRS, degrees."),
        number("easting", "Easting in the position's own CRS and its own unit."),
        number("northing", "Northing in the position's own CRS and its own unit."),
        text("position_crs", "CRS of the position."),
        number("elevation_m", "Elevation."),
        number("grid_x_m", "Site-grid x."),
        number("grid_y_m", "Site-grid y."),
        number("rms_m", "Horizontal radial RMS of the position."),
        text("kind", "What it is: building corner, curb, monument, tree."),
        FILE,
        ROW,
    ),
)

READINGS = Table(
    "readings",
    None,
    "Electrical readings at the controller or along a wire.",
    (
        ZONE,
        CONTROLLER,
        text("date", "Date, ISO 8601."),
        text("kind", "What was measured.", kinds.ReadingKind),
        text("value", "Value as written."),
        text("note", "Free text."),
        FILE,
        ROW,
    ),
)

DECISIONS = Table(
    "decisions",
    None,
    "The technician's decisions on suggested zones.",
    (
        text("valve", "Name of the valve."),
        ZONE,
        CONTROLLER,
        text("accepted", "no where the suggestion was refused; the zone holds otherwise."),
        text("date", "Date of the decision, ISO 8601."),
        text("note", "Free text."),
        FILE,
        ROW,
    ),
)

LOCATES = Table(
    "locates",
    "Point",
    "Every located point, placed, with what came in.",
    (
        POINT,
        text("feature", "What the point is.", kinds.Feature),
        RUN,
        ZONE,
        RMS,
        text("placed_by", "How the position was fixed.", kinds.PlacedBy),
        FILE,
        ROW,
        text("superseded_on", "Day of the visit that closed the row; empty where it holds."),
        number("datum_accuracy_m", "Accuracy of the shift between datums, common to the map."),
    ),
)

DEPTH_READINGS = Table(
    "depth_readings",
    "Point",
    "One row a measured depth.",
    (
        POINT,
        RUN,
        CHAINAGE,
        DEPTH,
        DEPTH_SIGMA,
        text("method", "How the depth was measured.", kinds.DepthMethod),
        number("cross_slope_deg", "Cross slope used or found, rising to the left positive."),
        text("slope_source", "Where the cross slope came from."),
        text("date", "Date of the reading, ISO 8601."),
        number("systematic_sigma_m", "Part of the sigma that all readings share, of the lean."),
        number("slope_part_m", "Change of the depth for one sigma of the cross slope, signed."),
    ),
)

WIRE_RUNS = Table(
    "wire_runs",
    "LineString",
    "One row a traced wire.",
    (
        RUN,
        text("zones", "Zones the wire serves, parted by semicolons."),
        CONTROLLER,
        text("start_point", "First point of the line."),
        text("end_point", "Last point of the line."),
        text("end_kind", "What stands at the far end.", kinds.EndKind),
        number("length_m", "Length along the ground."),
        number("depth_min_m", "Least depth read."),
        number("depth_mean_m", "Mean depth along the run."),
        number("depth_max_m", "Greatest depth read."),
        integer("depth_count", "Number of depth readings."),
        RMS,
        *SEEN,
    ),
)

WIRE_SEGMENTS = Table(
    "wire_segments",
    "LineString",
    "One row a stretch of wire between two located points.",
    (
        RUN,
        text("from_point", "Point where the stretch starts."),
        text("to_point", "Point where the stretch ends."),
        number("chainage_from_m", "Distance along the run where the stretch starts."),
        number("chainage_to_m", "Distance along the run where the stretch ends."),
        number("depth_from_m", "Depth where the stretch starts."),
        number("depth_to_m", "Depth where the stretch ends."),
        number("depth_sigma_m", "Greatest standard deviation of the depth on the stretch."),
        number("cover_low_m", "Shallow bound of the cover at the stated confidence."),
        RMS,
        text("evidence", "How the stretch is known.", kinds.Evidence),
    ),
)

VALVES = Table(
    "valves",
    "Point",
    "One row a valve.",
    (
        text("valve", "Name of the valve."),
        ZONE,
        CONTROLLER,
        RUN,
        text("box", "Valve box."),
        DEPTH,
        DEPTH_SIGMA,
        RMS,
        integer("observations", "How many locates the row rests on."),
        text("zone_status", "How its zone stands against the list.", kinds.ValveZoneStatus),
        text("suggested_zone", "Zone that the evidence suggests, never adopted in silence."),
        number("suggested_margin", "How clear the suggestion is: 0 none, 1 certain."),
        number("path_length_m", "Wire path from the controller."),
        number("path_length_sigma_m", "One standard deviation of that length."),
        text("path_runs", "Runs on that path, from the controller to the valve."),
        text("first_date", "Date of the first observation, ISO 8601."),
        text("last_date", "Date of the last observation, ISO 8601."),
        AGE,
        CHAINAGE,
        text("run_zone", "Zones written on the other points of its run."),
        text("zone_from", "Where its zone was read: valve, run, or accepted."),
        text("awg", "Wire gauge."),
        text("wire_color", "Colour of the wire."),
        FILE,
        ROW,
    ),
)

SPLICES = Table(
    "splices",
    "Point",
    "One row a splice.",
    (
        text("splice", "Name of the splice."),
        RUN,
        DEPTH,
        DEPTH_SIGMA,
        RMS,
        text("box", "Splice box."),
        *SEEN,
        CHAINAGE,
        FILE,
        ROW,
    ),
)

FAULTS = Table(
    "faults",
    "Point",
    "One row a fault, reported or computed from the tone.",
    (
        text("fault", "Name of the fault."),
        RUN,
        text("kind", "What is wrong.", kinds.FaultKind),
        CHAINAGE,
        number("chainage_low_m", "Near end of the 95 % interval along the run."),
        number("chainage_high_m", "Far end of the 95 % interval along the run."),
        number("loss_fraction", "Share of the current that leaves the wire here."),
        number("loss_fraction_low", "Low end of its 95 % interval."),
        number("loss_fraction_high", "High end of its 95 % interval."),
        number("confidence", "Probability that the fault is of this kind."),
        text("status", "Whether it is still there.", kinds.FaultStatus),
        text("evidence", "What it rests on."),
        text("dig", "Where to open first, and what else could explain it."),
        RMS,
        *SEEN,
    ),
)

CONTROLLERS = Table(
    "controllers", "Point", "One row a controller.", (CONTROLLER, RMS, *SEEN, FILE, ROW)
)

EQUIPMENT = Table(
    "equipment",
    "Point",
    "The rest of the system, as far as it was located.",
    (
        text("kind", "What it is.", kinds.Feature),
        text("label", "Name of the item."),
        RMS,
        *SEEN,
        FILE,
        ROW,
    ),
)

REFERENCES = Table(
    "references",
    "Point",
    "Fixed points that ties, baselines and site grids hang on.",
    (
        text("reference", "Name of the fixed point."),
        text("kind", "What it is."),
        number("rms", "Horizontal radial RMS of the position, metres."),
        Column("is_permanent", "flag", "Whether it is an immovable object."),
        number("elevation_m", "Elevation."),
        number("grid_x_m", "Site-grid x."),
        number("grid_y_m", "Site-grid y."),
    ),
)

TIES = Table(
    "ties",
    None,
    "Each controller, valve, splice and fault dimensioned from two permanent points.",
    (
        text("layer", "Layer of the feature."),
        text("feature_id", "Name of the feature in that layer."),
        text("reference_a", "First reference."),
        number("distance_a_m", "Distance from the first reference."),
        text("reference_b", "Second reference."),
        number("distance_b_m", "Distance from the second reference."),
        text("side", "Side of the line from the first to the second reference."),
        text("source", "measured or computed."),
        number("cut_angle_deg", "Angle at which the two distances cross."),
        Column("blocked_a", "flag", "A building of the base stands before the first reference."),
        Column("blocked_b", "flag", "A building of the base stands before the second reference."),
    ),
)

DIG_BUFFER = Table(
    "dig_buffer",
    "Polygon",
    "Advisory band around each run: dig by hand inside it. Not a utility locate.",
    (
        RUN,
        number("half_width_m", "Greatest half width of the band."),
        number("cover_low_m", "Least shallow bound of the cover along the run."),
        number("tolerance_m", "Tolerance added to the wire's own uncertainty."),
        number("confidence", "Confidence of the wire's own uncertainty."),
        number("area_m2", "Area of the band."),
        Column("advisory_only", "flag", "Always true."),
        text("advisory", "The caution in words."),
    ),
)

ZONE_BUFFERS = Table(
    "zone_buffers",
    "Polygon",
    "The dig buffers of all runs of a zone as one area, and those of the whole property. Not a"
    " utility locate.",
    (
        text("scope", "zone, or property: all runs together."),
        ZONE,
        CONTROLLER,
        text("runs", "Runs whose bands are held, parted by semicolons."),
        number("area_m2", "Ground covered; what several runs share counts once."),
        number("tolerance_m", "Tolerance added to the wire's own uncertainty."),
        number("confidence", "Confidence of the wire's own uncertainty."),
        Column("advisory_only", "flag", "Always true."),
        text("advisory", "The caution in words."),
    ),
)

ZONES = Table(
    "zones",
    None,
    "The controller's zones against the ground.",
    (
        ZONE,
        CONTROLLER,
        text("name", "What the zone waters."),
        integer("valves_listed", "Valves that the list expects."),
        integer("valves_found", "Valves found on the ground."),
        text("runs", "Runs traced for the zone, parted by semicolons."),
        text("status", "How the zone stands against the ground.", kinds.ZoneStatus),
        number("mapped_length_m", "Wire path from the controller to the farthest valve."),
        number("ohms", "Station to common as read."),
        number("ohms_expected_low", "Low end of what coil and wire let expect."),
        number("ohms_expected_high", "High end of what coil and wire let expect."),
        text("ohms_status", "How the reading stands against that.", kinds.OhmsStatus),
        text("kind", "zone, master_valve, pump_start or spare."),
    ),
)

FINDINGS = Table(
    "findings",
    "Point",
    "What is wrong, doubtful or worth knowing.",
    (
        text("code", "Stable code."),
        text("severity", "How much it matters.", kinds.Severity),
        text("subject", "What it is about."),
        text("message", "The rule and what was found."),
        text("advice", "What to do."),
        FILE,
        ROW,
        text("column", "Column in that file."),
        text("value", "Value as found."),
    ),
)

PROVENANCE = Table(
    "provenance",
    None,
    "Where the record comes from and with which settings it was made.",
    (text("item", "What is stated."), text("value", "Its value.")),
)

LAYERS: tuple[Table, ...] = (
    LOCATES, DEPTH_READINGS, WIRE_RUNS, WIRE_SEGMENTS, VALVES, SPLICES, FAULTS, CONTROLLERS,
    EQUIPMENT, REFERENCES, TIES, DIG_BUFFER, ZONE_BUFFERS, ZONES, FINDINGS, PROVENANCE, HISTORY,
    REVISIONS, KEPT,
)  # fmt: skip
"""The layers of an as-built, in the order they are written."""

INPUTS: tuple[Table, ...] = (LOCATES_IN, ZONE_LIST, REFERENCES_IN, READINGS, DECISIONS)
"""The tables that a property folder is read into."""
