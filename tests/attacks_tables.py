"""Attacks through what stands beside the locates: zone lists, references, readings, visits."""

import math

from attacks import LAT, LON, SOUND, attack
from attacks_archives import _book, _row, _sheet

WILD = ("nan", "inf", "-inf", "1e308", "-1e308", "1e999", "0", "-5", "x", "0/0", "=1+1", "\u221e")
HOSTILE = ("{{7*7}}", "<script>alert(1)</script>", "../../x", "CON", "'; DROP TABLE zones;--",
           "__proto__", "\x1b]0;x\x07", "x" * 20_000, "\U0001f4a7", '=HYPERLINK("http://192.0.2.1")')  # fmt: skip


def quoted(cells):
    return ",".join('"' + str(cell).replace('"', '""') + '"' for cell in cells)


def table(folder, name, columns, rows):
    """Write a table of quoted cells."""
    lines = [",".join(columns), *map(quoted, rows)]
    (folder / name).parent.mkdir(parents=True, exist_ok=True)
    (folder / name).write_text("\n".join(lines) + "\n", encoding="utf-8")


def locates(folder, rows, columns):
    """Add rows to the locates, in a file of their own."""
    table(folder, "locates-more.csv", columns, rows)


@attack("Zones: every number of the list in turn is no number", "row|wrote")
def zones_wild(folder, scale):
    columns = ("zone", "controller", "valves", "awg", "ohms", "ohms_to_ground")
    rows = [[n, "C1", 1, 14, 30, 1e6] for n in range(2, 2 + 4 * len(WILD))]
    for n, row in enumerate(rows):
        row[2 + n % 4] = WILD[n // 4]
    table(folder, "zones.csv", columns, rows)


@attack("Zones: every word of the list is hostile", "row|wrote")
def zones_words(folder, scale):
    columns = ("zone", "controller", "name", "wire_color", "common", "note")
    table(folder, "zones.csv", columns, [(h, h, h, h, h, h) for h in HOSTILE])


@attack("Zones: a workbook with one cell in the last corner", "zones.xlsx")
def zones_corner(folder, scale):
    (folder / "zones.csv").unlink()
    _book(folder, sheet=_sheet(_row(1, ("zone", "name")) + '<row r="1048576"><c r="XFD1048576" '
          't="inlineStr"><is><t>x</t></is></c></row>'), name="zones.xlsx")  # fmt: skip


@attack("References: positions and sigmas that are no numbers", "references.csv|wrote")
def references_wild(folder, scale):
    rows = [(f"K{n}", LAT, LON, "0.02") for n in range(3)]
    rows += [(f"L{n}", LAT, LON, wild) for n, wild in enumerate(WILD)]
    rows += [(f"M{n}", wild, LON, "0.02") for n, wild in enumerate(WILD)]
    rows += [("N", LAT + n * 1e-4, LON, "1e-308") for n in range(2)]
    table(folder, "references.csv", ("reference", "lat", "lon", "rms"), rows)


@attack("References: hostile names, and ties to them", "row|wrote")
def references_names(folder, scale):
    table(folder, "references.csv", ("reference", "lat", "lon"),
          [(h, LAT + n * 1e-4, LON + n % 2 * 1e-4) for n, h in enumerate(HOSTILE)])  # fmt: skip
    locates(folder, [(f"T{n}", "valve", "A", h, 20, HOSTILE[n - 1], 20, "left")
                     for n, h in enumerate(HOSTILE)],
            ("point", "feature", "run", "tie_a", "tie_a_dist", "tie_b", "tie_b_dist", "tie_side"))  # fmt: skip


@attack(
    "References: a site grid of one place, of one line and of 1e308", "references.csv|row|wrote"
)
def references_grid(folder, scale):
    grids = [(0, 0)] * 4 + [(n, 0) for n in range(4)] + [(1e308, -1e308), ("nan", "inf")]
    table(folder, "references.csv", ("reference", "lat", "lon", "grid_x", "grid_y"),
          [(f"K{n}", LAT + n * 1e-5, LON, *grid) for n, grid in enumerate(grids)])  # fmt: skip
    locates(folder, [("G1", "valve", 1, 1), ("G2", "valve", 1e308, "nan")],
            ("point", "feature", "grid_x", "grid_y"))  # fmt: skip


@attack("Ties: to itself, twice to one, of 0, NaN and 1e308", "row")
def ties_wild(folder, scale):
    table(folder, "references.csv", ("reference", "lat", "lon"),
          [("K1", LAT, LON), ("K2", LAT + 3e-4, LON), ("K3", LAT, LON)])  # fmt: skip
    pairs = [("K1", "K1"), ("K1", "K3"), ("T0", "K2"), ("K9", "K2"), ("K1", "K2")]
    rows = [(f"T{n}", "path", "T", a, wild, b, 20, side)
            for n, ((a, b), wild, side) in enumerate(
                (p, w, s) for p in pairs for w in WILD for s in ("left", "up"))]  # fmt: skip
    locates(folder, rows, ("point", "feature", "run", "tie_a", "tie_a_dist", "tie_b",
                           "tie_b_dist", "tie_side"))  # fmt: skip


@attack("Baselines: of no length, of 1e308 and to a point that hangs on it", "row")
def baselines_wild(folder, scale):
    table(folder, "references.csv", ("reference", "lat", "lon"),
          [("K1", LAT, LON), ("K2", LAT + 3e-4, LON), ("K3", LAT, LON)])  # fmt: skip
    pairs = [("K1", "K1"), ("K1", "K3"), ("B0", "K2"), ("K1", "K2")]
    rows = [(f"B{n}", "path", "B", a, b, wild, wild) for n, ((a, b), wild) in enumerate(
            (p, w) for p in pairs for w in WILD)]  # fmt: skip
    locates(folder, rows, ("point", "feature", "run", "baseline_a", "baseline_b",
                           "baseline_chainage", "baseline_offset"))  # fmt: skip


@attack("Depth pairs: marks that pair with each other, themselves and nobody", "row|wrote")
def pairs_loop(folder, scale):
    pairs = [("Q1", "Q2"), ("Q2", "Q1"), ("Q3", "Q3"), ("Q4", "nobody"), ("Q5", "P1"), ("Q6", "P1"),
             ("Q7", "P1"), ("Q8", "Q7")]  # fmt: skip
    locates(folder, [(p, "offset_mark", "A", pair, LAT + n * 1e-6, LON, 0.01)
                     for n, (p, pair) in enumerate(pairs)],
            ("point", "feature", "run", "pair", "lat", "lon", "h_rms"))  # fmt: skip


@attack("Leans and cross slopes of 0, 90, -45 and 1e308 degrees", "row")
def leans_wild(folder, scale):
    odd = ("0", "90", "-45", "89.9999", "1e-9", "45.0000001", *WILD)
    rows = [(f"L{n}", "path", "L", LAT + n * 5e-6, LON + 1e-4, 0.4, 0.41, a, b)
            for n, (a, b) in enumerate([(o, "0") for o in odd] + [("45", o) for o in odd])]  # fmt: skip
    locates(folder, rows, ("point", "feature", "run", "lat", "lon", "offset_left", "offset_right",
                           "lean_deg", "cross_slope_deg"))  # fmt: skip


@attack("Elevations of 1e308, NaN and of 40 levels at one place", "row|wrote")
def elevations_wild(folder, scale):
    rows = [(f"E{n}", "path", "E", LAT + n % 3 * 1e-5, LON, e)
            for n, e in enumerate((*WILD, *range(40)))]  # fmt: skip
    locates(folder, rows, ("point", "feature", "run", "lat", "lon", "elevation"))


@attack("Readings: numbers and zones that are none", "readings.csv|wrote")
def readings_wild(folder, scale):
    columns = ("zone", "controller", "ohms", "kind", "valve", "date")
    table(folder, "readings.csv", columns,
          [(h, h, w, h, h, w) for h, w in zip(HOSTILE * 2, WILD, strict=False)])  # fmt: skip


@attack("Decisions: of valves that are not there, of 10,000 zones, of hostile words", "wrote|row")
def decisions_wild(folder, scale):
    rows = [("V1", ";".join(map(str, range(10_000))), "C1"), ("V1", "", ""), ("", "1", "")]
    rows += [(h, h, h) for h in HOSTILE]
    table(folder, "decisions.csv", ("valve", "zone", "controller"), rows)


@attack("Visits: of days that are none, of year 1 and 9999, and of a hostile name", "wrote|row")
def visits_wild(folder, scale):
    for n, day in enumerate(("9999-12-31", "0001-01-01", "2026-02-30", "0000-00-00", "{{7*7}}",
                             "2026-05-04 <script>", "2026-05-04", "..2026-05-04")):  # fmt: skip
        visit = folder / "visits" / day
        visit.mkdir(parents=True)
        (visit / "points.csv").write_text(SOUND.replace("0.42", f"0.{30 + n}"))


@attack("Photos: links that run code, lead to files and to other machines", "wrote")
def photos_hostile(folder, scale):
    links = ("javascript:alert(1)", "file:///etc/passwd", "\\\\192.0.2.1\\share\\x.png",
             "http://192.0.2.1/pixel.png", "data:text/html,<script>alert(1)</script>",
             "../../../etc/passwd", "x' onerror='alert(1)")  # fmt: skip
    locates(folder, [(f"F{n}", "valve", LAT + n * 1e-5, LON, link, link, link)
                     for n, link in enumerate(links)],
            ("point", "feature", "lat", "lon", "photo", "box", "operator"))  # fmt: skip


@attack("Runs: 300 that all meet at one splice", "wrote")
def runs_star(folder, scale):
    count = max(20, int(300 * scale))
    rows = [(f"S{n}", "splice", f"R{n}", LAT, LON + 3e-4) for n in range(count)]
    rows += [(f"U{n}", "path", f"R{n}", LAT + 2e-4 * math.sin(n), LON + 3e-4 + 2e-4 * math.cos(n))
             for n in range(count)]  # fmt: skip
    locates(folder, rows, ("point", "feature", "run", "lat", "lon"))


@attack("Runs: one that crosses itself some 100,000 times", "wrote")
def runs_tangle(folder, scale):
    count = max(60, int(2_000 * scale))
    rows = [(f"Z{n}", "path", "Z", LAT + 1e-4 * math.sin(2.4 * n), LON + 1e-4 * math.cos(2.4 * n))
            for n in range(count)]  # fmt: skip
    locates(folder, rows, ("point", "feature", "run", "lat", "lon"))
