"""Pages of a programme: what they say, what the public ones keep back, and that no name can break them."""

import datetime as dt
import re
import shutil
from xml.etree import ElementTree

import pytest
from babel.messages.extract import extract_from_dir
from pages_read import dangling, read
from sea import RULES, SEA

from pipeline import look, run
from pipeline.cli import main
from pipeline.errors import BadUsage
from pipeline.indicators.catalogue import CATALOGUE
from pipeline.lineage import home
from pipeline.overdue import late_looks
from pipeline.pages import programme_page
from pipeline.pages import words as language
from pipeline.pages.words import LANGUAGES, Words, words

HOSTILE = '<script>alert("1")</script>'
LONG = "Nordøstre Skarvholmflua ved Ytre Ærfuglskjærgård – punta Señora Inmaculada de la Concepción del Océano"
SITES = {
    "programme/site.csv": f"""
        site_key   name        latitude    longitude    datum       uncertainty_m   radius_m   country   sensitive   marks
        CB         {LONG}      39.012345   -9.054321    EPSG:4326   10              200        PT        0.01        bolt by the arch
        NP         {HOSTILE}   39.123456   -9.165432    EPSG:4326   10              200        PT        none        .
        WH         Secretskerry   39.234567   -9.276543    EPSG:4326   10              200        PT        withheld    .
    """,
    "programme/plot.csv": SEA["plot.csv"],
    "programme/bed.csv": """
        bed_key   species                estimated_on   fertile   estimate_method   take_limit_pct   latitude    longitude    uncertainty_m   sensitive
        OLDBED    Laminaria hyperborea   2025-01-10     1000      belts             10               39.345678   -9.387654    10              0.1
    """,
    "saltclub/bags.csv": """
        unit_key   method      site_key   plot_key   happened     fixing   latitude    longitude    uncertainty_m
        CB-1       spore bag   CB         T1         2025-02-01   bolt     39.012445   -9.054321    3
        CB-2       spore bag   CB         T1         2025-02-01   tie      39.012845   -9.054021    3
        CB-3       spore bag   CB         T1         2025-02-01   tie      39.013245   -9.054021    3
    """,
    "saltclub/looks.csv": """
        site_key   unit_key   happened     state      search_time_min   recorded_by
        CB         CB-1       2025-03-01   attached   .                 mb
        CB         CB-2       2025-03-01   attached   .                 mb
        CB         CB-3       2025-03-01   absent     12                mb
    """,
    "saltclub/dives.csv": """
        visit_key   happened     site_key   outcome     why               recorded_by
        V1          2025-06-01   CB         found       .                 mb
        V2          2025-06-02   WH         not found   buoy was gone     mb
    """,
    "saltclub/frames.csv": """
        visit_key   happened     site_key   plot_key   frame_key   frame_type   placement   area_m2   protocol   species                stage     count
        V1          2025-06-01   CB         T1         1           quadrat      random      0.25      frames     Laminaria hyperborea   recruit   3
        V1          2025-06-01   CB         T1         2           quadrat      random      0.25      frames     Laminaria hyperborea   recruit   0
        V1          2025-06-01   CB         T1         3           quadrat      random      0.25      frames     Laminaria hyperborea   recruit   5
        V1          2025-06-01   CB         C1         1           quadrat      random      0.25      frames     Laminaria hyperborea   recruit   0
        V1          2025-06-01   CB         C1         2           quadrat      random      0.25      frames     Laminaria hyperborea   recruit   1
        V1          2025-06-01   CB         C1         3           quadrat      random      0.25      frames     Laminaria hyperborea   recruit   0
    """,
    "saltclub/bills.csv": """
        record_key   happened     form   amount   currency   category   phase    for_kind   for_key
        B1           2025-02-01   cash   900      EUR        boat       deploy   site       CB
    """,
}
PEOPLE = '[mb]\nname = "Marisol Brekke"\nmay_be_named = true\n'
AGREED = """
[publishing]
licence = "CC-BY-4.0"
[[publishing.partner]]
name = "saltclub"
agreed = 2025-01-01
licence = "CC-BY-4.0"
"""
NEVER_PUBLIC = (
    "Marisol", "Brekke", "saltclub", "bags.csv", "looks.csv", "frames.csv", "bills.csv", "39.0123", "9.0543", "39.2345", "9.2765", "39.3456",
    "9.3876", "Secretskerry", "CB-1", "CB-2", "bolt by the arch", "buoy was gone", "OLDBED", 'class="r ',
)  # fmt: skip


@pytest.fixture(scope="module")
def made(new_programme):
    """The drawn programme with its pages."""
    programme = new_programme(sea=False)
    programme.rules(RULES + AGREED)
    programme.take(SITES)
    (programme.root / "people.toml").write_text(PEOPLE)
    run.refresh(programme.root)
    run.pages(programme.root)
    return programme


@pytest.fixture(scope="module")
def inside(made):
    """Its inside pages, read."""
    return read(made.root / "out/pages/inside")


def test_public_pages_hold_nothing_that_must_not_leave(made):
    """No byte of the public pages tells a person, a partner, a file, a row, a unit, a donor bed or an exact place."""
    files = [p for p in (made.root / "out/pages/public").rglob("*") if p.is_file()]
    every = "\n".join(f"{p.relative_to(made.root)}\n{p.read_text()}" for p in files)
    assert [secret for secret in NEVER_PUBLIC if secret in every] == []
    assert len(files) > 8 and not (made.root / "out/pages/public/dives").exists()
    within = "\n".join(p.read_text() for p in (made.root / "out/pages/inside").rglob("*.html"))
    assert [secret for secret in NEVER_PUBLIC if secret not in within] == []


@pytest.mark.parametrize(
    ("rules", "why"),
    [
        (AGREED.split("[[", maxsplit=1)[0], "saltclub did not agree to the licence"),
        (AGREED.replace('"CC-BY-4.0"\n[[', '"CC0-1.0"\n[['), "saltclub did not agree to the licence"),
        ("", "names no licence"),
        (
            AGREED + '[[publishing.sensitive]]\nspecies = "Laminaria hyperborea"\nlevel = "withheld"\n',
            "Laminaria hyperborea may not be told of",
        ),
    ],
)
def test_public_pages_wait_for_everybodys_agreement(made, tmp_path, rules, why):
    """Where a partner did not agree, or a species is withheld, there are no public pages, and those of before are gone."""
    root = shutil.copytree(made.root, tmp_path / "p")
    assert list((root / "out/pages/public").rglob("*.html"))
    (root / "programme.toml").write_text(RULES + rules)
    assert why in run.pages(root).kept_back[0]
    assert not list((root / "out/pages/public").rglob("*.html"))
    with pytest.raises(BadUsage, match="There may be no public pages"):
        run.pages(root, only="public")


@pytest.mark.parametrize("build", ["inside", "public"])
def test_no_name_can_break_a_page(made, build):
    """Whatever a site is called, pages hold no script, no handler, no tag left open, and ids once."""
    for name, page in read(made.root / "out/pages" / build).items():
        assert not page.tags & {"script", "iframe", "object", "form", "img"} and page.handlers == [], name
        assert page.broken == [] and page.open == [], name
        assert len(page.ids) == len(set(page.ids)), name
    assert "&lt;script&gt;" in (made.root / f"out/pages/{build}/index.html").read_text()


@pytest.mark.parametrize("build", ["inside", "public"])
def test_every_link_leads_somewhere(made, build):
    """Every link of every page leads to a file of the same folder and a place in it; none leads outside."""
    folder = made.root / "out/pages" / build
    assert dangling(folder, read(folder)) == []
    assert "url(" not in (folder / "style.css").read_text()


def test_pages_tell_the_same_figures_as_the_tables(made, inside):
    """Every published figure is told once, with the value and interval that stand in the table."""
    plain, told = Words(), {}
    for page in inside.values():
        assert not told.keys() & page.articles.keys()
        told |= page.articles
    published = look.published(made.root)
    assert told.keys() == {f"f-{f.id}" for f in published} and len(told) > 60
    for f in published:
        text = " ".join(told[f"f-{f.id}"].split())
        assert plain.value(f.estimate) in text and plain.interval(f.estimate) in text
        assert all(" ".join(c.split()) in text for c in (*f.estimate.cautions, f.estimate.note))


def test_a_figures_rows_are_those_it_leads_home_to(made):
    """The rows shown behind a figure are the counted ones of `wrackline home`, for figures of every indicator."""
    from pipeline.behind import RowsBehind

    published = look.published(made.root)
    every = {f.indicator: f for f in published}
    chosen = [f for i, f in sorted(every.items())][::6] + [
        every[i] for i in ("density", "unit retention", "cash in all", "success rule") if i in every
    ]
    with run.session(made.root) as (con, _):
        behind = RowsBehind(con, published)(published)
        for f in chosen:
            here = {(r.kind, r.key, r.file, r.row, r.says) for r in map(behind.rows.get, behind.places.get(f.id, ()))}
            there = {(h.kind, h.key, h.name, h.row, h.says) for h in home(con, f) if h.role == "counted"}
            assert here == there, f
    assert sum(bool(behind.places.get(f.id)) for f in chosen) > 5


def test_a_link_to_a_figure_shows_its_rows_alone(made, inside):
    """Of the rows on a figure's page those that its style sheet leaves are the ones behind it."""
    [f] = [
        f
        for f in look.published(made.root)
        if f.indicator == "density" and f.of("plot_kind") == "treated" and f.of("stage") == "recruit"
    ]
    [(name, page)] = [(n, p) for n, p in inside.items() if f"f-{f.id}" in p.articles]
    text = (made.root / "out/pages/inside" / name).read_text()
    [mark] = re.findall(rf"#f-{f.id}:target\) tr\.r:not\(\.(s\d+)\)", text)
    shown = [cells for marks, cells in page.rows if mark in marks.split()]
    assert len(shown) == 3 and all("T1" in cells[0] and cells[3] == "frames.csv" for cells in shown)
    assert len([m for m, _ in page.rows if m.startswith("r ")]) > 3


def test_only_what_changed_is_written_anew(made):
    """Pages made twice are the same bytes and no file is touched; a file that is gone or changed comes back."""
    before = {p: p.stat().st_mtime_ns for p in (made.root / "out/pages").rglob("*") if p.is_file()}
    assert run.pages(made.root).written == 0
    assert {p: p.stat().st_mtime_ns for p in (made.root / "out/pages").rglob("*") if p.is_file()} == before
    (made.root / "out/pages/inside/index.html").write_text("other")
    stray = made.root / "out/pages/inside/sites/old.html"
    stray.write_text("of a site that is no more")
    again = run.pages(made.root)
    assert (again.written, again.removed) == (1, 1) and not stray.exists()


def test_a_page_is_made_again_only_where_its_own_values_changed(made, tmp_path):
    """A bill for one site makes that site's pages again and leaves the others' unmade; without the note all are made, alike."""
    root = shutil.copytree(made.root, tmp_path / "p")
    run.pages(root)
    again = run.pages(root)
    assert again.written == 0 and again.rendered < again.files / 3
    before = {p: p.stat().st_mtime_ns for p in (root / "out/pages/inside").rglob("*.html")}
    (root / "inbox/saltclub/bills2.csv").write_text(
        "record_key,happened,form,amount,currency,category,phase,for_kind,for_key\nB2,2025-02-02,cash,77,EUR,boat,deploy,site,CB\n"
    )
    run.run_all(root)
    done = run.pages(root)
    touched = {p.name for p, t in before.items() if p.stat().st_mtime_ns != t}
    assert {"index.html", "CB.html", "CB_cost.html"} <= touched and not {
        "NP.html",
        "WH.html",
        "CB_retention.html",
    } & touched
    assert 0 < done.rendered - again.rendered < again.files / 2
    bytes_ = {p: p.read_bytes() for p in (root / "out/pages").rglob("*") if p.is_file()}
    for note in (root / "warehouse").glob("pages-*.json"):
        note.unlink()
    anew = run.pages(root)
    assert (anew.rendered, anew.written) == (anew.files, 0)
    assert {p: p.read_bytes() for p in (root / "out/pages").rglob("*") if p.is_file()} == bytes_


def test_what_is_overdue_is_what_the_night_calls_so(made, tmp_path):
    """The first page calls overdue just those looks that the night's own page of changes does, as of the same day."""
    root = shutil.copytree(made.root, tmp_path / "p")
    rules = (root / "programme.toml").read_text()
    (root / "programme.toml").write_text(
        rules + '[[visit_plan]]\nwhat = "check"\ndays = [30, 300]\n[[visit_plan]]\nwhat = "survey"\ndays = [400]\n'
    )
    run.run_all(root)
    seen = set()
    for day in (dt.date(2025, 11, 1), dt.date(2026, 1, 10), dt.date(2026, 6, 1)):
        run.pages(root, today=day)
        text = (root / "out/pages/inside/index.html").read_text()
        part = text.partition(f"Overdue on {Words().day(day)}")[2].partition("Now and in the month to come")[0]
        with run.session(root) as (con, told):
            late = {(x.site, x.what) for x in late_looks(con, told, day)}
        assert part and ("look at the units" in part, "count frames" in part) == (
            ("CB", "check") in late,
            ("CB", "survey") in late,
        )
        assert ("overdue since" in (root / "out/pages/inside/sites/CB.html").read_text()) == bool(late)
        seen |= {frozenset(late)}
    assert len(seen) == 3


def test_pages_tell_what_was_due_on_a_named_day(made, tmp_path, capsys):
    """`pages --day` tells what was due on that day, inside alone: whether an embargo is over is asked of today."""
    root = shutil.copytree(made.root, tmp_path / "p")
    public = {p: p.read_bytes() for p in (root / "out/pages/public").rglob("*") if p.is_file()}
    assert main(["pages", "--day", "2025-11-01", "-p", str(root)]) == 0
    assert f"on {Words().day(dt.date(2025, 11, 1))}" in (root / "out/pages/inside/index.html").read_text()
    assert {p: p.read_bytes() for p in (root / "out/pages/public").rglob("*") if p.is_file()} == public != {}
    assert main(["pages", "--day", "2025-11-01", "--public", "-p", str(root)]) == 2
    assert "of today alone" in capsys.readouterr().err


def test_a_programme_of_which_nothing_can_be_told_says_so(programme):
    """With registers alone every page is there, and says that it cannot tell."""
    with pytest.raises(BadUsage, match="Nothing is measured yet"):
        run.pages(programme.root)
    run.refresh(programme.root)
    run.pages(programme.root)
    folder = programme.root / "out/pages/inside"
    pages = read(folder)
    assert dangling(folder, pages) == []
    for name in ("index.html", "report.html", "sites/CB.html", "dives/CB.html"):
        assert re.search("[Cc]annot (be )?tell|cannot be told|No tagged unit is known", pages[name].text), name


def test_many_sites_are_on_several_pages(made, tmp_path, monkeypatch):
    """Where there are more sites than one page holds, further pages hold a row each, and the answers in short stand on the first."""
    monkeypatch.setattr(programme_page, "SITES_A_PAGE", 1)
    root = shutil.copytree(made.root, tmp_path / "p")
    run.pages(root)
    folder = root / "out/pages/inside"
    found = {
        name: page.text for name, page in read(folder).items() if name in ("index.html", "sites-2.html", "sites-3.html")
    }
    assert len(found) == 3 and dangling(folder, read(folder)) == []
    assert ["What to do next?" in text for _, text in sorted(found.items())] == [True, False, False]
    assert all(
        "What is due? Due when conditions and your supervisor allow." in " ".join(t.split()) for t in found.values()
    )


def test_a_programme_without_a_site_has_pages(empty):
    """An empty programme has its pages, too."""
    run.refresh(empty.root)
    run.pages(empty.root)
    pages = read(empty.root / "out/pages/inside")
    assert "No site is registered yet" in pages["index.html"].text and "cannot be told" in pages["report.html"].text


def test_the_dive_sheet_says_what_it_must(made, inside):
    """A dive sheet says not for navigation, until when, that the supervisor decides, and gives no advice on gas."""
    text = " ".join(inside["dives/CB.html"].text.split())
    for words_ in ("NOT FOR NAVIGATION", "Void after", "dive supervisor and local rules decide", "No gas, decompression or tide advice",
                   "currents", "surge", "boats", "lines", "cold", "lifting", "permits", "39.0123"):  # fmt: skip
        assert words_ in text, words_
    assert "compliant" not in text.casefold() and " safe" not in text.casefold()
    # CB-3 was found gone and is not looked for again; the way goes from the mark by the nearest
    rows = [cells for _, cells in inside["dives/CB.html"].rows if cells and cells[0].startswith("CB-")]
    assert [r[0] for r in rows] == ["CB-1", "CB-2"]
    assert [r[3] for r in rows] == ["11", "51"]


def test_positions_come_as_gpx(made):
    """The GPX beside a dive sheet holds the mark and the units that may be there, and says it is not for navigation."""
    root = ElementTree.parse(made.root / "out/pages/inside/dives/CB.gpx").getroot()  # noqa: S314 - our own file
    space = {"g": "http://www.topografix.com/GPX/1/1"}
    points = {w.find("g:name", space).text: (w.get("lat"), w.get("lon")) for w in root.findall("g:wpt", space)}
    assert points == {
        "CB": ("39.0123450", "-9.0543210"),
        "CB-1": ("39.0124450", "-9.0543210"),
        "CB-2": ("39.0128450", "-9.0540210"),
    }
    assert "Not for navigation" in root.find("g:metadata/g:desc", space).text


def test_what_changed_is_told(made, tmp_path):
    """After a new drop the page of changes names it, and the figures that are other than before."""
    root = tmp_path / "copy"
    shutil.copytree(made.root, root)
    (root / "inbox/saltclub/bills2.csv").write_text(
        "record_key,happened,form,amount,currency,category,phase,for_kind,for_key\nB2,2025-02-02,cash,77,EUR,boat,deploy,site,CB\n"
    )
    run.run_all(root)
    run.pages(root)
    text = " ".join(read(root / "out/pages/inside")["changed.html"].text.split())
    assert "bills2.csv" in text and "900" in text and "977" in text
    again = (root / "out/pages/inside/changed.html").read_bytes()
    run.pages(root)
    assert (root / "out/pages/inside/changed.html").read_bytes() == again


# --- languages ----------------------------------------------------------------------------------------------


def messages() -> set[str]:
    """Every text that pages ask for, read from templates and code as Babel reads them."""
    folder = language.FOLDER.parent
    methods = [("templates/**.html", "jinja2"), ("**.py", "python")]
    found = extract_from_dir(folder, methods, keywords={"_": None, "words": None, "__call__": None})
    texts = {m for _, _, m, *_ in found if isinstance(m, str)}
    texts |= {m[0] for _, _, m, *_ in found if isinstance(m, tuple)}
    more = extract_from_dir(folder.parent, [("gathering*.py", "python")], keywords={"words": None})
    return texts | {m for _, _, m, *_ in more if isinstance(m, str)}


@pytest.mark.parametrize("code", [c for c in LANGUAGES if c != "en"])
def test_a_translation_has_the_same_blanks(code):
    """A translation fills in the same names as the English text, and translates what pages ask for."""
    texts = words(code).texts
    asked = messages()
    for english, other in texts.items():
        assert set(re.findall(r"{\w+}", english)) == set(re.findall(r"{\w+}", other)), english
    assert sorted(asked - texts.keys()) == []


@pytest.mark.parametrize("code", [c for c in LANGUAGES if c != "en"])
def test_titles_units_and_what_is_counted_are_told_in_every_language(made, code):
    """Every figure's title and unit, and what it was counted from, has words of its own in each language, or is a sign."""
    tongue, signs = words(code), {"cm", "km", "kg", "%", "h", "m2", "degC", "fraction", "currency"}
    titles = {i.title for i in CATALOGUE.values()}
    units = {i.unit for i in CATALOGUE.values()} - signs
    counted = {f.estimate.n_of for f in look.published(made.root)}
    assert [t for t in sorted(titles | counted) if t not in tongue.texts] == []
    assert [
        u for u in sorted(units) if u not in tongue.texts and u.partition(" per ")[2] not in {*tongue.texts, "ha"}
    ] == []
    assert tongue.unit("EUR per ha") == tongue("{what} per {of}", what="EUR", of="ha") and tongue.unit("fraction") == ""
    assert tongue.unit("per m²") == tongue.unit("per m2") != "per m²" or code == "nb"


def test_pages_speak_another_language(made, tmp_path):
    """In Norwegian headings are Norwegian, days and decimals as written there, and html says so."""
    root = tmp_path / "copy"
    shutil.copytree(made.root, root)
    run.pages(root, language="nb")
    text = (root / "out/pages/inside/index.html").read_text()
    assert '<html lang="nb">' in text and "Kom taren?" in text and "juni" in text
    assert words("nb").number(0.1234) == "0,123" and words("en").number(1234567) == "1,230,000"
    with pytest.raises(BadUsage, match="not in 'xx'"):
        run.pages(root, language="xx")
