"""Point lists of total stations, rovers and office programs: text, in the forms people send.

Column headings and the order of columns are common practice, no source; all figures are those of
the invented property.
"""

from corpus.property_truth import MARKS, STATE_PLANE, UTM, plane
from corpus.samples import sample

FTUS = 1200 / 3937  # metres in a US survey foot, exactly


def settings(folder, *lines):
    (folder / "property.toml").write_text("\n".join(lines) + "\n", encoding="utf-8")


def in_crs(folder, crs=STATE_PLANE, *more):
    settings(folder, "[coordinates]", f'input_crs = "{crs}"', *more)


def text(folder, lines, name="locates.csv", encoding="utf-8", end="\n"):
    (folder / name).write_bytes((end.join(lines) + end).encode(encoding))


def described(mark):
    """A field code with the run behind it, as a crew writes it."""
    return f"{mark.code} {mark.run}".strip()


def pnezd(crs=STATE_PLANE, height=1 / FTUS, between=","):
    return [
        between.join([str(m.number), f"{n:.4f}", f"{e:.4f}", f"{m.elevation_m * height:.3f}",
                      described(m)])
        for m, (e, n) in zip(MARKS, plane(crs), strict=True)
    ]  # fmt: skip


@sample("a point list without a header, its columns named in property.toml")
def survey_no_header(folder):
    text(folder, pnezd(), "locates.csv")
    in_crs(folder, STATE_PLANE, 'length_unit = "ftus"', '[files."locates.csv"]', "header = false",
           'columns = ["point", "northing", "easting", "elevation", "feature"]')  # fmt: skip


@sample("a point list without a header, and nothing that names its columns", refused="columns = ")
def survey_no_header_unnamed(folder):
    text(folder, pnezd(), "locates.csv")
    in_crs(folder)


@sample("a point list parted by tabs, without a header")
def survey_tabs(folder):
    text(folder, pnezd(between="\t"), "locates.txt")
    in_crs(folder, STATE_PLANE, 'length_unit = "ftus"', '[files."locates.txt"]', "header = false",
           'columns = ["point", "northing", "easting", "elevation", "feature"]')  # fmt: skip


@sample("a point list in columns of fixed width, parted by spaces")
def survey_spaces(folder):
    lines = [
        f"{m.number:>6}  {n:14.3f} {e:14.3f} {m.elevation_m / FTUS:9.2f}   {described(m)}"
        for m, (e, n) in zip(MARKS, plane(), strict=True)
    ]
    text(folder, lines, "locates.txt")
    in_crs(folder, STATE_PLANE, 'length_unit = "ftus"', '[files."locates.txt"]', "header = false",
           'columns = ["point", "northing", "easting", "elevation", "feature"]')  # fmt: skip


@sample("a header of abbreviations: Pt#, North, East, Elev, Desc")
def survey_short_header(folder):
    text(folder, ["Pt#,North,East,Elev,Desc", *pnezd()])
    in_crs(folder, STATE_PLANE, 'length_unit = "ftus"')


@sample("semicolons and decimal commas: PointID;Easting;Northing;Height;Code")
def survey_semicolons(folder):
    rows = [
        f"{m.number};{e:.3f};{n:.3f};{m.elevation_m:.3f};{described(m)}".replace(".", ",")
        for m, (e, n) in zip(MARKS, plane(UTM), strict=True)
    ]
    text(folder, ["PointID;Easting;Northing;Height;Code", *rows])
    in_crs(folder, UTM)


@sample("semicolons, decimal commas, and thousands grouped by points")
def survey_grouped_points(folder):
    def write(value):
        return f"{value:,.3f}".translate(str.maketrans(",.", ".,"))

    rows = [
        f"{m.number};{write(e)};{write(n)};{write(m.elevation_m)};{described(m)}"
        for m, (e, n) in zip(MARKS, plane(UTM), strict=True)
    ]
    text(folder, ["Nr;East;North;Elev;Code", *rows])
    in_crs(folder, UTM)


@sample("thousands grouped by commas, in quotes")
def survey_grouped_commas(folder):
    rows = [
        f'{m.number},"{n:,.3f}","{e:,.3f}","{m.elevation_m / FTUS:,.2f}",{described(m)}'
        for m, (e, n) in zip(MARKS, plane(), strict=True)
    ]
    text(folder, ["Point,Northing,Easting,Elevation,Code", *rows])
    in_crs(folder, STATE_PLANE, 'length_unit = "ftus"')


@sample("every cell in quotes, a byte order mark, CRLF")
def survey_quoted(folder):
    rows = [",".join(f'"{cell}"' for cell in row.split(",")) for row in pnezd()]
    text(folder, ['"Point","Northing","Easting","Elevation","Code"', *rows],
         encoding="utf-8-sig", end="\r\n")  # fmt: skip
    in_crs(folder, STATE_PLANE, 'length_unit = "ftus"')


@sample("UTF-16 text parted by tabs, as a spreadsheet saves Unicode text")
def survey_utf16(folder):
    rows = [row.replace(",", "\t") for row in ["Point,Northing,Easting,Elevation,Code", *pnezd()]]
    text(folder, rows, "locates.txt", encoding="utf-16", end="\r\n")
    in_crs(folder, STATE_PLANE, 'length_unit = "ftus"')


@sample("accented words in the code page of older programs")
def survey_cp1252(folder):
    rows = [f"{row},près de la haie n° {k}" for k, row in enumerate(pnezd())]
    text(folder, ["Point,Northing,Easting,Elevation,Code,Remarks", *rows], encoding="cp1252")
    in_crs(folder, STATE_PLANE, 'length_unit = "ftus"')


@sample("units in brackets in the header, of feet in a plane of survey feet",
        told=(("unit-mismatch", "US survey foot"),))  # fmt: skip
def survey_units_in_header(folder):
    text(folder, ["Point,Northing (ft),Easting (ft),Elevation (ft),Code", *pnezd()])
    in_crs(folder)


@sample("a row of units under the header", told=(("read-note", "units"),))
def survey_units_row(folder):
    text(folder, ["Point,Northing,Easting,Elevation,Code", ",ftUS,ftUS,ftUS,", *pnezd()])
    in_crs(folder)


@sample("a row of units under the header, in metres, though the CRS counts survey feet",
        told=(("unit-mismatch", "US survey foot"),))  # fmt: skip
def survey_units_row_metres(folder):
    rows = [
        f"{m.number},{n * FTUS:.4f},{e * FTUS:.4f},{m.elevation_m:.3f},{described(m)}"
        for m, (e, n) in zip(MARKS, plane(), strict=True)
    ]
    text(folder, ["Point,Northing,Easting,Elevation,Code", ",m,m,m,", *rows])
    in_crs(folder)


@sample("lines on the job above the header, and totals below the rows")
def survey_preamble(folder):
    head = ["Job: Quarry walk", "Date, 2026-05-04", "Coordinate system: state plane", "Units: US survey feet",
            "", "Point,Northing,Easting,Elevation,Code"]  # fmt: skip
    text(folder, [*head, *pnezd(), "", f"Total points: {len(MARKS)}", "End of report"])
    in_crs(folder, STATE_PLANE, 'length_unit = "ftus"')


@sample("comment lines that start with #, one of them the header")
def survey_comments(folder):
    head = ["# exported for the owner", "# Point,Northing,Easting,Elevation,Code"]
    text(folder, [*head, *pnezd()[:6], "# second day", *pnezd()[6:]])
    in_crs(folder, STATE_PLANE, 'length_unit = "ftus"')


@sample("blank lines between groups of points, and cells with spaces around them")
def survey_blank_lines(folder):
    rows = [row.replace(",", " , ") for row in pnezd()]
    text(
        folder,
        ["Point , Northing , Easting , Elevation , Code", "", *rows[:6], "", ",,,,", *rows[6:]],
    )
    in_crs(folder, STATE_PLANE, 'length_unit = "ftus"')


@sample("the header repeated where a new page starts")
def survey_repeated_header(folder):
    head = "Point,Northing,Easting,Elevation,Code"
    text(folder, [head, *pnezd()[:7], head, *pnezd()[7:]])
    in_crs(folder, STATE_PLANE, 'length_unit = "ftus"')


@sample("a rover's own columns: RMS by axis, solution, satellites, antenna height, start and end",
        told=(("read-note", "ftUS, as column 'CS name' says"),))  # fmt: skip
def survey_rover(folder):
    head = ("Name,Code,Code description,Easting,Northing,Elevation,Description,Longitude,Latitude,"
            "Ellipsoidal height,Easting RMS,Northing RMS,Elevation RMS,Lateral RMS,Antenna height,"
            "Antenna height units,Solution status,Averaging start,Averaging end,Samples,PDOP,"
            "GPS Satellites,CS name")  # fmt: skip
    rows = [
        f"{m.number},{described(m)},,{e:.3f},{n:.3f},{m.elevation_m / FTUS:.3f},,{m.lon:.9f},{m.lat:.9f},"
        f"{m.elevation_m - 31:.3f},0.03,0.04,0.06,0.05,1.800,m,FIX,2026-05-04 10:{k:02d}:26.0 UTC-04:00,"
        f"2026-05-04 10:{k:02d}:31.0 UTC-04:00,25,1.7,12,NAD83 / North Carolina (ftUS)"
        for k, (m, (e, n)) in enumerate(zip(MARKS, plane(), strict=True))
    ]
    text(folder, [head, *rows])
    in_crs(folder)


@sample("degrees, minutes and seconds with their signs")
def survey_dms(folder):
    def write(angle, letters):
        seconds = abs(angle) * 3600
        d, m, s = int(seconds // 3600), int(seconds % 3600 // 60), seconds % 60
        return f"{d}°{m:02d}'{s:08.5f}\"{letters[angle < 0]}"

    rows = [
        f"{m.number},{write(m.lat, 'NS')},{write(m.lon, 'EW')},{described(m)}".replace('"', '""')
        for m in MARKS
    ]
    rows = [",".join(f'"{cell}"' for cell in row.split(",")) for row in rows]
    text(folder, ["Point,Latitude,Longitude,Code", *rows])


@sample("degrees and minutes in words of a handheld: N35 13.6284 W080 50.5926")
def survey_ddm(folder):
    def write(angle, letters):
        minutes = abs(angle) % 1 * 60
        return f"{letters[angle < 0]}{int(abs(angle)):02d} {minutes:09.6f}"

    rows = [f"{m.number},{write(m.lat, 'NS')} {write(m.lon, 'EW')},{described(m)}" for m in MARKS]
    text(folder, ["Name,Position,Symbol", *rows])


@sample(
    "longitude under the name of latitude, and the reverse", refused="exchanged, they lie inside"
)
def survey_swapped(folder):
    rows = [f"{m.number},{m.lon:.9f},{m.lat:.9f},{described(m)}" for m in MARKS]
    text(folder, ["Point,Latitude,Longitude,Code", *rows])


@sample("west longitudes without their sign, as a hemisphere column tells")
def survey_hemisphere_columns(folder):
    rows = [f"{m.number},{m.lat:.9f},N,{-m.lon:.9f},W,{described(m)}" for m in MARKS]
    text(folder, ["Point,Latitude,N/S,Longitude,E/W,Code", *rows])


@sample("codes with words behind them, an unknown one among them",
        told=(("unknown-feature", "QZX"),), features=False)  # fmt: skip
def survey_unknown_code(folder):
    rows = pnezd()
    rows[12] = rows[12].rpartition(",")[0] + ",QZX"
    text(folder, ["Point,Northing,Easting,Elevation,Code", *rows])
    in_crs(folder, STATE_PLANE, 'length_unit = "ftus"')


@sample("descriptions such as VLV 3 Z4 and WIRE1, free text behind the code")
def survey_descriptions(folder):
    words = {"valve": "VLV {0} Z{1}", "path": "WIRE Z{1}", "splice": "SPL Z{1} yellow caps"}
    rows = []
    for k, (m, row) in enumerate(zip(MARKS, pnezd(), strict=True)):
        word = words.get(m.feature, m.code).format(k, m.zone)
        rows.append(row.rpartition(",")[0] + f",{word}")
    text(folder, ["Point,Northing,Easting,Elevation,Description", *rows])
    in_crs(folder, STATE_PLANE, 'length_unit = "ftus"')


@sample("endings that surveyors use for the same text: .pnt, .asc, .dat, .xyz")
def survey_endings(folder):
    (folder / "locates").mkdir()
    head, rows = "Point,Northing,Easting,Elevation,Code", pnezd()
    for k, ending in enumerate(("pnt", "asc", "dat", "xyz")):
        first, last = (0, 3, 6, 12, 14)[k : k + 2]
        text(folder, [head, *rows[first:last]], f"locates/day {k}.{ending}")
    in_crs(folder, STATE_PLANE, 'length_unit = "ftus"')


@sample("a column of X and one of Y, in degrees, from a map program")
def survey_xy(folder):
    rows = [f"{m.lon:.9f},{m.lat:.9f},{m.number},{m.feature},{m.run}" for m in MARKS]
    text(folder, ["X,Y,OBJECTID,Type,Line", *rows])


@sample("well-known text in one column, as map programs export")
def survey_wkt(folder):
    rows = [f'"POINT ({m.lon:.9f} {m.lat:.9f})",{m.name},{m.feature},{m.run}' for m in MARKS]
    text(folder, ["WKT,name,type,run", *rows])


@sample(
    "both coordinates in one cell, with the height and the accuracy behind them, as forms write"
)
def survey_form(folder):
    rows = [f"{m.time},{m.lat:.9f} {m.lon:.9f} {m.elevation_m:.1f} 0.3,{m.number},{m.feature},{m.run}"
            for m in MARKS]  # fmt: skip
    text(folder, ["SubmissionDate,Location,Number,What was found,Wire", *rows])


@sample("a form's columns with the group before the name: mark:location:Latitude, mark/run")
def survey_form_grouped(folder):
    rows = [f"{m.time},{m.lat:.9f},{m.lon:.9f},{m.elevation_m:.1f},0.3,{m.number},{m.feature},{m.run}"
            for m in MARKS]  # fmt: skip
    place = ",".join(
        f"mark:location:{w}" for w in ("Latitude", "Longitude", "Altitude", "Accuracy")
    )
    text(folder, [f"SubmissionDate,{place},mark/number,mark/feature,mark/run", *rows])


@sample("one property's points in metres and in feet, a file each")
def survey_two_units(folder):
    (folder / "locates").mkdir()
    head = "Point,Northing,Easting,Elevation,Code"
    metres = [
        f"{m.number},{n:.4f},{e:.4f},{m.elevation_m:.3f},{described(m)}"
        for m, (e, n) in zip(MARKS, plane(UTM), strict=True)
    ]
    text(folder, [head, *metres[:6]], "locates/a.csv")
    text(folder, ["Point,Northing,Easting,Elevation_ftus,Code", *pnezd()[6:]], "locates/b.csv")
    in_crs(folder, UTM, '[files."locates/b.csv"]', f'crs = "{STATE_PLANE}"')


@sample("names such as 001 and 012 keep their zeros", runs=True)
def survey_zeros(folder):
    rows = [f"0{row}" for row in pnezd()]
    text(folder, ["Point,Northing,Easting,Elevation,Code", *rows])
    in_crs(folder, STATE_PLANE, 'length_unit = "ftus"')


@sample("the line sep=; that tells a spreadsheet the delimiter, above the header")
def survey_sep_line(folder):
    rows = [f"{m.number};{m.lat:.9f};{m.lon:.9f};{described(m)}" for m in MARKS]
    text(folder, ["sep=;", "Point;Lat;Lon;Code", *rows], end="\r\n")


@sample("line ends of old computers, the name of the file in capitals")
def survey_old_line_ends(folder):
    rows = [f"{m.number},{m.lat:.9f},{m.lon:.9f},{described(m)}" for m in MARKS]
    text(folder, ["Point,Lat,Lon,Code", *rows], "LOCATES.CSV", end="\r")


@sample("a header over two lines in quotes, and no-break spaces in it")
def survey_broken_header(folder):
    rows = [f"{m.number},{m.lat:.9f},{m.lon:.9f},{described(m)}," for m in MARKS]
    text(folder, ['"Point\nNo.","Latitude\n(deg)",Longitude\u00a0(deg),Code,"Depth\n(in)"', *rows])


@sample("axes named with their letters: Northing (Y), Easting (X), Elev. (Z)")
def survey_axis_letters(folder):
    text(folder, ["Pt.,Northing (Y),Easting (X),Elev. (Z),Code", *pnezd()])
    in_crs(folder, STATE_PLANE, 'length_unit = "ftus"')


@sample("times of a phone as milliseconds since 1970", told=(("read-note", "1970"),))
def survey_epochs(folder):
    rows = [f"{1777903830000 + 1000 * k},{m.lat:.9f},{m.lon:.9f},0.4,{m.name},{m.feature},{m.run}"
            for k, m in enumerate(MARKS)]  # fmt: skip
    text(folder, ["timestamp,latitude,longitude,accuracy,name,type,run", *rows])


@sample(
    "rows without a position among the others", errors=True, told=(("no-position", "position"),)
)
def survey_gaps(folder):
    rows = [f"{m.number},{m.lat:.9f},{m.lon:.9f},{described(m)}" for m in MARKS]
    text(folder, ["Point,Lat,Lon,Code", *rows[:5], "201,,,VLV Z1", *rows[5:], "202,n/a,n/a,SPL"])


@sample("a second row of the same point, as when a list is exported twice",
        told=(("duplicate-point", "repeats an earlier row"),))  # fmt: skip
def survey_twice(folder):
    rows = [f"{m.number},{m.lat:.9f},{m.lon:.9f},{described(m)}" for m in MARKS]
    text(folder, ["Point,Lat,Lon,Code", *rows, rows[5]])


@sample(
    "no columns for positions at all: only what was found", refused="no columns give a position"
)
def survey_no_positions(folder):
    text(folder, ["Point,Code", *(f"{m.number},{described(m)}" for m in MARKS)])


@sample("longitudes counted from 0 to 360")
def survey_east_only(folder):
    rows = [f"{m.number},{m.lat:.9f},{m.lon + 360:.9f},{described(m)}" for m in MARKS]
    text(folder, ["Point,Lat,Lon,Code", *rows])


@sample("free text in the last column, parted by spaces, a header above")
def survey_spaced_header(folder):
    rows = [f"{m.number}  {n:.3f}  {e:.3f}  {m.elevation_m:.2f}  {described(m)}"
            for m, (e, n) in zip(MARKS, plane(UTM), strict=True)]  # fmt: skip
    text(folder, ["Point Northing Easting Elevation Code", *rows], "locates.txt")
    in_crs(folder, UTM)


@sample("positions of the marks in one grid of letters: 17S 514321 3898123",
        refused="no columns give a position")  # fmt: skip
def survey_grid_zone(folder):
    rows = [f"{m.number},17S {e:.0f} {n:.0f},{described(m)}"
            for m, (e, n) in zip(MARKS, plane(UTM), strict=True)]  # fmt: skip
    text(folder, ["Point,Location,Code", *rows])
