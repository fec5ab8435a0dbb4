"""The first page in short: sentences made of figures are no surer than the figures are."""

import datetime as dt

import pytest

from pipeline.indicators.estimate import Estimate
from pipeline.indicators.figure import Figure, scope
from pipeline.pages.short import best_fixing, by_the_rules, least_held, next_work, open_at
from pipeline.pages.told import Due, Site, Told
from pipeline.pages.words import words

EN = words("en")


def share(value: float, low: float | None, high: float | None) -> Estimate:
    """A share in place with that interval."""
    return Estimate("estimated", "fraction", 40, "units", "x", value=value, low=low, high=high)


def by_fixing(day: int, **shares: tuple[float, float | None, float | None]) -> list[Figure]:
    """Shares in place by fixing on a day."""
    return [
        Figure("unit retention by fixing", scope(site="all", method="bag", day=str(day), fixing=name), share(*told))
        for name, told in shares.items()
    ]


def at(site: str, value: float, low: float, high: float, day: int = 150, method: str = "bag") -> Figure:
    """The share in place at a site."""
    return Figure("unit retention", scope(site=site, method=method, day=str(day)), share(value, low, high))


def told(figures: list[Figure], **more: object) -> Told:
    """A programme of three sites with those figures."""
    sites = [Site(k, k + " reef", None, 100, losses=(("storm", 2), ("unknown", 3)) if k == "B" else ()) for k in "ABC"]
    return Told("p", None, 1, "EUR", 5000, (150,), figures, {}, sites, **more)  # type: ignore[arg-type]  # drawn


def test_the_best_fixing_is_named_as_open_while_intervals_meet():
    """Of three fixings the best is told with its interval; one that meets it is “cannot tell yet”, one below lies below."""
    figures = by_fixing(150, bolt=(0.8, 0.7, 0.9), glue=(0.7, 0.6, 0.8), tie=(0.4, 0.3, 0.5))
    found = best_fixing(figures + by_fixing(60, tie=(0.9, 0.8, 0.95), glue=(0.8, 0.7, 0.9)), "bag", EN)
    assert found and found.text == (
        "Of bag, by day 150, most stayed with bolt 80 % (70 to 90 %). Cannot tell yet whether it holds better than "
        "glue 70 % (60 to 80 %): the intervals meet. Fewer stayed with tie 40 % (30 to 50 %): the interval lies wholly below."
    )
    assert len(found.figures) == 3
    apart = best_fixing(by_fixing(150, bolt=(0.8, 0.7, 0.9), tie=(0.4, 0.3, 0.5)), "bag", EN)
    assert apart and "annot tell" not in apart.text


def apart(state: str, note: str, method: str = "bag") -> Figure:
    """Whether the fixings of a method can be told apart."""
    chance = 0.3 if state == "estimated" else None
    return Figure("fixings told apart", scope(site="all", method=method), Estimate(state, "chance", 40, "units", "x", value=chance, note=note))  # type: ignore[arg-type]  # drawn  # fmt: skip


@pytest.mark.parametrize(
    ("state", "note", "why"),
    [
        ("not estimable", "fixing and site cannot be told apart: each fixing was at one site only",
         "fixing and site cannot be told apart: each fixing was at one site only"),
        ("estimated", "cannot tell: so great a difference often comes about though every fixing holds alike; fixings dealt out",
         "so great a difference often comes about though every fixing holds alike"),
    ],
)  # fmt: skip
def test_intervals_apart_do_not_tell_fixings_apart_where_the_test_cannot(state, note, why):
    """Where the programme's test of fixings is refused or cannot tell, its reason stands in place of what lies below, in every language."""
    figures = by_fixing(150, bolt=(0.8, 0.7, 0.9), tie=(0.4, 0.3, 0.5))
    test = apart(state, note)
    found = best_fixing([*figures, test], "bag", EN)
    assert found and found.text == (
        "Of bag, by day 150, most stayed with bolt 80 % (70 to 90 %). "
        f"Cannot tell yet whether it holds better than tie 40 % (30 to 50 %): {why}."
    )
    assert test in found.figures and all(words(code).knows(why) for code in ("es", "fr", "nb", "pt"))
    rare = apart("estimated", "told apart: so great a difference would be rare if every fixing held alike; x")
    for other in (rare, apart(state, note, method="gravel")):
        found = best_fixing([*figures, other], "bag", EN)
        assert found and "lies wholly below" in found.text and "annot tell" not in found.text


@pytest.mark.parametrize(
    "figures",
    [[], by_fixing(150, bolt=(0.8, 0.7, 0.9)), by_fixing(150, bolt=(0.8, None, None), tie=(0.4, None, None))],
)
def test_fixings_without_two_intervals_are_not_compared(figures):
    """One fixing, or values without intervals, give no sentence."""
    assert best_fixing(figures, "bag", EN) is None


def test_where_fewest_stayed_is_told_with_those_it_cannot_be_told_from():
    """The site of the least share is named, whose intervals lie above, whose meet it, and what its partners think, as no proof."""
    figures = [at("A", 0.8, 0.7, 0.9), at("B", 0.4, 0.3, 0.6), at("C", 0.6, 0.5, 0.7)]
    found = least_held(told(figures), EN)
    assert found and found.text == (
        "Of bag, by day 150 fewest units stayed at B reef: 40 % (30 to 60 %). Its interval lies wholly below those of A, not of C. "
        "What its partners think took units there: storm 2, unknown 3; no cause is proven."
    )
    alike = least_held(told([at("A", 0.7, 0.5, 0.9), at("C", 0.6, 0.5, 0.7)]), EN)
    assert alike and "Cannot tell it from A" in alike.text and "below" not in alike.text
    assert least_held(told([at("A", 0.7, 0.5, 0.9), at("C", 0.6, 0.5, 0.7, day=60)]), EN) is None


def test_sites_are_compared_within_one_method():
    """Gravel that went at one site is not held against bags elsewhere: the method that most sites share is compared, and named."""
    bags, lost = [at("A", 0.8, 0.7, 0.9), at("C", 0.6, 0.5, 0.7)], at("B", 0.1, 0.05, 0.2, method="gravel")
    found = least_held(told([*bags, lost]), EN)
    assert found and found.text.startswith("Of bag, by day 150 fewest units stayed at C reef: 60 %")
    assert least_held(told([bags[0], lost]), EN) is None
    gravel = [at(s, v, v - 0.05, v + 0.05, method="gravel") for s, v in (("A", 0.5), ("C", 0.3))]
    found = least_held(told([*bags, lost, *gravel]), EN)
    assert found and found.text.startswith("Of gravel, by day 150 fewest units stayed at B reef: 10 %")
    found = least_held(told([*bags, at("B", 0.4, 0.3, 0.5), *gravel]), EN)
    assert found and found.text.startswith("Of bag, by day 150 fewest units stayed at B reef: 40 %")
    late = at("A", 0.7, 0.6, 0.8, day=300)
    assert least_held(told([*bags, late]), EN) == least_held(told(bags), EN)


def test_a_site_failed_only_where_a_rule_is_not_met():
    """Open verdicts fail nobody; one that is not met names the rule and the site."""

    def verdict(site: str, note: str) -> Figure:
        e = Estimate("estimated", "per m2", 9, "frames", "x", value=1.0, low=0.1, high=2.0, note=note)
        return Figure("success rule", scope(site=site, rule="came", survey="2025-01-01"), e)

    said = by_the_rules(told([verdict("A", "cannot tell: x"), verdict("B", "cannot tell: x")]), EN)
    assert said and said.text == "By the programme's own rules: cannot tell yet at any site."
    said = by_the_rules(told([verdict("A", "met: x"), verdict("B", "not met: x")]), EN)
    assert said and said.text == "The rule “came” is not met at B."
    said = by_the_rules(told([verdict("A", "met: x"), verdict("B", "cannot tell: x")]), EN)
    assert said and said.text == "By the programme's own rules no site can be said to have failed."
    assert by_the_rules(told([]), EN) is None


def test_what_to_do_next_leaves_out_what_is_due_later():
    """Work of the month and what is overdue stands a line a sort, with sites; what is later does not."""
    day = dt.date(2025, 5, 1)
    due = [
        Due(day, "A", "survey", "count frames", when="overdue"),
        Due(day, "B", "survey", "count frames", when="soon"),
        Due(day, "C", "survey", "count frames", when="later"),
        Due(day, "", "permit", "report on permit X", when="soon"),
        Due(day, "", "permit", "report on permit Y", when="overdue"),
    ]
    assert next_work(told([], due=due, held=4), EN) == [
        "count frames at A, B (1 May 2025) (overdue: 1)",
        "report on permits: 2 (overdue: 1)",
        "put right rows that are held: 4",
    ]


def test_what_took_lost_units_is_uncertain_where_nobody_knows():
    """A site says how many of its losses have no known cause, and since when it was not found."""
    site = Site("B", "B", None, 1, not_found_since=dt.date(2025, 5, 1), losses=(("storm", 2), ("unknown", 3)))
    assert open_at(site, None, EN) == [
        "not found since 1 May 2025", "no recruits were looked for", "what took 3 of 5 units told to be lost",
    ]  # fmt: skip
