"""Tables of a record over the seasons: history, revisions, kept inputs, changes, lost cover."""

from __future__ import annotations

from wiremap.model import kinds
from wiremap.model.columns import Table
from wiremap.model.usual_columns import (
    DEPTH,
    DEPTH_SIGMA,
    RMS,
    RUN,
    integer,
    number,
    text,
)

HISTORY = Table(
    "history",
    "Point",
    "What held once and holds no longer: nothing that was ever found is deleted.",
    (
        text("layer", "Layer that it stood in."),
        text("feature_id", "Name of the feature in that layer."),
        RUN,
        text("reason", "Why it holds no longer.", kinds.HistoryReason),
        text("valid_from", "Date of the first observation, ISO 8601."),
        text("valid_to", "Date of the visit that closed it, ISO 8601."),
        text("value", "What was stated and was replaced, such as a zone."),
        DEPTH,
        DEPTH_SIGMA,
        RMS,
        integer("observations", "How many locates it rested on."),
        text("message", "What happened, in words."),
    ),
)

REVISIONS = Table(
    "revisions",
    None,
    "When and by whom the record was issued and amended.",
    (
        integer("number", "0 for the first issue."),
        text("date", "Date of the issue, ISO 8601."),
        text("what", "What was done."),
        text("by", "Who did it."),
        text("inputs", "Files that came in, parted by semicolons."),
    ),
)

KEPT = Table(
    "inputs",
    None,
    "What the record was built from, as it came in: enough to build it again or to amend it.",
    (
        text("input", "Name of the table: locates, zone_list, settings and so on."),
        integer("part", "Number of the part, from 0; long tables are parted."),
        integer("rows", "Rows in the part."),
        text("content", "The rows as JSON, column by column; lengths are metres."),
    ),
)

CHANGES = Table(
    "changes",
    "Point",
    "How two records of one property differ.",
    (
        text("change", "How they differ.", kinds.Change),
        text("layer", "Layer of the feature."),
        text("feature_id", "Name of the feature in that layer, in the newer record if there."),
        RUN,
        text("was", "What the older record says."),
        text("now", "What the newer record says."),
        number("difference_m", "How far apart the two are."),
        number("limit_m", "What their uncertainty allows at the stated confidence."),
        number("chainage_from_m", "Where the stretch starts along the run, newer record."),
        number("chainage_to_m", "Where the stretch ends along the run, newer record."),
        text("message", "The difference in words."),
    ),
)

LOST_COVER = Table(
    "lost_cover",
    "LineString",
    "Stretches of wire that lie under less ground since it was graded again.",
    (
        RUN,
        number("chainage_from_m", "Where the stretch starts along the run."),
        number("chainage_to_m", "Where the stretch ends along the run."),
        number("cover_before_m", "Least cover along the stretch when it was located."),
        number("cover_now_m", "Least cover along the stretch under the new surface."),
        number("cover_sigma_m", "One standard deviation of that cover."),
        number("cover_low_m", "Shallow bound of that cover at the stated confidence."),
        number("lost_m", "Greatest loss of ground along the stretch."),
        text("status", "bare, too_shallow or shallower."),
        text("message", "The loss in words."),
    ),
)
