"""Makes the invented properties of data/ and of the demo again: python tests/make_data.py."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
from pyproj import Transformer
from shapely.geometry import LineString, Polygon, mapping
from simulator import CRS, ORIGIN, Scenario, Simulated, _row, _write_csv, simulate

ROOT = Path(__file__).resolve().parent.parent
TURN = np.radians(14)
TO_LONLAT = Transformer.from_crs(CRS, "EPSG:4269", always_xy=True)


def at(x: float, y: float) -> tuple[float, float]:
    """Return a place of the drawing board on the map: turned, and moved to the origin."""
    c, s = np.cos(TURN), np.sin(TURN)
    return ORIGIN[0] + c * x - s * y, ORIGIN[1] + s * x + c * y


def line(*points: tuple[float, float]) -> LineString:
    """Return a wire through places of the drawing board."""
    return LineString([at(*p) for p in points])


def lonlat(xy: tuple[float, float]) -> dict[str, str]:
    """Return a map position as the cells lon and lat."""
    lon, lat = TO_LONLAT.transform(*xy)
    return {"lon": f"{lon:.8f}", "lat": f"{lat:.8f}"}


def move(rows: list[dict[str, object]], east_deg: float, north_deg: float) -> None:
    """Move a property off the others, as they would lie side by side in a portfolio."""
    for row in rows:
        row["lon"] = f"{float(str(row['lon'])) + east_deg:.9f}"
        row["lat"] = f"{float(str(row['lat'])) + north_deg:.9f}"


def write_base(path: Path, shapes: list[tuple[str, str, list[tuple[float, float]]]]) -> None:
    """Write property line, buildings and hardscape as GeoJSON."""
    features = []
    for kind, name, corners in shapes:
        ring = [TO_LONLAT.transform(*at(*c)) for c in corners]
        polygon = Polygon([[round(v, 8) for v in p] for p in ring])
        features.append({"type": "Feature", "properties": {"kind": kind, "name": name},
                         "geometry": mapping(polygon)})  # fmt: skip
    text = json.dumps({"type": "FeatureCollection", "features": features})
    path.write_text(text + "\n", encoding="utf-8")


HOUSE = [(18, 16), (40, 16), (40, 30), (30, 30), (30, 33), (18, 33)]
GARAGE = [(40, 15), (48, 15), (48, 25), (40, 25)]
SHAPES = [
    ("property_line", "Property line", [(0, 0), (62, 0), (62, 44), (0, 44)]),
    ("building", "House", HOUSE),
    ("building", "Garage", GARAGE),
    ("hardscape", "Driveway", [(41, 0), (47, 0), (47, 15), (41, 15)]),
    ("hardscape", "Front walk", [(28, 0), (29.5, 0), (29.5, 16), (28, 16)]),
    ("hardscape", "Terrace", [(30, 30), (40, 30), (40, 35), (30, 35)]),
    ("hardscape", "Pond", [(8, 36), (13, 34.5), (15, 38), (12, 41), (8, 40)]),
]
START = (48.4, 21)
WIRES = {
    1: [START, (49.2, 14.2), (40, 13.6), (25, 13.4), (22, 8.5)],
    2: [START, (49.3, 14.0), (41, 13.4), (35, 8.0)],
    3: [START, (49.4, 13.8), (40, 13.2), (31, 13.0), (31, 14.6)],
    4: [START, (52, 22.5), (55, 30), (54.5, 38)],
    5: [START, (49.2, 27), (48.6, 36.6), (41, 38.6), (34, 39)],
    6: [START, (49.4, 27), (48.9, 36.9), (34, 39.6), (24, 38), (21, 35)],
    7: [START, (49.6, 27), (49.2, 37.2), (34, 40.2), (18, 40), (16, 30.5)],
    8: [START, (49.5, 13.6), (40, 12.9), (24, 12.6), (11, 12.4), (7, 20), (7.5, 28)],
}
NAMES = {1: "Front lawn, west", 2: "Front lawn, east", 3: "Front beds", 4: "East side",
         5: "Back lawn", 6: "Back beds", 7: "Orchard", 8: "West hedge"}  # fmt: skip
FIXED = {
    "East light pole": ("light pole", (57.5, 16.5)),
    "Front walk at street": ("sidewalk corner", (28, 0)),
}
CORNERS = {
    "Garage NE corner": (48, 25), "Garage SE corner": (48, 15), "House SW corner": (18, 16),
    "House NW corner": (18, 33), "House SE corner": (40, 16), "Terrace NE corner": (40, 35),
}  # fmt: skip


def reference_rows() -> list[dict[str, object]]:
    """Return the building corners of the drawing board, and what else stands fast, as references.

    Each controller and valve sees two of them past the house, at a sound angle.
    """
    corners = {name: ("building corner", xy) for name, xy in CORNERS.items()}
    return [
        {"reference": name, **lonlat(at(*xy)), "rms": 0.02, "kind": kind}
        for name, (kind, xy) in {**corners, **FIXED}.items()
    ]


def equipment_rows(scenario: Scenario, rng: np.random.Generator) -> list[dict[str, object]]:
    """Return the rest of the system."""
    places = {"Backflow": ("backflow", (45, 1.2)), "Water meter": ("water_source", (44.4, 0.4)),
              "Panel": ("power_source", (48.2, 23)), "Rain sensor": ("sensor", (47.8, 15.2)),
              "Ground rod": ("ground", (48.8, 20.2)), "Main shut-off": ("shutoff", (45.6, 1.4)),
              "QC1": ("quick_coupler", (20, 37)), "Driveway sleeve": ("sleeve", (44, 13.3)),
              "PB1": ("pull_box", (49.3, 27.2)), "Filter": ("filter", (45.2, 2.1)),
              "Booster": ("pump", (46, 2.4)), "Stake": ("stake", (50.2, 19.8))}  # fmt: skip
    return [
        _row(name, feature, np.array(at(*xy)), scenario, rng, date="2026-03-11")
        for name, (feature, xy) in places.items()
    ]


def tape(row: dict[str, object], a: str, b: str, rng: np.random.Generator) -> None:
    """Write the two taped distances of a point into its row."""
    here, pa, pb = (np.array(at(*p)) for p in (row["board"], CORNERS[a], CORNERS[b]))
    turn = (pb - pa)[0] * (here - pa)[1] - (pb - pa)[1] * (here - pa)[0]
    row |= {"tie_a": a, "tie_b": b, "tie_side": "left" if turn > 0 else "right"}
    row["tie_a_dist_ft"] = round(float(np.linalg.norm(here - pa)) / 0.3048 + rng.normal(0, 0.05), 2)
    row["tie_b_dist_ft"] = round(float(np.linalg.norm(here - pb)) / 0.3048 + rng.normal(0, 0.05), 2)
    del row["board"]


def make_demo(folder: Path) -> None:
    """Write the demo: a house garden with a break, a leak and an open end in its wires."""
    rng = np.random.default_rng(20)
    scenario = Scenario(
        seed=11, zones=8, rms_m=0.06, slope_deg=3, spacing_m=3.0, with_elevation=True,
        depth_m=(0.19, 0.4), lean_sigma_deg=1.2,
        faults=((8, "break", 1.0), (6, "leak", 0.45), (7, "open_end", 1.0)),
    )  # fmt: skip
    made = simulate(scenario, {zone: line(*points) for zone, points in WIRES.items()})
    rows = made.locates
    for row in rows:
        row.setdefault("operator", "RT")
        if row["point"] == "C1":
            row["controller"] = "A"
    rows += equipment_rows(scenario, rng)
    splice = {"point": "S1", "feature": "splice", "run": "", "box": "Round box", "date": "2026-03-11",
              "operator": "RT", "note": "common joins here", "board": (11, 12.4)}  # fmt: skip
    tape(splice, "House SW corner", "House NW corner", rng)
    rows.append(splice)
    zones = [{"zone": z["zone"], "controller": "A", "name": NAMES[z["zone"]], "valves": 1, "awg": 14,
              "wire_color": "red", "ohms": z["ohms"]} for z in made.zones]  # fmt: skip
    zones[7]["ohms"], zones[6]["ohms"] = "open", "open"
    zones.append({"zone": 9, "controller": "A", "name": "Pond fill", "valves": 1, "awg": 14,
                  "wire_color": "red", "ohms": 31.5})  # fmt: skip
    folder.mkdir(parents=True, exist_ok=True)
    _write_csv(folder / "locates.csv", rows)
    _write_csv(folder / "zones.csv", zones)
    _write_csv(folder / "references.csv", reference_rows())
    write_base(folder / "base.geojson", SHAPES)
    _toml(folder, "Tanager Court", "2026-03-14")


def _toml(folder: Path, name: str, date: str, *, coordinates: str = "", extra: str = "") -> None:
    coordinates = coordinates or f'input_crs = "EPSG:4269"\ncrs = "{CRS}"\n'
    (folder / "property.toml").write_text(
        f'[property]\nname = "{name}"\nprepared_by = "Field crew 2"\nprepared_on = {date}\n\n'
        f"[coordinates]\n{coordinates}{extra}",
        encoding="utf-8",
    )


def make_clean(folder: Path) -> None:
    """Write a clean small garden: four zones, centimetre GNSS, nothing wrong."""
    scenario = Scenario(seed=5, zones=4, rms_m=0.03, lean_sigma_deg=1.0, depth_m=(0.25, 0.4))
    wires = {z: line(*WIRES[z]) for z in (2, 3, 4, 5)}
    made = simulate(scenario, dict(enumerate(wires.values(), 1)))
    folder.mkdir(parents=True, exist_ok=True)
    equipment = equipment_rows(scenario, np.random.default_rng(3))
    _write_csv(folder / "locates.csv", made.locates + equipment)
    _write_csv(folder / "zones.csv", made.zones)
    _write_csv(folder / "references.csv", reference_rows())
    write_base(folder / "base.geojson", SHAPES)
    _toml(folder, "Hollow Oak Garden", "2026-04-02")


def make_messy(folder: Path) -> None:
    """Write a messy property: cp1252, semicolons, decimal commas, and bad rows on purpose."""
    scenario = Scenario(
        seed=9, zones=7, rms_m=0.12, list_mistakes=("ohms-low", "zone-without-valve",
        "valve-without-zone", "zone-claimed-twice", "valve-count-differs"),
    )  # fmt: skip
    made = simulate(scenario)
    rows = made.locates
    move(rows, -0.004, 0.002)
    for row in rows:
        row["note"] = "Fühler nachgestellt" if row["point"] == "W5-004" else ""
    by_point = {row["point"]: row for row in rows}
    by_point["W1-002"]["lat"] = "NaN"
    by_point["W1-004"]["offset_left"] = "about a foot"
    by_point["W2-003"]["feature"] = "mystery"
    uneven = by_point["W6-004"]
    uneven["offset_left"], uneven["offset_right"] = 0.61, 0.24
    rows.append(dict(by_point["W3-002"]))
    rows.append({**by_point["W4-001"], "note": "same name, other place",
                 "lat": f"{float(by_point['W4-001']['lat']) + 2e-5:.9f}"})  # fmt: skip
    folder.mkdir(parents=True, exist_ok=True)
    columns = list(dict.fromkeys(name for row in rows for name in row))
    lines = [";".join(columns)]
    for row in rows:
        cells = [str(row.get(name, "")) for name in columns]
        lines.append(";".join(c.replace(".", ",") if _numeric(c) else c for c in cells))
    (folder / "locates.csv").write_bytes(("\r\n".join(lines) + "\r\n").encode("cp1252"))
    _write_csv(folder / "zones.csv", made.zones)
    _toml(folder, "Millrace Court", "2026-05-20")


def _numeric(cell: str) -> bool:
    try:
        float(cell)
    except ValueError:
        return False
    return cell.lower() != "nan"


def make_state_plane(folder: Path) -> None:
    """Write a sloping property in a US-survey-foot state plane, offsets in inches as text."""
    scenario = Scenario(seed=31, zones=5, rms_m=0.05, slope_deg=9, with_elevation=True)
    made = simulate(scenario)
    to_feet = Transformer.from_crs(CRS, "EPSG:2267", always_xy=True)
    foot = 1200 / 3937
    move(made.locates, 0.003, -0.002)
    rows = []
    for row in made.locates:
        lon, lat = float(row.pop("lon")), float(row.pop("lat"))
        x, y = to_feet.transform(*TO_LONLAT.transform(lon, lat, direction="INVERSE"))
        new = {"point": row["point"], "feature": row["feature"], "easting": f"{x:.3f}",
               "northing": f"{y:.3f}", "h_rms": round(float(row.pop("h_rms")) / foot, 3)}  # fmt: skip
        for side in ("offset_left", "offset_right"):
            if side in row:
                row[f"{side}_in"] = _eighths(float(row.pop(side)) / 0.0254)
        if "elevation" in row:
            row["elevation"] = round(float(row["elevation"]) / foot, 2)
        rows.append(new | {k: v for k, v in row.items() if k not in new})
    folder.mkdir(parents=True, exist_ok=True)
    _write_csv(folder / "locates.csv", rows)
    _write_csv(folder / "zones.csv", made.zones)
    coordinates = 'input_crs = "EPSG:2267"\ncrs = "EPSG:2267"\nlength_unit = "ftus"\n'
    _toml(folder, "Ridge Terrace", "2026-06-09", coordinates=coordinates)


def _eighths(inches: float) -> str:
    """Return inches as a technician writes them: whole inches and eighths."""
    whole, eighths = divmod(round(inches * 8), 8)
    halves = {0: "", 2: " 1/4", 4: " 1/2", 6: " 3/4"}
    return f"{whole}{halves.get(eighths, f' {eighths}/8')}"


def make_large(folder: Path) -> None:
    """Write a large property of 60 zones."""
    scenario = Scenario(
        seed=60, zones=60, rms_m=0.1, spacing_m=6, name="Larkmoor Campus",
        faults=((17, "break", 1.0), (42, "leak", 0.5)),
    )  # fmt: skip
    made: Simulated = simulate(scenario)
    folder.mkdir(parents=True, exist_ok=True)
    _write_csv(folder / "locates.csv", made.locates)
    _write_csv(folder / "zones.csv", made.zones)
    _toml(folder, "Larkmoor Campus", "2026-07-01")


def main() -> None:
    """Make every bundled property again."""
    make_demo(ROOT / "wiremap" / "demo")
    make_clean(ROOT / "data" / "hollow-oak-garden")
    make_messy(ROOT / "data" / "millrace-court")
    make_state_plane(ROOT / "data" / "ridge-terrace")
    make_large(ROOT / "data" / "larkmoor-campus")


if __name__ == "__main__":
    main()
