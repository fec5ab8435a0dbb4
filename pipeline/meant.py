"""Which registered thing may be meant by a name that nobody knows: asked, never entered. Joins what waits, the registers and intake."""

import re
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace

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
OF_A_SITE = ("unknown plot", "never deployed")
_ASKED = re.compile(r": is .+ meant, which has that name\?$")  # what the view puts behind it is told as advice


def with_meant(con: Asking, kinds: Mapping[str, Kind], waits: Sequence[Waiting]) -> list[Waiting]:
    """The same events, those that wait for a thing nobody knows with the known one that may be meant. con: a session with `standing`."""
    unknown = {(w.kind, w.rule): _column(kinds, w.kind, w.rule) for w in waits if w.rule in KNOWN}
    words = {(kind, rule): _words(con, kinds[kind], rule, column) for (kind, rule), column in unknown.items()}
    known = {rule: _known(con, rule) for rule in {rule for _, rule in unknown}}
    names = {(rule, site): names_of(there) for rule, sites in known.items() for site, there in sites.items()}
    found: dict[tuple[str, str, str], str] = {}  # many events name the same thing

    def asked(w: Waiting) -> Waiting:
        named = words.get((w.kind, w.rule), {}).get(w.identity)
        if not named:
            return w
        word, site = named
        if (w.rule, site, word) not in found:
            found[w.rule, site, word] = meant(word, names.get((w.rule, site), {}))
        key = found[w.rule, site, word]
        called = next(iter(known[w.rule].get(site, {}).get(key, ())), "")
        new_key = unknown[w.kind, w.rule] in kinds[w.kind].key
        return replace(w, why=_ASKED.sub("", w.why), meant=key, called=called, new_key=new_key)

    return [asked(w) for w in waits]


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
