"""Rules of the nights: when they run, how often each partner is expected, and whom an alert is mailed to."""

import datetime as dt
import re
from dataclasses import dataclass

from pipeline.errors import BadUsage
from pipeline.toml_read import Table

SECURITY = ("starttls", "tls", "none")


@dataclass(frozen=True)
class Rhythm:
    """A partner is expected to hand something in every so many days, from `dated` on."""

    partner: str
    every_days: int
    dated: dt.date


@dataclass(frozen=True)
class Mail:
    """Whom an alert goes to and through which server; user and password stand in the environment alone."""

    to: tuple[str, ...] = ()
    sender: str = ""
    host: str = ""
    port: int = 0
    security: str = "starttls"


@dataclass(frozen=True)
class NightRules:
    """When a night begins (local time), and how often and after how long it tries again what the world hindered."""

    at: dt.time = dt.time(3)
    retries: int = 2
    retry_after_s: int = 60
    mail: Mail = Mail()
    rhythms: tuple[Rhythm, ...] = ()


def parse(top: Table) -> NightRules:
    """The tables [night], [night.mail] and [[partner_rhythm]] of programme.toml; BadUsage for what is no rule."""
    t = top.table("night", {})
    made = NightRules(
        at=_time(t),
        retries=t.whole("retries", 2),
        retry_after_s=t.whole("retry_after_s", 60),
        mail=_mail(t.table("mail", {})),
        rhythms=tuple(_rhythm(one) for one in top.tables("partner_rhythm")),
    )
    t.refuse_unknown()
    told = [(r.partner, r.dated) for r in made.rhythms]
    for partner, dated in told:
        if told.count((partner, dated)) > 1:
            raise BadUsage(f"{top.where}: [[partner_rhythm]] of {partner} stands twice from {dated} on.")
    return made


def _time(t: Table) -> dt.time:
    found = t.text("at", "03:00")
    if not re.fullmatch(r"([01]\d|2[0-3]):[0-5]\d", found):
        raise BadUsage(f'{t.where}: `at` is {found!r}; a time such as "03:00" is wanted.')
    return dt.time.fromisoformat(found)


def _mail(t: Table) -> Mail:
    host, _, port = t.text("server", "").partition(":")
    made = Mail(
        to=tuple(t.texts("to", [])),
        sender=t.text("from", ""),
        host=host,
        port=int(port) if port.isdecimal() else 0,
        security=t.one_of("security", SECURITY, "starttls"),
    )
    t.refuse_unknown()
    if t.data and not (made.host and made.port and made.sender):
        raise BadUsage(f'{t.where}: `from` and `server` are wanted, such as server = "mail.example.org:587".')
    for address in (made.sender, *made.to):
        if re.search(r"\s", address):
            raise BadUsage(f"{t.where}: {address!r} is no address.")
    return made


def _rhythm(t: Table) -> Rhythm:
    made = Rhythm(t.text("partner"), t.whole("every_days"), t.day("dated"))
    t.refuse_unknown()
    if not made.every_days:
        raise BadUsage(f"{t.where}: `every_days` is 0; at least 1 is wanted.")
    return made
