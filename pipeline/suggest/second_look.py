"""A second look at what is left: within kinds that are known, a cut or odd heading may say enough for what they still lack."""

from collections.abc import Collection, Mapping, Sequence

from rapidfuzz import fuzz

from pipeline.intake.mapping import derived
from pipeline.intake.units import conversion
from pipeline.suggest.cells import PEOPLE, cells_say
from pipeline.suggest.choose import IMPOSSIBLE, NEVER, Candidate, Choice
from pipeline.suggest.fit import KNOWN_AS_NOTHING, Registered, Said
from pipeline.suggest.lexicon import NOTHING, Lexicon
from pipeline.suggest.seen import Seen
from pipeline.suggest.several import Chosen
from pipeline.suggest.text import tokens
from schemas.kinds import Column, Kind

ENOUGH = 0.62  # of heading, cells and what the kind needs, together
APART = 0.05  # what the next best column of ours must stay behind
CELLS = 0.4
ALONE = 0.7  # what cells weigh under a heading that says nothing
SAID = 0.85  # so surely must a heading say a coded column whose words its cells do not hold
NEEDED = 0.12  # what speaks for a column that the kind must have and has not
IN_UNIT = 0.2  # what a unit says that only one of the free columns is told in
OUTRIGHT = 0.95
ELSEWHERE = 0.6
SLIPPED = 84  # of 100: two words as alike as “visability” and “visibility”
IN_FIGURES = {"unit_key", "frame_key", "batch_key", "visit_key", "permit_key", "record_key", "serial", "invoice_ref", "for_key", "fixed_to", "protocol", "vessel"}  # fmt: skip
# never guessed: any number or text would do
NOT_GUESSED = {"happened", "datum", "sensitive", "outline", "site_key", "plot_key", "dive_number", "latitude", "longitude", "name", "uncertainty_m", "radius_m"}  # fmt: skip


def second_look(
    chosen: Chosen, columns: Sequence[Seen], said: Sequence[Mapping[str, Said]], words: Lexicon, registered: Registered,
    taken: Collection[str],
) -> Chosen:  # fmt: skip
    """The same kinds with what a second look adds. taken: columns of ours that a wide shape fills."""
    used = {c.at for _, choices in chosen for c in choices}
    left = [n for n in range(len(columns)) if n not in used and _open(columns[n], said[n])]
    free = [(k, c) for k, (candidate, choices) in enumerate(chosen) for c in _free(candidate, choices, taken)]
    found: list[tuple[float, int, int, Column, Said, float]] = []
    for n in left:
        scored = sorted(
            (_score(chosen[k][0].kind, ours, [c for _, c in free], columns[n], said[n], words, registered, k, ours)
             for k, ours in free),
            key=lambda s: -s[0],
        )  # fmt: skip
        if scored and scored[0][0] >= ENOUGH:
            best = scored[0]
            rival = next((s[0] for s in scored if s[2].name != best[2].name), 0.0)
            if best[0] - rival >= APART:
                found.append((best[0], n, best[1], best[2], best[3], best[4]))
    added: dict[int, list[Choice]] = {}
    gone: set[tuple[int, str]] = set()
    for speaks, n, k, ours, heading, cells in sorted(found, key=lambda f: -f[0]):
        if (k, ours.name) not in gone:
            gone.add((k, ours.name))
            added.setdefault(k, []).append(Choice(ours, n, min(speaks, ENOUGH), heading, cells))
    return [(candidate, [*choices, *added.get(k, [])]) for k, (candidate, choices) in enumerate(chosen)]


def _open(column: Seen, says: Mapping[str, Said]) -> bool:
    """Whether it is no numbering of the rows, and not known to be nothing of ours."""
    return not column.running and says.get(NOTHING, Said()).surely < KNOWN_AS_NOTHING


def _free(candidate: Candidate, choices: Sequence[Choice], taken: Collection[str]) -> list[Column]:
    got = {c.column.name for c in choices} | set(taken) | NEVER | NOT_GUESSED
    return [c for c in candidate.kind.columns if c.name not in got]


def _score(
    kind: Kind, ours: Column, free: Sequence[Column], seen: Seen, says: Mapping[str, Said], words: Lexicon,
    registered: Registered, part: int, column: Column,
) -> tuple[float, int, Column, Said, float]:  # fmt: skip
    cells = cells_say(ours, seen, words, registered)
    heading = max(faint(seen, ours.name, words), says.get(ours.name, Said()), key=lambda s: s.surely)
    figures = ours.type == "text" and not ours.allowed and seen.numeric > 0.7 and ours.name not in IN_FIGURES
    if heading.surely < ELSEWHERE and any(s.surely >= OUTRIGHT for c, s in says.items() if c != ours.name):
        return 0.0, part, column, heading, cells  # it says outright what these kinds have no column for
    unsaid = heading.surely < 0.25 and (cells < 0.6 or ours.name in PEOPLE)
    unworded = bool(ours.allowed) and cells < 0 and heading.surely < SAID
    if cells <= IMPOSSIBLE or unsaid or figures or unworded or (ours.type == "text" and cells <= -0.4):
        return 0.0, part, column, heading, cells
    speaks = heading.surely + CELLS * cells if heading.surely >= 0.25 else ALONE * cells + 0.12
    if ours.required and not derived(kind, ours.name):
        speaks += NEEDED
    if seen.unit and ours.unit and conversion(seen.unit, ours.unit):
        alone = sum(bool(c.unit and conversion(seen.unit, c.unit)) for c in free) == 1
        speaks += IN_UNIT if alone else 0.0
    return speaks, part, column, heading, cells


def faint(seen: Seen, column: str, words: Lexicon) -> Said:
    """What a heading says of one column when its words are taken as cut short, misspelt or grown together."""
    here = [piece for t in tokens(seen.bare) or tokens(seen.words) for piece in words.apart(t)]
    best = Said()
    for at in words.phrases_of.get(column, ()):
        phrase, _, language = words.phrases[at]
        if len(phrase) < 3:  # “no” is said of anything
            continue
        surely = _shared(here, tokens(phrase), words)
        if surely > best.surely:
            best = Said(surely, phrase, language)
    return best


def _shared(here: Sequence[str], phrase: Sequence[str], words: Lexicon) -> float:
    """How much of both is met, by weight; less than a heading that says it outright."""
    met = [(max((_like(h, w) for w in phrase), default=0.0), words.weight(h) if len(h) > 2 else 1.5) for h in here]
    of_heading = sum(m * w for m, w in met) / (sum(w for _, w in met) or 1)
    pairs = [(max((_like(h, w) for h in here), default=0.0), words.weight(w)) for w in phrase]
    of_phrase = sum(m * w for m, w in pairs) / (sum(w for _, w in pairs) or 1)
    return (
        0.9 * min(of_heading, of_phrase) ** 0.5 * max(of_heading, of_phrase) ** 0.5
        if min(of_heading, of_phrase) > 0.3
        else 0.0
    )


def _like(here: str, word: str) -> float:
    """Whether one word may be the other: equal, its beginning, its consonants, its letters but for a slip."""
    if here == word:
        return 1.0
    if len(here) < len(word) and here[:1] == word[:1]:
        if word.startswith(here):
            return 0.8 if len(here) > 1 else 0.5
        if 2 <= len(here) <= 5 and _skeleton(here, word):
            return 0.65
    if min(len(here), len(word)) >= 5:
        alike = fuzz.ratio(here, word)
        if alike >= SLIPPED:
            return 0.85
        return 0.7 if here[:5] == word[:5] else 0.0
    return 0.0


def _skeleton(cut: str, word: str) -> bool:
    """Whether a word was cut to some of its letters, in their order, mostly consonants: “mrk” of “merknad”, “rt” of “rute”."""
    letters = iter(word)
    return all(c in letters for c in cut) and not any(v in cut[1:] for v in "aeiou")
