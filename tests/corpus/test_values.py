"""Positions and names: what mapping and rules may say of them, and what a partner is told."""

import time

import pytest
from corpus import examined, table

from pipeline.errors import BadUsage
from pipeline.intake.angles import read_angle, read_pair
from pipeline.intake.grids import datum_code, is_grid, read_grid, transformation_m
from pipeline.intake.mapping import parse_mapping
from pipeline.intake.names import Names
from pipeline.programme import parse_rules

LOSS = """
[[sheet]]
kind = "loss"
[sheet.columns]
unit_key = "Unit"
happened = "Date"
latitude = "Lat"
longitude = "Lon"
[sheet.fixed]
how_known = "adrift"
"""
BED = '[[sheet]]\nkind = "bed"\n[sheet.columns]\nbed_key = "Bed"\nestimated_on = "Date"\nspecies = "Species"\n'
NAMED = '[programme]\nkey = "k"\nname = "K"\n'

MISTAKES = {
    "crs": (LOSS + '[sheet.position]\ncrs = "the old grid"', ["[position]", "`crs`", "'the old grid'", "EPSG:27700", "UTM 29N"]),
    "crs that PROJ does not know": (LOSS + '[sheet.position]\ncrs = "EPSG:99999"', ["[position]", "`crs`", "EPSG:99999"]),
    "hemisphere": (LOSS + '[sheet.position]\nhemisphere = "O"', ["[position]", "`hemisphere`", "'O'", '"W"']),
    "both hemispheres": (LOSS + '[sheet.position]\nhemisphere = ["N", "S"]', ["[position]", "`hemisphere` says both N and S"]),
    "order": (LOSS + '[sheet.position]\norder = "xy"', ["[position]", "`order`", "'xy'", '"lon lat"']),
    "key": (LOSS + "[sheet.position]\nzone = 29", ["[position]", "`zone`", "Known are", "crs"]),
    "uncertainty": ('[position]\nuncertainty = "good"\n' + LOSS, ["[position]", "`uncertainty`", "'good'", '"GPS"']),
    "letter of a zone": (LOSS + '[sheet.position]\nutm_letter = "S"', ["[position]", "`utm_letter`", '"band"']),
    "datum twice": (
        BED + 'datum = "Datum"\nlatitude = "A"\nlongitude = "B"\n[sheet.position]\ncrs = "EPSG:4230"',
        ["[[sheet]] number 1", "`crs`", "`datum`", "Take one away"],
    ),
    "unit of what is worked out": (
        BED + 'latitude = "A"\nlongitude = "B"\nuncertainty_m = "C"\n[sheet.units]\nuncertainty_m = "ft"\n[sheet.position]\nuncertainty = "GPS"',
        ["`uncertainty_m`", "[position]", "Take its unit away"],
    ),
}  # fmt: skip


@pytest.mark.parametrize(("toml", "says"), MISTAKES.values(), ids=MISTAKES)
def test_mistakes_are_told(kinds, toml, says):
    """A mistake under [position] is told with file, table, key and what may stand there."""
    with pytest.raises(BadUsage) as told:
        parse_mapping("club", toml.encode(), kinds)
    assert [s for s in ["partners/club.toml", *says] if s not in str(told.value)] == [], str(told.value)


def faults(text, mapping, kinds, folder, file="x.csv"):
    """(row, heading, wanted, advice) of every fault."""
    staged = examined(text.encode(), file, mapping, kinds, folder)
    return [(f["row"], f["heading"], f["wanted"], f["advice"]) for f in table(staged, "faults")]


@pytest.mark.parametrize(("lat", "lon", "heading", "word"), [
    ("38 61", "9 5", "Lat", "60 minutes are a degree"),
    ("38.5", "9.5 O", "Lon", "name the language"),
    ("38.5", "-9.5 W", "Lon", "leave out the sign or the letter"),
    ("9.5 W", "9.5 W", "Lat", "changed places"),
    ("145.2", "-9.5", "Lat", "changed places"),
    ("near the pier", "-9.5", "Lat", "Write decimal degrees such as"),
    ("38.5", "195 E", "Lon", "decimal degrees"),
])  # fmt: skip
def test_a_fault_says_what_to_do(kinds, tmp_path, lat, lon, heading, word):
    """A position that is not read says why under its owner's heading, and what to do."""
    [(row, told, wanted, advice)] = faults(f"Unit,Date,Lat,Lon\nU1,2025-03-01,{lat},{lon}\n", LOSS, kinds, tmp_path)
    assert (row, told) == (2, heading)
    assert word in advice and wanted


def test_words_for_blank_are_blank(kinds, tmp_path):
    """A partner's own word for a blank cell is no unread position, also where every row is looked at."""
    text = "Unit,Date,Lat,Lon\nU1,2025-03-01,n/a,N/A\nU2,2025-03-01,38 30,n/a\n"
    for more in ("", '[position]\nuncertainty = "GPS"\n', '[position]\ncrs = "EPSG:4230"\n'):
        staged = examined(text.encode(), "x.csv", 'blanks = ["n/a"]\n' + more + LOSS, kinds, tmp_path)
        told = [(f["row"], f["wanted"]) for f in table(staged, "faults")]
        assert told == ([(3, "latitude and longitude together")] if "crs" in more else [])
        assert next(r["latitude"] for r in table(staged, "loss")) is None


def test_half_a_position_is_brought_to_no_other_datum(kinds, tmp_path):
    """Without its longitude a latitude of ED50 cannot become one of EPSG:4326, and does not pass for one."""
    text = "Unit,Date,Lat,Lon\nU1,2025-03-01,38.5,\n"
    [(row, heading, wanted, _)] = faults(text, '[position]\ncrs = "EPSG:4230"\n' + LOSS, kinds, tmp_path)
    assert (row, heading, wanted) == (2, "Lat", "latitude and longitude together")


def test_plain_degrees_stay_as_they_were_written(kinds, tmp_path):
    """Decimal degrees need no reading: every digit that is stored stays, whatever the other rows of the sheet hold."""
    text = "Unit,Date,Lat,Lon\nU1,2025-03-01,38.1234567,-9.1\nU2,2025-03-01,38 30.5 N,-9.7654321\n"
    kept = [
        str(r["latitude"]) + " " + str(r["longitude"])
        for r in table(examined(text.encode(), "x.csv", LOSS, kinds, tmp_path), "loss")
    ]
    assert kept == ["38.1234567 -9.1000000", "38.5083333 -9.7654321"]


def test_datums_are_known_by_their_names():
    """Usual names of datums and EPSG codes are known however they are spelled; others are not guessed."""
    assert [datum_code(t) for t in ("WGS 84", "wgs-84", "EPSG:4326", "epsg 4326", "ED50", "NAD83", "chart", "4326")] == [
        "EPSG:4326", "EPSG:4326", "EPSG:4326", "EPSG:4326", "EPSG:4230", "EPSG:4269", "", "",
    ]  # fmt: skip
    assert (is_grid("EPSG:27700"), is_grid("EPSG:4230"), is_grid("EPSG:99999")) == (True, False, None)
    assert transformation_m("EPSG:4326") == 0 < transformation_m("EPSG:4230")


# --- names ------------------------------------------------------------------------------------------------


def test_a_programme_lists_species_of_its_own():
    """A programme's species and aliases are known beside ours, and its aliases go before our everyday names."""
    rules = parse_rules(
        (NAMED + '[species."Pelagophycus porra"]\naliases = ["elk kelp", "tangle"]\naphia_id = 7\n').encode()
    )
    names = Names(rules.species, rules.species_must_be_known)
    assert [names.read(t) for t in ("Elk-kelp", "tangle", "P. porra")] == ["Pelagophycus porra"] * 3
    assert names.accepted["Pelagophycus porra"] == 7
    assert Names().read("P. porra") == "P. porra"


RULE_MISTAKES = {
    "alias of two": (
        '[species.A]\naliases = ["k"]\n[species.B]\naliases = ["K"]\n',
        ["[species]", "'K'", "also one of A"],
    ),
    "key": ("[species.A]\nalias = 3\n", ["[species]", "[A]", "`alias`", "aliases"]),
    "must be known": ('[rules]\nspecies_must_be_known = "yes"\n', ["`species_must_be_known`", "true or false"]),
}


@pytest.mark.parametrize(("toml", "says"), RULE_MISTAKES.values(), ids=RULE_MISTAKES)
def test_mistakes_in_the_rules_are_told(toml, says):
    """A mistake in a programme's list of species is told with table, key and cure."""
    with pytest.raises(BadUsage) as told:
        parse_rules((NAMED + toml).encode())
    assert [s for s in ["programme.toml", *says] if s not in str(told.value)] == [], str(told.value)


def test_unknown_names_are_held_only_where_the_programme_says_so(new_programme):
    """By the rule of a programme every unknown name is held; without it one unlike any known one enters as written."""
    told = {}
    for rule in ("", "species_must_be_known = true"):
        programme = new_programme(sea=False)
        rules = programme.root / "programme.toml"
        rules.write_text(rules.read_text().replace("[rules]\n", f"[rules]\n{rule}\n"))
        programme.partner("club", BED)
        programme.put(
            "club", "beds.csv", b"Bed,Date,Species\nB1,2025-03-01,Pelagophycus porra\nB2,2025-03-01,stortare\n"
        )
        [entry] = programme.take()
        told[rule] = (entry.receipt.entered, entry.receipt.held)
    assert list(told.values()) == [(2, 0), (1, 1)]


def test_near_names_are_suggested():
    """What is wanted instead of a slip of the pen, and the advice for an unknown name, tell the names they are likest to."""
    assert "Laminaria hyperborea" in Names(must_be_known=True).read("Laminaria hyperbola").wanted
    assert "Laminaria digitata" in Names(must_be_known=True).read("Laminaria digital form").advice


def test_verified_ids_alone_are_given():
    """AphiaIDs are those of the published list (OBIS species list of 2023-10-17); unverified ones are left out."""
    ids = Names().accepted
    assert ids["Saccharina latissima"] == 234483 and ids["Strongylocentrotus droebachiensis"] == 124321
    assert ids["Ecklonia radiata"] == 0
    given = [i for i in ids.values() if i]
    assert len(given) == len(set(given))


def test_the_sheets_own_marks_hold_for_metres(kinds, tmp_path):
    """Eastings with a thousands mark are read where the mapping names it, and 530.000 is no 530 m in a sheet of commas."""
    style = 'decimal = ","\nthousands = "."\n[position]\ncrs = "EPSG:27700"\n'
    text = "Unit;Date;Lat;Lon\nU1;2025-03-01;180.000;530.000\nU2;2025-03-01;180000,0;530000,0\n"
    staged = examined(text.encode(), "x.csv", style + LOSS, kinds, tmp_path)
    assert [str(r["latitude"]) for r in table(staged, "loss")] == ["51.5039908", "51.5039908"]
    style = style.replace('thousands = "."\n', "")
    assert [row for row, *_ in faults(text, style + LOSS, kinds, tmp_path)] == [2, 2]


def test_degrees_with_a_point_in_a_sheet_of_commas(kinds, tmp_path):
    """A degree has no thousands, so either mark is a decimal mark, whatever the rest of the sheet is written with."""
    text = "Unit;Date;Lat;Lon\nU1;2025-03-01;38.712;-9,25\n"
    staged = examined(text.encode(), "x.csv", 'decimal = ","\nthousands = "."\n' + LOSS, kinds, tmp_path)
    [row] = table(staged, "loss")
    assert (str(row["latitude"]), str(row["longitude"])) == ("38.7120000", "-9.2500000")


def test_a_position_with_lost_letters_is_held(kinds, tmp_path):
    """Broken bytes in a position hold its row once, under its own heading, though what is left of it could be read."""
    rows = "".join(f"Algodão {n},2025-03-01,38° 30' N,9° 30' W\n" for n in range(20))
    text = ("Unit,Date,Lat,Lon\n" + rows).encode() + b"U1,2025-03-01,38.5\xff,-9.5\nU2,2025-03-01,38.5,-9.5\xff\n"
    staged = examined(text, "x.csv", LOSS, kinds, tmp_path)
    assert [(f["row"], f["column"], f["heading"]) for f in table(staged, "faults")] == [
        (22, "latitude", "Lat"),
        (23, "longitude", "Lon"),
    ]


def test_a_datum_without_a_position_is_known_too(kinds, tmp_path):
    """The name of a datum beside blank cells is written as its code, not refused."""
    text = "Bed,Date,Species,A,B,Datum\nB1,2025-03-01,Alaria esculenta,,,WGS 84\n"
    staged = examined(
        text.encode(), "x.csv", BED + 'latitude = "A"\nlongitude = "B"\ndatum = "Datum"\n', kinds, tmp_path
    )
    assert [r["datum"] for r in table(staged, "bed")] == ["EPSG:4326"]


@pytest.mark.parametrize(
    "text", ["1 " * 50000, "a" * 99999, " 1" * 99 + "x", ("N" + " " * 90) * 2, "1," * 99, "°" * 199, "1°" * 99]
)
def test_a_hostile_cell_costs_no_more_than_it_is_long(text):
    """Endless or repetitive cells are refused as fast as any other."""
    start = time.process_time()
    (
        read_angle(text),
        read_pair(text),
        read_grid(text, ""),
        read_grid(text, "EPSG:27700"),
        Names(must_be_known=True).read(text),
    )
    assert time.process_time() - start < 1
