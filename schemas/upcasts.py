"""How rows of an older version are read as today's: pure select lists on read. Stored segments never change.

To change what a kind's columns mean: raise its version in the model, add its line here, keep a ledger of the older
version in tests/kept_ledgers. Identity and content are not touched: they were stored once and stay.
"""

from collections.abc import Mapping

# (kind, version) -> the select list that makes rows of the next version out of rows of this one. It begins with `*`,
# since columns that every segment has stand beside the kind's own. For instance
# ("treatment", 1): "* exclude (effort_person_min), effort_person_min / 60 as effort_person_h"
UPCASTS: Mapping[tuple[str, int], str] = {
    ("part", 1): "*",  # it holds events too, which are parts of their kinds' segments since (`ledger.fates`)
}

OTHER_SEGMENTS = {
    "part": 2,
    "fault": 1,
    "record": 2,
    "asked": 1,
    "returned": 1,
}  # segments that hold no kind, and their versions


def upcast_sql(kind: str, version: int, newest: int, source: str, upcasts: Mapping[tuple[str, int], str]) -> str:
    """A table expression that gives `source`, rows of `kind` as `version` wrote them, with the columns of `newest`.

    KeyError when a step between the two is not told of.
    """
    for v in range(version, newest):
        source = f"(select {upcasts[kind, v]} from {source})"
    return source
