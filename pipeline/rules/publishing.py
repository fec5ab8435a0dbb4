"""The programme's rules on what is published and how: the table [publishing] of programme.toml.

Nothing is published of which nobody said under which licence; what is left out here is left out of every archive.
"""

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal

from pipeline.errors import BadUsage
from pipeline.toml_read import Table

# The licences that both repositories take, the freest first (GBIF: License enum; OBIS manual).
LICENCES = ("CC0-1.0", "CC-BY-4.0", "CC-BY-NC-4.0")
LEVELS = (
    "none",
    "0.001",
    "0.01",
    "0.1",
    "1",
    "withheld",
)  # of blurring, in degrees, the finest first; as the registers say
# What is found where nobody planted, and what a planting is: the case table of our standards page (section 1.10).
NATURAL = ("native", "introduced", "uncertain", "")
PLANTED = ("lost here", "living here", "outside its range", "parentage unknown")
DEGREES = ("released", "failing", "casual", "reproducing", "established")
FREQUENCIES = ("annually", "asNeeded", "biannually", "continually", "daily", "irregular", "monthly", "notPlanned",
               "weekly", "unknown", "otherMaintenancePeriod")  # fmt: skip
FOR_EVER = dt.date(9999, 12, 31)
# Words that our own columns name: nobody wrote them freely, so nobody has to agree to them.
TRADE_WORDS = ("spore bag", "seeded gravel", "seeded line", "transplant", "pitted rock", "boulders", "sand", "animals", "kg",
               "cf.", "aff.", "?", "boat", "diving", "gear", "tissue", "laboratory", "travel")  # fmt: skip
Placed = tuple[str, str]  # a species and a site; "" for every one


@dataclass(frozen=True)
class Agreed:
    """A partner that agreed to publish what it told, under which licence, and from when on.

    embargo_until  nothing of it before that day. embargo_days: each event only so many days after it happened.
    """

    partner: str
    licence: str
    agreed: dt.date
    rights_holder: str = ""
    embargo_until: dt.date | None = None
    embargo_days: int = 0

    def open_until(self, today: dt.date) -> dt.date | None:
        """What happened by this day may be published today; None: nothing may."""
        if today < self.agreed or (self.embargo_until is not None and today < self.embargo_until):
            return None
        return today - dt.timedelta(days=self.embargo_days) if self.embargo_days else FOR_EVER


@dataclass(frozen=True)
class Origin:
    """How plants of a species (at a site; "": everywhere) are told: where nobody planted them, and where somebody did.

    natural      establishmentMeans without a planting; "": nothing is said.
    planted      one of PLANTED; degree: degreeOfEstablishment of a planting. tended: methods whose plants are tended.
    dispersal_m  farther from a planting than this, plants are natural; None: nowhere is surely far enough.
    """

    species: str
    site: str = ""
    natural: str = ""
    planted: str = "parentage unknown"
    degree: str = "released"
    tended: tuple[str, ...] = ()
    dispersal_m: Decimal | None = None


@dataclass(frozen=True)
class Sensitive:
    """How the places of a species, or one site or bed, are blurred beyond what the registers say; until: up to that day."""

    level: str
    species: str = ""
    site: str = ""
    bed: str = ""
    until: dt.date | None = None


@dataclass(frozen=True)
class Named:
    """A person who takes part, by code: name and consent stand in people.toml. role: as GBIF's agent roles."""

    code: str
    role: str


@dataclass(frozen=True)
class PublishingRules:
    """What an archive says of itself, and what may be in it. Without a licence nothing is published.

    words  of partners, beyond those of the trade, that somebody looked through and agreed to: methods, grounds, units of
    amounts, doubts about a name, names of what was seen. Others may hold a name or a place, and stay out.
    """

    licence: str = ""
    title: str = ""
    abstract: str = ""
    organisation: str = ""
    email: str = ""
    url: str = ""
    rights_holder: str = ""
    published: dt.date | None = None
    language: str = "eng"
    keywords: tuple[str, ...] = ()
    purpose: str = ""
    citation: str = ""
    funding: str = ""
    area: str = ""
    maintenance: str = ""
    update_frequency: str = "unknown"
    words: tuple[str, ...] = ()
    partners: tuple[Agreed, ...] = ()
    origins: tuple[Origin, ...] = ()
    sensitive: tuple[Sensitive, ...] = ()
    people: tuple[Named, ...] = ()

    def open_partners(self, today: dt.date) -> list[tuple[str, dt.date]]:
        """Every partner of which something may be published today, and up to which happened day."""
        told = [(a.partner, a.open_until(today)) for a in self.partners if not self.too_strict(a)]
        mine = [] if any(a.partner == "programme" for a in self.partners) else [("programme", FOR_EVER)]
        return [*mine, *((p, day) for p, day in told if day is not None)] if self.licence else []

    @property
    def agreed_words(self) -> frozenset[str]:
        """Words that may be published as a partner wrote them, in small letters."""
        return frozenset(w.casefold() for w in (*TRADE_WORDS, *self.words))

    def too_strict(self, a: Agreed) -> bool:
        """Whether a partner asks for more than the archive's licence does."""
        return not self.licence or LICENCES.index(a.licence) > LICENCES.index(self.licence)


def parse(top: Table) -> PublishingRules:
    """Rules from [publishing] and its tables; BadUsage names what is wrong and the cure."""
    t = top.table("publishing", {})
    made = PublishingRules(
        licence=t.one_of("licence", ("", *LICENCES), ""),
        title=t.plain_text("title", ""),
        abstract=t.plain_text("abstract", ""),
        organisation=t.plain_text("organisation", ""),
        email=t.plain_text("email", ""),
        url=t.plain_text("url", ""),
        rights_holder=t.plain_text("rights_holder", ""),
        published=t.day("published") if "published" in t.data else None,
        language=t.plain_text("language", "eng"),
        keywords=tuple(t.plain_texts("keywords", [])),
        purpose=t.plain_text("purpose", ""),
        citation=t.plain_text("citation", ""),
        funding=t.plain_text("funding", ""),
        area=t.plain_text("area", ""),
        maintenance=t.plain_text("maintenance", ""),
        update_frequency=t.one_of("update_frequency", FREQUENCIES, "unknown"),
        words=tuple(t.plain_texts("words", [])),
        partners=tuple(_agreed(p) for p in t.tables("partner")),
        origins=tuple(_origin(o) for o in t.tables("origin")),
        sensitive=tuple(_sensitive(s) for s in t.tables("sensitive")),
        people=tuple(_named(p) for p in t.tables("person")),
    )
    t.refuse_unknown()
    for what, keys in (
        ("[[publishing.partner]] name", [a.partner for a in made.partners]),
        ("[[publishing.origin]] species and site", [f"{o.species} {o.site}".strip() for o in made.origins]),
    ):
        doubles = sorted({k for k in keys if keys.count(k) > 1})
        if doubles:
            raise BadUsage(f"{t.where}: {what} {doubles[0]} stands twice. Take one away.")
    return made


def _agreed(t: Table) -> Agreed:
    until = t.day("embargo_until") if "embargo_until" in t.data else None
    made = Agreed(t.plain_text("name"), t.one_of("licence", LICENCES), t.day("agreed"), t.plain_text("rights_holder", ""), until,
                  t.whole("embargo_days", 0))  # fmt: skip
    t.refuse_unknown()
    return made


def _origin(t: Table) -> Origin:
    made = Origin(
        species=t.plain_text("species"), site=t.plain_text("site", ""), natural=t.one_of("natural", NATURAL, ""),
        planted=t.one_of("planted", PLANTED, "parentage unknown"), degree=t.one_of("degree", DEGREES, "released"),
        tended=tuple(t.plain_texts("tended", [])), dispersal_m=t.decimal("dispersal_m") if "dispersal_m" in t.data else None,
    )  # fmt: skip
    t.refuse_unknown()
    return made


def _sensitive(t: Table) -> Sensitive:
    until = t.day("until") if "until" in t.data else None
    made = Sensitive(
        t.one_of("level", LEVELS[1:]),
        t.plain_text("species", ""),
        t.plain_text("site", ""),
        t.plain_text("bed", ""),
        until,
    )
    t.refuse_unknown()
    if sum(map(bool, (made.species, made.site, made.bed))) != 1:
        raise BadUsage(f"{t.where}: one of `species`, `site` and `bed` is wanted, and no more than one.")
    return made


def _named(t: Table) -> Named:
    made = Named(t.plain_text("code"), t.plain_text("role", "contentProvider"))
    t.refuse_unknown()
    return made
