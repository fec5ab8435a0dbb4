"""Scores what is suggested for the frozen files of this folder, column by column, against their right answers.

    python tests/suggested/score.py [--strict] [--all] [--second | --third | --fourth]

A column is right when the suggested mapping, untouched, reads it as the answer says: into the same column or columns of
ours, in the same unit; a wide one with the same columns filled by its heading. Where the answer is "ask", it is right
when a question about it is asked. --strict leaves out the answers that are as good (`[also]`). --second, --third, --fourth: the other sets.
"""

import sys
import tempfile
import tomllib
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

from pipeline.intake.mapping import parse_mapping
from pipeline.intake.match import find_match, wide_groups
from pipeline.intake.names import Names
from pipeline.intake.read import open_sheets
from pipeline.programme import ListedSpecies
from pipeline.suggest.fit import Registered
from pipeline.suggest.lexicon import lexicon
from pipeline.suggest.proposal import Proposal
from pipeline.suggest.text import plain
from pipeline.suggesting import Suggestion, suggest_sheet
from schemas.kinds import all_kinds

FOLDER = Path(__file__).parent


@dataclass
class Score:
    """Of one file: headings right, and those that are not: (heading, wanted, got)."""

    name: str
    right: int = 0
    wrong: list[tuple[str, str, str]] = field(default_factory=list)
    others: dict[str, bool] = field(default_factory=dict)


def programme(folder: Path = FOLDER) -> Registered:
    """The invented programme that all files belong to."""
    told = tomllib.loads((folder / "programme_codes.toml").read_text(encoding="utf-8"))
    sites = {plain(n): s["site_key"] for s in told["sites"] for n in (s["site_key"], s["name"], *s["also_written"])}
    plots = {plain(p): p for s in told["sites"] for p in s["plots"]}
    beds = {plain(b): b for b in told["beds"]}
    species = tuple(ListedSpecies(name, tuple(a for a, n in told["species"].items() if n == name))
                    for name in dict.fromkeys(told["species"].values()))  # fmt: skip
    codes = {"site": sites, "plot": plots, "bed": beds, "permit": {plain(p): p for p in told["permits"]}}
    return Registered(codes, names=Names(species))


def _as_list(value: object) -> list[str]:
    return list(value) if isinstance(value, list) else [str(value)]


def read_as(
    p: Proposal, toml: str, head: list[list[str]], file: str
) -> tuple[dict[str, set[str]], dict[str, set[str]], dict[str, str]]:
    """What the suggested mapping makes of each heading: kind.column, those filled by a wide heading, units."""
    kinds = all_kinds()
    match = find_match(parse_mapping("partner", toml.encode(), kinds), file, head, kinds, p.sheet_name)
    assert match is not None, "the suggested mapping does not fit its own file"
    fed: dict[str, set[str]] = {}
    filled: dict[str, set[str]] = {}
    units: dict[str, str] = {}
    for part in match.sheet.parts:
        name, days = part.kind, set()
        for column, several in part.joins.items():
            day = len(several) > 2
            pieces = several[: 3 if day else 1]
            for h in pieces:
                fed.setdefault(h, set()).add(f"{name}.{column}")
                days.add(h)
            for h in several[len(pieces) :]:
                fed.setdefault(h, set()).add(f"{name}.{'happened_at' if column == 'happened' else column}")
        for h in days:  # a day that other times are joined to is first of all the day
            here = {f for f in fed[h] if f.startswith(f"{name}.")}
            own = {f"{name}.happened"} & here | {f"{name}.{c}" for c, one in part.headings.items() if one == h}
            fed[h] = (fed[h] - here) | (own or here)
        for column, h in part.headings.items():
            fed.setdefault(h, set()).add(f"{name}.{column}")
            if (ours := kinds[name].column(column)).unit:
                units[h] = part.units.get(column, ours.unit)
        if part.wide:
            for group in wide_groups(match.sheet, part.wide, match.header).values():
                for column, at in group.cells.items():
                    fed.setdefault(match.header[at], set()).add(f"{name}.{column}")
                    filled[match.header[at]] = {f"{name}.{c}" for c in part.wide.told if group.told[c]}
    return fed, filled, units


def score_file(path: Path, registered: Registered, strict: bool) -> Score:
    """One file's score."""
    name = path.name.removesuffix(".gold.toml")
    gold = tomllib.loads(path.read_text(encoding="utf-8"))
    [file] = [f for f in path.parent.glob(f"{name}.*") if not f.name.endswith(".gold.toml")]
    kinds = all_kinds()
    words = lexicon(kinds)
    sheets = open_sheets(file, file.name)
    sheet = next(s for s in sheets if s.name == gold.get("sheet", s.name))
    score = Score(name)
    with tempfile.TemporaryDirectory() as scratch:
        p = suggest_sheet(sheet, file.name, kinds, words, registered, Path(scratch))
    assert p is not None
    head = [list(r) for r in sheet.head]
    fed, filled, units = read_as(p, Suggestion(file.name, [p], []).toml("partner"), head, file.name)
    asked = " ".join(q.ask for q in p.questions)
    orders = {"cannot tell": any(q.path == ("dates",) for q in p.questions)}
    score.others = {
        "header row": p.header_row == gold["header_row"],
        "kinds": set(p.kinds) == set(gold["kinds"]),
        "order of days": orders.get(
            gold["dates"], p.tree.get("dates", "YMD") == gold["dates"] and not orders["cannot tell"]
        ),
        "decimal mark": gold["decimal"] == "cannot tell" or p.tree.get("decimal", ".") == gold["decimal"],
    }
    for heading, answer in gold["columns"].items():
        answers = [answer, *([] if strict else gold.get("also", {}).get(heading, []))]
        got, shown = fed.get(heading.strip(), set()), " ".join(heading.split())
        good = any(
            (a == "ask" and f"“{shown}”" in " ".join(asked.split())) or (a != "ask" and got == set(_as_list(a)) - {""})
            for a in answers
        )
        unit = gold.get("units", {}).get(heading)
        good_unit = not unit or not got or units.get(heading, unit) == unit
        wide = gold.get("wide", {}).get(heading)
        good_wide = not wide or not good or filled.get(heading, set()) == set(_as_list(wide["heading"]))
        if good and good_unit and good_wide:
            score.right += 1
        else:
            why = "" if good else " | ".join(map(str, answers))
            score.wrong.append((shown, why or f"unit {unit}" if good_wide else f"wide {wide}", str(sorted(got))))
    return score


def main(args: list[str]) -> int:
    """Print the score of every file; gives 0 when nine in ten columns are right."""
    folder = next((FOLDER / n for n in ("second", "third", "fourth") if f"--{n}" in args), FOLDER)
    told = programme(folder if (folder / "programme_codes.toml").is_file() else FOLDER)
    scores = [score_file(p, told, "--strict" in args) for p in sorted(folder.glob("*.gold.toml"))]
    for s in scores:
        print(
            f"{s.name:34} {s.right:3} of {s.right + len(s.wrong):3}  {', '.join(k for k, ok in s.others.items() if not ok)}"
        )
        for heading, wanted, got in s.wrong if "--all" in args else []:
            print(f"      {heading!r:32} wanted {wanted}; got {got}")
    right, of = sum(s.right for s in scores), sum(s.right + len(s.wrong) for s in scores)
    beside = Counter(k for s in scores for k, ok in s.others.items() if ok)
    print(f"columns right: {right} of {of}, {100 * right / of:.1f} %")
    print(", ".join(f"{k} right: {n} of {len(scores)}" for k, n in beside.items()))
    return 0 if right >= 0.9 * of else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
