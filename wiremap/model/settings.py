"""property.toml: the settings of one property, each with its default."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Literal

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, model_validator

from wiremap.model.kinds import Feature

Positive = Annotated[float, Field(ge=1e-6, le=1e9, allow_inf_nan=False)]
Length = Annotated[float, Field(ge=1e-4, le=10_000, allow_inf_nan=False)]
NotNegative = Annotated[float, Field(ge=0, le=10_000, allow_inf_nan=False)]
Angle = Annotated[float, Field(ge=0.001, le=90, allow_inf_nan=False)]
Celsius = Annotated[float, Field(ge=-100, le=200, allow_inf_nan=False)]
Finite = Annotated[float, Field(allow_inf_nan=False, ge=-1000, le=1e6)]
Unit = Literal["m", "cm", "mm", "ft", "in", "ftus"]


def _check_delimiter(text: str | None) -> str | None:
    if (
        text
        and text.lower() not in {"tab", "\\t", "comma", "semicolon", "space"}
        and (len(text) > 1 or text in '"\r\n\0' or text.isalnum())
    ):
        raise ValueError("must be one sign other than a quote, or tab, comma, semicolon, space")
    return text


def _check_encoding(text: str | None) -> str | None:
    if text and not (text.isprintable() and len(text) <= 40):  # noqa: PLR2004 - a codec's name
        raise ValueError("must be the name of a text encoding")
    return text


def _write_date(value: object) -> object:
    """Return a date of TOML's own, or text that is one, as ISO 8601 text."""
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, str) and value:
        try:
            dt.datetime.fromisoformat(value)
        except ValueError as error:
            raise ValueError("must be a date such as 2026-05-04") from error
    return value


class _Section(BaseModel):
    model_config = ConfigDict(frozen=True, extra="ignore")


class PropertySection(_Section):
    """What the record is of, and who made it."""

    name: str = Field("", description="Name of the property; the folder's name where empty.")
    prepared_by: str = Field("", description="Shown on the map, the sheets and in provenance.")
    prepared_on: dt.date | None = Field(None, description="Date of the record.")
    none_here: tuple[Feature, ...] = Field(
        (), description="Kinds of equipment of which there is confirmed to be none: pump, filter."
    )


class Coordinates(_Section):
    """Where the positions stand."""

    input_crs: str = Field(
        "EPSG:4326",
        description="CRS of lon/lat or easting/northing in the files; vector files carry their own.",
    )
    crs: str | None = Field(
        None, description="Working CRS, projected; the UTM zone of the data where not given."
    )
    length_unit: Unit = Field("m", description="Unit of length columns that carry no suffix.")
    default_rms_m: Length = Field(
        0.5, description="Horizontal radial RMS of a position that states none."
    )
    rms_at_hdop_1_m: dict[int, Length] = Field(
        default_factory=lambda: {1: 4.0, 2: 1.5, 3: 3.0, 6: 15.0},
        description="Horizontal radial RMS at HDOP 1, by GGA fix quality, of a position that states"
        " none. Project choice on the cautious side of common practice: autonomous 4, differential"
        " 1.5, precise service 3, dead reckoning 15. Real-time kinematic fixes, 4 and 5, have no"
        " figure until one is set: what they reach depends on the site.",
    )
    vertical_datum: str = Field(
        "", description="Vertical datum of the elevations, as the record states it: NAVD 88."
    )
    allow_ballpark: bool = Field(
        False, description="Accept a datum transformation of unknown accuracy."
    )


class Locating(_Section):
    """How the depth pairs and levels were taken."""

    lean_deg: Annotated[float, Field(ge=1, lt=90)] = Field(
        45.0, description="Lean of the receiver from the vertical in a depth pair."
    )
    lean_sigma_deg: Angle = Field(2.0, description="How well the lean was held.")
    mark_sigma_m: Length = Field(0.015, description="How well a mark was placed and taped.")
    utc_offset_h: Annotated[float, Field(ge=-14, le=14)] = Field(
        0.0,
        description="Hours that the field clock is ahead of UTC, -5 for US central daylight time;"
        " for marks that are placed by their time from a receiver's log.",
    )
    tone_scale: Literal["linear", "decibel"] = Field("linear", description="Scale of tone levels.")
    gain_table: dict[str, Finite] = Field(
        default_factory=dict,
        description="Factor by which a gain setting multiplies the level (linear), or adds to it"
        " (decibel), by setting.",
    )

    @model_validator(mode="after")
    def _check_gains(self) -> Locating:
        factors = self.gain_table.values()
        if self.tone_scale == "linear" and any(factor <= 0 for factor in factors):
            raise ValueError("factors of gain_table must be above 0 where the scale is linear")
        if self.tone_scale == "decibel" and any(abs(factor) > 300 for factor in factors):  # noqa: PLR2004
            raise ValueError("steps of gain_table must be within 300 decibels")
        return self


class Advisory(_Section):
    """The dig buffer and the cover limit."""

    tolerance_m: NotNegative = Field(
        0.61, description="Added to each side of the wire's own uncertainty; set by local law."
    )
    confidence: Annotated[float, Field(gt=0.5, lt=1)] = Field(
        0.95, description="Confidence of buffers and shallow bounds."
    )
    min_cover_m: NotNegative = Field(0.152, description="Cover below which a finding is raised.")
    widen_m_per_year: NotNegative = Field(
        0.0,
        description="Added to each side of the dig buffer for each year since a run was last"
        " observed, counted to prepared_on or else to the latest observation.",
    )


class Thresholds(_Section):
    """Every other limit that the steps use."""

    tape_sigma_m: Length = Field(
        0.02, description="How well a taped tie, baseline or grid distance was measured."
    )
    square_sigma_deg: Angle = Field(
        0.5, description="How well the right angle of a baseline offset was held."
    )
    tape_reach_m: Length = Field(
        30.0, description="Longest distance that ties to a feature are dimensioned over."
    )
    min_cut_angle_deg: Angle = Field(
        20.0, description="Cut angle below which a tie is called weak."
    )
    relative_rms_share: Annotated[float, Field(gt=0, le=1)] = Field(
        0.4,
        description="Share of a position's RMS that two positions taken within a minute or two"
        " of each other do not have in common; used for located pairs.",
    )
    relative_floor_m: NotNegative = Field(
        0.02,
        description="Noise of any position that the next one does not share, as RMS: centring"
        " and the fix itself; used for located pairs.",
    )
    visit_common_share: Annotated[float, Field(ge=0, le=1)] = Field(
        0.25,
        description="Share of a position's variance that visits on different days have in common"
        " (datum, base station), so that it does not average out; passes of one visit have more"
        " in common, see relative_rms_share.",
    )
    join_m: Length = Field(
        2.0,
        description="Greatest distance over which runs and devices are joined, beside"
        " what their position uncertainty allows.",
    )
    outlier_m: Length = Field(
        3.0, description="Least distance off the line at which a point can be called an outlier."
    )
    assumed_depth_m: Length = Field(
        0.3, description="Depth taken for the bulge of a null near a bend, before depths are known."
    )
    lost_fan_m: NotNegative = Field(
        5.0, description="Length of the dig buffer's fan beyond an end where the tone was lost."
    )
    lost_fan_deg: Annotated[float, Field(gt=0, lt=180)] = Field(
        60.0, description="Opening angle of that fan."
    )
    depth_length_scale_m: Length = Field(
        15.0, description="Length over which depth along a run stays alike."
    )
    depth_amplitude_m: Length = Field(
        0.05,
        description="How far depth along a run strays from the run's mean; fitted to the"
        " readings about this value.",
    )
    lean_common_share: Annotated[float, Field(ge=0, le=1)] = Field(
        0.5,
        description="Share of the lean's variance that the two sides of a depth pair have in"
        " common.",
    )
    lean_systematic_share: Annotated[float, Field(ge=0, le=1)] = Field(
        0.4,
        description="Share of the lean's variance that all readings of a property have in"
        " common, so that it does not average out along a run.",
    )
    cross_slope_sigma_deg: Angle = Field(
        1.5, description="How well a cross slope in the field notes was measured."
    )
    slope_prior_deg: Angle = Field(
        6.0,
        description="Cross slope, one standard deviation, where nothing is known of the ground;"
        " more where the property's own slopes are steeper.",
    )
    slope_change_deg: Angle = Field(
        2.5, description="How far cross slope strays along a run, one standard deviation."
    )
    uneven_z: Positive = Field(
        3.7,
        description="Standard deviations beyond which a depth pair is called uneven; more on a"
        " property of more than some fifty pairs.",
    )
    inferred_gap_m: Length = Field(
        25.0,
        description="Distance between two located points beyond which the wire between"
        " them is called inferred.",
    )
    coil_low_ohm: Positive = Field(
        20.0, description="Least resistance that a sound station with one coil reads."
    )
    coil_high_ohm: Positive = Field(
        60.0, description="Greatest resistance of a sound coil, without its wires."
    )
    open_ohm: Positive = Field(
        1000.0, description="Resistance from which a station counts as open."
    )
    min_ohms_to_ground: Positive = Field(
        500_000.0, description="Resistance to ground below which insulation is called low."
    )
    thin_awg: Positive = Field(18.0, description="Thinnest wire expected where no gauge is given.")
    thick_awg: Positive = Field(12.0, description="Thickest wire expected where no gauge is given.")
    wire_cold_c: Celsius = Field(0.0, description="Coldest the buried wire gets, degrees Celsius.")
    wire_warm_c: Celsius = Field(40.0, description="Warmest the buried wire gets, degrees Celsius.")
    wire_slack_factor: Annotated[float, Field(ge=1, le=100)] = Field(
        1.2, description="How much longer or poorer the wire may be than mapped."
    )
    unmapped_path_m: Length = Field(
        300.0, description="Longest wire path to reckon with where none is mapped."
    )
    supply_v: Positive = Field(24.0, description="Voltage at the controller's terminals.")
    least_valve_v: Positive = Field(20.0, description="Least voltage that opens a valve.")
    inrush_a: Positive = Field(0.4, description="Current of one coil as it opens.")
    holding_a: Positive = Field(0.2, description="Current of one coil that is open.")


class FileSection(_Section):
    """How one file is to be read."""

    header: bool | None = Field(None, description="Whether the first row names the columns.")
    columns: tuple[str, ...] = Field((), description="Column names in order, for a file without.")
    crs: str | None = Field(None, description="CRS of this file's positions.")
    encoding: Annotated[str | None, AfterValidator(_check_encoding)] = Field(
        None, description="Text encoding."
    )
    delimiter: Annotated[str | None, AfterValidator(_check_delimiter)] = Field(
        None, description="Character between cells."
    )
    decimal: Literal[".", ","] | None = Field(None, description="Decimal mark.")
    date: Annotated[str | None, BeforeValidator(_write_date)] = Field(
        None, description="Date of all rows of the file that carry none."
    )
    operator: str | None = Field(None, description="Operator of all rows that name none.")
    sheet: str | None = Field(None, description="Sheet of a workbook; all where not given.")
    day_first: bool | None = Field(None, description="Whether 3/4/2026 is the third of April.")


class Output(_Section):
    """What ``wiremap build`` writes beside its default files."""

    formats: tuple[str, ...] = Field(
        (), description="Further formats, by the names that `wiremap formats` lists: dxf, kmz."
    )


def _check_cad_name(name: str) -> str:
    if not name or len(name) > 120 or not name.isprintable() or set(name) & set('<>/\\":;?*|=`'):  # noqa: PLR2004
        raise ValueError('must be 1 to 120 characters, none of them < > / \\ " : ; ? * | = `')
    return name


CadName = Annotated[str, AfterValidator(_check_cad_name)]


class CadLayers(_Section):
    """Name of the drawing layer of each kind."""

    wires: CadName = Field("IRR-WIRE", description="Control wire, in plan, as traced")
    wires_3d: CadName = Field(
        "IRR-WIRE-3D", description="Control wire at its own elevation: ground less depth"
    )
    inferred: CadName = Field(
        "IRR-WIRE-INFERRED", description="Stretches inferred between locates that lie far apart"
    )
    shallow: CadName = Field(
        "IRR-WIRE-SHALLOW", description="Stretches with little cover: hand tools only"
    )
    valves: CadName = Field("IRR-VALVE", description="Valves")
    splices: CadName = Field("IRR-SPLICE", description="Splices")
    faults: CadName = Field("IRR-FAULT", description="Faults")
    controllers: CadName = Field("IRR-CONTROLLER", description="Controllers")
    equipment: CadName = Field("IRR-EQUIPMENT", description="Other equipment")
    depths: CadName = Field("IRR-DEPTH", description="Depth readings")
    dig_buffer: CadName = Field(
        "IRR-DIG-BAND", description="Dig-by-hand band, advisory only, not a utility locate"
    )
    ties: CadName = Field("IRR-TIE", description="Ties to permanent references")
    control: CadName = Field("IRR-CONTROL", description="Control and reference points")
    notes: CadName = Field("IRR-NOTE", description="Notes and caution")
    base_property: CadName = Field("BASE-PROPERTY", description="Property line")
    base_building: CadName = Field("BASE-BUILDING", description="Buildings")
    base_hardscape: CadName = Field("BASE-HARDSCAPE", description="Paving and walls")
    base_other: CadName = Field("BASE-OTHER", description="Other base lines")


class Cad(_Section):
    """The DXF drawing."""

    text_height_m: Length = Field(
        0.4, description="Height of the drawing's text on the ground; 0.4 m is 2 mm at 1:200."
    )
    layers: CadLayers = Field(
        CadLayers(), description="Drawing layer of each kind, as the receiving agency names them."
    )


class Revision(_Section):
    """One line of the revision table."""

    date: dt.date = Field(description="When the record was amended.")
    text: str = Field(description="What was amended.")
    by: str = Field("", description="Who amended it.")


class Sheets(_Section):
    """The record drawing on paper."""

    paper: Literal["arch-d", "a1", "a3", "tabloid", "letter"] = Field(
        "arch-d", description="Size of the sheets, landscape."
    )
    scale: Literal[
        "auto", "1in=10ft", "1in=20ft", "1in=30ft", "1in=40ft", "1in=50ft", "1in=60ft",
        "1in=100ft", "1:100", "1:200", "1:250", "1:500",
    ] = Field("auto", description="Scale of the plan; chosen from the property's size where auto.")  # fmt: skip
    units: Literal["auto", "ft", "m"] = Field(
        "auto", description="Unit of dimensions; where auto, feet on US paper, metres on ISO paper."
    )
    monochrome: bool = Field(False, description="Black ink only.")
    revisions: tuple[Revision, ...] = Field((), description="Amendments, oldest first.")


class Chart(_Section):
    """The controller chart: the sheet that is kept in the controller's door."""

    door_width_m: Annotated[float, Field(ge=0.1, le=1.0)] = Field(
        0.2032, description="Width of the chart, which fits the controller's door."
    )
    door_height_m: Annotated[float, Field(ge=0.1, le=1.0)] = Field(
        0.254, description="Height of the chart."
    )
    min_text_m: Annotated[float, Field(ge=0.001, le=0.01)] = Field(
        0.0015, description="Least height of capital letters on the chart."
    )
    copies: Annotated[int, Field(ge=1, le=20)] = Field(
        3, description="Copies to make for each controller."
    )
    approved: bool = Field(
        False, description="Whether the record drawing is approved; DRAFT on the chart until then."
    )
    approved_by: str = Field("", description="Who approved it.")
    approved_on: dt.date | None = Field(None, description="When it was approved.")
    link: str = Field("", description="File name or link that the chart's QR code leads to.")


class Settings(_Section):
    """All settings of one property.

    Examples
    --------
    >>> Settings().locating.lean_deg
    45.0
    """

    property: PropertySection = PropertySection()
    coordinates: Coordinates = Coordinates()
    locating: Locating = Locating()
    advisory: Advisory = Advisory()
    columns: dict[str, str] = Field(
        default_factory=dict, description="A file's own column names: the contract's name."
    )
    features: dict[str, str] = Field(
        default_factory=dict, description="A file's own feature words or codes: the contract's."
    )
    files: dict[str, FileSection] = Field(
        default_factory=dict, description="One file's own reading, by its name in the folder."
    )
    thresholds: Thresholds = Thresholds()
    sheets: Sheets = Sheets()
    chart: Chart = Chart()
    output: Output = Output()
    cad: Cad = Cad()
