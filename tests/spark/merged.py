"""One ledger for both engines: the demo's drops, and many drawn programmes told apart by what stands before their codes.

Spark takes seconds to start and tenths of one for every question, so all of them are asked about at once.
"""

import dataclasses
import shutil
from collections import defaultdict
from collections.abc import Iterable
from pathlib import Path

from sayings import KEYS, Row
from worlds import LAB_MAPPING, File, World, hand_in, on

from pipeline import run
from pipeline.demo import FILES

# drawn partners alone are settled by it: what the demo's tell differently stays in dispute
SETTLING = """
[[settling]]
name = "what it hangs on"
kind = "deployment"
since = 1990-01-01
whose = "partners"
partners = ["lab", "club"]
columns = ["fixing"]
why = "The lab ties the bags."
"""
# the one thing that the rule settles: the words of the first world's two partners
TOLD_TWICE = [
    File(partner, "told-twice.csv", (Row(partner, "deployment", (
        ("unit_key", "Q1"), ("method", "spore bag"), ("happened", on(7)), ("site_key", "CB"), ("plot_key", "T1"),
        ("batch_key", "B1"), ("fixing", fixing))),))
    for partner, fixing in (("club", "bolt"), ("lab", "glue"))
]  # fmt: skip
OTHER_CODES = {"for_key", "share_key", "parent_batches"}


def lay_out(root: Path, worlds: Iterable[World], demo: bool = True) -> Path:
    """A programme's folder with the demo played in it and then the nights of all worlds, the first of each together.

    Its rules are the demo's, and the protocols of the first world beside them. Nothing is projected. demo: whether
    the demo's files are played, which takes most of the time.
    """
    worlds = list(worlds)
    (root / "inbox").mkdir(parents=True)
    shutil.copytree(FILES / "partners", root / "partners")
    (root / "partners" / "lab.toml").write_text(LAB_MAPPING, encoding="utf-8")
    rules = (FILES / "programme.toml").read_text(encoding="utf-8")
    drawn = worlds[0].rules
    protocols = drawn[drawn.index("[[protocol]]") : drawn.index("[[stage]]")]
    (root / "programme.toml").write_text(f"{rules}\n{protocols}\n{SETTLING}", encoding="utf-8")
    if demo:
        _play_demo(root)
    for nth in range(max(len(w.nights) for w in worlds)):
        alike: dict[tuple[str, str, str], list[Row]] = defaultdict(
            list
        )  # one file for all worlds is read sooner than many
        for ledger, world in enumerate(worlds):
            for f in world.nights[nth].files if nth < len(world.nights) else ():
                alike[f.partner, f.rows[0].kind, f.name] += [_of(ledger, row) for row in f.rows]
        hand_in(
            root, [File(partner, name, tuple(rows)) for (partner, _, name), rows in alike.items()], beside=f"-{nth}"
        )
        run.take(root)
    for f in TOLD_TWICE:
        hand_in(root, [dataclasses.replace(f, rows=tuple(_of(0, row) for row in f.rows))])
        run.take(root)
    return root


def _play_demo(root: Path) -> None:
    for night in sorted(FILES.glob("night-*")):
        shutil.copytree(night, root / "inbox", dirs_exist_ok=True)
        run.take(root)
    shutil.copytree(FILES / "mended", root / "partners", dirs_exist_ok=True)
    run.retake(root)


def _of(ledger: int, row: Row) -> Row:
    """The same row with the number of its world before every code in it."""
    return dataclasses.replace(row, cells=tuple(_cell(ledger, row, *cell) for cell in row.cells))


def _cell(ledger: int, row: Row, column: str, text: str) -> tuple[str, str]:
    if column == "withdraws_key":
        parts = zip(KEYS[dict(row.cells)["withdraws_kind"]], text.split(" | "), strict=False)
        return column, " | ".join(_coded(ledger, text) if c.endswith("_key") else text for c, text in parts)
    return column, _coded(ledger, text) if column.endswith("_key") or column in OTHER_CODES else text


def _coded(ledger: int, text: str) -> str:
    if text in ("", "cannot name"):
        return text
    return "; ".join(f"{ledger}{code.strip()}" for code in text.split(";"))
