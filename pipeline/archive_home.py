"""From a record of an archive home: the events behind its identifier, and the drop, sheet and row that said each of them."""

from pathlib import Path

from pipeline.archive_events import hashes
from pipeline.errors import BadUsage
from pipeline.lineage import Home, Question, rows_of
from pipeline.session import session
from warehouse.asking import Asking

# kinds whose identifier holds the identity of one event, and the views of what stands for the others
_EVENTS = ("site", "bed", "survey", "deployment", "treatment", "collection", "check", "loss")
_FRAMED = "from survey_stands s where"
_HASHED = {
    "frame": f"select identity {_FRAMED} ar_frame(partner, visit_key, site_key, plot_key, frame_key) = $hash",
    "absence": f"select s.identity {_FRAMED} exists (select 1 from setting_protocol t where t.protocol = s.protocol and "
    "ar_absence(s.partner, s.visit_key, s.site_key, s.plot_key, s.frame_key, t.species) = $hash)",
    "plot": f"select identity {_FRAMED} ar_plot(partner, visit_key, site_key, plot_key) = $hash",
    "visit": f"select identity {_FRAMED} ar_visit(partner, visit_key, site_key) = $hash",
}
_DIVED = "select identity from visit_stands where ar_visit(partner, visit_key, site_key) = $hash"
_LOGGED = "select identity from reading_stands where ar_logger(partner, logger_key, site_key) = $hash"


def figure_in(identifier: str) -> str:
    """The figure's id in the identifier of one of its measurements, "" when it is of something else."""
    return identifier.partition(":figure:")[2].partition(":")[0]


def says_of(identifier: str) -> str:
    """What the rows behind such an identifier are, where they do not say the record in so many words; "" elsewhere."""
    kind = identifier.partition(":")[2].partition(":")[0]
    if kind == "absence":
        return (
            "An absence is a species that the protocol searches for and that no row of the frame tells of. These are the rows of the "
            "frame that was searched, whatever they are of; the protocol, with its day, stands in programme.toml."
        )
    return ""


def home(root: Path, identifier: str) -> list[Home]:
    """Every row that said anything the record rests on. What is said of a record (`...:length_cm`) leads where it does."""
    with session(root) as (con, rules):
        programme = f"{rules.key}:"
        kind, _, rest = identifier.removeprefix(programme).partition(":")
        digest = rest.partition(":")[0]
        homes = rows_of(con, _questions(con, kind, digest)) if identifier.startswith(programme) else []
    if not homes:
        raise BadUsage(
            f"{identifier!r}: no row stands behind it. Identifiers of events, occurrences and measurements begin with {programme} "
            "and stand in the tables of the archive; the programme's own event, and what was withdrawn, lead nowhere."
        )
    return homes


def _questions(con: Asking, kind: str, digest: str) -> list[Question]:
    if kind in _EVENTS:
        return [("counted", kind, f"select identity from {kind}_stands where identity = $hash", {"hash": digest})]
    if kind == "place":  # where several events were: a plot, as the registers have it
        return [("counted", "plot", "select identity from plot_stands where identity = $hash", {"hash": digest})]
    hashes(con)
    asked: list[Question] = []
    if kind in _HASHED:
        asked.append(("counted", "survey", _HASHED[kind], {"hash": digest}))
    if kind == "visit":
        asked.append(("counted", "visit", _DIVED, {"hash": digest}))
    if kind == "logger":
        asked.append(("counted", "reading", _LOGGED, {"hash": digest}))
    return asked
