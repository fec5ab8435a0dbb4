"""Rates that a central bank published, from a file in the programme's folder.

What the ledger keeps as the programme's rules is programme.toml with the file's rates written in, so that any past
day knows its rates and the file may change. Nothing is ever fetched.
"""

import csv
import datetime as dt
import tomllib
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from fractions import Fraction
from pathlib import Path

from pipeline.errors import BadUsage
from pipeline.toml_read import Table

NOT_PUBLISHED = ("", "N/A")
STALE = dt.timedelta(days=14)  # a rate counts no longer: holidays last days; common practice, no source
EXACT = Decimal(1).scaleb(-12)  # how exactly a rate between two currencies is worked out


@dataclass(frozen=True)
class Published:
    """Units of each currency for one of the programme's, by the days on which they were published.

    rates   (currency, day, units of it for one of the programme's), in order.
    source  who published them.
    """

    currencies: tuple[str, ...] = ()
    source: str = ""
    rates: tuple[tuple[str, dt.date, Decimal], ...] = ()

    def mean(self, currency: str, year: int) -> Fraction | None:
        """The mean of the rates published in that year; None when there is none."""
        of_year = [Fraction(r) for c, day, r in self.rates if c == currency and day.year == year]
        return sum(of_year, Fraction(0)) / len(of_year) if of_year else None


def rates_file(raw: bytes) -> str:
    """The file in the programme's folder that programme.toml takes rates from; "" when it names none."""
    try:
        rates = tomllib.loads(raw.decode("utf-8")).get("rates")
    except (UnicodeDecodeError, tomllib.TOMLDecodeError):
        return ""  # told of where the rules are read
    name = str(rates.get("file", "")) if isinstance(rates, dict) else ""
    return name if _lies_within(name) else ""


def _lies_within(name: str) -> bool:
    return not Path(name).is_absolute() and ".." not in Path(name).parts


def with_rates_read(raw: bytes, root: Path) -> bytes:
    """programme.toml's bytes with the rates of the file that it names written behind them; else as they are.

    Of the file only the named currencies and days are taken. BadUsage says what is wrong with the file.
    """
    if b"rates" not in raw:
        return raw
    try:
        data = tomllib.loads(raw.decode("utf-8"))
    except (UnicodeDecodeError, tomllib.TOMLDecodeError):
        return raw  # told of where the rules are read
    rates = data.get("rates")
    if not isinstance(rates, dict) or "rates_read" in data:
        return raw
    table = Table(rates, "programme.toml, [rates]")
    own = str(Table(data, "programme.toml").table("programme").text("currency", "EUR"))
    wanted = sorted({*table.texts("currencies"), own} - {table.text("base", "EUR")})
    text = _taken(root, table.text("file"), wanted, table.day("since", dt.date(1950, 1, 1)))
    return raw.rstrip(b"\n") + b"\n\n[rates_read]  # the rates of that file, written here by the program\n" + text


def _taken(root: Path, name: str, wanted: list[str], since: dt.date) -> bytes:
    """The wanted columns of the file, oldest day first, as a TOML text."""
    path = root / name
    if not _lies_within(name) or not path.is_file():
        raise BadUsage(f"programme.toml, [rates]: there is no file {name} in the programme's folder. Put it there.")
    try:
        with path.open(encoding="utf-8-sig", newline="") as f:
            rows = [{(k or "").strip(): (v or "").strip() for k, v in row.items() if k} for row in csv.DictReader(f)]
    except (UnicodeDecodeError, csv.Error) as e:
        raise BadUsage(f"{name} cannot be read as a table of rates: {e}.") from e
    known = set(rows[0]) if rows else set()
    for column in ("Date", *wanted):
        if column not in known:
            raise BadUsage(
                f"{name} has no column {column}. Wanted is one row a day under the headings Date, USD, JPY ..., each rate "
                "in units of it for one of the base currency."
            )
    lines = []
    for n, row in enumerate(rows, 2):
        day = _day(row["Date"], f"{name}, row {n}")
        if day >= since:
            lines.append(",".join([day.isoformat(), *(_rate(row[c], f"{name}, row {n}, {c}") for c in wanted)]))
    return "\n".join([f"csv = '''\nDate,{','.join(wanted)}", *sorted(lines), "'''\n"]).encode()


def _day(cell: str, where: str) -> dt.date:
    try:
        return dt.date.fromisoformat(cell)
    except ValueError:
        raise BadUsage(f"{where}: {cell!r} is no day such as 2025-04-18.") from None


def _rate(cell: str, where: str) -> str:
    """The rate as written, "" where none was published; BadUsage for anything else."""
    if cell in NOT_PUBLISHED:
        return ""
    try:
        value = Decimal(cell)
    except InvalidOperation:
        value = Decimal(0)
    if not value.is_finite() or value <= 0:
        raise BadUsage(f"{where}: {cell!r} is no rate; a number above 0, or N/A, is wanted.")
    return cell


def parse_published(top: Table, own: str) -> Published:
    """The rates as `with_rates_read` wrote them. own: the programme's currency."""
    table, read = top.table("rates", {}), top.table("rates_read", {})
    if not table.data:
        return Published()
    currencies, source, base = table.texts("currencies"), table.text("source"), table.text("base", "EUR")
    table.text("file")
    table.day("since", dt.date(1950, 1, 1))
    table.refuse_unknown()
    rates = []
    for row in csv.DictReader(read.text("csv").splitlines()):
        day = dt.date.fromisoformat(row["Date"])
        # of the base itself there is one for one of it
        told = {c: Decimal(1) if c == base else Decimal(row[c]) for c in (*currencies, own) if c == base or row[c]}
        if own in told:
            rates += [(c, day, _across(told[c], told[own])) for c in currencies if c in told and c != own]
    read.refuse_unknown()
    return Published(tuple(sorted({*currencies} - {own})), source, tuple(sorted(rates)))


def _across(one: Decimal, own: Decimal) -> Decimal:
    return one if own == 1 else (one / own).quantize(EXACT)
