"""Rules of the programme that settle what partners tell differently: whose word counts, and when the lead is asked all the same."""

from itertools import permutations

import pytest
from sea import RULES

from pipeline import run
from pipeline.errors import BadUsage
from pipeline.programme import parse_rules
from pipeline.rules.settling import COLUMNS
from pipeline.says import ASIDE
from schemas.kinds import all_kinds
from warehouse.sqlfiles import read_views

RULE = """
[[settling]]
name = "put down"
kind = "deployment"
since = 2025-01-01
whose = "partners"
partners = ["outro", "clube"]
columns = ["fixing"]
why = "Outro's boat lays the bags."
"""
HEAD = "unit_key   method      site_key   plot_key   happened     fixing   depth_m\n"


def bag(fixing, happened="2025-03-01", depth=".", unit="CB-1"):
    """One row of a bag put down."""
    return f"{HEAD}{unit}   spore bag   CB   T1   {happened}   {fixing}   {depth}"


def dive(day, outcome="found"):
    """A dive of one partner."""
    return f"visit_key   site_key   happened   outcome   why\nV-1   CB   {day}   {outcome}   {'.' if outcome == 'found' else 'fog'}"


def told(programme):
    """What counts of every bag: its fixing and day, by its code; and the things in dispute."""
    rows = programme.ask("select unit_key, fixing, cast(happened as varchar) from deployment_now order by all")
    disputed = programme.ask("select count(*) from in_dispute")
    return {unit: (fixing, day) for unit, fixing, day in rows}, disputed[0][0]


def with_rule(new_programme, rule=RULE):
    """A drawn programme with one more rule."""
    return new_programme(rules=RULES + rule)


def test_the_first_partner_of_the_rule_counts(new_programme):
    """Where two tell a bag's fixing differently the partner named first counts, and nothing waits or is held for it."""
    p = with_rule(new_programme)
    p.take({"clube/a.csv": bag("bolt")})
    p.take({"outro/b.csv": bag("glue")})
    assert told(p) == ({"CB-1": ("glue", "2025-03-01")}, 0)
    assert p.held() == []
    assert p.ask("select kind, name, partner from settled_by_rule") == [("deployment", "put down", "outro")]


def test_without_rules_what_stands_in_has_the_same_columns(new_programme):
    """What a session has in place of a view where its table of rules is empty gives no row, of the view's own names and types."""
    p, views = with_rule(new_programme), {v.name: v for v in read_views(all_kinds()) if v.without}
    p.take({"clube/a.csv": bag("bolt")})  # rules are noted with the next entry
    run.project(p.root)
    with run.session(p.root) as (con, _):
        assert con.sql("select count(*) from setting_settling").fetchall() == [(1,)]
        for view in views.values():
            real, stands_in = con.relation(view.sql), con.relation(view.none)
            assert (real.columns, real.types, real.fetchall()) == (stands_in.columns, stands_in.types, []), view.name
            assert stands_in.fetchall() == []
    assert {n: v.without for n, v in views.items()} == {
        "settled_by_rule": "setting_settling",
        "stage_changed": "setting_stage_changed",
    }


def test_without_the_rule_it_waits(new_programme):
    """The same words without a rule count for nothing until the lead rules, and so they do again once the rule is gone."""
    p = new_programme()
    p.take({"clube/a.csv": bag("bolt")})
    p.take({"outro/b.csv": bag("glue")})
    assert told(p) == ({}, 1)
    p.rules(RULES + RULE)
    p.take({"clube/other.csv": bag("tie", unit="CB-9")})  # rules are noted with the next entry
    assert told(p) == ({"CB-1": ("glue", "2025-03-01"), "CB-9": ("tie", "2025-03-01")}, 0)
    p.rules(RULES)
    p.take({"clube/another.csv": bag("tie", unit="CB-8")})
    assert told(p)[1] == 1


@pytest.mark.parametrize("order", list(permutations(range(3))), ids=str)
def test_the_order_of_arrival_does_not_matter(new_programme, order):
    """Three partners, the one named first among them, in every order of arrival: the same word counts."""
    p = with_rule(new_programme)
    words = [("clube/a.csv", bag("bolt")), ("outro/b.csv", bag("glue")), ("terceiro/c.csv", bag("tie"))]
    for n in order:
        p.take(dict([words[n]]))
    assert told(p) == ({"CB-1": ("glue", "2025-03-01")}, 0)


def test_together_is_as_one_after_the_other(new_programme):
    """Two words of one take-in, of which none had entered before, are settled too, and neither stays held."""
    p = with_rule(new_programme)
    p.take({"clube/a.csv": bag("bolt"), "outro/b.csv": bag("glue")})
    assert told(p) == ({"CB-1": ("glue", "2025-03-01")}, 0)
    assert p.held() == []


def test_a_rule_speaks_of_its_columns_alone(new_programme):
    """Where the words differ in another column too the lead is asked; remarks and who wrote it down are no matter."""
    p = with_rule(new_programme)
    p.take({"clube/a.csv": bag("bolt", depth="6")})
    p.take({"outro/b.csv": bag("glue", depth="8")})
    assert told(p) == ({}, 1)
    q = with_rule(new_programme)
    q.take({"clube/a.csv": bag("bolt").replace("depth_m", "remarks").replace("bolt   .", "bolt   deep")})
    q.take({"outro/b.csv": bag("glue")})
    assert told(q) == ({"CB-1": ("glue", "2025-03-01")}, 0)


def test_a_rule_speaks_of_what_happened_since_its_day(new_programme):
    """What any of them says happened before the rule's day is left to the lead."""
    p = with_rule(new_programme, RULE.replace("2025-01-01", "2025-03-01").replace('["fixing"]', "[]"))
    p.take({"clube/a.csv": bag("bolt", "2025-02-28")})
    p.take({"outro/b.csv": bag("glue", "2025-03-01")})
    assert told(p)[1] == 1


def test_a_ruling_outranks_the_rule(new_programme):
    """Once the lead ruled about a thing, the rule is silent about it: a new word is asked about."""
    p = with_rule(new_programme)
    p.take({"clube/a.csv": bag("bolt")})
    p.take({"outro/b.csv": bag("glue")})
    [(identity, bolt)] = p.ask("select identity, content from deployment_said where fixing = 'bolt'")
    ruling = f"happened   settles   choice   decided_by   reason\n2025-06-01   {identity}   {bolt}   mb   photograph"
    p.take({"programme/ruling.csv": ruling})
    assert told(p) == ({"CB-1": ("bolt", "2025-03-01")}, 0)
    p.take({"outro/c.csv": bag("tie")})
    assert told(p) == ({}, 1)


def test_nobody_named_settles_nothing(new_programme):
    """Two partners whom the rule does not name wait for the lead; a third whom it names settles it whenever it speaks."""
    p = with_rule(new_programme)
    p.take({"um/a.csv": bag("bolt")})
    p.take({"dois/b.csv": bag("glue")})
    assert told(p)[1] == 1
    p.take({"clube/c.csv": bag("tie")})
    assert told(p) == ({"CB-1": ("tie", "2025-03-01")}, 0)


def test_a_partner_that_says_two_things_settles_nothing(new_programme):
    """Where the partner whose word would count tells two things at once, the lead is asked, not the next partner."""
    p = with_rule(new_programme)
    p.take({"clube/a.csv": bag("bolt")})
    p.take({"outro/b.csv": f"{bag('glue')}\n{bag('tie').splitlines()[1]}"})
    assert told(p)[1] == 1


def test_the_later_day_counts(new_programme):
    """Under “later day” the word that tells the later day counts, and two of one day wait."""
    later = RULE.replace(
        'whose = "partners"\npartners = ["outro", "clube"]\ncolumns = ["fixing"]', 'whose = "later day"'
    )
    p = with_rule(new_programme, later)
    p.take({"clube/a.csv": bag("bolt", "2025-03-02")})
    p.take({"outro/b.csv": bag("glue", "2025-03-01")})
    assert told(p) == ({"CB-1": ("bolt", "2025-03-02")}, 0)
    p.take({"terceiro/c.csv": bag("tie", "2025-03-02")})
    assert told(p)[1] == 1


@pytest.mark.parametrize(("outcome", "counts"), [("found", "bolt"), ("not found", None)])
def test_who_was_there_counts(new_programme, outcome, counts):
    """Under “was there” the partner with a dive that found the site on its own word's day counts; a dive that did not find it is none."""
    there = RULE.replace('whose = "partners"\npartners = ["outro", "clube"]', 'whose = "was there"')
    p = with_rule(new_programme, there)
    p.take({"outro/b.csv": bag("glue"), "outro/visit.csv": dive("2025-03-02")})
    p.take({"clube/visit.csv": dive("2025-03-01", outcome)})
    p.take({"clube/a.csv": bag("bolt")})
    assert told(p)[0].get("CB-1", (None,))[0] == counts
    if counts:  # now both were there
        p.take({"outro/more.csv": dive("2025-03-01").replace("V-1", "V-2")})
        assert told(p)[1] == 1


def test_rules_as_of_then(new_programme):
    """As of an entry before the rule was noted the thing waits; by today's rules it is settled already then."""
    from pipeline import run

    p = new_programme()
    p.take({"clube/a.csv": bag("bolt")})
    [e] = p.take({"outro/b.csv": bag("glue")})
    p.rules(RULES + RULE)
    run.note_rules(p.root)
    query = "select count(*) from in_dispute"
    assert p.ask(query, run.Asked(entry=e.number)) == [(1,)]
    assert p.ask(query, run.Asked(entry=e.number, rules="today")) == [(0,)]
    assert p.ask(query) == [(0,)]


def test_columns_are_those_of_the_models():
    """What a rule may name is each shared kind's own columns, without its key and what is no value of the thing."""
    shared = {k.name: k for k in all_kinds().values() if k.shared}
    assert set(COLUMNS) == set(shared)
    for name, told_of in COLUMNS.items():
        own = {c.name for c in shared[name].columns} - set(shared[name].key) - set(ASIDE)
        assert set(told_of.split()) == own, name


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (("fixing", "fixin"), "has no column 'fixin'"),
        (('["outro", "clube"]', "[]"), "`partners`"),
        (('["outro", "clube"]', '["outro", "outro"]'), "stands twice"),
        (('"partners"\n', '"later day"\n'), "`partners`"),
        (('"deployment"', '"survey"'), "kind"),
    ],
    ids=lambda c: c[1] if isinstance(c, tuple) else "",
)
def test_a_rule_that_could_not_work_is_refused(change, words):
    """A column that is not there, no partner or one twice, partners beside another way, a kind that partners do not share."""
    with pytest.raises(BadUsage, match=words):
        parse_rules((RULES + RULE.replace(*change)).encode())
    with pytest.raises(BadUsage, match="stands twice"):
        parse_rules((RULES + RULE + RULE).encode())


def test_a_site_called_by_its_name_is_asked_about(programme):
    """A row that names a site as it is called, not by its code, waits with the question whether that site is meant."""
    programme.take({"clube/a.csv": bag("bolt").replace("   CB   T1", "   cove   T1")})
    [(why,)] = programme.ask("select why from standing where rule = 'unknown site'")
    assert why == "the site cove is not known yet: is CB meant, which has that name?"


def test_a_day_that_its_month_has_not_is_said_plainly(programme):
    """A row dated the 31st of February is held, and told how many days that February has."""
    [e] = programme.take({"clube/a.csv": bag("bolt", "31.02.2025")})
    [fault] = programme.segment(e, "fault")
    assert (fault["column"], fault["code"]) == ("happened", "not day")
    assert fault["advice"].startswith("That month has 28 days.")
