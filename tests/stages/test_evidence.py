"""Every number leads home: to the rows that said it, and a programme of only those rows gives it again."""

import io

import pyarrow as pa
import pyarrow.csv
import pyarrow.parquet as pq
import pytest

from pipeline import look, run
from pipeline.errors import BadUsage
from pipeline.lineage import home

HEAD = "visit_key   happened     site_key   plot_key   frame_key   frame_type   placement   protocol   species                stage     count   area_m2"
COUNTS = {"T1": [3, 5, 4, 7, 6, 2], "C1": [0, 1, 0, 0, 2, 1]}

DEPLOYMENT = """
    unit_key   method      site_key   plot_key   happened
    B1         spore bag   CB         T1         2025-03-01
    B2         spore bag   CB         T1         2025-03-01
    B3         spore bag   CB         T1         2025-03-01
    B4         spore bag   NP         T1         2025-03-01
"""

LOG = """
[[sheet]]
files = ["log*"]
[[sheet.part]]
kind = "visit"
columns = { visit_key = "Dive", happened = "Date", site_key = "Place", visibility_m = "Sight" }
fixed = { outcome = "found" }
[[sheet.part]]
kind = "check"
only_if = "Bag"
columns = { visit_key = "Dive", happened = "Date", unit_key = "Bag", state = "Found", search_time_min = "Min" }
"""


def survey(day="2025-06-01", dive="D1", more=()):
    """A drawn sheet of counts in treated and control frames."""
    rows = [
        f"{dive}   {day}   CB   {plot}   {n}   quadrat   random   frames   Laminaria hyperborea   recruit   {count}   0.25"
        for plot, counts in COUNTS.items()
        for n, count in enumerate(counts)
    ]
    return "\n".join([HEAD, *rows, *more])


def log(*rows):
    """A drawn dive log. rows: (dive, day, sight, bag, found); dives called N... were at the other site."""
    told = [
        f"{dive}   {day}   {'NP' if dive[0] == 'N' else 'CB'}   {sight}   {bag}   {found}   10"
        for dive, day, sight, bag, found in rows
    ]
    return "\n".join(["Dive   Date   Place   Sight   Bag   Found   Min", *told])


@pytest.fixture(scope="module")
def told(new_programme, rules):
    """A small programme, measured: counts, dives, bags and bills, with a later amendment and much that is beside the point."""
    programme = new_programme(rules=rules.replace("[rules]", "[rules]\nleast_visibility_m = 1"))
    programme.partner("club", LOG)
    programme.take({
        "club/deployment.csv": DEPLOYMENT,
        "club/survey.csv": survey(),
        "club/log.csv": log(
            ("L1", "2025-03-20", 6, "B1", "attached"), ("L2", "2025-04-05", 6, "B1", "absent"), ("L3", "2025-04-05", 6, "B2", "absent"),
            ("L4", "2025-04-05", 6, "B3", "attached"), ("L5", "2025-05-01", 6, ".", "."),
        ),
        "school/visit.csv": "visit_key   site_key   happened     outcome   why\nS1   NP   2025-05-01   aborted   swell",
        "programme/cost.csv": """
            happened     form    amount   currency   category   phase     for_kind     for_key   share_key
            2025-03-01   cash    300      EUR        boat       deploy    site         CB        .
            2025-03-01   cash    40       EUR        fuel       deploy    .            .         area
            2025-03-01   cash    40       EUR        fuel       deploy    .            .         area
            2025-03-01   hours   12       .          diving     deploy    deployment   B4        .
        """,
    })  # fmt: skip
    more = survey(
        more=[
            "D1   2025-06-01   CB   T1   9   quadrat   random   frames   Laminaria hyperborea   recruit   many   0.25"
        ]
    )
    programme.take(
        {
            "club/survey.csv": more.replace(
                "T1   0   quadrat   random   frames   Laminaria hyperborea   recruit   3",
                "T1   0   quadrat   random   frames   Laminaria hyperborea   recruit   8",
            )
        }
    )
    run.refresh(programme.root)
    return programme


def figures(programme):
    """Every published figure by (indicator, its scope's values)."""
    return {(f.indicator, *(v for _, v in f.scope if v)): f for f in look.published(programme.root)}


DENSITY = ("density", "CB", "treated", "Laminaria hyperborea", "recruit", "2025-06-01", "frames", "plot")


def test_a_figure_leads_home(told):
    """A density rests on exactly its frames' rows as they now stand, told by file and row, and on registers beside them."""
    homes = look.lead_home(told.root, figures(told)[DENSITY])
    counted = [(h.partner, h.name, h.row) for h in homes if h.role == "counted"]
    second = [("club", "survey.csv", n) for n in range(2, 8)]
    assert sorted(set(counted)) == second
    # frame 0 was amended: only its new row counts; the other five were told in both files
    rows = sorted((h.entry, h.row) for h in homes if h.role == "counted")
    first, amended = sorted({e for e, _ in rows})
    assert rows == [(first, n) for n in range(3, 8)] + [(amended, n) for n in range(2, 8)]
    beside = {h.kind for h in homes if h.role == "beside"}
    assert {"site", "plot", "deployment"} <= beside
    # a row of its dive that is held is told beside it: the figure says that it is missing
    assert [(h.key, h.row) for h in homes if h.role == "left out"] == [
        ("D1 | T1 | 9 | Laminaria hyperborea | recruit", 14)
    ]


def test_the_rows_say_what_is_counted(told):
    """The rows a density leads home to, read in the kept drop by a plain program, add up to the figure."""
    figure = figures(told)[DENSITY]
    homes = {(h.drop, h.row): h.identity for h in look.lead_home(told.root, figure) if h.role == "counted"}
    seen = {}
    for (drop, row), identity in homes.items():
        lines = told.ledger.drop_path(drop).read_text().splitlines()
        cells = dict(zip(lines[0].split(","), lines[row - 1].split(","), strict=True))
        seen[identity] = int(cells["count"])
    assert sorted(seen.values()) == sorted([8, 5, 4, 7, 6, 2])
    assert figure.estimate.value == pytest.approx(sum(seen.values()) / (6 * 0.25))


def test_every_figure_has_a_home(told):
    """Every published figure leads to at least one row."""
    published = look.published(told.root)
    assert len(published) > 10
    with run.session(told.root) as (con, _):
        assert [f.id for f in published if not home(con, f)] == []


@pytest.mark.parametrize("indicator", ["treated minus control", "cash per hectare"])
def test_evidence_gives_the_same_figure(told, tmp_path, indicator):
    """A programme of only a figure's rows gives the same figure."""
    figure = next(f for f in look.published(told.root) if f.indicator == indicator)
    assert look.evidence(told.root, figure, tmp_path / "e")


def test_evidence_holds_nothing_else(told, tmp_path):
    """Evidence of a density gives it again, held rows of its dives among them, and has no bill."""
    assert look.evidence(told.root, figures(told)[DENSITY], tmp_path / "e")
    text = "".join(p.read_text() for p in (tmp_path / "e" / "inbox").rglob("*.csv"))
    assert "Laminaria hyperborea" in text
    assert "many" in text
    assert "fuel" not in text


def test_evidence_needs_a_new_folder(told, tmp_path):
    """Evidence is never written into a folder that holds anything."""
    (tmp_path / "note").write_text("mine")
    with pytest.raises(BadUsage, match="is not empty"):
        look.evidence(told.root, figures(told)[DENSITY], tmp_path)


def test_changed_evidence_would_be_noticed(told, tmp_path, monkeypatch):
    """When a row is left out, evidence says that it gives another figure."""
    whole = look.lead_home
    monkeypatch.setattr(
        look, "lead_home", lambda root, figure, asked: [h for h in whole(root, figure, asked) if h.row != 4]
    )
    assert not look.evidence(told.root, figures(told)[DENSITY], tmp_path / "e")


def retention(programme):
    """The published retention of the cove's bags."""
    run.refresh(programme.root)
    return next(f for key, f in figures(programme).items() if key[:2] == ("unit retention", "CB"))


def test_evidence_of_rows_with_an_amended_part(new_programme, rules, tmp_path):
    """A dive log's row says a dive and a check: where the dive was amended, there or elsewhere, the check's evidence stands."""
    programme = new_programme(rules=rules.replace("[rules]", "[rules]\nleast_visibility_m = 1"))
    programme.partner("club", LOG)
    rows = [
        ("L1", "2025-03-20", 6, "B1", "attached"),
        ("L2", "2025-03-26", 6, "B1", "absent"),
        ("L3", "2025-05-01", 6, "B2", "attached"),
        ("L4", "2025-05-02", 6, "B3", "absent"),
        *((f"N{n}", "2025-05-01", 6, ".", ".") for n in range(6)),
    ]
    programme.take({"club/deployment.csv": DEPLOYMENT, "club/log.csv": log(*rows)})
    before = retention(programme)
    amended = [(d, day, 0.5 if d in ("L3", "L4") else s, b, f) for d, day, s, b, f in rows]
    [entry] = programme.take({"club/log.csv": log(*amended)})
    assert entry.receipt.amended == 2
    visit = "visit_key   site_key   happened     outcome   visibility_m\nL2   CB   2025-03-26   found   0.5"
    [entry] = programme.take({"club/visit.csv": visit})
    assert entry.receipt.amended == 1
    after = retention(programme)
    assert before.estimate != after.estimate  # in such water an absence proves nothing
    assert look.evidence(programme.root, after, tmp_path / "e")


def test_evidence_of_parquet_and_mended_mappings(new_programme, tmp_path):
    """Rows of a Parquet file, and rows read under a mapping that was mended later, are taken again as they were."""
    programme = new_programme()
    programme.partner("club", LOG.replace('"Found"', '"Sight"'))
    programme.take(
        {
            "club/deployment.csv": DEPLOYMENT,
            "club/log.csv": log(("L1", "2025-03-20", 6, "B1", "attached"), ("L2", "2025-04-05", 6, "B1", "absent")),
        }
    )
    programme.partner("club", LOG)
    programme.retake()
    out = io.BytesIO()
    table = "visit_key,site_key,happened,unit_key,state,search_time_min\nP1,CB,2025-03-25,B2,attached,\nP2,CB,2025-04-09,B2,absent,12.5\n"
    pq.write_table(pyarrow.csv.read_csv(io.BytesIO(table.encode())), out)
    assert pa.types.is_date32(pq.read_schema(io.BytesIO(out.getvalue())).field("happened").type)
    [entry] = programme.take({"club/check.parquet": out.getvalue()})
    assert entry.receipt.entered == 2
    figure = retention(programme)
    assert {h.row for h in look.lead_home(programme.root, figure) if h.name == "check.parquet"} == {1, 2}
    assert look.evidence(programme.root, figure, tmp_path / "e")
