"""The house rules that a program can see: who imports whom, who prints, how long a file is, which SQL is allowed."""

import ast
import re
import statistics
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
import sqlglot
from sqlglot import exp

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

# Aggregates and functions that DuckDB and Spark agree on; another one needs a parity test before it is added.
ALLOWED_FUNCTIONS = {
    "sum", "count", "min", "max", "coalesce", "nullif", "least", "greatest", "lower", "trim", "round", "abs",
    "row_number", "lag", "date_diff", "datediff", "extract", "substr", "substring", "cast", "case", "if", "and", "or", "not", "split", "split_part",
    "asin", "sqrt", "power", "pow", "sin", "cos", "radians", "unnest", "explode", "dpipe", "array", "exists",
}  # fmt: skip


def imports(path: Path) -> set[str]:
    """Every module a file imports, however deep inside it."""
    found = set()
    package = ".".join(path.relative_to(ROOT).with_suffix("").parts[:-1])
    for node in ast.walk(ast.parse(path.read_text())):
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
        ("pandera", {"pipeline/check/shape.py", "schemas/"}),
        ("polars", {"pipeline/check/shape.py", "schemas/"}),
        ("argparse", {"pipeline/cli.py", "pipeline/commands/", "seeds_demo/"}),
        ("lxml", {"pipeline/gate/", "pipeline/archive/"}),
        ("jinja2", {"pipeline/pages/shell.py"}),
        ("openpyxl", {"pipeline/blanks/"}),
        ("pandas", set()),
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
        calls = [n for n in ast.walk(ast.parse(path.read_text())) if isinstance(n, ast.Call)]
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
        tree = ast.parse(path.read_text())
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
    """Views use only functions on the list, guard every division, and can be written in Spark's dialect."""
    for view in read_views(all_kinds(), ALL):
        tree = sqlglot.parse_one(view.sql, read="duckdb")
        used = {
            f.sql_name().lower() if not isinstance(f, exp.Anonymous) else f.name.lower()
            for f in tree.find_all(exp.Func)
        }
        assert used <= ALLOWED_FUNCTIONS, f"{view.file}: {used - ALLOWED_FUNCTIONS}"
        for division in tree.find_all(exp.Div, exp.IntDiv):
            safe = isinstance(division.expression, exp.Literal | exp.Nullif)
            assert safe, f"{view.file}: {division.sql()} may divide by zero"
        assert sqlglot.transpile(view.sql, read="duckdb", write="spark"), view.file


def test_lint_would_notice():
    """The SQL lint refuses an average and an unguarded division."""
    tree = sqlglot.parse_one("select avg(a) / b from t", read="duckdb")
    assert {f.sql_name().lower() for f in tree.find_all(exp.Func)} - ALLOWED_FUNCTIONS
    assert not isinstance(next(iter(tree.find_all(exp.Div))).expression, exp.Literal | exp.Nullif)


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
