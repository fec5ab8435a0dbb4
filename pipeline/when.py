"""As of when something is asked: the words of a person (a day, an instant, an entry's number) made into `Asked`."""

import datetime as dt
import re
from pathlib import Path

from pipeline import run
from pipeline.errors import BadUsage
from pipeline.ledger.store import Ledger
from pipeline.programme import open_programme
from pipeline.run import Asked, projected

DAY = re.compile(r"\d{4}-\d\d-\d\d")
DAYS = "a day such as 2025-06-30"
MOMENTS = f"{DAYS} (its end), an instant such as 2025-06-30T18:00+02:00, or the number of an entry"


def asked_from(root: Path, as_of: str = "", recorded: str = "", rules: str = "") -> Asked | None:
    """What is asked, None when nothing is: then what was published answers.

    as_of     the last happened day counted.
    recorded  what the ledger knew: by the end of a local day, by an instant (without an offset: the programme's own
              time), or up to the entry of that number.
    rules     "then" (also when nothing is said) or "today".
    BadUsage when a text is none of these, or names what the ledger does not reach.
    """
    if not (as_of or recorded or rules):
        return None
    happened = _day(as_of) if as_of else None
    if as_of and happened is None:
        raise BadUsage(f"--as-of {as_of!r} is no day. Write {DAYS}.")
    return Asked(happened, _entry(root, recorded) if recorded else None, rules or "then")


def in_words(root: Path, asked: Asked, day: dt.date) -> str:
    """What was asked, as the figures' heading says it. day: the last happened day counted."""
    told = f"{day}" if asked.happened else f"{day}, the last day anything was told of"
    if asked.entry is not None:
        entry = Ledger(open_programme(root).places.ledger).entry(asked.entry)
        told += f", known by entry {entry.number} (recorded {entry.recorded[:19]}Z)"
    whose = "today's rules" if asked.rules == "today" else "the rules of then"
    return f"{told}, under {whose}"


def _day(text: str) -> dt.date | None:
    try:
        return dt.date.fromisoformat(text) if DAY.fullmatch(text) else None
    except ValueError:
        return None


def _entry(root: Path, recorded: str) -> int:
    ledger = Ledger(open_programme(root).places.ledger)  # asking writes nothing
    last = ledger.last_number()
    if recorded.isdecimal():
        if not 1 <= int(recorded) <= last:
            raise BadUsage(f"--recorded {recorded}: there is no such entry. The ledger's entries are 1 to {last}.")
        number = int(recorded)
    else:
        number = run.entry_at(root, _instant(root, recorded))
        if number == 0:
            first = f"its first entry is of {ledger.entry(1).recorded[:19]}Z" if last else "it has no entry yet"
            raise BadUsage(f"--recorded {recorded}: the ledger knew nothing by then; {first}. Ask for a later time.")
    measured = projected(root)
    if number > measured:
        raise BadUsage(
            f"--recorded {recorded} is entry {number}, and only entries up to {measured} are measured. Run `wrackline measure` first."
        )
    return number


def _instant(root: Path, text: str) -> dt.datetime:
    """The instant, in UTC: of a day its last microsecond in the programme's time zone."""
    wrong = BadUsage(f"--recorded {text!r} is no time. Write {MOMENTS}.")
    zone = open_programme(root).rules.zone
    try:
        if day := _day(text):
            midnight = dt.datetime.combine(day + dt.timedelta(days=1), dt.time(), zone)
            return midnight.astimezone(dt.UTC) - dt.timedelta(microseconds=1)
        told = dt.datetime.fromisoformat(text) if "T" in text or " " in text else None
        if told is None:
            raise wrong
        return (told if told.tzinfo else told.replace(tzinfo=zone)).astimezone(dt.UTC)
    except (ValueError, OverflowError):
        raise wrong from None
