"""What the heading of a column says of each column of ours, and of the pieces of a day."""

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace

from rapidfuzz import fuzz, process

from pipeline.intake.names import Names
from pipeline.suggest.lexicon import NOTHING, PIECES, Lexicon
from pipeline.suggest.seen import Seen
from pipeline.suggest.text import tokens

NEAR = 88  # of 100: two headings as alike as “Lokalitet” and “Lokalitett”
NEAR_FROM = 5  # shorter words are alike by chance
STEM = 5
KNOWN_AS_NOTHING = 0.85
OUTRIGHT = 0.88  # a whole heading, if in another language than the other headings
BESIDE_EXACT = 0.85  # what a heading half says counts less where it says something else outright
ENDS_OF_A_RANGE = {
    "low": ("min", "minimum", "minimo", "low", "lower", "lav", "nedre", "bas"),
    "high": ("max", "maximum", "maximo", "high", "upper", "maks", "hoy", "ovre", "haut"),
}


@dataclass(frozen=True)
class Registered:
    """Codes that the programme knows, in plain text: kind -> code -> as it is written. Names of sites lead to their codes.

    names: of species, the packaged ones and the programme's.
    """

    codes: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    protocols: Sequence[str] = ()
    names: Names = field(default_factory=Names)

    def of(self, kind: str) -> Mapping[str, str]:
        """The codes of a kind."""
        return self.codes.get(kind, {})


@dataclass(frozen=True)
class Said:
    """What a heading says of a column of ours: how surely (0 to 1), by which phrase of which language.

    foreign: the other headings are not in that language.
    """

    surely: float = 0.0
    phrase: str = ""
    language: str = ""
    foreign: bool = False


def headings_say(columns: Sequence[Seen], words: Lexicon) -> list[dict[str, Said]]:
    """For every column of the sheet what its heading says of each column of ours, and of pieces of a day."""
    found = [_heading_says(c, words) for c in columns]
    ranged = {c for _, c, _ in words.phrases if c.endswith(("_low", "_high"))}
    votes: dict[str, float] = {}
    for says in found:
        for language in {s.language for s in says.values() if s.surely == 1 and s.language != "own"}:
            votes[language] = votes.get(language, 0) + 1
    most = max(votes.values(), default=0)
    weighed = [_outvoted(_best_of(says, votes, most)) for says in found]
    for n, column in enumerate(columns):
        end = next((e for e, several in ENDS_OF_A_RANGE.items() if column.bare in several), "")
        for before in reversed(weighed[max(0, n - 2) : n]):  # “Adults, min., max.”: the ends of what stands before them
            of = max(before, key=lambda c: before[c].surely, default="")
            if end and f"{of}_{end}" in ranged:
                weighed[n][f"{of}_{end}"] = Said(0.9, f"{end} of the column before", "own")
                break
    return weighed


def _outvoted(says: dict[str, Said]) -> dict[str, Said]:
    """What is better called something we have no place for is hardly ours: a transect's length is no plant's."""
    if any(s.surely >= OUTRIGHT for s in says.values()):  # “Quadrat no.” said outright is no number in a quadrat
        says = {c: s if s.surely >= OUTRIGHT else replace(s, surely=BESIDE_EXACT * s.surely) for c, s in says.items()}
    nothing = says.get(NOTHING, Said()).surely
    if nothing < KNOWN_AS_NOTHING:
        return {c: s for c, s in says.items() if c != NOTHING}
    return {c: s if s.surely >= nothing else replace(s, surely=s.surely / 2) for c, s in says.items()}


def language_of(said: Sequence[Mapping[str, Said]]) -> str:
    """The language that most headings are in."""
    votes: dict[str, int] = {}
    for says in said:
        for language in {s.language for s in says.values() if s.surely > 0.9 and s.language != "own"}:
            votes[language] = votes.get(language, 0) + 1
    return max(sorted(votes), key=lambda v: votes[v], default="en")


def _weighed(s: Said, votes: Mapping[str, float], most: float) -> Said:
    """A word counts a little less in a language that the other headings are not in."""
    foreign = most > 1 and s.language != "own" and votes.get(s.language, 0) < most / 2
    return Said(s.surely - 0.12, s.phrase, s.language, True) if foreign else s


def _best_of(says: Mapping[tuple[str, str], Said], votes: Mapping[str, float], most: float) -> dict[str, Said]:
    """For each column of ours the language that says most of it, once those that the sheet is not in count less."""
    found: dict[str, Said] = {}
    for (ours, _), s in sorted(says.items(), key=lambda item: -votes.get(item[0][1], 0)):  # of two that say as much
        weighed = _weighed(s, votes, most)
        if weighed.surely > found.get(ours, Said()).surely:
            found[ours] = weighed
    return found


def _heading_says(column: Seen, words: Lexicon) -> dict[tuple[str, str], Said]:
    """What a heading says in each language: column of ours and language -> how surely."""
    found: dict[tuple[str, str], Said] = {}

    def keep(surely: float, at: int) -> None:
        phrase, ours, language = words.phrases[at]
        if surely > found.get((ours, language), Said()).surely:
            found[ours, language] = Said(surely, phrase, language)

    phrases = words.texts
    for text, cut in dict.fromkeys(((column.words, column.cut), (column.bare, column.cut))):
        here = tokens(text)
        for at in words.phrases_with(here, cut):
            phrase = phrases[at]
            if phrase == text:
                keep(1.0, at)
            elif len(phrase) > 2 and len(text) > 1:
                keep(_overlap(here, tokens(phrase), cut, words), at)
        if len(text) >= NEAR_FROM:
            for _, alike, at in process.extract(text, phrases, scorer=fuzz.ratio, score_cutoff=NEAR, limit=20):
                if phrases[at][0] == text[0]:  # a slip is seldom the first letter: “ground” is no “round”
                    keep(alike / 100 * 0.95 if alike < 100 else 1.0, at)
    return found


def _overlap(here: Sequence[str], phrase: Sequence[str], cut: Collection[str], words: Lexicon) -> float:
    """How far a heading and a phrase say the same: the weight of the words they share, in both.

    A word weighs more the fewer columns of ours it is said of. cut: words of the heading that end in a full stop.
    """
    met: set[str] = set()
    shared = 0.0
    for word in phrase:
        best = max(((_alike(h, word, h in cut), h) for h in here), default=(0.0, ""))
        if best[0]:
            met.add(best[1])
            shared += best[0] * words.weight(word)
    if not shared:
        return 0.0
    of_phrase = shared / sum(words.weight(w) for w in phrase)
    of_heading = sum(words.weight(h) if h not in cut else 2.0 for h in met) / sum(
        words.weight(h) if h not in cut else 2.0 for h in here
    )
    return 0.95 * of_phrase * (0.45 + 0.55 * of_heading) if of_phrase > 0.55 else 0.0


def _alike(here: str, word: str, cut: bool) -> float:
    """Whether two words are one: equal, cut short (“Merkn.”), or of one stem (“supervised”, “supervisor”)."""
    if here == word:
        return 1.0
    if cut and len(word) > len(here) and word.startswith(here):
        return 0.93
    short = min(len(here), len(word))
    if abs(len(here) - len(word)) > 2 and short == STEM:
        return 0.0  # “placette” is no “place”
    stem = max(STEM, round(0.75 * short))
    return 0.85 if short >= STEM and here[:stem] == word[:stem] else 0.0


def pieces(said: Sequence[Mapping[str, Said]], columns: Sequence[Seen]) -> dict[str, int]:
    """Which columns hold the year, the month, the day of the month and the time of day: name of the piece -> position."""
    looks: dict[str, Callable[[Seen], bool]] = {
        "year": lambda c: _within(c, 1950, 2100) or _within(c, 0, 99),
        "month": lambda c: _within(c, 1, 12) or (c.numeric == 0 and bool(c.cells)),
        "day_of_month": lambda c: _within(c, 1, 31),
        "clock": lambda c: c.clocked > 0.8 or c.clocked_by_dots > 0.9,
    }
    found: dict[str, int] = {}
    for piece in PIECES:
        fitting = [n for n, c in enumerate(columns) if looks[piece](c) and n not in found.values()]
        best = max(fitting, key=lambda n: said[n].get(piece, Said()).surely, default=None)
        if best is not None and said[best].get(piece, Said()).surely >= 0.8:
            found[piece] = best
    return found


def _within(column: Seen, low: int, high: int) -> bool:
    return column.filled > 0 and column.numeric > 0.9 and all(low <= n <= high and n == int(n) for n in column.numbers)
