"""One property placed four ways agrees with itself within the stated uncertainty."""

from __future__ import annotations

import numpy as np
import pytest
from pyproj import Transformer
from simulator import CRS, ORIGIN, Scenario, _write_csv, simulate

import wiremap

TO_PLANE = Transformer.from_crs("EPSG:4269", CRS, always_xy=True)
TO_FEET = Transformer.from_crs(CRS, "EPSG:2267", always_xy=True)
CORNERS = {"B1": (-9, -30), "B2": (35, -28), "B3": (30, 42), "B4": (-40, 30)}
TURN = np.radians(31)
SCALE = 0.9996  # the plane's metres in one of the ground, near this place
TAPE_SIGMA_M = 0.02


@pytest.fixture(scope="module")
def walked():
    """A walked property and the true plane position of each of its rows."""
    made = simulate(Scenario(seed=77, zones=3, rms_m=1e-4, stated_rms_m=0.03))
    places = [TO_PLANE.transform(float(r["lon"]), float(r["lat"])) for r in made.locates]
    return made, np.array(places)


def write(folder, rows, references, coordinates):
    """Write a property folder from rows, references and the coordinates section."""
    folder.mkdir()
    _write_csv(folder / "locates.csv", rows)
    if references:
        _write_csv(folder / "references.csv", references)
    (folder / "property.toml").write_text(f'[coordinates]\ncrs = "{CRS}"\n{coordinates}')
    return wiremap.build_asbuilt(wiremap.read_property(folder))


def plain(row):
    """Return a row without its position."""
    return {k: v for k, v in row.items() if k not in {"lon", "lat", "h_rms"}}


def references():
    """Return building corners in the plane, with site-grid coordinates beside them."""
    c, s = np.cos(TURN), np.sin(TURN)
    found = []
    for name, (x, y) in CORNERS.items():
        gx, gy = (c * x + s * y) / SCALE + 500, (-s * x + c * y) / SCALE + 200
        found.append({"reference": name, "easting": ORIGIN[0] + x, "northing": ORIGIN[1] + y,
                      "rms": 0.01, "grid_x": round(gx, 4), "grid_y": round(gy, 4)})  # fmt: skip
    return found


def by_gnss(made, places, folder, rng):
    """GNSS positions with 0.03 m RMS."""
    noisy = places + rng.normal(0, 0.03 / np.sqrt(2), places.shape)
    lon, lat = TO_PLANE.transform(*noisy.T, direction="INVERSE")
    rows = [plain(r) | {"lon": f"{x:.9f}", "lat": f"{y:.9f}", "h_rms": 0.03}
            for r, x, y in zip(made.locates, lon, lat, strict=True)]  # fmt: skip
    return write(folder, rows, [], 'input_crs = "EPSG:4269"\n')


def by_state_plane(made, places, folder, rng):
    """State-plane positions in US survey feet with 0.02 m RMS."""
    x, y = TO_FEET.transform(*(places + rng.normal(0, 0.02 / np.sqrt(2), places.shape)).T)
    rows = [plain(r) | {"easting": f"{e:.4f}", "northing": f"{n:.4f}", "h_rms_m": 0.02}
            for r, e, n in zip(made.locates, x, y, strict=True)]  # fmt: skip
    return write(folder, rows, [], 'input_crs = "EPSG:2267"\n')


def by_ties(made, places, folder, rng):
    """Two tapes from building corners, each with 0.02 m of error, and the side."""
    a, b = (np.add(ORIGIN, CORNERS[name]) for name in ("B1", "B3"))
    rows = []
    for row, place in zip(made.locates, places, strict=True):
        side = np.cross(np.append(b - a, 0), np.append(place - a, 0))[2]
        tapes = [np.linalg.norm(place - p) / SCALE + rng.normal(0, TAPE_SIGMA_M) for p in (a, b)]
        rows.append(plain(row) | {"tie_a": "B1", "tie_b": "B3", "tie_a_dist": round(tapes[0], 3),
                    "tie_b_dist": round(tapes[1], 3),
                    "tie_side": "left" if side > 0 else "right"})  # fmt: skip
    return write(folder, rows, references(), f'input_crs = "{CRS}"\n')


def by_grid(made, places, folder, rng):
    """Site-grid positions with 0.02 m of error an axis."""
    c, s = np.cos(TURN), np.sin(TURN)
    shifted = places - ORIGIN
    gx = (c * shifted[:, 0] + s * shifted[:, 1]) / SCALE + 500 + rng.normal(0, 0.02, len(places))
    gy = (-s * shifted[:, 0] + c * shifted[:, 1]) / SCALE + 200 + rng.normal(0, 0.02, len(places))
    rows = [plain(r) | {"grid_x": round(x, 3), "grid_y": round(y, 3)}
            for r, x, y in zip(made.locates, gx, gy, strict=True)]  # fmt: skip
    return write(folder, rows, references(), f'input_crs = "{CRS}"\n')


@pytest.mark.parametrize(
    ("way", "placed_by"),
    [(by_gnss, "gnss"), (by_state_plane, "survey"), (by_ties, "ties"), (by_grid, "grid")],
)
def test_each_way_lands_on_the_truth_within_its_stated_uncertainty(
    walked, tmp_path, way, placed_by
):
    """The stated RMS is what the errors are: their ratio is near one, and 95 % lie within 1.73."""
    made, places = walked
    locates = way(made, places, tmp_path / "p", np.random.default_rng(5)).layers["locates"]
    assert set(locates["placed_by"]) <= {placed_by}
    at = {row["point"]: place for row, place in zip(made.locates, places, strict=True)}
    true = np.array([at[point] for point in locates["point"]])
    found = np.column_stack([locates.geometry.x, locates.geometry.y])
    ratio = np.linalg.norm(found - true, axis=1) / locates["position_rms_m"].to_numpy()
    assert len(locates) > 0.9 * len(places)
    assert 0.6 < np.sqrt(np.mean(ratio**2)) < 1.35
    assert np.mean(ratio < 1.7308) > 0.88


def test_runs_placed_four_ways_are_one_and_the_same(walked, tmp_path):
    """The wires of the four as-builts lie within a few centimetres of each other."""
    made, places = walked
    ways = (by_gnss, by_state_plane, by_ties, by_grid)
    built = [way(made, places, tmp_path / way.__name__, np.random.default_rng(6)) for way in ways]
    first, *others = (b.layers["wire_runs"].set_index("run").sort_index() for b in built)
    for other in others:
        assert list(other.index) == list(first.index)
        apart = first.geometry.hausdorff_distance(other.geometry)
        reach = 4 * (first["position_rms_m"] + other["position_rms_m"])
        assert (apart < reach).all(), (apart, reach)
        assert np.allclose(first["length_m"], other["length_m"], rtol=0.02)
