"""The house rules that a program can see: who imports whom, who prints, how long a file is, which SQL is allowed."""

import ast
import re
import statistics
import subprocess
import sys
import tomllib
from functools import cache
from pathlib import Path

import pytest
import sqlglot
from portable import outside, outside_all

from pipeline.plural import n_of
from schemas.kinds import all_kinds
from warehouse.sqlfiles import ALL, FOLDER, read_views

ROOT = Path(__file__).parent.parent
SOURCES = sorted(p for f in ("pipeline", "schemas", "warehouse", "seeds_demo") for p in (ROOT / f).rglob("*.py"))
STAGES = ("intake", "check", "ledger", "indicators", "outputs", "archive", "gate", "pages", "blanks")

# What one stage hands to the next: nouns without behaviour, which every stage may name.
NOUNS = {
    "pipeline.indicators.estimate", "pipeline.indicators.figure", "pipeline.indicators.catalogue",
    "pipeline.ledger.entry", "pipeline.lineage",
}  # fmt: skip


@cache
def parsed(path: Path) -> ast.Module:
    return ast.parse(path.read_text())


@cache
def imports(path: Path) -> set[str]:
    """Every module a file imports, however deep inside it."""
    found = set()
    package = ".".join(path.relative_to(ROOT).with_suffix("").parts[:-1])
    for node in ast.walk(parsed(path)):
        if isinstance(node, ast.Import):
            found |= {a.name for a in node.names}
        elif isinstance(node, ast.ImportFrom):
            base = ".".join(package.split(".")[: len(package.split(".")) - node.level + 1]) if node.level else ""
            found.add(".".join(x for x in (base, node.module or "") if x))
    return found


def named(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


@pytest.mark.parametrize("stage", STAGES)
def test_stages_do_not_import_each_other(stage):
    """A stage imports no other stage, except the nouns that are handed over."""
    others = tuple(f"pipeline.{s}" for s in STAGES if s != stage)
    for path in (ROOT / "pipeline" / stage).rglob("*.py"):
        strange = {m for m in imports(path) if m.startswith(others)} - NOUNS
        assert not strange, f"{named(path)} imports {strange}"


def test_schemas_and_warehouse_know_nothing_of_the_pipeline():
    """The models and the projection stand below the pipeline and never import it."""
    for path in SOURCES:
        if named(path).startswith(("schemas/", "warehouse/")):
            assert not {m for m in imports(path) if m.startswith("pipeline")}, named(path)


@pytest.mark.parametrize(
    ("module", "where"),
    [
        ("dagster", {"pipeline/definitions.py"}),
        ("pandera", {"pipeline/check/", "schemas/"}),
        ("polars", {"pipeline/check/", "schemas/", "pipeline/ledger/hashing.py"}),
        ("argparse", {"pipeline/cli.py", "pipeline/commands/", "seeds_demo/"}),
        ("lxml", {"pipeline/gate/", "pipeline/archive/"}),
        ("jinja2", {"pipeline/pages/shell.py"}),
        ("openpyxl", {"pipeline/blanks/", "pipeline/outputs/given_back.py"}),
        ("pandas", set()),
        ("pyspark", {"warehouse/spark.py", "warehouse/spark_session.py", "warehouse/spark_tables.py"}),
        ("sqlglot", {"warehouse/spark.py"}),
    ],
)
def test_a_library_is_imported_where_it_belongs(module, where):
    """A heavy or opinionated library is imported by the files that need it and by no other."""
    for path in SOURCES:
        if module in {m.split(".")[0] for m in imports(path)}:
            assert any(named(path) == w or (w.endswith("/") and named(path).startswith(w)) for w in where), named(path)


def test_one_module_may_reach_a_network():
    """Nothing but the alerts, which go where the operator said, can open a connection."""
    banned = {"smtplib", "ssl", "socket", "http.client", "urllib.request", "requests", "ftplib", "asyncio"}
    for path in SOURCES:
        assert named(path) == "pipeline/alerts.py" or not banned & imports(path), named(path)


def test_indicators_touch_nothing_outside():
    """Estimators take numbers and give numbers: no file, database, clock or unseeded chance."""
    banned = {"duckdb", "pyarrow", "polars", "pathlib", "os", "time", "random", "io", "tempfile", "subprocess"}
    for path in (ROOT / "pipeline" / "indicators").rglob("*.py"):
        assert not banned & {m.split(".")[0] for m in imports(path)}, named(path)


def test_an_archive_is_made_of_what_is_handed_over():
    """The archive's stage asks no database, folder or clock: the same tables give the same bytes."""
    banned = {"duckdb", "pathlib", "os", "time", "random", "tempfile", "subprocess"}
    for path in (ROOT / "pipeline" / "archive").rglob("*.py"):
        assert not banned & {m.split(".")[0] for m in imports(path)}, named(path)


def test_only_the_main_path_reads_the_clock():
    """No figure can depend on the time of day, since only run.py knows it."""
    for path in SOURCES:
        if named(path) != "pipeline/run.py":
            assert not re.search(r"\.(now|today|utcnow)\(|time\.time\(", path.read_text()), named(path)


def test_only_the_command_line_prints():
    """Stages return values; the command line alone speaks."""
    for path in SOURCES:
        calls = [n for n in ast.walk(parsed(path)) if isinstance(n, ast.Call)]
        prints = [n for n in calls if isinstance(n.func, ast.Name) and n.func.id == "print"]
        spoken = named(path).startswith("pipeline/commands/") or named(path) in {
            "pipeline/cli.py",
            "seeds_demo/__main__.py",
        }
        assert not prints or spoken, named(path)


def test_numbers_and_nouns_are_joined_in_one_place():
    """No text for people writes a plural behind a number of its own: `n_of` knows that one row is no rows."""
    nouns = "rows|figures|questions|files|entries|statements|parts|letters|things|drops|segments|costs|columns|rulings"
    for path in SOURCES:
        if named(path).startswith(
            ("pipeline/commands/", "pipeline/outputs/", "pipeline/pages/", "pipeline/indicators/", "pipeline/look")
        ):
            assert not re.search(rf"\}} (more )?({nouns})\b", path.read_text()), named(path)
    assert (n_of(1, "row"), n_of(2, "row"), n_of(0, "row")) == ("1 row", "2 rows", "0 rows")
    assert (n_of(1, "entry", "entries"), n_of(1200, "entry", "entries")) == ("1 entry", "1,200 entries")


def test_only_one_module_changes_the_disk():
    """Flushing, linking and renaming happen in pipeline/disk.py alone, where the tests can stop them."""
    banned = re.compile(r"os\.(link|fsync|rename|replace)\(|\.(hardlink_to|write_text|write_bytes)\(|shutil\.move")
    spared = {
        "pipeline/disk.py",
        "pipeline/ledger/store.py",
        "pipeline/starter.py",
        "pipeline/demo.py",
        "pipeline/evidence.py",
    }
    for path in SOURCES:  # spared: the probe of a disk, and folders made new for a person
        if named(path).startswith(("pipeline/", "warehouse/")) and named(path) not in spared:
            assert not banned.search(path.read_text()), named(path)


def test_files_fit_in_a_head():
    """No source file is over 400 lines, and the median is near 120."""
    lengths = {named(p): len(p.read_text().splitlines()) for p in SOURCES}
    assert {n: k for n, k in lengths.items() if k > 400} == {}
    assert statistics.median(lengths.values()) <= 150


def test_every_package_is_packed():
    """A folder of code is on the list of what is installed."""
    told = tomllib.loads((ROOT / "pyproject.toml").read_text())["tool"]["setuptools"]
    assert set(told["packages"]) == {".".join(p.parent.relative_to(ROOT).parts) for p in SOURCES}


def test_public_things_have_docstrings():
    """Every module, and every public function and class, says what it is for."""
    bare = []
    for path in SOURCES:
        tree = parsed(path)
        bare += [] if ast.get_docstring(tree) else [named(path)]
        for node in tree.body:
            public = isinstance(node, ast.FunctionDef | ast.ClassDef) and not node.name.startswith("_")
            if public and not ast.get_docstring(node):
                bare.append(f"{named(path)}: {node.name}")
    assert bare == []


def test_a_night_without_news_loads_no_heavy_library():
    """Taking in nothing loads neither pandera nor polars nor scipy nor Dagster."""
    heavy = "{m for m in ('pandera', 'polars', 'pandas', 'scipy', 'dagster') if m in sys.modules}"
    code = f"import sys, pipeline.cli, pipeline.run, warehouse.database; print({heavy} or '')"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT)
    assert done.stdout.strip() == ""


# --- SQL ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("path", sorted(FOLDER.glob("*.sql")), ids=lambda p: p.stem)
def test_every_view_states_its_grain(path):
    """The first line of a view's file says in words what one row is, or what the rule catches."""
    first = path.read_text().splitlines()[0]
    says_grain = re.match(r"-- one row per ", first)
    says_rule = "_rule_" in path.stem and re.match(r"-- [A-Z].*\.$", first)
    assert says_grain or says_rule, f"{path.name}: {first}"


def test_views_keep_to_the_portable_subset():
    """Views are made of what DuckDB and Spark read alike, guard every division, and can be written in Spark's dialect."""
    assert outside_all(FOLDER) == []
    for view in read_views(all_kinds(), ALL):
        assert sqlglot.transpile(view.sql, read="duckdb", write="spark", unsupported_level=sqlglot.ErrorLevel.RAISE)


@pytest.mark.parametrize(
    ("sql", "said"),
    [
        ("avg(a)", "avg is not on the list"),
        ("median(a)", "median is not on the list"),
        ("arg_max(a, b)", "arg_max is not on the list"),
        ("last_value(a) over (order by b)", "last_value is not on the list"),
        ("regexp_matches(a, 'x')", "regexp_like is not on the list"),
        ("hash(a)", "hash is not on the list"),
        ("a / b", "may divide by zero"),
        ("a // b", "may divide by zero"),
        ("a / nullif(b, 0)", "a double in DuckDB and a decimal in Spark"),
        ("cast(a as bigint)", "round it first"),
        ("cast(a as timestamptz)", "no type that both engines have alike"),
        ("date_diff('hour', a, b)", "date_trunc"),
        ("date_diff('minute', a, b)", "date_trunc"),
        ("date_diff('day', happened_at, b)", "cast happened_at to one"),
        ("sum(a) filter (b > 1)", "(Filter) is not on the list"),
        ("sum(a) over (order by b range between 1 preceding and current row)", "a window counts rows"),
        ("distinct on (a) b", "distinct on"),
        ("* exclude (a)", "takes all columns"),
        ("[a]", "array is not on the list"),
        ("a like 'x%'", "(Like) is not on the list"),
        ("'a\\b'", "backslash"),
    ],
)
def test_what_is_not_portable_is_told_with_its_line(sql, said):
    """A construct that the two engines read differently is refused, by file and line."""
    assert any(
        told.startswith("x.sql:2: ") and said in told
        for told in outside(f"-- one row per b\nselect {sql}\nfrom t", "x.sql")
    )


@pytest.mark.parametrize(
    "command", [["ruff", "check", "."], ["ruff", "format", "--check", "."], ["mypy"]], ids=" ".join
)
def test_linters_find_nothing(command):
    """ruff and mypy find nothing to say."""
    tool = Path(sys.executable).parent / command[0]
    done = subprocess.run([tool, *command[1:]], capture_output=True, text=True, cwd=ROOT, check=False)
    assert done.returncode == 0, done.stdout + done.stderr


def test_no_path_or_address_of_a_machine():
    """No tracked file names a path of someone's machine or a registry's address."""
    tracked = subprocess.run(["git", "ls-files"], capture_output=True, text=True, cwd=ROOT, check=False).stdout.split()
    machine = re.compile("/" + r"(home|root|work|Users)/\w|files\.pythonhosted|pypi\.org")
    for name in tracked:
        path = ROOT / name
        if path.suffix in {".py", ".md", ".toml", ".sql", ".lock", ".txt", ""} and path.is_file():
            assert not machine.search(path.read_text(errors="ignore")), name
