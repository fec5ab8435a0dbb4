"""Rules by which what partners tell differently is settled without asking the lead: whose word counts, and since when."""

import datetime as dt
from dataclasses import dataclass

from pipeline.errors import BadUsage
from pipeline.toml_read import Table

PARTNERS, LATER, THERE = "partners", "later day", "was there"
# Kinds whose codes are the programme's, so that two partners may speak of one thing, and the columns that a rule may
# name. The models' own (a test holds the two together): a slip of the pen here would make a rule that never speaks.
POSITION = "latitude longitude datum uncertainty_m"
COLUMNS = {
    "site": f"happened name {POSITION} radius_m country sensitive depth_min_m depth_max_m depth_datum habitat outline "
    "water_body biosecurity_zone marks",
    "plot": "happened plot_kind area_m2 paired_with control_kind assigned_by outline depth_m substrate distance_planted_m "
    "distance_adult_m role_from role_to",
    "bed": f"happened {POSITION} species estimated_on adults adults_low adults_high fertile fertile_low fertile_high blades "
    "blades_low blades_high estimate_method area_m2 take_limit_pct limit_source rest_days sensitive",
    "permit": "happened authority holder activity valid_from valid_to species quota quota_unit area conditions report_due status",
    "collection": "happened bed_key species plants_cut blades_cut permit_key cut_height_cm fertile_mass_kg parents "
    "share_claimed_pct cut_from cut_to depth_m water_temp_degc whole_plants_taken visit_key",
    "deployment": f"happened method site_key plot_key down_at unit_count fixing batch_key {POSITION} opened_at permit_key "
    "area_treated_m2 depth_m depth_datum substrate mass_kg material retrieve_by fixed_to boat_temp_degc seed_density_per_cm2",
}


@dataclass(frozen=True)
class SettlingRule:
    """Of things of one kind that happened from `since` on, whose word counts where several tell them differently.

    whose: partners (the first of `partners` who spoke of it), later day (who tells the later day), was there (who also
    told of a dive that found the site on that day). columns: it speaks only where nothing else differs; none: whatever
    differs. why: in the programme's own words.
    """

    name: str
    kind: str
    since: dt.date
    whose: str
    partners: tuple[str, ...]
    columns: tuple[str, ...]
    why: str

    @property
    def in_words(self) -> str:
        """The rule as a sentence for partners."""
        whose = {
            PARTNERS: f"the word of {', or else of '.join(self.partners)} counts",
            LATER: "the word that tells the later day counts",
            THERE: "the word of who told of a dive at the site on that day counts",
        }[self.whose]
        only = f" and differ in nothing but {', '.join(self.columns)}" if self.columns else ""
        return f"Where partners tell of one {self.kind} differently{only}, {whose} (since {self.since}). {self.why}"


def parse(top: Table) -> tuple[SettlingRule, ...]:
    """The tables [[settling]] of programme.toml, in order: the first that speaks of a thing settles it. BadUsage for what is no rule."""
    made = tuple(_rule(t) for t in top.tables("settling"))
    names = [r.name for r in made]
    for name in names:
        if names.count(name) > 1:
            raise BadUsage(f"{top.where}: [[settling]] name {name!r} stands twice. A changed rule needs a new name.")
    return made


def _rule(t: Table) -> SettlingRule:
    made = SettlingRule(
        t.text("name"), t.one_of("kind", tuple(COLUMNS)), t.day("since"), t.one_of("whose", (PARTNERS, LATER, THERE)),
        tuple(t.texts("partners", [])), tuple(t.texts("columns", [])), t.text("why"),
    )  # fmt: skip
    t.refuse_unknown()
    if (made.whose == PARTNERS) != bool(made.partners):
        raise BadUsage(
            f'{t.where}: `partners`, in the order in which they count, goes with whose = "{PARTNERS}" alone.'
        )
    if len(set(made.partners)) < len(made.partners):
        raise BadUsage(f"{t.where}: a partner stands twice in `partners`.")
    strange = [c for c in made.columns if c not in COLUMNS[made.kind].split()]
    if strange:
        raise BadUsage(
            f"{t.where}: a {made.kind} has no column {strange[0]!r} of its own. `wrackline columns {made.kind}` lists them."
        )
    if made.whose == THERE and made.kind != "deployment":
        raise BadUsage(f'{t.where}: whose = "{THERE}" is for kind = "deployment", which alone tells a site and a day.')
    return made
