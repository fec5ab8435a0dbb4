"""Which registered thing may be meant by a name that nobody knows: asked, never entered. Joins what waits, the registers and intake."""

import re
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace

from pipeline.intake.near import meant
from pipeline.unsettled import Waiting
from schemas.kinds import Kind
from warehouse.asking import Asking
from warehouse.sqlfiles import references

# A rule -> what its sentence names, and the query for what is known: key, name or null, of which site or null.
KNOWN = {
    "unknown site": "select site_key, name, cast(null as varchar) from site_now",
    "unknown plot": "select plot_key, cast(null as varchar), site_key from plot_now",
    "unknown bed": "select bed_key, cast(null as varchar), cast(null as varchar) from bed_now",
    "never deployed": "select unit_key, cast(null as varchar), cast(null as varchar) from deployment_now",
}
_ASKED = re.compile(r": is .+ meant, which has that name\?$")  # what the view puts behind it is told as advice


def with_meant(con: Asking, kinds: Mapping[str, Kind], waits: Sequence[Waiting]) -> list[Waiting]:
    """The same events, those that wait for a thing nobody knows with the known one that may be meant. con: a session with `standing`."""
    unknown = {(w.kind, w.rule) for w in waits if w.rule in KNOWN}
    words = {place: _words(con, kinds, *place) for place in unknown}
    known = {rule: _known(con, rule) for rule in {rule for _, rule in unknown}}
    return [_asked(w, words.get((w.kind, w.rule), {}).get(w.identity), known.get(w.rule, {})) for w in waits]


def _asked(w: Waiting, named: tuple[str, str] | None, known: Mapping[str, Mapping[str, tuple[str, ...]]]) -> Waiting:
    if not named:
        return w
    word, site = named
    there = known.get(site, {})
    key = meant(word, there)
    within = re.search(rf"(^|[ |]){re.escape(word)}($|[ |])", w.key) is not None
    return replace(w, why=_ASKED.sub("", w.why), meant=key, called=next(iter(there.get(key, ())), ""), new_key=within)


def _words(con: Asking, kinds: Mapping[str, Kind], kind: str, rule: str) -> dict[str, tuple[str, str]]:
    """Of events of a kind the word that such a rule finds unknown, and of which site it is; by identity."""
    target = rule.removeprefix("unknown ")
    columns = [r.column for r in references(dict(kinds)) if (r.kind, r.target) == (kind, target)]
    column = columns[0] if columns else "unit_key"
    site = "site_key" if target == "plot" else "''"
    rows = con.sql(f'select identity, "{column}", {site} from {kind}_now').fetchall()
    return {identity: (word, of or "") for identity, word, of in rows if word}


def _known(con: Asking, rule: str) -> dict[str, dict[str, tuple[str, ...]]]:
    """What is known of a sort: site (where it is of one, else "") -> key -> its names."""
    found: dict[str, dict[str, tuple[str, ...]]] = defaultdict(dict)
    for key, name, site in con.sql(KNOWN[rule]).fetchall():
        found[site or ""][key] = (name,) if name else ()
    return found
