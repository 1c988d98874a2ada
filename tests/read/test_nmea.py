"""NMEA 0183 logs."""

from __future__ import annotations

import numpy as np
import pynmeagps
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wiremap.errors import ReadError
from wiremap.plugins import FileOptions
from wiremap.read.nmea import READER, checksum

GGA = "GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,"
RMC = "GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W"
BELOW = "GPGGA,172814.0,3723.46587704,N,12202.26957864,W,2,6,1.2,18.893,M,-25.669,M,2.0,0031"


def read(tmp_path, *sentences, date=None, end="\r\n"):
    """Read a log of sentences, with their checksums where they carry none."""
    lines = [s if s.startswith(("$", "#")) else f"${s}*{checksum(s)}" for s in sentences]
    path = tmp_path / "walk.nmea"
    path.write_bytes((end.join(lines) + end).encode())
    (table,) = READER.read(path, FileOptions(date=date))
    return table


@pytest.mark.parametrize(
    ("sentence", "expected"),
    [
        (GGA, "47"),
        (RMC, "6A"),
        (BELOW, "4F"),
        ("GPGGA,092750.000,5321.6802,N,00630.3372,W,1,8,1.03,61.7,M,55.2,M,,", "76"),
    ],
)
def test_checksums_of_published_sentences(sentence, expected):
    """Widely published examples of NMEA 0183; the first is confirmed, the others from memory."""
    assert checksum(sentence) == checksum(f"${sentence}*00") == expected


@given(
    st.text(st.characters(min_codepoint=32, max_codepoint=126, exclude_characters="$*"), min_size=1)
)
def test_checksums_agree_with_an_independent_reader(sentence):
    """pynmeagps 1.1 computes the same XOR."""
    assert checksum(sentence) == pynmeagps.calc_checksum(sentence)


def test_a_published_fix_gives_its_position_heights_and_date(tmp_path):
    """48 07.038 N is 48.1173; 545.4 m above sea level on a geoid of 46.9 m; 23 March 1994."""
    table = read(tmp_path, GGA, RMC)
    row = table.frame.loc[1]
    assert table.crs == "EPSG:4326"
    assert row["lat"] == pytest.approx(48.1173, abs=1e-9)
    assert row["lon"] == pytest.approx(11.516666667, abs=1e-9)
    assert row["elevation_m"] + row["geoid_separation_m"] == pytest.approx(592.3)
    assert row[["date", "point", "feature", "run"]].tolist() == [
        "1994-03-23T12:35:19Z", "walk-1", "path", "walk"
    ]  # fmt: skip
    assert len(table.frame) == 1


def test_a_geoid_below_the_ellipsoid_has_a_negative_separation(tmp_path):
    """Published example: 18.893 m above sea level is -6.776 m above the ellipsoid."""
    row = read(tmp_path, BELOW).frame.loc[1]
    assert row["elevation_m"] + row["geoid_separation_m"] == pytest.approx(-6.776)
    assert row["lon"] == pytest.approx(-(122 + 2.26957864 / 60), abs=1e-12)


def test_a_line_with_a_wrong_or_no_checksum_is_left_out_and_told(tmp_path):
    """The line number and both sums are in the problem."""
    table = read(tmp_path, GGA, f"${RMC}*00", f"${BELOW}", "# a comment", "$")
    assert len(table.frame) == 1
    assert [(p.row, p.rule, p.value) for p in table.problems] == [
        (2, "the checksum is wrong", "*00 for *6A"),
        (3, "the sentence has no checksum", ""),
    ]


def test_many_bad_lines_are_told_together(tmp_path):
    """A noisy cable must not fill the report."""
    table = read(tmp_path, GGA, *[f"${RMC}*00"] * 100)
    assert len(table.problems) == 21
    assert table.problems[-1].rule == "and 80 more lines alike: the checksum is wrong"


def test_the_receivers_own_error_estimate_goes_before_the_table(tmp_path):
    """GST: sigma of latitude 3 cm and of longitude 4 cm give an RMS of 5 cm."""
    gst = "GPGST,123519,1.0,0.05,0.03,0,0.03,0.04,0.08"
    assert read(tmp_path, GGA, gst).frame["h_rms_m"].tolist() == [pytest.approx(0.05)]
    assert read(tmp_path, GGA).frame["h_rms_m"].isna().all()


def test_a_fix_without_a_position_is_left_out_and_counted(tmp_path):
    """Quality 0 is no fix, 8 a simulator, RMC status V a warning."""
    no_fix = GGA.replace(",E,1,", ",E,0,").replace("123519", "123520")
    simulated = GGA.replace(",E,1,", ",E,8,").replace("123519", "123521")
    void = RMC.replace(",A,", ",V,").replace("123519", "123522")
    table = read(tmp_path, GGA, no_fix, simulated, void)
    assert len(table.frame) == 1
    (problem,) = table.problems
    assert (problem.rule, problem.row, problem.code) == (
        "3 fixes without a position were left out", 2, "read-note"
    )  # fmt: skip


def test_rmc_alone_gives_positions_without_a_quality(tmp_path):
    """Some receivers log nothing else."""
    row = read(tmp_path, RMC).frame.loc[1]
    assert row["lat"] == pytest.approx(48.1173)
    assert np.isnan(row["h_rms_m"])


def test_the_day_is_carried_past_midnight_and_back_to_the_first_fix(tmp_path):
    """Only one sentence of the log tells the day."""
    times = ["235958", "235959.50", "000001", "000002"]
    rmc = RMC.replace("123519", "000001").replace("230394", "240394")
    fixes = [GGA.replace("123519", t) for t in times]
    table = read(tmp_path, *fixes[:3], rmc, fixes[3])
    assert table.frame["date"].tolist() == [
        "1994-03-23T23:59:58Z",
        "1994-03-23T23:59:59.500Z",
        "1994-03-24T00:00:01Z",
        "1994-03-24T00:00:02Z",
    ]


def test_zda_tells_the_day_with_its_century(tmp_path):
    """ZDA carries day, month and a year of four digits."""
    assert read(tmp_path, GGA, "GPZDA,123519,04,05,2026,00,00").frame["date"].tolist() == [
        "2026-05-04T12:35:19Z"
    ]


def test_the_day_may_come_from_property_toml_and_else_is_missing(tmp_path):
    """Without a day there is no date; the note says how to give it."""
    assert read(tmp_path, GGA, date="2026-05-04").frame["date"].tolist() == ["2026-05-04T12:35:19Z"]
    table = read(tmp_path, GGA)
    assert table.frame["date"].isna().all()
    assert table.notes[1].startswith("no sentence tells the day; set date under [files]")


@pytest.mark.parametrize("talker", ["GP", "GN", "GL", "GA", "GB"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_every_talker_and_line_end_is_read(tmp_path, talker, end):
    """GN is a fix from several systems."""
    assert len(read(tmp_path, talker + GGA[2:], "GPGSV,1,1,00", end=end).frame) == 1


@pytest.mark.parametrize(
    "change",
    [("4807.038", "4867.038"), ("4807.038,N", "9107.038,N"), ("01131.000,E", "01131.000,X"),
     ("4807.038", ""), ("4807.038", "abc")],
)  # fmt: skip
def test_a_position_that_cannot_be_is_none(tmp_path, change):
    """Sixty minutes or more, beyond the pole, an unknown hemisphere, empty or text."""
    table = read(tmp_path, GGA.replace("123519", "123518"), GGA.replace(*change))
    assert len(table.frame) == 1
    assert table.problems[0].rule == "1 fixes without a position were left out"


@pytest.mark.parametrize(
    "data", [b"", b"point,lon,lat\n1,2,3\n", b"\x00\xff" * 300, b"$GPGSV,1*00"]
)
def test_a_file_without_fixes_is_one_clear_error(tmp_path, data):
    """Empty, another format, binary, or only bad lines."""
    path = tmp_path / "a.nmea"
    path.write_bytes(data)
    with pytest.raises(
        ReadError, match=r"a\.nmea: holds no GGA, GNS or RMC sentence with a right checks"
    ):
        READER.read(path, FileOptions())


@pytest.mark.parametrize(
    ("body", "quality"),
    [
        ("GNGNS,123519,4807.038,N,01131.000,E,AR,14,0.7,545.4,46.9,,,V", 4),
        ("GNGNS,123519,4807.038,N,01131.000,E,NA,08,1.1,545.4,46.9,,,V", 1),
        ("GPRMC,123519,A,4807.038,N,01131.000,E,0.0,,040526,,,D", 2),
        ("GPRMC,123519,A,4807.038,N,01131.000,E,0.0,,040526,,", 1),
    ],
)
def test_other_sentences_of_position_tell_their_quality(tmp_path, body, quality):
    """Mode letters of GNS and RMC as GGA numbers them (NMEA 0183, from memory)."""
    frame = read(tmp_path, body).frame
    assert frame["fix_quality"].tolist() == [quality]
    assert frame[["lon", "lat"]].to_numpy().tolist() == [
        [pytest.approx(11.516667, abs=1e-6), pytest.approx(48.1173)]
    ]


def test_two_sentences_on_one_line_are_both_read(tmp_path):
    """A line end that was lost in transmission."""
    first, second = (f"${b}*{checksum(b)}" for b in (GGA, GGA.replace("123519", "123520")))
    path = tmp_path / "a.nmea"
    path.write_text(first + second + "\n")
    (table,) = READER.read(path, FileOptions())
    assert len(table.frame) == 2


def test_the_day_may_stand_in_a_sentence_of_its_own_time(tmp_path):
    """Receivers send ZDA between two fixes."""
    later = GGA.replace("123519", "123520")
    table = read(tmp_path, GGA, "GPZDA,123519.53,04,05,2026,00,00", later)
    assert table.frame["date"].tolist() == ["2026-05-04T12:35:19Z", "2026-05-04T12:35:20Z"]
    assert table.notes == ("2 fixes",)


def test_a_log_without_one_position_is_refused_with_that(tmp_path):
    """Switched on indoors: sentences and checksums are right, positions are not."""
    with pytest.raises(ReadError, match="holds 1 fixes, none of them with a position"):
        read(tmp_path, "GNRMC,000609.916,V,0000.0000,N,00000.0000,E,0.00,0.00,220899,,,N,V")
