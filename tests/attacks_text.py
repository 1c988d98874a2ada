"""Attacks through tables of text: size, encoding, numbers, hostile words."""

import numpy as np
from attacks import SOUND, attack, poison

TEMPLATES = (
    "{{7*7}}", "{% raw %}", "{# note", "}}", "%}", "${7*7}", "<script>alert(1)</script>",
    "</script><!--", "=1+1", "+1+1", "-1+1", "@SUM(A1)", "\t=1+1", "=cmd|' /C calc'!A0",
    "'; DROP TABLE locates; --", '"; DROP TABLE x', "../../x", "..\\..\\x", "CON", "NUL.txt",
    "/etc/passwd", "C:\\x", "a/b", "\U0001f4a7" * 50, "x" * 3_000, "\u202eabc", "\u2028", "\x1b[31m",
    "__proto__", "null", "NaN", "nan", "None", "inf", "1e999", "\ufeff", "\u200b", " ", "%s%n", "\x7f",
)  # fmt: skip


@attack("every text cell in turn is a template, markup, a formula, SQL or a path", "wrote")
def text_templates(folder, scale):
    lines = SOUND.splitlines()
    rows = [lines[0] + ",box,operator,photo,wire_color,my column"]
    for n, text in enumerate(TEMPLATES):
        cell = '"' + text.replace('"', '""') + '"'
        lat = 41.5 + n * 2e-5
        rows.append(
            f"{cell},path,{cell},{cell},{lat:.7f},-96.5,0.03,0.4,0.4,50,{cell},{cell},{cell},{cell},{cell},{cell}"
        )
        rows.append(
            f"v{n},valve,{cell},{cell},{lat:.7f},-96.5001,0.03,,,,{cell},{cell},{cell},{cell},{cell},{cell}"
        )
        rows.append(
            f"s{n},splice,{cell},{cell},{lat:.7f},-96.5002,0.03,,,,{cell},{cell},{cell},{cell},{cell},{cell}"
        )
        rows.append(
            f"{cell},controller,,,{lat:.7f},-96.5003,0.03,,,,{cell},{cell},{cell},{cell},{cell},{cell}"
        )
        rows.append(
            f"f{n},fault,{cell},{cell},{lat:.7f},-96.5004,0.03,,,,{cell},{cell},{cell},{cell},{cell},{cell}"
        )
        rows.append(
            f"e{n},pump,{cell},{cell},{lat:.7f},-96.5005,0.03,,,,{cell},{cell},{cell},{cell},{cell},{cell}"
        )
    (folder / "locates.csv").write_text("\n".join(rows), encoding="utf-8")
    zones = ["zone,controller,name,valves,awg,wire_color,common,ohms,note"]
    for text in TEMPLATES:
        cell = '"' + text.replace('"', '""') + '"'
        zones.append(f"{cell},{cell},{cell},1,{cell},{cell},{cell},30,{cell}")
    (folder / "zones.csv").write_text("\n".join(zones), encoding="utf-8")


@attack("column names are templates, SQL, reserved words, paths and 5,000 characters", "wrote")
def text_column_names(folder, scale):
    names = [*TEMPLATES[:24], "geometry", "fid", "FID", "ogc_fid", "rowid", "geom", "index", "locate",
             "select", "source_file", "source_row", "chainage_m", "", " ", "x" * 5000, "Point", "POINT ",
             "cov_xx_m2", "position_rms_m", "placed_by", "level_0", "a\x00b", "run ", "a.b", "a:b", "é", "e\u0301"]  # fmt: skip
    lines = SOUND.splitlines()
    head = ",".join('"' + n.replace('"', '""') + '"' for n in names)
    rows = [f"{line},{','.join(['1'] * len(names))}" for line in lines[1:]]
    (folder / "locates.csv").write_text("\n".join([f"{lines[0]},{head}", *rows]), encoding="utf-8")


@attack("a million columns", "line is longer|more than 500", codes=(2,))
def text_million_columns(folder, scale):
    count = int(1_000_000 * scale)
    (folder / "locates.csv").write_text(
        ",".join(f"c{n}" for n in range(count)) + "\n" + ",".join(["1"] * count) + "\n"
    )


@attack("four thousand columns beyond the contract's", "columns", codes=(2,))
def text_many_columns(folder, scale):
    count = 4000
    lines = SOUND.splitlines()
    rows = [lines[0] + "," + ",".join(f"c{n}" for n in range(count))]
    rows += [line + "," + ",".join(["1"] * count) for line in lines[1:]]
    (folder / "locates.csv").write_text("\n".join(rows))


@attack("a line of 200 MB", "line", codes=(2,))
def text_long_line(folder, scale):
    with (folder / "locates.csv").open("wb") as file:
        file.write(b"point,lat,lon,note\nP1,41.5,-96.5,")
        for _ in range(max(1, int(200 * scale))):
            file.write(b"x" * 1_000_000)


@attack("a quoted cell of 50 MB in a later row", "quote", codes=(2,))
def text_long_cell(folder, scale):
    with (folder / "locates.csv").open("ab") as file:
        file.write(
            b'P9,path,A,1,41.50025,-96.5,0.03,,,,"' + b"x\n" * int(25_000_000 * scale) + b'"\n'
        )


@attack("a quote that is never closed", "quote")
def text_open_quote(folder, scale):
    poison(folder)
    with (folder / "locates.csv").open("a") as file:
        file.write(
            'P9,path,A,1,41.50025,-96.5,0.03,,,,"open\n'
            + "P8,path,A,1,41.50026,-96.5,0.03,,,,x\n" * 50
        )


@attack("NUL bytes between and in the cells", "NUL")
def text_nul(folder, scale):
    (folder / "locates.csv").write_bytes(SOUND.replace("soft", "so\x00ft\x00").encode())


@attack("a file of NUL bytes alone", "empty", codes=(2,))
def text_all_nul(folder, scale):
    (folder / "locates.csv").write_bytes(b"\x00" * 100_000)


@attack("random bytes", "locates.csv", codes=(2,))
def text_random(folder, scale):
    (folder / "locates.csv").write_bytes(np.random.default_rng(1).bytes(200_000))


@attack("an executable named .csv", "locates.csv", codes=(2,))
def text_executable(folder, scale):
    (folder / "locates.csv").write_bytes(b"\x7fELF\x02\x01\x01" + b"\x00" * 900 + b"\xff" * 900)


@attack("UTF-8 and cp1252 mixed in one file", "cp1252")
def text_mixed_encodings(folder, scale):
    data = SOUND.replace(
        "soft", "caf\u00e9"
    ).encode() + "P9,path,A,1,41.50025,-96.5,0.03,,,,caf\u00e9\n".encode("cp1252")
    (folder / "locates.csv").write_bytes(data)


@attack("UTF-16 without a byte order mark", "utf-16")
def text_utf16_bare(folder, scale):
    (folder / "locates.csv").write_bytes(SOUND.encode("utf-16-le"))


@attack("UTF-16 cut in the middle of a character", "utf-16")
def text_utf16_cut(folder, scale):
    (folder / "locates.csv").write_bytes(SOUND.encode("utf-16")[:-1])


@attack("UTF-32", "locates.csv", codes=(0, 1, 2))
def text_utf32(folder, scale):
    (folder / "locates.csv").write_bytes(SOUND.encode("utf-32"))


@attack("UTF-7", "wrote")
def text_utf7(folder, scale):
    (folder / "locates.csv").write_bytes(SOUND.replace("soft", "\u2603").encode("utf-7"))


@attack("lone surrogates", "wrote")
def text_surrogates(folder, scale):
    poison(folder, note="\ud800 half")


def _cell(name, value):
    def make(folder, scale):
        poison(folder, **{name: value})

    label = str(value)[:12].lower().replace("+", "").replace(" ", "-").replace("∞", "sign")
    make.__name__ = f"cell_{name}_{label}"
    return make


for _name in ("lat", "h_rms_m", "offset_left_m", "tone"):
    for _value in (
        "nan",
        "inf",
        "-inf",
        "1e308",
        "-1e308",
        "1e-308",
        "1e999",
        "9" * 400,
        "0x1F",
        "1_000",
        "∞",
    ):
        if (_name, _value) != ("tone", "1e-308"):
            attack(f"{_name} of {str(_value)[:12]}", "wrote|row 5")(_cell(_name, _value))


@attack("every number of a column is 1e308", "wrote|row", codes=(0, 1, 2))
def numbers_all_huge(folder, scale):
    (folder / "locates.csv").write_text(SOUND.replace("0.03", "1e308").replace("0.4", "1e308"))


@attack("every RMS is 1e-300", "row", codes=(0, 1, 2))
def numbers_all_tiny(folder, scale):
    (folder / "locates.csv").write_text(SOUND.replace("0.03", "1e-300"))


@attack("offsets of 1e-300", "row", codes=(0, 1, 2))
def numbers_tiny_offsets(folder, scale):
    (folder / "locates.csv").write_text(SOUND.replace(",0.4", ",1e-300,").replace(",,", ",", 0))


@attack("levels from 1e-300 to 1e300", "row|wrote", codes=(0, 1, 2))
def numbers_wild_tones(folder, scale):
    text = SOUND.replace(",80,", ",1e300,").replace(",78,", ",1e-300,").replace(",77,", ",1e308,")
    (folder / "locates.csv").write_text(text)


@attack("orders of 1e308 and -1e308", "wrote|row", codes=(0, 1, 2))
def numbers_orders(folder, scale):
    lines = SOUND.splitlines()
    rows = [
        lines[0] + ",order",
        *(
            f"{line},{o}"
            for line, o in zip(lines[1:], ("", "1e308", "-1e308", "nan", "1e999", "0"), strict=True)
        ),
    ]
    (folder / "locates.csv").write_text("\n".join(rows))


@attack("positions all over the earth", "km from the middle", codes=(2,))
def numbers_worldwide(folder, scale):
    rng = np.random.default_rng(2)
    rows = [
        f"P{n},path,A,1,{lat:.6f},{lon:.6f},0.03,0.4,0.4,5,"
        for n, (lat, lon) in enumerate(
            zip(rng.uniform(-90, 90, 200), rng.uniform(-180, 180, 200), strict=True)
        )
    ]
    (folder / "locates.csv").write_text(SOUND.splitlines()[0] + "\n" + "\n".join(rows))


@attack("positions at the poles and across the date line", "row|wrote", codes=(0, 1, 2))
def numbers_poles(folder, scale):
    rows = [
        "P1,path,A,1,90,0,0.03,0.4,0.4,5,",
        "P2,path,A,1,-90,180,0.03,0.4,0.4,5,",
        "P3,path,A,1,0,180,0.03,0.4,0.4,5,",
        "P4,path,A,1,0,-180,0.03,0.4,0.4,5,",
    ]
    (folder / "locates.csv").write_text(SOUND.splitlines()[0] + "\n" + "\n".join(rows))


@attack("all points at one place", "wrote", codes=(0, 1))
def numbers_one_place(folder, scale):
    rows = [f"P{n},path,A,1,41.5,-96.5,0.03,0.4,0.4,5," for n in range(50)]
    (folder / "locates.csv").write_text(SOUND.splitlines()[0] + "\n" + "\n".join(rows))


@attack("dates of year 0, 1, 9999 and 99999", "row|wrote")
def dates_far(folder, scale):
    lines = SOUND.splitlines()
    dates = ("0000-00-00", "0001-01-01", "9999-12-31", "99999-01-01", "1e308", "2026-13-45")
    rows = [lines[0] + ",date", *(f"{line},{d}" for line, d in zip(lines[1:], dates, strict=True))]
    (folder / "locates.csv").write_text("\n".join(rows))


@attack("a zone cell of 10,000 numbers", "wrote")
def zones_many(folder, scale):
    poison(folder, zone=";".join(map(str, range(10_000))))


@attack("a zone list of 5,000 zones with claims of 1e9 valves", "row|wrote", codes=(0, 1))
def zones_counts(folder, scale):
    rows = [f"{n},C1,z{n},{10**9 if n % 2 else -5},1e308" for n in range(int(5000 * scale) + 50)]
    (folder / "zones.csv").write_text("zone,controller,name,valves,ohms\n" + "\n".join(rows))


@attack("a zone list that is binary", "zones.csv")
def zones_binary(folder, scale):
    (folder / "zones.csv").write_bytes(b"PK\x03\x04" + b"\xff" * 100)


@attack("20,000 runs of one point", "wrote", codes=(0, 1))
def counts_runs(folder, scale):
    rows = [
        f"P{n},path,R{n},1,{41.5 + n * 1e-6:.7f},-96.5,0.03,0.4,0.4,5,"
        for n in range(int(20_000 * scale) + 100)
    ]
    (folder / "locates.csv").write_text(SOUND.splitlines()[0] + "\n" + "\n".join(rows))


@attack("20,000 controllers and valves at one place", "wrote", codes=(0, 1))
def counts_devices(folder, scale):
    count = int(20_000 * scale) + 100
    rows = [f"C{n},controller,,,41.5,-96.5,0.03,,,," for n in range(count)]
    rows += [f"V{n},valve,,{n},41.5,-96.5,0.03,,,," for n in range(count)]
    (folder / "locates.csv").write_text(SOUND + "\n".join(rows).replace("C1,", "C1x,"))


@attack("one point identifier on 20,000 rows", "duplicate-point", codes=(0, 1))
def counts_duplicates(folder, scale):
    rows = [
        f"P1,path,A,1,{41.5 + n * 1e-6:.7f},-96.5,0.03,0.4,0.4,5,"
        for n in range(int(20_000 * scale) + 100)
    ]
    (folder / "locates.csv").write_text(SOUND + "\n".join(rows))


@attack("a regular expression's worst case in lengths and angles", "row|wrote", codes=(0, 1))
def text_backtracking(folder, scale):
    poison(
        folder,
        offset_left_m="1 " * 5_000 + "x",
        lat="41" + " 1" * 5_000,
        zone="3 " * 5_000 + "!",
        note="\t" * 5_000,
    )


@attack("an unprintable identifier", "row|wrote", codes=(0, 1))
def text_unprintable(folder, scale):
    poison(folder, point="\u200b\u2060\x07")
