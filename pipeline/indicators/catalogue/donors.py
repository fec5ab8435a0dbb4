"""Entries on donor beds, on the keeping of tissue, and on permits."""

from pipeline.indicators.catalogue.entry import Indicator

_LOCAL = "Limits are common practice or published, and set by the programme; local permits and codes rule."
_SEAWEED_CODE = "share of a bed: seaweed hatchery course notes (1 in 10 reproductive blades); Natural England's seaweed code of conduct (less than a third of a plant)"

ENTRIES = (
    *(
        Indicator(
            f"share of {what} cut", f"Share of the bed's {what} taken", "%",
            f"{taken} in all recorded cuttings of a bed in a season, over the {what} that the bed's dated estimate gives",
            "ratio to the estimate; the interval is the estimate's own low and high", _SEAWEED_CODE,
            "Without an estimate the share is not known, and never under a limit. Holds for recorded cuttings alone; the "
            f"estimate's low and high have whatever confidence its maker gave them. {_LOCAL}",
        )
        for what, taken in (("fertile plants", "plants cut"), ("adult plants", "plants cut"), ("fertile blades", "blades cut"))
    ),
    Indicator(
        "rest between cuttings", "Rest between cuttings", "days",
        "the fewest days between a day of cutting in the season and the last one before it, at one bed",
        "counted", "common practice, no source", f"Cuttings that nobody recorded are not known. {_LOCAL}",
    ),
    Indicator(
        "parent plants of a batch", "Parent plants of a batch", "plants",
        "different plants that gave tissue to all cuttings upstream of a batch, through mixing, splitting and culture",
        "counted; from the largest cutting of each bed to all of them together", "none needed",
        "The published 50-50 guideline (at least 50 unrelated plants, put down within 50 km of their origin: Alaska, under review by its own "
        "genetics programme) is quoted, not applied. A number of parents does not say how related they are. Local rules rule.",
    ),
    Indicator(
        "parent plants of a site", "Parent plants of a site", "plants",
        "different plants that gave tissue to all cuttings upstream of whatever was put down at a site",
        "counted; from the largest cutting of each bed to all of them together", "none needed",
        "The published 50-50 guideline (at least 50 unrelated plants, put down within 50 km of their origin: Alaska, under review by its own "
        "genetics programme) is quoted, not applied. Not every parent's spores reach every unit, nor need they recruit.",
    ),
    Indicator(
        "donor distance", "Distance from donor bed to site", "km",
        "length of the shortest way on the ellipsoid between a site's position and that of a bed whose tissue it got",
        "geodesic on WGS 84", "Karney 2013, J. Geodesy 87:43",
        "Not the way by water. Blurred places are told in steps as coarse as their blur, withheld ones not at all. The 50 km of the published "
        "50-50 guideline are quoted, not applied; nothing is said of kinship.",
    ),
    Indicator(
        "hours from cut to opening", "Hours from cut to opening", "h",
        "the longest time from the end of a cutting to the opening on the bottom of a unit that holds its tissue",
        "times told", "limit: common practice, no source (hatchery notes: viable to 3 days if cool)",
        f"Of cultured stock it is the age, not the waiting of fresh tissue. {_LOCAL}",
    ),
    Indicator(
        "hours of a step", "Hours of a step", "h",
        "time told for one step of a batch on its way, of the cutting whose tissue was longest in it",
        "times told; what was told twice counts once", "limits: common practice, no source", _LOCAL,
    ),
    Indicator(
        "hours without a record", "Hours without a record", "h",
        "time between cutting and opening on the bottom in which no step is told, gaps up to the programme's most_gap_hours left out",
        "times told", "common practice, no source",
        "Without a record is not badly kept; with one is not well kept.",
    ),
    Indicator(
        "warmest tissue", "Warmest tissue", "degC",
        "the highest temperature told of a batch in cleaning, drying, holding, carrying or release, on the boat, or read by a logger that is "
        "named like its vessel or the batch",
        "highest told", "limit: common practice, no source (hatchery notes: keep cool)",
        f"The highest that somebody wrote down; in between it may have been warmer. {_LOCAL}",
    ),
    Indicator(
        "coolest tissue", "Coolest tissue", "degC", "the lowest temperature told of a batch in the same steps",
        "lowest told", "limit: common practice, no source (hatchery notes: not frozen)",
        f"The lowest that somebody wrote down; in between it may have been cooler. {_LOCAL}",
    ),
    Indicator(
        "handling and recruits", "Does handling go with recruits?", "from -1 to 1",
        "rank correlation over sites between the handling of their tissue (mean hours from cut to opening, or warmest temperature) and recruits "
        "per m2 in treated plots, first round that is not too early",
        "Kendall's tau-b with Fisher's transform; every order, or 20,000 drawn ones, beside it",
        "Fieller, Hartley & Pearson 1957, Biometrika 44:470; Kendall 1938, Biometrika 30:81",
        "Data that go together, nothing more: each site has its own batch, water and grazers. Refused under five batches or sites. In our own "
        "simulation the interval held the truth 94 to 99.8 % of times, but only 87 to 93 % with 8 to 20 sites in nearly perfect order.",
    ),
    Indicator(
        "recorded under a permit", "Recorded under a permit", "as the quota",
        "what all partners together recorded as taken, placed or removed under one permit number, in the unit of its quota",
        "sum", "the permit's own paper",
        "Only what was recorded: what was not reported is not known. It does not say that a permit was kept, nor that one was needed. Local permits rule.",
    ),
    Indicator(
        "share of a permit's quota", "Share of a permit's quota", "%", "what is recorded under a permit over its quota",
        "recorded over quota", "the permit's own paper",
        "Only what was recorded: what was not reported is not known. It does not say that a permit was kept. Local permits rule.",
    ),
    Indicator(
        "recorded without a permit", "Recorded without a permit", "events",
        "cuttings, units put down and plots prepared that name no permit",
        "counted", "none needed", "Where none is needed, none is missing: local rules say which.",
    ),
)  # fmt: skip
