"""Coastworks, the agency that pays for much of it: English, thousands commas, its own bill numbers."""

from seeds_demo.coast import COASTWORKS
from seeds_demo.forms import Form, Hand, Part

GRANTS = Form(
    "grants {years}.csv",
    (
        Part(
            "cost",
            {"record_key": "Bill", "happened": "Paid on", "form": "Form", "amount": "Sum", "currency": "Currency",
             "category": "What for", "phase": "Phase", "for_kind": "For a", "for_key": "Namely", "share_key": "Shared by",
             "valued_by": "Valued by"},
            fixed={"funder": "Coastworks"},
        ),
    ),
    "grants*.csv",
)  # fmt: skip
# A sheet of a sort that nobody has mapped: every row of it is held until somebody says what its headings mean.
LITTER = Form(
    "beach clean.csv",
    (Part("loss", {"happened": "When", "unit_key": "Thing", "remarks": "Where it lay"}),),
    own=True,
)

HAND = Hand(
    COASTWORKS,
    "Coastworks pays. Sums have a comma between thousands.",
    (GRANTS, LITTER),
    thousands=",",
)
