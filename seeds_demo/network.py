"""python -m seeds_demo.network FOLDER --events N [--programmes P] [--seed S]: a whole network of invented programmes.

Where the demo tells a story, this makes mass: every programme has sites, clubs of a few sites each, and for every club
files of deployments, checks, surveys and logger readings, written by DuckDB as it computes them, so that memory does
not grow with the events. Nothing is wrong in them. They begin in 2015, so that all of it lies in the past up to 200 million
events a programme (readings are hourly, so a bigger programme's loggers run longer).
The same seed, size and version of DuckDB give the same bytes.
Truths: every site has its own daily loss and its own mean of recruits, both drawn from the seed.
"""

import argparse
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import duckdb

from pipeline.starter import start

SPECIES = "Saccharina latissima"
LOOKS = 5  # at every bag, twenty days apart
BEFORE = "2015-01-01"  # the day from which all rules hold
FILES = 50  # clubs of a programme, at most: each writes a file a kind
PUBLISHING = """
[publishing]
licence = "CC-BY-4.0"
title = "A made network"
abstract = "Made to be measured: no kelp was planted."
organisation = "A made network"
email = "nobody@network.example"
area = "A line of sites along one meridian."

[[publishing.origin]]
species = "Saccharina latissima"
natural = "native"
planted = "lost here"
dispersal_m = 500
"""
AGREED = """
[[publishing.partner]]
name = "{name}"
agreed = 2015-01-02
licence = "CC-BY-4.0"
"""


@dataclass(frozen=True)
class Size:
    """How big a programme is. frames: in each of two plots a round; bags, hours: at a site."""

    sites: int
    rounds: int
    frames: int
    bags: int
    hours: int

    @classmethod
    def of(cls, events: int) -> "Size":
        """About so many events, eight of ten of them in surveys, one a reading of a logger; 10,000 or more."""
        sites, rounds = (20, 5) if events < 100_000 else (200, 25)
        frames = max(2, round(events * 0.8 / (sites * rounds * 4)))  # two plots, two stages
        bags = max(6, round(events * 0.1 / (sites * LOOKS)))
        return cls(sites, rounds, frames, bags, round(events * 0.1 / sites))


def make_network(
    folder: Path, events: int, programmes: int, seed: int, say: Callable[[str], object] = lambda _: None
) -> None:
    """Write so many programmes of about `events` together, each into a folder of its own. ValueError when they are too small."""
    if programmes < 1 or events // programmes < 10_000:
        raise ValueError("a programme of a network has 10,000 events or more")
    for n in range(1, programmes + 1):
        make_programme(folder / f"programme-{n:04}", events // programmes, seed + n)
        say(f"{n} of {programmes} programmes")


def make_programme(root: Path, events: int, seed: int) -> None:
    """Write a programme's folder and its inboxes. FileExistsError where something stands."""
    if (root / "inbox").exists():
        raise FileExistsError(f"{root} already holds a programme. Name another folder.")
    size = Size.of(events)
    a_club = max(1, -(-size.sites // FILES))  # sites
    clubs = [f"club-{n:02}" for n in range(1, -(-size.sites // a_club) + 1)]
    start(root)
    rules = (root / "programme.toml").read_text(encoding="utf-8").replace("2025-01-01", BEFORE)
    agreed = "".join(AGREED.format(name=name) for name in ("programme", *clubs))
    (root / "programme.toml").write_text(rules + PUBLISHING + agreed, encoding="utf-8")
    with duckdb.connect() as con:
        _draw(con, size, seed)
        for name, query in _REGISTERS.items():
            _write(con, root / "inbox/programme" / f"{name}.csv", query, size)
        for n, club in enumerate(clubs):
            (root / "inbox" / club).mkdir(parents=True)
            con.execute("create or replace table here as select * from site where n > $from and n <= $to",
                        {"from": n * a_club, "to": (n + 1) * a_club})  # fmt: skip
            for name, query in _OF_A_CLUB.items():
                _write(con, root / "inbox" / club / f"{name}.csv", query, size)


def _draw(con: duckdb.DuckDBPyConnection, size: Size, seed: int) -> None:
    """The sites, and dice(a, b, c, d): a number of 0 to 1 that the seed and these four decide."""
    con.execute("set enable_progress_bar = false")
    con.execute(
        f"create macro dice(a, b, c, d) as (hash({seed}, a, b, c, d) % 1000003) / 1000003.0;"
        "create macro day(r) as date '2015-06-01' + 30 * cast(r as int);"
        f"create table site as select n, 'S' || lpad(cast(n as varchar), 3, '0') as site_key, "
        f"0.002 + 0.01 * dice(n, 0, 0, 1) as lost_a_day, 2 + 10 * dice(n, 0, 0, 2) as mean from range(1, {size.sites + 1}) t(n)"
    )


def _write(con: duckdb.DuckDBPyConnection, path: Path, query: str, size: Size) -> None:
    told = query.format(
        rounds=size.rounds, frames=size.frames, bags=size.bags, hours=size.hours, looks=LOOKS, species=SPECIES
    )
    quoted = str(path).replace("'", "''")
    con.execute(f"copy ({told}) to '{quoted}' (format csv, header)")


_REGISTERS = {
    "site": "select site_key, site_key as name, round(36 + n / 40, 3) as latitude, -9.0 as longitude, 'EPSG:4326' as datum, "
    "5 as uncertainty_m, 80 as radius_m, 'PT' as country from site order by n",
    "plot": "select site_key, plot_key, plot_kind, 50 + n as area_m2, control_kind, assigned_by from site, "
    "(values ('T1', 'treated', null, null), ('C1', 'control', 'untouched', 'random')) "
    "p(plot_key, plot_kind, control_kind, assigned_by) order by n, plot_key",
}
_OF_A_CLUB = {
    "visit": "select site_key || '-' || r as visit_key, site_key, day(r) as happened, 'found' as outcome "
    "from here, range({rounds}) t(r) order by n, r",
    "deployment": "select site_key || '-' || u as unit_key, 'spore bag' as method, site_key, 'T1' as plot_key, "
    "date '2015-04-01' as happened from here, range({bags}) t(u) order by n, u",
    "check": "select site_key, site_key || '-' || u as unit_key, date '2015-04-22' + 20 * cast(k as int) as happened, "
    "case when -ln(1 - dice(n, u, 0, 3)) / lost_a_day > 21 + 20 * k then 'attached' else 'absent' end as state, "
    "10 as search_time_min from here, range({bags}) t(u), range({looks}) l(k) order by n, k, u",
    # counts of a geometric law: the mean's own, a third of it where nothing was planted
    "survey": "select site_key || '-' || r as visit_key, day(r) as happened, site_key, plot_key, f as frame_key, "
    "'quadrat' as frame_type, 'random' as placement, 0.25 as area_m2, 'quadrats' as protocol, '{species}' as species, stage, "
    "cast(floor(ln(1 - dice(n * 1000 + r, f, plot_key || stage, 4)) / ln(1 - 1 / (1 + mean * part))) as int) as count "
    "from here, range({rounds}) t(r), range({frames}) q(f), (values ('T1', 1.0), ('C1', 0.33)) p(plot_key, part), "
    "(values ('recruit'), ('juvenile')) g(stage) order by n, r, plot_key, f, stage",
    # an hour is at the bottom what the season makes it, and within a degree of that by chance
    "reading": "select 'L-' || site_key as logger_key, site_key, strftime(timestamp '2015-04-01' + to_hours(cast(h as int)), "
    "'%Y-%m-%dT%H:%M:%SZ') as at, 'temperature' as quantity, "
    "round(13 + 3 * sin(2 * pi() * (h / 24 - 30) / 365.25) + 2 * dice(n, h, 0, 5) - 1, 2) as value, 'degC' as unit "
    "from here, range({hours}) t(h) order by n, h",
    "cost": "select 'bill-' || n as record_key, date '2015-04-01' as happened, 'cash' as form, 900 + 13 * n as amount, "
    "'EUR' as currency, 'boat' as category, 'deploy' as phase, 'site' as for_kind, site_key as for_key from here order by n",
}


def main(args: list[str] | None = None) -> int:
    """Write a network into a folder; gives the exit code."""
    parser = argparse.ArgumentParser(prog="seeds_demo.network", description=__doc__.split("\n\n")[0])
    parser.add_argument("folder", type=Path, help="where to write; made if need be")
    parser.add_argument(
        "--events", type=int, default=1_000_000, help="about how many events, of all programmes together"
    )
    parser.add_argument("--programmes", type=int, default=1)
    parser.add_argument("--seed", type=int, default=1, help="another seed, another network")
    given = parser.parse_args(args)
    say = (lambda line: sys.stderr.write(f"\r{line}")) if sys.stderr.isatty() else (lambda _: None)
    try:
        make_network(given.folder, given.events, given.programmes, given.seed, say)
    except (ValueError, FileExistsError) as e:
        sys.stderr.write(f"{e}\n")
        return 2
    return 0


if __name__ == "__main__":
    sys.exit(main())
