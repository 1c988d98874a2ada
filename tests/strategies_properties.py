"""Random small properties, as the rows of their files: most cells sound, some odd."""

from __future__ import annotations

import csv

from hypothesis import strategies as st

LAT, LON = 41.5, -96.5
METRE_DEG = 1 / 111_000
FEATURES = (
    "path", "path", "path", "path", "valve", "splice", "fault", "controller", "stake", "lost",
    "exposed", "offset_mark", "reference", "ground", "sensor", "pump", "sleeve", "", "VLV", "???",
)  # fmt: skip
ODD = ("", "", "", "x", "nan", "-1", "0", "1e30", "inf", "12 ft", "1' 2 1/2\"", "{{7*7}}", "=1+1")
ZONES = ("", "1", "2", "3", "1;2", "Zone 4", "A", "99")
COLUMNS = (
    "point", "feature", "run", "order", "zone", "controller", "lat", "lon", "elevation", "h_rms",
    "tie_a", "tie_a_dist", "tie_b", "tie_b_dist", "tie_side", "offset_left", "offset_right",
    "lean", "pair", "depth", "cross_slope", "tone", "gain", "date", "box", "note",
)  # fmt: skip
SETTINGS = (
    "",
    '[coordinates]\ncrs = "EPSG:26914"\n',
    '[coordinates]\nlength_unit = "ft"\n',
    '[coordinates]\ncrs = "EPSG:2267"\n[locating]\ntone_scale = "decibel"\n',
    "[advisory]\nconfidence = 0.99\ntolerance_m = 0\n",
)


def _number(low, high, places=2):
    return st.floats(low, high).map(lambda value: f"{value:.{places}f}")


def _mostly(sound, *, of=12):
    """Give a sound cell eleven times in twelve, else an odd one."""
    return st.integers(0, of - 1).flatmap(lambda k: st.sampled_from(ODD) if k == 0 else sound)


def _sometimes(sound):
    return st.one_of(st.just(""), _mostly(sound))


@st.composite
def rows(draw, count):
    """Return the rows of a locate file that walks about in 60 m."""
    east, north = draw(st.floats(0, 60)), draw(st.floats(0, 60))
    made = []
    for number in range(count):
        east, north = east + draw(st.floats(-8, 8)), north + draw(st.floats(-8, 8))
        row = dict.fromkeys(COLUMNS, "")
        row["point"] = draw(_mostly(st.just(f"P{number}"), of=20))
        row["feature"] = draw(st.sampled_from(FEATURES))
        row["run"] = draw(st.sampled_from(("A", "A", "A", "B", "")))
        row["zone"] = draw(st.sampled_from(ZONES))
        row["lat"] = draw(_mostly(st.just(f"{LAT + north * METRE_DEG:.8f}"), of=20))
        row["lon"] = draw(_mostly(st.just(f"{LON + east * METRE_DEG:.8f}"), of=20))
        row["h_rms"] = draw(_sometimes(_number(0.01, 3)))
        kind = draw(
            st.sampled_from(("plain", "plain", "pair", "pair", "depth", "tie", "mark", "full"))
        )
        if kind in {"pair", "full"}:
            row["offset_left"] = draw(_mostly(_number(0.05, 1.5)))
            row["offset_right"] = draw(_sometimes(_number(0.05, 1.5)))
            row["lean"] = draw(st.sampled_from(("", "", "45", "50", "89", "0")))
        if kind in {"depth", "full"}:
            row["depth"] = draw(_mostly(_number(0, 2)))
        if kind == "tie":
            row["lat"] = row["lon"] = ""
            row["tie_a"], row["tie_b"] = draw(st.permutations(("K1", "K2", "K3", "K9")))[:2]
            row["tie_a_dist"] = draw(_mostly(_number(1, 40)))
            row["tie_b_dist"] = draw(_mostly(_number(1, 40)))
            row["tie_side"] = draw(st.sampled_from(("left", "right", "")))
        if kind == "mark":
            row["feature"] = "offset_mark"
            row["pair"] = draw(st.sampled_from(("P0", "P1", "P2", "nobody", "")))
        if kind == "full":
            row["elevation"] = draw(_mostly(_number(300, 310)))
            row["cross_slope"] = draw(_mostly(_number(-20, 20)))
            row["order"] = draw(_mostly(_number(0, 50, 0)))
        row["tone"] = draw(_sometimes(st.integers(0, 99).map(str)))
        row["gain"] = draw(st.sampled_from(("", "", "20", "30")))
        row["date"] = draw(st.sampled_from(("", "2026-05-04", "2026-06-01", "4.5.2026", "soon")))
        made.append(row)
    return made


@st.composite
def properties(draw):
    """Return the files of a property: name to text."""
    locates = draw(st.integers(1, 25).flatmap(rows))
    zones = draw(
        st.lists(
            st.tuples(
                *(
                    map(
                        st.sampled_from,
                        (
                            ZONES,
                            ("", "C", "P0"),
                            ("", "0", "1", "2", "x"),
                            ("", "30", "open", "5", "1e9", "-3"),
                        ),
                    )
                )
            ),
            max_size=5,
        )
    )
    files = {
        "property.toml": draw(st.sampled_from(SETTINGS)),
        "locates.csv": (COLUMNS, [list(row.values()) for row in locates]),
        "zones.csv": (("zone", "controller", "valves", "ohms"), zones),
    }
    if draw(st.booleans()):
        files["references.csv"] = (
            ("reference", "lat", "lon"),
            [(f"K{n + 1}", f"{LAT + y * METRE_DEG:.8f}", f"{LON + x * METRE_DEG:.8f}")
             for n, (x, y) in enumerate(((0, 0), (30, 0), (0, 30)))],
        )  # fmt: skip
    return files


def write_property(files, folder):
    """Write the files of a property into a new folder and return it."""
    folder.mkdir(parents=True)
    for name, content in files.items():
        if isinstance(content, str):
            (folder / name).write_text(content, encoding="utf-8")
            continue
        head, body = content
        with (folder / name).open("w", newline="", encoding="utf-8") as file:
            writer = csv.writer(file)
            writer.writerow(head)
            writer.writerows(body)
    return folder
