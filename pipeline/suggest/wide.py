"""Wide sheets as they are seen: a column for each species, stage, frame, unit or day."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from pipeline.suggest.affixes import Affixed, affixed, species_name
from pipeline.suggest.fit import Registered, Said, headings_say
from pipeline.suggest.lexicon import Lexicon
from pipeline.suggest.seen import BINOMIAL, Seen, is_day
from pipeline.suggest.text import bracketed, plain, tokens
from schemas.kinds import all_kinds

FEW = {"species": 3, "stage": 2, "happened": 3, "unit_key": 3, "frame_key": 3}
SPLIT = re.compile(r"\s*[/|:;_–—]\s*|\s+-\s+|\s*\(\s*")
ABBREVIATED = re.compile(r"[A-Z][a-z]{0,3}\. ?[a-z]{3,}")
NUMBERED = re.compile(r"(.*?\D)[ _.#-]*(\d{1,3})(\D*)")
KNOWN_HERE = 0.45  # of a heading, where the other columns of its group have said what they are
TOTALS = ("total", "sum", "suma", "soma", "somme", "totalt", "mean", "average", "media", "moyenne", "snitt", "richness")


@dataclass(frozen=True)
class WideSeen:
    """A wide shape: its kind, the columns it takes, what headings and cells are, and the TOML that says so."""

    kind: str
    places: tuple[int, ...]
    told: tuple[str, ...]
    cell: str
    table: Mapping[str, object]
    why: str
    codes: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    asks_cell: bool = False
    cells: Mapping[int, str] = field(default_factory=dict)
    of_core: bool = False
    per_area: bool = False

    @property
    def columns(self) -> set[str]:
        """Every column of ours that comes from it."""
        return {*self.told, self.cell, *self.cells.values()}


def wides_seen(
    columns: Sequence[Seen], said: Sequence[Mapping[str, Said]], words: Lexicon, registered: Registered, title: str
) -> list[WideSeen]:
    """The wide shapes of a sheet: several where headings begin or end in different words for what their cells are."""
    by_affix = [_of_affix(a, columns) for a in affixed(columns, GENERA)]
    if by_affix:
        return by_affix
    one = wide_seen(columns, said, words, registered, title)
    return [one] if one else []


def _of_affix(a: Affixed, columns: Sequence[Seen]) -> WideSeen:
    names = {c.heading: species_name(a.species[c.at]) for c in columns if c.at in a.species}
    written = {a.species[c.at]: names[c.heading] for c in columns if c.at in a.species}
    table = {"headings": list(names), "pattern": a.pattern, "cell": a.cell}
    first = next(iter(names))
    why = f"{len(names)} columns are headed by “{a.affixes[0]}” and a species, such as “{first}”"
    codes = {"species": {w: n for w, n in written.items() if w != n}}
    return WideSeen(
        "survey", tuple(a.species), ("species",), a.cell, table, why, codes, of_core=a.volume, per_area=a.per_area
    )


def wide_seen(
    columns: Sequence[Seen], said: Sequence[Mapping[str, Said]], words: Lexicon, registered: Registered, title: str
) -> WideSeen | None:
    """The wide shape of a sheet, None when it has none; its first one where there are several (`wides_seen`)."""
    repeated = _numbered(columns, words)
    if repeated:
        return repeated
    measured = _readings(columns, said, words)
    if measured:
        return measured
    by_class: dict[str, list[Seen]] = {}
    for column, says in zip(columns, said, strict=True):
        surest = max((s.surely for s in says.values()), default=0)
        known = surest >= 0.95
        for name in _classes(column, words, registered):
            listed = name == "stage" or (name == "species" and _listed(column.heading, words))
            if (not known if name != "species" else surest < 0.6) or listed:
                by_class.setdefault(name, []).append(column)
    for name, few in FEW.items():
        here = by_class.get(name, [])
        if len(here) >= few and name in ("species", "stage"):
            return _of_species(name, here, columns, said, words, title)
        if len(here) >= few:
            return _of_others(name, here, columns, words, title)
    return None


def _classes(column: Seen, words: Lexicon, registered: Registered) -> list[str]:
    """What a heading may be, taken as a word itself."""
    text, numbers = column.words, column.numeric > 0.6 or not column.filled
    states = column.filled and column.among(words.values["state"]) > 0.6
    found = []
    if is_day(column.heading):
        found.append("happened")
    if (
        numbers
        and not (column.unit and column.unit != "%")
        and (_species(column.heading, words) or _two_fold(column.heading, words))
    ):
        found.append("species")
    if numbers and words.values["stage"].get(text, "any") != "any" and len(text) > 2:
        found.append("stage")
    if text in registered.of("deployment") and states:
        found.append("unit_key")
    if states and NUMBERED.fullmatch(column.heading) and "unit_key" not in found:
        found.append("unit_key")
    if numbers and re.fullmatch(
        r"(q|f|quadrat|quad|rute|ramme|quadrado|cuadrante|cadre|frame|quadrant)[ _.-]*\d{1,3}", text
    ):
        found.append("frame_key")
    return found


def _species(heading: str, words: Lexicon) -> bool:
    """Whether a heading reads like a species: two Latin words, or one that is known."""
    bare = _without_measure(heading)
    return bool(BINOMIAL.fullmatch(bare) or ABBREVIATED.fullmatch(bare)) or _listed(heading, words)


def _listed(heading: str, words: Lexicon) -> bool:
    """Whether it names a species or what else cover is told of, or a species and a stage."""
    text = plain(_without_measure(heading))
    known = text in words.values["species"] or text.split(" ")[0] in GENERA or text in GENERA
    return known or any(plain(p) in words.values["species"] for p in _pieces(heading)[:1])


def _without_measure(heading: str) -> str:
    return re.sub(r"\s*[(\[](%|n|count|cover|no|nb)[)\]]|\s*%$", "", heading)


def _pieces(heading: str) -> list[str]:
    pieces = [p.strip(" )") for p in SPLIT.split(heading) if p.strip(" )")]
    first, _, last = pieces[0].rpartition(" ") if pieces else ("", "", "")
    return [first, last, *pieces[1:]] if first else pieces


GENERA = {"laminaria", "saccharina", "alaria", "saccorhiza", "macrocystis", "ecklonia", "lessonia", "undaria", "fucus", "ulva", "urchin", "urchins", "strongylocentrotus", "nereocystis", "codium", "corallina", "chondrus", "palmaria", "dictyota", "sargassum", "cystoseira", "halidrys", "desmarestia", "turf", "bare rock", "sand", "crustose coralline", "cca"}  # fmt: skip


def _two_fold(heading: str, words: Lexicon) -> tuple[str, str] | None:
    """A species and a stage in one heading: “Laminaria hyperborea / juv”."""
    pieces = _pieces(heading)
    if len(pieces) > 1 and _species(pieces[0], words):
        return next(((pieces[0], p) for p in pieces[1:] if plain(p) in words.values["stage"]), None)
    return None


def _of_species(
    name: str,
    here: Sequence[Seen],
    columns: Sequence[Seen],
    said: Sequence[Mapping[str, Said]],
    words: Lexicon,
    title: str,
) -> WideSeen:
    folded = [_two_fold(c.heading, words) for c in here]
    both = name == "species" and any(folded)
    first, last = min(c.at for c in here), max(c.at for c in here)
    known = {c.at: max((s.surely for s in says.values()), default=0.0) for c, says in zip(columns, said, strict=True)}
    # what stands among species and holds numbers is cover of something too: bare rock, turf
    taken = [
        c for c in columns
        if c in here or (name == "species" and first < c.at < last and c.numeric > 0.6 and known[c.at] < 0.8 and not _sum(c))
    ]  # fmt: skip
    cell, sure = _cell(taken, title)
    table: dict[str, object] = {}
    if both:
        kinds = [f[0] for f in folded if f] + [c.heading for c, f in zip(here, folded, strict=True) if not f]
        kinds += [c.heading for c in taken if c not in here]
        species, stages = (_one_of(t) for t in (kinds, [f[1] for f in folded if f]))
        table["pattern"] = rf"(?P<species>{species})(?:\W+(?P<stage>{stages})\b.*)?"
    elif name == "species" and all(
        re.search(r"(%|\((n|count|no|nb)\))\s*$", c.heading) or "%" in c.heading for c in taken
    ):
        table["pattern"] = r"%?\s*(?P<species>.+?)\s*[(\[]?(%|n|count|no|nb)?[)\]]?"
    else:
        table["heading"] = name
    if name == "stage":
        table["headings"] = [c.heading for c in taken]
    elif beside := [c.heading for c in columns if c not in taken]:  # or what nobody maps would be a species
        table["but_not"] = beside
    table["cell"] = cell
    told = ("species", "stage") if both else (name,)
    codes = (
        {"stage": _stage_codes([f[1] for f in folded if f] if both else [c.heading for c in here], words)}
        if both or name == "stage"
        else {}
    )
    if name == "species":
        codes["species"] = {
            c.heading: words.values["species"][c.words]
            for c in taken
            if words.values["species"].get(c.words, c.heading) != c.heading and not both
        }
    return WideSeen("survey", tuple(c.at for c in taken), told, cell, table,
                    f"{len(taken)} columns are headed by {name}, such as “{here[0].heading}”", codes, not sure)  # fmt: skip


def _stage_codes(written: Sequence[str], words: Lexicon) -> dict[str, str]:
    known = words.values["stage"]
    return {w: known[plain(w)] for w in dict.fromkeys(written) if plain(w) in known and w.casefold() != known[plain(w)]}


def _one_of(texts: Sequence[str]) -> str:
    """A regular expression for any of these, the longest first."""
    return "|".join(re.escape(t) for t in sorted(set(texts), key=lambda t: (-len(t), t)))


def _word_codes(columns: Sequence[Seen], words: Lexicon) -> dict[str, dict[str, str]]:
    """Their words for the states that the cells hold."""
    known, written = words.values["state"], dict.fromkeys(c for column in columns for c in column.cells)
    told = {c: known[plain(c)] for c in written if plain(c) in known and c.casefold() != known[plain(c)]}
    return {"state": told} if told else {}


def _sum(column: Seen) -> bool:
    return bool(set(tokens(column.words)) & set(TOTALS))


def _cell(columns: Sequence[Seen], title: str) -> tuple[str, bool]:
    """Counts or cover, and whether that is sure."""
    hints = " ".join([plain(title), *(c.words for c in columns)]).split()
    if {
        "cover",
        "percent",
        "cobertura",
        "dekning",
        "recouvrement",
        "dekningsgrad",
        "couverture",
        "recubrimiento",
    } & set(hints):
        return "cover_pct", True
    numbers = [n for c in columns for n in c.numbers]
    if any(n != int(n) for n in numbers):
        return "cover_pct", max(numbers, default=0) <= 100
    counted = {
        "count",
        "counts",
        "antall",
        "telling",
        "conteo",
        "recuento",
        "contagem",
        "contagens",
        "comptage",
        "nombre",
        "numero",
        "no",
        "abundance",
        "individuals",
    }
    return "count", bool(counted & set(hints)) or max(numbers, default=0) > 100


def _of_others(name: str, here: Sequence[Seen], columns: Sequence[Seen], words: Lexicon, title: str) -> WideSeen:
    states = sum(c.among(words.values["state"]) > 0.5 or c.numeric < 0.5 for c in here) > len(here) / 2
    kind, cell, sure = ("check", "state", True) if states else ("survey", *_cell(here, title))
    table: dict[str, object] = {"headings": [c.heading for c in here], "heading": name, "cell": cell}
    return WideSeen(kind, tuple(c.at for c in here), (name,), cell, table,
                    f"{len(here)} columns are headed by {'days' if name == 'happened' else name}, such as “{here[0].heading}”", _word_codes(here, words) if states else {}, not sure)  # fmt: skip


BESIDE_READINGS = 6  # a logger's sheet has little else: a number, day and time, depth, a battery, a flag
NO_READING = {"quantity", "unit_key", "frame_key", "batch_key", "step"}  # a column of these, and it is no logger's sheet
ON_A_DIVE = {"site_key", "plot_key", "team", "bottom_time_min", "visibility_m", "max_depth_m", "outcome", "supervisor", "surge", "current", "weather", "dive_number", "visit_key", "recorded_by"}  # fmt: skip
CODE = re.compile(r"[A-Za-z]{1,8}[-_ .]?\d{1,8}|\d{6,10}")


def _readings(columns: Sequence[Seen], said: Sequence[Mapping[str, Said]], words: Lexicon) -> WideSeen | None:
    """A logger's sheet: instants, and a column for each quantity or each logger."""
    instants = any(c.dated > 0.7 and c.day_alone < 0.3 for c in columns)
    clocked = any(c.dated > 0.7 for c in columns) and any(c.clocked > 0.8 for c in columns)
    if not instants and not clocked:
        return None
    elsewhere = NO_READING if instants else NO_READING | ON_A_DIVE
    if any(says.get(c, Said()).surely >= 0.95 for seen, says in zip(columns, said, strict=True) for c in elsewhere
           if not seen.running):  # fmt: skip
        return None
    known = words.values["quantity"]
    numbers = [c for c in columns if c.numeric > 0.8]
    told = {c.at: next((w for w in c.bare.split() if w in known), "") for c in numbers}
    measures = [c for c in numbers if told[c.at]]
    loggers = [c for c in numbers if CODE.fullmatch(c.heading)]
    if len(loggers) > 1:
        table = {"headings": [c.heading for c in loggers], "heading": "logger_key", "cell": "value"}
        return WideSeen(
            "reading",
            tuple(c.at for c in loggers),
            ("logger_key",),
            "value",
            table,
            f"{len(loggers)} columns are headed by loggers",
        )
    if not measures or len(columns) > len(measures) + BESIDE_READINGS:
        return None
    units = [bracketed(c.heading) for c in measures]
    if all(u for _, u in units):
        pattern = rf"(?P<quantity>{_one_of([b for b, _ in units])})\s*[(\[](?P<unit>.+)[)\]]"
        filled: tuple[str, ...] = ("quantity", "unit")
    else:
        pattern, filled = rf"(?P<quantity>{_one_of([c.heading for c in measures])})", ("quantity",)
    names = [b if len(filled) > 1 else c.heading for c, (b, _) in zip(measures, units, strict=True)]
    codes: dict[str, dict[str, str]] = {
        "quantity": {n: known[told[c.at]] for n, c in zip(names, measures, strict=True)}
    }
    if len(filled) > 1:
        codes["unit"] = {u: c.unit for c, (_, u) in zip(measures, units, strict=True) if c.unit and c.unit != u}
    return WideSeen("reading", tuple(c.at for c in measures), filled, "value", {"pattern": pattern, "cell": "value"},
                    f"{len(measures)} columns are headed by what is measured", {k: v for k, v in codes.items() if v})  # fmt: skip


def _numbered(columns: Sequence[Seen], words: Lexicon) -> WideSeen | None:
    """“Bag 1, State 1, Bag 2, State 2”: columns of one thing, told together by a number."""
    groups: dict[str, dict[str, Seen]] = {}
    for column in columns:
        found = NUMBERED.fullmatch(bracketed(column.heading)[0])
        if found:
            groups.setdefault((found[1] + "#" + found[3]).strip(), {})[found[2]] = column
    several = {base: g for base, g in groups.items() if len(g) >= 2}
    if len(several) < 2 or len({frozenset(g) for g in several.values()}) != 1:
        return None
    cells, at = {}, dict[int, str]()
    for base, group in several.items():
        ours = _column_of(base.replace("#", " "), next(iter(group.values())), words)
        if ours:
            cells[base.split("#")[0].strip()] = ours
            at |= {c.at: ours for c in group.values()}
    kind = "check" if {"unit_key", "state"} <= set(cells.values()) else ""
    if not kind:
        return None
    before = "|".join(re.escape(b) for b in cells)
    table = {"pattern": rf"(?P<cell>{before})\D*?(?P<group>\d+)\b.*", "cells": cells}
    places = tuple(sorted(at))
    return WideSeen(
        kind,
        places,
        (),
        "state",
        table,
        f"{len(places)} columns repeat {', '.join(f'“{b}”' for b in cells)} by number",
        codes=_word_codes([c for g in several.values() for c in g.values() if at.get(c.at) == "state"], words),
        cells=at,
    )


def _column_of(base: str, column: Seen, words: Lexicon) -> str:
    """What a numbered heading says without its number, of the columns a check has; "" when it says none of them."""
    bare = replace(column, heading=base, words=plain(base), bare=plain(base))
    [says] = headings_say([bare], words)
    ours = {c.name for c in all_kinds()["check"].columns} - {"site_key", "visit_key", "dive_number", "happened"}
    fitting = {c: s.surely for c, s in says.items() if c in ours}
    return max(fitting, key=lambda c: fitting[c]) if max(fitting.values(), default=0) > KNOWN_HERE else ""
