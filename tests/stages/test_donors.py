"""Donor beds, custody and permits from drawn tables, through the ledger: what a diver could work out by hand."""

import pytest

from pipeline import look, run
from pipeline.errors import BadUsage
from pipeline.programme import parse_rules

KELP = "Laminaria hyperborea"
DONORS = """
[donors]
season_starts_month = 7
rest_days = 30
coolest_degc = 5
most_gap_hours = 2
[donors.most_hours]
dry = 1
[limits]
most_hours_to_release = 24
warmest_degc = 15
"""
REGISTERS = {
    "programme/bed more.csv": """
        bed_key   species                estimated_on   fertile   fertile_low   fertile_high   adults   estimate_method   take_limit_pct   limit_source      rest_days   latitude   longitude   datum       uncertainty_m   sensitive
        B         Laminaria hyperborea   2024-06-01     200       160           400            900      belts             10               Harbour Office    60          39.0       -9.4        EPSG:4326   20              none
        C         Laminaria hyperborea   2025-01-20     .         .             .              .        .                 .                .                 .           39.5       -9.0                .   20              0.01
        D         Laminaria hyperborea   2025-01-20     .         .             .              100      belts             .                .                 .           39.5       -9.0        EPSG:4326   20              withheld
    """,
    "programme/bed of blades.csv": """
        bed_key   species                estimated_on   blades   blades_low   blades_high   estimate_method   take_limit_pct
        E         Laminaria hyperborea   2025-01-20     400      0            500           frames            10
    """,
    "programme/permit.csv": """
        permit_key   authority   holder   activity           valid_from   valid_to     species                 quota   quota_unit   report_due   status
        P-1          Harbour     All      collect            2024-10-01   2025-02-28   Laminaria hyperborea    50      plants       2025-12-31   in force
        P-2          Harbour     All      place on seabed    2025-01-01   2025-12-31   Saccharina latissima    9       Units        .            lapsed
        P-3          Harbour     All      collect            2025-01-01   2025-12-31   .                       5       blades       .            .
    """,
}
CUTTINGS = {
    "club/collection.csv": """
        batch_key   bed_key   species                plants_cut   blades_cut   parents   happened     permit_key   cut_from           cut_to
        N1          B         Laminaria hyperborea   12           30           12        2024-11-20   P-1          2024-11-20 08:00   2024-11-20 09:00
        N2          B         Laminaria hyperborea   9            .            .         2025-02-03   P-1          2025-02-03 08:00   2025-02-03 09:00
        N3          C         Laminaria hyperborea   5            .            5         2025-03-04   P-1          .                  .
        N4          C         Laminaria hyperborea   7            9            7         2025-03-04   P-3          .                  .
    """,
    "school/collection.csv": """
        batch_key   bed_key   species                plants_cut   blades_cut   parents   happened     permit_key   cut_from           cut_to
        N5          B         Laminaria hyperborea   40           .            40        2025-08-01   P-2          .                  .
        N6          D         Laminaria hyperborea   4            .            4         2025-08-01   .            .                  .
        N7          D         Laminaria hyperborea   many         .            4         2025-08-02   .            .                  .
        N8          ZZ        Laminaria hyperborea   4            .            4         2025-08-02   P-1          .                  .
        N9          E         Laminaria hyperborea   4            60           4         2025-05-02   .            .                  .
        N10         E         Laminaria hyperborea   4            .            4         2025-05-02   .            .                  .
    """,
}
KEPT = {
    "lab/handling.csv": """
        batch_key   step      started_at         ended_at           parent_batches   temp_min_degc   temp_max_degc   vessel
        N2          clean     2025-02-03 10:00   2025-02-03 11:00   .                8               9               .
        N2          dry       2025-02-03 11:00   2025-02-03 12:30   .                8               10              .
        N2          dry       2025-02-03 12:00   2025-02-03 13:00   .                8               10              .
        M1          merge     2025-02-03 13:00   .                  N1;N2;NX         .               .               .
        M1          hold      2025-02-03 13:00   2025-02-03 20:00   .                6               7               box 7
        M1          carry     2025-02-04 06:00   2025-02-04 07:00   .                .               .               .
        M1          carry     2025-02-xx 06:00   2025-02-04 07:00   .                .               .               .
    """,
    "lab/reading.csv": """
        logger_key   at                 quantity      value   unit   flag
        Box 7        2025-02-03 14:00   temperature   4.5     degC   .
        Box 7        2025-02-03 15:00   temperature   16.5    degC   good
        Box 7        2025-02-03 16:00   temperature   30      degC   bad
        Box 7        2025-02-04 16:00   temperature   35      degC   .
        Box 8        2025-02-03 16:00   temperature   35      degC   .
    """,
    "club/deployment.csv": """
        unit_key   method      site_key   plot_key   happened     down_at            opened_at          batch_key   permit_key   boat_temp_degc   unit_count
        U1         spore bag   CB         T1         2025-02-04   2025-02-04 08:00   2025-02-04 08:30   N2          P-2          11               .
        U2         spore bag   CB         T1         2025-02-04   2025-02-04 09:00   .                  N2          P-2          .                .
        U3         spore bag   CB         T1         2025-02-04   .                  .                  N2          P-2          .                .
        U4         spore bag   NP         T1         2025-02-04   .                  2025-02-04 10:00   M1          P-2          .                .
        U5         spore bag   NP         T1         2025-02-04   .                  .                  .           .            .                .
        G1         gravel      CB         T1         2025-02-04   .                  .                  N3;N4       P-2          .                30
    """,
}


@pytest.fixture(scope="module")
def told(new_programme, rules):
    """A programme with beds, cuttings, custody and permits, measured."""
    programme = new_programme(rules=rules + DONORS)
    programme.take({**REGISTERS, **CUTTINGS, **KEPT})
    return programme


@pytest.fixture(scope="module")
def made(told):
    """Its figures."""
    return told.figures()


@pytest.fixture(scope="module")
def published(told):
    """Its folder and what it publishes."""
    run.refresh(told.root)
    return told.root, look.published(told.root)


def shown(e):
    """A figure's numbers, whichever it has."""
    return (
        (e.value, e.low, e.high)
        if e.state == "estimated"
        else (e.value_from, e.value_to)
        if e.state == "bounded"
        else e.note
    )


def test_share_of_a_bed_over_new_year(made):
    """12 + 9 of about 200 (160 to 400) fertile plants in a season from July to June: 10.5 %, from 5.25 to 13.1 %."""
    e = made["share of fertile plants cut", "B", "2024/25"]
    assert shown(e) == (10.5, 5.25, 13.125)
    assert "21 plants of about 200 (160 to 400" in e.note
    assert "the limit is 10 % (set by: Harbour Office): the interval holds it: cannot tell" in e.note
    assert "cut more than once: a plant cut twice counts twice" in e.cautions
    assert shown(made["share of adult plants cut", "B", "2024/25"]) == (pytest.approx(100 * 21 / 900), None, None)


def test_a_share_beyond_the_limit(made):
    """40 plants in the next season are 20 %, at least 10 %; the estimate's high is the limit itself, so none can tell."""
    e = made["share of fertile plants cut", "B", "2025/26"]
    assert shown(e) == (20, 10, 25)
    assert "cannot tell" in e.note
    assert "the estimate was 426 days old when cutting began" in e.cautions


def test_a_share_that_is_not_known(made):
    """A bed without an estimate, and one that nobody registered, have no share; a bed of adults alone has none of fertile plants."""
    assert shown(made["share of fertile plants cut", "C", "2024/25"]).startswith(
        "share not known: the bed has no estimate"
    )
    e = made["share of fertile plants cut", "ZZ", "2025/26"]
    assert shown(e) == "share not known: the bed ZZ is not registered"
    assert "cuttings that wait and are left out: 1" in e.cautions
    e = made["share of adult plants cut", "D", "2025/26"]
    assert shown(e) == (4, None, None)
    assert "set by the programme; no local limit is entered" in e.note
    assert "without an interval none can tell" in e.note
    assert "rows of cuttings that are held, of whichever bed: 1" in e.cautions


def test_a_share_of_blades(made):
    """60 of about 400 (0 to 500) fertile blades are 15 %, at least 12 %: beyond 10 % of blades, since only they were estimated."""
    e = made["share of fertile blades cut", "E", "2024/25"]
    assert shown(e) == (15, 12, None)
    assert e.note.endswith("the limit is 10 % (the bed's own, source not stated): the whole interval lies beyond it")
    assert "60 blades of about 400 (0 to 500: no upper limit)" in e.note
    assert "cuttings that do not say how many blades: 1" in e.cautions
    assert shown(made["share of fertile plants cut", "E", "2024/25"]).startswith("share not known")


def test_rest_between_cuttings(made):
    """75 days from 20 November to 3 February, 179 to the next; the bed asks for 60. Two cuttings of a day are one day."""
    e = made["rest between cuttings", "B", "2024/25"]
    assert (e.value, e.n) == (75, 2)
    assert "from 2024-11-20 to 2025-02-03; it is to rest 60 days (the bed's own rule" in e.note
    assert made["rest between cuttings", "B", "2025/26"].value == 179
    assert shown(made["rest between cuttings", "C", "2024/25"]) == "no earlier cutting of this bed is recorded"


def test_parents_through_mixing(made):
    """A mix of two cuttings of one bed and an unknown batch has at least the larger one's 12 parents, and no upper end."""
    assert shown(made["parent plants of a batch", "N1"]) == (12, None, None)
    assert shown(made["parent plants of a batch", "N2"]) == (
        1,
        9,
    )  # 9 were cut from, and nobody told how many gave tissue
    e = made["parent plants of a batch", "M1"]
    assert shown(e) == (12, None)
    assert "parents not known of: NX" in e.cautions
    e = made["parent plants of a site", "NP"]
    assert shown(e) == (12, None)
    assert "units whose batch nobody told: 1" in e.cautions
    # at CB: N2 (1 to 9 of bed B), N3 and N4 (7 to 12 of bed C)
    assert shown(made["parent plants of a site", "CB"]) == (8, 21)


def test_distance_from_bed_to_site(made):
    """0.4 degrees of longitude at 39 N are 34.651 km of the ellipsoid's parallel, give or take both uncertainties; a blurred bed is told in steps."""
    e = made["donor distance", "CB", "B"]
    assert e.value == pytest.approx(34.6505, abs=0.001)
    assert (e.high - e.value, e.value - e.low) == (pytest.approx(0.03), pytest.approx(0.03))
    e = made["donor distance", "CB", "C"]
    assert (e.value, e.value_to - e.value_from) == (None, pytest.approx(1.1132))
    assert e.value_from < 55.505 < e.value_to


def test_an_assumed_datum_stands_beside_a_distance(made):
    """A bed whose position came without a datum brings a caution to the distance, as a site's would; one with it brings none."""
    assumed = "the datum of bed C was not told; EPSG:4326 is assumed"
    assert assumed in made["donor distance", "CB", "C"].cautions
    assert not any("datum" in c for c in made["donor distance", "CB", "B"].cautions)


def test_custody_of_a_batch(made):
    """Hours, temperatures and gaps of N2, cut by 9:00: cleaned 10 to 11, dried 11 to 13, opened 8:30 the next day, one put down at 9."""
    e = made["hours from cut to opening", "N2"]
    assert shown(e) == (24, None, None)
    assert "from 23.5 to 24.0 h over its units; at most 24 h" in e.note
    assert "units that do not say when they were opened, so that the time put down stands in: 1" in e.cautions
    assert "units without any time, left out: 1" in e.cautions
    e = made["hours of a step", "N2", "dried"]
    assert e.value == 2
    assert "longer than the 1 h that the programme sets" in e.cautions
    assert made["hours of a step", "N2", "cut"].value == 1
    assert shown(made["hours of a step", "N2", "held cool"]) == "nobody told of it"
    e = made["hours without a record", "N2"]
    assert e.value == 20
    assert "no record between dried and put down: 20.0 h from 2025-02-03 13:00 UTC" in e.note
    assert "steps that nobody told of: held cool, carried sealed" in e.cautions
    assert (made["warmest tissue", "N2"].value, made["coolest tissue", "N2"].value) == (11, 8)
    assert "no temperature is told of: held cool, carried sealed" in made["warmest tissue", "N2"].cautions


def test_custody_of_a_mix(made):
    """M1 goes back to N1 (cut 75 days before) and N2; a logger named like its box read 4.5 to 16.5 while it was held."""
    e = made["hours from cut to opening", "M1"]
    assert e.value == 76 * 24 + 1
    assert "longer than the 24 h that the programme sets" in e.cautions
    e = made["warmest tissue", "M1"]
    assert (e.value, made["coolest tissue", "M1"].value) == (16.5, 4.5)
    assert "warmer than the 15 degC that the programme sets" in e.cautions
    assert "cooler than the 5 degC that the programme sets" in made["coolest tissue", "M1"].cautions
    assert "readings of a logger named like the vessel or the batch: 2" in e.cautions
    e = made["hours without a record", "M1"]
    # N1: from 9:00 on 20 November to 13:00 on 3 February; then 20:00 to 6:00 and 7:00 to 10:00
    assert e.value == 75 * 24 + 4 + 10 + 3
    assert "no record between held cool and carried sealed: 10.0 h" in e.note
    assert "no record between carried sealed and opened on the bottom: 3.0 h" in e.note
    assert "not told of the tissue of N1" in made["hours of a step", "M1", "cleaned"].cautions
    assert (
        "rows on its keeping that are held: 1" not in e.cautions
    )  # its key cannot be read, so nobody knows whose it is


def test_custody_that_nobody_told(made):
    """A batch cut at no known time and put down at none has stated refusals."""
    assert shown(made["hours from cut to opening", "N3"]) == "nobody told at what time it was opened or put down"
    assert shown(made["hours without a record", "N3"]) == "nobody told at what time it was cut"
    assert shown(made["warmest tissue", "N3"]) == "nobody told how warm it was"
    assert shown(made["coolest tissue", "N3"]) == "nobody told how cool it was"
    assert shown(made["hours from cut to opening", "N5"]) == "no unit of it was put down"
    assert shown(made["hours of a step", "N3", "cut"]) == "nobody told when it began and ended"


def test_takings_of_all_partners_under_a_permit(made):
    """12 + 9 + 5 of 50 plants, of two partners' hands; one is dated after its last day, one waits for its bed."""
    e = made["recorded under a permit", "P-1"]
    assert (shown(e), e.n) == ((26, None, None), 3)
    assert e.note.startswith(
        "recorded 26 plants of 50 allowed under permit P-1, the last on 2025-03-04; what was not reported is not known"
    )
    assert "report due on 2025-12-31" in e.note
    assert "events dated before or after the days it holds: 1" in e.cautions
    assert "events that wait and are left out: 1" in e.cautions
    assert made["share of a permit's quota", "P-1"].value == 52


def test_placings_and_what_does_not_fit(made):
    """34 units and pieces of a quota of 9, with tissue of another species; a cutting under it is told of and not counted."""
    e = made["recorded under a permit", "P-2"]
    assert shown(e) == (34, None, None)
    assert "the quota is passed by what is recorded, counted by day since 2025-02-04" in e.cautions
    assert "events of another species than it names: 5" in e.cautions
    assert "name it, though it allows something else, and are not counted: 1 cuttings" in e.cautions
    assert "its status is “lapsed”" in e.cautions
    assert made["share of a permit's quota", "P-2"].value == pytest.approx(100 * 34 / 9)


def test_a_quota_in_blades(made):
    """A quota in blades counts blades: 9 of 5, and so it is passed."""
    assert made["recorded under a permit", "P-3"].value == 9
    assert (
        "the quota is passed by what is recorded, counted by day since 2025-03-04"
        in made["recorded under a permit", "P-3"].cautions
    )


def test_events_that_name_no_permit(made):
    """Three cuttings and one unit name none: they are counted, not judged."""
    assert made["recorded without a permit", "cuttings"].value == 3
    assert made["recorded without a permit", "units put down"].value == 1


def test_no_word_says_that_a_permit_was_kept(made):
    """No figure and no entry of the catalogue says compliant, within a permit, or that all is well."""
    from pipeline.groups.donors import ENTRIES

    told = [str(e) for e in made.values()] + [str(i) for i in ENTRIES]
    for text in told:
        for word in (
            "complian",
            "complied",
            "within permit",
            "within the permit",
            "genetically suitable",
            "because of",
        ):
            assert word not in text.lower()
    assert all("ocal " in i.limits for i in ENTRIES if "limit" in i.source or "permit" in i.name)


@pytest.mark.parametrize(
    "indicator",
    ["share of fertile plants cut", "parent plants of a site", "warmest tissue", "hours without a record", "recorded under a permit"],
)  # fmt: skip
def test_evidence_gives_the_same_figures(published, tmp_path, indicator):
    """A programme of only the rows that a figure leads home to gives it again."""
    root, figures = published
    mine = [f for f in figures if f.indicator == indicator]
    figure = max(mine, key=lambda f: (len(f.estimate.cautions), f.id))  # the one with most to say
    assert look.evidence(root, figure, tmp_path / "e")


@pytest.mark.parametrize(
    ("donors", "words"),
    [
        ("[donors]\nseason_starts_month = 13", "a month from 1 to 12"),
        ("[donors]\nseason_starts_month = 0", "a month from 1 to 12"),
        ("[donors]\nrest = 3", "`rest` is not known here"),
        ("[donors.most_hours]\nfry = 3", "`fry` is not known here"),
        ("[donors]\nmost_gap_hours = -1", "0 or more is wanted"),
    ],
)
def test_slips_in_the_rules_are_told(rules, donors, words):
    """A wrong month, a wrong key, a wrong step and hours below 0 are refused, with what is wanted."""
    with pytest.raises(BadUsage, match=words):
        parse_rules((rules + donors).encode())
