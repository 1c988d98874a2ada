"""Layers of map programs: shapefiles, GeoPackages, GeoJSON, KML and KMZ.

By the open specifications of the formats, from memory. What a municipal layer looks like (names
cut at ten letters, capitals, a projection file of survey feet) is common practice, no source.
"""

import json
import zipfile

import geopandas as gpd
import numpy as np
import shapely
from corpus.property_truth import GEOGRAPHIC, MARKS, STATE_PLANE, UTM
from corpus.samples import sample
from corpus.survey_files import FTUS, described, settings


def layer(crs=STATE_PLANE, marks=MARKS, **columns):
    """Marks as points of a CRS, with the columns asked for."""
    points = gpd.points_from_xy([m.lon for m in marks], [m.lat for m in marks])
    frame = gpd.GeoDataFrame(geometry=points, crs="EPSG:4269")
    for name, of in columns.items():
        frame[name] = [of(m) for m in marks]
    return frame.to_crs(crs) if crs != GEOGRAPHIC else frame.set_crs(crs, allow_override=True)


def shapefile(folder, frame, name="locates.shp", **options):
    (folder / name).parent.mkdir(exist_ok=True)
    frame.to_file(folder / name, driver="ESRI Shapefile", engine="pyogrio", **options)


def lines(crs=STATE_PLANE, **columns):
    """The two wires as lines."""
    runs = [layer(crs, [m for m in MARKS if m.run == run]).geometry for run in ("Z1", "Z2")]
    frame = gpd.GeoDataFrame(geometry=[shapely.LineString([(p.x, p.y) for p in r]) for r in runs],
                             crs=runs[0].crs)  # fmt: skip
    for name, values in columns.items():
        frame[name] = values
    return frame


KEYS = {
    "OBJECTID": lambda m: m.number,
    "FEATURE_TY": lambda m: m.feature.upper(),
    "WIRE_RUN": lambda m: m.run,
    "ZONE_NO": lambda m: m.zone,
}


@sample("a shapefile in capitals, names cut at ten letters, in a plane of survey feet",
        told=(("read-note", "FEATURE_TY"),))  # fmt: skip
def shape_municipal(folder):
    shapefile(folder, layer(**KEYS))


@sample("the same without its projection file, the CRS named in property.toml")
def shape_without_projection(folder):
    shapefile(folder, layer(**KEYS))
    (folder / "locates.prj").unlink()
    settings(folder, "[coordinates]", f'input_crs = "{STATE_PLANE}"')


@sample("the same without its projection file, nothing that names the CRS", refused="input_crs")
def shape_crs_unsaid(folder):
    shapefile(folder, layer(**KEYS))
    (folder / "locates.prj").unlink()


@sample("a shapefile of degrees without a projection file, as old exports are")
def shape_degrees(folder):
    shapefile(folder, layer(GEOGRAPHIC, **KEYS))
    (folder / "locates.prj").unlink()


@sample("accents in a shapefile of the code page cp1252, with and without its .cpg")
def shape_code_page(folder):
    for name, marks in (("a", MARKS[:6]), ("b", MARKS[6:])):
        frame = layer(marks=marks, **KEYS, REMARK=lambda m: f"près de la haie {m.number}")
        shapefile(folder, frame, f"locates/{name}.shp", encoding="cp1252")
    (folder / "locates/b.cpg").unlink()


@sample("heights and measures in the points: PointZM, heights in survey feet")
def shape_zm(folder):
    frame = layer(**KEYS)
    heights = [m.elevation_m / FTUS for m in MARKS]
    frame.geometry = shapely.points(
        [(p.x, p.y, z) for p, z in zip(frame.geometry, heights, strict=True)]
    )
    shapefile(folder, frame)


@sample("a MultiPoint of one point for each feature")
def shape_multipoint(folder):
    frame = layer(**KEYS)
    frame.geometry = [shapely.MultiPoint([p]) for p in frame.geometry]
    shapefile(folder, frame)


@sample("lines for the wires and points for the devices, a layer each")
def shape_lines(folder):
    shapefile(folder, lines(NAME=["Z1", "Z2"]), "locates/wires.shp")
    shapefile(folder, layer(marks=[m for m in MARKS if m.feature != "path"], **KEYS),
              "locates/devices.shp")  # fmt: skip


@sample("a GeoPackage of several layers, one named after each kind, one of another business")
def package_layers(folder):
    path = folder / "locates.gpkg"
    lines(UTM, Wire=["Z1", "Z2"], name=["Z1", "Z2"]).to_file(path, layer="wires")
    for kind in ("controller", "valve", "splice", "ground", "backflow"):
        marks = [m for m in MARKS if m.feature == kind]
        layer(UTM, marks, Name=lambda m: m.name, Run=lambda m: m.run).to_file(
            path, layer=f"{kind}s"
        )


@sample("a GeoPackage with a geometry that is null and one that is empty, both known by name",
        told=(("bad-value", "[Nn]o geometry"),), errors=True)  # fmt: skip
def package_null(folder):
    frame = layer(UTM, Point=lambda m: m.name, Feature=lambda m: m.feature, Run=lambda m: m.run)
    extra = frame.iloc[[5, 11]].copy()
    extra["Point"], extra.geometry = ["V8", "V9"], [None, shapely.Point()]
    gpd.GeoDataFrame(np.vstack([frame, extra]), columns=frame.columns, crs=UTM).to_file(
        folder / "locates.gpkg"
    )


def geojson(folder, features, **members):
    whole = {"type": "FeatureCollection", **members, "features": features}
    (folder / "locates.geojson").write_text(json.dumps(whole), encoding="utf-8")


def feature(mark, coordinates, **properties):
    return {"type": "Feature", "properties": properties,
            "geometry": {"type": "Point", "coordinates": coordinates}}  # fmt: skip


@sample("GeoJSON with identifiers outside of the properties, properties in mixed case")
def geojson_plain(folder):
    geojson(folder, [
        feature(m, [m.lon, m.lat, m.elevation_m], Name=m.name, Type=m.feature.title(), RUN=m.run)
        | {"id": m.number}
        for m in MARKS
    ])  # fmt: skip


@sample("GeoJSON of before RFC 7946, its crs member naming a plane of survey feet")
def geojson_crs(folder):
    places = layer(STATE_PLANE).geometry
    geojson(folder, [
        feature(m, [p.x, p.y], name=m.name, code=described(m)) for m, p in zip(MARKS, places, strict=True)
    ], crs={"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::2264"}})  # fmt: skip


@sample("GeoJSON with properties that are lists, objects and null")
def geojson_nested(folder):
    geojson(folder, [
        feature(m, [m.lon, m.lat], point=m.name, feature=m.feature, run=m.run or None,
                photos=["a.jpg", "b.jpg"], meta={"app": 1})
        for m in MARKS
    ])  # fmt: skip


PLACEMARK = "<Placemark><name>{0}</name>{1}{2}</Placemark>\n"
KML = ('<?xml version="1.0" encoding="UTF-8"?>\n<kml xmlns="http://www.opengis.net/kml/2.2">'
       "<Document><name>a season</name><Style id='s'><IconStyle><scale>1.1</scale><Icon>"
       "<href>http://example.org/pin.png</href></Icon></IconStyle></Style>{0}</Document></kml>")  # fmt: skip


def place(mark):
    return f"<Point><altitudeMode>clampToGround</altitudeMode><coordinates>{mark.lon:.9f},{mark.lat:.9f},0</coordinates></Point>"


def path(run):
    marks = " ".join(f"{m.lon:.9f},{m.lat:.9f},0" for m in MARKS if m.run == run)
    return (
        f"<LineString><tessellate>1</tessellate><coordinates>\n {marks} </coordinates></LineString>"
    )


def folders():
    """Folders of devices named after their kind, and one of wires."""
    parts = []
    for kind in ("controller", "valve", "splice", "ground", "backflow"):
        marks = [PLACEMARK.format(m.name, "<styleUrl>#s</styleUrl>", place(m))
                 for m in MARKS if m.feature == kind]  # fmt: skip
        parts.append(f"<Folder><name>{kind.title()}s</name>{''.join(marks)}</Folder>")
    wires = "".join(PLACEMARK.format(run, "", path(run)) for run in ("Z1", "Z2"))
    return "".join([*parts, f"<Folder><name>Wires</name>{wires}</Folder>"])


@sample("KML with a folder for each kind, wires as lines, styles")
def kml_folders(folder):
    (folder / "locates.kml").write_text(KML.format(folders()), encoding="utf-8")


@sample("KMZ with images beside the document")
def kmz_images(folder):
    with zipfile.ZipFile(folder / "locates.kmz", "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("files/photo.jpg", b"\xff\xd8\xff" + b"0" * 500)
        archive.writestr("doc.kml", KML.format(folders()))


@sample("placemarks outside of folders, what they are in their description: VLV Z1")
def kml_descriptions(folder):
    marks = [PLACEMARK.format(m.name, f"<description><![CDATA[{described(m)}]]></description>", place(m))
             for m in MARKS]  # fmt: skip
    (folder / "locates.kml").write_text(KML.format("".join(marks)), encoding="utf-8")


@sample("descriptions that are a table of HTML, as map programs write balloons")
def kml_balloons(folder):
    def balloon(m):
        rows = {"point": m.name, "feature": m.feature, "run": m.run}
        cells = "".join(f"<tr><td>{k}</td><td>{v}</td></tr>" for k, v in rows.items())
        return f"<description><![CDATA[<html><body><table>{cells}</table></body></html>]]></description>"

    marks = [PLACEMARK.format(m.number, balloon(m), place(m)) for m in MARKS]
    (folder / "locates.kml").write_text(KML.format("".join(marks)), encoding="utf-8")


@sample("extended data with a schema, and untyped data")
def kml_extended(folder):
    schema = ('<Schema name="marks" id="marks"><SimpleField name="feature" type="string"/>'
              '<SimpleField name="run" type="string"/></Schema>')  # fmt: skip
    marks = [
        PLACEMARK.format(
            m.name,
            f'<ExtendedData><SchemaData schemaUrl="#marks"><SimpleData name="feature">{m.feature}</SimpleData>'
            f'<SimpleData name="run">{m.run}</SimpleData></SchemaData></ExtendedData>'
            if k % 2 else
            f'<ExtendedData><Data name="feature"><value>{m.feature}</value></Data>'
            f'<Data name="run"><value>{m.run}</value></Data></ExtendedData>',
            place(m),
        )
        for k, m in enumerate(MARKS)
    ]  # fmt: skip
    (folder / "locates.kml").write_text(KML.format(schema + "".join(marks)), encoding="utf-8")


@sample("a shapefile whose endings are in capitals")
def shape_capitals(folder):
    shapefile(folder, layer(**KEYS))
    for part in list(folder.iterdir()):
        part.rename(part.with_suffix(part.suffix.upper()))


@sample("a shapefile in an archive, as it was downloaded", refused=".zip")
def shape_zipped(folder):
    shapefile(folder, layer(**KEYS), "parts/locates.shp")
    with zipfile.ZipFile(folder / "locates.zip", "w") as archive:
        for part in (folder / "parts").iterdir():
            archive.write(part, part.name)
            part.unlink()


@sample("GeoJSON that is one feature of many points", features=False, runs=False)
def geojson_one_feature(folder):
    whole = {"type": "Feature", "properties": {"name": "walk"},
             "geometry": {"type": "MultiPoint", "coordinates": [[m.lon, m.lat] for m in MARKS]}}  # fmt: skip
    (folder / "locates.geojson").write_text(json.dumps(whole), encoding="utf-8")


@sample("a track with times in KML, as phones write it: gx:Track", features=False)
def kml_track(folder):
    def gx(run):
        marks = [m for m in MARKS if m.run == run]
        times = "".join(f"<when>{m.time}</when>" for m in marks)
        places = "".join(
            f"<gx:coord>{m.lon:.9f} {m.lat:.9f} {m.elevation_m}</gx:coord>" for m in marks
        )
        return f"<Placemark><name>{run}</name><gx:Track>{times}{places}</gx:Track></Placemark>"

    head = KML.replace("<kml ", '<kml xmlns:gx="http://example.org/kml/ext" ')
    devices = [PLACEMARK.format(m.name, "", place(m)) for m in MARKS if not m.run]
    (folder / "locates.kml").write_text(
        head.format(gx("Z1") + gx("Z2") + "".join(devices)), encoding="utf-8"
    )


@sample("a point and a line in one placemark: MultiGeometry", features=False)
def kml_multi(folder):
    def both(run):
        end = next(m for m in MARKS if m.name == f"V{run[1:]}")
        shape = f"<MultiGeometry>{path(run)}{place(end)}</MultiGeometry>"
        return PLACEMARK.format(run, "", shape)

    devices = [PLACEMARK.format(m.name, "", place(m)) for m in MARKS if not m.run]
    (folder / "locates.kml").write_text(
        KML.format(both("Z1") + both("Z2") + "".join(devices)), encoding="utf-8"
    )


@sample("KML that only links to another file", refused="links to other files")
def kml_link(folder):
    link = "<NetworkLink><name>live</name><Link><href>http://example.org/live.kml</href></Link></NetworkLink>"
    (folder / "locates.kml").write_text(KML.format(link), encoding="utf-8")
