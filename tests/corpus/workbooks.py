"""Workbooks as offices keep them: titles over merged cells, serial dates, further sheets.

Written with openpyxl, which does not read for the library; habits are common practice, no source.
"""

import datetime as dt

import openpyxl
from corpus.property_truth import MARKS, STATE_PLANE, plane
from corpus.samples import sample
from corpus.survey_files import described, in_crs, settings

HEAD = ["Pt #", "What", "Wire", "Zone", "Latitude", "Longitude", "Date"]


def cells(mark, *, text=False):
    day = dt.date(2026, 5, 4)
    row = [
        mark.number,
        mark.feature,
        mark.run,
        mark.zone and int(mark.zone),
        mark.lat,
        mark.lon,
        day,
    ]
    return [str(c) if c not in ("", None) else None for c in row] if text else row


def book(folder, name="locates.xlsx"):
    """Return an empty workbook, its first sheet, and how it is saved."""
    whole = openpyxl.Workbook()
    return whole, whole.active, lambda: whole.save(folder / name)


@sample("a title over merged cells, a blank row, a header in capitals, totals below")
def book_titles(folder):
    _, sheet, save = book(folder)
    sheet["A1"] = "Quarry Pond: wire locates, spring"
    sheet.merge_cells("A1:G1")
    sheet["A2"] = "prepared by the crew"
    for k, row in enumerate([[h.upper() for h in HEAD], *map(cells, MARKS)]):
        for j, cell in enumerate(row):
            sheet.cell(4 + k, 1 + j, cell)
    sheet.cell(20, 1, "Total")
    sheet.cell(20, 2, "=COUNTA(B5:B18)")
    save()


@sample("numbers, dates and positions stored as text")
def book_text(folder):
    _, sheet, save = book(folder)
    for row in [HEAD, *(cells(m, text=True) for m in MARKS)]:
        sheet.append(row)
    save()


@sample("dates as serial numbers without a format", told=(("read-note", "46146"),))
def book_serials(folder):
    _, sheet, save = book(folder)
    sheet.append(HEAD)
    for m in MARKS:
        sheet.append([*cells(m)[:-1], 46146])
    save()


@sample("several sheets: a cover, the locates of two days, a hidden sheet of lists",
        told=(("read-note", "left aside"),))  # fmt: skip
def book_sheets(folder):
    whole, cover, save = book(folder)
    cover.title = "Cover"
    for row in (["Property", "Quarry Pond"], ["Days", 2], ["Crew", "two"]):
        cover.append(row)
    for title, marks in (("Day 1", MARKS[:6]), ("Day 2", MARKS[6:])):
        sheet = whole.create_sheet(title)
        for row in [HEAD, *map(cells, marks)]:
            sheet.append(row)
    hidden = whole.create_sheet("Lists")
    for word in ("valve", "splice", "path"):
        hidden.append([word])
    hidden.sheet_state = "hidden"
    save()


@sample("a survey's own sheet: northing, easting, elevation with units in a second row")
def book_units_row(folder):
    _, sheet, save = book(folder)
    sheet.append(["Point", "Northing", "Easting", "Elevation", "Code"])
    sheet.append([None, "US ft", "US ft", "m", None])
    for m, (e, n) in zip(MARKS, plane(), strict=True):
        sheet.append([m.number, n, e, m.elevation_m, described(m)])
    save()
    in_crs(folder, STATE_PLANE)


@sample("the run written once for its rows, in a cell merged downwards")
def book_merged_runs(folder):
    _, sheet, save = book(folder)
    sheet.append(["Run", "Point", "Feature", "Lat", "Lon"])
    for m in MARKS:
        sheet.append([None, m.name, m.feature, m.lat, m.lon])
    for run in ("Z1", "Z2"):
        rows = [2 + k for k, m in enumerate(MARKS) if m.run == run]
        sheet.cell(rows[0], 1, run)
        sheet.merge_cells(start_row=rows[0], end_row=rows[-1], start_column=1, end_column=1)
    save()


@sample("empty columns and rows around the table, a stray remark to the right")
def book_offset(folder):
    _, sheet, save = book(folder)
    for k, row in enumerate([HEAD, *map(cells, MARKS)]):
        for j, cell in enumerate(row):
            sheet.cell(6 + k, 3 + j, cell)
    sheet.cell(9, 12, "ask the owner")
    save()


@sample("a column headed by a formula's error, another with errors in it", errors=True,
        told=(("bad-value", "H5"),))  # fmt: skip
def book_errors(folder):
    _, sheet, save = book(folder)
    sheet.append([*HEAD, "depth"])
    for k, m in enumerate(MARKS):
        sheet.append([*cells(m), "#REF!" if k == 3 else "#N/A"])
    save()
    settings(folder, "[coordinates]", 'length_unit = "in"')


@sample("a workbook whose second sheet is the zone list", told=(("read-note", "left aside"),))
def book_with_zones(folder):
    whole, sheet, save = book(folder)
    for row in [HEAD, *map(cells, MARKS)]:
        sheet.append(row)
    zones = whole.create_sheet("Zones")
    for row in (["Zone", "Name", "Ohms"], [1, "lawn", 28], [2, "beds", 31]):
        zones.append(row)
    save()


@sample("numbers with their unit in the cell, angles as text with signs")
def book_written_out(folder):
    _, sheet, save = book(folder)
    sheet.append([*HEAD, "Offset left", "Offset right"])
    for m in MARKS:
        row = cells(m)
        row[4], row[5] = f"{m.lat:.9f}° N", f"{-m.lon:.9f}° W"
        pair = ['14 1/2"', "0.37 m"] if m.feature == "path" else [None, None]
        sheet.append([*row, *pair])
    save()
