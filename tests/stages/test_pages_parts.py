"""The parts pages are made of: curves, scales, plans, names of files, numbers, and what may be seen."""

import datetime as dt
import itertools
import math
import re

import pytest
from geographiclib.geodesic import Geodesic
from hypothesis import given
from hypothesis import strategies as st

from pipeline.indicators.estimate import Estimate, not_estimable
from pipeline.indicators.figure import Figure, scope
from pipeline.pages.answers import beside, by_rule, comparison, fixing
from pipeline.pages.charts import Shown, intervals, reach
from pipeline.pages.curve import retention, steps
from pipeline.pages.dive_sheet import dive_sheet, frames_to_count, route, void_after
from pipeline.pages.narrow import of_figures, of_site
from pipeline.pages.plan import Spot, plan, way
from pipeline.pages.programme_page import programme_pages
from pipeline.pages.shell import Shell, file_name
from pipeline.pages.site_page import site_page
from pipeline.pages.svg import Scale, ticks
from pipeline.pages.told import (
    Behind,
    Curve,
    Due,
    FrameCount,
    Happening,
    Partner,
    Place,
    Row,
    Site,
    Span,
    Told,
    Unit,
    Visit,
    Warm,
)
from pipeline.pages.visible import not_agreed, visible
from pipeline.pages.words import words

EN = words("en")


def difference(low: float | None, high: float | None, note: str = "") -> Figure:
    """A difference with that interval."""
    e = Estimate("estimated", "per m2", 9, "frames", "x", value=1.0, low=low, high=high, note=note)
    return Figure("treated minus control", scope(site="CB"), e)


def test_a_curve_is_flat_where_it_is_known_and_open_between_looks():
    """Of ten units four went between day 5 and 9, six stayed to day 20: all, then 1 to 0.6, then 0.6 and no further."""
    curve = Curve("bag", (5.0, 20.0), (9.0, math.inf), (0.4, 0.6), 10)
    assert steps(curve, 30) == [(0.0, 5.0, 1.0, 1.0), (5.0, 9.0, 0.6, 1.0), (9.0, 20.0, 0.6, 0.6)]
    drawn = retention("t", curve, [(7, 0.3, 0.9)], EN, 30)
    assert drawn.count('class="unknown"') == 2 and drawn.count('class="band"') == 2  # one of each in the key
    assert "between day 5 and 9 it fell from 100 % to 60 %" in drawn


def test_a_curve_that_comes_down_to_nothing_ends_there():
    """A known day of loss is a step; after the last unit went the curve lies on the axis."""
    curve = Curve("bag", (4.0, 8.0), (4.0, 8.0), (0.5, 0.5), 2)
    assert steps(curve, 10) == [
        (0.0, 4.0, 1.0, 1.0),
        (4.0, 4.0, 0.5, 1.0),
        (4.0, 8.0, 0.5, 0.5),
        (8.0, 8.0, 0.0, 0.5),
        (8.0, 10, 0.0, 0.0),
    ]


@given(st.floats(-1e6, 1e6), st.floats(1e-6, 1e6))
def test_ticks_are_round_and_within(low, width):
    """Ticks lie within the axis, a few of them, in steps of 1, 2 or 5 times a power of ten."""
    high = low + width
    found = ticks(low, high)
    assert len(found) <= 12 and all(low - width * 1e-6 <= t <= high + width * 1e-6 for t in found)
    for a, b in itertools.pairwise(found):
        lead = (b - a) / 10 ** math.floor(math.log10(b - a) + 1e-6)
        assert min(abs(lead - s) for s in (1, 2, 5, 10)) < 0.02


def test_what_lies_beyond_an_axis_is_drawn_at_its_end():
    """A value beyond the axis does not leave the picture."""
    assert [Scale(0, 10, 50, 150).at(v) for v in (-5, 0, 5, 99)] == [50, 50, 100, 150]


def test_only_an_interval_beyond_nothing_tells():
    """More, less or cannot tell: the whole interval decides, never the value."""
    assert comparison(difference(0.1, 2), EN) == ("more than in control", "")
    assert comparison(difference(-2, -0.1), EN) == ("less than in control", "")
    assert comparison(difference(-0.1, 5), EN)[0] == "cannot tell"
    assert comparison(difference(None, None, "too early"), EN) == ("cannot tell", "too early")
    assert comparison(None, EN)[0] == "cannot tell"


@pytest.mark.parametrize(
    ("a", "b"), [((39.0, -9.0), (39.001, -9.002)), ((69.7, 19.0), (69.6, 19.3)), ((-42.1, 147.0), (-42.1, 147.001))]
)
def test_bearings_and_distances_are_those_of_the_ellipsoid(a, b):
    """They agree with geographiclib (Karney 2013, J. Geodesy 87:43) to a millimetre and a millionth of a degree."""
    told = Geodesic.WGS84.Inverse(*a, *b)
    bearing, metres = way(Place(*a), Place(*b))
    assert metres == pytest.approx(told["s12"], abs=1e-3) and bearing == pytest.approx(told["azi1"] % 360, abs=1e-6)


@given(st.lists(st.text(min_size=1, max_size=60), min_size=2, max_size=2, unique=True))
def test_every_key_has_a_file_of_its_own(keys):
    """Whatever a thing is called, its file has a plain name, and another thing has another one, whatever the disk makes of capitals."""
    names = [file_name(k) for k in keys]
    assert all(re.fullmatch(r"[A-Za-z0-9-]{1,50}", n) for n in names)
    assert names[0].casefold() != names[1].casefold()


def test_numbers_are_told_in_three_digits():
    """Three significant digits, fractions in per cent, never a power of ten; a refusal is no number."""
    assert [EN.number(v) for v in (0, 0.01234, 4.567, 1234.5, 709187.1)] == ["0", "0.0123", "4.57", "1,230", "709,000"]
    assert EN.value(Estimate("bounded", "fraction", 9, "units", "x", value_from=0.86, value_to=0.891)) == "86 to 89 %"
    assert EN.value(Estimate("bounded", "m", 9, "units", "x", value_from=3)) == "at least 3"
    assert EN.value(not_estimable("why", unit="m", n=0, n_of="units")) == "cannot tell"


@given(st.lists(st.tuples(*[st.floats(-1e6, 1e6)] * 3), min_size=1, max_size=9))
def test_no_value_lies_beyond_its_axis(triples):
    """However wide the intervals, every value itself lies on the axis, and 0 as well."""
    told = [Shown("treated", "x", v, min(a, v, b), max(a, v, b)) for a, v, b in triples]
    low, high = reach(told)
    assert low <= 0 <= high and low < high and all(low <= s.value <= high for s in told)


def figure(
    indicator: str, note: str = "", cautions: tuple[str, ...] = (), state: str = "estimated", **of: object
) -> Figure:
    """A figure of 5 with that scope and note."""
    e = Estimate(state, "days", 9, "units", "x", value=5.0, note=note, cautions=cautions)
    return Figure(indicator, scope(**of), e)


def test_what_stands_beside_a_site_is_told_and_never_called_a_cause():
    """Of the last survey whether grazers were over the limit, warm days, half-time and losses; a rule names sites by verdict."""
    mine = [
        figure("grazers", "above the limit", site="CB", species="Urchin", plot_kind="treated", survey="2025-06-01"),
        figure("grazers", "below the limit", site="CB", species="Urchin", plot_kind="treated", survey="2024-06-01"),
        figure("days above limit", site="CB", season="2025", rule="above 18 degC"),
        figure("day half are gone", site="CB", method="bag"),
        figure(
            "success rule", "not met: ...", site="CB", rule="enough", survey="2025-06-01", species="s", stage="recruit"
        ),
        figure("success rule", "met: ...", site="CB", rule="enough", survey="2024-06-01", species="s", stage="recruit"),
        figure("success rule", "met: ...", site="NP", rule="enough", survey="2024-06-01", species="s", stage="recruit"),
    ]
    sites = [site(losses=[("storm", 2)], not_found_since=dt.date(2025, 7, 1)), Site("NP", "N", None, 9)]
    told = Told("P", dt.date(2025, 8, 1), 1, "EUR", 1000, (30,), mine, {}, sites)
    assert [text for text, _ in beside(told, sites[0], EN)] == [
        "not found since Jul 1, 2025".replace("Jul 1, 2025", EN.day(dt.date(2025, 7, 1))),
        "day by which half of the units were gone (bag): 5",
        "grazers (Urchin, treated plots) against the programme's limit: above",
        "days above 18 °C in 2025: 5",
        "units told to be lost, by what their partners think took them: storm 2",
    ]
    assert beside(told, sites[1], EN) == []
    [(sentence, figures)] = by_rule(told, ["CB", "NP"], EN)
    assert sentence == "The programme's rule “enough”: met (NP); not met (CB)." and len(figures) == 2
    assert (fixing("none", EN), fixing("tie", EN)) == ("without a fixing", "tie")


def test_a_page_is_made_of_its_own_values_alone():
    """A site's page and a page of figures hold the figures, rows and dues of theirs, numbered anew, and no receipt or day of tonight."""
    mine = [figure("density", site=s, survey="2025-06-01") for s in ("CB", "NP")]
    rows = [Row(i, "survey", i, "count 1", "saltclub", "f.csv", "", n, 1) for n, i in enumerate("abc")]
    due = [Due(dt.date(2025, 8, 5), s, "survey", "x") for s in ("CB", "NP")]
    happened = Happening(dt.date(2025, 6, 1), "dive", "found")
    told = Told(
        "P", dt.date(2025, 8, 1), 7, "EUR", 1000, (30,), mine, {}, [site(happenings=[happened]), Site("NP", "N", None, 9)],
        due=due, held=3, today=dt.date(2025, 8, 20),
    )  # fmt: skip
    one = of_site(told, told.sites[0])
    assert (one.figures, one.due, [s.key for s in one.sites]) == (mine[:1], due[:1], ["CB"])
    assert (one.as_of, one.today, one.receipt, one.held) == (dt.date(2025, 6, 1), dt.date(2025, 8, 1), 0, 0)
    behind = Behind(dict(enumerate(rows, 7)), {mine[0].id: (7, 9), mine[1].id: (8,)})
    told_of = of_figures(told, mine[:1], behind)
    assert told_of.behind == Behind({0: rows[0], 1: rows[2]}, {mine[0].id: (0, 1)})
    assert told_of.sites == [] and told_of.as_of is None


def test_hostile_names_are_text_in_pictures():
    """A name in a chart or on a plan is escaped in its text, title and description."""
    bad = "<script>&\"'"
    drawn = intervals(bad, [Shown("treated", bad, 1, 0, 2)], EN, "per m2") + plan(bad, [Spot(bad, Place(39, -9))], EN)
    assert "<script" not in drawn and drawn.count("&lt;script&gt;") >= 6


def site(**more: object) -> Site:
    """A site with that about it."""
    return Site("CB", "Cove", Place(39.0, -9.0, 4), 200, **more)


def unit(key: str, north_m: float, state: str = "attached", off: float = 2.0, gone: int | None = None) -> Unit:
    """A unit so far north of the site's mark."""
    return Unit(
        key,
        "bag",
        "T1",
        "bolt",
        dt.date(2025, 1, 1),
        1,
        Place(39.0 + north_m / 111_000, -9.0, off),
        None,
        state,
        None,
        gone,
    )


def test_the_way_goes_by_the_nearest_and_leaves_out_what_is_gone():
    """From the mark to the nearest unit, and on; units found gone or brought home are left out, one missed in a weak search is not."""
    legs = route(
        site(
            units=[
                unit("far", 60),
                unit("near", 10),
                unit("gone", 5, "absent", gone=30),
                unit("home", 6, "retrieved"),
                unit("close", 61, "absent", off=5),
            ]
        )
    )
    assert [leg.unit.key for leg in legs] == ["near", "far", "close"]
    assert [round(leg.metres) for leg in legs] == [10, 50, 1]
    assert legs[1].bearing == pytest.approx(0, abs=1e-6) and legs[2].bearing is None


def test_a_sheet_is_void_a_month_after_what_is_due():
    """A sheet holds to the end of the month after the one in which the first thing is due; what is overdue is due this month."""
    today = dt.date(2025, 3, 4)
    due = [Due(dt.date(2025, 8, 5), "CB", "survey", "x"), Due(dt.date(2026, 1, 1), "CB", "check", "x")]
    assert void_after(due, today) == dt.date(2025, 9, 30)
    assert (
        void_after([], today)
        == void_after([Due(dt.date(2023, 1, 1), "CB", "check", "x")], today)
        == dt.date(2025, 4, 30)
    )


def test_partners_are_named_in_public_only_when_they_agreed():
    """Partners get a number, in notes and cautions too; one that agreed keeps its name; figures of a partner stay inside."""
    e = Estimate(
        "estimated",
        "per m2",
        9,
        "frames",
        "x",
        value=1.0,
        note="told by saltclub and by rockclub",
        cautions=("saltclub says so",),
    )
    mine = [Figure("density", scope(site="CB"), e), Figure("cash in all", scope(site="all", partner="saltclub"), e)]
    partners = [Partner(n, [], [], [], [], 0) for n in ("rockclub", "saltclub")]
    told = Told("P", dt.date(2025, 1, 1), 1, "EUR", 1000, (30,), mine, {}, [], partners=partners)
    public = visible(told, {}, named={"rockclub"})
    assert [p.name for p in public.partners] == ["rockclub", "partner 2"]
    [only] = public.figures
    assert only.estimate.note == "told by partner 2 and by rockclub"
    assert only.estimate.cautions == ("partner 2 says so",)


def test_a_word_that_nobody_agreed_to_is_not_public():
    """A figure told apart by a partner's own word stands on public pages once the word was agreed to, whatever its letters."""
    e = Estimate("estimated", "EUR", 1, "costs", "x", value=1.0)
    mine = [Figure("cash in all", scope(site="all", category=c), e) for c in ("Boat", "Mia's van")]
    told = Told("P", dt.date(2025, 1, 1), 1, "EUR", 1000, (30,), mine, {}, [])
    assert [f.of("category") for f in visible(told, {}, words={"boat"}).figures] == ["Boat"]
    assert not_agreed(mine, {"boat"}) == ["mia's van"]


def test_no_distance_leads_to_a_blurred_place():
    """How far two sites lie apart is told where both places are, and not where one of them is blurred or withheld."""
    e = Estimate("estimated", "1", 2, "sites", "x", value=1.0, note="the reference forest lies at HN, 12.8 km away")
    far = [Figure("treated over reference", scope(site="CB"), e)]
    sites = [Site(k, k, Place(39.0, -9.0, 4), 200) for k in ("CB", "HN")]
    told = Told("P", dt.date(2025, 1, 1), 1, "EUR", 1000, (30,), far, {}, sites)
    near, round_ = Place(39.0, -9.0, 4), Place(39.0, -9.1, 800, "0.1")
    for shown, note in (
        ({"CB": (near, "CB"), "HN": (near, "HN")}, "12.8 km away"),
        ({"CB": (near, "CB"), "HN": (round_, "")}, "some way off"),
        ({"CB": (near, "CB")}, "some way off"),
    ):
        [only] = visible(told, shown).figures
        assert only.estimate.note == f"the reference forest lies at HN, {note}"


def test_public_values_hold_no_exact_place_unit_visit_or_reason():
    """Before any public page is made, places are blurred, and units, visits, photographs, rows and asides are gone."""
    visit = Visit(dt.date(2025, 1, 1), "found", "by the arch", 3.0)
    happened = Happening(dt.date(2025, 1, 1), "dive", "not found", "saltclub (Mia)", "by the arch")
    exact = Place(39.012345, -9.054321, 4, "0.01")
    full = Site(
        "CB", "Cove", exact, 200, marks="bolt", units=[unit("a", 5)], visits=[visit], happenings=[happened],
        warmth=[Warm("serial-77", dt.date(2025, 1, 1), 14.0)], media=[(dt.date(2025, 1, 1), "cove.jpg")],
    )  # fmt: skip
    hidden = Site("WH", "Secret Skerry", Place(39.2, -9.2, 4, "withheld"), 200, habitat="a cave")
    row = Row("i", "survey", "k", "count 1", "saltclub", "f.csv", "", 2, 1)
    told = Told(
        "P",
        dt.date(2025, 1, 1),
        1,
        "EUR",
        1000,
        (30,),
        [],
        {},
        [full, hidden],
        behind=Behind({0: row}, {"x": (0,)}, {"x": [Span("saltclub", "g.csv", "", 1, 8, ((2, 9),))]}),
    )
    shown = Place(39.01, -9.05, 800, "0.01")
    public = visible(told, {"CB": (shown, "")})
    assert (public.behind, public.due, public.arrived) == (Behind(), [], [])
    assert public.sites[0].place == shown and public.sites[1].place is None
    assert [s.name for s in public.sites] == ["CB", "WH"]
    for secret in ("arch", "bolt", "Mia", "saltclub", "serial-77", "cove.jpg", "39.0123", "Secret", "cave", "'a'"):
        assert secret in repr(told) and secret not in repr(public), secret


def _drawn(**more: object) -> Shell:
    """A programme of one site."""
    site = Site("CB", "Cabo", None, 100, units=tuple(more.pop("units", ())))  # type: ignore[arg-type]  # drawn
    return Shell(Told("p", None, 1, "EUR", 5000, (150,), more.pop("figures", ()), {}, [site], **more), EN, False)  # type: ignore[arg-type]  # drawn


def test_a_dive_sheet_says_how_many_lots_it_leaves_out():
    """Of 30 lots 24 are named, and that 6 are not is said; of 24 none is left out."""
    down = dt.date(2025, 2, 1)
    lots = [Unit(f"L{n:02}", "seeded gravel", "T1", "none", down, 50, None, None, "", None) for n in range(30)]
    shell = _drawn(units=lots)
    text = dive_sheet(shell, shell.told.sites[0]).decode()
    assert "L23 (50)" in text and "L24" not in text and "Lots not on this sheet, see the site&#39;s page: 6." in text
    shell = _drawn(units=lots[:24])
    assert "Lots not on this sheet" not in dive_sheet(shell, shell.told.sites[0]).decode()


def test_the_first_page_says_how_much_more_is_due_at_a_site():
    """Of five things due three are told and that two are more; nothing due has nobody to wait for."""
    due = [Due(dt.date(2025, 5, n), "CB", "survey", f"count frames {n}", when="soon") for n in range(1, 6)]
    page = next(iter(programme_pages(_drawn(due=due))))[1].decode()
    row = " ".join(re.sub("<[^>]+>", " ", page.partition("<tbody>")[2].partition("</tbody>")[0]).split())
    assert "count frames 3, 3 May 2025; and 2 more" in row and "count frames 4" not in row
    assert "Due when conditions and your supervisor allow." in page.partition("</dl>")[0]
    page = next(iter(programme_pages(_drawn(due=due[:3]))))[1].decode()
    assert "more</a>" not in page.partition("</tbody>")[0]
    assert "Due when conditions" not in next(iter(programme_pages(_drawn())))[1].decode().partition("</dl>")[0]


def test_a_trials_stamp_stands_behind_the_price_of_a_hectare():
    """On a site's page the stamp follows the price it is about, before the sum that was paid."""

    def cash(indicator: str, unit: str, value: float, *cautions: str) -> Figure:
        e = Estimate("estimated", unit, 1, "records", "x", value=value, cautions=cautions)
        return Figure(indicator, scope(site="CB"), e)

    trial = cash("cash per hectare", "EUR per ha", 9e5, "trial cost, do not scale")
    shell = _drawn(figures=[trial, cash("cash in all", "EUR", 900.0)])
    text = re.sub("<[^>]+>", "", site_page(shell, shell.told.sites[0]).decode())
    assert re.search(r"900,000 EUR per ha\s+trial cost, do not scale .{10}\. Cash cost in all: 900 EUR", text)


def test_a_dive_that_reached_one_plot_leaves_the_others_on_the_next_sheet():
    """Of each plot as many frames are wanted as in its own last round."""

    def counted(plot, kind, day, frames):
        return [FrameCount(day, kind, plot, "S. latissima", "recruit", "P", False, n, 0.25) for n in range(frames)]

    both, one = dt.date(2025, 3, 1), dt.date(2025, 6, 1)
    frames = [*counted("T1", "treated", both, 3), *counted("C1", "control", both, 2), *counted("T1", "treated", one, 1)]
    assert frames_to_count(frames) == [("T1", "treated"), ("C1", "control"), ("C1", "control")]
