"""What rules of the programme settled of what partners tell differently: as decisions in words, and beside figures.

A rule settles nothing for good and writes nothing down: it is asked anew of what was said last, as of any entry.
"""

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import groupby

from pipeline.counted import counted_in
from pipeline.decided import Decision, Word
from pipeline.indicators.figure import Figure
from pipeline.plural import n_of
from pipeline.says import as_text, difference, sayings
from pipeline.unsettled import Ruling
from schemas.kinds import Kind
from warehouse.asking import Asking


def settled_by_rules(con: Asking, kinds: Mapping[str, Kind]) -> list[Decision]:
    """Every thing that a rule settles, with the last word of each who told of it, in order. Receipt 0: no file decided it."""
    rows = con.sql(
        """with word as (
               select b.kind, b.identity, b.name, s.told, s.since, w.partner, w.content, w.content = b.content as counts,
                   p.key, e.name as file, p.sheet, p.row, p.entry,
                   row_number() over (partition by b.identity, w.partner, w.content
                       order by p.entry desc, p.sheet, p.row, p.part) as nth
               from settled_by_rule b
               join setting_settling s on s.rule = b.rule
               join differing_word w on w.identity = b.identity
               join part p on p.identity = w.identity and p.content = w.content and p.partner = w.partner
               join entry e on e.number = p.entry
               cross join as_of a
               where p.fate <> 'faulty' and p.entry <= a.entry
           )
           select kind, key, identity, name, told, since, partner, content, counts, file, sheet, row, entry
           from word where nth = 1 order by kind, key, identity, partner, content"""
    ).fetchall()
    said = sayings(con, kinds, ((r[0], r[2], r[7]) for r in rows))
    found = []
    for (kind, key, identity, name, told, since), words in groupby(rows, key=lambda r: r[:6]):
        mine = list(words)
        alone = {r[7]: said.get((kind, identity, r[7]), ()) for r in mine}
        unlike = {content: difference(own, alone.values()) for content, own in alone.items()}
        told_by = tuple(
            Word(partner, file, sheet, row, as_text(unlike[content]), counts, unlike[content], entry)
            for partner, content, counts, file, sheet, row, entry in (r[6:] for r in mine)
        )
        found.append(Decision("rule", identity, kind, key or "", True, name, told, since, 0, 0, told_by))
    return found


def as_rulings(made: Sequence[Decision]) -> list[Ruling]:
    """What rules settled, told beside what people ruled: the rule is its author, and since when it holds its day."""
    return [
        Ruling(
            d.identity, d.kind, d.key, "rule", f"the programme's rule “{d.by}”", d.reason, d.day, 0, True,
            next((w.says for w in d.words if w.counts), ""),
        )
        for d in made
    ]  # fmt: skip


def with_cautions(con: Asking, figures: Sequence[Figure]) -> list[Figure]:
    """The figures, those that count anything settled by a rule with a caution that says how many things, by which rule."""
    rules = dict(con.sql("select identity, name from settled_by_rule").fetchall())
    if not rules:
        return list(figures)
    kinds = {k for (k,) in con.sql("select distinct kind from settled_by_rule").fetchall()}
    counts: dict[str, Counter[str]] = defaultdict(Counter)
    for figure, identity in counted_in(con, figures, kinds, "select identity from settled_by_rule"):
        counts[figure][rules[identity]] += 1
    return [
        replace(f, estimate=f.estimate.with_cautions(*(_caution(name, n) for name, n in sorted(counts[f.id].items()))))
        if f.id in counts
        else f
        for f in figures
    ]


def _caution(name: str, n: int) -> str:
    return f"counts {n_of(n, 'thing')} that partners tell differently, as the programme's rule “{name}” settles it"
