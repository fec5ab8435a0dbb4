"""What the cells of a column show: numbers, days, times, words, how many and how often."""

import re
from collections import Counter
from collections.abc import Collection, Sequence
from dataclasses import dataclass, field
from functools import cached_property

from pipeline.suggest.lexicon import unit_names
from pipeline.suggest.text import bracketed, plain

NUMBER = re.compile(r"[+-]?(\d+|\d{1,3}([ ',.]\d{3})+)([.,]\d+)?")
DAY = re.compile(r"(\d{4})([-/.])(\d{1,2})\2(\d{1,2})|(\d{1,2})([-/. ])(\d{1,2})\6(\d{4}|\d{2})")
NAMED_DAY = re.compile(
    r"\d{1,2}[a-z]{0,2}[ .\-/]*(de )?[^\W\d_]{3,10}\.?[ .,\-/]*(de )?\d{2,4}|[^\W\d_]{3,10} \d{1,2},? \d{4}",
    re.IGNORECASE,
)
CLOCK = re.compile(r"([01]?\d|2[0-3])[:.h][0-5]\d(:[0-5]\d(\.\d+)?)?\s*(am|pm|z|[+-]\d\d:?\d\d)?", re.IGNORECASE)
DOTTED = re.compile(r"([01]?\d|2[0-3])\.[0-5]\d")
# headings under which rows are numbered: 1, 2, 3 are no plants, bags or frames there
ROW_NUMBERS = {"", "no", "n", "nr", "num", "numero", "nbr", "row", "row no", "line", "line no", "fila", "linea", "linha", "ligne", "linje", "rad", "rang", "reg", "registro", "item", "seq", "index", "idx", "id", "s no", "sr no", "sl no", "orden", "ordem", "ordre", "lopenr", "lnr", "l no", "record", "rec", "entry", "post"}  # fmt: skip
COUNTED = re.compile(
    r"(?:(?:c|ca|circa|cerca de|about|approx|aprox|env|environ|omtrent|abt)?\.?|[~≈><≥≤±]=?)\s*\d+(?: \d{3})*(?:[.,]\d+)?\s*(?:\+|\?|%|ish)?"
    r"|\d+ ?(?:[-–]|or|to|o|ó|a|ou|à|eller|til) ?\d+|[-–xp+✓]|present|presente|présent|absent|absente?|ausente|none|none seen|many|lots|muchos|muitos|beaucoup|mange|ingen|nada|aucun",
    re.IGNORECASE,
)
JOINED = re.compile(
    r"([A-Z][a-z]{2,})[._]([a-z]{3,})((?:[._][A-Za-z]+)*\.?)"
)  # “Laminaria.digitata”, as some programs write headings
POSITION = re.compile(r"lat|lon|coord|gps|pos|utm|bredd|lengdeg", re.IGNORECASE)  # S behind these is south, no second
# how a cell is to be written stands among units: “24 h”, “dd/mm/yy”, “y/n”, “dec. deg”
AS_WRITTEN = re.compile(
    r"(12|24) ?h(rs?|ours?)?|h?h[:.]?mm([:.]?ss)?|[dmyajåt]{1,4}([-/. ][dmyajåt]{1,4}){1,2}|[yjsox]/n|dec\.? deg\.?|text|code|#|no|n|1-\d",
    re.IGNORECASE,
)
OR = {"or", "o", "ou", "eller", "y", "e", "og", "et", "and"}
BINOMIAL = re.compile(r"[A-Z][a-z]{3,} (x )?[a-z]{4,}( [a-z(].*)?|[A-Z][a-z]{3,} spp?\.?")


@dataclass(frozen=True)
class Seen:
    """One column of a sheet. Shares are of its filled cells, words for a blank cell left out.

    words, bare   the heading in plain text, with and without its unit; cut: its words that end in a full stop.
    """

    at: int
    heading: str
    words: str
    bare: str
    unit: str
    cut: frozenset[str]
    rows: int
    cells: Counter[str] = field(repr=False)
    blank_words: Counter[str] = field(repr=False)

    running: bool = False  # whether its cells only number the rows

    @cached_property
    def filled(self) -> int:
        """How many cells say something."""
        return self.cells.total()

    def share(self, pattern: re.Pattern[str]) -> float:
        """Of the filled cells, those that look so."""
        return sum(n for c, n in self.cells.items() if pattern.fullmatch(c)) / max(1, self.filled)

    @cached_property
    def numbers(self) -> list[float]:
        """The cells that are numbers."""
        return [number(c) for c in self.cells.elements() if NUMBER.fullmatch(c)]

    @cached_property
    def numeric(self) -> float:
        """Share of numbers."""
        return self.share(NUMBER)

    @cached_property
    def counted(self) -> float:
        """Share of counts, also rough ones: “12”, “c. 20”, “>100”, “10-15”, “present”."""
        return self.share(COUNTED)

    @cached_property
    def dated(self) -> float:
        """Share of days, with or without a time."""
        return sum(n for c, n in self.cells.items() if is_day(c)) / max(1, self.filled)

    @cached_property
    def day_alone(self) -> float:
        """Share of days without a time of day; midnight is none."""
        return sum(
            n for c, n in self.cells.items() if not re.search(r"\d[:h]\d\d", re.sub(r"[T ]0?0:00(:00)?$", "", c))
        ) / max(1, self.filled)

    @cached_property
    def clocked(self) -> float:
        """Share of times of day."""
        return self.share(CLOCK) if self.share(re.compile(r".*[:h].*")) else 0.0

    @cached_property
    def clocked_by_dots(self) -> float:
        """Share of “10.45”, which is a time of day only where the heading says so."""
        return self.share(DOTTED) if len(self.cells) > 1 else 0.0

    def among(self, known: Collection[str]) -> float:
        """Share of the filled cells whose plain text is one of these."""
        return sum(n for c, n in self.cells.items() if plain(c) in known) / max(1, self.filled)

    def examples(self, most: int = 3) -> str:
        """A few of the cells, the commonest first."""
        return ", ".join(f"“{c[:30]}”" for c, _ in self.cells.most_common(most))


def number(text: str) -> float:
    """A number whatever its marks: the last mark is the decimal one unless three digits follow a lone comma or space."""
    bare = re.sub(r"[ ']", "", text)
    if "," in bare and "." in bare:
        mark = "," if bare.rindex(",") > bare.rindex(".") else "."
        bare = bare.replace("." if mark == "," else ",", "")
    if bare.count(",") > 1 or bare.count(".") > 1:
        bare = bare.replace(",", "").replace(".", "")
    return float(bare.replace(",", "."))


def is_day(text: str) -> bool:
    """Whether a text is a day, perhaps with a time behind it."""
    head, _, rest = text.partition("T") if re.match(r"\d{4}-\d\d-\d\dT", text) else text.partition(" ")
    if NAMED_DAY.fullmatch(text):
        return True
    if rest and CLOCK.fullmatch(rest.strip()) and (DAY.fullmatch(head)):
        return True
    found = DAY.fullmatch(text)
    if found is None:
        return False
    pair = (int(found[3]), int(found[4])) if found[1] else (int(found[5]), int(found[7]))
    return min(pair) >= 1 and min(pair) <= 12 and max(pair) <= 31


def columns_seen(
    header: Sequence[str], rows: Sequence[Sequence[str]], blanks: Collection[str], units: Sequence[str] = ()
) -> list[Seen]:
    """What every column with a heading shows in these rows (trimmed). units: the row of units below the headings."""
    below = [*units, *[""] * len(header)]
    return [
        _seen(at, heading, [r[at] for r in rows], blanks, below[at]) for at, heading in enumerate(header) if heading
    ]


def _seen(at: int, heading: str, cells: Sequence[str], blanks: Collection[str], below: str) -> Seen:
    bare, unit = _unit_apart(heading)
    unit = unit or unit_names().get(below.casefold().strip(" .()[]"), "")
    filled = Counter(c for c in cells if c)
    silent = Counter({c: n for c, n in filled.items() if c.casefold() in blanks})
    cut = frozenset(plain(w) for w in re.findall(r"([^\W\d_]+)\.", heading))
    number = plain(heading) in ROW_NUMBERS
    running = (
        number and len(cells) > 2 and all(c.isdecimal() and int(c) - int(cells[0]) == n for n, c in enumerate(cells))
    )
    return Seen(at, heading, plain(heading), plain(bare), unit, cut, len(cells), filled - silent, silent, running)


def row_of_units(below: Sequence[str]) -> list[str]:
    """The row below the headings, [] unless it holds units: no figure or day, and mostly units that we know."""
    bare = [c.casefold().strip(" .()[]") for c in below]
    filled = [b for b in bare if b]
    units = [b in unit_names() or bool(AS_WRITTEN.fullmatch(b)) for b in filled]
    if len(filled) < 2 or any(re.search(r"\d", b) and not unit for b, unit in zip(filled, units, strict=True)):
        return []
    told = sum(b in unit_names() for b in filled)
    return list(below) if told and sum(units) > 0.6 * len(filled) else []


def _unit_apart(heading: str) -> tuple[str, str]:
    """A heading without its unit, and our name of the unit ("" if none is written)."""
    units = unit_names()
    bare, inside = bracketed(heading)
    if inside:
        first, *behind = re.split(r"[\s,;]+", inside.casefold().strip(" ."))  # “(g wet)”, but not “(m or f)”
        told = behind and behind[0] not in OR and "/" not in inside and units.get(first.strip("."), "")
        return bare, units.get(inside.casefold().strip(" ."), "") or told or ""
    words = re.split(r"[\s_]+", heading.strip())
    for n in (2, 1):
        tail = " ".join(words[-n:]).casefold().strip(".,")
        if len(words) > n and tail in units and not (len(tail) == 1 and POSITION.match(words[0])):
            return " ".join(words[:-n]).rstrip(" ,-/"), units[tail]
    if "%" in heading:
        return heading.replace("%", " ").strip(), "%"
    return heading, ""
