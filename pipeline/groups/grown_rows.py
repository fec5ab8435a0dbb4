"""Which rows stand behind the figures of what grows: those of the rounds they speak of, and what was done there."""

from pipeline.groups.group import Question
from pipeline.indicators.figure import Figure
from pipeline.indicators.left_out import sites_left_out
from pipeline.indicators.measured import COVER, MEAN, MEDIAN
from pipeline.indicators.recruitment import POOLED

# told of frames that need no area, and of which not everything was counted
OF_ROWS = (COVER, MEAN, MEDIAN)

_HERE = "select $site as site_key, cast($survey as date) as round_on, {} as plot_kind"
_BEFORE = "select $site as site_key, cast($since as date) as round_on, {} as plot_kind"
_COHORT = "select $site as site_key, cast($cohort as date) as round_on, $plot_kind as plot_kind"
_REFERENCE = """
    select reference_site as site_key, reference_on as round_on, 'reference' as plot_kind from reference_round
    where site_key = $site and round_on = cast($survey as date) and protocol = $protocol and reference_on is not null"""
# sites whose round is not left out: treated plots past the day from which recruits show, and prepared as their controls
_SEASON = """
    select r.site_key, r.round_on from season_round r
    where r.plots = {plots} and r.protocol = $protocol and r.season = $season"""
_GROWN = (
    _SEASON
    + """ and exists (select 1 from since_planting s
        where s.site_key = r.site_key and s.round_on = r.round_on and s.species = $species and s.days >= s.needed)"""
)
_EQUAL = (
    _GROWN
    + """ and not exists (
        select 1 from treatment_gap g where g.site_key = r.site_key and g.round_on = r.round_on)"""
)
# of treated plots only those where the method lies alone
_ALONE = """ and (f.plot_kind <> 'treated' or exists (select 1 from plot_method m where m.site_key = f.site_key
            and m.round_on = f.round_on and m.plot_key = f.plot_key and m.method = $method and m.alone = 1))"""
_KINDS = "(select 'treated' as plot_kind union all select 'control' as plot_kind)"


# the first round of each site in which the method's recruits can be expected, where both kinds of plot were counted
_FIRST = """
    select g.site_key, min(g.round_on) as round_on from method_ground g
    left join treatment_gap x on x.site_key = g.site_key and x.round_on = g.round_on
    where g.method = $method and g.protocol = $protocol and g.area_m2 is not null and x.site_key is null
        and exists (select 1 from frame c where c.site_key = g.site_key and c.round_on = g.round_on
            and c.protocol = g.protocol and c.plot_kind = 'control')
        and g.days >= (select day from setting_first_day f where f.species in ($species, '') and f.method in ($method, '')
            order by case when f.species <> '' then 0 else 1 end, case when f.method <> '' then 0 else 1 end limit 1)
    group by g.site_key"""
_OF_METHOD = """
    select q.site_key, q.round_on from survey_round q
    where q.site_key in (select site_key from method_ground where method = $method)"""


def behind_grown(figure: Figure) -> list[Question]:
    """The rows counted in the frames; beside them all else that was seen, planted and done there."""
    pooled = any(c.startswith(POOLED) for c in figure.estimate.cautions)
    rounds = _every_round(figure)
    counted = f"""
        select c.identity from counted c
        join frame f on f.partner = c.partner and f.visit_key = c.visit_key and f.plot_key = c.plot_key
            and f.frame_key = c.frame_key and f.protocol = c.protocol and f.happened = c.happened
        join ({_counted_rounds(figure)}) r
            on r.site_key = f.site_key and r.round_on = f.round_on and r.plot_kind = f.plot_kind
        where f.protocol = $protocol{_ALONE if figure.of("method") else ""}"""
    if figure.indicator in OF_ROWS:
        counted = f"""
        select c.identity from plant_row c
        join ({_counted_rounds(figure)}) r
            on r.site_key = c.site_key and r.round_on = c.round_on and r.plot_kind = c.plot_kind
        where c.protocol = $protocol and coalesce(c.species, $species) = $species"""
    surveys = f"""
        select s.identity from survey_now s
        join survey_round q on q.site_key = s.site_key and q.happened = s.happened
        join ({rounds}) r on r.site_key = q.site_key and r.round_on = q.round_on"""
    earlier = f"""
        select c.identity from counted c
        join (select site_key, max(round_on) as until from ({rounds}) x group by site_key) r
            on r.site_key = c.site_key and c.happened <= r.until"""
    visits = f"""
        select v.identity from visit_now v
        join ({_dives(rounds)}) x on x.partner = v.partner and x.visit_key = v.visit_key"""
    # the frames of other sites, whose spread this figure borrows: rounds of the same season
    comparable = """
        select s.identity from survey_now s
        join survey_round q on q.site_key = s.site_key and q.happened = s.happened
        where date_diff('month', q.round_on, cast($survey as date)) between -3 and 3"""
    sites = f"where site_key in (select site_key from ({rounds}) r)"
    return [
        Question("counted", "survey", counted),
        Question("beside", "survey", surveys),
        Question("beside", "survey", earlier),
        Question("beside", "visit", visits),
        Question("beside", "deployment", f"select identity from deployment_now {sites}"),
        Question("beside", "treatment", f"select identity from treatment_now {sites}"),
        Question("beside", "collection", "select identity from collection_now"),  # how the tissue fared on its way
        Question("beside", "handling", "select identity from handling_now"),
        *([Question("beside", "survey", comparable)] if pooled else []),
    ]


def missing_grown(figure: Figure) -> str:
    """Rows of the rounds' dives that are held, in dispute or withdrawn."""
    return f"""
    with dive as ({_dives(_every_round(figure))})
    select h.entry, h.sheet, h.row, h.part from held_open h
    join dive d on d.partner = h.partner and d.visit_key = split_part(h.key, ' | ', 1)
    left join withdrawn w on w.identity = h.identity where h.kind = 'survey' and w.identity is null
    union
    select p.entry, p.sheet, p.row, p.part from part p
    join in_dispute q on q.identity = p.identity
    join dive d on d.partner = p.partner and d.visit_key = split_part(p.key, ' | ', 1) where p.kind = 'survey'
    union
    select w.entry, w.sheet, w.row, w.part from withdrawn_survey w
    join dive d on d.partner = w.partner and d.visit_key = w.visit_key
    where (w.species is null or w.species = $species)
        and (w.stage is null or w.stage in ($stage, 'any') or $stage = 'any')"""


def _dives(rounds: str) -> str:
    return f"""
        select distinct s.partner, s.visit_key from survey_now s
        join survey_round q on q.site_key = s.site_key and q.happened = s.happened
        join ({rounds}) r on r.site_key = q.site_key and r.round_on = q.round_on"""


def _counted_rounds(figure: Figure) -> str:
    """SQL: site, round and kind of plot of the frames whose counts are in the figure."""
    if figure.of("site") == "all":
        return _over_sites(figure, counted=True)
    if figure.of("cohort"):
        return f"{_HERE.format('$plot_kind')} union all {_COHORT}"
    if figure.of("plot_kind"):
        return _HERE.format("$plot_kind")
    arms = [_HERE.format("'treated'")]
    if figure.of("against"):
        return " union all ".join([*arms, _REFERENCE])
    arms += [_HERE.format("'control'")]
    if figure.of("since"):
        arms += [_BEFORE.format("'treated'"), _BEFORE.format("'control'")]
    return " union all ".join(arms)


def _every_round(figure: Figure) -> str:
    """SQL: site and round, once each, of all that the figure speaks of, sites that are left out among them."""
    told = _over_sites(figure, counted=False) if figure.of("site") == "all" else _counted_rounds(figure)
    return f"select distinct site_key, round_on from ({told}) told"


def _over_sites(figure: Figure, *, counted: bool) -> str:
    told = _of_all_sites(figure, counted=counted)
    left_out = ", ".join("'" + site.replace("'", "''") + "'" for site in sites_left_out(figure))
    return f"select * from ({told}) told where site_key not in ({left_out})" if counted and left_out else told


def _of_all_sites(figure: Figure, *, counted: bool) -> str:
    if figure.of("method"):
        return f"select o.site_key, o.round_on, k.plot_kind from ({_FIRST if counted else _OF_METHOD}) o cross join {_KINDS} k"
    kind = figure.of("plot_kind")
    if kind:
        rounds = (_GROWN if counted and kind == "treated" else _SEASON).format(plots="$plot_kind")
        return f"select o.site_key, o.round_on, $plot_kind as plot_kind from ({rounds}) o"
    every = _SEASON.format(plots="'treated and control'")
    rounds = _EQUAL.format(plots="'treated and control'") if counted else every
    if figure.indicator.startswith("before-after"):
        fair = "b.baseline_on is not null" if counted else "b.any_before is not null"
        rounds = f"""
            select o.site_key, o.round_on, b.baseline_on, b.any_before from ({rounds}) o
            join baseline_round b on b.site_key = o.site_key and b.round_on = o.round_on and b.protocol = $protocol
            where {fair}"""
        rounds = f"""
            select site_key, round_on from ({rounds}) o
            union all select site_key, coalesce(baseline_on, any_before) as round_on from ({rounds}) o"""
        if not counted:  # sites without any baseline are told of as left out
            rounds += f" union all {every}"
    return f"select o.site_key, o.round_on, k.plot_kind from ({rounds}) o cross join {_KINDS} k"
