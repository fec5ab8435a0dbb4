"""The programme's rules as the views read them: small tables."""

import datetime as dt
from decimal import Decimal

from pipeline.programme import Rules
from pipeline.rules.published import STALE
from pipeline.says import ASIDE
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
            "setting_stage_changed": ("species varchar, changed date", list(rules.stages_changed)),
            "setting_rate": (
                "currency varchar, dated date, per_unit decimal(24,12), until date",
                [(rules.currency, dt.date(1950, 1, 1), Decimal(1), None)]
                + [(r.currency, r.dated, r.per_unit, None) for r in rules.rates]
                + [(c, day, rate, day + STALE) for c, day, rate in rules.cost.published.rates],
            ),
            "setting_season": ("month int, began int, wraps int", [(m, *rules.recruitment.began(m)) for m in range(1, 13)]),
            "setting_first_day": (
                "species varchar, method varchar, day int",
                [("", "", rules.first_meaningful_day)]
                + [(d.species, d.method, d.day) for d in rules.recruitment.first_days],
            ),
            "setting_depth_band": (f"band varchar, from_m {number}, to_m {number}", list(rules.retention.bands())),
            "setting_temperature": (
                f"least_degc {number}, most_degc {number}",
                [(rules.temperature.least_degc, rules.temperature.most_degc)],
            ),
            "setting_cost": ("first_meaningful_day int", [(rules.first_meaningful_day,)]),
            "setting_donor": ("season_starts_month int", [(rules.donors.season_starts_month,)]),
            # filled when an archive is made: an embargo ends on a day, and only the main path knows which day it is
            "setting_publish": ("partner varchar, open_until date", []),
            "setting_origin": (
                f"species varchar, site_key varchar, dispersal_m {number}",
                [(o.species, o.site, o.dispersal_m) for o in rules.publishing.origins],
            ),
            "setting_settling": (
                "rule int, name varchar, kind varchar, since date, whose varchar, any_column int, told varchar",
                [(n, r.name, r.kind, r.since, r.whose, 0 if r.columns else 1, r.in_words) for n, r in enumerate(rules.settling, 1)],
            ),
            "setting_settling_partner": (
                "rule int, partner varchar, place int",
                [(n, p, at) for n, r in enumerate(rules.settling, 1) for at, p in enumerate(r.partners, 1)],
            ),
            # what is no value of the thing itself may differ too
            "setting_settling_column": (
                "rule int, name varchar",
                [(n, c) for n, r in enumerate(rules.settling, 1) if r.columns for c in (*r.columns, *ASIDE)],
            ),
            "setting_cut": (f"species varchar, lowest_cm {number}", list(rules.lowest_cut_cm)),
        }
    )  # fmt: skip
