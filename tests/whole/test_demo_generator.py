"""The demo's generator: the same bytes for a seed, flat in memory, and files of which exactly what is intended is held."""

import csv
import json
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

import seeds_demo
from pipeline import run
from seeds_demo.world import SEED, make, units_for

HERE = Path(seeds_demo.__file__).parent
FILES = HERE / "files"
ROOT = HERE.parent

# Every rule of standing that the story lets speak once its last night is taken in.
INTENDED = {
    "unit in dispute",
    "absence without effort", "absent where the site was not found", "beyond the share of the bed", "cost has no place yet", "cost has no rate",
    "count without area", "cut too low", "datum assumed", "gap in the cold chain", "lost before it was put down",
    "lost unit seen again", "never deployed", "position beyond the site", "protocol", "rough count",
    "seen before it was put down", "share not known", "too long to release", "too warm", "unknown batch", "unknown permit",
    "unknown plot",
}  # fmt: skip


def tree(root: Path) -> dict[str, bytes]:
    """Every file below a folder by its path in it."""
    return {p.relative_to(root).as_posix(): p.read_bytes() for p in sorted(root.rglob("*")) if p.is_file()}


def truth(root: Path = FILES) -> dict:
    """What was true, and what must become of every drop."""
    return json.loads((root / "truth.json").read_text(encoding="utf-8"))


# --- the files ----------------------------------------------------------------------------------------------


def test_the_committed_files_are_what_the_generator_makes(tmp_path):
    """The files in the repository are the generator's, byte for byte."""
    make(tmp_path, seed=SEED)
    assert tree(tmp_path) == tree(FILES)


def test_another_seed_makes_another_programme(tmp_path):
    """With another seed the counts are others; only who has late losses to list may differ in the names of files."""
    make(tmp_path, seed=SEED + 1)
    other, ours = tree(tmp_path), tree(FILES)
    assert all(re.search("lost|perdidos|tapt|Lost", name) for name in other.keys() ^ ours.keys())
    frames = [name for name in ours if re.search(r"frames|ruter|contagens|lengths|Quad", name)]
    assert len(frames) == 10
    assert all(other[name] != ours[name] for name in frames)


def test_the_files_are_small():
    """The demo in the repository stays under a megabyte."""
    assert sum(map(len, tree(FILES).values())) < 1_000_000


def test_one_night_brings_every_event_of_the_three(tmp_path):
    """Without the nights all files come at once, with nothing held, amended or sent twice."""
    make(tmp_path, nights=False)
    assert [p.name for p in tmp_path.glob("night-*")] == ["night-1"]
    assert not (tmp_path / "mended").exists()
    drops = truth(tmp_path)["drops"]
    assert sum(d["held"] + d["amended"] + d["repeated"] + d["asked"] for d in drops) == 0
    assert abs(truth(tmp_path)["events"] - truth()["events"]) < 60  # the story's own rows


def test_a_folder_that_holds_a_demo_is_left_alone(tmp_path):
    """The generator never mixes two programmes, and refuses a size too small for the story."""
    make(tmp_path / "one")
    before = tree(tmp_path / "one")
    with pytest.raises(FileExistsError):
        make(tmp_path / "one", seed=1)
    with pytest.raises(ValueError, match="at least 400"):
        make(tmp_path / "two", units=399)
    assert tree(tmp_path / "one") == before
    assert not (tmp_path / "two").exists()


def test_a_large_programme_is_streamed(tmp_path):
    """Five times the events take about the same memory, and come near the number asked for."""
    peaks = {}
    for events in (20_000, 100_000):
        folder = tmp_path / str(events)
        code = (
            "import sys; from seeds_demo.__main__ import main; "
            f"code = main([{str(folder)!r}, '--events', '{events}']); "
            # ru_maxrss would begin at the peak of whoever started this process
            "sys.stdout.write(open('/proc/self/status').read().split('VmHWM:')[1].split()[0]); sys.exit(code)"
        )
        done = subprocess.run(
            [sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT, timeout=120
        )
        peaks[events] = int(done.stdout)
        told = truth(folder)
        assert 0.9 * events < told["events"] < 1.1 * events
        assert told["units"] == units_for(events)
    assert peaks[100_000] < 1.15 * peaks[20_000]
    by_site = (folder / "truth-by-site.csv").read_text().splitlines()
    assert len(by_site) == 1 + told["sites"]
    assert "densities" in truth(tmp_path / "20000")
    assert "densities" not in told


# --- the story ----------------------------------------------------------------------------------------------


def sums(entry) -> tuple[int, int, int, int, int]:
    """(entered, amended, known, held, asked) of a receipt."""
    r = entry.receipt
    return r.entered, r.amended, r.repeated, r.held, r.asked


@pytest.fixture(scope="module")
def played(tmp_path_factory):
    """The demo's nights taken in one after the other, then its mended mapping: (root, receipts, receipts of the retake)."""
    root = tmp_path_factory.mktemp("demo")
    shutil.copytree(FILES / "partners", root / "partners")
    shutil.copyfile(FILES / "programme.toml", root / "programme.toml")
    receipts = {}
    for night in (1, 2, 3):
        shutil.copytree(FILES / f"night-{night}", root / "inbox", dirs_exist_ok=True)
        for e in run.take(root).entries:
            assert not e.unreadable
            receipts[night, e.partner, e.name] = sums(e)
    shutil.copytree(FILES / "mended", root / "partners", dirs_exist_ok=True)
    mended = {(e.partner, e.name): sums(e) for e in run.retake(root).entries}
    run.project(root)
    return root, receipts, mended


def test_every_drop_becomes_what_the_story_says(played):
    """Of every file exactly the intended parts enter, are known, are held or are asked about; the copy has no receipt."""
    wanted = {
        (d["night"], d["partner"], d["file"]): (d["entered"], d["amended"], d["repeated"], d["held"], d["asked"])
        for d in truth()["drops"]
    }
    assert played[1] == wanted


def test_the_mended_mapping_amends_and_doubles_nothing(played):
    """Read again, the swapped counts are amended, and everything else the partner said is known already."""
    wanted = {(d["partner"], d["file"]): (d["amended"], d["amended"], d["repeated"], 0, 0) for d in truth()["mended"]}
    assert played[2] == wanted


def test_every_intended_rule_speaks_and_no_other(played):
    """After the last night the standing rules that speak are those of the story."""
    with run.session(played[0]) as (con, _):
        spoke = {rule for (rule,) in con.sql("select distinct rule from standing").fetchall()}
    assert spoke == INTENDED


def test_the_mended_rows_come_back(played):
    """Every part held of the messy sheet entered when it came mended."""
    first, last = (played[1][night, "wharfside", "Field Sheet June.csv"] for night in (1, 3))
    assert first == (7, 0, 0, 13, 0)
    assert last == (13, 0, 7, 0, 0)


def test_the_table_of_the_story_is_true():
    """Every line of STORY.md's table of drops agrees with what the tests hold the pipeline to."""
    told = {(d["night"], d["partner"], d["file"]): d for d in truth()["drops"]}
    rows = re.findall(r"^\| (\d) \| (\S+) \| (.+?) \| .+? \| (\d+) \| (\d+) \| (\d+) \| (\d+) \|$", story(), re.M)
    assert len(rows) == 22
    listed = set()
    for night, partner, file, *numbers in rows:
        d = told[int(night), partner, file]
        assert list(map(int, numbers)) == [d["entered"], d["repeated"], d["held"], d["asked"]], file
        listed.add((int(night), partner, file))
    troubled = {k for k, d in told.items() if d["held"] or d["asked"] or d["repeated"] or d["amended"]}
    assert troubled <= listed
    mended = truth()["mended"]
    changed, known = (sum(d[k] for d in mended) for k in ("amended", "repeated"))
    assert f"{changed} parts change, {known} are known already" in story().replace("\n", " ")


def story() -> str:
    """STORY.md"""
    return (HERE / "STORY.md").read_text(encoding="utf-8")


# --- the truth ----------------------------------------------------------------------------------------------


def test_lives_hold_the_truth(played):
    """Each bag's interval holds the day it truly went, unless its last search missed it."""
    known = truth()
    with run.session(played[0]) as (con, _):
        lives = {unit: days for unit, *days in con.sql("select unit_key, l, r from unit_life").fetchall()}
    outside = []
    for unit, told in known["lives"].items():
        went = told["lost_on_day"] or float("inf")
        left, right = lives.get(unit, [0, None])
        holds = left == right == went or (left < went and (right is None or went <= right))
        if not holds:
            outside.append(unit)
    assert set(outside) <= set(known["missed_after_last_seen"])
    assert len(lives) > 0.98 * len(known["lives"])


def test_costs_are_the_true_costs(played):
    """What each site cost, by form, is what the generator paid for it, to within the one unit in dispute."""
    root, wanted = played[0], truth()["costs"]
    with (FILES / "truth-by-site.csv").open(encoding="utf-8") as f:
        areas = {line["site"]: float(line["treated_area_m2"]) for line in csv.DictReader(f)}
    figures, _ = run.figures_of(root)
    told = {
        (f.of("site"), f.indicator.removesuffix(" per hectare")): f.estimate.value * areas[f.of("site")] / 10_000
        for f in figures if f.indicator.endswith(" per hectare") and f.of("site") != "all"
    }  # fmt: skip
    paid = {(site, form): amount for site, forms in wanted.items() for form, amount in forms.items()}
    assert told == pytest.approx(paid, rel=0.02)


def test_loggers_hold_the_truth(played):
    """Each logger's mean is the true one of the days that count to a tenth of a degree, and its days above the limit near it."""
    figures, _ = run.figures_of(played[0])
    told = {(f.indicator, f.of("logger")): f.estimate for f in figures if f.of("logger")}
    for key, true in truth()["loggers"].items():
        mean, above = told["mean temperature", key], told["days above limit", key]
        assert (mean.n, mean.value) == (true["days"], pytest.approx(true["mean_degc"], abs=0.1))
        least, most = (above.value, above.value) if above.value is not None else (above.value_from, above.value_to)
        assert least - 2 <= true["days_above"] <= most + 2
        assert told["heatwaves", key].state == "not estimable"
    assert set(truth()["loggers"]) == {"FL-1", "FL-2"}


def test_figures_are_wrong_until_the_mapping_is_mended(played):
    """Before the retake ulvetangen's recruits are its juveniles; after it they are what its divers wrote."""
    root = played[0]
    wrong, right = (
        {
            (f.of("survey"), f.of("plot_kind")): f.estimate.value
            for f in run.figures_of(root, asked)[0]
            if f.indicator == "density" and f.of("site") == "TH" and f.of("stage") == stage
            and f.of("species") == "Saccharina latissima"
        }
        for asked, stage in ((run.Asked(entry=len(played[1])), "recruit"), (run.Asked(), "juvenile"))
    )  # fmt: skip
    assert wrong == right
