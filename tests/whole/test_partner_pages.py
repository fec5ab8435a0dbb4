"""A partner's own page, against cases worked by hand: what it gave, how complete and how soon, how its reports compare."""

import datetime as dt
import math

import pytest
from scipy.special import stdtrit
from sea import RULES, SEA

from pipeline import run
from pipeline.gathering_partners import given
from pipeline.pages.partner_page import apart, beside, helps_most
from pipeline.pages.told import Partner
from pipeline.pages.words import LANGUAGES, words
from pipeline.session import session
from pipeline.settle import withdraw
from schemas.kinds import all_kinds

RHYTHM = '\n[[partner_rhythm]]\npartner = "nordklubb"\nevery_days = 30\ndated = 2025-05-01\n'
BAGS = "unit_key   method   site_key   plot_key   happened   fixing\n" + "\n".join(
    f"CB-{n}   spore bag   CB   T1   2025-03-01   bolt" for n in range(1, 5)
)


def checks(day, *states):
    """Looks at the four bags on one day."""
    rows = [f"CB   CB-{n}   {day}   {s}   9" for n, s in enumerate(states, 1)]
    return "\n".join(["site_key   unit_key   happened   state   search_time_min", *rows])


def counts(day, *numbers):
    """Frames of a quarter of a square metre in the treated plot, with so many recruits."""
    head = "site_key   plot_key   happened   frame_key   species   stage   count   area_m2   frame_type   placement   protocol"
    rows = [
        f"CB   T1   {day}   {n}   Laminaria hyperborea   recruit   {c}   0.25   quadrat   random   frames"
        for n, c in enumerate(numbers, 1)
    ]
    return "\n".join([head, *rows])


@pytest.fixture(scope="module")
def shared(new_programme):
    """Two clubs that looked at the same bags and counted the same plot in one round; one sheet was mended five days later."""
    p, now = new_programme(sea=False, rules=RULES + RHYTHM), [dt.datetime(2025, 6, 10, 12, tzinfo=dt.UTC)]
    p.partner("nordklubb", 'language = "nb"\n')
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(run, "this_instant", lambda: now[0])
        p.take({f"programme/{name}": table for name, table in SEA.items()})
        p.take({
            "sorclube/deployment.csv": BAGS,
            "sorclube/check.csv": checks("2025-04-01", "attached", "attached", "attached", "absent"),
            "sorclube/later.csv": checks("2025-06-01", *["attached"] * 4),
            "sorclube/survey.csv": counts("2025-04-01", 4, 6, 5, 5),
            "nordklubb/check.csv": checks("2025-04-03", "attached", "absent", "absent", "attached"),
            "nordklubb/survey.csv": counts("2025-04-03", 8, 12, 10, "many"),
        })  # fmt: skip
        now[0] = dt.datetime(2025, 6, 15, 12, tzinfo=dt.UTC)
        p.take({"nordklubb/survey.csv": counts("2025-04-03", 8, 12, 10, 10)})
        run.refresh(p.root)
        run.pages(p.root)
    return p


@pytest.fixture(scope="module")
def told(shared):
    """What the pages of both say."""
    with session(shared.root) as (con, rules):
        return given(con, rules, all_kinds(), dt.date(2025, 6, 1))


def test_looks_of_one_round_stand_beside_those_of_all_others(told):
    """Of bags that were there one club missed 1 of 4 and the other 2 of 4; each has its own beside the others', with limits."""
    south, north = told["sorclube"].looks, told["nordklubb"].looks
    assert (south.mine.value, south.mine.n, south.others.value, south.others.n) == (0.25, 4, 0.5, 4)
    assert (north.mine, north.others) == (south.others, south.mine)
    # Clopper-Pearson limits of 1 in 4, from the tail sums themselves
    tail = sum(math.comb(4, k) * south.mine.high**k * (1 - south.mine.high) ** (4 - k) for k in (0, 1))
    assert tail == pytest.approx(0.025) and 1 - (1 - south.mine.low) ** 4 == pytest.approx(0.025)


def test_units_not_found_and_seen_later_are_told_both_ways(told):
    """Bag 4 was missed by the southern club and seen later by both; bags 2 and 3 by the northern one and seen later by the other alone."""
    south, north = told["sorclube"].looks, told["nordklubb"].looks
    assert (south.mine_seen_by_others, south.mine_seen_again, south.others_seen_by_mine) == (1, 1, 2)
    assert (north.mine_seen_by_others, north.mine_seen_again, north.others_seen_by_mine) == (2, 0, 1)


def test_counts_of_one_plot_and_round_are_a_ratio_with_its_interval(told):
    """20 plants in four frames over 40 in four is one half; on the log scale the error is the root of 1/20 + 1/40, by Satterthwaite with 5.4 degrees of freedom."""
    [one], [other] = told["sorclube"].counts, told["nordklubb"].counts
    freedom = (1 / 20 + 1 / 40) ** 2 / ((1 / 20) ** 2 / 3 + (1 / 40) ** 2 / 3)
    assert freedom == pytest.approx(5.4)
    half = float(stdtrit(freedom, 0.975)) * math.sqrt(1 / 20 + 1 / 40)
    assert (one.mine, one.others, one.plot, one.stage) == (4, 4, "T1", "recruit")
    assert one.ratio.value == pytest.approx(0.5) and other.ratio.value == pytest.approx(2)
    assert one.ratio.low == pytest.approx(0.5 * math.exp(-half), rel=1e-4)
    assert one.ratio.high == pytest.approx(0.5 * math.exp(half), rel=1e-4)
    assert (apart(words("en"), one.ratio), apart(words("en"), other.ratio)) == (
        "fewer in your frames",
        "more in your frames",
    )


def test_how_soon_counts_from_the_day_in_the_sea(told):
    """Of 16 statements four came after 9 days, eight after 70, four after 101; a mended row came with its second file."""
    assert told["sorclube"].delay == (70, 9, 101)
    assert told["nordklubb"].delay == (68, 68, 73)
    assert told["nordklubb"].rhythm == (30, dt.date(2025, 5, 1), 40) and told["sorclube"].rhythm is None


def test_how_complete_counts_each_row_once(told):
    """The northern club's first survey had one row held, mended five days later; nothing is open, and all its cells are filled."""
    north = told["nordklubb"]
    assert (north.held, north.still_open, north.mended_days) == (1, 0, 5)
    assert (north.rows, north.taken) == (12, 11)
    assert {kind: (n, share) for kind, n, _, share in north.filled}["check"] == (4, 1.0)


def test_nothing_is_said_while_intervals_meet(told):
    """Shares whose intervals meet tell nobody apart; without looks there is nothing to compare; far apart, it is said with its reasons."""
    from pipeline.indicators.detection import missed_though_there as share

    w, looks = words("en"), told["sorclube"].looks
    assert "cannot tell you and the others apart" in beside(w, looks.mine, looks.others)
    assert beside(w, share(0, 0), looks.others) == "Too few looks to compare."
    assert "more often in your looks" in beside(w, share(90, 10), share(10, 90))
    assert "less often in your looks" in beside(w, share(10, 90), share(90, 10))
    assert apart(w, share(0, 0)) == "cannot tell"


def test_one_thing_is_asked_for_the_one_most_statements_lack(told):
    """What most rows lack is asked for and nothing else; who lacks nothing is thanked."""
    from dataclasses import replace

    w, plain = words("en"), replace(told["sorclube"], dives=0, dives_seen=0)
    page = Partner("sorclube", (), (), (), (), 0, plain)
    assert helps_most(w, page) == "Nothing is missing. Please go on as you do."
    some = replace(
        plain, still_open=2, dives=5, dives_seen=4, remarked=(("absence without effort", 7), ("too warm", 90))
    )
    assert helps_most(w, replace(page, given=some)).startswith(
        "Where a unit is not found, write how long you searched (looks without it: 7)."
    )


def test_a_page_thanks_and_names_no_other_partner(shared):
    """Beside the letters lies each partner's own page, in its own language, without another's name, a link or a rank."""
    north = (shared.root / "out/letters/nordklubb/yours.html").read_text(encoding="utf-8")
    south = (shared.root / "out/letters/sorclube/yours.html").read_text(encoding="utf-8")
    assert '<html lang="nb">' in north and "Takk." in north and "alle andre samlet" in north
    assert "Thank you." in south and "all others together" in south
    assert (
        "sorclube" not in north
        and "nordklubb" not in south
        and "<a " not in north.replace('<a href="standing.html">', "")
    )
    [inside] = (shared.root / "out/pages/inside/partners").glob("sorclube*.html")
    assert "all others together" in inside.read_text(encoding="utf-8")


@pytest.mark.parametrize("code", [c for c in LANGUAGES if c != "en"])
def test_every_word_of_the_page_is_translated(code):
    """Each text of a partner's page stands in every language."""
    import re
    from pathlib import Path

    from pipeline.pages import partner_page
    from pipeline.pages.words import FOLDER

    code_text = Path(partner_page.__file__).read_text(encoding="utf-8")
    template = (FOLDER.parent / "templates/partner_body.html").read_text(encoding="utf-8")
    texts = re.findall(r'words\("([^"]+)"', code_text) + re.findall(r'_\("([^"]+)"', template)
    assert len(texts) > 50 and sorted(set(texts) - words(code).texts.keys()) == []


def test_a_partners_own_page_is_as_new_as_its_letters(shared, copy_of):
    """Once it was laid it is renewed with the figures, in its language; a file read again, or put on record by the lead, is no other file."""
    copy = copy_of(shared)

    def page():
        run.refresh(copy.root)
        return (copy.root / "out/letters/nordklubb/yours.html").read_text(encoding="utf-8")

    assert "Filer: 3." in page() and "out/letters" not in page()
    copy.take({"nordklubb/check 2.csv": checks("2025-06-02", "torn")})
    assert "Filer: 4." in page() and f"kvittering {copy.ledger.last_number()}" in page()
    copy.partner("nordklubb", 'language = "nb"\ndecimal = ","\n')
    copy.retake()
    withdraw(copy.root, "nordklubb", "check", "CB 2025-06-02 1 | CB-1", "wrong day", "mb")
    assert "Filer: 4." in page() and '<html lang="nb">' in page()
