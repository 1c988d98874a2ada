"""Raw tables of fixed points and readings."""

import pandas as pd
import pytest

from wiremap.errors import ReadError
from wiremap.model.settings import Settings
from wiremap.model.tables import READINGS, REFERENCES_IN
from wiremap.plugins import RawTable
from wiremap.read.conversion import Source
from wiremap.read.references import read_readings, read_references


def raw(columns):
    rows = len(next(iter(columns.values())))
    return RawTable(pd.DataFrame(columns, index=pd.RangeIndex(2, 2 + rows)))


PLANE = Source("references.csv", Settings(coordinates={"input_crs": "EPSG:26914"}))


def test_references_have_their_declared_columns_in_metres():
    """Grid coordinates in feet become metres; map coordinates stay in CRS units."""
    found = read_references(
        raw(
            {
                "Name": ["SW corner"],
                "E": ["500000"],
                "N": ["4600000"],
                "grid_x_ft": ["100"],
                "grid_y_ft": ["0"],
            }
        ),
        PLANE,
    )

    assert set(REFERENCES_IN.column_names) <= set(found.frame.columns)
    row = found.frame.iloc[0]
    assert (row["reference"], row["easting"], row["northing"]) == ("SW corner", 500000, 4600000)
    assert row["grid_x_m"] == pytest.approx(30.48)


def test_a_reference_without_a_name_is_called_after_its_row():
    """The ties cannot name it, which is said."""
    found = read_references(
        raw({"reference": [""], "lon": ["-97"], "lat": ["41"]}), Source("references.csv")
    )

    assert found.frame["reference"].tolist() == ["row 2"]
    assert [(f.code, f.source_row) for f in found.findings] == [("bad-value", 2)]


def test_references_without_a_position_are_refused():
    """Nothing can hang on them."""
    with pytest.raises(ReadError, match="no columns give a position"):
        read_references(raw({"reference": ["A"], "kind": ["tree"]}), PLANE)


def test_readings_keep_their_value_as_written():
    """The kind says how it is to be read."""
    found = read_readings(
        raw(
            {"zone": ["03"], "date": ["2026-05-04"], "kind": ["murray"], "value": ["0.412 of 1000"]}
        ),
        Source("readings.csv"),
    )

    assert set(READINGS.column_names) <= set(found.frame.columns)
    assert found.frame[["zone", "value"]].iloc[0].tolist() == ["3", "0.412 of 1000"]


def test_readings_without_a_zone_are_refused():
    """Each belongs to a zone."""
    with pytest.raises(ReadError, match="a zone and a value"):
        read_readings(raw({"value": ["3"]}), Source("readings.csv"))
