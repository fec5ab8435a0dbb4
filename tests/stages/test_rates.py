"""Published rates from a file of the programme's folder, and the other rules of costs."""

import datetime as dt
from decimal import Decimal

import pytest

from pipeline import run
from pipeline.errors import BadUsage
from pipeline.programme import open_programme, parse_rules
from pipeline.rules.cost import PHASES, CostRules
from schemas.kinds import all_kinds

FILE = """Date,USD,NOK,RUB,
2023-12-29,1.1050,11.2405,N/A,
2023-12-22,1.1023,11.2650,N/A,
2022-03-01,1.1162,9.8718,117.2010,
"""
RATES = """
[rates]
file = "rates/published.csv"
currencies = ["NOK", "USD"]
source = "a central bank"
"""
COSTS = """
    record_key   happened     form   amount   currency   category   phase    for_kind   for_key
    R1           2023-12-25   cash   11.02    USD        boat       deploy   site       CB
    R2           2023-12-29   cash   112.41   NOK        boat       deploy   site       CB
    R3           2022-02-28   cash   5        NOK        boat       deploy   site       CB
    R4           2022-03-15   cash   5        NOK        boat       deploy   site       CB
    R5           2022-03-16   cash   5        NOK        boat       deploy   site       CB
"""


def programme_with(make, rules, file=FILE, more=RATES):
    """A drawn programme with a file of rates."""
    made = make(rules=rules)
    (made.root / "rates").mkdir()
    (made.root / "rates" / "published.csv").write_text(file)
    made.rules(rules + more)
    return made


def test_the_last_published_rate_counts(new_programme, rules):
    """A cost of a holiday takes the rate published last before it, one before the first rate or over 14 days after the last waits."""
    programme = programme_with(new_programme, rules)
    programme.take({"programme/cost.csv": COSTS})
    found = programme.ask(
        "select c.record_key, q.per_unit, q.dated from cost_now c left join cost_rate q on q.identity = c.identity order by all"
    )
    assert found == [
        ("R1", Decimal("1.1023"), dt.date(2023, 12, 22)),
        ("R2", Decimal("11.2405"), dt.date(2023, 12, 29)),
        ("R3", None, None),
        ("R4", Decimal("9.8718"), dt.date(2022, 3, 1)),
        ("R5", None, None),
    ]
    assert [r for r in programme.standing() if r[0] == "cost"] == [
        ("cost", "R3", "waits", "cost has no rate"),
        ("cost", "R5", "waits", "cost has no rate"),
    ]


def test_kept_rules_hold_the_rates(new_programme, rules):
    """Rules of then have the rates of then, whatever becomes of the file."""
    programme = programme_with(new_programme, rules)
    programme.take({"programme/cost.csv": COSTS})
    first = programme.ledger.last_number()
    (programme.root / "rates" / "published.csv").write_text(FILE.replace("1.1023", "2.2046"))
    run.refresh(programme.root)
    query = "select per_unit from cost_rate where per_unit < 5"  # the dollar's
    assert programme.ask(query) == [(Decimal("2.2046"),)]
    assert programme.ask(query, run.Asked(entry=first)) == [(Decimal("1.1023"),)]
    kept = open_programme(programme.root).rules
    (programme.root / "rates" / "published.csv").unlink()
    assert parse_rules(kept.raw).cost == kept.cost


def test_rates_between_two_others(new_programme, rules):
    """Where the programme counts in another currency than the file, both rates of one day are set against each other."""
    programme = programme_with(
        new_programme,
        rules.replace('name = "Drawn"', 'name = "Drawn"\ncurrency = "USD"'),
        more=RATES.replace('["NOK", "USD"]', '["EUR", "NOK"]') + "since = 2023-01-01\n",
    )
    rates = open_programme(programme.root).rules.cost.published.rates
    exact = Decimal("0.000000000001")
    assert rates == (
        ("EUR", dt.date(2023, 12, 22), (1 / Decimal("1.1023")).quantize(exact)),
        ("EUR", dt.date(2023, 12, 29), (1 / Decimal("1.1050")).quantize(exact)),
        ("NOK", dt.date(2023, 12, 22), (Decimal("11.2650") / Decimal("1.1023")).quantize(exact)),
        ("NOK", dt.date(2023, 12, 29), (Decimal("11.2405") / Decimal("1.1050")).quantize(exact)),
    )


@pytest.mark.parametrize(
    ("file", "more", "told"),
    [
        (FILE, RATES.replace("published", "other"), "no file rates/other.csv"),
        (FILE, RATES.replace("rates/published", "../published"), "no file ../published.csv in the programme's folder"),
        (FILE.replace("NOK", "DKK"), RATES, "no column NOK"),
        ("", RATES, "no column Date"),
        (FILE.replace("11.2405", "eleven"), RATES, "row 2, NOK: 'eleven' is no rate"),
        (FILE.replace("11.2405", "-1"), RATES, "row 2, NOK: '-1' is no rate"),
        (FILE.replace("2023-12-29", "29 December 2023"), RATES, "row 2: '29 December 2023' is no day"),
        (FILE, RATES.replace("source", "sauce"), "`source` is missing"),
        (FILE, RATES + 'until = "ever"\n', "`until` is not known here"),
        (
            FILE,
            RATES + '[[rate]]\ncurrency = "NOK"\ndated = 2025-01-01\nper_unit = 11\nsource = "x"\n',
            "NOK stands in",
        ),
    ],
)
def test_a_file_of_rates_that_cannot_be_used(new_programme, rules, file, more, told):
    """What is wrong with the file, or with what is said of it, is told with its place."""
    programme = programme_with(new_programme, rules, file, more)
    with pytest.raises(BadUsage, match=told):
        open_programme(programme.root)


INDEX = '[[price_index]]\ncurrency = "NOK"\nyear = 2024\nvalue = 120\nsource = "an office"\n'


@pytest.mark.parametrize(
    ("more", "told"),
    [
        (INDEX + INDEX, "NOK stands twice"),
        (INDEX + INDEX.replace("year = 2024", "year = 2024\nmonth = 2"), "months and whole years"),
        (INDEX.replace("120", "0"), "above 0"),
        (INDEX.replace("year = 2024", "year = 2024\nmonth = 13"), "from 1 to 12"),
        ('[costs]\nmonitoring_phases = ["monitoring"]\n', "'monitoring'; each one of"),
        ("[costs]\nbase = 2024\n", "`base` is not known"),
        ("[hour_value]\nper_hour = 20\n", "`dated` is missing"),
    ],
)
def test_rules_of_costs_that_cannot_be_used(rules, more, told):
    """A slip in a rule of costs is told with its table."""
    with pytest.raises(BadUsage, match=told):
        parse_rules((rules + more).encode())


def test_rules_of_costs_are_all_optional(rules):
    """A programme that says nothing of costs has the rules as they come."""
    assert parse_rules(rules.encode()).cost == CostRules()


def test_phases_are_those_of_the_model():
    """The phases that rules may name are those that a cost may have."""
    [phase] = [c for c in all_kinds()["cost"].columns if c.name == "phase"]
    assert phase.allowed == PHASES
