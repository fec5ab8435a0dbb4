"""When each site is dived, and how that goes: found or not, how far one sees, who is there."""

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal

from seeds_demo.coast import FULMAR_LAB, PONTA_PARDA, UNFOUND_SORT, WHARFSIDE, Site
from seeds_demo.dice import Dice

# Days after the first planting: what is done. Surveys count frames, checks look for units.
SURVEYS = (-20, 150, 330, 510, 700, 880, 1060)
CHECKS_FIRST = (12, 24, 45, 90, 150, 230, 330, 430, 510)  # of units of the first planting
CHECKS_SECOND = (377, 389, 430, 510, 700, 880)  # of those of the second
RETRIEVED = {1: 510, 2: 880}  # the trip on which a planting's units are brought home
UNFOUND_YEAR = 2023

PEOPLE = {
    "skerrylight": ("ode", "fin"),
    "ponta-parda": ("lua", "rui"),
    "ulvetangen": ("siv", "tor"),
    "fulmar-lab": ("aya", "kim"),
    "wharfside": ("bo", "dee"),
    "coastworks": ("pax",),
}
_WHY = {"not found": "mark buoy gone, searched 25 min", "aborted": "swell rising, turned back"}
_GONE = "marks overgrown after the winter, site not found again"


@dataclass(frozen=True)
class Look:
    """One dive at one site. `since` is days since the first planting; `number` is the dive's of that day."""

    key: str  # the partner's own dive code, "" where it has none
    site: str
    partner: str
    day: dt.date
    since: int
    number: int
    outcome: str
    why: str
    team: int
    minutes: int
    visibility_m: Decimal
    water_degc: Decimal
    by: str
    survey: bool
    controls: bool  # the second dive of a survey, at the control and reference plots
    round_on: dt.date

    @property
    def visit_key(self) -> str:
        """The dive's code as the ledger knows it: the partner's own, or site, day and number."""
        return self.key or f"{self.site} {self.day.isoformat()} {self.number}"

    @property
    def found(self) -> bool:
        """Whether the site was found."""
        return self.outcome == "found"


def looks(seed: int, site: Site) -> list[Look]:
    """Every dive at the site, in order of time."""
    dice = Dice(seed, "looks", site.index)
    made: list[Look] = []
    second = set(CHECKS_SECOND) if site.planted_again_on else set()
    for since in sorted({*SURVEYS, *CHECKS_FIRST, *second}):
        day = site.planted_on + dt.timedelta(days=since)
        survey = since in SURVEYS
        made.append(_look(dice, site, day, since, 1, survey, False, day, len(made)))
        if survey and made[-1].found:
            later = day + dt.timedelta(days=int(dice.chance(0.3)))
            number = 1 if later > day else 2
            made.append(_look(dice, site, later, since, number, True, True, day, len(made)))
    return made


def _look(
    dice: Dice, site: Site, day: dt.date, since: int, number: int, survey: bool, controls: bool, round_on: dt.date, nth: int
) -> Look:  # fmt: skip
    outcome, why = "found", ""
    if not survey and since > 24:
        luck = dice.throw()
        outcome = "not found" if luck < 0.08 else "aborted" if luck < 0.12 else "found"
        why = _WHY.get(outcome, "")
    if site.sort == UNFOUND_SORT and day.year == UNFOUND_YEAR:
        outcome, why = "not found", _GONE
    poor = not survey and dice.chance(0.06)
    return Look(
        key=_code(site, nth),
        site=site.key,
        partner=site.partner,
        day=day,
        since=since,
        number=number,
        outcome=outcome,
        why=why,
        team=dice.whole(2, 5),
        minutes=dice.whole(32, 58) if outcome == "found" else dice.whole(8, 25),
        visibility_m=Decimal(dice.whole(8, 13) if poor else dice.whole(25, 95)) / 10,
        water_degc=Decimal(dice.whole(-8, 8) + _warmth(day)) / 10,
        by=dice.pick(PEOPLE[site.partner]),
        survey=survey,
        controls=controls,
        round_on=round_on,
    )


def _code(site: Site, nth: int) -> str:
    """Three partners number their dives; the others write site, day and number."""
    prefix = {PONTA_PARDA: "M", FULMAR_LAB: "F", WHARFSIDE: "W"}.get(site.partner)
    return f"{prefix}-{site.key}-{nth + 1:02d}" if prefix else ""


def _warmth(day: dt.date) -> int:
    """Water in tenths of a degree by month: coldest in March, warmest in September."""
    return (92, 88, 86, 92, 104, 120, 136, 147, 150, 140, 120, 103)[day.month - 1]
