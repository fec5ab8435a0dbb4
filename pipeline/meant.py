"""Which registered thing may be meant by a name that nobody knows: asked, never entered. Joins what waits, the registers and intake."""

import re
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from pipeline.intake.near import meant, names_of
from pipeline.unsettled import Waiting
from schemas.kinds import Kind
from warehouse.asking import Asking
from warehouse.sqlfiles import references

# A rule -> what its sentence names, and the query for what is known: key, name or null, of which site or null.
KNOWN = {
    "unknown site": "select site_key, name, cast(null as varchar) from site_now",
    "unknown plot": "select plot_key, cast(null as varchar), site_key from plot_now",
    "unknown bed": "select bed_key, cast(null as varchar), cast(null as varchar) from bed_now",
    # of the same site alone: nobody is shown what others put down elsewhere
    "never deployed": "select unit_key, cast(null as varchar), site_key from deployment_now",
}
UNIT = "never deployed"
UNKNOWN_WHY, UNIT_WHY = (
    "the {target} {word} is not known yet",
    "unit {word} was never put down, as far as anyone has told",
)
OF_A_SITE = ("unknown plot", "never deployed")
_ASKED = re.compile(r": is .+ meant, which has that name\?$")  # what the view puts behind it is told as advice


@dataclass(frozen=True)
class Named:
    """A word by which a held row names a thing of a register, or a unit: in which part, and of which site.

    rule: of KNOWN, by which the row would wait if nobody knows the word. key: the part's own, "" where it has none.
    """

    sheet: str
    row: int
    part: int
    kind: str
    key: str
    rule: str
    word: str
    site: str


def still_unknown(con: Asking, entry: int, partner: str, file: str, named: Sequence[Named]) -> list[Waiting]:
    """Of what held rows name that which nobody knows, as what they would wait for once they are mended. con: as of the end of that
    entry's take-in. A thing whose own row is held too is left out: that is told where it is held.
    """
    if not named:
        return []
    rules = {n.rule for n in named}
    known = {rule: _known(con, rule) for rule in rules}
    every = {rule: {k for keys in sites.values() for k in keys} for rule, sites in known.items()}
    told = con.sql(
        "select p.kind, p.key from part p cross join as_of a "
        "where p.fate in ('faulty', 'conflict', 'question') and p.key is not null and p.entry <= a.entry"
    ).fetchall()
    held = set(told)
    disputed = {unit for (unit,) in con.sql("select unit_key from unit_in_dispute").fetchall()} if UNIT in rules else ()
    rows = con.sql("select cast(recorded as date) from entry where number = $n", params={"n": entry}).fetchall()
    found = []
    for n in named:
        target = n.rule.removeprefix("unknown ").replace(UNIT, "deployment")
        own = (target, f"{n.site} | {n.word}" if target == "plot" else n.word)  # as the key of its own row is written
        there = known[n.rule].get(n.site, {})
        sites = known["unknown site"].get("", {}) if "unknown site" in known else {n.site: ()}
        unknown_site = n.rule == "unknown plot" and n.site not in sites
        if n.word in (every[UNIT] if n.rule == UNIT else there) or n.word in disputed or own in held or unknown_site:
            continue
        key, by_name = _meant(n.word, there)
        why = UNIT_WHY if n.rule == UNIT else UNKNOWN_WHY.replace("{target}", target)
        found.append(
            Waiting(
                partner, n.kind, n.key, n.rule, why.replace("{word}", n.word), file, n.sheet, n.row, rows[0][0], entry, "",
                key, next(iter(there.get(key, ())), ""), False, by_name,
            )
        )  # fmt: skip
    return list(dict.fromkeys(found))


def with_meant(con: Asking, kinds: Mapping[str, Kind], waits: Sequence[Waiting]) -> list[Waiting]:
    """The same events, those that wait for a thing nobody knows with the known one that may be meant. con: a session with `standing`."""
    unknown = {(w.kind, w.rule): _column(kinds, w.kind, w.rule) for w in waits if w.rule in KNOWN}
    words = {(kind, rule): _words(con, kinds[kind], rule, column) for (kind, rule), column in unknown.items()}
    known = {rule: _known(con, rule) for rule in {rule for _, rule in unknown}}
    found: dict[tuple[str, str, str], tuple[str, bool]] = {}  # many events name the same thing

    def asked(w: Waiting) -> Waiting:
        named = words.get((w.kind, w.rule), {}).get(w.identity)
        if not named:
            return w
        word, site = named
        if (w.rule, site, word) not in found:
            found[w.rule, site, word] = _meant(word, known[w.rule].get(site, {}))
        key, by_name = found[w.rule, site, word]
        called = next(iter(known[w.rule].get(site, {}).get(key, ())), "")
        new_key = unknown[w.kind, w.rule] in kinds[w.kind].key
        return replace(w, why=_ASKED.sub("", w.why), meant=key, called=called, new_key=new_key, by_name=by_name)

    return [asked(w) for w in waits]


def _meant(word: str, there: Mapping[str, tuple[str, ...]]) -> tuple[str, bool]:
    """The key that may be meant by a word, "" for none; and whether the word is the very name of that thing alone, which is no guess."""
    named = [key for key, called in there.items() if _folded(word) in {_folded(name) for name in called}]
    return (named[0], True) if len(named) == 1 else (meant(word, names_of(there)), False)


def _folded(text: str) -> str:
    return " ".join(text.casefold().split())


def _column(kinds: Mapping[str, Kind], kind: str, rule: str) -> str:
    """The column of a kind in which such a rule finds what nobody knows."""
    target = rule.removeprefix("unknown ")
    columns = [r.column for r in references(dict(kinds)) if (r.kind, r.target) == (kind, target)]
    return columns[0] if columns else "unit_key"


def _words(con: Asking, kind: Kind, rule: str, column: str) -> dict[str, tuple[str, str]]:
    """Of the events of a kind of which the rule speaks the word it finds unknown, and of which site it is; by identity."""
    sited = rule in OF_A_SITE and any(c.name == "site_key" for c in kind.columns)
    rows = con.sql(
        f'select n.identity, n."{column}", {"n.site_key" if sited else "null"} from {kind.name}_now n join '
        f"(select distinct identity from standing where kind = '{kind.name}' and rule = '{rule}') s on s.identity = n.identity"
    ).fetchall()
    return {identity: (word, of or "") for identity, word, of in rows if word}


def _known(con: Asking, rule: str) -> dict[str, dict[str, tuple[str, ...]]]:
    """What is known of a sort: site (where it is of one, else "") -> key -> its names."""
    found: dict[str, dict[str, tuple[str, ...]]] = defaultdict(dict)
    for key, name, site in con.sql(KNOWN[rule]).fetchall():
        found[site or ""][key] = (name,) if name else ()
    return found
