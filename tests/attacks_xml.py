"""Attacks through XML: GPX and KML, as field locates and as base."""

from attacks import attack

BOMB = "".join(
    [
        '<?xml version="1.0"?><!DOCTYPE gpx [<!ENTITY a "aaaaaaaaaa">',
        *(
            f'<!ENTITY {b} "{f"&{a};" * 10}">'
            for a, b in zip("abcdefghi", "bcdefghij", strict=True)
        ),
        "]>",
    ]
)
OUTSIDE = '<?xml version="1.0"?><!DOCTYPE gpx [<!ENTITY x SYSTEM "file:///etc/passwd">]>'
POINT = '<wpt lat="41.50010" lon="-96.5"><name>{}</name><sym>valve</sym></wpt>'


def gpx(points, head=""):
    """Return a GPX document."""
    return f'{head}<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1">{points}</gpx>'


def kml(marks, head=""):
    """Return a KML document."""
    return f'{head}<kml xmlns="http://www.opengis.net/kml/2.2"><Document>{marks}</Document></kml>'


def _gpx_attack(name, what, text, says, codes=(0, 1)):
    def make(folder, scale):
        written = text(scale) if callable(text) else text
        data = written if isinstance(written, bytes) else written.encode()
        (folder / "locates-gps.gpx").write_bytes(data)

    make.__name__ = name
    attack(what, says, codes=codes)(make)


REFUSED = "(?i)declares a document type"
_gpx_attack(
    "gpx_bomb", "GPX: an entity that expands to a gigabyte", gpx(POINT.format("&j;"), BOMB), REFUSED
)
_gpx_attack(
    "gpx_outside",
    "GPX: an entity that reads /etc/passwd",
    gpx(POINT.format("&x;"), OUTSIDE),
    REFUSED,
)
_gpx_attack(
    "gpx_bomb_utf16",
    "GPX: the same bomb in UTF-16",
    gpx(POINT.format("&j;"), BOMB.replace('1.0"', '1.0" encoding="UTF-16"')).encode("utf-16"),
    REFUSED,
)
_gpx_attack(
    "gpx_utf7",
    "GPX: a bomb in UTF-7",
    b'<?xml version="1.0" encoding="UTF-7"?>' + gpx(POINT.format("&j;"), BOMB[21:]).encode("utf-7"),
    "gpx",
    (0, 1),
)
_gpx_attack(
    "gpx_ebcdic",
    "GPX: a bomb in EBCDIC",
    gpx(POINT.format("&j;"), BOMB.replace('1.0"', '1.0" encoding="cp037"')).encode("cp037"),
    "gpx",
    (0, 1),
)
_gpx_attack(
    "gpx_deep",
    "GPX: elements nested 100,000 deep",
    lambda s: gpx("<extensions>" + "<a>" * 100_000 + "</a>" * 100_000 + "</extensions>"),
    "gpx",
    (0, 1),
)
_gpx_attack(
    "gpx_open_ended",
    "GPX: 500,000 extensions and 500,000 quoted texts that are never closed",
    lambda s: gpx(
        POINT.format("V")
        + "<extensions>x" * int(500_000 * s)
        + "</extensions>"
        + "<extensions>"
        + "<a><![CDATA[x" * int(500_000 * s)
    ),
    "gpx",
    (0, 1),
)
_gpx_attack(
    "gpx_long_name",
    "GPX: a name of 20 MB",
    lambda s: gpx(POINT.format("x" * int(20_000_000 * s))),
    "gpx",
    (0, 1),
)
_gpx_attack(
    "gpx_attributes",
    "GPX: an element of 100,000 attributes",
    lambda s: gpx(
        f"<wpt lat='41.5' lon='-96.5' {' '.join(f'a{n}=' + chr(39) + 'x' + chr(39) for n in range(int(100_000 * s)))}/>"
    ),
    "gpx",
    (0, 1),
)
_gpx_attack(
    "gpx_extensions",
    "GPX: a point of 20,000 extensions",
    lambda s: gpx(
        '<wpt lat="41.5001" lon="-96.5"><name>v</name><extensions>'
        + "".join(f"<e{n}>1</e{n}>" for n in range(int(20_000 * s)))
        + "</extensions></wpt>"
    ),
    "gpx",
    (0, 1, 2),
)
_gpx_attack(
    "gpx_cut",
    "GPX: cut in the middle",
    gpx(POINT.format("V") * 50)[:2000],
    "cannot be read|gpx",
    (0, 1),
)
_gpx_attack(
    "gpx_wild_numbers",
    "GPX: NaN, infinity and 1e308 as positions and heights",
    gpx(
        "".join(
            f'<wpt lat="{a}" lon="{b}"><ele>{c}</ele><hdop>{c}</hdop><time>9999-99-99T99:99:99Z</time><sym>valve</sym></wpt>'
            for a, b, c in (
                ("NaN", "NaN", "NaN"),
                ("inf", "-inf", "inf"),
                ("1e308", "1e308", "1e308"),
                ("41.5", "-96.5", "-1e308"),
                ("", "", ""),
                ("91", "181", "x"),
            )
        )
    ),
    "gpx",
    (0, 1),
)
_gpx_attack(
    "gpx_years",
    "GPX: times of year 0 and 9999",
    gpx(
        "".join(
            f'<wpt lat="41.5001" lon="-96.5"><time>{t}</time><name>v{n}</name><sym>valve</sym></wpt>'
            for n, t in enumerate(
                (
                    "0000-01-01T00:00:00Z",
                    "9999-12-31T23:59:59Z",
                    "-5000-01-01T00:00:00Z",
                    "2026-05-04T25:61:61+99:99",
                )
            )
        )
    ),
    "gpx",
    (0, 1),
)
_gpx_attack(
    "gpx_schema",
    "GPX: a schema at an address",
    gpx(POINT.format("V9")).replace(
        "<gpx ",
        '<gpx xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance" xsi:schemaLocation="http://192.0.2.1/x http://192.0.2.1/x.xsd" ',
    ),
    "V9|wrote",
    (0, 1),
)
_gpx_attack(
    "gpx_stylesheet",
    "GPX: a stylesheet and an inclusion at addresses",
    '<?xml-stylesheet href="http://192.0.2.1/x.xsl"?>'
    + gpx(
        POINT.format("V9")
        + '<xi:include xmlns:xi="http://www.w3.org/2001/XInclude" href="file:///etc/passwd"/>'
    ),
    "wrote",
    (0, 1),
)
_gpx_attack(
    "gpx_is_vrt",
    "GPX: a virtual layer that leads elsewhere",
    '<OGRVRTDataSource><OGRVRTLayer name="gpx"><SrcDataSource>/etc/passwd</SrcDataSource></OGRVRTLayer></OGRVRTDataSource>',
    "gpx",
    (0, 1),
)
_gpx_attack(
    "gpx_vrt_with_gpx",
    "GPX: a virtual layer that holds the word <gpx",
    '<OGRVRTDataSource><!-- <gpx --><OGRVRTLayer name="waypoints"><SrcDataSource>zones.csv</SrcDataSource><GeometryType>wkbPoint</GeometryType><GeometryField encoding="PointFromColumns" x="zone" y="zone"/></OGRVRTLayer></OGRVRTDataSource>',
    "gpx",
    (0, 1),
)


def _kml_attack(name, what, text, says, codes=(0, 1), file="locates-marks.kml"):
    def make(folder, scale):
        written = text(scale) if callable(text) else text
        (folder / file).parent.mkdir(exist_ok=True)
        (folder / file).write_bytes(written if isinstance(written, bytes) else written.encode())

    make.__name__ = name
    attack(what, says, codes=codes)(make)


MARK = "<Placemark><name>{}</name><Point><coordinates>{}</coordinates></Point></Placemark>"
_kml_attack(
    "kml_bomb",
    "KML: an entity that expands to a gigabyte",
    kml(MARK.format("&j;", "-96.5,41.5001"), BOMB.replace("gpx", "kml")),
    REFUSED,
)
_kml_attack(
    "kml_link",
    "KML: a network link and an overlay at addresses",
    kml(
        "<NetworkLink><Link><href>http://192.0.2.1/x.kml</href></Link></NetworkLink><GroundOverlay><Icon><href>http://192.0.2.1/x.png</href></Icon></GroundOverlay>"
        + MARK.format("valve 9", "-96.5,41.5001")
    ),
    "wrote",
    (0, 1),
)
_kml_attack(
    "kml_deep",
    "KML: folders nested 5,000 deep",
    lambda s: kml("<Folder>" * 5000 + MARK.format("v", "-96.5,41.5001") + "</Folder>" * 5000),
    "kml",
    (0, 1),
)
_kml_attack(
    "kml_many_folders",
    "KML: 5,000 folders of one mark",
    lambda s: kml(
        "".join(
            f"<Folder><name>f{n}</name>{MARK.format(f'v{n}', '-96.5,41.5001')}</Folder>"
            for n in range(int(5000 * s))
        )
    ),
    "kml",
    (0, 1),
)
_kml_attack(
    "kml_coordinates",
    "KML: coordinates that are no numbers",
    kml(
        "".join(
            MARK.format(f"m{n}", c)
            for n, c in enumerate(
                ("", "x,y", "nan,nan", "1e308,1e308,1e308", "-96.5", "inf,inf", "-96.5,41.5001,nan")
            )
        )
    ),
    "kml",
    (0, 1),
)
_kml_attack(
    "kml_hostile_names",
    "KML: folder and schema names that are templates and SQL",
    kml(
        '<Folder><name>{{7*7}}"; DROP TABLE x</name>'
        + MARK.format("../../x", "-96.5,41.5001")
        + "</Folder><Folder><name>/vsicurl/http://192.0.2.1</name>"
        + MARK.format("{% x %}", "-96.5,41.5001")
        + "</Folder>"
    ),
    "kml",
    (0, 1),
)
_kml_attack(
    "base_bomb",
    "Base KML: an entity that expands to a gigabyte",
    kml(MARK.format("&j;", "-96.5,41.5001"), BOMB.replace("gpx", "kml")),
    "base/marks.kml",
    (0, 1),
    "base/marks.kml",
)
_kml_attack(
    "base_outside",
    "Base KML: an entity that reads /etc/passwd",
    kml(MARK.format("&x;", "-96.5,41.5001"), OUTSIDE.replace("gpx", "kml")),
    REFUSED,
    (0, 1),
    "base/marks.kml",
)
VRT = '<OGRVRTDataSource><OGRVRTLayer name="zones"><SrcDataSource>{}</SrcDataSource><GeometryType>wkbPoint</GeometryType><GeometryField encoding="PointFromColumns" x="zone" y="zone"/></OGRVRTLayer></OGRVRTDataSource>'
for _suffix in ("geojson", "json", "kml", "gpkg", "shp", "dxf", "csv"):
    _kml_attack(
        f"base_vrt_{_suffix}",
        f"Base: a virtual layer named .{_suffix} that leads to another file",
        VRT.format("../zones.csv"),
        f"base/x.{_suffix}",
        (0, 1),
        f"base/x.{_suffix}",
    )
    _kml_attack(
        f"base_remote_vrt_{_suffix}",
        f"Base: a virtual layer named .{_suffix} that leads to an address",
        VRT.format("/vsicurl/http://192.0.2.1/x.csv"),
        f"base/x.{_suffix}",
        (0, 1),
        f"base/x.{_suffix}",
    )
_kml_attack(
    "base_wfs",
    "Base: a web service's description named .geojson",
    "<OGRWFSDataSource><URL>http://192.0.2.1/wfs</URL></OGRWFSDataSource>",
    "base/x.geojson",
    (0, 1),
    "base/x.geojson",
)
_kml_attack(
    "base_esri_json",
    "Base: a JSON that leads to a web service",
    '{"type": "FeatureCollection", "features": [], "href": "http://192.0.2.1", "links": [{"rel": "next", "href": "http://192.0.2.1/2"}]}',
    "wrote",
    (0, 1),
    "base/x.geojson",
)
_kml_attack(
    "base_stac",
    "Base: a catalogue that leads to an address",
    '{"type":"Catalog","stac_version":"1.0.0","id":"x","links":[{"rel":"data","href":"http://192.0.2.1/x"}]}',
    "base/x.json",
    (0, 1),
    "base/x.json",
)
_kml_attack(
    "base_text",
    "Base: a text file that is an address",
    "http://192.0.2.1/x.geojson",
    "base/x.geojson",
    (0, 1),
    "base/x.geojson",
)
_kml_attack(
    "base_dxf_rubbish",
    "Base: a DXF of random bytes",
    bytes(range(256)) * 100,
    "base/x.dxf",
    (0, 1),
    "base/x.dxf",
)
