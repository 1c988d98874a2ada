"""Attacks through property.toml."""

from attacks import attack

REFUSED = (2,)


def _toml(folder, text):
    (folder / "property.toml").write_bytes(text if isinstance(text, bytes) else text.encode())


@attack("property.toml is empty", "wrote")
def toml_empty(folder, scale):
    _toml(folder, "")


@attack("property.toml starts with a byte order mark", "Marked")
def toml_bom(folder, scale):
    _toml(folder, b'\xef\xbb\xbf[property]\nname = "Marked"\n')


@attack("property.toml is not UTF-8", "property.toml", codes=REFUSED)
def toml_latin(folder, scale):
    _toml(folder, b'[property]\nname = "caf\xe9"\n')


@attack("property.toml is UTF-16", "property.toml", codes=REFUSED)
def toml_utf16(folder, scale):
    _toml(folder, '[property]\nname = "x"\n'.encode("utf-16"))


@attack("property.toml holds NUL bytes", "property.toml", codes=REFUSED)
def toml_nul(folder, scale):
    _toml(folder, b'[property]\nname = "a\x00b"\n')


@attack("property.toml nests arrays a hundred thousand deep", "property.toml", codes=REFUSED)
def toml_deep(folder, scale):
    _toml(folder, "x = " + "[" * 100_000 + "]" * 100_000)


@attack("property.toml nests tables by a dotted key of ten thousand parts", "property.toml")
def toml_dotted(folder, scale):
    _toml(folder, ".".join(["a"] * 10_000) + " = 1\n")


@attack("property.toml holds an integer of ten thousand digits", "property.toml", codes=REFUSED)
def toml_huge_integer(folder, scale):
    _toml(folder, f"[locating]\nlean_deg = {'9' * 10_000}\n")


@attack("property.toml holds a hundred megabytes", "property.toml", codes=REFUSED)
def toml_large(folder, scale):
    _toml(folder, b"# " + b"x" * int(100_000_000 * scale) + b"\n")


@attack("a section is a number", "coordinates", codes=REFUSED)
def toml_section_number(folder, scale):
    _toml(folder, "coordinates = 3\n")


@attack("files is a list", "files", codes=REFUSED)
def toml_files_list(folder, scale):
    _toml(folder, "files = [1, 2]\n")


@attack("one file's section is a number", "files", codes=REFUSED)
def toml_file_number(folder, scale):
    _toml(folder, 'files."locates.csv" = 3\n')


@attack("a lean of NaN", "lean_deg", codes=REFUSED)
def toml_nan_lean(folder, scale):
    _toml(folder, "[locating]\nlean_deg = nan\n")


@attack("a tolerance of infinity", "tolerance_m", codes=REFUSED)
def toml_infinite_tolerance(folder, scale):
    _toml(folder, "[advisory]\ntolerance_m = inf\n")


@attack("a tolerance of 1e300 m", "tolerance_m", codes=REFUSED)
def toml_huge_tolerance(folder, scale):
    _toml(folder, "[advisory]\ntolerance_m = 1e300\n")


@attack("a default RMS of 1e200 m", "default_rms_m", codes=REFUSED)
def toml_huge_rms(folder, scale):
    _toml(folder, "[coordinates]\ndefault_rms_m = 1e200\n")


@attack("a slack factor of NaN", "wire_slack_factor", codes=REFUSED)
def toml_nan_slack(folder, scale):
    _toml(folder, "[thresholds]\nwire_slack_factor = nan\n")


@attack("a coldest wire of infinity", "wire_cold_c", codes=REFUSED)
def toml_infinite_cold(folder, scale):
    _toml(folder, "[thresholds]\nwire_cold_c = -inf\n")


@attack("a gain table of NaN, infinity and 0", "gain_table", codes=REFUSED)
def toml_gain_table(folder, scale):
    _toml(folder, "[locating]\ngain_table = {1 = nan, 2 = inf, 3 = 0.0}\n")


@attack("thresholds of 1e-300", "thresholds", codes=(0, 1, 2))
def toml_tiny_thresholds(folder, scale):
    _toml(folder, "[thresholds]\ndepth_length_scale_m = 1e-300\ndepth_amplitude_m = 1e-300\n"
                  "slope_change_deg = 1e-300\njoin_m = 1e-300\ntape_sigma_m = 1e-300\n")  # fmt: skip


@attack("thresholds of 1e300", "thresholds", codes=REFUSED)
def toml_huge_thresholds(folder, scale):
    _toml(folder, "[thresholds]\ndepth_length_scale_m = 1e300\nlost_fan_m = 1e300\n"
                  "slope_prior_deg = 1e300\njoin_m = 1e300\n")  # fmt: skip


@attack("an unknown CRS", "EPSG:999999", codes=REFUSED)
def toml_unknown_crs(folder, scale):
    _toml(folder, '[coordinates]\ncrs = "EPSG:999999"\n')


@attack("a working CRS in degrees", "EPSG:4326", codes=REFUSED)
def toml_degrees_crs(folder, scale):
    _toml(folder, '[coordinates]\ncrs = "EPSG:4326"\n')


@attack("a UTM zone on the other side of the earth", "outside-area-of-use")
def toml_far_crs(folder, scale):
    _toml(folder, '[coordinates]\ncrs = "EPSG:32760"\n')


@attack("a geocentric working CRS", "EPSG:4978", codes=REFUSED)
def toml_geocentric_crs(folder, scale):
    _toml(folder, '[coordinates]\ncrs = "EPSG:4978"\n')


@attack("a vertical working CRS", "EPSG:5703", codes=REFUSED)
def toml_vertical_crs(folder, scale):
    _toml(folder, '[coordinates]\ncrs = "EPSG:5703"\n')


@attack("an engineering CRS", "crs", codes=REFUSED)
def toml_engineering_crs(folder, scale):
    _toml(folder, '[coordinates]\ncrs = \'LOCAL_CS["site",UNIT["metre",1]]\'\n')


@attack("a CRS that names a file elsewhere", "crs", codes=REFUSED)
def toml_crs_path(folder, scale):
    _toml(folder, '[coordinates]\ncrs = "+init=/etc/passwd:4326"\n')


@attack("a CRS that is an address", "crs", codes=REFUSED)
def toml_crs_url(folder, scale):
    _toml(folder, '[coordinates]\ncrs = "http://192.0.2.1/crs"\n')


@attack("a working CRS with a grid of an address", "crs", codes=(0, 1, 2))
def toml_crs_grid(folder, scale):
    _toml(folder, '[coordinates]\ncrs = "+proj=utm +zone=14 +ellps=GRS80 '
                  '+nadgrids=http://192.0.2.1/g.gsb +type=crs"\n')  # fmt: skip


@attack("web Mercator as working CRS", "crs-distorted")
def toml_web_mercator(folder, scale):
    _toml(folder, '[coordinates]\ncrs = "EPSG:3857"\n')


@attack("files settings name remote paths", "vsicurl")
def toml_remote_files(folder, scale):
    _toml(folder, '[files."/vsicurl/http://192.0.2.1/a.csv"]\nheader = true\n'
                  '[files."http://192.0.2.1/b.csv"]\nheader = true\n'
                  '[files."../../../etc/passwd"]\nheader = false\n')  # fmt: skip


@attack("a file's encoding is one that runs code over text", "encoding", codes=REFUSED)
def toml_odd_encodings(folder, scale):
    _toml(folder, '[files."locates.csv"]\nencoding = "rot13"\n')


@attack("a file's encoding decompresses", "encoding", codes=REFUSED)
def toml_zip_encoding(folder, scale):
    _toml(folder, '[files."locates.csv"]\nencoding = "zlib_codec"\n')


@attack("a file's encoding holds a NUL", "encoding", codes=REFUSED)
def toml_nul_encoding(folder, scale):
    _toml(folder, '[files."locates.csv"]\nencoding = "a\\u0000b"\n')


@attack("a file's delimiter is a quote", "delimiter", codes=REFUSED)
def toml_quote_delimiter(folder, scale):
    _toml(folder, '[files."locates.csv"]\ndelimiter = "\\""\n')


@attack("a file's delimiter is a line end", "delimiter", codes=REFUSED)
def toml_newline_delimiter(folder, scale):
    _toml(folder, '[files."locates.csv"]\ndelimiter = "\\n"\n')


@attack("a file's delimiter is empty", "wrote")
def toml_empty_delimiter(folder, scale):
    _toml(folder, '[files."locates.csv"]\ndelimiter = ""\n')


@attack("a file's columns name one column twice and others by hostile text", "locates")
def toml_doubled_columns(folder, scale):
    _toml(folder, '[files."locates.csv"]\nheader = true\ncolumns = ["point", "feature", "run", '
                  '"zone", "lat", "lon", "lat", "{{7*7}}", "", "a/b", "\\"; DROP TABLE x"]\n')  # fmt: skip


@attack("a file's date is of the year 9999999", "date", codes=REFUSED)
def toml_odd_date(folder, scale):
    _toml(folder, '[files."locates.csv"]\ndate = "9999999-99-99"\n')


@attack("columns map to hostile names", "columns")
def toml_hostile_columns(folder, scale):
    _toml(folder, '[columns]\n"note" = "geometry"\n"tone" = "{{7*7}}"\n"run" = "__class__"\n')


@attack("two columns map to one name", "locates")
def toml_columns_collide(folder, scale):
    _toml(folder, '[columns]\n"note" = "point"\n"tone" = "point"\n')


@attack("the name climbs out of the folder", "wrote")
def toml_name_path(folder, scale):
    _toml(folder, '[property]\nname = "../../x"\n')


@attack("the name is a device", "wrote")
def toml_name_device(folder, scale):
    _toml(folder, '[property]\nname = "CON"\n')


@attack("the name is 100,000 characters long", "wrote")
def toml_name_long(folder, scale):
    _toml(folder, f'[property]\nname = "{"long " * 20_000}"\n')


@attack("the name is emoji alone", "wrote")
def toml_name_emoji(folder, scale):
    _toml(folder, '[property]\nname = "\U0001f4a7\U0001f33f"\n')


@attack("the name is a template, markup and control characters", "wrote")
def toml_name_template(folder, scale):
    _toml(folder, '[property]\nname = "{{7*7}}{% x %}{# y #}</title><script>alert(1)</script>'
                  '\\u0000\\u001b[31m\\u202e"\n'
                  'prepared_by = "=HYPERLINK(\\"http://192.0.2.1\\")"\n')  # fmt: skip


@attack("formats asked for that do not exist", "format", codes=REFUSED)
def toml_unknown_format(folder, scale):
    _toml(folder, '[output]\nformats = ["../../x", "{{7*7}}"]\n')


@attack("ten thousand keys that no setting has", "unknown-setting")
def toml_many_keys(folder, scale):
    _toml(folder, "".join(f"k{n} = {n}\n" for n in range(int(10_000 * scale) + 10)))
