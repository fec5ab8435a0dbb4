"""Coming again: what the judge makes of a part when its thing was spoken of before, or twice at once."""

import pytest

from pipeline import run, settle
from pipeline.ledger.store import Ledger


def visits(**visibility):
    """A drawn sheet of dives at the cove with their visibility in metres: visits(D1=5, D2=6)."""
    rows = [f"{dive}   CB   2025-03-0{dive[1:]}   found   {metres}" for dive, metres in visibility.items()]
    return "\n".join(["visit_key   site_key   happened   outcome   visibility_m", *rows])


FOUR = visits(D1=5, D2=6, D3=7, D4=8)
NOW = "select visit_key, cast(visibility_m as int) from visit_now order by all"
FOUR_NOW = [("D1", 5), ("D2", 6), ("D3", 7), ("D4", 8)]


# --- repeats, amendments, older versions ---------------------------------------------------------------------


def test_the_same_again_is_a_repeat(programme, draw):
    """A cumulative sheet with one row more: what is known is recognised, in whatever file and writing it comes."""
    programme.take({"club/visit.csv": FOUR})
    [entry] = programme.take({"club/visit.csv": visits(D1="5.0", D2="6.000", D3="+7", D4="08", D5=9)})
    assert programme.fates(entry) == ["2 repeated", "3 repeated", "4 repeated", "5 repeated", "6 entered"]
    [entry] = programme.take({"club/visits of spring.csv": draw(FOUR) + b"\n"})
    assert entry.receipt.repeated == 4
    assert (entry.receipt.entered, entry.receipt.held) == (0, 0)


def test_equal_bytes_are_not_even_read(programme):
    """A file of known bytes is no news, under whatever name it lies in the partner's inbox."""
    programme.take({"club/visit.csv": FOUR})
    assert programme.take({"club/visit (2).csv": FOUR}) == []


def test_other_content_is_an_amendment(programme):
    """Other values for a known thing amend it: the new ones count from now on, the old ones stay on record."""
    programme.take({"club/visit.csv": FOUR})
    [entry] = programme.take({"club/visit.csv": visits(D1=50, D2=6, D3=7, D4=8)})
    assert programme.fates(entry) == ["2 amends", "3 repeated", "4 repeated", "5 repeated"]
    assert programme.ask(NOW) == [("D1", 50), *FOUR_NOW[1:]]
    said = programme.ask("select fate, cast(visibility_m as int) from visit_said where visit_key = 'D1' order by entry")
    assert said == [("entered", 5), ("amends", 50)]


def test_each_part_is_stored_once(programme):
    """What entered, amends or is a question stands in its kind's segment alone, and what is at fault or was said before in `part` alone; a
    file of good rows has no `part`."""
    [first] = programme.take({"club/visit.csv": FOUR})
    assert first.segment("part") is None and len(programme.segment(first, "visit")) == first.receipt.parts == 4
    programme.take({"club/visit.csv": visits(D1=50, D2=6, D3=7, D4=8)})
    [entry] = programme.take({"club/visit.csv": visits(D1=5, D2=60, D3="clear", D4=8, D5=9)})
    stored = {name: [(r["row"], r["fate"]) for r in programme.segment(entry, name)] for name in ("visit", "part")}
    assert stored == {
        "visit": [(2, "question"), (3, "amends"), (6, "entered")],
        "part": [(4, "faulty"), (5, "repeated")],
    }
    assert [p["row"] for p in programme.parts(entry)] == [2, 3, 4, 5, 6]
    assert programme.ask(f"select row, fate, kind from part where entry = {entry.number} order by row") == [
        (2, "question", "visit"), (3, "amends", "visit"), (4, "faulty", "visit"), (5, "repeated", "visit"), (6, "entered", "visit"),
    ]  # fmt: skip


def test_an_older_version_is_a_question(programme):
    """A sheet that says again what stood before an amendment is asked about and undoes nothing."""
    programme.take({"club/visit.csv": FOUR})
    programme.take({"club/visit.csv": visits(D1=50, D2=6, D3=7, D4=8)})
    [entry] = programme.take({"club/visit.csv": visits(D1=5, D2=6, D3=7, D4=8, D5=9)})
    assert programme.fates(entry) == ["2 question: older", "3 repeated", "4 repeated", "5 repeated", "6 entered"]
    assert programme.ask(NOW) == [("D1", 50), *FOUR_NOW[1:], ("D5", 9)]


def test_the_newest_version_again_is_a_repeat(programme):
    """After an amendment its own values are the known ones."""
    programme.take({"club/visit.csv": FOUR})
    programme.take({"club/visit.csv": visits(D1=50, D2=6, D3=7, D4=8)})
    [entry] = programme.take({"club/more.csv": visits(D1=50)})
    assert programme.fates(entry) == ["2 repeated"]


# --- withdrawals ---------------------------------------------------------------------------------------------

WITHDRAWAL = """
    happened     withdraws_kind   withdraws_key   reason
    2025-04-01   visit            D1              never dived
"""


@pytest.mark.parametrize("first", ["the visits", "the withdrawal"])
def test_what_was_withdrawn_and_comes_again_is_a_question(programme, first):
    """A withdrawn thing does not come back by being handed in again, whichever came first."""
    nights = [{"club/visit.csv": FOUR}, {"club/withdrawal.csv": WITHDRAWAL}]
    for files in nights if first == "the visits" else nights[::-1]:
        programme.take(files)
    [entry] = programme.take({"club/visit.csv": visits(D1=5, D2=6, D3=7, D4=8, D5=9)})
    assert programme.fates(entry)[0] == "2 question: withdrawn"
    assert programme.ask(NOW) == [*FOUR_NOW[1:], ("D5", 9)]


def test_withdrawal_and_thing_in_one_take_in(programme):
    """A thing withdrawn on the very night it comes does not count."""
    programme.take({"club/visit.csv": FOUR, "club/withdrawal.csv": WITHDRAWAL})
    assert programme.ask(NOW) == FOUR_NOW[1:]


def test_another_partners_withdrawal_says_nothing_of_ours(programme):
    """A partner's dives are its own: another partner's withdrawal of a dive with the same code changes nothing."""
    programme.take({"club/visit.csv": FOUR, "school/withdrawal.csv": WITHDRAWAL})
    assert programme.ask(NOW) == FOUR_NOW


def test_keys_that_end_in_blanks_can_be_withdrawn(programme):
    """A count's key often ends in a blank part; its withdrawal finds it, with or without the bars at the end."""
    programme.take({
        "club/survey.csv": """
            visit_key   happened     site_key   plot_key   frame_key   frame_type   placement   protocol   species                stage     count   area_m2
            D1          2025-06-01   CB         T1         1           quadrat      random      frames     Laminaria hyperborea   recruit   3       0.25
            D1          2025-06-01   CB         T1         2           quadrat      random      frames     .                      .         0       0.25
        """,
    })  # fmt: skip
    keys = [k for (k,) in programme.ask("select key from survey_now order by frame_key")]
    assert keys == ["D1 | T1 | 1 | Laminaria hyperborea | recruit", "D1 | T1 | 2"]
    programme.take({
        "club/withdrawal.csv": f"happened   withdraws_kind   withdraws_key   reason\n2025-07-01   survey   {keys[0]} |   slip",
    })  # fmt: skip
    assert programme.ask("select key from survey_now") == [("D1 | T1 | 2",)]


# --- conflicts -----------------------------------------------------------------------------------------------


def test_two_contents_in_one_drop_are_a_conflict(programme):
    """A thing told in two ways by one file is held both times; told twice in the same way it is told once."""
    rows = visits(D1=5, D2=6) + "\nD1   CB   2025-03-01   found   9\nD2   CB   2025-03-02   found   6"
    [entry] = programme.take({"club/visit.csv": rows})
    assert programme.fates(entry) == ["2 conflict: conflict", "3 entered", "4 conflict: conflict", "5 repeated"]
    assert programme.ask(NOW) == [("D2", 6)]


def test_two_contents_beside_a_known_one_are_a_conflict(programme):
    """Of two contents in one drop not even the one that is already known is taken, and the known one waits."""
    programme.take({"club/visit.csv": FOUR})
    [entry] = programme.take({"club/visit.csv": FOUR + "\nD1   CB   2025-03-01   found   9"})
    assert programme.fates(entry)[0] == "2 conflict: conflict"
    assert programme.fates(entry)[-1] == "6 conflict: conflict"
    assert programme.ask(NOW) == FOUR_NOW[1:]


@pytest.mark.parametrize("names", [("a/visit.csv", "z/visit.csv"), ("z/visit.csv", "a/visit.csv")])
def test_two_drops_of_one_take_in_are_a_conflict_in_any_order(programme, names):
    """Two files of one night that contradict each other are both held, whichever is listed first."""
    entries = programme.take({f"club/{names[0]}": visits(D1=5, D2=6), f"club/{names[1]}": visits(D1=9, D3=7)})
    assert sorted(tuple(programme.fates(e)) for e in entries) == [("2 conflict: conflict", "3 entered")] * 2
    assert programme.ask(NOW) == [("D2", 6), ("D3", 7)]
    assert [e.disputed_with for e in entries] == [(entries[1].drop,), (entries[0].drop,)]


UNIT = "unit_key   method   site_key   plot_key   happened\n{unit}   {method}   CB   T1   2025-03-01"


@pytest.mark.parametrize("partners", [("club", "school"), ("school", "club")])
def test_two_partners_in_one_take_in_are_a_conflict_in_any_order(programme, partners):
    """Two partners who say different things of a shared code on one night are both held, whichever is listed first."""
    entries = programme.take({
        f"{partners[0]}/deployment.csv": UNIT.format(unit="B1", method="spore bag"),
        f"{partners[1]}/deployment.csv": UNIT.format(unit="B1", method="transplant"),
    })  # fmt: skip
    assert [programme.fates(e) for e in entries] == [["2 conflict: conflict"]] * 2
    assert programme.ask("select unit_key from deployment_now") == []


def test_another_partner_on_a_shared_code_is_a_conflict(programme):
    """A partner cannot amend what another said of a shared code: it is held, and neither counts until that is settled."""
    programme.take({"club/deployment.csv": UNIT.format(unit="B1", method="spore bag")})
    [entry] = programme.take({"school/deployment.csv": UNIT.format(unit="B1", method="transplant")})
    assert programme.fates(entry) == ["2 conflict: other partner"]
    assert programme.ask("select unit_key from deployment_now") == []


def test_another_partner_who_agrees_repeats(programme):
    """Two partners who say the same of a shared code say it once."""
    programme.take({"club/deployment.csv": UNIT.format(unit="B1", method="spore bag")})
    [entry] = programme.take({"school/deployment.csv": UNIT.format(unit="B1", method="spore bag")})
    assert programme.fates(entry) == ["2 repeated"]


def test_own_codes_of_two_partners_are_two_things(programme):
    """Dives are their partner's: one code used by two partners means two dives."""
    entries = programme.take({"club/visit.csv": visits(D1=5), "school/visit.csv": visits(D1=9)})
    assert [programme.fates(e) for e in entries] == [["2 entered"]] * 2
    assert programme.ask(NOW) == [("D1", 5), ("D1", 9)]


def test_the_programme_may_amend(programme):
    """The programme amends a shared code that a partner spoke of; the partner's other word then puts it in no doubt."""
    head, row = UNIT.splitlines()
    sheet = "\n".join([head, *(row.format(unit=f"B{i}", method="spore bag") for i in range(1, 5))])
    programme.take({"club/deployment.csv": sheet})
    [entry] = programme.take({"programme/deployment.csv": sheet.replace("B1   spore bag", "B1   transplant")})
    assert programme.fates(entry)[0] == "2 amends"
    [entry] = programme.take({"club/deployment.csv": sheet.replace("B1   spore bag", "B1   seeded line")})
    assert programme.fates(entry)[0] == "2 conflict: other partner"
    assert programme.ask("select method from deployment_now where unit_key = 'B1'") == [("transplant",)]


# --- drops that change much, rows that vanished --------------------------------------------------------------


BAGS = "unit_key   method   site_key   plot_key   happened   fixing\n" + "\n".join(
    f"W{n}   spore bag   CB   T1   2025-03-01   bolt" for n in range(1, 7)
)


def test_what_never_counted_may_be_mended_in_any_number(programme):
    """Rows that only waited, since nobody knows their site or plot, amend in any number; those beside them that counted are asked about
    as ever, and so is a second change of what has counted since."""
    programme.take({"club/deployment.csv": BAGS.replace("CB", "Cvoe", 3).replace("T1", "T7", 1)})
    [entry] = programme.take({"club/deployment.csv": BAGS})
    assert [f.split()[1] for f in programme.fates(entry)] == ["amends"] * 3 + ["repeated"] * 3
    assert programme.ask("select distinct site_key, plot_key from deployment_stands") == [("CB", "T1")]
    [entry] = programme.take({"club/deployment.csv": BAGS.replace("bolt", "glue", 3)})
    assert programme.fates(entry)[:3] == [f"{n} question: amends much" for n in (2, 3, 4)]
    programme.take({"other/deployment.csv": BAGS.replace("W", "V").replace("CB", "Reef", 2)})
    mixed = BAGS.replace("W", "V").replace("bolt", "glue", 4)
    [entry] = programme.take({"other/deployment.csv": mixed})
    told = [f.partition(" ")[2] for f in programme.fates(entry)]
    assert told == ["amends"] * 2 + ["question: amends much"] * 2 + ["repeated"] * 2


def test_a_drop_that_amends_much_is_asked_about(programme):
    """Two changed rows of four are over thirty per cent: they are asked about; one of four amends."""
    programme.take({"club/visit.csv": FOUR})
    [entry] = programme.take({"club/visit.csv": visits(D1=50, D2=60, D3=7, D4=8)})
    assert programme.fates(entry) == ["2 question: amends much", "3 question: amends much", "4 repeated", "5 repeated"]
    assert programme.ask(NOW) == FOUR_NOW
    [entry] = programme.take({"club/visit.csv": visits(D1=50, D2=6, D3=7, D4=8)})
    assert programme.fates(entry)[0] == "2 amends"


def test_thirty_per_cent_itself_amends(programme):
    """Three rows of ten are not over thirty per cent."""
    ten = {f"D{i}": 5 for i in range(10)}
    programme.take({"club/visit.csv": visits(**ten).replace("2025-03-00", "2025-03-10")})
    changed = visits(**{**ten, "D1": 6, "D2": 6, "D3": 6}).replace("2025-03-00", "2025-03-10")
    [entry] = programme.take({"club/visit.csv": changed})
    assert (entry.receipt.amended, entry.receipt.held) == (3, 0)


LOG = """
[[sheet]]
[[sheet.part]]
kind = "visit"
columns = {{ visit_key = "Dive", happened = "Date", site_key = "Place", visibility_m = "{sight}" }}
fixed = {{ outcome = "found" }}
[[sheet.part]]
kind = "check"
columns = {{ visit_key = "Dive", happened = "Date", unit_key = "Bag", state = "Found", remarks = "Note" }}
"""


def log(*rows):
    """A drawn dive log whose rows yield a visit and a check each."""
    head = "Dive   Date         Place   Sight   Above   Bag   Found      Note"
    return "\n".join(
        [head, *(f"D{i}     2025-03-0{i}   CB      {s}       9       B{i}    attached   {n}" for i, s, n in rows)]
    )


def test_thirty_per_cent_are_rows_not_parts(programme):
    """A row that yields two parts and is changed in both is one changed row: one of four, not two of four."""
    programme.partner("club", LOG.format(sight="Sight"))
    programme.take({"club/log.csv": log((1, 5, "a"), (2, 6, "a"), (3, 7, "a"), (4, 8, "a"))})
    [entry] = programme.take({"club/log.csv": log((1, 4, "b"), (2, 6, "a"), (3, 7, "a"), (4, 8, "a"))})
    assert programme.fates(entry)[:2] == ["2 amends", "2 amends"]


def test_retake_amends_and_is_not_asked_about(programme):
    """A mended mapping changes every row: taken again, all of them amend, in an entry that says so; a second retake does nothing."""
    programme.partner("club", LOG.format(sight="Above"))
    [before] = programme.take({"club/log.csv": log((1, 5, "a"), (2, 6, "a"))})
    assert programme.ask(NOW) == [("D1", 9), ("D2", 9)]
    programme.partner("club", LOG.format(sight="Sight"))
    [entry] = programme.retake()
    assert programme.fates(entry) == ["2 amends", "2 repeated", "3 amends", "3 repeated"]
    assert (entry.retaken, entry.drop, entry.mapping != before.mapping) == (True, before.drop, True)
    assert programme.ask(NOW) == [("D1", 5), ("D2", 6)]
    assert programme.retake() == []


PLACES = 'dates = "DMY"\n[codes.site_key]\n"Cove" = "{site}"\n[[sheet]]\nfiles = ["checks*.csv"]\nkind = "check"\n'
PLACES += '[sheet.columns]\nhappened = "Day"\nsite_key = "Place"\nunit_key = "Bag"\nstate = "Found"\n'
CHECKS = "Day   Place   Bag   Found\n01/03/2025   Cove   B1   attached\n02/03/2025   Cove   B2   {state}\n"


def test_a_retake_takes_back_what_its_rows_no_longer_say(programme):
    """A mapping that gave the wrong site made dives of another name: read again, only the new ones count."""
    programme.partner("club", PLACES.format(site="NP"))
    programme.take({"club/checks.csv": CHECKS.format(state="torn")})
    checks = "select visit_key, unit_key from check_now order by all"
    assert programme.ask(checks) == [("NP 2025-03-01 1", "B1"), ("NP 2025-03-02 1", "B2")]
    before = programme.ledger.last_number()
    programme.partner("club", PLACES.format(site="CB"))
    programme.retake()
    assert programme.ask(checks) == [("CB 2025-03-01 1", "B1"), ("CB 2025-03-02 1", "B2")]
    assert programme.ask(checks, run.Asked(entry=before))[0] == ("NP 2025-03-01 1", "B1")


WIDE = """
[[sheet]]
files = ["cover*.csv"]
kind = "survey"
[sheet.columns]
visit_key = "Dive"
happened = "Day"
site_key = "Site"
plot_key = "Plot"
frame_key = "Frame"
[sheet.fixed]
frame_type = "quadrat"
placement = "random"
protocol = "frames"
stage = "recruit"
area_m2 = 0.25
[sheet.wide]
heading = "species"
cell = "count"
blank = "{blank}"
"""


def test_a_retake_takes_back_zeros_of_rows_that_say_nothing_now(programme):
    """Blanks that were read as zeros of a frame nobody searched: read again as nothing, they stop counting."""
    programme.partner("club", WIDE.format(blank="zero"))
    rows = b"Dive,Day,Site,Plot,Frame,Laminaria hyperborea,Alaria esculenta\nD1,2025-06-01,CB,T1,1,3,\nD1,2025-06-01,CB,T1,2,,\n"
    programme.take({"club/cover.csv": rows})
    counts = "select frame_key, species, cast(count as int) from survey_now order by all"
    assert len(programme.ask(counts)) == 4
    programme.partner("club", WIDE.format(blank="zero beside others"))
    programme.retake()
    assert programme.ask(counts) == [("1", "Alaria esculenta", 0), ("1", "Laminaria hyperborea", 3)]


def test_a_retake_leaves_what_another_drop_says(programme):
    """What the retaken rows no longer say still counts where another file says it, handed in before or after."""
    programme.partner("club", PLACES.format(site="NP"))
    programme.take({"club/checks.csv": CHECKS.format(state="torn")})
    own = "visit_key   site_key   happened   unit_key   state\nNP 2025-03-0{n} 1   NP   2025-03-0{n}   B{n}   {state}"
    programme.take({"club/own.csv": own.format(n=1, state="attached")})
    programme.partner("club", PLACES.format(site="CB"))
    programme.retake()
    programme.take({"club/late.csv": own.format(n=2, state="torn")})
    found = programme.ask("select visit_key from check_now order by all")
    assert found == [("CB 2025-03-01 1",), ("CB 2025-03-02 1",), ("NP 2025-03-01 1",), ("NP 2025-03-02 1",)]


def test_a_retake_leaves_what_another_partner_says_in_equal_bytes(programme):
    """Two partners who hand in the same bytes say it each for itself: one's retake takes nothing back from the other."""
    units = "Bag   Down   Place   Plot\nB1   2025-03-01   CB   T1"
    mapping = '[[sheet]]\nfiles = ["bags*.csv"]\nkind = "deployment"\n[sheet.columns]\nunit_key = "{unit}"\n'
    mapping += 'happened = "Down"\nsite_key = "Place"\nplot_key = "Plot"\n[sheet.fixed]\nmethod = "spore bag"\n'
    for partner in ("club", "lab"):
        programme.partner(partner, mapping.format(unit="Bag"))
        programme.take({f"{partner}/bags.csv": units})
    programme.partner("club", mapping.format(unit="Plot"))
    run.retake(programme.root, "club")
    assert programme.ask("select unit_key from deployment_now order by all") == [("B1",), ("T1",)]


def test_a_retake_that_cannot_read_a_row_takes_nothing_back(programme):
    """Under a mapping that holds the row, what it said before stands until somebody knows better."""
    programme.partner("club", PLACES.format(site="NP"))
    programme.take({"club/checks.csv": CHECKS.format(state="torn")})
    programme.partner("club", PLACES.format(site="CB").replace('state = "Found"', 'state = "Bag"'))
    [entry] = programme.retake()
    assert (entry.receipt.held, entry.receipt.asked) == (2, 0)
    assert len(programme.ask("select * from check_now")) == 2


def test_one_row_alone_may_amend(programme):
    """A small file of one correction amends, though that is all of its rows."""
    programme.take({"club/visit.csv": FOUR})
    [entry] = programme.take({"club/visit late.csv": visits(D1=50)})
    assert programme.fates(entry) == ["2 amends"]


def test_retake_leaves_later_words_alone(programme):
    """What another drop said since is not undone when the older one is read again under a mended mapping."""
    programme.partner("club", LOG.format(sight="Above"))
    programme.take({"club/log.csv": log((1, 5, "a"), (2, 6, "a"))})
    programme.take({"club/visit.csv": visits(D1=50)})
    programme.partner("club", LOG.format(sight="Sight"))
    entries = programme.retake()
    assert [programme.fates(e) for e in entries if e.name == "log.csv"] == [
        ["2 repeated", "2 repeated", "3 amends", "3 repeated"]
    ]
    assert programme.ask(NOW) == [("D1", 50), ("D2", 6)]


def test_vanished_rows_are_asked_about(programme):
    """A row that the last file of this name had and this one has not is asked about, and still counts."""
    programme.take({"club/visit.csv": FOUR})
    [entry] = programme.take({"club/visit.csv": visits(D1=5, D3=7, D5=9)})
    told = [(v["kind"], v["key"], v["row_before"]) for v in programme.segment(entry, "asked")]
    assert told == [("visit", "D2", 3), ("visit", "D4", 5)]
    assert (entry.receipt.asked, entry.receipt.parts, entry.receipt.held) == (2, 3, 0)
    assert programme.ask(NOW) == [*FOUR_NOW, ("D5", 9)]


def test_vanished_held_rows_are_asked_about(programme):
    """A held row that the next file of this name has not was taken out, not mended: it is asked about as held."""
    programme.take({"club/visit.csv": FOUR.replace("D2", "D2").replace("2025-03-02   found", "2025-03-02   lost")})
    [entry] = programme.take({"club/visit.csv": visits(D1=5, D3=7, D4=8)})
    assert [(v["key"], v["held"]) for v in programme.segment(entry, "asked")] == [("D2", True)]


def test_vanished_rows_are_asked_about_only_where_it_makes_sense(programme):
    """Nothing is asked of a file with nothing in common, of another name, nor of rows that were withdrawn."""
    programme.take({"club/visit.csv": FOUR, "club/withdrawal.csv": WITHDRAWAL})
    [entry] = programme.take({"club/visit.csv": visits(D6=5, D7=6)})
    assert entry.receipt.asked == 0
    [entry] = programme.take({"club/other.csv": visits(D2=6)})
    assert entry.receipt.asked == 0
    programme.take({"club/visit.csv": visits(D1=5, D2=6, D3=7, D4=8, D5=9)})
    [entry] = programme.take({"club/visit.csv": visits(D2=6, D3=7, D4=8, D5=9)})
    assert entry.receipt.asked == 0


# --- rows without a key --------------------------------------------------------------------------------------


def bills(*amounts):
    """A drawn sheet of fuel bills without numbers of their own."""
    rows = [f"2025-03-01   cash   {a}   EUR   boat   monitor   area" for a in amounts]
    return "\n".join(["happened   form   amount   currency   category   phase   share_key", *rows])


AMOUNTS = "select cast(amount as int) from cost_now order by all"


def test_two_equal_bills_are_two(programme):
    """Two equal fuel bills of one file are two; handed in again they are known; a third is news."""
    [entry] = programme.take({"club/cost.csv": bills(40, 40, 25)})
    assert programme.fates(entry) == ["2 entered", "3 entered", "4 entered"]
    [entry] = programme.take({"club/cost.csv": bills(25, 40, 40, 40)})
    assert programme.fates(entry) == ["2 repeated", "3 repeated", "4 repeated", "5 entered"]
    assert programme.ask(AMOUNTS) == [(25,), (40,), (40,), (40,)]


def test_a_bill_with_a_number_goes_by_it(programme):
    """A bill with a number of its own is known by it, and another amount amends it."""
    sheet = "record_key   happened   form   amount   currency   category   phase   share_key"
    rows = [f"R{i}   2025-03-01   cash   40   EUR   boat   monitor   area" for i in range(4)]
    programme.take({"club/cost.csv": "\n".join([sheet, *rows])})
    [entry] = programme.take({"club/cost.csv": "\n".join([sheet, rows[0].replace("40", "45"), *rows[1:]])})
    assert programme.fates(entry)[0] == "2 amends"
    assert programme.ask(AMOUNTS) == [(40,), (40,), (40,), (45,)]


# --- stops and other runs ------------------------------------------------------------------------------------


def test_an_interrupted_take_in_still_holds_both(programme, monkeypatch):
    """When a run dies between two drops that contradict each other, the next run judges them together all the same."""
    append, done = Ledger.append, []

    def dying(self, entry, now, goes_on):
        if done:
            raise KeyboardInterrupt
        done.append(append(self, entry, now, goes_on))
        return done[0]

    monkeypatch.setattr(Ledger, "append", dying)
    with pytest.raises(KeyboardInterrupt):
        programme.take({"club/a.csv": b"", "club/visit 1.csv": visits(D1=5), "club/visit 2.csv": visits(D1=9)})
    monkeypatch.undo()
    if done[0].unreadable:  # the empty file came first: nothing of the two was recorded
        done.clear()
    later = programme.take()
    for entry in [*done, *later]:
        if not entry.unreadable:
            assert programme.fates(entry) == ["2 conflict: conflict"]
    assert programme.ask(NOW) == []


def test_what_another_run_recorded_meanwhile_is_left_out(programme, monkeypatch):
    """A run that waited for the lock finds its drop recorded by another, and adds nothing."""
    from pipeline import record, run

    recorded = record.record

    def slow(ledger, staged, rules, kinds, cached, now):
        first = recorded(ledger, staged, rules, kinds, cached, now)
        assert len(first) == 1
        return recorded(ledger, staged, rules, kinds, cached, now)

    monkeypatch.setattr(record, "record", slow)
    programme.put("club", "visit.csv", FOUR)
    assert run.take(programme.root).entries == []
    assert programme.ask(NOW) == FOUR_NOW


# --- how held parts close ------------------------------------------------------------------------------------


def test_mended_row_closes_its_held_part(programme):
    """A held row is shown until its file comes again with the cell mended."""
    programme.take({"club/visit.csv": visits(D1="5 kg", D2=6)})
    assert programme.held() == [("visit.csv", "visit", "visibility_m", "not decimal", 1)]
    programme.take({"club/visit.csv": visits(D1=5, D2=6)})
    assert programme.held() == []
    assert programme.ask(NOW) == [("D1", 5), ("D2", 6)]


def test_mended_row_in_another_file_closes_its_held_part(programme):
    """A held row is also closed when its thing is told in a file of another name."""
    programme.take({"club/visit.csv": visits(D1="5 kg", D2=6)})
    programme.take({"club/visit late.csv": visits(D1=5)})
    assert programme.held() == []


def test_row_still_bad_stays_held_once(programme):
    """A file that comes again unmended shows its row once, under the newest receipt."""
    programme.take({"club/visit.csv": visits(D1="5 kg", D2=6)})
    programme.take({"club/visit.csv": visits(D1="5 kg", D2=6, D3=7)})
    assert programme.held() == [("visit.csv", "visit", "visibility_m", "not decimal", 1)]


def test_a_retaken_older_file_opens_nothing_that_a_newer_one_mended(programme):
    """Read again alone or with the newer file, an older one re-opens none of the rows that the newer one mended."""
    mended = {"D1": 1, "D2": 2, "D3": 3}
    programme.partner("club", "# one\n")
    [older] = programme.take({"club/visit.csv": visits(**{**mended, "D1": "5 kg", "D2": "8 kg"})})
    programme.take({"club/visit.csv": visits(**mended)})
    assert programme.held() == []
    programme.partner("club", "# two\n")
    [entry] = run.retake(programme.root, drop=older.drop).entries
    assert (entry.receipt.held, programme.held()) == (2, [])
    programme.partner("club", "# three\n")
    entries = [e for e in programme.retake() if e.partner == "club"]
    assert [e.receipt.held for e in entries] == [2, 0] and programme.held() == []


def test_a_retaken_older_file_closes_nothing_of_a_newer_one(programme):
    """A row that only the newer file cannot tell stays held, though the older file is read again after it."""
    programme.partner("club", "# one\n")
    [older] = programme.take({"club/visit.csv": visits(D1=5, D2=6)})
    programme.take({"club/visit.csv": visits(D1="5 kg", D2=6)})
    held = [("visit.csv", "visit", "visibility_m", "not decimal", 1)]
    assert programme.held() == held
    programme.partner("club", "# two\n")
    run.retake(programme.root, drop=older.drop)
    assert programme.held() == held


def test_unreadable_file_closes_nothing(programme):
    """A file that comes again and cannot be read mends nothing: what was held stays held."""
    programme.take({"club/visit.csv": visits(D1="5 kg", D2=6)})
    programme.take({"club/visit.csv": b'visit_key,site_key\n"D1,CB\n'})
    assert programme.held() == [("visit.csv", "visit", "visibility_m", "not decimal", 1)]


def test_mended_conflict_closes_both(programme):
    """Of two rows in conflict the wrong one is deleted and the file comes again: the other enters and both close."""
    both = visits(D1=5, D2=6) + "\nD1   CB   2025-03-01   found   9"
    programme.take({"club/visit.csv": both})
    assert programme.held() == [("visit.csv", "visit", "", "conflict", 2)]
    [entry] = programme.take({"club/visit.csv": visits(D1=9, D2=6)})
    assert programme.fates(entry) == ["2 entered", "3 repeated"]
    assert programme.held() == []
    assert programme.ask(NOW) == [("D1", 9), ("D2", 6)]


def test_ruling_settles_a_conflict(programme):
    """A person's ruling takes one of two contents of a conflict; both close, and the sheet may come again as it was."""
    entries = programme.take({"club/visit 1.csv": visits(D1=5), "club/visit 2.csv": visits(D1=9)})
    parts = {programme.segment(e, "visit")[0]["visibility_m"]: programme.parts(e)[0] for e in entries}
    programme.held()
    settle.settle(programme.root, parts[9]["identity"], parts[9]["content"], "mb", "she was there")
    assert programme.ask(NOW) == [("D1", 9)]
    assert programme.held() == []
    [entry] = programme.take({"club/visit 3.csv": visits(D1=9, D2=6)})
    assert programme.fates(entry) == ["2 repeated", "3 entered"]


def test_ruling_takes_an_older_version_back(programme):
    """A ruling on the question of an older version makes it count again."""
    programme.take({"club/visit.csv": FOUR})
    programme.take({"club/visit.csv": visits(D1=50, D2=6, D3=7, D4=8)})
    [entry] = programme.take({"club/visit.csv": visits(D1=5, D2=6, D3=7, D4=8, D5=9)})
    part = programme.parts(entry)[0]
    assert programme.ask(NOW)[0] == ("D1", 50)
    settle.settle(programme.root, part["identity"], part["content"], "mb", "the older was right")
    assert programme.ask(NOW)[0] == ("D1", 5)
    [entry] = programme.take({"club/visit.csv": visits(D1=5, D2=6, D3=7, D4=8, D5=9, D6=1)})
    assert programme.fates(entry)[0] == "2 repeated"


def test_dismissal_closes_a_held_part(programme):
    """A person may dismiss a held part with a reason; the rest stays held."""
    [entry] = programme.take({"club/visit.csv": visits(D1="5 kg", D2="6 kg")})
    programme.held()
    settle.dismiss(programme.root, f"{entry.number}/2/1", "mb", "nobody remembers")
    assert programme.held() == [("visit.csv", "visit", "visibility_m", "not decimal", 1)]


# --- receipts ------------------------------------------------------------------------------------------------


def test_receipt_counts_every_fate(programme):
    """A receipt's sums hold over entered, amended, repeated, held and asked at once."""
    programme.take({"club/visit.csv": visits(D1=1, D2=2, D3=3, D4=4, D5=5)})
    sheet = (
        visits(D1=10, D2=2, D3=3, D4=4, D6="6 kg", D7=7)
        + "\nD8   CB   2025-03-08   found   8\nD8   CB   2025-03-08   found   9\n"
    )
    [entry] = programme.take({"club/visit.csv": sheet})
    r = entry.receipt
    assert (r.lines, r.furniture, r.blank, r.records, r.parts) == (9, 1, 0, 8, 8)
    assert (r.entered, r.amended, r.repeated, r.held, r.asked) == (2, 1, 3, 3, 1)
    assert r.holds()
    assert programme.fates(entry) == [
        "2 amends", "3 repeated", "4 repeated", "5 repeated", "6 faulty", "7 entered", "8 conflict: conflict", "9 conflict: conflict",
    ]  # fmt: skip
