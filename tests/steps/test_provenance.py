"""Where a record comes from."""

from __future__ import annotations

from pathlib import Path

from wiremap.model.property import Property
from wiremap.model.settings import Settings
from wiremap.model.tables import LOCATES_IN, READINGS, REFERENCES_IN, ZONE_LIST
from wiremap.steps.provenance import tabulate_provenance


def test_every_setting_that_differs_from_its_default_is_stated():
    """None is left out, not even those of the section that names the property."""
    settings = Settings.model_validate(
        {
            "property": {"name": "Quarry Pond", "none_here": ["pump"]},
            "chart": {"approved_on": "2026-05-04"},
            "thresholds": {"join_m": 3.0},
        }
    )
    tables = (table.empty() for table in (LOCATES_IN, ZONE_LIST, REFERENCES_IN, READINGS))
    source = Property(Path("quarry"), settings, *tables)
    stated = tabulate_provenance(source, [])
    assert dict(stated[stated["item"].str.startswith("setting")].to_numpy().tolist()) == {
        "setting property.none_here": "['pump']",
        "setting chart.approved_on": "2026-05-04",
        "setting thresholds.join_m": "3.0",
    }
