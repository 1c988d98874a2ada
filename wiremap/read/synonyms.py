"""Words that people head their columns with, by the contract's name of the column.

Keys are names without a unit suffix. Words are lower case without spaces or punctuation, the
likeliest first. A match by one of these is announced, never silent.
"""

from __future__ import annotations

POSITIONS: dict[str, tuple[str, ...]] = {
    "lon": ("longitude", "long", "lng", "londd", "longdd", "longitudedd", "lonwgs84", "gpslon",
            "gpslong", "gpslongitude", "decimallongitude", "locationlongitude", "pointx",
            "longitud", "longitudine", "langengrad", "laengengrad"),
    "lat": ("latitude", "latdd", "latitudedd", "latwgs84", "gpslat", "gpslatitude",
            "decimallatitude", "locationlatitude", "pointy", "latitud", "latitudine",
            "breitengrad"),
    "lon_side": ("ew", "eastwest", "lonref", "gpslongituderef", "longituderef", "lonhemisphere",
                 "longitudehemisphere", "londir"),
    "lat_side": ("ns", "northsouth", "latref", "gpslatituderef", "latituderef", "lathemisphere",
                 "latitudehemisphere", "latdir"),
    "easting": ("east", "eastings", "e", "utme", "utmeast", "utmeasting", "xcoord", "xcoordinate",
                "stateplanex", "spcx", "spce", "rechtswert", "este", "est",
                "leste", "ost"),
    "northing": ("north", "northings", "n", "utmn", "utmnorth", "utmnorthing", "ycoord",
                 "ycoordinate", "stateplaney", "spcy", "spcn", "hochwert", "norte", "nord"),
    "lat_lon": (
        "latlon", "latlong", "latlng", "latitudelongitude", "coordinates", "coordinate", "coords",
        "coord", "gps", "gpsposition", "gpscoordinates", "position", "geopoint", "geolocation",
        "gpslocation", "location",
    ),
    "lon_lat": ("lonlat", "longlat", "lnglat", "longitudelatitude", "wkt", "geom", "geometry"),
}  # fmt: skip
"""Positions; ``lat_lon`` and ``lon_lat`` hold both values in one cell, ``lat_side`` and
``lon_side`` the letter of the hemisphere."""

_ELEVATION = ("elev", "ele", "z", "groundelevation", "groundelev", "groundlevel", "altitude", "alt",
              "el", "zcoord", "orthometricheight", "orthoheight", "mslheight", "heightmsl",
              "elevationmsl", "reducedlevel", "rl", "locationaltitude", "cota", "quota",
              "elevacion", "elevacao", "altitud")  # fmt: skip
SURVEYED_ELEVATION = ("height", "hgt", "h", "hohe", "hoehe", "altura", "hauteur", "hoogte")
"""What heads an elevation beside an easting and a northing, and elsewhere may be anything."""
_ZONE = ("zoneno", "zonenum", "zonenumber", "zones", "station", "sta", "stn", "stationno",
         "stationnum", "stationnumber", "stations", "zonestation", "zn", "zoneid", "stano",
         "zona", "secteur", "sector")  # fmt: skip
_CONTROLLER = ("controllername", "controllerid", "controllerno", "clock", "timer", "ctrl", "cont",
               "contr", "panel", "satellite")  # fmt: skip
_AWG = ("gauge", "wiregauge", "wiresize", "wireawg", "ga", "gage", "wiregage")
_COLOR = ("color", "colour", "wirecolour", "colorofwire", "insulationcolor", "colorcode", "wire")
_NOTE = ("notes", "comment", "comments", "remark", "remarks", "cmt", "memo", "observation",
         "observations", "details", "desc", "description", "descr", "bemerkung",
         "bemerkungen", "remarque", "remarques", "observacion", "observaciones",
         "nota")  # fmt: skip
_DATE = ("datetime", "timestamp", "surveydate", "locatedate", "datelocated", "datetaken",
         "visitdate", "visited", "dateobserved", "when", "averagingstart", "starttime",
         "utcdate", "dateutc", "utcd", "fecha", "datetimeutc",
         "utcdatetime", "gpst", "utc", "time",
         "datum")  # fmt: skip
SYSTEM_NAMES = ("csname", "coordinatesystem", "coordinatesystemname", "crsname")
"""What heads the name of a coordinate system, which may tell the unit of its heights."""
TIMES_OF_DAY = ("time", "timeofday", "utctime", "timeutc", "utct", "localtime", "timelocal", "hour")
"""What heads the times of day that belong to the dates of another column."""
_RMS = ("hrms", "rms", "hacc", "haccuracy", "horizontalaccuracy", "horizaccuracy", "horzrms",
        "horizontalrms", "hprecision", "horzprec", "horizontalprecision", "estimatedaccuracy",
        "positionrms", "accuracy", "precision", "hpe", "drms", "lateralrms", "rms2d",
        "locationprecision", "locationaccuracy")  # fmt: skip
_REFERENCE_NAME = ("ref", "refname", "referencename", "referenceid", "refid", "point", "name",
                   "pointname", "pointid", "ptno", "pt", "id", "no", "label", "mark",
                   "referencepointnumber", "pointnumber", "pointno", "punkt", "pkt", "punto",
                   "matricule")  # fmt: skip

LOCATES: dict[str, tuple[str, ...]] = {
    "point": ("pointid", "pointno", "pointnum", "pointnumber", "pointname", "ptno", "ptid", "ptnum",
              "ptnumber", "pt", "pnt", "pntno", "locateid", "locateno", "locate", "markno", "mark",
              "wpt", "waypoint", "id", "no", "nr", "num", "number", "name", "label", "objectid",
              "fid", "punkt", "punktnummer", "punktnr", "pkt", "pktnr", "punto", "ponto",
              "matricule"),
    "feature": ("featurecode", "featuretype", "featurename", "fcode", "feat", "type", "code",
                "kind", "pointtype", "marktype", "object", "item", "what", "sym", "symbol", "desc",
                "descr", "description", "descriptor", "codigo", "codice"),
    "run": ("runname", "runid", "runno", "wirename", "wireid", "wireno", "wirerun", "line",
            "linename", "lineid", "lineno", "trace", "circuit", "path", "route", "track", "wire"),
    "order": ("orderno", "seq", "sequence", "seqno", "sequenceno", "sortorder", "step"),
    "zone": _ZONE,
    "controller": _CONTROLLER,
    "elevation": _ELEVATION,
    "tie_a": ("tiearef", "tie1", "refa", "ref1", "referencea", "reference1", "tiefrom1"),
    "tie_a_dist": ("tieadistance", "tie1dist", "tie1distance", "dista", "dist1", "distancea",
                   "distance1", "swing1", "swinga"),
    "tie_b": ("tiebref", "tie2", "refb", "ref2", "referenceb", "reference2", "tiefrom2"),
    "tie_b_dist": ("tiebdistance", "tie2dist", "tie2distance", "distb", "dist2", "distanceb",
                   "distance2", "swing2", "swingb"),
    "tie_c": ("tiecref", "tie3", "refc", "ref3", "referencec", "reference3"),
    "tie_c_dist": ("tiecdistance", "tie3dist", "tie3distance", "distc", "dist3", "distancec",
                   "distance3", "swing3", "swingc"),
    "tie_side": ("side", "tieside"),
    "baseline_a": ("basea", "baselinefrom", "baselinestart"),
    "baseline_b": ("baseb", "baselineto", "baselineend"),
    "baseline_chainage": ("chainage", "baselinestation", "baselinedistance", "along"),
    "baseline_offset": ("baselineoff", "squareoff", "offset"),
    "grid_x": ("localx", "sitex", "sitegridx"),
    "grid_y": ("localy", "sitey", "sitegridy"),
    "h_rms": _RMS,
    "rms_east_m": ("eastingrms", "rmseast", "sigmae", "sigmaeast", "sde", "sdeast",
                   "stddeve", "stdeveasting", "eastingsd"),
    "rms_north_m": ("northingrms", "rmsnorth", "sigman", "sigmanorth", "sdn", "sdnorth",
                    "stddevn", "stdevnorthing", "northingsd"),
    "offset_left": ("leftoffset", "offsetl", "offleft", "offl", "loffset", "leftmark", "leftnull",
                    "nullleft", "markleft", "left"),
    "offset_right": ("rightoffset", "offsetr", "offright", "offr", "roffset", "rightmark",
                     "rightnull", "nullright", "markright", "right"),
    "lean": ("leanangle", "receiverlean", "receivertilt"),
    "pair": ("pairof", "pairpoint", "pairedwith", "pathpoint", "pathmark"),
    "depth": ("wiredepth", "depthtowire", "measureddepth", "burialdepth", "depthofwire", "dep",
              "cover", "bury"),
    "cross_slope": ("slope", "sideslope", "xslope", "crossfall"),
    "tone": ("tonelevel", "signal", "signallevel", "signalstrength", "strength", "level", "peak"),
    "gain": ("gainsetting", "sensitivity"),
    "date": _DATE,
    "operator": ("technician", "tech", "surveyor", "locator", "locatedby", "crew", "observer",
                 "user", "initials", "by"),
    "box": ("boxno", "boxid", "valvebox", "boxtype", "boxsize"),
    "awg": _AWG,
    "wire_color": _COLOR,
    "photo": ("photofile", "photoid", "photos", "picture", "pic", "image", "img"),
    "note": _NOTE,
    "status": ("condition", "faultstatus", "faultstate"),
}  # fmt: skip
"""Columns of field locates, positions aside."""

ZONE_LIST: dict[str, tuple[str, ...]] = {
    "zone": (*_ZONE, "no", "num", "number", "terminal", "output", "id"),
    "controller": _CONTROLLER,
    "name": ("zonename", "stationname", "description", "desc", "location", "area", "areawatered",
             "areaserved", "waters", "serves", "label", "where", "what", "landscape",
             "zonedescription", "covers", "descr", "beschreibung", "bezeichnung", "designation",
             "nombre"),
    "valves": ("valvecount", "noofvalves", "numberofvalves", "numvalves", "novalves", "valvesno",
               "valveqty", "qty", "quantity", "count", "ofvalves"),
    "awg": _AWG,
    "wire_color": _COLOR,
    "common": ("commonwire", "commoncolor", "commoncolour", "com", "comm"),
    "ohms": ("ohm", "ohmreading", "ohmsreading", "resistance", "res", "coilohms", "coilresistance",
             "stationohms", "ohmstocommon", "meterreading", "reading"),
    "ohms_to_ground": ("ohmsground", "groundohms", "ohmstoearth", "resistancetoground", "toground",
                       "insulation", "insulationresistance", "leakage"),
    "note": tuple(word for word in _NOTE if not word.startswith("desc")),
}  # fmt: skip
"""Columns of the controller's zone list."""

REFERENCES: dict[str, tuple[str, ...]] = {
    "reference": _REFERENCE_NAME,
    "elevation": _ELEVATION,
    "grid_x": ("localx", "sitex", "sitegridx"),
    "grid_y": ("localy", "sitey", "sitegridy"),
    "rms": _RMS,
    "kind": ("type", "feature", "what", "code", "desc", "description", "object"),
}  # fmt: skip
"""Columns of the fixed points, positions aside."""

READINGS: dict[str, tuple[str, ...]] = {
    "zone": _ZONE,
    "controller": _CONTROLLER,
    "date": _DATE,
    "kind": ("type", "test", "measurement", "method", "what", "quantity"),
    "value": ("reading", "result", "measured", "ohms"),
    "note": _NOTE,
}
"""Columns of electrical readings."""

DECISIONS: dict[str, tuple[str, ...]] = {
    "valve": ("valve_name", "valve_id", "point"),
    "zone": _ZONE,
    "controller": _CONTROLLER,
    "accepted": ("accept", "decision", "ok"),
    "date": _DATE,
    "note": _NOTE,
}
"""Columns of decisions on suggested zones."""
