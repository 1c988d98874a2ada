"""Small tables of locates and references for the tests of placement."""

import pandas as pd

from wiremap.model.settings import Settings
from wiremap.model.tables import LOCATES_IN, REFERENCES_IN
from wiremap.steps.placement import place_locates

UTM14 = "EPSG:32614"


def locates(*rows, **common):
    """Table ``locates_in`` of rows, counted from row 2 of spring.csv."""
    frame = pd.DataFrame([{"feature": "path", **common, **row} for row in rows])
    frame["source_file"], frame["source_row"] = "spring.csv", range(2, len(frame) + 2)
    return LOCATES_IN.conform(frame)


def references(*rows, **common):
    """Table ``references_in`` of rows."""
    if not rows:
        return REFERENCES_IN.empty()
    frame = pd.DataFrame([{**common, **row} for row in rows])
    frame["source_file"], frame["source_row"] = "references.csv", range(2, len(frame) + 2)
    return REFERENCES_IN.conform(frame)


def place(rows, fixed=None, *, thresholds=None, **coordinates):
    """Place rows with the coordinates settings given."""
    settings = Settings(coordinates=coordinates, thresholds=thresholds or {})
    return place_locates(rows, references() if fixed is None else fixed, settings=settings)


def codes(placed):
    """Finding codes, in order."""
    return [finding.code for finding in placed.findings]


def finding(placed, code):
    """The one finding of a code."""
    (found,) = [f for f in placed.findings if f.code == code]
    return found


def xy(placed):
    """Coordinates of the placed points."""
    return placed.locates.geometry.get_coordinates().to_numpy()
