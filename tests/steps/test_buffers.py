"""The advisory band around each run."""

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
import shapely.affinity
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st
from walked_wires import (
    CRS_METRIC,
    FRAME,
    ORIGIN,
    legs_wire,
    marks_on,
    noisy,
    placed,
    segments_of,
    straight,
    winding_wire,
)

from wiremap.model.settings import Settings
from wiremap.model.tables import WIRE_SEGMENTS
from wiremap.steps.buffers import buffer_runs, buffer_zones, dissolve_buffers, radial_quantile
from wiremap.steps.traces import trace_runs

SETTINGS = Settings()


def bands(table, settings=SETTINGS):
    traces = trace_runs(table, frame=FRAME, settings=settings)
    segments = segments_of(traces.vertices)
    found = buffer_runs(traces.vertices, segments, traces.lines, frame=FRAME, settings=settings)
    return traces, found.dig_buffer


def with_advisory(**advisory):
    return Settings(advisory={**SETTINGS.advisory.model_dump(), **advisory})


def coverage(make, rms_m, step_m, settings, count=60, seed=21):
    """Share of the true wire inside its band, and of wires wholly inside."""
    rng = np.random.default_rng(seed)
    wires = {f"R{i}": make(rng) for i in range(count)}
    marks = {n: noisy(marks_on(w, rng, step_m), rng, rms_m) for n, w in wires.items()}
    band = bands(placed(marks, rms_m), settings)[1].set_index("run").geometry
    inside = [
        shapely.intersects(
            band[n], shapely.points(shapely.get_coordinates(shapely.segmentize(w, 0.5)) + ORIGIN)
        )
        for n, w in wires.items()
    ]
    return np.mean(np.concatenate(inside)), np.mean([one.all() for one in inside])


@pytest.mark.parametrize(
    ("confidence", "radius"), [(0.95, 2.447747), (0.90, 2.145966), (0.5, 1.177410)]
)
def test_radial_quantiles_are_the_published_ones(confidence, radius):
    """FGDC-STD-007.3-1998, appendix 3-A, constants in check values section 2.1."""
    assert radial_quantile(confidence) == pytest.approx(radius, abs=1e-6)


@pytest.mark.parametrize("make", [legs_wire, winding_wire])
@pytest.mark.parametrize(("rms_m", "step_m"), [(0.02, 4.0), (0.5, 2.0), (0.5, 4.0), (1.0, 4.0)])
def test_the_band_holds_the_true_wire_at_the_stated_confidence(make, rms_m, step_m):
    """Sixty invented wires, marks off the corners. With the default tolerance the band holds
    99.5 % of the wire; without any tolerance it still holds the stated 95 %."""
    share, whole = coverage(make, rms_m, step_m, SETTINGS)
    bare, _ = coverage(make, rms_m, step_m, with_advisory(tolerance_m=0.0))

    assert share > 0.995
    assert whole > 0.9
    assert bare > 0.95


def test_the_half_width_is_tolerance_and_radius():
    """0.61 m and 2.4477 times 0.5 m over the square root of two, rounded up by 5 cm at most, and
    what the wire may stray between marks 4 m apart (2 % of two chords at mid-chord)."""
    _, band = bands(placed({"A": straight(80.0)}, 0.5))

    assert band["half_width_m"].iloc[0] == pytest.approx(0.61 + 2.4477 * 0.5 / np.sqrt(2), abs=1e-3)
    across = shapely.LineString([(40, -9), (40, 9)])
    width = shapely.affinity.translate(across, *ORIGIN).intersection(band.geometry.iloc[0]).length
    drawn = 0.61 + np.hypot(2.4477 * 0.5 / np.sqrt(2), 2.4477 * 0.02 * 8)
    assert 2 * drawn <= width <= 2 * (drawn + 0.07)


def test_the_band_widens_where_the_locate_is_poor():
    """One mark of a fine line with 1 m RMS: the band is wider there and only there."""
    rms = np.full(21, 0.02)
    rms[10] = 1.0
    table = placed(
        {"A": straight(80.0)}, position_rms_m=rms, cov_xx_m2=rms**2 / 2, cov_yy_m2=rms**2 / 2
    )
    _, band = bands(table)
    shape = shapely.affinity.translate(band.geometry.iloc[0], *-ORIGIN)
    width = [
        shapely.LineString([(x, -9), (x, 9)]).intersection(shape).length for x in (20.0, 40.0, 60.0)
    ]

    assert width[1] > width[0] + 2.0
    assert width[0] == pytest.approx(width[2], abs=1e-6)


@given(st.integers(0, 10**6), st.sampled_from([0.02, 0.3, 1.0]))
@hypothesis_settings(max_examples=30)
def test_a_band_is_one_polygon_without_spikes_that_holds_its_line(seed, rms_m):
    """No gap at corners, no point farther from the line than the band may reach."""
    rng = np.random.default_rng(seed)
    wire = legs_wire(rng, legs=6) if seed % 2 else winding_wire(rng)
    traces, band = bands(placed({"A": noisy(marks_on(wire, rng), rng, rms_m)}, rms_m))
    shape, line = band.geometry.iloc[0], traces.lines.geometry.iloc[0]

    assert shape.geom_type == "Polygon"
    assert shape.is_valid
    assert shape.contains(line)
    assert line.distance(shape.exterior) > SETTINGS.advisory.tolerance_m
    rim = shapely.points(shapely.get_coordinates(shape))
    chord = np.diff(traces.vertices["chainage_m"]).max()
    assert shapely.distance(rim, line).max() < band["half_width_m"].iloc[0] + 0.2 + chord / 2


def test_a_corner_between_two_marks_is_inside_the_band():
    """Marks 2 m before and after a right angle that nobody marked: the chord passes 1.4 m from
    the corner, more than the tolerance."""
    marks = np.concatenate([straight(40.0), [[42, 2], [42, 6], [42, 10], [42, 14]]])
    _, band = bands(placed({"A": marks}))

    assert band.geometry.iloc[0].contains(shapely.Point(*(np.add(ORIGIN, [42, 0]))))


def test_a_fan_lies_beyond_a_lost_end():
    """Five metres on, thirty degrees to each side, and the words say that the wire continues."""
    feature = ["path"] * 10 + ["lost"]
    _, lost = bands(placed({"A": straight(40.0)}, feature=feature))
    _, sound = bands(placed({"A": straight(40.0)}))

    assert lost.geometry.iloc[0].contains(shapely.Point(*(np.add(ORIGIN, [45.3, 0]))))
    assert lost.geometry.iloc[0].contains(shapely.Point(*(np.add(ORIGIN, [44.0, 2.0]))))
    assert not sound.geometry.iloc[0].contains(shapely.Point(*(np.add(ORIGIN, [43.0, 0]))))
    assert "wire continues" in lost["advisory"].iloc[0]
    assert "wire continues" not in sound["advisory"].iloc[0]


def test_a_fan_at_the_start_points_backward_and_may_be_switched_off():
    """A walk that begins where the tone was lost; no fan of no length."""
    feature = ["lost"] + ["path"] * 10
    _, band = bands(placed({"A": straight(40.0)}, feature=feature))
    off = Settings(thresholds={"lost_fan_m": 0.0})
    _, bare = bands(placed({"A": straight(40.0)}, feature=feature), off)

    assert band.geometry.iloc[0].contains(shapely.Point(*(np.add(ORIGIN, [-4.0, 0]))))
    assert not bare.geometry.iloc[0].contains(shapely.Point(*(np.add(ORIGIN, [-4.0, 0]))))


def test_tone_lost_on_the_way_makes_no_fan():
    """The walk found the tone again."""
    feature = ["path"] * 5 + ["lost"] + ["path"] * 5
    _, band = bands(placed({"A": straight(40.0)}, feature=feature))

    assert "wire continues" not in band["advisory"].iloc[0]


def test_every_band_carries_the_caution():
    """Advisory only, the one-call service, the law, and what is not shown."""
    _, band = bands(placed({"A": straight(40.0), "B": np.add(straight(20.0), [0, 9])}))

    assert band["advisory_only"].tolist() == [True, True]
    for words in (
        "not a utility locate",
        "811",
        "Local law",
        "depth changes",
        "utilities are not shown",
    ):
        assert band["advisory"].str.contains(words).all()
    assert band["tolerance_m"].tolist() == [0.61, 0.61]
    assert band["confidence"].tolist() == [0.95, 0.95]
    assert band["cover_low_m"].tolist() == pytest.approx([0.2, 0.2])


def test_area_of_a_straight_band():
    """A stadium: 40 m by twice the half width, and a circle."""
    settings = with_advisory(tolerance_m=1.0)
    _, band = bands(placed({"A": straight(40.0, 40.0)}), settings)
    half = 1.0 + np.ceil(np.hypot(2.4477 * 0.0141, 2.4477 * 0.02 * 80) / 0.05) * 0.05

    assert band["area_m2"].iloc[0] == pytest.approx(80 * half + np.pi * half**2, rel=0.01)


def test_no_lines_give_an_empty_layer():
    """Nothing traced, nothing to keep clear of."""
    traces = trace_runs(placed({"A": straight(8.0)}).iloc[:0], frame=FRAME, settings=SETTINGS)
    found = buffer_runs(
        traces.vertices, WIRE_SEGMENTS.empty(), traces.lines, frame=FRAME, settings=SETTINGS
    )

    assert len(found.dig_buffer) == 0
    assert found.dig_buffer.crs == CRS_METRIC


def test_bands_dissolve_to_one_area_and_to_one_a_zone():
    """Two crossing bands: the common area counts once; a zone holds its own runs only."""
    crossing = straight(40.0)[:, ::-1] + [20, -20]
    _, band = bands(
        placed({"A": straight(40.0), "B": crossing, "C": np.add(straight(40.0), [0, 60])})
    )
    whole = dissolve_buffers(band)
    zones = dissolve_buffers(band, {"A": "1", "B": "1"})

    assert whole["runs"].tolist() == ["A;B;C"]
    assert whole["area_m2"].iloc[0] < band["area_m2"].sum() - 1.0
    assert zones["group"].tolist() == ["1"]
    assert zones["runs"].tolist() == ["A;B"]
    assert isinstance(zones, gpd.GeoDataFrame)
    assert isinstance(zones["group"], pd.Series)


def test_a_dissolved_area_is_in_square_metres_on_a_plane_of_feet():
    """Layers stand in the working CRS: EPSG 2277 counts in US survey feet, 1200/3937 m."""
    square = gpd.GeoDataFrame({"run": ["A"]}, geometry=[shapely.box(0, 0, 3937, 3937)], crs=2277)
    assert dissolve_buffers(square)["area_m2"].tolist() == [pytest.approx(1200.0**2)]


def test_each_zone_and_the_property_has_one_area():
    """Two wires of zone 1 cross, one of zone 2 lies apart, zone 3 was never traced. Common ground
    counts once, so two parts that stand apart add up to the whole."""
    crossing = straight(40.0)[:, ::-1] + [20, -20]
    _, band = bands(
        placed({"A": straight(40.0), "B": crossing, "C": np.add(straight(40.0), [0, 60])})
    )
    zones = pd.DataFrame(
        {"zone": ["1", "2", "3"], "controller": ["A", "A", "A"], "runs": ["A;B", "C", None]}
    )
    areas = buffer_zones(band, zones, frame=FRAME)

    assert areas["scope"].tolist() == ["zone", "zone", "property"]
    assert areas["zone"].tolist()[:2] == ["1", "2"]
    assert areas["runs"].tolist() == ["A;B", "C", "A;B;C"]
    one, two, whole = areas["area_m2"]
    assert whole == pytest.approx(one + two)
    assert one < band["area_m2"].iloc[:2].sum() - 1.0
    assert areas["advisory_only"].all()
    assert areas["advisory"].str.contains("not a utility locate").all()
    assert buffer_zones(band.iloc[:0], zones, frame=FRAME).empty


def legs_marked_far_apart(rng):
    """A wire of three to five legs of 12 to 35 m that turns at each by 35 to 90 degrees."""
    corners, heading = [np.zeros(2)], rng.uniform(0, 2 * np.pi)
    for _ in range(int(rng.integers(3, 6))):
        way = np.array([np.cos(heading), np.sin(heading)])
        corners.append(corners[-1] + rng.uniform(12, 35) * way)
        heading += rng.choice([-1, 1]) * np.radians(rng.uniform(35, 90))
    return shapely.LineString(np.array(corners))


@pytest.mark.parametrize(("rms_m", "least"), [(0.02, 0.998), (0.3, 0.997), (1.0, 0.99)])
def test_unmarked_corners_between_marks_far_apart_are_held(rms_m, least):
    """Marks 10 m apart, none at a corner, in the first and last stretches too: with the default
    tolerance the band holds nearly all wire, and nearly every wire whole to a twentieth."""
    share, _ = coverage(legs_marked_far_apart, rms_m, 10.0, SETTINGS)

    assert share > least


def test_a_marked_corner_does_not_widen_the_band():
    """A wire that turns by 45 degrees at a mark and goes on straight on both sides of it covers
    no more ground than a straight one, but for the corner's own wedge."""
    bent = np.concatenate([straight(20.0), [20, 0] + straight(20.0)[1:, [0]] * np.sqrt([0.5, 0.5])])
    _, band = bands(placed({"A": bent, "B": np.add(straight(40.0), [0, 90])}))

    assert band["area_m2"].iloc[0] < band["area_m2"].iloc[1] + 0.5
