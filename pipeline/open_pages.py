"""Every partner's page of what is open now, from the projection. Joins what is not settled with the words for it."""

from pipeline.by_rule import settled_by_rules
from pipeline.decided import decisions
from pipeline.intake.mapping import parse_mapping
from pipeline.ledger.store import Ledger
from pipeline.meant import with_meant
from pipeline.outputs.open_page import open_page
from pipeline.outputs.post import write_page
from pipeline.programme import Places, Rules, mapping_bytes
from pipeline.spoken import contact_of, language_for, own_words
from pipeline.unsettled import held_rows, in_dispute, waiting, waiting_events
from schemas.kinds import all_kinds
from warehouse.asking import Asking


def write_pages(con: Asking, places: Places, rules: Rules) -> tuple[int, int]:
    """Write the page of each partner that ever handed anything in; gives how many parts are held and how many things wait.

    con: a session of `warehouse.database.reading`.
    """
    partners = con.sql("select distinct partner from entry where what = 'drop' order by 1").fetchall()
    ledger = Ledger(places.ledger, compact=places.entries_cache)
    entries = ledger.entries()
    kinds = all_kinds()
    held, said, waits, disputed = (
        held_rows(con),
        waiting(con, kinds),
        with_meant(con, kinds, waiting_events(con)),
        in_dispute(con),
    )
    ruled = decisions(con, kinds)
    made = [*(d for d in ruled if d.identity not in disputed), *settled_by_rules(con, kinds)]
    reopened = {d.identity: d for d in ruled if d.identity in disputed}
    for (partner,) in partners:
        mapping = mapping_bytes(places, partner)
        theirs = own_words(parse_mapping(partner, mapping, kinds).sheets)
        language = language_for(partner, mapping, rules.raw, entries, ledger.drop_path)
        page = open_page(
            rules.name, partner, held, said, waits, disputed, made, reopened, language, theirs, contact_of(rules.raw)
        )
        write_page(places.out, partner, page)
    return len(held), len({q.identity for q in said})
