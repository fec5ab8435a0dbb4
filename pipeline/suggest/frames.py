"""Where no heading names the frame, the column that tells the rows of a site and day apart is likely to."""

from collections.abc import Sequence

from pipeline.intake.ways import OPEN
from pipeline.suggest.feeding import listed
from pipeline.suggest.proposal import Proposal
from pipeline.suggest.seen import Seen
from pipeline.suggest.shapes import WideSeen
from pipeline.suggest.write import Path, Question

WORDS_FIRST = 0.5


def frame_headings(
    p: Proposal, wides: Sequence[WideSeen], columns: Sequence[Seen], rows: Sequence[Sequence[str]]
) -> None:
    """Give the wide surveys of a sheet a heading for their frames; counts in cores are frames of their own beside them."""
    at = {c.heading: c.at for c in columns}
    used = {h for part in p.parts() for v in part["columns"].values() for h in ([v] if isinstance(v, str) else v)}
    places = {i for w in wides for i in w.places}
    free = [c for c in columns if c.heading not in used and c.at not in places and c.filled == c.rows]
    n = 0
    for part in p.parts():
        if "wide" not in part or part["kind"] != "survey":
            continue
        path: Path = ("part", str(p.parts().index(part))) if "part" in p.tree else ()
        mapped, wide = part["columns"], wides[n]
        n += 1
        if part.get("fixed", {}).get("frame_key") == OPEN:
            said = [at[h] for c in ("happened", "site_key", "plot_key") for h in listed(mapped.get(c))]
            apart = [c for c in free if len({(*(r[i] for i in said), r[c.at]) for r in rows}) == len(rows)]
            best = min(apart, key=lambda c: (c.numeric > WORDS_FIRST, len(c.cells)), default=None)
            if best:
                del part["fixed"]["frame_key"]
                mapped["frame_key"] = best.heading
                p.questions = [q for q in p.questions if q.path != (*path, "fixed", "frame_key")]
                if n == 1:
                    ask = f"Does “{best.heading}” ({best.examples()}) name the frame? With it no two rows are of one frame."
                    p.questions.append(Question((*path, "columns", "frame_key"), ask, best.heading))
        core = next((c for c in columns if c.heading.lower().startswith("core") and c.heading not in used), None)
        if wide.of_core:
            mapped.pop("area_m2", None)
            part.get("units", {}).pop("area_m2", None)
            frame = mapped.get("frame_key")
            if core and isinstance(frame, str):
                mapped["frame_key"] = [frame, core.heading]
