"""`make demo` from outside: what it prints, what it leaves behind, and that its figures lead home."""

import json
import random
import re
import shutil
import struct
import tomllib

import pyarrow.parquet as pq
import pytest
from archives import eml_schema, every_byte, faults_of, member, rows, table, text_schema
from axe_playwright_python.sync_playwright import Axe
from dwca.read import DwCAReader
from evidence_check import differing
from pages_read import dangling, read
from pages_tongue import left_codes, left_english, left_iso
from pages_walk import SIZES, WHY, browser, has_browser, opened

from pipeline import look, run
from pipeline.behind import RowsBehind
from pipeline.cli import main
from pipeline.indicators.catalogue import CATALOGUE
from pipeline.lineage import home
from pipeline.pages.words import LANGUAGES
from pipeline.pages.words import words as page_words
from pipeline.session import session
from pipeline.tongue import vocabulary
from schemas.kinds import all_kinds
from warehouse import database
from warehouse.sqlfiles import read_views

DWC = "http://rs.tdwg.org/dwc/terms/"


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


def test_views_answer_alike_however_they_are_laid(demo, monkeypatch):
    """Views laid before a query as common tables answer as views that stand in the session, which a large projection has."""
    views = read_views(all_kinds())
    read = " ".join(v.sql for v in views)
    last = [v.name for v in views if not re.search(rf"\b{v.name}\b", read)]  # all others are asked through these
    found = []
    for small in (database.SMALL, 0):
        monkeypatch.setattr(database, "SMALL", small)
        with session(demo[0]) as (con, _):
            found.append({name: con.sql(f"from {name} order by all").fetchall() for name in last})
    assert len(last) > 50
    assert found[0] == found[1]


def test_a_figure_of_the_demo_leads_home(demo, tmp_path):
    """One by lot, made again from only the rows it rests on, is the same (100 of every sort in `make evidence-check`)."""
    wrong, tried = differing(demo[0], tmp_path, figures=1)
    assert (wrong, tried) == ([], 1)


def test_a_second_night_of_the_demo_is_quiet(demo):
    """Taking the demo in again finds nothing new and changes no output by a byte."""
    root, _ = demo
    before = {p.name: p.read_bytes() for p in (root / "out").iterdir() if p.is_file()}
    took, done = run.run_all(root)
    assert took.entries == [] and done.figures == 0
    assert {p.name: p.read_bytes() for p in (root / "out").iterdir() if p.is_file()} == before


@pytest.fixture(scope="module")
def pages(demo):
    """The demo's folder of pages, the public ones made while every partner's agreement was as wide as the licence."""
    root, _ = demo
    told, folder = root / "programme.toml", root / "out/pages"
    rules = told.read_text()
    made = run.pages(root)
    assert "coastworks, wharfside did not agree" in made.kept_back[0] and not list((folder / "public").rglob("*.html"))
    agreed = '\n[[publishing.partner]]\nname = "coastworks"\nagreed = 2022-01-05\nlicence = "CC-BY-4.0"\n'
    told.write_text(rules.replace("CC-BY-NC-4.0", "CC-BY-4.0") + agreed)
    assert run.pages(root).kept_back == ()
    told.write_text(rules)
    return folder


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


@pytest.fixture(scope="module")
def spoken(pages, demo, tmp_path_factory):
    """What gives the demo's inside pages in a language, made once."""
    made = {"en": pages / "inside"}

    def in_language(code):
        if code not in made:
            root = shutil.copytree(demo[0], tmp_path_factory.mktemp(code) / "d")
            run.pages(root, language=code)
            made[code] = root / "out/pages/inside"
        return made[code]

    return in_language


@pytest.mark.parametrize("code", [c for c in LANGUAGES if c != "en"])
def test_no_sentence_of_the_demos_pages_is_left_english(spoken, code):
    """No text of a page holds three words in a row of its English twin, but for what is kept with a reason, nor a code word or an ISO day."""
    told = {p.relative_to(spoken(code)): p.read_text() for p in spoken(code).rglob("*.html")}
    found = {(p.name, t) for p in told for t in left_english(told[p], (spoken("en") / p).read_text())}
    assert sorted(found) == []
    assert sorted({text for page in told.values() for text in left_iso(page)}) == []
    codes = {w for kind in all_kinds().values() for c in kind.columns for w in c.allowed}
    called = {w: said for w in codes if (said := vocabulary(code).get(w, w)).casefold() not in codes}
    assert sorted({text for page in told.values() for text in left_codes(page, called)}) == []


@pytest.mark.parametrize("code", [c for c in LANGUAGES if c != "en"])
def test_every_sentence_of_figures_and_of_the_catalogue_is_ours_in_every_language(demo, code):
    """Each note, caution, estimator, formula and limit is made of sentences that the language has."""
    told = page_words(code)
    every = {t for f in look.published(demo[0]) for t in (f.estimate.note, f.estimate.estimator, *f.estimate.cautions)}
    every |= {t for i in CATALOGUE.values() for t in (i.formula, i.estimator, i.limits)}
    every -= {"", "Schoenfeld 1981"}  # a title stands as it is
    assert len(every) > 900 and sorted(t for t in every if not told.knows(t)) == []


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
        spans = RowsBehind(con, figures)(figures).spans
        for f in figures:
            rows = [h.row for h in home(con, f) if h.role == "counted"]
            [told] = spans[f.id]
            assert (told.runs, told.count) == (((min(rows), max(rows)),), len(rows)) and len(rows) > 300


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
@pytest.mark.parametrize("code", LANGUAGES)
def test_one_screen_of_a_laptop_answers_for_all_six_sites(spoken, code):
    """On a screen of 1366 x 768 the row of every site ends above the lower edge, with every cell filled, in every language."""
    with browser() as shown:
        page, _, _ = opened(shown, spoken(code), "index.html", "laptop")
        rows = page.locator("table.answers tbody tr")
        assert rows.count() == 6
        for at in range(6):
            box = rows.nth(at).bounding_box()
            assert box["y"] + box["height"] <= SIZES["laptop"][1], at
            assert all(rows.nth(at).locator("th, td").all_inner_texts()), at
        when = page_words(code)("Due when conditions and your supervisor allow.")
        assert when in page.locator("table.answers thead").inner_text()
        assert when in page.locator("dl.short div", has_text=page_words(code)("What to do next?")).inner_text()


@needs_browser
def test_a_figure_on_the_first_page_leads_to_its_rows(pages):
    """Two clicks from the first page: a value, then its rows; every row shown names partner, file, row and receipt."""
    with browser() as shown:
        page, _, _ = opened(shown, pages / "inside", "index.html", "laptop")
        page.locator("table.answers tbody tr.line").nth(2).locator("td").nth(0).locator("a").first.click()
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


# --- its archive --------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def archive(demo, tmp_path_factory):
    """The folder of the demo's archive."""
    folder = tmp_path_factory.mktemp("archive")
    assert main(["archive", str(folder), "-p", str(demo[0])]) == 0
    return folder


def test_the_demos_archive_is_valid_by_the_standards_own_schemas(archive):
    """meta.xml is valid by the text guide's schema; the EML by GBIF's profile 1.3 and by EML 2.2.0."""
    assert faults_of(text_schema(), member(archive, "meta.xml")) == []
    for which in ("eml-gbif-profile-1.3", "eml-2.2.0"):
        assert faults_of(eml_schema(which), member(archive, "eml.xml")) == []


def test_the_demos_archive_opens_in_another_reader_with_the_counts_of_the_ledger(demo, archive):
    """python-dwca-reader finds every event with its extensions, none orphaned, and as many as the ledger has of partners that agreed."""
    with DwCAReader(str(archive / "archive.zip")) as read:
        core = [row.data[DWC + "eventType"] for row in read]
        found = {}
        for row in read:
            for extension in row.extensions:
                found.setdefault(extension.rowtype.rpartition("/")[2], []).append(extension.data)
        assert read.orphaned_extension_rows() == {} or not any(read.orphaned_extension_rows().values())
        assert read.metadata is not None and read.descriptor.core.type == DWC + "Event"
    with run.session(demo[0]) as (con, _):
        agreed = "partner in ('skerrylight', 'fulmar-lab', 'ponta-parda', 'ulvetangen')"
        counts = {kind: con.sql(f"select count(*) from {kind}_stands where {agreed}").fetchall()[0][0]
                  for kind in ("deployment", "treatment", "visit", "check", "loss")}  # fmt: skip
        frames, seen, looks = (con.sql(q).fetchall()[0][0] for q in (
            f"select count(*) from (select distinct partner, visit_key, plot_key, frame_key from survey_stands where {agreed})",
            f"select count(*) from survey_stands where {agreed} and species is not null and count > 0",
            f"select count(*) from check_stands c join deployment_stands d on d.unit_key = c.unit_key where c.{agreed} and d.{agreed}",
        ))  # fmt: skip
    assert core.count("quadrat") == frames and core.count("deployment") == counts["deployment"]
    assert core.count("site preparation") == counts["treatment"] and core.count("Project") == 1
    present = [o for o in found["Occurrence"] if o[DWC + "occurrenceStatus"] == "present"]
    assert sum(o[DWC + "basisOfRecord"] == "HumanObservation" for o in present) == seen
    states = [
        f
        for f in found["ExtendedMeasurementOrFact"]
        if f[DWC + "measurementType"] == "state of the unit when looked for"
    ]
    assert len(states) == looks > 1000
    kept = [f for f in found["ExtendedMeasurementOrFact"] if f[DWC + "measurementType"] == "Units still attached"]
    assert any(" to " in f[DWC + "measurementValue"] for f in kept)  # bounds, where visits leave any value between open
    assert {f[DWC + "measurementDeterminedDate"] for f in kept} == {""}  # of no one day
    assert len(found["Event"]) > frames  # the inventory's own rows


def test_no_byte_of_the_demos_archive_tells_a_held_position(demo, archive):
    """No digit of a site's or a bed's position beyond the published ones, no name and no key of a blurred site is written."""
    with run.session(demo[0]) as (con, _):
        held = con.sql("select latitude, longitude, name, site_key from site_now union all "
                       "select latitude, longitude, null, bed_key from bed_now where latitude is not null").fetchall()  # fmt: skip
    told = every_byte(archive)
    words = {f"{abs(x):f}".rstrip("0").rstrip(".") for *position, _, _ in held for x in position}
    precise = {w for w in words if len(w.partition(".")[2]) > 2} | {name for *_, name, _ in held if name}
    assert len(precise) >= 18
    for name, data in told.items():
        if not name.endswith((".zip", ".parquet")):
            assert not [w for w in precise if w.encode() in data], name
            assert not [key for *_, key in held if f'"{key}"'.encode() in data], name


def test_the_demos_data_package_is_valid(archive):
    """frictionless finds nothing wrong: schemas, types, unique keys, and every reference from table to table."""
    from frictionless import validate

    report = validate(str(archive / "tables" / "datapackage.json"))
    assert report.flatten(["type", "message"]) == [] and report.valid


def test_the_demos_maps_hold_what_is_published(archive):
    """GeoJSON and GeoParquet have every published site at its published place, and figures at the place of theirs."""
    sites = json.loads((archive / "maps" / "sites.geojson").read_text())["features"]
    events = {
        e["locationID"]: (float(e["decimalLongitude"]), float(e["decimalLatitude"]))
        for e in rows(archive, "event")
        if e["eventType"] == "site"
    }
    assert {f["properties"]["locationID"]: tuple(f["geometry"]["coordinates"]) for f in sites} == events and len(
        events
    ) == 5
    for name in ("sites", "results"):
        told = pq.read_table(archive / "maps" / f"{name}.parquet")
        geo = json.loads(told.schema.metadata[b"geo"])
        assert geo["columns"][geo["primary_column"]]["encoding"] == "WKB"
        for at, wkb in zip(told["locationID"].to_pylist(), told["geometry"].to_pylist(), strict=True):
            assert struct.unpack("<BIdd", wkb) == (1, 1, *events[at])
    meant = {r["indicator"] for r in table(archive, "indicator_meanings")}
    used = {r["measurementType"] for r in table(archive, "indicators")}
    assert used <= meant and {"density", "unit retention"} <= used
