"""The ground that base layers describe."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pytest
import shapely
from pyproj import CRS

from wiremap.model.frame import Frame
from wiremap.model.settings import Settings
from wiremap.steps.ground import lay_ground

METRIC = CRS("EPSG:26914")
FRAME = Frame(METRIC, METRIC)
FEET = CRS("EPSG:2277")  # Texas Central, US survey feet
AROUND = gpd.GeoDataFrame(geometry=gpd.points_from_xy([0, 40], [0, 40]), crs=METRIC)


def hill(x, y):
    """A plane that rises 0.2 to the east and falls 0.1 to the north, 100 m at the origin."""
    return 100 + 0.2 * x - 0.1 * y


def contours(interval=0.5, *, crs=METRIC):
    """Contours of the hill over the property and 20 m beyond."""
    levels = np.arange(92, 112, interval)
    lines = [
        shapely.LineString([((z - 100 + 0.1 * y) / 0.2, y) for y in (-30.0, 10.0, 70.0)])
        for z in levels
    ]
    return gpd.GeoDataFrame({"ELEVATION": levels}, geometry=lines, crs=METRIC).to_crs(crs)


def lay(base, *, around=AROUND, frame=FRAME, **coordinates):
    settings = Settings.model_validate({"coordinates": coordinates})
    return lay_ground(base, around, frame=frame, settings=settings)


@pytest.mark.parametrize("interval", [0.2, 1.0])
def test_contours_give_back_the_hill_that_they_were_drawn_from(interval):
    """Between contours of a plane the ground is that plane."""
    ground = lay({"Contours 2024": contours(interval)})
    x, y = np.meshgrid(np.linspace(0, 40, 9), np.linspace(0, 40, 9))
    assert ground.surface(x, y) == pytest.approx(hill(x, y), abs=1e-6)
    assert not ground.findings


def test_heights_in_feet_are_told_by_the_column_then_by_the_crs_then_by_the_settings():
    """A wrong unit would make slopes three times too steep: each case is stated."""
    metres = contours()
    feet = metres.assign(ELEVATION_ft=metres["ELEVATION"] / 0.3048).drop(columns="ELEVATION")
    survey = metres.to_crs(FEET).assign(ELEVATION=metres["ELEVATION"] * 3937 / 1200)
    plain = metres.assign(ELEVATION=metres["ELEVATION"] / 0.3048)
    cases = [
        (lay({"contours": feet}), "in ft (column ELEVATION_ft)"),
        (lay({"contours": survey}), "in ftus (column ELEVATION, which states no unit)"),
        (lay({"contours": plain}, length_unit="ft"), "in ft (column ELEVATION, which"),
    ]
    for ground, stated in cases:
        assert float(ground.surface(20.0, 20.0)) == pytest.approx(hill(20, 20), abs=1e-3)
        assert stated in ground.notes[0][1]


def test_heights_in_z_are_read_where_no_column_tells():
    """Spot heights as 3-D points."""
    x, y = (g.ravel() for g in np.meshgrid(np.arange(-10.0, 60, 10), np.arange(-10.0, 60, 10)))
    spots = gpd.GeoDataFrame(geometry=gpd.points_from_xy(x, y, hill(x, y)), crs=METRIC)
    ground = lay({"spot_heights": spots})
    assert float(ground.surface(12.0, 7.0)) == pytest.approx(hill(12, 7))
    assert ground.notes == [
        ("ground", f"{len(x)} heights of spot_heights, in m (Z of its features)")
    ]


def test_a_base_without_heights_leaves_the_ground_unknown():
    """Buildings say nothing; contours without heights are told."""
    flat = contours().drop(columns="ELEVATION")
    ground = lay({"buildings": contours(), "contours": flat})
    assert ground.surface is None
    assert [finding.subject for finding in ground.findings] == ["contours"]
    assert "carries no heights" in ground.findings[0].message


@pytest.mark.parametrize("name", ["building heights", "roof elevations", "ground cover"])
def test_heights_of_what_stands_on_the_ground_are_not_the_ground(name):
    """Footprints with the height of their roof would make a cliff beside the wire."""
    house = gpd.GeoDataFrame({"height": [8.0, 9.0]}, crs=METRIC,
                             geometry=[shapely.box(0, 0, 9, 9), shapely.box(20, 0, 30, 9)])  # fmt: skip
    ground = lay({name: house})
    assert ground.surface is None
    assert not ground.findings


def test_heights_elsewhere_leave_the_ground_unknown():
    """A county's contours that do not reach the property: nothing is taken from them."""
    far = gpd.GeoDataFrame(geometry=gpd.points_from_xy([5000, 5040], [0, 0]), crs=METRIC)
    assert lay({"contours": contours()}, around=far).surface is None


def test_heights_in_one_line_are_told_to_make_no_ground():
    """A single straight contour has no slope."""
    shape = shapely.LineString([(0, 0), (40, 0)])
    one = gpd.GeoDataFrame({"elev": [1.0]}, geometry=[shape], crs=METRIC)
    ground = lay({"contours": one})
    assert ground.surface is None
    assert "make no ground" in ground.findings[0].message


def test_the_ground_comes_in_the_plane_of_the_steps_whatever_the_working_crs():
    """A working CRS in feet: steps compute in its metric twin."""
    metric = CRS("EPSG:32139")
    frame = Frame(FEET, metric, metres_per_unit=1200 / 3937)
    x, y = (g.ravel() for g in np.meshgrid(np.arange(0, 50.0, 10), np.arange(0, 50.0, 10)))
    twin = gpd.GeoDataFrame({"elev_m": hill(x, y)},
                            geometry=gpd.points_from_xy(9e5 + x, 3e6 + y), crs=metric)  # fmt: skip
    ground = lay({"spots elevation": twin.to_crs(FEET)}, around=twin, frame=frame)
    assert float(ground.surface(9e5 + 20.0, 3e6 + 20.0)) == pytest.approx(hill(20, 20), abs=1e-3)
