"""A new programme's folder: what `wrackline start` writes, to be filled in by people."""

from pathlib import Path

from pipeline.errors import BadUsage

PROGRAMME = """\
# The rules of this programme. Every version that is used is kept in the ledger.

[programme]
key = "my-programme"            # short and never changed: identifiers are made from it
name = "My programme"
timezone = "UTC"                # of times written without a zone, such as "Europe/Lisbon"
currency = "EUR"                # in which costs are reported (ISO 4217)

[rules]
treated_area_rule = "plot area" # or "area per unit": decide beforehand, it moves the cost per hectare
area_per_unit_m2 = 1            # for "area per unit"
release_window_days = 21        # how long a bag must hold
# retention_days = [21, 60]     # at which days retention is told; the release window if left out
survey_round_days = 7           # dives closer together than this are one survey round
trial_below_m2 = 1000           # below this area a cost is called a trial cost
first_meaningful_day = 90       # before it, recruits cannot be expected to show
least_search_min = 0            # an absence after a shorter search proves nothing
least_visibility_m = 0          # nor does one in worse visibility

# Limits of good practice. They are the programme's own: local permits outrank them.
[limits]
most_hours_to_release = 48      # from cutting to release
warmest_degc = 15               # of tissue on its way
take_limit_pct = 10             # of a bed's fertile plants in a year

[limits.lowest_cut_cm]          # above the meristem, so that the plant grows on
# "Saccharina latissima" = 8

# Bands of depth in which retention is told; every 5 m if left out.
# [retention]
# depth_bands_m = [0, 4, 8, 15]
# Donor beds and the keeping of tissue: common practice, and yours to set. What a bed states, and local permits, outrank it.
[donors]
season_starts_month = 1         # a season of cutting over new year is named 2025/26
rest_days = 0                   # a bed rests so long between cuttings; 0: no rule
coolest_degc = 0                # tissue is not frozen
most_gap_hours = 1              # a longer time of which nobody wrote anything is a gap

[donors.most_hours]             # the longest that a step may take: cut, clean, dry, hold, carry, release
# dry = 2

# What is searched for, dated BEFORE the first survey that names it. Without it there are no zeros.
[[protocol]]
key = "quadrats"
dated = 2025-01-01
frame = "quadrat"
placement = "random"
[[protocol.search]]
species = "Saccharina latissima"
stages = ["recruit", "juvenile"]
smallest_cm = 0.5

# What grows. Surveys are compared within one season only.
# [recruitment]
# season_starts = [3, 6, 9, 12] # months in which a season begins; no survey trip should fall across one
# recruit_days = 120            # after so many days no recruit is one any more: it grew on or is gone
# [[recruitment.first_meaningful_day]]  # where recruits of a species or method show earlier or later
# species = "Saccharina latissima"
# method = "transplant"
# day = 30

# What this programme calls success: written down BEFORE the first survey that it judges.
# [[success]]
# key = "recruits came"
# dated = 2025-01-01
# indicator = "treated minus control"   # or density, treated over control, treated over reference, ...
# species = "Saccharina latissima"
# stage = "recruit"
# at_least = 1                  # or at_most; in the unit of the indicator
# from_day = 120                # since the site was first planted; to_day if it ends

# The most of a grazer that this programme bears: frames tell above, below or cannot tell. A protocol searches for it.
# [[grazer_limit]]
# key = "urchins"
# dated = 2025-01-01
# species = "Strongylocentrotus droebachiensis"
# stage = "any"
# most_per_m2 = 2
# source = "where you read it"

# Lengths to stages, for partners that write lengths.
# [[stage]]
# species = "Saccharina latissima"
# stage = "recruit"
# from_cm = 0
# to_cm = 5

# Rates of other currencies: units of it for one of yours, from that day on, with the source.
# [[rate]]
# currency = "NOK"
# dated = 2025-01-01
# per_unit = 11.5
# source = "where you read it"

# Loggers of temperature: what is a full day, and what cannot be of the sea.
# [temperature]
# seasons = "calendar year"     # or "meteorological": three months each, beginning in December
# full_day_pct = 80             # of a logger's usual readings, below which a day has no mean
# least_degc = -2               # readings outside are left out
# most_degc = 30
# most_step_degc = 5            # within an hour; a day that moved more was in the air

# Upper temperatures of species, with the source. Without any, nothing is held against one.
# [[temperature_limit]]
# species = "Saccharina latissima"
# degc = 18
# source = "where you read it"

# What is usual for the season, from thirty years or more. Without it no logger can show a marine heatwave.
# [[climatology]]
# source = "who made it, from what"
# first_year = 1991
# last_year = 2020
# sites = ["NP"]                # where it holds; everywhere if left out
# days = \"\"\"
# day,seasonal,threshold
# 1,8.22,9.18
# \"\"\"                           # 366 lines of degC; day 60 is 29 February, the threshold is the 90th percentile

# What is planned, so that the programme can be told what it takes.
# [planning]
# units = 200                   # to be put down next season; as many as last time if left out
# fixing_difference_points = 20 # difference of two fixings that is worth seeing

# When every site is looked at: on days after its last planting, or every so many days.
# [[visit_plan]]
# what = "check"                # of units; or "survey", or "visit" for either
# days = [14, 45, 90]
# [[visit_plan]]
# what = "survey"
# every_days = 90
# Or published rates: a file in this folder, a row a day under Date, USD, JPY ..., each in units of it for one of `base`.
# [rates]
# file = "eurofxref-hist.csv"
# currencies = ["NOK", "USD"]   # those you pay in
# source = "European Central Bank, euro foreign exchange reference rates"
# base = "EUR"
# since = 2024-01-01            # earlier days are left out

# Costs.
# [costs]
# monitoring_phases = ["monitor", "report"]   # left out where costs are told without monitoring and research
# base_year = 2024              # in whose prices costs are told too; needs an index of each currency
# [[price_index]]               # of a year, or of a month: month = 5
# currency = "NOK"
# year = 2024
# value = 132.9
# source = "where you read it"
# [hour_value]                  # what an hour given is worth; told apart from money
# per_hour = 25
# dated = 2025-01-01
# source = "who says so"

# What may be published (`wrackline archive`). Without a licence nothing is, and nothing of a partner that is not named here.
# [publishing]
# licence = "CC-BY-4.0"         # or "CC0-1.0", "CC-BY-NC-4.0": those that the repositories take
# title = "..."
# abstract = "..."
# organisation = "..."          # who publishes, and whom to ask
# email = "..."
# area = "the coast in a sentence"
# words = ["cobble"]            # that partners wrote for methods, grounds, units, kinds seen, and that name nobody and no place
# funding = "..."               # also url, rights_holder, keywords, purpose, citation, maintenance, update_frequency
# [[publishing.partner]]
# name = "divers"
# agreed = 2025-01-01           # the day it agreed
# licence = "CC-BY-4.0"         # one that asks for more than yours keeps it out
# rights_holder = "..."
# embargo_until = 2026-01-01    # nothing of it before; or embargo_days = 365 after each thing happened
# [[publishing.person]]         # who is named, if people.toml says that they may be
# code = "mb"
# role = "contentProvider"

# Planted is never wild: what plants of a species are, and what a planting of it is. Unsaid: nothing, and uncertain.
# [[publishing.origin]]
# species = "Saccharina latissima"
# natural = "native"            # where nobody planted it; or "introduced", "uncertain"
# planted = "lost here"         # or "living here", "outside its range", "parentage unknown"
# degree = "released"           # of a planting, later perhaps "reproducing" or "established"
# tended = ["seeded line"]      # methods whose plants are tended
# dispersal_m = 500             # farther from a planting than this, plants of a control plot are natural
# site = "NP"                   # for this site alone

# Places that are blurred or withheld beyond what the registers say, of a species, a site or a bed.
# [[publishing.sensitive]]
# species = "Haliotis tuberculata"
# level = "0.1"                 # degrees: 0.001, 0.01, 0.1, 1, or "withheld"
# until = 2027-01-01            # for ever if left out
"""

PARTNER = """\
# How this partner writes. Copy this file to partners/<name>.toml and its inbox to inbox/<name>/.
# Files that use our own headings (see `wrackline columns survey`) and are called survey..., check... need no mapping.

language = "en"                 # of the sheet, and of the letters: en, es, pt, fr, nb
# letters = "en"                # of the letters, where that is another
decimal = "."                   # or ","
dates = "DMY"                   # or "MDY", "YMD": how days are written; without it the cells settle it, or it is asked
blanks = ["-", "n/a"]           # words that mean: nothing written

[codes.stage]                   # their words to ours, for every sheet
# "small" = "recruit"
# [codes.cover_pct]             # words for a number
# "+" = "0.5"

[[sheet]]
files = ["counts*.csv"]         # names of the files that are written like this
# What a file alone cannot settle; what is said here holds, the rest is found:
# sheets = ["2025*"]            # which sheets of a workbook are meant
# unit_row = true               # the row below the headings holds units
# skip_rows_starting = ["Total"]
# merged = ["Site"]             # merged cells of these columns speak for every row they cover
# encoding = "cp1252"
# delimiter = ";"
kind = "survey"
[sheet.columns]                 # our column = "their heading"
visit_key = "Dive"
happened = "Date"
site_key = "Site"
plot_key = "Plot"
frame_key = "Quadrat"
species = "Species"
stage = "Stage"
count = "Number"
area_m2 = "Size"
[sheet.units]                   # units they write in, where not ours
area_m2 = "cm2"
[sheet.fixed]                   # values for the whole file
frame_type = "quadrat"
placement = "random"
protocol = "quadrats"
"""

PEOPLE = """\
# Names behind the codes that events carry. This file is never copied into the ledger.
# [mb]
# name = "..."
# may_be_named = false
# orcid = "0000-0000-0000-0000"
"""


def start(root: Path) -> list[str]:
    """Make the folder; gives what was made. BadUsage if something stands there already."""
    if root.exists() and any(root.iterdir()):
        raise BadUsage(f"{root} is not empty. Name a new folder.")
    for folder in ("inbox/programme", "partners", "out"):
        (root / folder).mkdir(parents=True)
    files = {"programme.toml": PROGRAMME, "partners/example.toml.txt": PARTNER, "people.toml": PEOPLE}
    for name, text in files.items():
        (root / name).write_text(text, encoding="utf-8")
    (root / "people.toml").chmod(0o600)
    return [*files, "inbox/programme/", "partners/"]
