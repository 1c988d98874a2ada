"""Attacks through archives: KMZ and workbooks."""

import io
import zipfile

from attacks import LAT, LON, attack
from attacks_xml import BOMB, MARK, OUTSIDE, kml

GOOD_KML = kml(MARK.format("valve 9", f"{LON},{LAT + 0.0001}"))


def _zip(path, members, *, method=zipfile.ZIP_DEFLATED):
    with zipfile.ZipFile(path, "w", method) as archive:
        for name, data in members:
            archive.writestr(name, data)


@attack("KMZ: a document that unpacks to a gigabyte", "unpack")
def kmz_bomb(folder, scale):
    with (
        zipfile.ZipFile(folder / "locates-m.kmz", "w", zipfile.ZIP_DEFLATED) as archive,
        archive.open("doc.kml", "w", force_zip64=True) as file,
    ):
        for _ in range(max(20, int(1000 * scale))):
            file.write(b" " * 1_000_000)


@attack("KMZ: a size that lies", "kmz")
def kmz_lying_size(folder, scale):
    buffer = io.BytesIO()
    _zip(buffer, [("doc.kml", GOOD_KML + " " * 5_000_000)])
    data = buffer.getvalue()
    data = data.replace(
        (len(GOOD_KML) + 5_000_000).to_bytes(4, "little"), (100).to_bytes(4, "little")
    )
    (folder / "locates-m.kmz").write_bytes(data)


@attack("KMZ: paths that climb out", "leads out")
def kmz_traversal(folder, scale):
    _zip(
        folder / "locates-m.kmz",
        [("../../../tmp/wiremap-escaped.kml", GOOD_KML), ("doc.kml", GOOD_KML)],
    )


@attack("KMZ: an absolute path", "leads out")
def kmz_absolute(folder, scale):
    _zip(folder / "locates-m.kmz", [("/etc/wiremap-escaped.kml", GOOD_KML)])


@attack("KMZ: a drive and backslashes", "leads out")
def kmz_drive(folder, scale):
    _zip(folder / "locates-m.kmz", [("C:\\x\\..\\doc.kml", GOOD_KML)])


@attack("KMZ: 20,000 members", "more than")
def kmz_members(folder, scale):
    _zip(folder / "locates-m.kmz", [(f"f{n}", "") for n in range(20_000)])


@attack("KMZ: an entity bomb inside", "(?i)declares a document type")
def kmz_entity_bomb(folder, scale):
    _zip(
        folder / "locates-m.kmz",
        [("doc.kml", kml(MARK.format("&j;", "-96.5,41.5"), BOMB.replace("gpx", "kml")))],
    )


@attack("KMZ: cut in the middle", "kmz")
def kmz_cut(folder, scale):
    _zip(folder / "locates-m.kmz", [("doc.kml", GOOD_KML * 50)])
    data = (folder / "locates-m.kmz").read_bytes()
    (folder / "locates-m.kmz").write_bytes(data[: len(data) // 2])


@attack("KMZ: a KMZ within a KMZ", "kmz")
def kmz_nested(folder, scale):
    inner = io.BytesIO()
    _zip(inner, [("doc.kml", GOOD_KML)])
    _zip(folder / "locates-m.kmz", [("doc.kmz", inner.getvalue())])


@attack("KMZ: links to addresses and overlays", "kmz|wrote")
def kmz_links(folder, scale):
    _zip(
        folder / "locates-m.kmz",
        [
            (
                "doc.kml",
                GOOD_KML.replace(
                    "<Document>",
                    "<Document><NetworkLink><Link><href>http://192.0.2.1/x.kml</href></Link></NetworkLink>",
                ),
            ),
            ("files/x.png", b"\x89PNG"),
        ],
    )


def _book(
    folder, *, sheet, name="locates-b.xlsx", extra=(), workbook=None, part="worksheets/sheet1.xml"
):
    types = '<?xml version="1.0"?><Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"><Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/><Default Extension="xml" ContentType="application/xml"/><Override PartName="/xl/workbook.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"/><Override PartName="/xl/worksheets/sheet1.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml"/></Types>'
    rels = '<?xml version="1.0"?><Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="rId1" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/officeDocument" Target="xl/workbook.xml"/></Relationships>'
    book = (
        workbook
        or '<?xml version="1.0"?><workbook xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main" xmlns:r="http://schemas.openxmlformats.org/officeDocument/2006/relationships"><sheets><sheet name="Sheet1" sheetId="1" r:id="rId1"/></sheets></workbook>'
    )
    book_rels = '<?xml version="1.0"?><Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="rId1" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/worksheet" Target="worksheets/sheet1.xml"/></Relationships>'.replace(
        "worksheets/sheet1.xml", part
    )
    _zip(
        folder / name,
        [
            ("[Content_Types].xml", types),
            ("_rels/.rels", rels),
            ("xl/workbook.xml", book),
            ("xl/_rels/workbook.xml.rels", book_rels),
            (f"xl/{part}", sheet),
            *extra,
        ],
    )


def _sheet(rows, head=""):
    return f'<?xml version="1.0"?>{head}<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>{rows}</sheetData></worksheet>'


def _cell(place, text):
    return f'<c r="{place}" t="inlineStr"><is><t>{text}</t></is></c>'


def _row(number, texts):
    return f'<row r="{number}">{"".join(_cell(f"{chr(65 + k)}{number}", t) for k, t in enumerate(texts))}</row>'


HEAD = _row(1, ("point", "feature", "lat", "lon"))
ROW = _row(2, ("X1", "valve", f"{LAT + 0.0001}", f"{LON}"))


@attack("Workbook: a sheet that unpacks to a gigabyte", "unpacks")
def book_bomb(folder, scale):
    with (
        zipfile.ZipFile(folder / "locates-b.xlsx", "w", zipfile.ZIP_DEFLATED) as archive,
        archive.open("xl/worksheets/sheet1.xml", "w", force_zip64=True) as file,
    ):
        for _ in range(max(420, int(1000 * scale))):
            file.write(b" " * 1_000_000)


@attack("Workbook: one cell in the last corner", "more cells")
def book_corner(folder, scale):
    _book(folder, sheet=_sheet(HEAD + ROW + f'<row r="1048576">{_cell("XFD1048576", "x")}</row>'))


@attack("Workbook: one cell in the last corner of a sheet that stands elsewhere", "more cells")
def book_corner_elsewhere(folder, scale):
    _book(
        folder,
        sheet=_sheet(HEAD + ROW + f'<row r="1048576">{_cell("XFD1048576", "x")}</row>'),
        part="other/cells.bin",
    )


@attack("Workbook: a cell beyond what a sheet holds", "outside")
def book_beyond(folder, scale):
    _book(
        folder, sheet=_sheet(HEAD + ROW + f'<row r="99999999">{_cell("ZZZZ99999999", "x")}</row>')
    )


@attack("Workbook: a sheet size that lies", "locates-b.xlsx|wrote")
def book_dimension(folder, scale):
    _book(
        folder,
        sheet=_sheet(HEAD + ROW).replace(
            "<sheetData>", '<dimension ref="A1:XFD1048576"/><sheetData>'
        ),
    )


@attack("Workbook: merged cells over the whole sheet", "locates-b.xlsx|wrote")
def book_merge(folder, scale):
    merges = "".join(f'<mergeCell ref="A{n}:A1048576"/>' for n in range(2, 2000))
    _book(
        folder,
        sheet=_sheet(HEAD + ROW).replace(
            "</sheetData>", f"</sheetData><mergeCells>{merges}</mergeCells>"
        ),
    )


@attack("Workbook: an entity bomb in a sheet", "locates-b.xlsx|wrote")
def book_entities(folder, scale):
    _book(
        folder,
        sheet=_sheet(
            HEAD + _row(2, ("&j;", "valve", str(LAT), str(LON))),
            BOMB[21:].replace("gpx", "worksheet"),
        ),
    )


@attack("Workbook: an entity that reads /etc/passwd", "locates-b.xlsx|wrote")
def book_outside(folder, scale):
    _book(
        folder,
        sheet=_sheet(
            HEAD + _row(2, ("&x;", "valve", str(LAT), str(LON))),
            OUTSIDE[21:].replace("gpx", "worksheet"),
        ),
    )


@attack("Workbook: a part that climbs out", "locates-b.xlsx|wrote")
def book_traversal(folder, scale):
    _book(folder, sheet=_sheet(HEAD + ROW), extra=[("../../../tmp/wiremap-escaped", "x")])


@attack("Workbook: a sheet that stands outside", "locates-b.xlsx|wrote")
def book_external(folder, scale):
    rels = '<?xml version="1.0"?><Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="rId1" TargetMode="External" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/worksheet" Target="http://192.0.2.1/sheet1.xml"/></Relationships>'
    _book(folder, sheet=_sheet(HEAD + ROW), extra=[("xl/worksheets/_rels/sheet1.xml.rels", rels)])


@attack("Workbook: formulas, errors and numbers as text in the cells", "wrote")
def book_formulas(folder, scale):
    cells = '<row r="2"><c r="A2" t="str"><f>HYPERLINK("http://192.0.2.1")</f><v>=1+1</v></c><c r="B2" t="inlineStr"><is><t>valve</t></is></c><c r="C2"><v>1e308</v></c><c r="D2" t="e"><v>#DIV/0!</v></c></row>'
    _book(folder, sheet=_sheet(HEAD + cells))


@attack("Workbook: dates of serial 1e308 and of year 0", "locates-b.xlsx|wrote")
def book_dates(folder, scale):
    cells = "".join(
        f'<row r="{n}"><c r="A{n}" t="inlineStr"><is><t>D{n}</t></is></c><c r="B{n}" t="inlineStr"><is><t>valve</t></is></c><c r="C{n}"><v>{LAT}</v></c><c r="D{n}"><v>{LON}</v></c><c r="E{n}" t="d"><v>{d}</v></c></row>'
        for n, d in enumerate(("0000-00-00", "9999-12-31T23:59:59", "1e308", "-5"), 2)
    )
    _book(folder, sheet=_sheet(_row(1, ("point", "feature", "lat", "lon", "date")) + cells))


@attack("Workbook: a sheet named by a template and 500 characters", "locates-b.xlsx|wrote")
def book_sheet_name(folder, scale):
    book = f'<?xml version="1.0"?><workbook xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main" xmlns:r="http://schemas.openxmlformats.org/officeDocument/2006/relationships"><sheets><sheet name="{{{{7*7}}}}../{"x" * 500}" sheetId="1" r:id="rId1"/></sheets></workbook>'
    _book(folder, sheet=_sheet(HEAD + ROW), workbook=book)


@attack("Workbook: an archive of something else", "locates-b.xlsx")
def book_other(folder, scale):
    _zip(folder / "locates-b.xlsx", [("readme.txt", "hello")])


@attack("Workbook: cut in the middle", "locates-b.xlsx")
def book_cut(folder, scale):
    _book(folder, sheet=_sheet(HEAD + ROW * 100))
    data = (folder / "locates-b.xlsx").read_bytes()
    (folder / "locates-b.xlsx").write_bytes(data[: len(data) // 2])


@attack("Workbook: an archive with two sheets of one part", "locates-b.xlsx|wrote")
def book_doubled_member(folder, scale):
    import warnings

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        _book(folder, sheet=_sheet(HEAD + ROW), extra=[("xl/worksheets/sheet1.xml", _sheet(HEAD))])


@attack("Workbook: shared strings that do not exist", "locates-b.xlsx|wrote")
def book_shared(folder, scale):
    _book(
        folder,
        sheet=_sheet(
            '<row r="1"><c r="A1" t="s"><v>999999999</v></c><c r="B1" t="s"><v>-1</v></c></row>'
        ),
    )
