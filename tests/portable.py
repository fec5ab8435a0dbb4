"""What the views' SQL may be made of: what DuckDB and Spark read alike. Everything else is told with its file and line.

Spark reads the views as sqlglot writes them. A construct is on these lists when both engines were seen to give the
same with it; `tests/spark` compares them on whole ledgers.
"""

from pathlib import Path

import sqlglot
from sqlglot import exp

from schemas.kinds import all_kinds

NODES = {
    "Select", "From", "Join", "Where", "Group", "Having", "Union", "With", "CTE", "Subquery", "Table", "TableAlias", "Alias",
    "Star", "Column", "Identifier", "Literal", "Null", "Boolean", "Paren", "Distinct", "Order", "Ordered", "Var",
    "EQ", "NEQ", "LT", "LTE", "GT", "GTE", "Is", "In", "Not", "And", "Or", "Case", "If", "Cast", "DataType", "DataTypeParam",
    "Add", "Sub", "Mul", "Div", "IntDiv", "DPipe", "Window", "WindowSpec",
}  # fmt: skip

# Aggregates and functions that DuckDB and Spark agree on; another one needs a parity test before it is added.
FUNCTIONS = {
    "sum", "count", "min", "max", "coalesce", "nullif", "least", "greatest", "lower", "trim", "round", "abs",
    "row_number", "lag", "datediff", "timestamp_trunc", "extract", "substring", "cast", "case", "if", "and", "or", "split",
    "split_part", "asin", "sqrt", "power", "sin", "cos", "radians", "unnest", "d_pipe",
}  # fmt: skip
TYPES = {"TEXT", "VARCHAR", "BIGINT", "INT", "DOUBLE", "DATE", "DECIMAL"}
WHOLE = {"BIGINT", "INT"}


def outside(text: str, file: str) -> list[str]:
    """Every construct of a view's file that is not portable: file, line and what to do instead."""
    tree = sqlglot.parse_one(_filled(text), read="duckdb")
    return sorted(f"{file}:{_line(node)}: {said}" for node in tree.walk() if (said := _said(node)))


def _filled(text: str) -> str:
    """The file with something in the place of what kinds, references and rules fill in."""
    for name, filler in (("{join}", "t.a = k.a"), ("{rules}", "select kind, identity, rule, effect, why from rule_a")):
        text = text.replace(name, filler)
    return text.replace("{", "").replace("}", "")


def _line(node: exp.Expression) -> int:
    """Where it stands: the parser notes lines of names and literals only, so the first of these tells."""
    at: exp.Expression | None = node
    while at is not None:
        if lines := [n.meta["line"] for n in at.walk() if "line" in n.meta]:
            return int(min(lines))
        at = at.parent
    return 1


def _said(node: exp.Expression) -> str:
    """What is wrong with one node, "" when nothing is."""
    if isinstance(node, exp.Func):
        return _said_of_function(node)
    if type(node).__name__ not in NODES:
        return f"`{node.sql()}` ({type(node).__name__}) is not on the list"
    if isinstance(node, exp.Distinct) and node.args.get("on"):
        return "`distinct on` is DuckDB's own: number the rows with row_number and take the first"
    if isinstance(node, exp.WindowSpec) and node.text("kind").upper() != "ROWS":
        return "a window counts rows"
    if isinstance(node, exp.Star) and any(node.args.values()):
        return "`*` takes all columns"
    if isinstance(node, exp.Literal) and node.is_string and "\\" in node.name:
        return "a backslash in a text is an escape for Spark"
    if isinstance(node, exp.Div | exp.IntDiv):
        return _said_of_division(node)
    return ""


def _said_of_function(node: exp.Func) -> str:
    name = (node.name if isinstance(node, exp.Anonymous) else node.sql_name()).lower()
    if name not in FUNCTIONS:
        return f"{name} is not on the list"
    if isinstance(node, exp.Cast):
        return _said_of_cast(node)
    if isinstance(node, exp.DateDiff):
        return _said_of_difference(node)
    return ""


def _said_of_cast(node: exp.Cast) -> str:
    to, what = node.to.this.name, node.this
    if to not in TYPES:
        return f"{to.lower()} is no type that both engines have alike"
    whole_sum = isinstance(what, exp.Sum) and isinstance(what.this, exp.Column)
    if to in WHOLE and not (isinstance(what, exp.Null | exp.Round) or whole_sum):
        return "DuckDB rounds a number that becomes whole, Spark cuts it off: round it first"
    return ""


def _said_of_difference(node: exp.DateDiff) -> str:
    """DuckDB counts the boundaries between two instants, Spark the whole units that passed."""
    unit = node.text("unit").lower()
    sides = (node.this, node.expression)
    if unit == "day":
        instants = {c.name for kind in all_kinds().values() for c in kind.columns if c.type == "instant"} | {
            "recorded",
            "read_at",
        }
        told = {c.name for side in sides for c in side.find_all(exp.Column) if not side.find(exp.Cast)}
        return f"days lie between days: cast {', '.join(sorted(told & instants))} to one" if told & instants else ""
    cut = all(isinstance(s, exp.TimestampTrunc) and s.text("unit").lower() == unit for s in sides)
    return (
        ""
        if cut and unit in ("minute", "second")
        else f"cut both instants to the {unit} with date_trunc, or count days"
    )


def _said_of_division(node: exp.Div | exp.IntDiv) -> str:
    if not isinstance(node.expression, exp.Literal | exp.Nullif):
        return f"{node.sql()} may divide by zero"
    outer = node.parent
    double = isinstance(node.this, exp.Radians)
    to_decimal = isinstance(outer, exp.Cast) and outer.to.this.name == "DECIMAL"
    if isinstance(node, exp.Div) and not (to_decimal or double):
        return f"{node.sql()} is a double in DuckDB and a decimal in Spark: cast it to a decimal at once"
    return ""


def outside_all(folder: Path) -> list[str]:
    """The same of every file of a folder."""
    return [
        said for path in sorted(folder.glob("*.sql")) for said in outside(path.read_text(encoding="utf-8"), path.name)
    ]
