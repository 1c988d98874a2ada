"""Ties out: features dimensioned from two permanent references."""

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from pyproj import CRS

from wiremap.formulas.two_tape import cross_tapes, cut_angles
from wiremap.model.frame import Frame
from wiremap.model.settings import Settings
from wiremap.model.tables import TIES
from wiremap.steps.dimensions import dimension_features

UTM = CRS("EPSG:32614")
EAST, NORTH = 640_000.0, 3_320_000.0


def points(rows, **columns):
    """Points from (x, y) off a corner."""
    xy = np.array(rows, dtype=float).reshape(-1, 2) + np.array([EAST, NORTH])
    return gpd.GeoDataFrame(columns, geometry=shapely.points(xy), crs=UTM)


def fixed(rows, permanent=None):
    """References A, B, C, and so on."""
    names = [chr(65 + i) for i in range(len(rows))]
    return points(rows, reference=names, is_permanent=permanent or [True] * len(rows))


def dimension(devices, references, placed=None, scale=1.0, base=None, **thresholds):
    """Dimension devices in a frame of the scale given."""
    placed = points([]) if placed is None else placed
    return dimension_features(
        devices, placed, references,
        frame=Frame(UTM, UTM, scale_factor=scale), settings=Settings(thresholds=thresholds),
        base=base,
    )  # fmt: skip


def test_a_valve_is_tied_to_two_corners_and_the_ties_give_it_back():
    """Distances 13 and 15 over a base of 14, left: the swing-tie triangle."""
    met = dimension({"valves": points([(5, 12)], valve=["V1"])}, fixed([(0, 0), (14, 0)]))
    tie = met.ties.iloc[0]
    assert (tie.layer, tie.feature_id, tie.source, tie.side) == ("valves", "V1", "computed", "left")
    assert (tie.distance_a_m, tie.distance_b_m) == pytest.approx((13, 15))
    assert tie.cut_angle_deg == pytest.approx(59.49, abs=0.01)
    assert met.findings == []
    assert list(met.ties) == TIES.column_names


def test_computed_distances_are_ground_distances():
    """In a plane of scale 0.9996 a tape reads 1 / 0.9996 of the plane distance."""
    valve = {"valves": points([(5, 12)], valve=["V1"])}
    met = dimension(valve, fixed([(0, 0), (14, 0)]), scale=0.9996)
    assert met.ties.distance_a_m[0] == pytest.approx(13 / 0.9996)


def test_the_pair_nearest_a_right_angle_in_reach_is_chosen():
    """Of all pairs within 30 m the best cut angle, found by trying every pair."""
    rng = np.random.default_rng(4)
    corners = rng.uniform(0, 60, (9, 2))
    valves = rng.uniform(10, 50, (40, 2))
    met = dimension({"valves": points(valves, valve=[f"V{i}" for i in range(40)])}, fixed(corners))
    for i, valve in enumerate(valves):
        near = [k for k in range(9) if np.hypot(*(corners[k] - valve)) <= 30]
        cuts = [cut_angles(corners[a], corners[b], valve) for a in near for b in near if a < b]
        if cuts:
            best = min(abs(cut - 90) for cut in cuts)
            assert abs(met.ties.cut_angle_deg[i] - 90) == pytest.approx(best, abs=1e-6)


def test_every_tie_out_can_be_taped_back_in():
    """Distances and side of 200 features set out again: within a millimetre."""
    rng = np.random.default_rng(6)
    corners = np.array([(0, 0), (40, 3), (38, 30), (-2, 28)], float)
    valves = rng.uniform(1, 36, (200, 2))
    met = dimension(
        {"splices": points(valves, splice=[f"S{i}" for i in range(200)])}, fixed(corners)
    )
    a = corners[[ord(n) - 65 for n in met.ties.reference_a]]
    b = corners[[ord(n) - 65 for n in met.ties.reference_b]]
    back = cross_tapes(
        np.stack([a, b], axis=1), met.ties[["distance_a_m", "distance_b_m"]],
        side=np.where(met.ties.side == "left", 1, -1), sigma_m=0.02,
    )  # fmt: skip
    np.testing.assert_allclose(back.xy, valves, atol=1e-3)


def test_taped_ties_are_given_as_measured():
    """The row's own tape counts, even where another pair would cut better."""
    placed = points([(5, 12)], feature=["valve"], point=["V1"], tie_a=[" a"], tie_b=["B"],
                    tie_a_dist_m=[13.02], tie_b_dist_m=[14.99])  # fmt: skip
    devices = {"valves": points([(5, 12)], valve=["V1"], locate=[0])}
    met = dimension(devices, fixed([(0, 0), (14, 0), (5, 20), (15, 12)]), placed)
    tie = met.ties.iloc[0]
    assert (tie.source, tie.reference_a, tie.reference_b) == ("measured", "A", "B")
    assert (tie.distance_a_m, tie.distance_b_m) == (13.02, 14.99)


def test_a_tape_of_another_visit_counts_as_measured():
    """The valve rests on a GNSS row; the same valve was taped in another one."""
    placed = points([(5, 12), (5, 12)], feature=["valve"] * 2, point=["V1", "V1"],
                    tie_a=[None, "A"], tie_b=[None, "B"],
                    tie_a_dist_m=[np.nan, 13.0], tie_b_dist_m=[np.nan, 15.0])  # fmt: skip
    devices = {"valves": points([(5, 12)], valve=["V1"], locate=[0])}
    assert dimension(devices, fixed([(0, 0), (14, 0)]), placed).ties.source[0] == "measured"


def test_a_tape_from_a_tree_is_not_permanent():
    """Measured from a tree and a corner; dimensioned from two corners."""
    placed = points([(5, 12)], feature=["valve"], point=["V1"], tie_a=["A"], tie_b=["B"],
                    tie_a_dist_m=[13.0], tie_b_dist_m=[15.0])  # fmt: skip
    devices = {"valves": points([(5, 12)], valve=["V1"], locate=[0])}
    met = dimension(devices, fixed([(0, 0), (14, 0), (0, 12)], [True, False, True]), placed)
    tie = met.ties.iloc[0]
    assert (tie.source, tie.reference_a, tie.reference_b) == ("computed", "A", "C")


def test_features_out_of_tape_reach_are_dimensioned_and_told():
    """Corners 60 m off: distances stand, the finding says how far."""
    met = dimension({"faults": points([(60, 5)], fault=["F1"])}, fixed([(0, 0), (2, 20)]))
    assert met.ties.feature_id.tolist() == ["F1"]
    assert "within 30 m" in met.findings[0].message
    assert met.findings[0].code == "few-references"
    assert met.findings[0].x_m == pytest.approx(EAST + 60)


def test_flat_cuts_are_told():
    """Both corners and the valve in one line."""
    met = dimension({"valves": points([(20, 0.5)], valve=["V1"])}, fixed([(10, 0), (30, 0)]))
    assert "straight line" in met.findings[0].message


@pytest.mark.parametrize("count", [0, 1])
def test_without_two_permanent_references_nothing_is_dimensioned(count):
    """One note for the property, not one for each valve."""
    valves = points([(1, 1), (2, 2)], valve=["V1", "V2"])
    met = dimension({"valves": valves}, fixed([(0, 0)][:count]))
    assert len(met.ties) == 0
    (note,) = met.findings
    assert f"the property has {count}" in note.message


def test_no_features_give_an_empty_table():
    """Nothing to dimension, nothing to say."""
    met = dimension({"valves": points([], valve=pd.Series([], dtype="str"))}, fixed([(0, 0)]))
    assert len(met.ties) == 0
    assert met.findings == []


def test_all_four_layers_are_dimensioned_and_others_passed_over():
    """Controllers, valves, splices and faults; equipment is not asked for."""
    devices = {
        "controllers": points([(5, 5)], controller=["K"]),
        "valves": points([(6, 5)], valve=["V"]),
        "splices": points([(7, 5)], splice=["S"]),
        "faults": points([(8, 5)], fault=["F"]),
        "equipment": points([(9, 5)], kind=["pump"], label=["P"]),
    }
    met = dimension(devices, fixed([(0, 0), (14, 0)]))
    assert met.ties.layer.tolist() == ["controllers", "valves", "splices", "faults"]
    assert met.ties.feature_id.tolist() == ["K", "V", "S", "F"]


HOUSE = [(0, 0), (10, 0), (10, 8), (0, 8)]


def house(shape, crs=None):
    """A base whose one building is drawn as a polygon or as its outline."""
    moved = shape([(EAST + x, NORTH + y) for x, y in [*HOUSE, HOUSE[0]]])
    layer = gpd.GeoDataFrame(geometry=[moved], crs=UTM)
    return {"buildings": layer if crs is None else layer.to_crs(crs)}


def tied_corners(met):
    """The two references of the first feature."""
    return "".join(met.ties[["reference_a", "reference_b"]].iloc[0])


@pytest.mark.parametrize("shape", [shapely.Polygon, shapely.LineString])
@pytest.mark.parametrize("crs", [None, "EPSG:4326"])
def test_a_tape_does_not_run_through_a_house(shape, crs):
    """From (5, -2) the corners A and B are seen, at 136 degrees; A and C cross at 95 degrees."""
    valve = {"valves": points([(5, -2)], valve=["V1"])}
    corners = fixed(HOUSE)
    assert tied_corners(dimension(valve, corners)) != "AB"
    assert tied_corners(dimension(valve, corners, base=house(shape, crs))) == "AB"


def test_a_tape_along_the_wall_is_not_held_to_cross_the_house():
    """A controller drawn 0.1 m inside the wall, as a base of that accuracy may show it."""
    controller = {"controllers": points([(5, 0.1)], controller=["C"])}
    corners = fixed([(0, 0), (10, 8), (5, -9)])
    met = dimension(controller, corners, base=house(shapely.Polygon))
    assert tied_corners(met) == "AC"


def test_without_a_pair_in_sight_the_ties_stay_as_without_a_base():
    """A controller in the middle of the house: no tape reaches it, and that is said."""
    controller = {"controllers": points([(4, 4)], controller=["C"])}
    met = dimension(controller, fixed(HOUSE), base=house(shapely.Polygon))
    free = dimension(controller, fixed(HOUSE))
    flags = ["blocked_a", "blocked_b"]

    pd.testing.assert_frame_equal(met.ties.drop(columns=flags), free.ties.drop(columns=flags))
    assert met.ties[flags].all(axis=None)
    assert not free.ties[flags].any(axis=None)
    (finding,) = met.findings
    assert "a building stands between it and" in finding.message
    assert free.findings == []


def test_the_one_reference_behind_the_house_is_named():
    """From (5, -6) corner C (10, 8) stands behind the house, a post at (12, -5) does not."""
    valve = {"valves": points([(5, -6)], valve=["V1"])}
    met = dimension(valve, fixed([(10, 8), (12, -5)]), base=house(shapely.Polygon))

    assert met.ties[["blocked_a", "blocked_b"]].iloc[0].tolist() == [True, False]
    assert "and A;" in met.findings[0].message


def test_what_was_taped_was_in_sight():
    """A measured tie crosses a base that is drawn wrong, not a wall."""
    valve = {"valves": points([(5, -6)], valve=["V1"])}
    taped = points([(5, -6)], feature=["valve"], tie_a=["A"], tie_b=["B"],
                   tie_a_dist_m=[14.87], tie_b_dist_m=[7.07])  # fmt: skip
    met = dimension(valve, fixed([(10, 8), (12, -5)]), placed=taped, base=house(shapely.Polygon))

    assert met.ties.source[0] == "measured"
    assert not met.ties[["blocked_a", "blocked_b"]].any(axis=None)


def test_a_pair_in_sight_at_a_flat_angle_does_not_win():
    """A and B in line with the valve give no position, however free the tapes run."""
    valve = {"valves": points([(14, 0.5)], valve=["V1"])}
    corners = fixed([(11, 0.5), (17, 0.6), (9, 8.5)])
    blocking = shapely.box(EAST + 10, NORTH + 3, EAST + 14, NORTH + 6)
    base = {"garage": gpd.GeoDataFrame(geometry=[blocking], crs=UTM)}
    assert tied_corners(dimension(valve, corners, base=base)) != "AB"


def test_a_base_of_broken_shapes_stands_in_nobodys_way():
    """A building that crosses itself, an empty one, a missing one, one without a CRS."""
    bow = shapely.Polygon([(EAST + x, NORTH + y) for x, y in [(0, 0), (4, 4), (4, 0), (0, 4)]])
    shapes = [bow, shapely.Polygon(), None, shapely.Point(EAST, NORTH)]
    base = {"house": gpd.GeoDataFrame(geometry=shapes)}
    valve = {"valves": points([(2, -1)], valve=["V1"])}
    met = dimension(valve, fixed([(2, 5), (-1, -1)]), base=base)
    assert len(met.ties) == 1
