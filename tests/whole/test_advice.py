"""The advice of every sort of fault, applied to the cell on the sheet that came back, makes the row enter."""

import ast
import csv
import io
from pathlib import Path

import pytest
from openpyxl import load_workbook

from pipeline import look, run
from pipeline.check.words import code_of
from pipeline.examine import MERGED, NO_MAPPING, TWICE, UNCONFIRMED
from pipeline.intake.cast import WANTED
from pipeline.ledger.judge import REASONS

ROOT = Path(__file__).parent.parent.parent
GOOD = {
    "check": {"site_key": "CB", "unit_key": "U1", "happened": "2025-04-05", "state": "attached", "search_time_min": "5"},
    "visit": {"site_key": "CB", "visit_key": "D1", "happened": "2025-04-05", "outcome": "found", "why": "", "team": "2",
              "water_temp_degc": "12.5", "remarks": ""},
    "survey": {"visit_key": "D1", "happened": "2025-04-05", "site_key": "CB", "plot_key": "T1", "frame_key": "1",
               "frame_type": "quadrat", "placement": "random", "area_m2": "0.25", "protocol": "frames",
               "species": "Laminaria hyperborea", "stage": "recruit", "count": "3", "fertile_count": "", "alive": ""},
    "cost": {"happened": "2025-04-05", "form": "cash", "amount": "12.00", "currency": "EUR", "category": "boat", "phase": "deploy",
             "for_kind": "site", "for_key": "CB", "share_key": ""},
    "site": {"site_key": "XX", "name": "Xa", "latitude": "39.2", "longitude": "-9.2", "datum": "EPSG:4326", "uncertainty_m": "10",
             "radius_m": "100", "country": "PT", "depth_min_m": "", "depth_max_m": ""},
    "plot": {"site_key": "CB", "plot_key": "C9", "plot_kind": "control", "area_m2": "9", "control_kind": "untouched",
             "assigned_by": "random"},
    "bed": {"bed_key": "B9", "species": "Laminaria hyperborea", "estimated_on": "2025-01-10", "fertile": "100",
            "estimate_method": "belts", "take_limit_pct": "10"},
    "permit": {"permit_key": "P9", "authority": "Port", "holder": "Club", "activity": "collect", "valid_from": "2025-01-01",
               "valid_to": "2025-12-31", "quota": "5", "quota_unit": "kg"},
    "collection": {"happened": "2025-04-05", "batch_key": "K1", "bed_key": "OLD", "species": "Laminaria hyperborea", "plants_cut": "5",
                   "cut_from": "2025-04-05 09:00", "cut_to": "2025-04-05 10:00"},
    "handling": {"batch_key": "K2", "step": "merge", "started_at": "2025-04-05 11:00", "ended_at": "2025-04-05 12:00",
                 "parent_batches": "K1", "temp_min_degc": "9", "temp_max_degc": "10"},
    "deployment": {"unit_key": "U1", "method": "spore bag", "site_key": "CB", "plot_key": "T1", "happened": "2025-03-01",
                   "latitude": "", "longitude": "", "datum": "", "uncertainty_m": "", "fixing": "bolt"},
}  # fmt: skip

# code of the fault -> kind, what stands wrong in the row, what its advice makes of it
CELLS = {
    "blank": ("check", {"unit_key": ""}, {"unit_key": "U1"}),
    "not a known word": ("check", {"state": "lost"}, {"state": "absent"}),
    "not well written": ("site", {"country": "Portugal"}, {"country": "PT"}),
    "too small": ("survey", {"count": "-2"}, {"count": "2"}),
    "too large": ("visit", {"water_temp_degc": "125"}, {"water_temp_degc": "12.5"}),
    "not whole": ("survey", {"count": "lots"}, {"count": "12"}),
    "not decimal": ("visit", {"water_temp_degc": "cold"}, {"water_temp_degc": "12.5"}),
    "not day": ("check", {"happened": "31/02/2025"}, {"happened": "2025-02-28"}),
    "not instant": ("collection", {"cut_from": "early"}, {"cut_from": "2025-04-05 09:30"}),
    "not yesno": ("survey", {"alive": "perhaps"}, {"alive": "yes"}),
    "not read": ("site", {"latitude": "39 75"}, {"latitude": "39.2123"}),
    "count not exact": ("visit", {"team": "2-3"}, {"team": "3"}),
    "order of days not known": ("check", {"happened": "03/04/2025"}, {"happened": "2025-04-03"}),
    "zone not known": ("collection", {"cut_from": "2025-04-05 09:00 QQT"}, {"cut_from": "2025-04-05 09:30 +01:00"}),
    "time that was skipped": ("collection", {"cut_from": "2025-03-30 01:30"}, {"cut_from": "2025-03-30 01:30 +00:00"}),
    "time that was twice": ("collection", {"happened": "2025-10-26", "cut_from": "2025-10-26 01:30", "cut_to": ""},
                            {"cut_from": "2025-10-26 01:30 +01:00"}),
    "looks like a sum": ("survey", {"frame_key": "Total"}, {"frame_key": "7"}),
    "error cell": ("visit", {"water_temp_degc": "#N/A"}, {"water_temp_degc": ""}),
    "lost letter": ("visit", {"remarks": "\ufffdgua"}, {"remarks": "água"}),
    "a reason, where the site was not found or the dive was given up": ("visit", {"outcome": "aborted"}, {"why": "fog"}),
    "a species, unless the count is 0": ("survey", {"species": ""}, {"species": "Laminaria hyperborea"}),
    "no more fertile plants than were counted": ("survey", {"fertile_count": "5"}, {"fertile_count": "2"}),
    "a currency for money, and none for hours": ("cost", {"currency": ""}, {"currency": "EUR"}),
    "either what it was for, or how it is shared; not both": ("cost", {"share_key": "units"}, {"share_key": ""}),
    "a least depth that is not below the greatest depth": ("site", {"depth_min_m": "9", "depth_max_m": "5"}, {"depth_min_m": "3"}),
    "a position other than 0, 0, which devices write when they have none":
        ("site", {"latitude": "0", "longitude": "0"}, {"latitude": "39.2", "longitude": "-9.2"}),
    "for a control plot, both the kind of control and how it was assigned": ("plot", {"assigned_by": ""}, {"assigned_by": "random"}),
    "with a limit, the number of fertile or adult plants, or of fertile blades, and how it was estimated":
        ("bed", {"fertile": ""}, {"fertile": "100"}),
    "a unit beside the quota": ("permit", {"quota_unit": ""}, {"quota_unit": "kg"}),
    "a cutting that ends after it begins": ("collection", {"cut_to": "2025-04-05 08:00"}, {"cut_to": "2025-04-05 10:00"}),
    "a step that ends after it begins": ("handling", {"ended_at": "2025-04-05 10:00"}, {"ended_at": "2025-04-05 12:00"}),
    "a coolest that is not above the warmest": ("handling", {"temp_min_degc": "12"}, {"temp_min_degc": "9"}),
    "the batches it came from, for a merge or a split": ("handling", {"parent_batches": ""}, {"parent_batches": "K1"}),
    "latitude, longitude and position uncertainty together, or none":
        ("deployment", {"latitude": "39.0", "longitude": "-9.0"}, {"uncertainty_m": "10"}),
    "conflict": ("check", {"state": "torn"}, {"state": "attached"}),
    "other partner": ("deployment", {"fixing": "glue"}, {"fixing": "bolt"}),
    "older": ("check", {}, {"state": "torn"}),
    "ruled against": ("check", {}, {"state": "torn"}),
}  # fmt: skip

# codes of which no workbook goes back, or whose cells alone are not at fault; each has a test of its own
ELSEWHERE = {
    "no mapping": "stages/test_letters.py", "mapping not confirmed": "whole/test_suggesting.py",
    "heading twice": "stages/test_letters.py", "row too long": "stages/test_letters.py", "amends much": "whole/test_decided.py",
    "withdrawn": "stages/test_judge.py", "says nothing": "stages/test_reshape.py", "row too short": "corpus/text.toml",
    "formula without value": "corpus/workbook.toml", "merged cell": "corpus/workbook.toml",
    "merged heading not there": "corpus/workbook.toml",
}  # fmt: skip


def table(kind, *changes):
    """A file of our own form with a row for each change."""
    out = io.StringIO()
    csv.writer(out).writerows([list(GOOD[kind]), *([*{**GOOD[kind], **c}.values()] for c in changes)])
    return out.getvalue().encode()


def named(n, key):
    """Values that keep the things of one case apart from those of the others, where a code is shared."""
    return {
        c: f"{key[:1]}{n}"
        for c in ("site_key", "bed_key", "permit_key", "batch_key", "plot_key", "unit_key")
        if c == key
    }


OWN_KEY = {"site": "site_key", "bed": "bed_key", "permit": "permit_key", "collection": "batch_key", "handling": "batch_key",
           "plot": "plot_key", "deployment": "unit_key"}  # fmt: skip


@pytest.fixture(scope="module")
def mended(new_programme):
    """By code: the codes that were told, the entry of the mended workbook, and what is still held of that partner."""
    programme = new_programme()
    rows = {}
    for n, (code, (kind, wrong, _)) in enumerate(CELLS.items()):
        own = named(n, OWN_KEY.get(kind, ""))
        rows[code] = (f"p{n}", kind, own, [{**own, **wrong}])
    rows["conflict"][3].insert(0, {})
    columns = "".join(f'{c} = "{c}"\n' for c in GOOD["check"])
    said = f'[[sheet]]\nfiles = ["check*"]\nkind = "check"\n[sheet.columns]\n{columns}'  # and nothing of how days are written
    programme.partner(rows["order of days not known"][0], said)
    before = {}
    for code in ("older", "ruled against"):
        before[f"{rows[code][0]}/check.csv"] = table("check", {})
    before["zother/deployment.csv"] = table("deployment", {**rows["other partner"][2]})
    programme.take(before)
    then = {f"{rows['older'][0]}/check.csv": table("check", {"state": "torn"})}
    [entry] = programme.take(then)
    identity, content = ((p := programme.parts(entry)[0])["identity"], p["content"])
    mine = rows["ruled against"][0]
    [said] = [e for e in programme.ledger.entries() if e.partner == mine]
    [ruled] = programme.parts(said)
    ruling = f"happened,settles,choice,decided_by,reason\n2025-05-01,{ruled['identity']},{content},lead,seen again\n"
    assert identity != ruled["identity"]
    programme.take({"programme/ruling.csv": ruling.encode(), f"{mine}/check 2.csv": table("check", {"state": "torn"})})
    faulty = {f"{p}/{kind} wrong.csv": table(kind, *changes) + b"\n" for p, kind, _, changes in rows.values()}
    entries = {e.partner: e for e in programme.take(faulty)}
    told = {code: {f["code"] for f in programme.segment(entries[p], "fault")} for code, (p, *_) in rows.items()}
    run.project(programme.root)
    run.project(programme.root)
    run.write_letters(programme.root)
    files = {}
    for code, (p, kind, *_) in rows.items():
        [path] = (programme.root / "out/letters" / p).glob(f"{entries[p].number:06d}-*.xlsx")
        book = load_workbook(path)
        [page] = book.worksheets
        headings = [c.value for c in page[1]]
        for at in range(2, page.max_row + 1):
            for heading, text in CELLS[code][2].items():
                page.cell(at, headings.index(heading) + 1).value = text
        out = io.BytesIO()
        book.save(out)
        files[f"{p}/{path.name}"] = out.getvalue()
        assert kind
    after = {e.partner: e for e in programme.take(files)}
    run.project(programme.root)
    held = {h.partner for h in look.held_rows(programme.root)}
    return {code: (told[code], after[p], p in held) for code, (p, *_) in rows.items()}


@pytest.mark.parametrize("code", CELLS)
def test_the_advice_makes_the_row_enter(mended, code):
    """A row with that fault, its cell mended on the sheet that came back as the advice says, enters (or is what counts already); nothing is held."""
    told, entry, held = mended[code]
    r = entry.receipt
    assert code in told
    assert (r.held, held, entry.unreadable) == (0, False, "") and r.entered + r.repeated == r.parts > 0 and r.holds()


def test_every_code_has_its_mender(kinds):
    """Each code of the models, the cast, the readers and the judge is in the list above, or has a test of its own that is named."""
    checks = {c.name for k in kinds.values() for column in k.schema.columns.values() for c in column.checks}
    codes = {code_of(c) for c in (*checks, "not_nullable")} | {f"not {t}" for t in WANTED} | set(REASONS)
    codes |= {c.error for k in kinds.values() for c in k.schema.checks} | {
        NO_MAPPING[0],
        UNCONFIRMED[0],
        TWICE[0],
        MERGED[0],
    }
    for path in (ROOT / "pipeline/intake").glob("*.py"):
        for call in (
            n for n in ast.walk(ast.parse(path.read_text())) if isinstance(n, ast.Call) and isinstance(n.func, ast.Name)
        ):
            at = {"Spoiled": 2, "why_not": 0}.get(call.func.id)
            if at is not None and len(call.args) > at and isinstance(call.args[at], ast.Constant):
                codes.add(call.args[at].value)
    assert codes <= CELLS.keys() | ELSEWHERE.keys()
    for code, where in ELSEWHERE.items():
        assert (
            code in (ROOT / "tests" / where).read_text() or code.split()[0] in (ROOT / "tests" / where).read_text()
        ), code
