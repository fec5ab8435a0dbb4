"""Which kept drops are to be read again: those whose mapping, or whose names of species, are others now."""

from collections.abc import Callable
from functools import cache

from pipeline.errors import BadUsage
from pipeline.intake.names import names_of, same
from pipeline.intake.species import species_kinds
from pipeline.ledger.entry import Entry
from pipeline.ledger.files import redactions
from pipeline.ledger.redact import told as redaction_told
from pipeline.ledger.store import Ledger
from pipeline.programme import Programme, mapping_bytes, parse_rules
from pipeline.receive import Found


def to_read_again(ledger: Ledger, programme: Programme, partner: str = "", drop: str = "") -> tuple[int, list[Found]]:
    """How many receipts were looked at, and the drops to read again in the order they came.

    partner, drop: only those of that partner, only the one whose hash begins so. BadUsage when only an erased one is asked for.
    """
    every = ledger.entries()
    erased = redactions(every)
    entries = [e for e in every if e.drop and e.drop not in erased]
    if drop and not any(e.drop.startswith(drop) for e in entries):
        for gone in (e for digest, e in erased.items() if digest.startswith(drop)):
            raise BadUsage(f"{redaction_told(gone)}. It cannot be read again; what had entered still counts.")
    last = {(e.partner, e.drop): e for e in entries}
    named_alike = _named_alike(ledger, programme)
    news = {}
    for e in entries:
        present = ledger.keep_bytes(mapping_bytes(programme.places, e.partner))
        asked_for = partner in ("", e.partner) and e.drop.startswith(drop)
        before = last[e.partner, e.drop]
        if asked_for and (before.mapping != present or not named_alike(before)):
            news[e.partner, e.drop] = Found(e.partner, e.name, e.drop, e.size, retaken=True)
    return len(entries), list(news.values())


def _named_alike(ledger: Ledger, programme: Programme) -> Callable[[Entry], bool]:
    """Whether today's rules read every name of a species that a drop may hold as those did that it was read under."""
    now, with_species = names_of(programme.rules), species_kinds()

    @cache
    def alike(rules: str) -> bool:
        return same(names_of(parse_rules(ledger.drop_path(rules).read_bytes(), "older rules")), now)

    def alike_in(entry: Entry) -> bool:
        none_held = not entry.receipt.held and not any(s.kind in with_species for s in entry.segments)
        return none_held or entry.rules == programme.rules.hash or alike(entry.rules)

    return alike_in
