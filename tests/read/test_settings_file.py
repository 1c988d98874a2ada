"""property.toml: defaults, wrong values, unknown keys."""

import pytest

from wiremap.errors import SettingsError
from wiremap.model.settings import Settings
from wiremap.read.settings_file import read_settings


@pytest.fixture
def read(tmp_path):
    def read_text(text):
        (tmp_path / "property.toml").write_bytes(text.encode() if isinstance(text, str) else text)
        return read_settings(tmp_path)

    return read_text


def test_no_file_means_all_defaults(tmp_path):
    """It is optional."""
    assert read_settings(tmp_path) == (Settings(), [])


def test_what_is_written_replaces_the_default(read):
    """A byte order mark at the start does not matter."""
    settings, findings = read('\ufeff[property]\nname = "Maple Court"\n[locating]\nlean_deg = 40\n')

    assert (settings.property.name, settings.locating.lean_deg) == ("Maple Court", 40)
    assert findings == []


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("[locating]\nlean_deg = 95\n", r"property\.toml, locating\.lean_deg: .*less than 90, got 95; .*default is 45\.0"),
        ('[locating]\ntone_scale = "loud"\n', r"locating\.tone_scale: .*'linear' or 'decibel', got 'loud'"),
        ('[coordinates]\ninput_crs = "EPSG:1"\n', r"coordinates\.input_crs: must be a CRS that PROJ knows, got 'EPSG:1'"),
        ('[coordinates]\ncrs = "EPSG:4326"\n', r"coordinates\.crs: must be a projected CRS"),
        ('[files."a.csv"]\ncrs = "nowhere"\n', r'files\."a\.csv"\.crs: must be a CRS'),
        ('[features]\n"VLV" = "valv"\n', r"features\.\"VLV\": must be a feature of the contract, got 'valv'; write valve"),
        ("[advisory]\nconfidence = nan\n", r"advisory\.confidence"),
        ("[thresholds]\njoin_m = inf\n", r"thresholds\.join_m: .*finite"),
        ("[locating\n", "the file is no TOML"),
        (b'name = "caf\xe9"\n', "the file is no TOML"),
        ("locating = 3\n", "locating"),
    ],
)  # fmt: skip
def test_a_wrong_value_is_one_line_with_key_rule_value_and_remedy(read, text, message):
    """Nothing is built on a setting that was not meant."""
    with pytest.raises(SettingsError, match=message) as caught:
        read(text)

    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("text", "key", "near"),
    [
        ("[locating]\nlean = 45\n", "locating.lean", "lean_deg"),
        ("[cordinates]\n", "cordinates", "coordinates"),
        ('[files."a.csv"]\nheadr = false\n', 'files."a.csv".headr', "header"),
        ('[columns]\n"D" = "dept"\n', 'columns."D" = "dept"', "depth_m"),
    ],
)
def test_an_unknown_key_is_a_finding_with_the_nearest_one(read, text, key, near):
    """It is ignored, and the rest is used."""
    _, (finding,) = read(text)

    assert (finding.code, finding.subject) == ("unknown-setting", key)
    assert near in finding.advice


def test_names_with_units_are_known_column_names(read):
    """The owner may give the unit with the contract's name."""
    assert read('[columns]\n"D" = "depth_in"\n"Sta" = "zone"\n"LL" = "lat_lon"\n').findings == []
