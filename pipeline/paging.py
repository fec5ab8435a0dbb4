"""Joins the published figures and the session's views to the pages, and writes the two sites of them to out/pages."""

import datetime as dt
import json
import re
import tomllib
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from pipeline import disk
from pipeline.behind import RowsBehind
from pipeline.coast import land_once
from pipeline.errors import BadUsage
from pipeline.gathering import sites
from pipeline.gathering_beside import beds, due, partners, permits, stage_rules, targets
from pipeline.gathering_partners import given
from pipeline.groups import GROUPS, LATER, group, name_of
from pipeline.indicators.figure import Figure
from pipeline.ledger.store import Ledger
from pipeline.outputs import about
from pipeline.outputs.tables import figure_from, read_figures
from pipeline.outputs.words import words as post_words
from pipeline.page_files import Known, Made, write_tree
from pipeline.pages.partner_page import partner_alone
from pipeline.pages.plan import LEAST_M, frame
from pipeline.pages.programme_page import spots
from pipeline.pages.shell import Shell
from pipeline.pages.told import Arrived, Moved, Partner, Place, Told, species_shown
from pipeline.pages.tree import File, pages
from pipeline.pages.visible import not_agreed
from pipeline.pages.words import LANGUAGES, Words, words
from pipeline.programme import Places, Rules, mapping_bytes, open_programme
from pipeline.public_places import as_published, kept_back
from pipeline.publishing import OWN_PAGE
from pipeline.session import Asked, session
from pipeline.spoken import language_for
from pipeline.unsettled import held_causes, waiting
from schemas.kinds import all_kinds
from warehouse.asking import Asking

SEEN = "pages.json"  # in warehouse/: figures as they stood when pages were last made; can be thrown away


def make_pages(root: Path, language: str, builds: Sequence[str], today: dt.date, say: Callable[[str], None]) -> Made:
    """Write out/pages/inside and out/pages/public from what was published last; public ones only where nothing stands against it.

    A file whose bytes stay is left alone. today: whether an embargo is over. BadUsage when nothing is published, in an
    unknown language, or when public pages alone are asked for and may not be.
    """
    spoken = words(language)
    programme = open_programme(root)
    places, publishing = programme.places, programme.rules.publishing
    head = about.published_head(places.out)
    if head is None:
        raise BadUsage("Nothing is measured yet. Run `wrackline measure` first.")
    say("asking")
    done, as_of = Made(), dt.date.fromisoformat(about.published_day(places.out))
    with session(root, Asked(entry=head[0])) as (con, rules):
        told = _told(root, places, con, rules, head[0], spoken, today)
        if "inside" in builds:
            say("writing the inside pages")
            around = with_land(told, None, places.warehouse / "coast-inside.json")
            done = _write(places, "inside", pages(around, spoken, behind=RowsBehind(con, told.figures)))
    if "public" in builds:
        why, shown = _may_be_seen(root, head[0], as_of, today)
        say("no public pages: " + "; ".join(why) if why else "writing the public pages")
        agreed = publishing.agreed_words
        around = with_land(told, shown, places.warehouse / "coast-public.json") if shown is not None else told
        one = _write(places, "public", () if why else pages(around, spoken, shown, agreed))
        done = Made(
            done.files + one.files,
            done.rendered + one.rendered,
            done.written + one.written,
            done.removed + one.removed,
            why,
            () if why else tuple(not_agreed(told.figures, agreed)),
        )
    if "inside" in builds:
        write_partners(places, told, spoken)
    if done.kept_back and tuple(builds) == ("public",):
        raise BadUsage(f"There may be no public pages: {'; '.join(done.kept_back)}.")
    return done


def _write(places: Places, build: str, files: Iterable[File]) -> Made:
    return write_tree(places.out / "pages" / build, files, Known(places.warehouse / f"pages-{build}.json"))


def _may_be_seen(
    root: Path, receipt: int, as_of: dt.date, today: dt.date
) -> tuple[tuple[str, ...], Mapping[str, tuple[Place, str]] | None]:
    """Why there may be no public pages, or the places that may stand on them."""
    programme = open_programme(root)
    entries = Ledger(programme.places.ledger, compact=programme.places.entries_cache).entries()
    rules = programme.rules.publishing  # today's: who takes consent back takes it back for what was told before
    why = kept_back(rules, {e.partner for e in entries if e.drop and e.receipt.entered}, as_of, today)
    if why:
        return tuple(why), None
    with session(root, Asked(entry=receipt)) as (con, _):
        return (), as_published(con, rules, today)


def _told(root: Path, places: Places, con: Asking, rules: Rules, receipt: int, spoken: Words, today: dt.date) -> Told:
    figures = [figure_from(r) for r in read_figures(places.out)]
    as_of = dt.date.fromisoformat(about.published_day(places.out))
    held_parts, waits = about.still_open(places.out) or (0, 0)
    people = _people(places)
    entries = [e for e in Ledger(places.ledger, compact=places.entries_cache).entries() if e.number <= receipt]
    return Told(
        name=rules.name, as_of=as_of, receipt=receipt, currency=rules.currency, trial_below_m2=float(rules.trial_below_m2),
        retention_days=rules.retention_days, figures=figures, topics=_topics(), sites=sites(con, spoken, people),
        beds=beds(con, spoken), partners=_partners(con, rules, as_of, partners(con, *_open(con))), permits=permits(con),
        due=due(con, figures, spoken, rules, entries, today),
        arrived=_arrived(places), moved=_moved(places, receipt, figures), targets=targets(rules),
        stages=stage_rules(rules, spoken), held=held_parts, waiting=waits,
        species=species_shown(figures), today=today,
    )  # fmt: skip


def _open(con: Asking) -> tuple[list[tuple[str, str, int, dict[str, str]]], Counter[str]]:
    """Of each partner what is held, by file and cause, and how many things wait for a ruling."""
    causes = [
        (h.partner, h.file, h.parts, _in_every_language(h.column, h.why, h.for_instance)) for h in held_causes(con)
    ]
    return causes, Counter(p for p, _ in {(q.partner, q.identity) for q in waiting(con, all_kinds())})


def _in_every_language(column: str, why: str, instance: str) -> dict[str, str]:
    """Why rows are held, as letters say it: a partner's page may be in another language than the programme's."""
    posts = {code: post_words(code) for code in LANGUAGES}
    return {
        code: f"{post.title(column)} {post.again(why)}: {post.again(instance)}".strip() for code, post in posts.items()
    }


def with_land(told: Told, shown: Mapping[str, tuple[Place, str]] | None, path: Path) -> Told:
    """With the land around the places that this build's map shows, and no other: its edge would tell where they are."""
    found = spots(
        (s.key, s.radius_m, s.place if shown is None else shown.get(s.key, (None, ""))[0]) for s in told.sites
    )
    return replace(told, land=land_once(path, *frame(found, LEAST_M))) if found else told


def _partners(con: Asking, rules: Rules, as_of: dt.date, named: Sequence[Partner]) -> list[Partner]:
    found = given(con, rules, all_kinds(), as_of)
    return [replace(p, given=found.get(p.name, p.given)) for p in named]


def renew_own_pages(places: Places, figures: Sequence[Figure], as_of: dt.date, receipt: int) -> None:
    """Each partner's own page anew, of those figures as of that receipt; the pages of the programme stay as they are."""
    with session(places.root, Asked(entry=receipt)) as (con, rules):
        told = Told(
            rules.name, as_of, receipt, rules.currency, float(rules.trial_below_m2), rules.retention_days, figures, _topics(), (),
            partners=_partners(con, rules, as_of, partners(con, *_open(con))),
        )  # fmt: skip
    write_partners(places, told)


def write_partners(places: Places, told: Told, spoken: Words | None = None) -> None:
    """Each partner's page beside its letters too, in the language of its letters; where nothing names that, in that of the pages, or in
    the one that it is in already."""
    ledger = Ledger(places.ledger, compact=places.entries_cache)
    entries = ledger.entries()
    spoken_here = [code for p in sorted((places.out / "letters").glob(f"*/{OWN_PAGE}")) if (code := _language_of(p))]
    for partner in told.partners:
        mapping = mapping_bytes(places, partner.name)
        path = places.out / "letters" / partner.name / OWN_PAGE
        before = path.read_bytes() if path.is_file() else b""
        language = spoken.language if spoken else _language_of(path) or next(iter(spoken_here), "en")
        usual = f'[programme]\nlanguage = "{language}"'.encode()
        own = words(language_for(partner.name, mapping, usual, entries, ledger.drop_path))
        data = partner_alone(Shell(told, own, public=False), partner)
        if path.parent.is_dir() and before != data:
            disk.replace(path, data)


def _language_of(page: Path) -> str:
    """The language a page says that it is in; "" where there is none."""
    seen = re.search(rb'<html lang="(\w+)"', page.read_bytes()) if page.is_file() else None
    return seen[1].decode() if seen else ""


def _topics() -> dict[str, str]:
    """Of every indicator the name of its group."""
    every: tuple[group.Known, ...] = (*GROUPS, *LATER)
    return {e.name: name_of(g) for g in every for e in g.ENTRIES}


def _people(places: Places) -> dict[str, str]:
    """Names behind codes, for the inside pages; none where the file is not there."""
    path = places.root / "people.toml"
    try:
        told = tomllib.loads(path.read_text(encoding="utf-8")) if path.is_file() else {}
    except (UnicodeDecodeError, tomllib.TOMLDecodeError) as e:
        raise BadUsage(f"people.toml cannot be read: {e}. Mend it there and run again.") from e
    return {code: str(p["name"]) for code, p in told.items() if isinstance(p, dict) and "name" in p}


def _arrived(places: Places) -> list[Arrived]:
    """The drops of the last day on which any came in."""
    drops = [e for e in Ledger(places.ledger, compact=places.entries_cache).entries() if e.drop]
    day = max((e.recorded[:10] for e in drops), default="")
    return [
        Arrived(e.number, dt.date.fromisoformat(day), e.partner, e.name, e.receipt.entered, e.receipt.amended, e.receipt.held)
        for e in drops if e.recorded[:10] == day
    ]  # fmt: skip


def _moved(places: Places, receipt: int, figures: Sequence[Figure]) -> list[Moved]:
    """Figures that are other than when pages were made of an earlier receipt."""
    path, plain = places.warehouse / SEEN, Words()
    now = {f.id: f"{plain.value(f.estimate)} ({plain.interval(f.estimate) or '–'})" for f in figures}
    try:
        seen = json.loads(path.read_text())
        before, moved = dict(seen["figures"]), [Moved(*m) for m in seen["moved"]]
        if seen["receipt"] == receipt:
            return [m for m in moved if m.figure in now]
    except (OSError, ValueError, TypeError, KeyError):
        before = now
    moved = [Moved(i, before.get(i, ""), text) for i, text in now.items() if before.get(i) != text]
    told = {"receipt": receipt, "figures": now, "moved": [[m.figure, m.before, m.now] for m in moved]}
    disk.replace(path, json.dumps(told, sort_keys=True).encode())
    return moved
