"""The programme's rules file and the file of its people's names."""

from seeds_demo.coast import OARWEED, SUGAR
from seeds_demo.growth import LENGTHS_CM, NEAR_UNITS, QUADRATS, STAGES
from seeds_demo.lives import RETENTION_DAYS
from seeds_demo.loggers import LIMIT_DEGC
from seeds_demo.money import PRICES, RATES

_HEAD = f"""\
# The Outer Reach kelp programme is invented, and so are its coast, its people and its rates.

[programme]
key = "outer-reach"
name = "Outer Reach kelp programme"
timezone = "Atlantic/Azores"
currency = "EUR"

[rules]
treated_area_rule = "plot area"
release_window_days = 21
retention_days = {list(RETENTION_DAYS)}
survey_round_days = 7
trial_below_m2 = 5000
first_meaningful_day = 90
zero_k = 0.5
least_search_min = 3
least_visibility_m = 1.5

# Money is told in the prices of 2024 too; what an hour is worth is told apart.
[costs]
base_year = 2024

[hour_value]
per_hour = 18
dated = 2022-01-01
source = "invented for the demo"

# The programme's own limits; local permits outrank them.
[limits]
most_hours_to_release = 48
warmest_degc = 15
take_limit_pct = 10

[limits.lowest_cut_cm]
"{SUGAR}" = 8

# Surveys are in February and March and in August and September: a season must not part them.
[recruitment]
season_starts = [1, 4, 7, 10]

# One rule of success was written down before the first survey, one after everybody had seen how it went.
[[success]]
key = "recruits came"
dated = 2022-01-10
indicator = "treated minus control"
species = "{SUGAR}"
stage = "recruit"
at_least = 1
from_day = 120

[[success]]
key = "a quarter of the forest"
dated = 2024-10-01
indicator = "treated over reference"
species = "{SUGAR}"
stage = "canopy"
at_least = 0.25
from_day = 700
# A logger's summer is held against what the programme read; that days lie above it says nothing of the kelp.
[[temperature_limit]]
species = "{SUGAR}"
degc = {LIMIT_DEGC}
source = "Lüning & Freshwater 1988: survived a week at up to 18"

[planning]
units = 240                     # to be put down next season
fixing_difference_points = 20   # of two fixings, worth seeing

[[visit_plan]]                  # days after the last planting of a site
what = "check"
days = [14, 30, 60, 120, 330]
[[visit_plan]]
what = "survey"
every_days = 180

# Both protocols were written down before the first survey (22 February 2022).
[[protocol]]
key = "{QUADRATS}"
dated = 2022-01-10
frame = "quadrat"
placement = "random"
[[protocol.search]]
species = "{SUGAR}"
stages = ["recruit", "juvenile", "sub-canopy", "canopy"]
smallest_cm = 1
[[protocol.search]]
species = "{OARWEED}"
stages = ["canopy"]
smallest_cm = 50

[[protocol]]
key = "{NEAR_UNITS}"
dated = 2022-01-10
frame = "quadrat"
placement = "at unit"
[[protocol.search]]
species = "{SUGAR}"
stages = ["recruit", "juvenile"]
smallest_cm = 1
"""

_PEOPLE = {
    "ode": ("Ode Farrant", True), "fin": ("Fin Lowry-Marsh", False), "lua": ("Lua Serrabranca", True),
    "rui": ("Rui Valcovo", False), "siv": ("Siv Ulvedal", True), "tor": ("Tor Grimnes", True),
    "aya": ("Aya Fulmarin", True), "kim": ("Kim Teal", False), "bo": ("Bo Hatcher", True), "dee": ("Dee Quill", False),
    "pax": ("Pax Underhill", False),
}  # fmt: skip


_ORCID = {"aya": "0000-0000-0000-0001"}  # belongs to nobody

_PUBLISHING = f"""\
# What may be published, and as what. Partners that are not named here agreed to nothing.
[publishing]
licence = "CC-BY-4.0"
title = "Kelp restoration at the Outer Reach, 2022 to 2025 (invented)"
abstract = "Spore bags and seeded gravel of {SUGAR} were put on bare reef at six sites and looked for later; divers counted kelps in quadrats of treated, control and reference plots under protocols written down before. All of it is invented."
organisation = "Outer Reach kelp programme"
email = "data@outer-reach.example"
area = "Six reefs of an invented coast in the open Atlantic."
keywords = ["kelp", "restoration", "recruitment"]
funding = "Members' fees and invented grants."
update_frequency = "biannually"
# of partners, looked through; those of the trade need no word
words = [
    "rock with urchins", "bags, cotton and bolts", "boat fuel", "boat hire", "cool room lent by the harbour", "coordinator",
    "cotton and jute", "cutting trip", "divers", "evenings of planning", "grazer work", "insurance of the works", "local stone", "mark buoys and bolts",
    "new fixing plate", "permits and notices", "planting crew", "skipper and crane", "units put down",
]

[[publishing.person]]
code = "aya"
role = "processor"

[[publishing.person]]
code = "kim"                    # did not consent, and so is not named
role = "processor"

[[publishing.partner]]
name = "skerrylight"
agreed = 2022-01-05
licence = "CC-BY-4.0"
rights_holder = "Skerrylight Diving Club (invented)"

[[publishing.partner]]
name = "fulmar-lab"
agreed = 2022-01-05
licence = "CC-BY-4.0"
rights_holder = "Fulmar Laboratory (invented)"

[[publishing.partner]]
name = "ponta-parda"
agreed = 2022-01-05
licence = "CC0-1.0"

[[publishing.partner]]
name = "ulvetangen"
agreed = 2022-01-05
licence = "CC-BY-4.0"

[[publishing.partner]]
name = "wharfside"
agreed = 2022-01-05
licence = "CC-BY-NC-4.0"        # stricter than the archive's own: it stays out

# {SUGAR} was lost from the treated plots' reefs before anybody planted; {OARWEED} was never planted.
[[publishing.origin]]
species = "{SUGAR}"
natural = "native"
planted = "lost here"
dispersal_m = 500

[[publishing.origin]]
species = "{OARWEED}"
natural = "native"
"""


def programme_toml() -> str:
    """programme.toml"""
    lines = [_HEAD, _PUBLISHING, "# Lengths to stages, for partners that write lengths."]
    starts = [LENGTHS_CM[stage][0] for stage in STAGES]
    for stage, low, high in zip(STAGES, [0, *starts[1:]], [*starts[1:], None], strict=True):
        lines += [_stage(SUGAR, stage, low, high)]
    lines += [_stage(OARWEED, "canopy", 50, None), "# Units of the currency for one EUR, from that day on."]
    for currency, rates in RATES.items():
        for day, rate in rates:
            lines += [
                f'[[rate]]\ncurrency = "{currency}"\ndated = {day}\nper_unit = {rate}\nsource = "invented for the demo"\n'
            ]
    for currency, values in PRICES.items():
        for year, value in values:
            lines += [
                f'[[price_index]]\ncurrency = "{currency}"\nyear = {year}\nvalue = {value}\nsource = "invented for the demo"\n'
            ]
    return "\n".join(lines)


def _stage(species: str, stage: str, low: int, high: int | None) -> str:
    top = "" if high is None else f"to_cm = {high}\n"
    return f'[[stage]]\nspecies = "{species}"\nstage = "{stage}"\nfrom_cm = {low}\n{top}'


def people_toml() -> str:
    """people.toml"""
    lines = ["# Names behind the codes that events carry: all invented. This file is never copied into the ledger."]
    for code, (name, named) in _PEOPLE.items():
        orcid = f'\norcid = "{_ORCID[code]}"' if code in _ORCID else ""
        lines += [f'[{code}]\nname = "{name}"\nmay_be_named = {str(named).lower()}{orcid}']
    return "\n".join(lines) + "\n"
