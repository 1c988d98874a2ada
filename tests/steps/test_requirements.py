"""An as-built held against requirement profiles."""

from __future__ import annotations

import shutil
from pathlib import Path

import geopandas as gpd
import numpy as np
import pytest
from pyproj import CRS
from sample_layers import make_layer, make_layers
from shapely import Point

import wiremap
from wiremap.errors import SettingsError
from wiremap.model.frame import Frame
from wiremap.model.requirements import Requirement, RequirementProfile
from wiremap.model.settings import Settings
from wiremap.model.tables import EQUIPMENT, REFERENCES, TIES, VALVES, WIRE_SEGMENTS, ZONES
from wiremap.read.requirements import list_profiles, read_profile
from wiremap.steps.requirements import CHECKS, check_requirements
from wiremap.steps.requirements.record import Record

DEMO = Path(wiremap.__file__).parent / "demo"
DATA = Path(__file__).parent.parent.parent / "data"
UTM = Frame(CRS("EPSG:26914"), CRS("EPSG:26914"))


def record(layers=None, *, frame=UTM, base=None, **settings):
    """Return a record of some layers and settings."""
    return Record(layers or {}, frame, Settings.model_validate(settings), base or {})


def ties(rows):
    """Return ties from (layer, name, first reference, second reference)."""
    table = make_layer(TIES, len(rows))
    for k, column in enumerate(("layer", "feature_id", "reference_a", "reference_b")):
        table[column] = [row[k] for row in rows]
    return table


def references(permanent):
    """Return references A, B, C... of which some are permanent."""
    table = make_layer(REFERENCES, len(permanent))
    table["reference"] = list("ABCDEF"[: len(permanent)])
    table["is_permanent"] = permanent
    return table


def valves(*names):
    """Return valves of these names."""
    table = make_layer(VALVES, len(names))
    table["valve"] = list(names)
    return table


def test_a_feature_needs_two_different_permanent_references():
    """Kern County 502-2: two permanent points; a fence post, one point twice, or none will not do."""
    layers = {
        "valves": valves("V1", "V2", "V3", "V4"),
        "references": references([True, True, False]),
        "ties": ties([("valves", "V1", "A", "B"), ("valves", "V2", "A", "C"),
                      ("valves", "V3", "A", "A")]),
    }  # fmt: skip
    assert CHECKS["ties"](record(layers), layers=["valves", "splices"]) == [
        "valves V2", "valves V3", "valves V4"
    ]  # fmt: skip
    assert CHECKS["permanent"](record(layers), least=2) == []
    assert CHECKS["permanent"](record(layers), least=3) == ["3 permanent reference points, got 2"]


def test_a_tie_without_its_distances_is_none():
    """A dimension is a number."""
    tied = ties([("valves", "V1", "A", "B")])
    tied["distance_b_m"] = np.nan
    layers = {"valves": valves("V1"), "references": references([True, True]), "ties": tied}
    assert CHECKS["ties"](record(layers), layers=["valves"]) == ["valves V1"]


@pytest.mark.parametrize(("length_m", "is_met"), [(30.47, True), (30.49, False)])
def test_routing_is_held_at_one_hundred_feet(length_m, is_met):
    """100 ft is 30.48 m exactly (NIST SP 811)."""
    segments = make_layer(WIRE_SEGMENTS, 1)
    segments["chainage_from_m"], segments["chainage_to_m"] = 5.0, 5.0 + length_m
    segments["run"], segments["from_point"], segments["to_point"] = "W1", "7", "8"
    gaps = CHECKS["routing"](record({"wire_segments": segments}), gap_ft=100.0)
    assert gaps == ([] if is_met else ["a point on run W1 between 7 and 8, 100 ft apart"])
    assert CHECKS["routing"](record(), gap_ft=100.0) == ["a traced wire"]


@pytest.mark.parametrize(
    ("code", "is_met"),
    [
        ("EPSG:2267", True),  # NAD83 / Oklahoma North (ftUS)
        ("EPSG:6553", True),  # NAD83(2011) / Oklahoma North (ftUS)
        ("EPSG:2222", False),  # NAD83 / Arizona East (ft): the international foot
        ("EPSG:32124", False),  # NAD83 / Oklahoma North in metres
        ("EPSG:32035", False),  # NAD27 / Oklahoma South (ftUS)
        ("EPSG:26914", False),  # UTM
    ],
)
def test_survey_feet_are_told_from_feet_and_nad83_from_nad27(code, is_met):
    """Units and datums as the EPSG register has them."""
    crs = CRS(code)
    frame = Frame(crs, crs, metres_per_unit=crs.axis_info[0].unit_conversion_factor)
    gaps = CHECKS["crs"](record(frame=frame), datum="NAD83", unit="US survey foot")
    assert (gaps == []) is is_met
    if not is_met:
        assert crs.name in gaps[0]


def test_control_points_can_be_asked_for_with_their_heights():
    """Henry County: two pins with x, y, z."""
    points = references([True, True, True])
    points["elevation_m"] = [101.0, np.nan, 99.0]
    made = record({"references": points})
    assert CHECKS["control"](made, least=3) == []
    assert CHECKS["control"](made, least=3, with_heights=True) == [
        "3 control points with x, y and z, got 2"
    ]
    assert CHECKS["control"](record(), least=2) == ["2 control points, got 0"]


def test_equipment_is_asked_for_unless_there_is_confirmed_to_be_none():
    """none_here answers for what does not exist; a layer of devices can be asked for too."""
    equipment = make_layer(EQUIPMENT, 1)
    equipment["kind"] = "pump"
    layers = {"equipment": equipment, "valves": valves("V1")}
    kinds = ["pump", "filter", "water_source", "valves", "controllers"]
    assert CHECKS["located"](record(layers), kinds=kinds) == [
        "filter", "water source", "controllers"
    ]  # fmt: skip
    told = record(layers, property={"none_here": ["filter"]})
    assert CHECKS["located"](told, kinds=kinds) == ["water source", "controllers"]
    no_splice = record(layers, property={"none_here": ["splice"]})
    assert CHECKS["located"](no_splice, kinds=["splices", "controllers"]) == ["controllers"]


def test_equipment_confirmed_to_be_absent_is_not_reported_as_never_located(tmp_path):
    """The note not-surveyed is answered by none_here, and only for the kinds that it names."""
    folder = tmp_path / "terrace"
    shutil.copytree(DATA / "ridge-terrace", folder)
    text = (folder / "property.toml").read_text(encoding="utf-8")
    told = text.replace("[property]", '[property]\nnone_here = ["pump", "filter"]')
    (folder / "property.toml").write_text(told, encoding="utf-8")
    before, after = (
        wiremap.build_asbuilt(wiremap.read_property(source)).findings
        for source in (DATA / "ridge-terrace", folder)
    )
    subjects = [set(f.loc[f["code"] == "not-surveyed", "subject"]) for f in (before, after)]
    assert subjects[0] - subjects[1] == {"pump", "filter"}


def test_every_wire_is_shown_only_where_every_listed_zone_is_complete():
    """21 NCAC 23 .0301: all wire paths; a zone that was never traced is one that is missing."""
    zones = make_layer(ZONES, 3)
    zones["zone"], zones["status"] = ["1", "2", "3"], ["complete", "partial", "missing"]
    assert CHECKS["zones"](record({"zones": zones})) == [
        "the wire of zone 2 (partial)", "the wire of zone 3 (missing)"
    ]  # fmt: skip
    assert len(CHECKS["zones"](record())) == 1


@pytest.mark.parametrize(("rms_ft", "share"), [(0.3, 1.0), (0.31, 0.25)])
def test_accuracy_is_a_share_of_the_length_of_wire(rms_ft, share):
    """Clayton County: 0.3 ft; three of four equal stretches lie beyond it or just at it."""
    segments = make_layer(WIRE_SEGMENTS, 4)
    segments["chainage_from_m"], segments["chainage_to_m"] = 0.0, 10.0
    segments["position_rms_m"] = [0.05, *[rms_ft * 0.3048] * 3]
    made = record({"wire_segments": segments})
    assert CHECKS["accuracy"](made, limit_ft=0.3, share=share) == []
    gaps = CHECKS["accuracy"](made, limit_ft=0.3, share=min(share + 0.01, 1.0))
    assert gaps == (
        [] if share == 1 else ["26% of the wire's length within 0.3 ft (0.091 m), got 25%"]
    )


def test_a_record_without_wire_has_no_accuracy():
    """Nothing traced is not the same as traced well."""
    assert CHECKS["accuracy"](record(), limit_ft=0.3, share=0.5) == ["a traced wire"]


def test_columns_that_are_empty_are_counted():
    """Any of the columns will do; blank text is no answer, and unknown is one."""
    table = valves("V1", "V2", "V3")
    table["size_in"], table["size"] = [1.0, np.nan, np.nan], ["", "unknown", " "]
    made = record({"valves": table})
    assert CHECKS["filled"](made, layer="valves", columns=["size_in", "size"]) == [
        "size_in or size of 1 of 3 valves"
    ]
    locates = make_layers()["locates"].assign(feature=["valve", "path", "valve"])
    gaps = CHECKS["filled"](
        record({"locates": locates}), layer="locates", feature="valve", columns=["size"]
    )
    assert gaps == ["size of 2 of 2 valve locates"]


def test_surroundings_are_known_by_their_layer_or_by_their_rows():
    """A base layer that is called house, or rows that say so."""
    house = gpd.GeoDataFrame({"kind": ["walk"]}, geometry=[Point(0, 0)])
    made = record(base={"house": house})
    assert CHECKS["base"](made, kinds=["building", "hardscape", "property"]) == [
        "base layer property"
    ]
    assert CHECKS["base"](record(), kinds=["building"]) == ["base layer building"]


def test_what_the_sheets_and_files_need_is_read_from_the_settings():
    """Title block, datum, paper, scale, formats and approval."""
    bare = record()
    assert CHECKS["stated"](bare, keys=["prepared_by"]) == ["prepared_by under [property]"]
    assert CHECKS["vertical-datum"](bare) == ["the vertical datum"]
    assert CHECKS["sheets"](bare, papers=["a1"], scales=["1in=20ft"]) == [
        "sheets of size a1, got arch-d", "a scale of 1in=20ft, got auto"
    ]  # fmt: skip
    assert CHECKS["formats"](bare, formats=["geopackage", "dxf"]) == ["dxf among the formats"]
    assert CHECKS["approval"](bare) == ["the approval of the record drawing"]
    told = record(
        property={"prepared_by": "Crew 2"}, coordinates={"vertical_datum": "NAVD 88"},
        sheets={"paper": "a1", "scale": "1in=20ft"}, output={"formats": ["dxf"]},
        chart={"approved": True},
    )  # fmt: skip
    assert CHECKS["stated"](told, keys=["prepared_by"]) == []
    assert CHECKS["vertical-datum"](told) == []
    assert CHECKS["sheets"](told, papers=["a1"], scales=["1in=20ft"]) == []
    assert CHECKS["formats"](told, formats=["geopackage", "dxf"]) == []
    assert CHECKS["approval"](told) == []


def profile(**item):
    """Return a profile of one item."""
    whole = {"id": "one", "says": "Something.", "source": "s", "clause": "sec. 4",
             "check": "zones", "advice": "Do it.", **item}  # fmt: skip
    return RequirementProfile(
        name="mine", title="t", sources={"s": "Some Code"}, items=(Requirement(**whole),)
    )


def hold(made, one):
    """Check a record against a profile."""
    return check_requirements(made.layers, one, frame=made.frame, settings=made.settings)


def test_a_finding_says_what_is_missing_from_which_clause_and_what_to_do():
    """Five gaps are named and the rest is counted."""
    made = record({"valves": valves(*"abcdefg")})
    held = hold(made, profile(check="ties", limits={"layers": ["valves"]}))
    assert held.met == []
    (finding,) = held.findings
    assert finding.code == "requirement-missing"
    assert finding.message == (
        "mine, one: Something. Missing: valves a; valves b; valves c; valves d; valves e; and 2"
        " more. Source: Some Code, sec. 4."
    )
    assert finding.advice == "Do it."


@pytest.mark.parametrize(
    ("item", "message"),
    [
        (
            {"check": "colour"},
            "names a check that does not exist, got colour; choose among accuracy",
        ),
        ({"check": "routing", "limits": {"gap_m": 3}}, "does not take these limits"),
    ],
)
def test_a_profile_that_asks_for_what_cannot_be_checked_is_refused(item, message):
    """The profile's own mistake is an error, not a finding."""
    with pytest.raises(SettingsError, match=message):
        hold(record(), profile(**item))


def test_the_demo_is_held_against_every_bundled_profile():
    """Two references and routing are met; zone 9 was never walked; the CRS is no state plane."""
    built = wiremap.build_asbuilt(wiremap.read_property(DEMO))
    missing = {}
    for name in list_profiles():
        held = check_requirements(
            built.layers,
            read_profile(name),
            frame=built.frame,
            settings=built.settings,
            base=built.base,
        )
        missing[name] = {finding.subject for finding in held.findings}
        assert len(held.met) + len(held.findings) == len(read_profile(name).items)
    assert missing["two-references"] == set()
    assert missing["routing-100ft"] == set()
    assert missing["record-drawing"] == {"wire-paths"}
    assert {"survey-feet", "vertical-datum"} <= missing["cad-survey-feet"]
