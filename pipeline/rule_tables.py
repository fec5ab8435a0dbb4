"""The programme's rules as the views read them: small tables."""

import datetime as dt
from decimal import Decimal

from pipeline.programme import Rules
from warehouse.database import RuleTables


def rule_tables(rules: Rules) -> RuleTables:
    """The programme's rules as the views read them."""
    one = (rules.survey_round_days, rules.least_search_min, rules.least_visibility_m, rules.most_hours_to_release,
           rules.warmest_degc, rules.take_limit_pct, rules.treated_area_rule, rules.area_per_unit_m2)  # fmt: skip
    number = "decimal(18,6)"
    return RuleTables(
        {
            "setting": (
                f"survey_round_days int, least_search_min {number}, least_visibility_m {number}, "
                f"most_hours_to_release {number}, warmest_degc {number}, take_limit_pct {number}, "
                f"treated_area_rule varchar, area_per_unit_m2 {number}",
                [one],
            ),
            "setting_protocol": (
                f"protocol varchar, dated date, frame_type varchar, placement varchar, species varchar, stage varchar, smallest_cm {number}",
                [
                    (p.key, p.dated, p.frame_type, p.placement, t.species, t.stage, t.smallest_cm)
                    for p in rules.protocols for t in p.targets
                ],
            ),
            "setting_stage": (
                f"species varchar, stage varchar, from_cm {number}, to_cm {number}",
                [(s.species, s.stage, s.from_cm, s.to_cm) for s in rules.stages],
            ),
            "setting_rate": (
                f"currency varchar, dated date, per_unit {number}",
                [(rules.currency, dt.date(1950, 1, 1), Decimal(1))]
                + [(r.currency, r.dated, r.per_unit) for r in rules.rates],
            ),
            "setting_donor": ("season_starts_month int", [(rules.donors.season_starts_month,)]),
            "setting_cut": (f"species varchar, lowest_cm {number}", list(rules.lowest_cut_cm)),
        }
    )  # fmt: skip
