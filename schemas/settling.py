"""Money, and the events that settle what others said."""

import polars as pl

from schemas.base import Event, about
from schemas.fields import Measure, Money, Text, Whole, YesNo, column, key
from schemas.library import pa

# Kinds that a cost, a withdrawal or a ruling may speak of.
COST_TARGETS = ["site", "plot", "deployment", "collection", "visit"]
WITHDRAWABLE = [
    "collection", "deployment", "survey", "loss", "visit", "check", "handling", "treatment", "cost", "site",
    "plot", "bed", "permit", "reading",
]  # fmt: skip


class Cost(Event):
    """One payment, one gift in kind, or hours given. The three are never added up without saying so."""

    record_key: Text = key(
        "Row code", "Your own number for the bill; blank: rows are told apart by content.", required=False
    )
    form: Text = column("Form", "cash, in kind or hours.", required=True, isin=["cash", "in kind", "hours"])
    amount: Money = column(
        "Amount", "Money in the currency beside, or hours.", required=True, ge=-100000000, le=100000000
    )
    currency: Text = column("Currency", "ISO 4217 code; blank for hours.", str_matches=r"^[A-Z]{3}$")
    category: Text = column("Category", "Boat, diving, gear, tissue, laboratory, travel ...", required=True)
    phase: Text = column(
        "Phase", "What it was for.", required=True,
        isin=["plan and permit", "collect", "culture", "prepare", "deploy", "monitor", "report", "overhead", "capital"],
    )  # fmt: skip
    paid_by: Text = column("Paid by", "The partner who bore it.")
    for_kind: Text = column("For a", "What it was spent on, if on one thing.", isin=COST_TARGETS)
    for_key: Text = column("Which", "Its code; a plot as site | plot.")
    share_key: Text = column(
        "Shared by",
        "How a shared cost is parted: units, area, equal or hours.",
        isin=["units", "area", "equal", "hours"],
    )
    useful_life_years: Measure = column("Useful life (years)", "For capital.", unit="years", gt=0)
    valued_by: Text = column("Valued by", "Who valued a gift in kind, and how.")
    funder: Text = column("Funder", "Whose money.")
    actual_or_budget: Text = column("Actual or budget", "Blank is actual.", isin=["actual", "budget"])
    tax_included: YesNo = column("Tax included", "Whether tax is in the amount.")
    invoice_ref: Text = column("Invoice", "Reference of the bill.")
    people: Whole = column("People", "How many gave the hours.", ge=1)

    @pa.dataframe_check(name="currency_given", error="a currency for money, and none for hours")
    def currency_given(cls, data: pa.PolarsData) -> pl.LazyFrame:
        """Money has a currency; hours have none."""
        return data.lazyframe.select((pl.col("form") == "hours") == pl.col("currency").is_null())

    @pa.dataframe_check(name="one_target", error="either what it was for, or how it is shared; not both")
    def one_target(cls, data: pa.PolarsData) -> pl.LazyFrame:
        """A cost is direct or shared."""
        direct = pl.col("for_kind").is_not_null() & pl.col("for_key").is_not_null()
        partly = pl.col("for_kind").is_not_null() | pl.col("for_key").is_not_null()
        shared = pl.col("share_key").is_not_null()
        return data.lazyframe.select((direct & ~shared) | (shared & ~partly))

    class Config:
        name = "cost"
        metadata = about("record_key", keyed_by_content=True)


class Withdrawal(Event):
    """A partner takes an event back, with a reason. The history stays."""

    withdraws_kind: Text = column("Kind", "Kind of the event taken back.", required=True, isin=WITHDRAWABLE)
    withdraws_key: Text = column("Key", "Its key, parts joined by ' | ' as `wrackline columns` shows.", required=True)
    reason: Text = column("Reason", "Why it is taken back.", required=True)

    class Config:
        name = "withdrawal"
        metadata = about("withdraws_kind", "withdraws_key")


class Ruling(Event):
    """A person settles a question or a conflict: which part is taken, by whom, why."""

    settles: Text = key("Settles", "Identity of what waited, as `wrackline waiting` shows it.")
    choice: Text = key("Choice", "Content taken, as `wrackline waiting` shows it, or: none.")
    decided_by: Text = column("Decided by", "Who decided.", required=True)
    reason: Text = column("Reason", "Why.", required=True)

    class Config:
        name = "ruling"
        metadata = about("settles", "choice")
