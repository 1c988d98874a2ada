"""The closed sets of words that tables use, stored as their lower-case text."""

from __future__ import annotations

from enum import StrEnum


class Feature(StrEnum):
    """What a located point is."""

    PATH = "path"
    OFFSET_MARK = "offset_mark"
    VALVE = "valve"
    SPLICE = "splice"
    FAULT = "fault"
    CONTROLLER = "controller"
    STAKE = "stake"
    LOST = "lost"
    EXPOSED = "exposed"
    REFERENCE = "reference"
    GROUND = "ground"
    SENSOR = "sensor"
    PUMP = "pump"
    FILTER = "filter"
    BACKFLOW = "backflow"
    WATER_SOURCE = "water_source"
    POWER_SOURCE = "power_source"
    SHUTOFF = "shutoff"
    QUICK_COUPLER = "quick_coupler"
    PULL_BOX = "pull_box"
    SLEEVE = "sleeve"
    CHECK_POINT = "check_point"


EQUIPMENT = (
    Feature.GROUND,
    Feature.SENSOR,
    Feature.PUMP,
    Feature.FILTER,
    Feature.BACKFLOW,
    Feature.WATER_SOURCE,
    Feature.POWER_SOURCE,
    Feature.SHUTOFF,
    Feature.QUICK_COUPLER,
    Feature.PULL_BOX,
    Feature.SLEEVE,
    Feature.STAKE,
)
"""Features that land in the ``equipment`` layer."""

ON_WIRE = (
    Feature.PATH,
    Feature.EXPOSED,
    Feature.VALVE,
    Feature.SPLICE,
    Feature.FAULT,
    Feature.CONTROLLER,
    Feature.LOST,
    Feature.PULL_BOX,
    Feature.SLEEVE,
)
"""Features that stand on the wire: with a run they are vertices of its line."""


MEANINGS: dict[Feature, str] = {
    Feature.PATH: "mark over the null: the wire lies below",
    Feature.OFFSET_MARK: "second mark of a depth pair, where it has a position of its own",
    Feature.VALVE: "irrigation valve",
    Feature.SPLICE: "splice",
    Feature.FAULT: "fault seen on the wire",
    Feature.CONTROLLER: "controller",
    Feature.STAKE: "ground stake of the transmitter",
    Feature.LOST: "tone lost here",
    Feature.EXPOSED: "wire seen in an open hole",
    Feature.REFERENCE: "fixed point that ties hang on",
    Feature.GROUND: "grounding point",
    Feature.SENSOR: "rain, soil or flow sensor",
    Feature.PUMP: "pump",
    Feature.FILTER: "filter",
    Feature.BACKFLOW: "backflow preventer",
    Feature.WATER_SOURCE: "water meter, well or connection",
    Feature.POWER_SOURCE: "panel or outlet that feeds the controller",
    Feature.SHUTOFF: "shut-off valve of the water",
    Feature.QUICK_COUPLER: "quick coupler",
    Feature.PULL_BOX: "pull box",
    Feature.SLEEVE: "end of a sleeve",
    Feature.CHECK_POINT: "known point, located to test the positions",
}
"""What each feature word means, for people."""


class Side(StrEnum):
    """Side of a line, looking along it."""

    LEFT = "left"
    RIGHT = "right"


class ReadingKind(StrEnum):
    """What an electrical reading is."""

    OHMS = "ohms"
    OHMS_TO_GROUND = "ohms_to_ground"
    LOOP_OHMS = "loop_ohms"
    MURRAY = "murray"
    VARLEY = "varley"
    CAPACITANCE = "capacitance"


class PlacedBy(StrEnum):
    """How a position was fixed."""

    GNSS = "gnss"
    SURVEY = "survey"
    TIES = "ties"
    BASELINE = "baseline"
    GRID = "grid"


class DepthMethod(StrEnum):
    """How a depth was measured."""

    TWO_SIDED = "two_sided"
    ONE_SIDED = "one_sided"
    LOCATED_PAIR = "located_pair"
    EXPOSED = "exposed"
    PROBED = "probed"


class EndKind(StrEnum):
    """What stands at the far end of a run."""

    VALVE = "valve"
    SPLICE = "splice"
    FAULT = "fault"
    LOST = "lost"
    OPEN = "open"


class Evidence(StrEnum):
    """How a stretch of wire is known."""

    EXPOSED = "exposed"
    TRACED = "traced"
    INFERRED = "inferred"


class FaultKind(StrEnum):
    """What is wrong with a wire."""

    BREAK = "break"
    LEAK = "leak"
    OPEN_END = "open_end"
    REPORTED = "reported"


class FaultStatus(StrEnum):
    """Whether a fault is still there."""

    STANDING = "standing"
    REPAIRED = "repaired"


class ZoneStatus(StrEnum):
    """How a zone of the controller's list stands against the ground."""

    COMPLETE = "complete"
    PARTIAL = "partial"
    MISSING = "missing"
    UNLISTED = "unlisted"


class ValveZoneStatus(StrEnum):
    """How a valve's zone stands against the controller's list."""

    LISTED = "listed"
    UNLISTED = "unlisted"
    SHARED = "shared"
    SUGGESTED = "suggested"
    UNASSIGNED = "unassigned"


class OhmsStatus(StrEnum):
    """How a station's resistance stands against what the map lets expect."""

    AS_EXPECTED = "as_expected"
    LOW = "low"
    HIGH = "high"
    OPEN = "open"
    NOT_READ = "not_read"


class HistoryReason(StrEnum):
    """Why something of the record holds no longer, or never came to hold."""

    MOVED = "moved"
    REMOVED = "removed"
    REROUTED = "rerouted"
    REZONED = "rezoned"
    REMEASURED = "remeasured"
    REPAIRED = "repaired"
    TRACED_ON = "traced_on"
    CONTRADICTED = "contradicted"


class Change(StrEnum):
    """How two records of one property differ in one place."""

    ADDED = "added"
    GONE = "gone"
    RENAMED = "renamed"
    MOVED = "moved"
    REROUTED = "rerouted"
    LENGTH_CHANGED = "length_changed"
    DEPTH_CHANGED = "depth_changed"
    ZONE_CHANGED = "zone_changed"
    FAULT_OPENED = "fault_opened"
    FAULT_CLOSED = "fault_closed"


class Severity(StrEnum):
    """How much a finding matters."""

    ERROR = "error"
    WARNING = "warning"
    NOTE = "note"
