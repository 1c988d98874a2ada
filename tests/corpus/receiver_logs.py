"""GPX and NMEA 0183 as receivers and phones write them, by their open standards.

GPX 1.0 and 1.1: order and names of elements from their public schemas, from memory. NMEA 0183:
fields of GGA, RMC, GST, GSA, GSV, GLL, VTG and ZDA, from memory.
"""

import datetime as dt

import numpy as np
from corpus.property_truth import MARKS
from corpus.samples import sample
from corpus.survey_files import described, settings

HEAD = (
    '<?xml version="1.0" encoding="UTF-8" standalone="no" ?>\n'
    '<gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1" creator="a handheld"'
    ' xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance" xmlns:p="http://example.org/phone/v1"'
    ' xsi:schemaLocation="http://www.topografix.com/GPX/1/1 http://www.topografix.com/GPX/1/1/gpx.xsd">'
    "<metadata><link href='http://example.org'><text>a link</text></link>"
    "<time>2026-05-04T20:00:00Z</time></metadata>"
)
OLD_HEAD = (
    '<?xml version="1.0"?><gpx version="1.0" creator="an old program"'
    ' xmlns="http://www.topografix.com/GPX/1/0"><time>2026-05-04T20:00:00Z</time>'
)


def gpx(folder, *parts, name="locates.gpx", head=HEAD, encoding="utf-8"):
    (folder / name).write_bytes((head + "".join(parts) + "</gpx>\n").encode(encoding))


def point(mark, *inside, tag="wpt", ele=True, time=True, name=None):
    name = mark.name if name is None else name
    return (
        f'<{tag} lat="{mark.lat:.9f}" lon="{mark.lon:.9f}">'
        + (f"<ele>{mark.elevation_m}</ele>" if ele else "")
        + (f"<time>{mark.time}</time>" if time else "")
        + (f"<name>{name}</name>" if name else "")
        + "".join(inside)
        + f"</{tag}>\n"
    )


def track(run, tag="trk", *, title=""):
    marks = [m for m in MARKS if m.run == run]
    if tag == "rte":
        inside = "".join(point(m, tag="rtept", name="") for m in marks)
    else:
        half = len(marks) // 2
        inside = "".join(
            "<trkseg>" + "".join(point(m, tag="trkpt", name="") for m in part) + "</trkseg>"
            for part in (marks[:half], marks[half:])
        )
    return f"<{tag}><name>{title or run}</name><number>1</number>{inside}</{tag}>"


def devices():
    return [m for m in MARKS if m.feature != "path"]


@sample("waypoints alone, what each is in its description: WIRE Z1")
def gpx_descriptions(folder):
    gpx(folder, *(point(m, f"<desc>{described(m)}</desc><sym>Flag, Blue</sym>") for m in MARKS))


@sample("waypoints numbered 101, 102, what each is in its comment, the symbol saying nothing")
def gpx_comments(folder):
    gpx(folder, *(point(m, f"<cmt>{described(m)}</cmt><sym>Waypoint</sym><type>user</type>",
                        name=str(m.number)) for m in MARKS))  # fmt: skip


@sample("the code in the waypoint's name itself: VLV Z1, the second WIRE Z1 (2)")
def gpx_named_by_code(folder):
    seen = {}
    parts = []
    for m in MARKS:
        word = described(m)
        seen[word] = seen.get(word, 0) + 1
        name = word if seen[word] == 1 else f"{word} ({seen[word]})"
        parts.append(point(m, name=name))
    gpx(folder, *parts)


@sample("GPX 1.0, with course and speed, waypoints with fix, satellites and HDOP",
        told=(("read-note", "HDOP"),))  # fmt: skip
def gpx_old(folder):
    gpx(folder, *(point(m, f"<desc>{described(m)}</desc><fix>3d</fix><sat>9</sat><hdop>0.9</hdop>")
                  for m in MARKS), head=OLD_HEAD)  # fmt: skip


@sample("extensions in a namespace of the phone: accuracy, run, what it is")
def gpx_extensions(folder):
    gpx(folder, *(
        point(m, f"<extensions><p:feature>{m.feature}</p:feature><p:run>{m.run}</p:run>"
                 "<p:accuracy>0.4</p:accuracy><p:battery>80</p:battery></extensions>")
        for m in MARKS
    ))  # fmt: skip


@sample("extensions nested in an element of their own")
def gpx_nested_extensions(folder):
    gpx(folder, *(
        point(m, f"<extensions><p:Mark><p:feature>{m.feature}</p:feature><p:run>{m.run}</p:run></p:Mark></extensions>")
        for m in MARKS
    ))  # fmt: skip


@sample("a track for each wire, in two segments, and waypoints for the devices, no heights")
def gpx_tracks(folder):
    gpx(folder, *(point(m, f"<sym>{m.feature}</sym>", ele=False) for m in devices()),
        track("Z1"), track("Z2"))  # fmt: skip


@sample("tracks alone, named after their zones", features=False, lost=("C1", "G1", "B1"))
def gpx_tracks_only(folder):
    gpx(folder, track("Z1", title="Zone 1"), track("Z2", title="Zone 2"))


@sample("routes alone", features=False, lost=("C1", "G1", "B1"))
def gpx_routes_only(folder):
    gpx(folder, track("Z1", "rte"), track("Z2", "rte"))


@sample("a file for each day, the encoding ISO 8859-1 with accents")
def gpx_latin(folder):
    (folder / "locates").mkdir()
    head = HEAD.replace("UTF-8", "ISO-8859-1")
    for name, marks in (("a", MARKS[:6]), ("b", MARKS[6:])):
        gpx(folder, *(point(m, f"<cmt>près de l'allée</cmt><desc>{described(m)}</desc>")
                      for m in marks), name=f"locates/{name}.gpx", head=head,
            encoding="latin-1")  # fmt: skip


@sample("cut off in the middle of a waypoint, as when the battery failed",
        lost=tuple(m.name for m in MARKS[-4:]), features=False, runs=False, errors=True,
        told=(("bad-value", "breaks off"),))  # fmt: skip
def gpx_truncated(folder):
    gpx(folder, *(point(m, f"<desc>{described(m)}</desc>") for m in MARKS))
    whole = (folder / "locates.gpx").read_bytes()
    (folder / "locates.gpx").write_bytes(whole[: int(len(whole) * 0.8)])


# NMEA 0183


def sentence(body):
    total = 0
    for sign in body.encode("latin-1"):
        total ^= sign
    return f"${body}*{total:02X}"


def packed(angle, width):
    degrees, minutes = divmod(abs(angle) * 60, 60)
    return f"{int(degrees):0{width}d}{minutes:011.8f}"


def epoch(lon, lat, moment, *, talker="GN", quality=4, gst=True, ele=212.4, rest=True):
    clock, day = f"{moment:%H%M%S}.00", f"{moment:%d%m%y}"
    place = (
        f"{packed(lat, 2)},{'N' if lat >= 0 else 'S'},{packed(lon, 3)},{'E' if lon >= 0 else 'W'}"
    )
    place = ",,," if quality == 0 else place
    status = "V" if quality == 0 else "A"
    lines = [
        sentence(f"{talker}GGA,{clock},{place},{quality},12,0.8,{ele:.2f},M,-31.0,M,1.0,0001"),
        sentence(
            f"{talker}RMC,{clock},{status},{place},0.02,,{day},,,{'N' if quality == 0 else 'R'},V"
        ),
    ]
    if gst and quality:
        lines.append(sentence(f"{talker}GST,{clock},0.02,,,,0.009,0.012,0.02"))
    if rest:
        lines += [
            sentence("GPGSV,1,1,02,05,45,120,44,12,30,200,40"),
            sentence("GLGSV,1,1,01,72,20,310,33"),
            sentence(f"{talker}GSA,A,3,05,12,,,,,,,,,,,1.6,0.8,1.4,1"),
            sentence("PXYZ,1,own words of a maker"),
            "!AIVDM,1,1,,A,14eG;o@034o8sd<L9i:a;WF>062D,0*7D",
        ]
    return lines


def walk(start, seconds=12, *, quality=4, gst=True, talker="GN"):
    """Stand on each mark for a while, then walk on to the next; return lines and times."""
    lines, moment, times = [], start, {}
    before = None
    for m in MARKS:
        if before is not None:
            for share in np.linspace(0, 1, 6)[1:-1]:
                lon, lat = (
                    a + share * (b - a) for a, b in ((before.lon, m.lon), (before.lat, m.lat))
                )
                lines += epoch(lon, lat, moment, quality=quality, gst=gst, talker=talker)
                moment += dt.timedelta(seconds=1)
        times[m.name] = moment + dt.timedelta(seconds=seconds // 2)
        for _ in range(seconds):
            lines += epoch(m.lon, m.lat, moment, quality=quality, gst=gst, talker=talker)
            moment += dt.timedelta(seconds=1)
        before = m
    return lines, times


def log(folder, lines, name="locates/log.nmea", end="\r\n"):
    (folder / name).parent.mkdir(exist_ok=True)
    (folder / name).write_bytes((end.join(lines) + end).encode("latin-1"))


def mark_list(folder, times, *, hours=0, zone=False, name="locates/marks.csv"):
    tail = "Z" if zone else ""
    rows = [
        f"{m.name},{m.feature},{m.run},{times[m.name] + dt.timedelta(hours=hours):%Y-%m-%dT%H:%M:%S}{tail}"
        for m in MARKS
    ]
    (folder / name).write_text("point,feature,run,time\n" + "\n".join(rows) + "\n")


START = dt.datetime(2026, 5, 4, 14, 0, tzinfo=dt.UTC)


@sample("a log of mixed talkers, other sentences between, and a list of marks with UTC times")
def nmea_marks(folder):
    lines, times = walk(START)
    log(folder, lines)
    mark_list(folder, times, zone=True)


@sample("the same, the marks' clock four hours behind UTC, as property.toml says")
def nmea_local_time(folder):
    lines, times = walk(START)
    log(folder, lines)
    mark_list(folder, times, hours=-4)
    settings(folder, "[locating]", "utc_offset_h = -4")


@sample("the same, the offset unsaid: no mark falls into the log", errors=True,
        told=(("read-note", "utc_offset_h"),),
        refused="no row can be placed")  # fmt: skip
def nmea_local_time_unsaid(folder):
    lines, times = walk(START)
    log(folder, lines)
    mark_list(folder, times, hours=-4)


@sample("a log that goes over midnight")
def nmea_midnight(folder):
    lines, times = walk(dt.datetime(2026, 5, 4, 23, 58, 50, tzinfo=dt.UTC))
    log(folder, lines)
    mark_list(folder, times, zone=True)


@sample("wrong checksums, half lines, an NMEA log ending in .log, a cut tail", errors=True,
        told=(("bad-value", "checksum"),))  # fmt: skip
def nmea_damaged(folder):
    lines, times = walk(START)
    lines[40] = lines[40][:-2] + "00"
    lines[300] = lines[300][: len(lines[300]) // 2]
    lines[301] = lines[301][10:]
    lines[-1] = lines[-1][:20]
    log(folder, lines, "locates/log.log")
    mark_list(folder, times, zone=True)


@sample(
    "an NMEA log named .txt, as terminal programs save it, a time of their own before each line"
)
def nmea_terminal(folder):
    lines, times = walk(START)
    log(folder, [f"2026-05-04 10:00:00.123  {line}" for line in lines], "locates/capture.txt", "\n")
    mark_list(folder, times, zone=True)


@sample("no fix at first, empty fields in place of a position")
def nmea_no_fix(folder):
    lines, times = walk(START)
    first = START - dt.timedelta(seconds=5)
    void = [line for k in range(5)
            for line in epoch(0, 0, first + dt.timedelta(seconds=k), quality=0)]  # fmt: skip
    log(folder, void + lines)
    mark_list(folder, times, zone=True)


@sample("GGA alone, no day in it: the file's date is set in property.toml")
def nmea_gga_only(folder):
    lines, times = walk(START, gst=False, quality=2)
    log(folder, [line for line in lines if "GGA" in line])
    mark_list(folder, times, zone=True)
    settings(folder, '[files."locates/log.nmea"]', 'date = "2026-05-04"')


@sample("a log alone: every fix is a mark of one path", features=False, runs=False,
        tolerance_m=4.0)  # fmt: skip
def nmea_alone(folder):
    lines, _ = walk(START, seconds=2)
    log(folder, lines, "locates.nmea")


@sample("a log with the receiver's binary messages between the sentences")
def nmea_binary(folder):
    lines, times = walk(START)
    data = b"".join(
        line.encode()
        + b"\r\n"
        + (b"\xb5b\x01\x07\x04\x00$G\x00\xff\x0a\x24" if k % 9 == 0 else b"")
        for k, line in enumerate(lines)
    )
    (folder / "locates").mkdir()
    (folder / "locates/log.nmea").write_bytes(data)
    mark_list(folder, times, zone=True)


@sample("a log without checksums", refused="checksum")
def nmea_no_checksums(folder):
    lines, _ = walk(START)
    log(folder, [line.partition("*")[0] for line in lines], "locates.nmea")


@sample("sentences of position alone, GNS in place of GGA")
def nmea_gns(folder):
    lines, times = walk(START)

    def gns(line):
        f = line.partition("*")[0].split(",")
        return sentence(",".join(["GNGNS", *f[1:6], "RR", *f[7:10], f[11], *f[13:15], "V"]))

    log(folder, [gns(line) if "GGA" in line else line for line in lines])
    mark_list(folder, times, zone=True)


@sample("GPX without a namespace, its elements out of the schema's order")
def gpx_loose(folder):
    gpx(folder, *(
        f'<wpt lon="{m.lon:.9f}" lat="{m.lat:.9f}"><name>{m.name}</name><desc>{described(m)}</desc>'
        f"<ele>{m.elevation_m}</ele></wpt>"
        for m in MARKS
    ), head='<?xml version="1.0"?>\n<gpx version="1.1">')  # fmt: skip


@sample("waypoints named 001 to 014, and what each is in a list beside, the zeros dropped")
def gpx_with_list(folder):
    (folder / "locates").mkdir()
    rows = [f"{k},{m.feature},{m.run},{m.zone}" for k, m in enumerate(MARKS, 1)]
    (folder / "locates/notes.csv").write_text("No,What,Wire,Zone\n" + "\n".join(rows) + "\n")
    gpx(folder, *(point(m, name=f"{k:03d}") for k, m in enumerate(MARKS, 1)), name="locates/a.gpx")


@sample("waypoints named 001 to 014 and nothing that says what they are", runs=False,
        features=False, told=(("unmapped-column", "what the points are"),))  # fmt: skip
def gpx_numbers_only(folder):
    gpx(folder, *(point(m, name=f"{k:03d}") for k, m in enumerate(MARKS, 1)))
