"""Gear: what came home, what is still out, and what was found of lots; from drawn tables, counted by hand."""

import datetime as dt
from decimal import Decimal

import pytest

from pipeline.groups import gear
from pipeline.indicators.gear import Gear, due, known_mass, not_accounted_for
from pipeline.indicators.lots import LotLook, fraction_found

DOWN = """
    unit_key   method          site_key   plot_key   happened     unit_count   material       mass_kg   retrieve_by
    B1         spore bag       CB         T1         2025-03-01   1            Jute           2         2025-05-01
    B2         spore bag       CB         T1         2025-03-01   1            jute           2         2025-05-01
    B3         spore bag       CB         T1         2025-03-01   .            jute           2         2025-05-01
    B4         spore bag       CB         T1         2025-03-01   1            polypropylene  .         2025-05-01
    N1         spore bag       NP         T1         2025-03-01   1            jute           3         2026-05-01
    G1         seeded gravel   CB         T1         2025-03-01   40           stone          8         .
    G2         seeded gravel   CB         T1         2025-03-01   20           stone          4         .
    G3         seeded gravel   CB         T1         2025-03-01   20           stone          4         .
"""

LOOKED = """
    visit_key   site_key   happened     unit_key   state      search_time_min   count_found   area_searched_m2   retrieved_whole
    D1          CB         2025-04-10   B1         attached   10                .             .                  .
    D1          CB         2025-04-10   B4         attached   10                .             .                  .
    D1          CB         2025-04-10   G1         attached   .                 30            12                 .
    D1          CB         2025-04-10   G2         absent     .                 .             8                  .
    D1          CB         2025-04-10   G3         attached   .                 .             .                  .
    D2          CB         2025-06-01   B1         retrieved  10                .             .                  no
    D2          CB         2025-06-01   G1         retrieved  .                 10            .                  .
    E1          NP         2025-06-01   N1         attached   10                .             .                  .
"""

LOST = """
    unit_key      happened     how_known   gear_recovered
    B2            2025-04-20   ashore      yes
    B3            2025-04-20   adrift      no
    cannot name   2025-04-21   ashore      yes
"""

BAG, GRAVEL = "spore bag", "seeded gravel"


@pytest.fixture(scope="module")
def told(new_programme):
    """Five bags and three lots: one bag brought home torn, one ashore and home, one adrift, two in place; ten stones home."""
    programme = new_programme()
    entries = programme.take({"club/deployment.csv": DOWN, "club/check.csv": LOOKED, "club/loss.csv": LOST})
    assert [programme.faults(e) for e in entries] == [[], [], []]
    return programme.figures(groups=[gear])


def test_what_is_not_accounted_for(told):
    """Four bags at the cove, one brought home, one found and brought home: two are out, one of them in place."""
    figure = told["gear not accounted for", "CB", BAG]
    assert (figure.value, figure.n) == (2, 4)
    assert "4 put down, 1 brought home, 1 found after they were lost" in figure.note
    assert "of the rest 1 were in place when last seen" in figure.note and "local permits rule" in figure.note
    assert "pieces brought home in part, counted as home: 1" in figure.cautions


def test_over_sites_and_in_all(told):
    """Over both sites three bags are out; with 70 stones of 80 it is 73 pieces of 85."""
    assert told["gear not accounted for", "all", BAG].value == 3
    assert told["gear not accounted for", "CB", GRAVEL].value == 70
    every = told["gear not accounted for", "all"]
    assert (every.value, every.n) == (73, 85)
    assert "finds brought home that nobody could name, of this gear or not: 1" in every.cautions


def test_by_material_however_it_is_written(told):
    """Of four pieces of jute two are out, and the one of plastic."""
    assert told["gear not accounted for", "all", "jute"].value == 2
    assert told["gear not accounted for", "all", "polypropylene"].value == 1
    assert told["gear not accounted for", "all", "stone"].value == 70


def test_kilograms_where_they_are_known(told):
    """2 and 3 kg of jute, 14 of the lots' 16 kg; the plastic bag's mass is not known, and nothing is made up for it."""
    assert told["gear not accounted for, known kg", "all", "jute"].value == 5
    assert told["gear not accounted for, known kg", "CB", GRAVEL].value == 14
    every = told["gear not accounted for, known kg", "all"]
    assert every.value == 19 and every.note.startswith("at least: the mass of 1 more is not told")
    plastic = told["gear not accounted for, known kg", "all", "polypropylene"]
    assert plastic.state == "not estimable" and plastic.value is None and "no mass was told" in plastic.note


def test_in_place_when_last_seen(told):
    """The plastic bag and the one at the nose were in place; of the lots 30 stones were counted, and 10 taken up later."""
    assert told["gear in place when last seen", "all", BAG].value == 2
    assert told["gear in place when last seen", "CB", GRAVEL].value == 20


def test_due_for_retrieval(told):
    """Two bags at the cove are past their day, the nose's is not yet; lots have no day, and no figure is made of that."""
    cove = told["gear due for retrieval", "CB", BAG]
    assert cove.value == 2 and "1 of them were in place when last seen" in cove.note
    assert "when conditions and your supervisor allow" in cove.note
    assert told["gear due for retrieval", "NP", BAG].value == 0
    lots = told["gear due for retrieval", "CB", GRAVEL]
    assert lots.state == "not estimable" and "no day was set" in lots.note
    assert "no day was set for 70 more" in told["gear due for retrieval", "all"].note


def test_nothing_was_due_before_its_day(new_programme):
    """As of a day before the day set nothing is due."""
    programme = new_programme()
    programme.take({"club/deployment.csv": DOWN, "club/check.csv": LOOKED, "club/loss.csv": LOST})
    early = programme.figures(dt.date(2025, 4, 30), groups=[gear])
    assert early["gear due for retrieval", "CB", BAG].value == 0
    assert early["gear not accounted for", "CB", BAG].value == 3


def test_pieces_found_of_lots(told):
    """30 of 60 pieces of the two lots that were counted, one of them with none; the third was not counted and is left out."""
    figure = told["pieces found of lots", "CB", "2025-04-10", GRAVEL]
    assert (figure.value, figure.n) == (0.5, 2)
    assert "30 of 60 pieces, of 2 of 3 lots, found in 20 m2 searched, 40 days after" in figure.note
    assert "lots looked at and not counted, left out: 1" in figure.cautions
    assert figure.low is None and "no retention" in figure.note


def test_lots_have_no_curve(told):
    """An untagged lot has no retention, by whatever it is told."""
    assert not [key for key in told if GRAVEL in key and ("retention" in key[0] or "half" in key[0])]


LOOK = LotLook("CB", GRAVEL, dt.date(2025, 4, 10), 2, 3, 60, 30, 20.0, 0, 0, 0, 40, 45)


def test_lots_that_nobody_counted():
    """Lots looked at and never counted give a stated refusal."""
    figure = fraction_found(LOOK._replace(lots=0, pieces=0, found=0, area_m2=None, uncounted=3))
    assert (
        figure.state == "not estimable"
        and figure.value is None
        and "3 lots were looked at and none counted" in figure.note
    )


def test_more_pieces_found_than_put_down():
    """More pieces than were put down are told as they are, with a caution; so is a search of an unknown area."""
    figure = fraction_found(LOOK._replace(found=66, too_many=1, area_m2=None, without_area=2))
    assert figure.value == 1.1
    assert figure.cautions == (
        "lots counted without the area searched: 2",
        "lots of which more pieces were found than put down: 1",
    )
    assert "an area that nobody told" in figure.note and "40 to 45 days" in figure.note


NOTHING = Gear("CB", BAG, "jute", False, 3, 3, 0, 0, Decimal(0), 0, 0, 0, 0)


def test_when_all_came_home():
    """When all came home nothing is out, nothing is due, and it weighs nothing."""
    assert [f([NOTHING]).value for f in (not_accounted_for, known_mass, due)] == [0, 0, 0]


def test_a_lot_brought_home_uncounted_stays_in_full(new_programme):
    """A lot of which something came home that nobody counted is still out in full, and the figure says so; a whole one is home."""
    programme = new_programme()
    home = LOOKED.replace("G1         retrieved  .                 10 ", "G1         retrieved  .                 .  ")
    whole = home.replace("G3         attached   .                 .             .                  .", "G3         retrieved  .                 .             .                  yes")  # fmt: skip
    programme.take({"club/deployment.csv": DOWN, "club/check.csv": whole})
    assert programme.ask("select unit_key, retrieved, uncounted from gear where pieces > 1 order by all") == [
        ("G1", 0, 1),
        ("G2", 0, 0),
        ("G3", 20, 0),
    ]
