"""A programme with a ledger's worth of partners' files, written straight by DuckDB: any number of events in seconds."""

import sys
from pathlib import Path

import duckdb

sys.path.insert(0, str(Path(__file__).parent.parent / "whole"))
from many_sites import looked_at, site_name

from pipeline.starter import start

SPECIES = "Saccharina latissima"
LOOKS, SITES_A_FILE = 5, 4
PUBLISHING = """
[publishing]
licence = "CC-BY-4.0"
title = "A made network"
abstract = "Made to be measured: no kelp was planted."
organisation = "A made network"
email = "nobody@network.example"
area = "A line of sites along one meridian."

[[publishing.partner]]
name = "club"
agreed = 2025-01-02
licence = "CC-BY-4.0"

[[publishing.partner]]
name = "programme"
agreed = 2025-01-02
licence = "CC-BY-4.0"

[[publishing.origin]]
species = "Saccharina latissima"
natural = "native"
planted = "lost here"
dispersal_m = 500
"""


def size_of(events: int) -> tuple[int, int, int, int]:
    """(sites, rounds, frames a plot, bags a site) that make about so many events, nine of ten of them in surveys."""
    sites, rounds = (20, 5) if events < 100_000 else (200, 25)
    frames = max(2, round(events * 0.9 / (sites * rounds * 4)))  # two plots, two stages
    return sites, rounds, frames, max(6, round(events * 0.1 / (sites * LOOKS)))


def make(root: Path, events: int) -> None:
    """Write the programme's folder and its inboxes: a survey and a check file for every few sites."""
    sites, rounds, frames, bags = size_of(events)
    start(root)
    with (root / "programme.toml").open("a", encoding="utf-8") as rules:
        rules.write(PUBLISHING)
    club, programme = root / "inbox/club", root / "inbox/programme"
    club.mkdir()
    with duckdb.connect() as con:

        def write(path: Path, query: str) -> None:
            con.execute(f"copy ({query}) to '{path}' (format csv, header)")

        con.execute(
            f"create table s as select n, 'S' || lpad(n::varchar, 3, '0') as site_key from range(1, {sites + 1}) t(n)"
        )
        write(programme / "site.csv",
              "select site_key, site_key as name, round(36 + n / 40, 3) as latitude, -9.0 as longitude, 'EPSG:4326' as datum, "
              "5 as uncertainty_m, 80 as radius_m, 'PT' as country from s order by n")  # fmt: skip
        write(programme / "plot.csv",
              "select site_key, plot_key, plot_kind, 50 + n as area_m2, control_kind, assigned_by from s, "
              "(values ('T1', 'treated', null, null), ('C1', 'control', 'untouched', 'random')) p(plot_key, plot_kind, control_kind, assigned_by) "
              "order by n, plot_key")  # fmt: skip
        day = "(date '2025-06-01' + 30 * r::int)"
        write(club / "visit.csv",
              f"select site_key || '-' || r as visit_key, site_key, {day} as happened, 'found' as outcome from s, range({rounds}) t(r) order by n, r")  # fmt: skip
        write(club / "deployment.csv",
              f"select site_key || '-' || u as unit_key, 'spore bag' as method, site_key, 'T1' as plot_key, date '2025-04-01' as happened "
              f"from s, range({bags}) t(u) order by n, u")  # fmt: skip
        write(club / "cost.csv",
              "select 'bill-' || n as record_key, date '2025-04-01' as happened, 'cash' as form, 900 + 13 * n as amount, 'EUR' as currency, "
              "'boat' as category, 'deploy' as phase, 'site' as for_kind, site_key as for_key from s order by n")  # fmt: skip
        for first in range(1, sites + 1, SITES_A_FILE):
            here = f"n between {first} and {first + SITES_A_FILE - 1}"
            write(club / f"survey-{first:03}.csv",
                  f"select site_key || '-' || r as visit_key, {day} as happened, site_key, plot_key, f as frame_key, 'quadrat' as frame_type, "
                  f"'random' as placement, 0.25 as area_m2, 'quadrats' as protocol, '{SPECIES}' as species, stage, "
                  "hash(n, r, f, plot_key, stage) % case when plot_key = 'T1' then 17 + r else 5 end as count "
                  f"from s, range({rounds}) t(r), range({frames}) q(f), (values ('T1'), ('C1')) p(plot_key), "
                  f"(values ('recruit'), ('juvenile')) g(stage) where {here} order by n, r, plot_key, f, stage")  # fmt: skip
            write(club / f"check-{first:03}.csv",
                  "select site_key, site_key || '-' || u as unit_key, date '2025-04-10' + 20 * k::int as happened, "
                  "case when hash(n, u) % 9 > k then 'attached' else 'absent' end as state, 10 as search_time_min "
                  f"from s, range({bags}) t(u), range({LOOKS}) l(k) where {here} order by n, k, u")  # fmt: skip


def one_drop(root: Path) -> None:
    """One more file for one site: its first six bags looked at once more."""
    heading = "site_key,unit_key,happened,state,search_time_min\n"
    (root / "inbox/club/check-more.csv").write_text(heading + looked_at(7, "2025-08-01", gone=5))
    assert site_name(7) == "S007"
