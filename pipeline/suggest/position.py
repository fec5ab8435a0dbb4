"""How positions are written, for [position]: a hemisphere that only the headings name, and grids that must be named."""

from collections.abc import Sequence
from typing import Any

from pipeline.suggest.proposal import Proposal
from pipeline.suggest.seen import Seen
from pipeline.suggest.write import Path, Question

LETTERS = {
    "latitude": {"s": "S", "south": "S", "sur": "S", "sul": "S", "sud": "S", "sor": "S"},
    "longitude": {"w": "W", "west": "W", "oeste": "W", "ouest": "W", "vest": "W"},
}
WEST_IS_O = ("es", "pt", "fr")  # in Norwegian Ø is east
MOST = 180.0  # degrees; larger numbers are metres of a grid


def position_table(p: Proposal, path: Path, table: dict[str, Any], columns: Sequence[Seen]) -> None:
    """Say on which side numbers without sign or letter lie, where a heading does; ask for the grid of metres."""
    by_heading = {c.heading: c for c in columns}
    sides, metres = [], []
    for ours, letters in LETTERS.items():
        heading = table["columns"].get(ours)
        seen = by_heading.get(heading) if isinstance(heading, str) else None
        if seen is None or not seen.numbers:
            continue
        if max(seen.numbers) > MOST:
            metres.append(seen)
        elif seen.numeric > 0.9 and min(seen.numbers) >= 0:
            west = {"o": "W"} if ours == "longitude" and p.language in WEST_IS_O else {}
            sides += [side for w in seen.words.split() if (side := (letters | west).get(w))][:1]
    if sides:
        table["position"] = {"hemisphere": sides}
        p.notes[(*path, "position", "hemisphere")] = "the headings say so, and no cell has a sign or letter"
    if metres:
        told = " and ".join(f"“{c.heading}” ({c.examples(1)})" for c in metres)
        ask = f"{told} are metres of a grid. Which one: an EPSG code, or a zone such as UTM 29N?"
        p.questions.append(Question((*path, "position", "crs"), ask, ""))
