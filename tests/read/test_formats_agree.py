"""One property in every field format gives the same locates."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

from wiremap.read.folders import read_property
from wiremap.read.nmea import checksum

POINTS = pd.DataFrame(
    {
        "point": ["P1", "P2", "V1"],
        "feature": ["path", "path", "valve"],
        "lon": [-99.25, -99.2501, -99.2502],
        "lat": [36.5, 36.5001, 36.5002],
        "elevation": [300.5, 301.0, 301.5],
    }
)


def as_frame():
    """Return the points as features with heights."""
    shapes = shapely.points(POINTS[["lon", "lat", "elevation"]].to_numpy())
    return gpd.GeoDataFrame(POINTS[["point", "feature"]], geometry=shapes, crs="EPSG:4326")


def save_csv(path):
    """Save as text."""
    POINTS.to_csv(path, index=False)


def save_vector(path):
    """Save through GDAL."""
    as_frame().to_file(path)


def save_projected(path):
    """Save in a projected CRS of US survey feet, heights in the same unit."""
    moved = as_frame().to_crs("EPSG:2275")
    xy = shapely.get_coordinates(moved.geometry)
    z = POINTS["elevation"].to_numpy() * 3937 / 1200
    moved.set_geometry(shapely.points(np.column_stack([xy, z])), crs="EPSG:2275").to_file(path)


def save_gpx(path):
    """Save as waypoints."""
    body = "".join(
        f'<wpt lat="{r.lat}" lon="{r.lon}"><ele>{r.elevation}</ele><name>{r.point}</name>'
        f"<sym>{r.feature}</sym></wpt>"
        for r in POINTS.itertuples()
    )
    head = '<gpx version="1.1" creator="test" xmlns="http://www.topografix.com/GPX/1/1">'
    path.write_text(f"{head}{body}</gpx>")


def save_kml(path):
    """Save as placemarks with extended data."""
    body = "".join(
        f"<Placemark><name>{r.point}</name><ExtendedData><Data name='feature'><value>{r.feature}"
        "</value></Data></ExtendedData><Point><altitudeMode>absolute</altitudeMode>"
        f"<coordinates>{r.lon},{r.lat},{r.elevation}</coordinates></Point></Placemark>"
        for r in POINTS.itertuples()
    )
    head = '<kml xmlns="http://www.opengis.net/kml/2.2"><Document>'
    path.write_text(f"{head}{body}</Document></kml>")


FORMATS = {
    "locates.csv": save_csv,
    "locates.geojson": save_vector,
    "locates.gpkg": save_vector,
    "locates.shp": save_vector,
    "locates_feet.gpkg": save_projected,
    "locates.gpx": save_gpx,
    "locates.kml": save_kml,
}


@pytest.mark.parametrize("name", FORMATS)
def test_the_same_points_come_out_of_every_format(tmp_path, name):
    """Identifier, feature, elevation in metres, and the position in its CRS."""
    FORMATS[name](tmp_path / name)
    locates = read_property(tmp_path).locates
    assert locates["point"].tolist() == POINTS["point"].tolist()
    assert locates["feature"].tolist() == POINTS["feature"].tolist()
    assert locates["elevation_m"].to_numpy() == pytest.approx(POINTS["elevation"].to_numpy())
    plane = locates["lon"].isna().all()
    columns = ["easting", "northing"] if plane else ["lon", "lat"]
    shapes = gpd.points_from_xy(*locates[columns].to_numpy().T, crs=locates["position_crs"][0])
    degrees = shapely.get_coordinates(shapes.to_crs("EPSG:4326"))
    assert degrees == pytest.approx(POINTS[["lon", "lat"]].to_numpy(), abs=1e-9)


def test_a_log_of_fixes_is_a_walked_path(tmp_path):
    """An NMEA log carries no features: its fixes are the path of one run."""
    lines = []
    for number, r in enumerate(POINTS.itertuples()):
        lat, lon = (
            f"{int(abs(v)) * 100 + abs(v) % 1 * 60:0{width}.6f}"
            for v, width in ((r.lat, 11), (r.lon, 12))
        )
        body = f"GNGGA,12000{number},{lat},N,{lon},W,4,12,0.8,{r.elevation},M,-27.5,M,1,0001"
        lines.append(f"${body}*{checksum(body)}\n")
    (tmp_path / "locates.nmea").write_text("".join(lines))
    locates = read_property(tmp_path).locates
    assert set(locates["feature"]) == {"path"}
    assert locates[["lon", "lat"]].to_numpy() == pytest.approx(
        POINTS[["lon", "lat"]].to_numpy(), abs=1e-8
    )
    assert locates["elevation_m"].tolist() == POINTS["elevation"].tolist()
    assert locates["h_rms_m"].isna().all()  # what a fixed solution reaches is nobody's guess
