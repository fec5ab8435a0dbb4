"""What must hold for sums of costs whatever was paid: nothing is lost, made up or moved by order."""

import datetime as dt
from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from pipeline.indicators.paid import FORMS, Area, Books, Paid, PutDown, amounts
from pipeline.indicators.sharing import KEYS, by_method, by_site
from pipeline.indicators.spent import spent

SITES, METHODS = ("A", "B", "C"), ("bag", "gravel")
AS_OF = dt.date(2025, 6, 1)
places = st.one_of(
    st.tuples(st.sampled_from([*SITES, "X"]), st.none(), st.just(())),
    st.tuples(st.none(), st.sampled_from(KEYS[:4]), st.just(())),
    st.tuples(
        st.none(),
        st.none(),
        st.dictionaries(st.sampled_from([*SITES, "X"]), st.integers(1, 9), min_size=2).map(
            lambda d: tuple(sorted(d.items()))
        ),
    ),
)


@st.composite
def costs(draw):
    """One cost of any form, currency, place and life."""
    form, (site, key, parted) = draw(st.sampled_from(FORMS)), draw(places)
    rate = None if form == "hours" else draw(st.sampled_from([Decimal(1), Decimal("11.2405"), Decimal("0.8252")]))
    currency = {None: None, Decimal(1): "EUR"}.get(rate, "NOK")
    life = draw(st.sampled_from([None, None, Decimal("0.5"), Decimal(4)]))
    bought = draw(st.dates(dt.date(2020, 1, 1), AS_OF)) if life else None
    return Paid(
        site, key, form, currency, rate, None, draw(st.sampled_from(["boat", "fuel"])),
        draw(st.sampled_from(["deploy", "monitor"])), draw(st.sampled_from(["club", "lab"])),
        draw(st.sampled_from([None, *METHODS])) if site else None, 2025, 3, bought, life, draw(st.integers(-9999, 999999)),
        parted=parted,
    )  # fmt: skip


put_down = st.lists(
    st.builds(PutDown, st.sampled_from(SITES), st.sampled_from(METHODS), st.integers(1, 9), st.integers(1, 99), st.just(0)),
    unique_by=lambda d: (d.site, d.method),
)  # fmt: skip


def books(paid, down=()):
    """Books of three planted sites of other sizes."""
    areas = {s: Area(s, n, Decimal(n * n) / 3) for n, s in enumerate(SITES, 1)}
    return Books(tuple(paid), areas, tuple(down), (), "EUR", AS_OF, monitoring=("monitor",))


@given(st.lists(costs(), max_size=12), st.sampled_from([None, *KEYS]))
def test_sites_and_what_is_left_over_add_up(paid, key):
    """By the stated keys or by any other, what sites bear and what is unallocated are all that was paid, to the cent."""
    for form in FORMS:
        every = amounts(books(paid), form)
        sums = by_site(books(paid), every, key)
        assert sum(sums.by_site.values()) + sums.unallocated == sum(a.cents for a in every)


@given(st.lists(costs(), max_size=12), put_down)
def test_methods_add_up_to_their_site(paid, down):
    """A site's methods bear just what it bears, where anything was put down there."""
    told = books(paid, down)
    for form in FORMS:
        every = amounts(told, form)
        sums = by_site(told, every)
        parts = by_method(told, every, sums)
        for site in {d.site for d in down}:
            assert sum(cents for (s, _), cents in parts.items() if s == site) == sums.by_site[site]


@given(st.lists(costs(), min_size=1, max_size=12), put_down, st.randoms())
def test_every_sort_of_sum_adds_up_in_any_order(paid, down, dice):
    """Sums by partner, category, phase and key are the whole to the cent; the order of costs changes no byte."""
    figures = spent(books(paid, down))
    for form in FORMS:
        of = [f for f in figures if f.indicator == f"{form} in all" and f.of("site") == "all"]
        [whole] = [f for f in of if f.scope == (("site", "all"),)]
        if whole.estimate.value is None:
            continue
        for sort in ("partner", "category", "key"):
            parts = sum(round(f.estimate.value * 100) for f in of if f.of(sort))
            assert parts == round(whole.estimate.value * 100)
    turned = list(paid)
    dice.shuffle(turned)
    assert repr(spent(books(turned, down[::-1]))) == repr(figures)


@given(st.lists(costs(), max_size=12), put_down)
def test_what_lasts_never_counts_more_than_it_cost(paid, down):
    """The share of a thing's life that is over lies between nothing and all of it."""
    for form in FORMS:
        for p, cents in amounts(books(paid, down), form):
            whole = abs(p.hundredths / float(p.per_unit or 1))
            assert abs(cents) <= whole + 0.5
