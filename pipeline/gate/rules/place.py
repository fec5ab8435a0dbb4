"""Rules of where: positions, their uncertainty and datum, depth, land and outlines."""

from pipeline.gate.rule import Effect, RowRule

D, F, L = Effect.DROPS, Effect.FLAGS, Effect.LOWERS
_QC = "obis-qc (location.py, README)"
_FLAGS = "GBIF issues and flags (tech-docs)"
_TERM = "Darwin Core terms of 2026-05-26"
_WRITTEN = ("event", "occurrence")
_LAT, _LON, _UNC = '"decimalLatitude"', '"decimalLongitude"', '"coordinateUncertaintyInMeters"'
_BOTH = f"concat_ws(' ', {_LAT}, {_LON})"
_MIN, _MAX = '"minimumDepthInMeters"', '"maximumDepthInMeters"'
_DEPTHS = f"concat_ws(' to ', {_MIN}, {_MAX})"
_DATUM = (
    r"(?i)(EPSG:\s?\d{4,6}|WGS ?-?84|WGS ?1984|World Geodetic System 1984|[A-Z]{2,8} ?-?\d{2,4}|unknown|not recorded)"
)
# Metres that a step of `precision` degrees leaves open at a latitude: the diagonal of the cell, by the meridian's and the
# prime vertical's radii of WGS84 (Georeferencing Best Practices, table 3; standards reference 7.7).
SQUASH = "(1 - 0.00669437999014 * power(sin(radians({lat})), 2))"
STEP_M = (
    f"sqrt(power(pi() * 6378137 * (1 - 0.00669437999014) / power({SQUASH}, 1.5) * {{precision}} / 180, 2) + "
    f"power(pi() * 6378137 / sqrt({SQUASH}) * cos(radians({{lat}})) * {{precision}} / 180, 2))"
)

RULES = (
    RowRule(
        "position missing", "decimalLatitude and decimalLongitude on the occurrence, its event or an event above", D, F, _QC,
        of=("record",), where='"decimalLatitude_up" is null or "decimalLongitude_up" is null',
        value="concat_ws(' ', \"decimalLatitude_up\", \"decimalLongitude_up\")",
    ),
    RowRule(
        "position only on a parent event", "coordinates on every event row: GBIF takes nothing from parents", None, F,
        "OBIS manual (format_event.md); hc hierarchy 3.3(6)",
        of=("record",),
        where=f'({_LAT} is null or {_LON} is null) and "decimalLatitude_up" is not null and "decimalLongitude_up" is not null',
        value="concat_ws(' ', \"decimalLatitude_up\", \"decimalLongitude_up\")",
    ),
    RowRule(
        "position is no number", "decimal degrees with a point", D, F, _QC,
        of=_WRITTEN, where=f"({_LAT} is not null and num({_LAT}) is null) or ({_LON} is not null and num({_LON}) is null)",
        value=_BOTH,
    ),
    RowRule(
        "latitude out of range", "a latitude from -90 to 90", D, F, _QC,
        of=_WRITTEN, where=f"num({_LAT}) not between -90 and 90", value=_LAT,
    ),
    RowRule(
        "longitude out of range", "a longitude from -180 to 180", D, F, _QC,
        of=_WRITTEN, where=f"num({_LON}) not between -180 and 180", value=_LON,
    ),
    RowRule(
        "position is 0, 0", "the place, or empty cells where it is not known", D, F, _QC,
        of=_WRITTEN, where=f"num({_LAT}) = 0 and num({_LON}) = 0", value=_BOTH,
    ),
    RowRule(
        "more decimals than are kept", "at most 6 decimals", None, L, f"{_FLAGS}: coordinates rounded",
        of=_WRITTEN, where=f"length(split_part({_LAT}, '.', 2)) > 6 or length(split_part({_LON}, '.', 2)) > 6", value=_BOTH,
    ),
    RowRule(
        "datum missing", "geodeticDatum, best EPSG:4326: without one WGS84 is assumed", L, L, _FLAGS,
        of=_WRITTEN, where=f'{_LAT} is not null and "geodeticDatum" is null', value=_BOTH,
    ),
    RowRule(
        "datum unreadable", "an EPSG code or the name of a datum", F, F, _FLAGS,
        of=_WRITTEN, where=f"not regexp_full_match(\"geodeticDatum\", '{_DATUM}')", value='"geodeticDatum"',
    ),
    RowRule(
        "datum is not WGS84", "EPSG:4326, and coordinates in it", F, None, "OBIS manual (darwin_core.md)",
        of=_WRITTEN,
        where=f"regexp_full_match(\"geodeticDatum\", '{_DATUM}') and "
        "not regexp_full_match(\"geodeticDatum\", '(?i)EPSG:\\s?4326|WGS ?-?84|WGS ?1984|World Geodetic System 1984')",
        value='"geodeticDatum"',
    ),
    RowRule(
        "uncertainty is no radius", "metres above 0 and at most 20,037,509; empty where it is not known", F, F,
        f"{_TERM}: zero is not valid; {_QC}",
        of=_WRITTEN, where=f"{_UNC} is not null and (num({_UNC}) is null or num({_UNC}) not between 1 and 20037509)", value=_UNC,
    ),
    RowRule(
        "uncertainty below the precision", "at least half the diagonal that coordinatePrecision leaves open", L, L,
        "Georeferencing Best Practices (0300), table of uncertainty from precision",
        of=_WRITTEN,
        where="num(\"coordinatePrecision\") > 0 and num({}) between 1 and floor({}) - 1".format(
            _UNC, STEP_M.format(lat=f"num({_LAT})", precision="num(\"coordinatePrecision\")") + " / 2"
        ),
        value=f"concat({_UNC}, ' m at precision ', \"coordinatePrecision\")",
    ),
    RowRule(
        "precision is no step of degrees", "decimal degrees above 0 and at most 1", F, F, f"{_TERM}: 0.00001 to 1.0",
        of=_WRITTEN,
        where='"coordinatePrecision" is not null and coalesce(num("coordinatePrecision") <= 0 or num("coordinatePrecision") > 1, true)',
        value='"coordinatePrecision"',
    ),
    RowRule(
        "spatial fit impossible", "0, 1, a number above 1, or nothing", L, L, _TERM,
        of=_WRITTEN,
        where='"pointRadiusSpatialFit" is not null and '
        'coalesce(num("pointRadiusSpatialFit") < 0 or (num("pointRadiusSpatialFit") > 0 and num("pointRadiusSpatialFit") < 1), true)',
        value='"pointRadiusSpatialFit"',
    ),
    RowRule(
        "on land", "a place in the sea: it lies on land farther than its uncertainty and a cell of the mask reach", F, None,
        f"{_QC}: ON_LAND, there with finer polygons",
        of=_WRITTEN, where="_land = 'land'", value=_BOTH,
    ),
    RowRule(
        "perhaps on land", "a look at the place: the mask (cells of 1 km) says land, the sea is within its uncertainty", L, None,
        f"{_QC}: ON_LAND, there with finer polygons",
        of=_WRITTEN, where="_land = 'shore'", value=_BOTH,
    ),
    RowRule(
        "depth missing", "a minimum or a maximum depth of the sample", L, None, f"{_QC}: NO_DEPTH",
        of=("record",), where='"minimumDepthInMeters_up" is null and "maximumDepthInMeters_up" is null', value="''",
    ),
    RowRule(
        "depth is no number", "metres, positive below the surface", F, F, _QC,
        of=_WRITTEN, where=f"({_MIN} is not null and num({_MIN}) is null) or ({_MAX} is not null and num({_MAX}) is null)",
        value=_DEPTHS,
    ),
    RowRule(
        "depth impossible", "metres from 0 to 11,000, positive below the surface", F, F,
        f"{_QC}: -100,000 to 11,000; {_FLAGS}: below 0 or above 11,000",
        of=_WRITTEN, where=f"num({_MIN}) > 11000 or num({_MAX}) > 11000 or num({_MIN}) < -100000 or num({_MAX}) < -100000",
        value=_DEPTHS,
    ),
    RowRule(
        "depth above the surface", "metres from 0 on, positive below the surface", None, F, _FLAGS,
        of=_WRITTEN, where=f"num({_MIN}) between -100000 and -0.0001 or num({_MAX}) between -100000 and -0.0001", value=_DEPTHS,
    ),
    RowRule(
        "depths swapped", "a minimum depth that is not below the maximum", F, F, f"{_QC}: MIN_DEPTH_EXCEEDS_MAX; {_FLAGS}",
        of=_WRITTEN, where=f"num({_MIN}) > num({_MAX})", value=_DEPTHS,
    ),
    RowRule(
        "outline unreadable", "well-known text, longitude before latitude, within the globe", F, F, _FLAGS,
        of=_WRITTEN,
        where='"footprintWKT" is not null and _west is null',
        value='left("footprintWKT", 60)',
    ),
    RowRule(
        "outline elsewhere", "an outline that holds the coordinates", None, F, f"{_FLAGS}: footprintWKT mismatch",
        of=_WRITTEN,
        where=f"num({_LON}) not between _west - 0.001 and _east + 0.001 or num({_LAT}) not between _south - 0.001 and _north + 0.001",
        value=f"{_BOTH} || ' and ' || left(\"footprintWKT\", 40)",
    ),
    RowRule(
        "country is no code", "two letters of ISO 3166-1, XZ for the high seas, ZZ for unknown", F, F, _TERM,
        of=_WRITTEN, where="not regexp_full_match(\"countryCode\", '[A-Z]{2}') or \"countryCode\" in ('UK', 'EU', 'EL')",
        value='"countryCode"',
    ),
)  # fmt: skip
