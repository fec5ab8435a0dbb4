"""The smaller pages: what each figure means, donor beds and permits, what changed."""

from collections.abc import Iterator

from pipeline.indicators.catalogue import CATALOGUE, Indicator
from pipeline.pages.shell import Shell

MOVED_SHOWN = 500


def other_pages(shell: Shell) -> Iterator[tuple[str, bytes]]:
    """Each with its path; of a public build only the catalogue."""
    yield "catalogue.html", _catalogue(shell)
    if shell.public:
        return
    told = shell.told
    mine = [f for f in told.figures if f.of("bed") and not f.of("site")]
    beds = [(b, [f for f in mine if f.of("bed") == b.key]) for b in told.beds]
    permits = [
        f
        for f in told.figures
        if f.indicator.startswith("recorded under") or f.indicator.startswith("recorded without")
    ]
    yield "beds.html", shell.page("beds.html", "beds.html", beds=beds, permits=permits)
    moved = [(told.by_id[m.figure], m) for m in told.moved[:MOVED_SHOWN]]
    rest = max(0, len(told.moved) - MOVED_SHOWN)
    yield "changed.html", shell.page("changed.html", "changed.html", moved=moved, rest=rest)


def _catalogue(shell: Shell) -> bytes:
    topics: dict[str, list[Indicator]] = {}
    for entry in CATALOGUE.values():
        topics.setdefault(shell.told.topics.get(entry.name, "others"), []).append(entry)
    return shell.page("catalogue.html", "catalogue.html", topics=list(topics.items()))
