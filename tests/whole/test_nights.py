"""Twenty nights of a small programme, full of second thoughts, and what the last ledger says of each."""

import datetime as dt
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from pipeline import look, publishing, run, settle
from pipeline.ledger.store import Ledger
from pipeline.outputs.tables import write_tables
from pipeline.starter import start

SITE = "site_key,name,latitude,longitude,datum,uncertainty_m,radius_m,country\n"
PLOT = "site_key,plot_key,plot_kind,area_m2,control_kind,assigned_by\n"
BAGS = "unit_key,method,site_key,plot_key,happened,fixing\n"
CHECKS = "site_key,unit_key,happened,state,search_time_min\n"
SURVEY = "visit_key,happened,site_key,plot_key,frame_key,frame_type,placement,area_m2,protocol,species,stage,count\n"
COSTS = "record_key,happened,form,amount,currency,category,phase,for_kind,for_key\n"
VISITS = "visit_key,site_key,happened,outcome\n"
MAPPING = (
    'dates = "DMY"\n[[sheet]]\nfiles = ["bags*"]\nkind = "check"\n[sheet.columns]\nhappened = "Day"\nsite_key = "Site"\n'
    'unit_key = "Tag"\nstate = "State"\n'
)


def counts(day: str, site: str, *found: int) -> str:
    """A survey of a site's two plots, four frames each."""
    rows = [(plot, frame, n) for plot, at in (("T1", 0), ("C1", 4)) for frame, n in enumerate(found[at : at + 4])]
    return SURVEY + "".join(
        f"{day}-{site},{day},{site},{plot},{frame},quadrat,random,0.25,quadrats,Saccharina latissima,recruit,{n}\n"
        for plot, frame, n in rows
    )


def one_row(text: str) -> str:
    """A file's headings and its last row."""
    lines = text.splitlines(keepends=True)
    return lines[0] + lines[-1]


def checks(day: str, site: str, states: str) -> str:
    """A look at a site's bags: one letter a bag, as its state begins."""
    names = {"a": "attached", "t": "torn", "g": "absent", "n": "not searched", "r": "retrieved"}
    return CHECKS + "".join(f"{site},{site}-{n},{day},{names[s]},10\n" for n, s in enumerate(states))


def bags(site: str, many: int, fixing: str = "bolt") -> str:
    """So many bags put down at a site."""
    return BAGS + "".join(f"{site}-{n},spore bag,{site},T1,2025-04-01,{fixing}\n" for n in range(many))


class Played:
    """A programme, and of each night its last entry and the tables it published."""

    def __init__(self, root: Path) -> None:
        self.root, self.nights = root, list[tuple[int, tuple[bytes, ...]]]()
        start(root)

    def put(self, **files: str) -> None:
        """Lay files into the inboxes: partner__name=text."""
        for name, text in files.items():
            path = self.root / "inbox" / (name.replace("__", "/") + ".csv")
            path.parent.mkdir(exist_ok=True)
            path.write_text(text)

    def rules(self, old: str, new: str) -> None:
        """Change the programme's rules."""
        path = self.root / "programme.toml"
        text = path.read_text()
        assert old in text
        path.write_text(text.replace(old, new))

    def night(self, what: Callable[["Played"], object]) -> None:
        """Let something happen, then take in and publish, and keep what was published."""
        what(self)
        run.run_all(self.root)
        head = Ledger(self.root / "ledger").last_number()
        self.nights.append((head, published(self.root / "out")))

    def ruled(self, partner: str) -> None:
        """Rule that of what waits, that partner's word counts."""
        said = look.waiting(self.root)
        [mine] = [q for q in said if q.partner == partner]
        settle.settle(self.root, mine.identity, mine.content, "lead", "the slate shows it")

    def retaken(self) -> None:
        """Mend a mapping and read its drops again."""
        (self.root / "partners/club.toml").write_text(MAPPING + 'search_time_min = "Minutes"\n')
        assert run.retake(self.root, "club").entries


def published(out: Path) -> tuple[bytes, ...]:
    """The tables, byte for byte."""
    return tuple((out / name).read_bytes() for name in publishing.TABLES)


NIGHTS: tuple[Callable[[Played], object], ...] = (
    lambda p: p.put(programme__site=SITE + "A,Ay,39.1,-9.4,EPSG:4326,5,80,PT\n", programme__plot=PLOT + "A,T1,treated,50,,\nA,C1,control,50,untouched,random\n"),
    lambda p: p.put(club__deployment=bags("A", 6)),
    lambda p: p.put(club__survey_base=counts("2025-03-20", "A", 0, 0, 1, 0, 0, 0, 0, 0)),
    lambda p: p.put(club__check_1=checks("2025-04-12", "A", "aaatga"), club__visit_1=VISITS + "V1,A,2025-04-12,found\n"),
    lambda p: (
        (p.root / "partners/club.toml").write_text(MAPPING),
        p.put(club__bags_may="Day;Site;Tag;State;Minutes\n10.05.2025;A;A-0;attached;9\n10.05.2025;A;A-1;absent;1\n"),
    ),
    lambda p: p.put(club__check_1=checks("2025-04-12", "A", "aaatta")),  # amended
    lambda p: p.rules("# retention_days = [21, 60]", "retention_days = [21, 30]"),
    lambda p: p.put(
        programme__site_2=SITE + "B,Bee,39.2,-9.4,EPSG:4326,5,80,PT\n",
        programme__plot_2=PLOT + "B,T1,treated,70,,\nB,C1,control,70,untouched,random\n",
        other__deployment=bags("B", 5),
    ),
    lambda p: p.put(other__deployment_2=bags("A", 1, "glue")),  # contradicts the club
    lambda p: p.ruled("other"),
    lambda p: p.put(other__check=checks("2025-04-22", "B", "agaan")),
    lambda p: settle.withdraw(p.root, "club", "deployment", "A-5", "never went into the water"),
    lambda p: p.put(club__cost=COSTS + "1,2025-04-01,cash,900,EUR,boat,deploy,site,A\n2,2025-04-01,cash,7000,NOK,boat,deploy,site,B\n"),
    lambda p: p.rules("# [[rate]]\n", '[[rate]]\ncurrency = "NOK"\ndated = 2025-01-01\nper_unit = 11.5\nsource = "a bank"\n# [[rate]]\n'),
    lambda p: p.retaken(),
    lambda p: p.put(club__survey_1=counts("2025-08-01", "A", 9, 4, 7, 12, 1, 0, 2, 1), other__survey_1=counts("2025-08-02", "B", 3, 3, 0, 8, 0, 0, 1, 0)),
    lambda p: p.put(club__survey_2=one_row(counts("2025-08-01", "A", 9, 4, 7, 12, 1, 0, 2, 5))),  # one frame amended
    lambda p: p.rules("least_search_min = 0", "least_search_min = 5"),
    lambda p: p.put(club__check_2=checks("2025-07-01", "A", "arttg")),
    lambda p: p.put(other__loss="unit_key,happened,how_known\nB-0,2025-06-02,ashore\n"),
)  # fmt: skip


@pytest.fixture(scope="module")
def played(tmp_path_factory):
    """All twenty nights, played once."""
    made = Played(tmp_path_factory.mktemp("nights") / "p")
    for what in NIGHTS:
        made.night(what)
    return made


def test_the_last_ledger_tells_every_night_as_it_was_told(played, tmp_path):
    """As of each night's last entry, by the rules of that night, the last ledger gives the bytes kept that night."""
    assert (
        len(played.nights) == 20 and len({tables for _, tables in played.nights}) >= 18
    )  # nearly each changed something
    entries = Ledger(played.root / "ledger").entries()
    assert len({e.rules for e in entries}) == 4 and "bags_may.csv" in {e.name for e in entries if e.retaken}
    assert {"ruling", "withdrawal"} <= {s.kind for e in entries for s in e.segments}
    assert sum(e.receipt.amended for e in entries) >= 4
    for number, (head, tables) in enumerate(played.nights, 1):
        figures, day = run.figures_of(played.root, run.Asked(entry=head))
        write_tables(figures, day, tmp_path / "again")
        assert published(tmp_path / "again") == tables, f"night {number}"


def test_a_night_is_found_by_its_time(played):
    """The last entry recorded by the end of a night is that night's; before the first there is none."""
    entries = Ledger(played.root / "ledger").entries()
    for head, _ in played.nights:
        recorded = dt.datetime.fromisoformat(entries[head - 1].recorded)
        assert run.entry_at(played.root, recorded) == head
        assert run.entry_at(played.root, recorded - dt.timedelta(microseconds=1)) == head - 1


def test_todays_rules_may_be_asked_for_a_past_night(played, tmp_path):
    """By today's rules a past night is told otherwise than it was told then, and its last night is told the same."""
    first, last = played.nights[5][0], played.nights[-1]
    days = {f.of("day") for f in run.figures_of(played.root, run.Asked(entry=first, rules="today"))[0]}
    assert {"21", "30"} <= days and "30" not in {
        f.of("day") for f in run.figures_of(played.root, run.Asked(entry=first))[0]
    }
    figures, day = run.figures_of(played.root, run.Asked(entry=last[0], rules="today"))
    write_tables(figures, day, tmp_path)
    assert published(tmp_path) == last[1]


def test_a_rebuild_tells_the_last_night_again(played, tmp_path):
    """From the ledger and the rules alone, warehouse and out/ gone, the last night's bytes come again."""
    again = shutil.copytree(played.root, tmp_path / "p")
    shutil.rmtree(again / "warehouse")
    shutil.rmtree(again / "out")
    run.refresh(again)
    assert published(again / "out") == played.nights[-1][1]
