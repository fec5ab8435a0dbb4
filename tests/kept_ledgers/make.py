"""Keep a small ledger as today's code writes it, so that every later version proves that it still reads it.

    python tests/kept_ledgers/make.py v3              # a new folder beside this file; never made twice
    python tests/kept_ledgers/make.py v1 --figures    # only what it gives, after an indicator was changed on purpose

A folder holds programme.tar.xz (rules, partners, ledger, no projection), tables.txt (every base table that a rebuild
makes of it) and figures.csv. Make one whenever the format of entries, a segment or a kind's version changes.
"""

import argparse
import csv
import io
import sys
import tarfile
import tempfile
from collections.abc import Mapping, Sequence
from pathlib import Path

from pipeline import care, look, run, settle
from pipeline.ledger.entry import Entry, read_entry
from pipeline.programme import Places
from schemas.kinds import all_kinds

HERE = Path(__file__).parent
FIGURE = ("figureID", "measurementType", "measurementValue", "low", "high", "n", "state", "asOf")

RULES = """
[programme]
key = "kept"
name = "Kept"
timezone = "Europe/Lisbon"
[rules]
first_meaningful_day = 30
[[protocol]]
key = "frames"
dated = 2025-01-01
frame = "quadrat"
placement = "random"
[[protocol.search]]
species = "Laminaria hyperborea"
stages = ["recruit"]
"""

LOG = """
dates = "DMY"
decimal = ","
[[sheet]]
files = ["log*"]
[[sheet.part]]
kind = "visit"
columns = { visit_key = "Mergulho", happened = "Dia", site_key = "Sítio", visibility_m = "Vis" }
fixed = { outcome = "found" }
[[sheet.part]]
kind = "check"
only_if = "Saco"
columns = { visit_key = "Mergulho", happened = "Dia", site_key = "Sítio", unit_key = "Saco", state = "Estado" }
[sheet.part.codes.state]
"preso" = "attached"
"perdido" = "absent"
"""

FRAMES = (
    "visit_key,happened,site_key,plot_key,frame_key,frame_type,placement,protocol,species,stage,count,area_m2\n"
    + "".join(
        f"D9,2025-06-01,A,{plot},{n},quadrat,random,frames,Laminaria hyperborea,recruit,{count},0.25\n"
        for plot, counts in (("T1", (3, 5, 4, 7)), ("C1", (0, 1, 0, 0)))
        for n, count in enumerate(counts)
    )
)
BAGS = "unit_key,method,site_key,plot_key,happened,batch_key,fixing,remarks\n" + "".join(
    f"A-{n},spore bag,A,T1,2025-04-01,B1,bolt,por Ó. Quill\n" for n in range(5)
)

NIGHTS: tuple[dict[str, str], ...] = (
    {
        "programme/site.csv": "site_key,name,latitude,longitude,datum,uncertainty_m,radius_m,country\n"
        "A,Ay,39.1,-9.4,EPSG:4326,5,80,PT\nB,Bee,39.2,-9.5,EPSG:4326,5,80,PT\n",
        "programme/plot.csv": "site_key,plot_key,plot_kind,area_m2,control_kind,assigned_by\n"
        "A,T1,treated,50,,random\nA,C1,control,50,untouched,random\n",
        "programme/bed.csv": "bed_key,species,estimated_on,fertile,estimate_method\n"
        "OLD,Laminaria hyperborea,2025-01-10,1000,belts\n",
        "programme/permit.csv": "permit_key,authority,holder,activity,valid_from,valid_to\n"
        "P-1,The Harbour Board,Kept,collect,2025-01-01,2025-12-31\n",
        "laboratory/collection.csv": "batch_key,bed_key,species,plants_cut,happened,permit_key\n"
        "B1,OLD,Laminaria hyperborea,12,2025-03-30,P-1\n",
        "laboratory/handling.csv": "batch_key,step,started_at,ended_at,temp_max_degc,happened\n"
        "B1,hold,2025-03-30T18:00Z,2025-04-01T06:00Z,9.5,2025-03-30\n",
        "laboratory/reading.csv": "logger_key,quantity,at,value,unit,site_key,happened\n"
        "L1,temperature,2025-04-01T12:00Z,13.25,degC,A,2025-04-01\n",
        "club/deployment.csv": BAGS,
        "club/treatment.csv": "site_key,plot_key,action,area_m2,happened\nA,T1,turf removed,50,2025-03-28\n",
        "divers/log.csv": "Diário do clube;;;;;\nMergulho;Dia;Sítio;Vis;Saco;Estado\n"
        "D1;20/04/2025;A;4,5;A-0;preso\nD1;20/04/2025;A;4,5;A-1;perdido\nD2;21/04/2025;A;muito;;\n",
        "club/survey.csv": FRAMES,
        "programme/cost.csv": "happened,form,amount,currency,category,phase,for_kind,for_key\n"
        "2025-04-01,cash,840.00,EUR,boat,deploy,site,A\n2025-04-01,cash,840.00,EUR,boat,deploy,site,A\n"
        "2025-04-01,hours,16,,diving,deploy,site,A\n",
    },
    {
        # one amended, one gone from the file, one that cannot be read; another partner says otherwise of A-3
        "club/deployment.csv": BAGS.replace("A-2,spore bag,A,T1,2025-04-01,B1,bolt", "A-2,spore bag,A,T1,2025-04-01,B1,glue")
        .replace("A-4,spore bag,A,T1,2025-04-01,B1,bolt,por Ó. Quill\n", "")
        + "A-5,spore bag,A,T1,soon,B1,bolt,\n",
        "divers/deployment.csv": "unit_key,method,site_key,plot_key,happened,fixing\nA-3,spore bag,A,T1,2025-04-02,tie\n",
        "club/loss.csv": "unit_key,happened,how_known,mass_kg\ncannot name,2025-06-02,ashore,1.5\nA-1,2025-06-02,missed,\n"
        "Source: log book of the club\n",
    },
)  # fmt: skip


def play(root: Path) -> None:
    """Make a programme that holds every kind, every fate, a note on reading, a ruling, a withdrawal, a row that came back, a retake, a change of rules, a redaction."""
    (root / "partners").mkdir(parents=True)
    (root / "programme.toml").write_text(RULES, encoding="utf-8")
    (root / "partners/divers.toml").write_text(LOG, encoding="utf-8")
    for night in NIGHTS:
        for name, text in night.items():
            path = root / "inbox" / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text, encoding="utf-8")
        run.run_all(root)
    held = next(
        h for h in look.held_rows(root) if h.cause == "not day"
    )  # the one that cannot be read comes back, mended
    back = "wrackline held id: deployment.csv,unit_key,method,site_key,plot_key,happened,batch_key,fixing,remarks\n"
    back += f"held {held.receipt}/{held.row},A-5,spore bag,A,T1,2025-04-03,B1,bolt,\n"
    (root / "inbox/club/mended.csv").write_text(back, encoding="utf-8")
    theirs = next(q for q in look.waiting(root) if q.partner == "divers")
    settle.settle(root, theirs.identity, theirs.content, "lead", "the slate shows it")
    settle.withdraw(root, "club", "deployment", "A-4", "never put down")
    (root / "programme.toml").write_text(RULES + "# read by two\n", encoding="utf-8")
    (root / "partners/divers.toml").write_text(LOG.replace('"absent"', '"torn"'), encoding="utf-8")
    run.retake(root)
    log = next(e.drop for e in run.open_ledger(Places(root)).entries() if e.name == "log.csv")
    care.redact(root, log, "lead", "asked for")
    run.run_all(root)


def tables_of(root: Path, columns: Mapping[str, Sequence[str]]) -> str:
    """Every base table that a rebuild makes, as CSV under its name; columns: only these, where a table is named."""
    told = ""
    with run.session(root) as (con, _):
        for name in ["entry", "part", "fault", *(f"{k}_said" for k in all_kinds())]:
            wanted = ", ".join(f'"{c}"' for c in columns.get(name, ())) or "*"
            query = con.relation(f"select {wanted} from {name} order by all")
            text = io.StringIO()
            writer = csv.writer(text, lineterminator="\n")
            writer.writerow(query.columns)
            writer.writerows(query.fetchall())
            told += f"== {name}\n{text.getvalue()}"
    return told


def figures_of(root: Path) -> str:
    """The published figures as CSV: their names and numbers, without the words around them."""
    with (root / "out/indicators.csv").open(encoding="utf-8", newline="") as f:
        rows = [{c: r[c] for c in FIGURE} for r in csv.DictReader(f)]
    text = io.StringIO()
    writer = csv.DictWriter(text, FIGURE, lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return text.getvalue()


def columns_kept(kept: Path) -> dict[str, list[str]]:
    """The columns of each table when the ledger was kept: later ones are not compared."""
    parts = (kept / "tables.txt").read_text(encoding="utf-8").split("== ")[1:]
    return {name: header.split(",") for name, header, *_ in (p.split("\n", 2) for p in parts)}


def entries_of(kept: Path) -> list[Entry]:
    """The entries of a kept ledger."""
    with tarfile.open(kept / "programme.tar.xz") as packed:
        files = [(m, packed.extractfile(m)) for m in packed.getmembers() if m.name.startswith("ledger/entries/")]
        return [read_entry(f.read(), int(Path(m.name).stem)) for m, f in files if f is not None]


def unpack(kept: Path, root: Path) -> None:
    """Lay the kept programme out in a new folder, with everything made of it anew."""
    with tarfile.open(kept / "programme.tar.xz") as packed:
        packed.extractall(root, filter="data")
    run.project(root)
    run.publish(root)


def main() -> None:
    """Keep a new ledger, or renew the figures of a kept one."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("name")
    parser.add_argument("--figures", action="store_true")
    args = parser.parse_args()
    kept = HERE / args.name
    if kept.exists() != args.figures:
        sys.exit(f"{kept} is {'there: what is kept is never made anew' if kept.exists() else 'not there'}.")
    with tempfile.TemporaryDirectory() as folder:
        root = Path(folder) / "p"
        if args.figures:
            unpack(kept, root)
        else:
            play(root)
            kept.mkdir()
            with tarfile.open(kept / "programme.tar.xz", "w:xz") as packed:
                for name in ("programme.toml", "partners", "ledger/drops", "ledger/segments", "ledger/entries"):
                    packed.add(root / name, name, filter=_plain)
            (kept / "tables.txt").write_text(tables_of(root, {}), encoding="utf-8")
        (kept / "figures.csv").write_text(figures_of(root), encoding="utf-8")


def _plain(member: tarfile.TarInfo) -> tarfile.TarInfo:
    """Nothing of who packed it, or when."""
    return member.replace(uid=0, gid=0, uname="", gname="", mtime=0, deep=False)


if __name__ == "__main__":
    main()
