"""Attacks through GeoJSON, GeoPackage, Shapefile, DXF and NMEA."""

import json
import sqlite3
from contextlib import closing

import numpy as np
from attacks import LAT, LON, attack


def _geojson(folder, features, name="locates-g.geojson", **more):
    text = json.dumps({"type": "FeatureCollection", "features": features, **more})
    (folder / name).write_text(text)


def _feature(geometry, /, **properties):
    return {"type": "Feature", "geometry": geometry, "properties": properties}


def _point(*xy, **properties):
    return _feature({"type": "Point", "coordinates": list(xy)}, **properties)


@attack("GeoJSON nested 100,000 deep", "locates-g")
def json_deep(folder, scale):
    (folder / "locates-g.geojson").write_text(
        '{"type":"FeatureCollection","features":' + "[" * 100_000 + "]" * 100_000 + "}"
    )


@attack("GeoJSON: properties nested 2,000 deep", "locates-g|wrote")
def json_deep_properties(folder, scale):
    value = '{"a":' * 2000 + "1" + "}" * 2000
    (folder / "locates-g.geojson").write_text(
        '{"type":"FeatureCollection","features":[{"type":"Feature","geometry":{"type":"Point","coordinates":[-96.5,41.5001]},"properties":{"feature":"valve","x":'
        + value
        + "}}]}"
    )


@attack("GeoJSON: collections nested 1,000 deep", "locates-g")
def json_deep_collection(folder, scale):
    opening = '{"type":"GeometryCollection","geometries":['
    geometry = opening * 1000 + '{"type":"Point","coordinates":[-96.5,41.5]}' + "]}" * 1000
    (folder / "locates-g.geojson").write_text(
        '{"type":"FeatureCollection","features":[{"type":"Feature","geometry":'
        + geometry + ',"properties":{"feature":"valve"}}]}'
    )  # fmt: skip


@attack("GeoJSON: NaN, infinity, 1e308, text and null as coordinates", "locates-g")
def json_wild(folder, scale):
    texts = (
        "[NaN,NaN]",
        "[Infinity,-Infinity]",
        "[1e308,1e308]",
        '["a","b"]',
        "[null,null]",
        "[]",
        "[1]",
        "null",
        "{}",
        "[[1,2]]",
        "[-96.5,41.5001,1e308]",
        "[1e999,1e999]",
    )
    rows = ",".join(
        f'{{"type":"Feature","geometry":{{"type":"Point","coordinates":{t}}},"properties":{{"feature":"valve","point":"g{n}"}}}}'
        for n, t in enumerate(texts)
    )
    (folder / "locates-g.geojson").write_text(f'{{"type":"FeatureCollection","features":[{rows}]}}')


@attack("GeoJSON: empty and null geometries of every type", "locates-g")
def json_empty(folder, scale):
    kinds = ("Point", "LineString", "Polygon", "MultiPoint", "MultiLineString", "MultiPolygon")
    features = [
        _feature({"type": k, "coordinates": []}, feature="valve", point=f"e{k}") for k in kinds
    ]
    features += [
        _feature(None, feature="valve", point="n"),
        _feature({"type": "GeometryCollection", "geometries": []}),
        {"type": "Feature"},
        _point(LON, LAT + 1e-4, feature="valve", point="good"),
    ]
    _geojson(folder, features)


@attack("GeoJSON: a CRS that names an address", "locates-g|wrote")
def json_crs_link(folder, scale):
    _geojson(
        folder,
        [_point(LON, LAT + 1e-4, feature="valve")],
        crs={"type": "link", "properties": {"href": "http://192.0.2.1/crs", "type": "proj4"}},
    )


@attack(
    "GeoJSON: property names that are templates, SQL, paths and doubled by case", "locates-g|wrote"
)
def json_names(folder, scale):
    names = (
        "{{7*7}}",
        '"; DROP TABLE x',
        "../../x",
        "Feature",
        "FEATURE",
        "geometry",
        "fid",
        "",
        " ",
        "x" * 3000,
        "a\u0000b",
        "\ud800",
        "index",
        "__proto__",
    )
    _geojson(folder, [_point(LON, LAT + 1e-4, feature="valve", **dict.fromkeys(names, "{{7*7}}"))])


@attack("GeoJSON: a polygon of a million corners as a valve", "locates-g|wrote")
def json_polygon(folder, scale):
    turn = np.linspace(0, 2 * np.pi, int(300_000 * scale) + 1000)
    ring = np.c_[LON + 1e-4 * np.cos(turn), LAT + 1e-4 * np.sin(turn)].tolist()
    ring[-1] = ring[0]
    _geojson(
        folder, [_feature({"type": "Polygon", "coordinates": [ring]}, feature="valve", point="big")]
    )


@attack("GeoJSON: a line of 100,000 corners as a run", "wrote")
def json_line(folder, scale):
    count = int(100_000 * scale) + 1000
    line = np.c_[np.full(count, LON), LAT + np.arange(count) * 1e-7].tolist()
    _geojson(folder, [_feature({"type": "LineString", "coordinates": line}, run="L")])


@attack("GeoJSON: mixed dimensions", "wrote")
def json_mixed_dimensions(folder, scale):
    _geojson(
        folder,
        [
            _point(LON, LAT + 1e-4, feature="valve", point="a"),
            _point(LON, LAT + 2e-4, 300.0, feature="valve", point="b"),
            _point(LON, LAT + 3e-4, 300.0, 7.0, feature="valve", point="c"),
            _feature(
                {"type": "LineString", "coordinates": [[LON, LAT], [LON, LAT + 1e-4, 5.0]]}, run="Q"
            ),
        ],
    )


@attack("GeoJSON: two documents in one file and rubbish behind", "locates-g|wrote")
def json_two(folder, scale):
    _geojson(folder, [_point(LON, LAT + 1e-4, feature="valve", point="a")])
    text = (folder / "locates-g.geojson").read_text()
    (folder / "locates-g.geojson").write_text(text + text + "\x00rubbish")


@attack("GeoJSON: no features", "locates-g")
def json_none(folder, scale):
    _geojson(folder, [])


@attack("GeoJSON: links to the next page at an address", "wrote")
def json_next(folder, scale):
    _geojson(
        folder,
        [_point(LON, LAT + 1e-4, feature="valve", point="a")],
        links=[{"rel": "next", "href": "http://192.0.2.1/2", "type": "application/geo+json"}],
    )


@attack("GeoJSON: TopoJSON, ESRI JSON and a feature alone", "locates")
def json_others(folder, scale):
    (folder / "locates-t.json").write_text(
        '{"type":"Topology","objects":{"x":{"type":"Point","coordinates":[-96.5,41.5]}},"arcs":[]}'
    )
    (folder / "locates-e.json").write_text(
        '{"geometryType":"esriGeometryPoint","spatialReference":{"wkid":4326},"fields":[],"features":[{"attributes":{"feature":"valve"},"geometry":{"x":-96.5,"y":41.5001}}]}'
    )
    (folder / "locates-f.json").write_text(
        json.dumps(_point(LON, LAT + 1e-4, feature="valve", point="alone"))
    )
    (folder / "locates-s.json").write_text('{"a": 1}')


def _package(folder, name="locates-p.gpkg", layer="points", rows=3):
    import geopandas as gpd

    frame = gpd.GeoDataFrame(
        {"point": [f"G{n}" for n in range(rows)], "feature": "valve"},
        geometry=gpd.points_from_xy([LON] * rows, [LAT + 1e-4 + 1e-5 * n for n in range(rows)]),
        crs=4326,
    )
    path = folder / name
    path.parent.mkdir(exist_ok=True)
    frame.to_file(path, layer=layer, driver="GPKG", SPATIAL_INDEX="NO")
    return path


def _sql(path, *statements):
    with closing(sqlite3.connect(path)) as db:
        for statement in statements:
            db.execute(statement)
        db.commit()


def _rename(name, old="points"):
    """Return the statements that rename a layer."""
    quoted, text = name.replace('"', '""'), name.replace("'", "''")
    return (
        f"DROP TRIGGER IF EXISTS trigger_insert_feature_count_{old}",
        f"DROP TRIGGER IF EXISTS trigger_delete_feature_count_{old}",
        "PRAGMA foreign_keys=OFF",
        f'ALTER TABLE "{old}" RENAME TO "{quoted}"',
        f"UPDATE gpkg_contents SET table_name='{text}', identifier='{text}'",
        f"UPDATE gpkg_geometry_columns SET table_name='{text}'",
        f"UPDATE gpkg_ogr_contents SET table_name='{text}'",
    )


@attack("GeoPackage: layer names that are SQL, templates and paths", "locates-p|wrote")
def package_names(folder, scale):
    for n, name in enumerate(
        (
            'x"; DROP TABLE y; --',
            "{{7*7}}",
            "../../x",
            "a'b",
            "select",
            "\U0001f4a7",
            "/vsicurl/http://192.0.2.1/x",
            "[x]",
            "`x`",
        )
    ):
        _sql(_package(folder, f"locates-p{n}.gpkg"), *_rename(name))


@attack("GeoPackage: a view that would run for ever in place of the layer", "locates-p")
def package_endless_view(folder, scale):
    path = _package(folder)
    _sql(
        path,
        "DROP TABLE points",
        "CREATE VIEW points AS WITH RECURSIVE c(x) AS (SELECT 1 UNION ALL SELECT x+1 FROM c) SELECT x AS fid, NULL AS geom, 'a' AS point, 'valve' AS feature FROM c",
    )


@attack("GeoPackage: a view of a zero blob of a gigabyte", "locates-p")
def package_blob_view(folder, scale):
    path = _package(folder)
    _sql(
        path,
        "DROP TABLE points",
        "CREATE VIEW points AS SELECT 1 AS fid, zeroblob(900000000) AS geom, hex(zeroblob(400000000)) AS point, 'valve' AS feature",
    )


@attack("GeoPackage: triggers on every table", "wrote")
def package_triggers(folder, scale):
    path = _package(folder)
    _sql(
        path,
        "CREATE TRIGGER t1 AFTER UPDATE ON points BEGIN DELETE FROM points; END",
        "CREATE TRIGGER t2 AFTER INSERT ON gpkg_contents BEGIN DELETE FROM points; END",
    )


@attack("GeoPackage: SQL that loads an extension named in the metadata", "wrote")
def package_extensions(folder, scale):
    path = _package(folder)
    _sql(
        path,
        "CREATE TABLE IF NOT EXISTS gpkg_extensions (table_name TEXT, column_name TEXT, extension_name TEXT NOT NULL, definition TEXT NOT NULL, scope TEXT NOT NULL)",
        "INSERT INTO gpkg_extensions VALUES ('points', 'geom', 'evil_ext', 'http://192.0.2.1/x.so', 'read-write')",
        "CREATE TABLE points_x AS SELECT load_extension FROM (SELECT 'x' AS load_extension)",
    )


@attack("GeoPackage: a virtual table", "locates-p|wrote")
def package_virtual(folder, scale):
    path = _package(folder)
    _sql(
        path,
        "PRAGMA writable_schema=ON",
        "INSERT INTO sqlite_master(type,name,tbl_name,rootpage,sql) VALUES ('table','v','v',0,'CREATE VIRTUAL TABLE v USING VirtualOGR(''/etc/passwd'')')",
        "INSERT INTO gpkg_contents (table_name, data_type, identifier) VALUES ('v','attributes','v')",
    )


@attack("GeoPackage: geometry blobs that are rubbish, cut and of other types", "locates-p")
def package_blobs(folder, scale):
    path = _package(folder, rows=12)
    _sql(path, "UPDATE points SET geom = x'00' WHERE fid = 1", "UPDATE points SET geom = 'text' WHERE fid = 2", "UPDATE points SET geom = substr(geom, 1, 20) WHERE fid = 3", "UPDATE points SET geom = NULL WHERE fid = 4", "UPDATE points SET geom = zeroblob(60) WHERE fid = 5", "UPDATE points SET geom = 5 WHERE fid = 6", "UPDATE points SET geom = x'47500001E6100000' || x'01FFFFFFFF' WHERE fid = 7", "UPDATE points SET geom = x'47500001E6100000' || x'0102000000FFFFFF7F' WHERE fid = 8")  # fmt: skip


@attack("GeoPackage: damaged in the middle", "locates-p")
def package_damaged(folder, scale):
    path = _package(folder, rows=2000)
    data = bytearray(path.read_bytes())
    data[60_000:90_000] = np.random.default_rng(3).bytes(30_000)
    path.write_bytes(data)


@attack("GeoPackage: cut in the middle", "locates-p")
def package_cut(folder, scale):
    path = _package(folder, rows=2000)
    path.write_bytes(path.read_bytes()[:50_000])


@attack("GeoPackage: an SQLite file that is none", "locates-p")
def package_plain_sqlite(folder, scale):
    _sql(folder / "locates-p.gpkg", "CREATE TABLE x (a)")


@attack("GeoPackage: its -wal file left beside it", "locates-p|wrote")
def package_wal(folder, scale):
    path = _package(folder)
    with closing(sqlite3.connect(path)) as db:
        db.execute("PRAGMA journal_mode=WAL")
        db.execute("UPDATE gpkg_contents SET description='x'")
        db.commit()
        data = (folder / "locates-p.gpkg-wal").read_bytes()
    (folder / "locates-p.gpkg-wal").write_bytes(data)


@attack("GeoPackage: text that is not UTF-8", "locates-p|wrote")
def package_encoding(folder, scale):
    path = _package(folder)
    _sql(path, "UPDATE points SET point = CAST(x'ff41fe' AS TEXT)")


@attack("GeoPackage as base: an endless view", "base/p.gpkg")
def base_endless_view(folder, scale):
    path = _package(folder, "base/p.gpkg")
    _sql(
        path,
        "DROP TABLE points",
        "CREATE VIEW points AS WITH RECURSIVE c(x) AS (SELECT 1 UNION ALL SELECT x+1 FROM c) SELECT x AS fid, NULL AS geom FROM c",
    )


@attack("GeoPackage as base: hostile layer and column names, rubbish geometry", "base|wrote")
def base_names(folder, scale):
    path = _package(folder, "base/p.gpkg")
    _sql(path, *_rename("{{7*7}}</script><script>alert(1)</script>"))
    _sql(_package(folder, "base/q.gpkg"), *_rename('../../x"; DROP'))
    _sql(path, 'ALTER TABLE "{{7*7}}</script><script>alert(1)</script>" ADD COLUMN "{% x %}" TEXT')


@attack("Base: coordinates of NaN and 1e308, null and empty geometries, another CRS", "base|wrote")
def base_wild(folder, scale):
    (folder / "base").mkdir()
    texts = (
        '{"type":"Point","coordinates":[1e308,1e308]}',
        "null",
        '{"type":"Polygon","coordinates":[]}',
        '{"type":"Polygon","coordinates":[[[0,0],[1,1],[0,1],[1,0],[0,0]]]}',
        '{"type":"GeometryCollection","geometries":[]}',
        '{"type":"LineString","coordinates":[[-200,95],[500,-400]]}',
        '{"type":"Point","coordinates":[-96.5,41.5]}',
    )
    rows = ",".join(
        f'{{"type":"Feature","geometry":{t},"properties":{{"name":"{{{{7*7}}}}"}}}}' for t in texts
    )
    (folder / "base" / "b.geojson").write_text(
        f'{{"type":"FeatureCollection","features":[{rows}]}}'
    )


@attack("Base: a document nested 100,000 deep", "base/d.geojson")
def base_deep(folder, scale):
    (folder / "base").mkdir()
    (folder / "base" / "d.geojson").write_text(
        '{"type":"FeatureCollection","features":' + "[" * 100_000 + "]" * 100_000 + "}"
    )


@attack("Shapefile: without its .shx and .dbf", "locates-s")
def shape_alone(folder, scale):
    _shapes(folder)
    for suffix in ("shx", "dbf", "prj"):
        (folder / f"locates-s.{suffix}").unlink()


def _shapes(folder, rows=5):
    import geopandas as gpd

    frame = gpd.GeoDataFrame(
        {"FACILITYID": [f"S{n}" for n in range(rows)], "FEATURE": "valve"},
        geometry=gpd.points_from_xy([LON] * rows, [LAT + 1e-4 + 1e-5 * n for n in range(rows)]),
        crs=4326,
    )
    frame.to_file(folder / "locates-s.shp")


@attack("Shapefile: random bytes behind its head", "locates-s")
def shape_rubbish(folder, scale):
    _shapes(folder)
    path = folder / "locates-s.shp"
    path.write_bytes(path.read_bytes()[:100] + np.random.default_rng(4).bytes(5000))


@attack("Shapefile: a record count of two thousand million", "locates-s")
def shape_counts(folder, scale):
    _shapes(folder)
    for suffix, place in (("dbf", 4), ("shx", 24), ("shp", 24)):
        path = folder / f"locates-s.{suffix}"
        data = bytearray(path.read_bytes())
        data[place : place + 4] = b"\x7f\xff\xff\x7f"
        path.write_bytes(data)


@attack("Shapefile: a projection that is rubbish", "locates-s|wrote")
def shape_projection(folder, scale):
    _shapes(folder)
    (folder / "locates-s.prj").write_text("{{7*7}} /etc/passwd http://192.0.2.1" * 100)


@attack("Shapefile: an encoding that does not exist", "locates-s|wrote")
def shape_encoding(folder, scale):
    _shapes(folder)
    (folder / "locates-s.cpg").write_text("KLINGON-8")


@attack("DXF: random text and a nested block that inserts itself", "locates-d")
def dxf_recursive(folder, scale):
    import ezdxf

    drawing = ezdxf.new()
    block = drawing.blocks.new("A")
    block.add_point((1, 1))
    block.add_blockref("A", (0, 0))
    drawing.modelspace().add_blockref("A", (0, 0))
    drawing.modelspace().add_point((float("nan"), 1e308))
    drawing.modelspace().add_point((700_000, 4_597_000), dxfattribs={"layer": "{{7x7}}"})
    drawing.saveas(folder / "locates-d.dxf")


@attack("DXF: rubbish", "locates-d")
def dxf_rubbish(folder, scale):
    (folder / "locates-d.dxf").write_bytes(
        b"0\nSECTION\n2\nENTITIES\n0\nPOINT\n10\nnan\n20\n" + b"9" * 100_000
    )


@attack("NMEA: a sentence of a hundred thousand fields and random bytes between", "locates-n")
def nmea_wild(folder, scale):
    from wiremap.read.nmea import checksum

    def line(body):
        return f"${body}*{checksum(body)}\r\n".encode()

    good = line("GPGGA,120000.00,4130.0060,N,09630.0000,W,4,12,0.8,350.0,M,-25.0,M,,")
    rest = [
        line("GPGGA," + "," * 100_000),
        line("GPGGA,999999.99,9999.99,N,99999.99,W,9,99,1e308,1e308,M,nan,M,,"),
        line("GNGST,120000.00,1e308,inf,nan,,1e308,-1,0"),
        line("GPRMC,120000.00,A,4130.006,N,09630.0,W,1e308,nan,310299,,"),
        b"$GPGGA,1*00\n",
        np.random.default_rng(5).bytes(5000).replace(b"$", b""),
        b"\n",
        b"$" * 10_000 + b"\n",
        line("GPRMC,250000.00,A,,,,,,,999999,,"),
        line("GPZDA,120000.00,31,02,0000,00,00"),
    ]
    (folder / "locates-n.nmea").write_bytes(good + b"".join(rest) + good)


@attack("NMEA: no fix in it at all", "locates-n")
def nmea_void(folder, scale):
    (folder / "locates-n.nmea").write_bytes(b"$GPGGA,,,,,,0,,,,,,,,*66\r\n" * 200)


@attack("NMEA: one line of 50 MB", "locates-n")
def nmea_line(folder, scale):
    (folder / "locates-n.nmea").write_bytes(
        b"$GPGGA," + b"1" * int(50_000_000 * scale) + b"*00\r\n"
    )
