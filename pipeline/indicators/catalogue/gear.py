"""Entries on gear: what came home, what is still out, and what was found of lots without tags."""

from pipeline.indicators.catalogue.entry import Indicator

_NO_SOURCE = "common practice, no source"

ENTRIES = (
    Indicator(
        "gear not accounted for", "Gear not accounted for", "pieces",
        "pieces put down less those brought home and those found after they were lost and brought home",
        "count", _NO_SOURCE,
        "Pieces in place when last seen are among them, and shown apart. Local permits rule what may stay, and until when.",
    ),
    Indicator(
        "gear not accounted for, known kg", "Gear not accounted for, kg known", "kg",
        "mass of the pieces not accounted for, as put down, where it was told", "sum", _NO_SOURCE,
        "The mass when put down: cotton and jute rot, plastics do not. Pieces without a mass are named in the note.",
    ),
    Indicator(
        "gear in place when last seen", "Gear in place when last seen", "pieces",
        "pieces that did not come home and were attached, or counted in their lot, at the last look at them", "count", _NO_SOURCE,
        "As old as the last look. What is in place after its task is done is to be brought home.",
    ),
    Indicator(
        "gear due for retrieval", "Gear due for retrieval", "pieces",
        "pieces that did not come home though the day set for it has passed", "count", _NO_SOURCE,
        "Due when conditions and your supervisor allow. Only where a day was set; a permit may set another.",
    ),
    Indicator(
        "pieces found of lots", "Pieces found of lots without tags", "fraction",
        "pieces found over pieces put down, of the lots counted at a site on one day", "count", _NO_SOURCE,
        "No retention and no survival: a piece not found may be buried, grown over or beyond the search, and one found may be counted twice.",
    ),
)  # fmt: skip
