"""`make demo` from outside: what it prints, what it leaves behind, and that its figures lead home."""

import random
import re
import tomllib

import pytest
from axe_playwright_python.sync_playwright import Axe
from evidence_check import differing
from pages_read import dangling, read
from pages_walk import SIZES, WHY, browser, has_browser, opened

from pipeline import look, run
from pipeline.behind import rows_behind, spans_behind
from pipeline.cli import main
from pipeline.lineage import home


@pytest.fixture(scope="module")
def demo(tmp_path_factory, request):
    """The demo's folder and what `wrackline demo` printed."""
    capture = request.config.pluginmanager.getplugin("capturemanager")
    root = tmp_path_factory.mktemp("demo") / "d"
    capture.read_global_capture()
    assert main(["demo", str(root)]) == 0
    return root, capture.read_global_capture().out


def test_demo_answers_the_three_questions_for_every_site(demo):
    """The demo ends with the three indicators for every site, held parts by partner, and where a figure came from."""
    _, printed = demo
    for question in (
        "DID KELP COME?",
        "DID THE BAGS HOLD?",
        "WHAT DID A HECTARE COST?",
        "HELD BY PARTNER",
        "WHERE DOES A FIGURE COME FROM?",
    ):
        assert question in printed
    for block in ("DID KELP COME?", "DID THE BAGS HOLD?", "WHAT DID A HECTARE COST?"):
        rows = printed[printed.index(block) :].split("\n\n")[1].splitlines()
        assert {line.split()[0] for line in rows[2:]} >= {"BL", "CS", "HN", "LQ", "MS", "TH"}


def test_figures_of_the_demo_lead_home(demo, tmp_path):
    """Figures of every sort, made again from only the rows they rest on, are the same (100 in `make evidence-check`)."""
    wrong, tried = differing(demo[0], tmp_path, figures=5)
    assert (wrong, tried) == ([], 5)


def test_a_second_night_of_the_demo_is_quiet(demo):
    """Taking the demo in again finds nothing new and changes no output by a byte."""
    root, _ = demo
    before = {p.name: p.read_bytes() for p in (root / "out").iterdir() if p.is_file()}
    took, done = run.run_all(root)
    assert took.entries == [] and done.figures == 0
    assert {p.name: p.read_bytes() for p in (root / "out").iterdir() if p.is_file()} == before


@pytest.fixture(scope="module")
def pages(demo):
    """The demo's folder of pages."""
    run.pages(demo[0])
    return demo[0] / "out/pages"


WALKED = (
    "index.html",
    "report.html",
    "changed.html",
    "beds.html",
    "catalogue.html",
    "sites/HN.html",
    "dives/HN.html",
    "figures/HN_retention.html",
)
needs_browser = pytest.mark.skipif(not has_browser(), reason=WHY)


def test_every_link_of_the_demos_pages_leads_somewhere(pages):
    """Inside and public, every link of the demo's pages leads to a file and a place in it, and no page is over 1 MB."""
    for build in ("inside", "public"):
        folder = pages / build
        assert dangling(folder, read(folder)) == []
        assert max(p.stat().st_size for p in folder.rglob("*.html")) < 1_000_000


def test_public_pages_of_the_demo_keep_people_files_and_places_back(pages, demo):
    """No name of a person or partner, no file, no unit and no exact place of the demo stands in its public pages."""
    every = "\n".join(p.read_text() for p in (pages / "public").rglob("*.html"))
    people = tomllib.loads((demo[0] / "people.toml").read_text()).values()
    secret = [str(p["name"]) for p in people] + [f.name for f in (demo[0] / "inbox").rglob("*") if f.is_file()]
    secret += [f.name for f in (demo[0] / "inbox").iterdir() if f.name != "programme"] + [
        "HN-0",
        "BL-0",
        "BED-",
        "B22-",
        "CW-22",
    ]
    secret += ["44.268", "27.792", "44.3227", "44.05"]
    assert [s for s in secret if s in every] == []


def test_readings_behind_a_figure_are_told_by_file_and_row(demo):
    """Of a logger's readings pages tell the file and the rows, as many as `wrackline home` counts."""
    figures = [f for f in look.published(demo[0]) if f.indicator == "mean temperature"]
    with run.session(demo[0]) as (con, _):
        rows_behind(con, figures)
        spans = spans_behind(con)
        for f in figures:
            rows = [h.row for h in home(con, f) if h.role == "counted"]
            [told] = spans[f.id]
            assert (told.first, told.last, told.count) == (min(rows), max(rows), len(rows)) and len(rows) > 300


@needs_browser
@pytest.mark.parametrize("size", ["phone", "laptop"])
def test_a_reader_walks_the_demos_pages(pages, size):
    """In a browser no page asks for anything outside, logs an error, or is wider than the screen; axe finds nothing."""
    folder = pages / "inside"
    with browser() as shown:
        for name in WALKED:
            page, outside, errors = opened(shown, folder, name, size)
            assert (outside, errors) == ([], []), name
            assert page.evaluate("document.documentElement.scrollWidth") <= SIZES[size][0], name
            page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
            found = Axe().run(page)
            assert [(v["id"], v["nodes"][0]["html"]) for v in found.response["violations"]] == [], name
            page.close()


@needs_browser
def test_a_figure_on_the_first_page_leads_to_its_rows(pages):
    """Two clicks from the first page: a value, then its rows; every row shown names partner, file, row and receipt."""
    with browser() as shown:
        page, _, _ = opened(shown, pages / "inside", "index.html", "laptop")
        page.locator("table.answers tbody tr").nth(2).locator("td").nth(0).locator("a").first.click()
        assert page.locator("article:visible").count() == 1
        rows = page.locator("tr.r:visible")
        assert 20 < rows.count() < page.locator("tr.r").count()
        cells = rows.first.locator("td").all_inner_texts()
        assert cells[0].startswith("survey HN") and len(cells) == 6 and all(cells)


@needs_browser
def test_sheets_of_the_demo_fit_their_paper(pages):
    """Printed on A4 a dive sheet is one page and the report two."""
    with browser() as shown:
        for name, sheets in (("dives/HN.html", 1), ("dives/BL.html", 1), ("report.html", 2)):
            page, _, _ = opened(shown, pages / "inside", name, "laptop")
            pdf = page.pdf(format="A4", prefer_css_page_size=True)
            assert len(re.findall(rb"/Type\s*/Page[^s]", pdf)) == sheets, name
            page.close()


def test_any_changed_byte_of_the_demos_ledger_is_found(demo):
    """One byte changed in a file of the ledger, wherever, is found and its file named (every tenth file, a byte by lot)."""
    root, _ = demo
    dice, files = random.Random(7), sorted(p for p in (root / "ledger").rglob("*") if p.is_file() and p.stat().st_size)
    assert look.verify(root).wrong == []
    for path in files[::10]:
        data, mode = path.read_bytes(), path.stat().st_mode
        at = dice.randrange(len(data))
        path.write_bytes(data[:at] + bytes([data[at] ^ 1]) + data[at + 1 :])
        assert any(path.name in wrong for wrong in look.verify(root).wrong), path
        path.write_bytes(data)
        path.chmod(mode)


def test_a_missing_end_or_segment_is_found(demo):
    """The last entry gone, or a segment gone, is found and named."""
    root, _ = demo
    last = max((root / "ledger/entries").iterdir())
    segment = min((root / "ledger/segments/survey").iterdir())
    for path, words in ((last, "the end was cut off"), (segment, "is gone")):
        data = path.read_bytes()
        path.unlink()
        assert any(words in wrong for wrong in look.verify(root).wrong)
        path.write_bytes(data)
