"""Small wrong turns in the views, stored as replacements of text: each is a mistake somebody could make.

The fold must disagree with every one of them on some stored journey, or the comparison would not notice that mistake.
`seen_in` is a journey in which it is known to show, tried before the others.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from warehouse.sqlfiles import View


@dataclass(frozen=True)
class Mutation:
    """What goes wrong, in which view file, which text becomes which."""

    wrong: str
    file: str
    text: str
    becomes: str
    seen_in: int | str

    def of(self, views: Sequence[View]) -> list[View]:
        """The views with this mistake in them. A text that is no longer there is an error: the mutation is stale."""
        hit = [v for v in views if v.file == self.file]
        if not any(self.text in v.sql for v in hit):
            raise LookupError(f"{self.file} no longer says {self.text!r}: mend the mutation “{self.wrong}”")
        return [replace(v, sql=v.sql.replace(self.text, self.becomes)) if v in hit else v for v in views]


MUTATIONS = (
    # what is current
    Mutation("a withdrawn event stays", "090_set_aside.sql", "    select identity from withdrawn\n    union\n", "", 3),
    Mutation("an event in dispute stays", "090_set_aside.sql", "    union\n    select identity from in_dispute\n", "", 3),
    Mutation("an amended event counts twice", "100_now.sql", "s.identity is null and k.fate", "k.fate", 1),
    Mutation("what is recorded later is known already", "100_now.sql", "where k.entry <= a.entry", "where 1 = 1", 3),
    Mutation("the asked day itself is left out", "100_now.sql", "k.happened <= a.happened", "k.happened < a.happened", 3),
    Mutation("the oldest version holds", "020_settled.sql", "order by c.since desc", "order by c.since", 1),
    Mutation("an older ruling holds", "010_ruled.sql", "order by r.entry desc", "order by r.entry", 1),
    Mutation("anyone may withdraw", "030_withdrawn.sql", "w.partner in (p.partner, 'programme')", "(1 = 1)", 1),
    Mutation("a withdrawal needs its event to come first", "030_withdrawn.sql", "w.withdraws_key = p.key",
             "w.withdraws_key = p.key and p.entry < w.entry", "quarrel"),
    Mutation("whoever said it first may take it back alone", "030_withdrawn.sql", "p.fate <> 'faulty'",
             "p.fate in ('entered', 'amends')", 1),
    Mutation("a dispute never ends", "038_last_word.sql", "where o.since = n.since or b.one is not null", "", "quarrel"),
    Mutation("a file with two words agrees with itself", "039_differing.sql", "count(distinct l.content) > 1",
             "count(distinct l.content) > 2", "quarrel"),
    Mutation("a ruling is forgotten", "038_last_word.sql", "and p.entry > coalesce(r.entry, 0)", "", 3),
    # what is held
    Mutation("a mended file leaves the old fault open", "060_held_open.sql", "s.shared > 0 or", "", "quarrel"),
    Mutation("a word of the same file closes its fault", "060_held_open.sql",
             "(c.since > h.since or (c.since = h.since and p.entry > h.entry))", "(1 = 1)", "quarrel"),
    # what waits
    Mutation("seen on the day it was put down counts as before", "211_rule_seen_before_down.sql",
             "c.happened < d.happened", "c.happened <= d.happened", 3),
    Mutation("a loss before deployment stands", "212_rule_lost_before_down.sql", "l.happened < d.happened", "1 = 0", 3),
    Mutation("a dive that did not find the site proves absence", "214_rule_absence_unproved.sql",
             "v.outcome <> 'found'", "v.outcome = 'aborted'", 3),
    Mutation("a protocol dated after the survey is good", "221_rule_protocol.sql", "or p.dated > s.happened", "", 1),
    Mutation("a count without an area stands", "220_rule_count_without_area.sql", "and s.area_m2 is null", "and 1 = 0", 2),
    Mutation("a cost without a rate stands", "250_rule_cost_target.sql", "or (c.form <> 'hours' and r.identity is null)", "", 3),
    # lives
    Mutation("absent on the day last seen is gone", "420_unit_life.sql", "a.day > s.last_seen", "a.day >= s.last_seen", "quarrel"),
    Mutation("brought home counts as lost", "420_unit_life.sql", "when s.retrieved_on is not null then cast(null as date)", "", 0),
    Mutation("a short search proves absence", "411_absence.sql",
             "    and (c.search_time_min is null or c.search_time_min >= r.least_search_min)\n", "", 2),
    Mutation("thick water proves absence", "411_absence.sql",
             "    and (v.visibility_m is null or v.visibility_m >= r.least_visibility_m)", "", "quarrel"),
    Mutation("a lot has a life", "400_unit.sql", "coalesce(d.unit_count, 1) = 1", "coalesce(d.unit_count, 1) >= 1", 3),
    Mutation("a torn bag is not attached", "410_sighting.sql", "'attached', 'torn',", "'attached',", 3),
    # frames
    Mutation("an uncounted frame is zero", "518_laid_frame.sql", "case when c.count is not null then c.area_m2 end", "c.area_m2", 1),
    Mutation("no zero is made", "530_frame_count.sql", "left join written w", "join written w", 3),
    Mutation("plants of unknown stage make zeros", "530_frame_count.sql", " and n.species is null", "", 3),
    Mutation("a round ends a day early", "510_survey_round.sql", "<= r.survey_round_days", "< r.survey_round_days", 0),
    Mutation("a fixed frame counts each time", "518_laid_frame.sql", "r.newest = 1 and ", "", 1),
    Mutation("a length at the limit is of both stages", "500_counted.sql", "s.length_cm < g.to_cm", "s.length_cm <= g.to_cm", 1),
    Mutation("a held row is a zero", "505_doubt.sql", "h.kind = 'survey' and", "h.kind = 'visit' and", "quarrel"),
    Mutation("a waiting row is a zero", "505_doubt.sql", "on w.kind = 'survey'", "on w.kind = 'visit'", "quarrel"),
    Mutation("an event of next year stands", "105_ahead.sql", "having x.happened >", "having 1 = 0 and x.happened >", "quarrel"),
    Mutation("a register is known before its day", "015_later_register.sql", "r.happened > a.register_day", "1 = 0", "quarrel"),
    Mutation("a doubt spoils a plain number", "530_frame_count.sql", "(u.species is null or w.summed = 0)", "u.species is null", "quarrel"),
    Mutation("plants that are all there but one", "530_frame_count.sql", "(u.species is null or w.summed = 0)",
             "(u.species is null or w.count > 0)", "quarrel"),
    Mutation("too short to count counts", "530_frame_count.sql", " and c.too_small = 0", "", "quarrel"),
    Mutation("a frame may be of two kinds", "224_rule_frame_twofold.sql", "or min(placement) <> max(placement)", "", "quarrel"),
    # area and cost
    Mutation("a plot planted twice counts twice", "600_treated_area.sql", "group by d.site_key, d.plot_key\n",
             "group by d.site_key, d.plot_key, d.unit_key\n", 3),
    Mutation("a rate set after the day", "190_cost_rate.sql", " and q.dated <= c.happened", "", 3),
    Mutation("the first rate ever", "190_cost_rate.sql", "order by q.dated desc", "order by q.dated", 3),
    Mutation("a unit of two batches counts twice", "191_cost_place.sql", "count(distinct d.identity)", "count(*)", "quarrel"),
    Mutation("a budget is paid", "606_cost_told.sql", "coalesce(c.actual_or_budget, 'actual') = 'actual'", "1 = 1", 3),
)  # fmt: skip
