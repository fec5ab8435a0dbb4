"""The programme's rules on donor beds and on the keeping of tissue: the table [donors] of programme.toml."""

from dataclasses import dataclass
from decimal import Decimal

from pipeline.errors import BadUsage
from pipeline.toml_read import Table

STEPS = ("cut", "clean", "dry", "hold", "carry", "release")


@dataclass(frozen=True)
class DonorRules:
    """Limits are the programme's own, by common practice; what a bed states, and local permits, outrank them.

    season_starts_month  the month in which a season of cutting begins (1 to 12); one over new year is named 2025/26.
    rest_days            how long a bed rests between cuttings where it states nothing itself; 0: no rule.
    coolest_degc         below this, tissue was too cold.
    most_gap_hours       a longer time between two steps of a batch of which nobody wrote anything is a gap.
    most_hours           the longest that a step may take, by step; a step without one has no limit.
    """

    season_starts_month: int = 1
    rest_days: int = 0
    coolest_degc: Decimal = Decimal(0)
    most_gap_hours: Decimal = Decimal(1)
    most_hours: tuple[tuple[str, Decimal], ...] = ()


def parse(top: Table) -> DonorRules:
    """Rules from [donors] and [donors.most_hours]; BadUsage names what is wrong and the cure."""
    donors = top.table("donors", {})
    steps = donors.table("most_hours", {})
    made = DonorRules(
        season_starts_month=donors.whole("season_starts_month", 1),
        rest_days=donors.whole("rest_days", 0),
        coolest_degc=donors.decimal("coolest_degc", "0"),
        most_gap_hours=donors.decimal("most_gap_hours", "1"),
        most_hours=tuple((step, steps.decimal(step)) for step in STEPS if step in steps.data),
    )
    donors.refuse_unknown()
    steps.refuse_unknown(*STEPS)
    if not 1 <= made.season_starts_month <= 12:
        raise BadUsage(
            f"{donors.where}: `season_starts_month` is {made.season_starts_month}; a month from 1 to 12 is wanted."
        )
    below = [h for h in (made.most_gap_hours, *(hours for _, hours in made.most_hours)) if h < 0]
    if below:
        raise BadUsage(f"{donors.where}: hours of {below[0]} are told; 0 or more is wanted.")
    return made
