"""The record of the whole package."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from xml.etree import ElementTree as ET

import pytest
from osgeo_utils.samples.validate_gpkg import check
from sample_layers import make_context

from wiremap.draw.record import CAUTION
from wiremap.model.settings import Settings
from wiremap.write.geopackage import write_geopackage

GMD = "{http://www.isotc211.org/2005/gmd}"
GCO = "{http://www.isotc211.org/2005/gco}"


def record(path):
    """Return the scope of the package's record, and the record as a tree."""
    with closing(sqlite3.connect(path)) as db:
        ((scope, text),) = db.execute(
            "SELECT reference_scope, metadata FROM gpkg_metadata"
            " JOIN gpkg_metadata_reference ON md_file_id = id"
        )
    return scope, ET.fromstring(text)


def text_of(root, name):
    """Return the text of the first element of a name."""
    return next(root.iter(f"{GMD}{name}")).find(f"{GCO}CharacterString").text


def test_the_package_carries_the_caution_as_a_limitation_of_use(tmp_path):
    """OGC 12-128r17, annex F.8: one record that is referenced by the whole package."""
    path = write_geopackage({}, tmp_path, make_context(name="Rowan & Son's <Yard>"))[0]
    assert check(str(path), abort_at_first_error=False, verbose=False) == []
    scope, root = record(path)
    assert scope == "geopackage"
    assert text_of(root, "useLimitation") == CAUTION
    assert text_of(root, "title") == "Irrigation wire as-built of Rowan & Son's <Yard>"
    assert text_of(root, "code") == "26914"


@pytest.mark.parametrize("date", ["2026-05-04", None])
def test_a_date_that_nobody_stated_is_called_unknown(tmp_path, date):
    """No date is made up: ISO 19139 has a word for it."""
    stated = {"prepared_by": "Field crew \x072", "prepared_on": date}
    settings = Settings.model_validate({"property": stated})
    _, root = record(write_geopackage({}, tmp_path, make_context(settings=settings))[0])
    stamp = root.find(f"{GMD}dateStamp")
    if date:
        assert stamp.find(f"{GCO}Date").text == date
    else:
        assert stamp.get(f"{GCO}nilReason") == "unknown"
    assert text_of(root, "organisationName") == "Field crew 2"
