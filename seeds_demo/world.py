"""The demo's world: an invented programme of any size, written to disk site by site, and the truth behind it.

The same seed and size give the same bytes on every machine. One site is in memory at a time.
"""

from pathlib import Path

from seeds_demo import hand_coastworks as coastworks
from seeds_demo import hand_fulmar_lab as fulmar_lab
from seeds_demo import hand_ponta_parda as ponta_parda
from seeds_demo import hand_programme as programme
from seeds_demo import hand_skerrylight as skerrylight
from seeds_demo import hand_ulvetangen as ulvetangen
from seeds_demo import hand_wharfside as wharfside
from seeds_demo import money, rules, story
from seeds_demo.answers import Answers
from seeds_demo.coast import Site, make_site, site_count
from seeds_demo.desk import Desk
from seeds_demo.diving import Told, dive
from seeds_demo.forms import Form, Hand, mapping_text
from seeds_demo.growth import frames, site_growth
from seeds_demo.lives import make_units, planted, site_luck
from seeds_demo.seasons import looks
from seeds_demo.tissue import cuttings_for

SEED, UNITS = 20250418, 400
EVENTS_A_UNIT = 13  # roughly; see STORY.md

_CLUBS = {hand.HAND.partner: hand for hand in (skerrylight, ponta_parda, ulvetangen, fulmar_lab, wharfside)}
_SPENDING: dict[str, tuple[Hand, Form]] = {name: (club.HAND, club.SPENDING) for name, club in _CLUBS.items()}


def make(root: Path, *, units: int = UNITS, seed: int = SEED, nights: bool = True, events: int | None = None) -> None:
    """Write the programme's folder: rules, mappings, the files of every night, and the truth.

    units: 400 or more; or, instead, about how many events. nights: the story's three nights with their troubles;
    otherwise everything comes on the first, without slips of the pen. Raises FileExistsError rather than mixing
    with what stands there.
    """
    units = units if events is None else units_for(events)
    if units < UNITS:
        raise ValueError(f"the story needs at least {UNITS} units, not {units}")
    if (root / "night-1").exists():
        raise FileExistsError(f"{root} already holds a demo. Name another folder, or take that one away first.")
    _write_rules(root, nights)
    desk = Desk(root, nights, story.twists())
    books, answers = money.Books(), Answers(root, seed, units)
    sites = site_count(units)
    programme.write_once(sites, desk)
    for index in range(sites):
        site = make_site(seed, index, units)
        luck, growth = site_luck(seed, site), site_growth(seed, site)
        told = dive(seed, site, looks(seed, site), make_units(seed, site, luck))
        told.frames = [f for look in told.looks if look.survey and look.found for f in frames(seed, site, growth, look)]
        programme.write(site, desk)
        fulmar_lab.write_loggers(seed, site, desk)
        _CLUBS[site.partner].write(told, desk)
        _spend(seed, told, desk, books)
        _cut(seed, told, units, desk, books)
        if nights:
            story.add(told, desk, books)
        answers.add(told, growth, luck)
    for day, row in money.pools(seed, sites):
        desk.put(coastworks.HAND, coastworks.GRANTS, row, day)
        books.add_pool(row)
    if nights:
        story.finish(desk)
    desk.close()
    answers.write(desk, books)


def units_for(events: int) -> int:
    """About how many units make so many events."""
    return max(UNITS, -(-events // EVENTS_A_UNIT))


def _write_rules(root: Path, nights: bool) -> None:
    texts = {"programme.toml": rules.programme_toml(), "people.toml": rules.people_toml()}
    for club in (*_CLUBS.values(), coastworks):
        hand = ulvetangen.wrong_hand() if club is ulvetangen and nights else club.HAND
        texts[f"partners/{hand.partner}.toml"] = mapping_text(hand)
    if nights:
        texts[f"mended/{ulvetangen.HAND.partner}.toml"] = mapping_text(ulvetangen.HAND)
    for name, text in texts.items():
        path = root / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8", newline="\n")


def _spend(seed: int, told: Told, desk: Desk, books: money.Books) -> None:
    """What the site's keeper and the agency paid for it."""
    site = told.site
    books.add_site(site)
    hand, form = _SPENDING[site.partner]
    for day, row in money.site_costs(seed, told):
        desk.put(hand, form, row, day)
        books.add_direct(site.key, row)
    row = money.agency_cost(seed, site)
    desk.put(coastworks.HAND, coastworks.GRANTS, row, site.planted_on)
    books.add_direct(site.key, row)


def _cut(seed: int, told: Told, units: int, desk: Desk, books: money.Books) -> None:
    """The cuttings for the site, or for its pair, and what they cost."""
    site = told.site
    for cut in cuttings_for(seed, site):
        fulmar_lab.write_cutting(cut, told, desk)
        row = money.cutting_cost(seed, cut)
        desk.put(fulmar_lab.HAND, fulmar_lab.SPENDING, row, cut.day)
        went_to = _pair(seed, site, units) if cut.batch.startswith("B23") else {site.key: planted(site)[1]}
        books.add_cutting(row, went_to)


def _pair(seed: int, site: Site, units: int) -> dict[str, int]:
    """Units of the second planting at this site and the next."""
    both = [site] + ([make_site(seed, site.index + 1, units)] if site.index + 1 < site_count(units) else [])
    return {s.key: planted(s)[2] for s in both if planted(s)[2]}
