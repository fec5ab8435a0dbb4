"""Wide sheets as they are seen: a column for each species, stage, frame, unit or day."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace

from pipeline.suggest.affixes import Affixed, affixed, species_name
from pipeline.suggest.asked import asked_seen
from pipeline.suggest.fit import Registered, Said
from pipeline.suggest.grouped import NUMBERED, numbered_seen, readings_seen
from pipeline.suggest.lexicon import Lexicon
from pipeline.suggest.seen import BINOMIAL, JOINED, Seen, is_day
from pipeline.suggest.shapes import WideSeen, one_of, word_codes
from pipeline.suggest.text import plain, tokens

FEW = {"species": 3, "stage": 2, "happened": 3, "unit_key": 3, "frame_key": 3}
SPLIT = re.compile(r"\s*[/|:;_–—]\s*|\s+-\s+|\s*\(\s*")
ABBREVIATED = re.compile(r"[A-Z][a-z]{0,3}\. ?[a-z]{3,}")
PERCENT_OF = r"%?\s*(?P<species>.+?)\s*[(\[]?%?[)\]]?"
CODE = re.compile(r"[A-Za-z]{2,8}\.?\d{0,2}")
MANY_CODES = 12  # columns of numbers under short words that are none of ours: what else would they be
TOTALS = ("total", "sum", "suma", "soma", "somme", "totalt", "mean", "average", "media", "moyenne", "snitt", "richness")


def wides_seen(
    columns: Sequence[Seen], said: Sequence[Mapping[str, Said]], words: Lexicon, registered: Registered, title: str
) -> list[WideSeen]:
    """The wide shapes of a sheet: several where headings begin or end in different words for what their cells are."""
    by_affix = [_of_affix(a, columns, words) for a in affixed(columns, words)]
    if by_affix:
        return by_affix
    covers = [c for c in columns if c.unit == "%" and "species" in _classes(c, words, registered)]
    kept = [n for n, c in enumerate(columns) if c not in covers]
    one = wide_seen([columns[n] for n in kept], [said[n] for n in kept], words, registered, title)
    if covers and one and "species" in one.told and one.cell == "count":
        return [_without(one, covers), _of_covers(covers, words)]
    one = wide_seen(columns, said, words, registered, title)
    return [one] if one else []


def _without(one: WideSeen, covers: Sequence[Seen]) -> WideSeen:
    """The same shape, told not to take these columns for its own."""
    told = dict(one.table)
    if "headings" not in told:
        before = told.get("but_not", [])
        told["but_not"] = [*(before if isinstance(before, list) else []), *(c.heading for c in covers)]
    return replace(one, table=told)


def _of_covers(covers: Sequence[Seen], words: Lexicon) -> WideSeen:
    """Cover beside counts: “Turf %” among columns that are headed by species alone."""
    names = {_without_measure(c.heading).strip(" %") for c in covers}
    codes = {"species": {n: ours for n in names if (ours := words.values["species"].get(plain(n), n)) != n}}
    table = {"headings": [c.heading for c in covers], "pattern": PERCENT_OF, "cell": "cover_pct"}
    why = f"{len(covers)} headings say percent, such as “{covers[0].heading}”"
    return WideSeen("survey", tuple(c.at for c in covers), ("species",), "cover_pct", table, why, codes)


def _of_affix(a: Affixed, columns: Sequence[Seen], words: Lexicon) -> WideSeen:
    headings = [c.heading for c in columns if c.at in a.species]
    written = {rest: words.values["species"].get(plain(rest)) or species_name(rest) for rest in a.species.values()}
    table = {"headings": headings, "pattern": a.pattern, "cell": a.cell}
    why = f"{len(headings)} columns are headed by “{a.affixes[0]}” and a species, such as “{headings[0]}”"
    codes = {
        "species": {w: n for w, n in written.items() if w != n},
        "stage": _stage_codes(list(a.stages.values()), words),
    }
    told = ("species", "stage") if a.stages else ("species",)
    return WideSeen("survey", tuple(a.species), told, a.cell, table, why, codes, of_core=a.volume, per_area=a.per_area)


def wide_seen(
    columns: Sequence[Seen], said: Sequence[Mapping[str, Said]], words: Lexicon, registered: Registered, title: str
) -> WideSeen | None:
    """The wide shape of a sheet, None when it has none; its first one where there are several (`wides_seen`)."""
    repeated = numbered_seen(columns, words)
    if repeated:
        return repeated
    measured = readings_seen(columns, said, words)
    if measured:
        return measured
    asked = asked_seen(columns, said, words)
    if asked:
        return asked
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
    codes = [
        c for c, says in zip(columns, said, strict=True)
        if CODE.fullmatch(c.heading) and c.counted > 0.8 and max((s.surely for s in says.values()), default=0) < 0.8
    ]  # fmt: skip
    if len(codes) >= MANY_CODES:
        return replace(_of_species("species", codes, columns, said, words, title), by_codes=True)
    return None


def _classes(column: Seen, words: Lexicon, registered: Registered) -> list[str]:
    """What a heading may be, taken as a word itself."""
    text, numbers = column.words, column.counted > 0.6 or not column.filled
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
    bare = _spaced(_without_measure(heading))
    return bool(BINOMIAL.fullmatch(bare) or ABBREVIATED.fullmatch(bare)) or _listed(heading, words)


def _listed(heading: str, words: Lexicon) -> bool:
    """Whether it names a species or what else cover is told of, or a species and a stage."""
    text = plain(_without_measure(heading))
    known = text in words.values["species"] or text.split(" ")[0] in words.genera or text in words.alive
    return known or any(plain(p) in words.values["species"] for p in _pieces(heading)[:1])


def _without_measure(heading: str) -> str:
    return re.sub(r"\s*[(\[](%|n|count|cover|no|nb)[)\]]|\s*%$", "", heading)


def _spaced(heading: str) -> str:
    """Two Latin words that a program joined by a full stop or a line, apart again."""
    return JOINED.sub(lambda m: " ".join([m[1], m[2], *re.split(r"[._]+", m[3].strip("._"))]).strip(), heading)


def _pieces(heading: str) -> list[str]:
    pieces = [p.strip(" )") for p in SPLIT.split(heading) if p.strip(" )")]
    first, _, last = pieces[0].rpartition(" ") if pieces else ("", "", "")
    return [first, last, *pieces[1:]] if first else pieces


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
        if c in here or (name == "species" and first < c.at < last and c.counted > 0.6 and known[c.at] < 0.8 and not _sum(c))
    ]  # fmt: skip
    cell, sure = _cell(taken, title)
    table: dict[str, object] = {}
    if both:
        kinds = [f[0] for f in folded if f] + [c.heading for c, f in zip(here, folded, strict=True) if not f]
        kinds += [c.heading for c in taken if c not in here]
        species, stages = (one_of(t) for t in (kinds, [f[1] for f in folded if f]))
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
        written = {c.heading: words.values["species"].get(c.words) or _spaced(c.heading) for c in taken}
        codes["species"] = {h: ours for h, ours in written.items() if ours != h and not both}
    return WideSeen("survey", tuple(c.at for c in taken), told, cell, table,
                    f"{len(taken)} columns are headed by {name}, such as “{here[0].heading}”", codes, not sure)  # fmt: skip


def _stage_codes(written: Sequence[str], words: Lexicon) -> dict[str, str]:
    known = words.values["stage"]
    return {w: known[plain(w)] for w in dict.fromkeys(written) if plain(w) in known and w.casefold() != known[plain(w)]}


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
                    f"{len(here)} columns are headed by {'days' if name == 'happened' else name}, such as “{here[0].heading}”", word_codes(here, words) if states else {}, not sure)  # fmt: skip
