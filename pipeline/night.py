"""A night, step by step: the one list that `wrackline night` plays and that Dagster's assets are made of.

Each step reads the programme's folder and leaves its work there, so that any of them can be done again. To add one: a
function that returns `Done`, and a line in STEPS; its checks stand in it.
"""

import datetime as dt
import os
import time
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Any, TypeVar

from pipeline import alerts, disk, look, run
from pipeline.archive_away import take_archive_away
from pipeline.errors import BadUsage, Busy, Hindered, KeptBack, LedgerDamaged, NothingAgreed, ProjectionDamaged, Stop
from pipeline.ledger.store import Ledger
from pipeline.plural import n_of
from pipeline.programme import open_programme, partner_names
from pipeline.receive import plain_files
from pipeline.run import Say, silent
from pipeline.session import parts_by_fate
from pipeline.world import plainly

FINE, HELD, UNSURE = 0, 3, 8
Did = TypeVar("Did")
FAILED = "night_failed"
GROUPS = (
    "recruitment", "retention", "gear", "cost", "donors", "temperature", "planning", "cost_of_outcomes", "methods",
)  # fmt: skip
MAY_PASS = (Busy, Hindered)  # what the next try may find otherwise


@dataclass(frozen=True)
class Told:
    """What is told of one asset: numbers, a small table (headings first), and the files to open."""

    counts: Mapping[str, int | str] = field(default_factory=dict)
    table: tuple[tuple[str, ...], ...] = ()
    links: tuple[Path, ...] = ()


@dataclass(frozen=True)
class Done:
    """What a step did: a sentence, what is told of each of its assets, what its checks look at."""

    sentence: str
    assets: Mapping[str, Told]
    result: Any = None


@dataclass(frozen=True)
class Verdict:
    """What a check found: sentences about what is wrong (none: passed), and numbers."""

    wrong: tuple[str, ...] = ()
    counts: Mapping[str, int | str] = field(default_factory=dict)


@dataclass(frozen=True)
class Night:
    """The programme's folder, the day whose night it is, and where progress is said."""

    root: Path
    day: dt.date
    say: Say = silent


@dataclass(frozen=True)
class Check:
    """A look at what a step did. blocking: nothing follows when it fails. warning: somebody should know, no more.

    code: the night's exit code when it fails and does neither.
    """

    name: str
    do: Callable[[Night, Done], Verdict]
    blocking: bool = False
    warning: bool = False
    code: int = UNSURE


@dataclass(frozen=True)
class Step:
    """One step: its assets (its own name if it makes one), those it needs, what it does, its checks."""

    name: str
    after: tuple[str, ...]
    do: Callable[[Night], Done]
    makes: tuple[str, ...] = ()
    checks: tuple[Check, ...] = ()

    @property
    def assets(self) -> tuple[str, ...]:
        """Names of what it makes."""
        return self.makes or (self.name,)


# --- the steps ------------------------------------------------------------------------------------------------


def drops(night: Night) -> Done:
    """What lies in the inboxes, partner by partner."""
    for sentence in _cautions(night.root):
        night.say(sentence)
    places = open_programme(night.root).places
    files = {p: plain_files(places.inbox / p) for p in partner_names(places)}
    rows = tuple((p, str(len(found))) for p, found in files.items())
    n = sum(map(len, files.values()))
    told = Told({"files": n, "partners": len(files)}, (("partner", "files"), *rows), (places.inbox,))
    return Done(f"{n_of(n, 'file')} of {n_of(len(files), 'partner')} in the inboxes", {"drops": told})


def ledger(night: Night) -> Done:
    """Every file of the inboxes that the ledger does not know yet, taken in; the rules noted if they changed."""
    took = run.take(night.root, night.say)
    run.note_rules(night.root, night.say)
    for sentence in took.advice:
        night.say(sentence)
    new = [e for e in took.entries if e.drop]
    entered = sum(e.receipt.entered for e in new)
    rows = ((f"{e.partner}/{e.name}", str(e.receipt.entered), str(e.receipt.held)) for e in new)
    counts = {"files looked at": took.looked_at, "new drops": len(new), "entered": entered, "held": took.held, "left": len(took.left)}  # fmt: skip
    table = (("drop", "entered", "held"), *rows)
    told = Told(counts, table, (open_programme(night.root).places.out / "letters",))
    return Done(f"{n_of(len(new), 'new drop')}: {entered:,} entered, {took.held:,} held", {"ledger": told}, took)


def projection(night: Night) -> Done:
    """The DuckDB projection, brought up to the ledger's head."""
    made = run.project(night.root, night.say)
    number = run.projected(night.root)
    sentence = f"{'brought up' if made else 'up already'} to entry {number}"
    return Done(sentence, {"projection": Told({"entry": number, "changed": str(made)})})


def figures(night: Night) -> Done:
    """Every group of figures measured, the tables written, every drop answered with a letter."""
    done = run.publish(night.root, night.say)
    out = open_programme(night.root).places.out
    told = {name: Told({"changed": "False"}) for name in (*GROUPS, "tables", "letters")}
    if done.figures:
        told = {g: _of_group(g, done) for g in GROUPS}
        told["tables"] = Told({"figures": done.figures}, links=(out / "figures.parquet", out / "indicators.csv"))
        told["letters"] = Told({"written": done.letters}, links=(out / "letters",))
    sentence = f"{n_of(done.figures, 'figure')}, {n_of(len(done.computed), 'of them computed', 'of them computed')}"
    return Done(sentence if done.figures else "as they were", told)


def archive(night: Night) -> Done:
    """What may be published, as an archive for repositories, where the programme says under which licence."""
    programme = open_programme(night.root)
    if not (programme.rules.publishing.licence and look.published_as_of(night.root)):
        _without_archive(night)
        return Done("nothing to publish", {"archive": Told({"asked for": "False"})})
    try:
        made = run.archive(night.root, night.say, today=night.day)
    except NothingAgreed as e:
        _without_archive(night)
        return Done(str(e), {"archive": Told({"asked for": "True"})})
    except BadUsage as e:
        _without_archive(night)
        return Done("kept back", {"archive": Told({"version": "kept back"})}, (str(e),))
    counts = {
        "version": made.version,
        "added": made.added,
        "changed": made.changed,
        "deleted": made.deleted,
        **made.rows,
    }
    told = Told(counts, links=(programme.places.out / "archive",))
    return Done(f"version {made.version}", {"archive": told}, ())


def _without_archive(night: Night) -> None:
    if take_archive_away(night.root):
        night.say("the last archive was taken away: what is in it may not be published now")


def pages(night: Night) -> Done:
    """The pages of the programme, those for its own people and those for everybody."""
    if not look.published_as_of(night.root):
        return Done("nothing to show", {"pages": Told({"pages": 0})})
    made = run.pages(night.root, night.say, today=night.day)
    folder = open_programme(night.root).places.out / "pages"
    counts = {"pages": made.files, "written anew": made.written}
    return Done(f"{made.written} of {n_of(made.files, 'file')} written anew", {"pages": Told(counts, links=(folder,))})


def changed(night: Night) -> Done:
    """What this night changed, as one page and one text."""
    from pipeline.changed import changed as what_changed
    from pipeline.changed import end
    from pipeline.outputs.night_told import as_page, as_text

    out = open_programme(night.root).places.out
    told = what_changed(night.root, night.day)
    disk.replace(out / "changed.txt", as_text(told).encode())
    disk.replace(out / "changed.html", as_page(told).encode())
    end(night.root, told)
    counts = {
        "new drops": sum(bool(e.drop) for e in told.entries), "held tonight": told.held_tonight, "held": told.held,
        "waiting": told.waiting, "figures moved": len(told.moved), "partners expected": len(told.partners),
        "looks whose day is past": len(told.looks),
    }  # fmt: skip
    sentence = ", ".join(f"{name} {n}" for name, n in counts.items())
    return Done(sentence, {"changed": Told(counts, links=(out / "changed.html", out / "changed.txt"))}, told)


# --- the checks -----------------------------------------------------------------------------------------------


def _ledger_is_unbroken(night: Night, _: Done) -> Verdict:
    """Entries follow from one another, every file they name is there with its size, every witness agrees."""
    verdict = look.verify(night.root, light=True)
    return Verdict(tuple(verdict.wrong), {"entries": verdict.entries, "drops": verdict.drops})


def _both_sums_hold(night: Night, _: Done) -> Verdict:
    """Lines and parts of every receipt add up, and the projection has as many parts of every fate as the receipts say."""
    places = open_programme(night.root).places
    wrong, lines, parts = [], 0, 0
    projected: dict[int, dict[str, int]] = {}
    for entry, fate, n in parts_by_fate(night.root):
        projected.setdefault(entry, {})[fate] = n
    for e in Ledger(places.ledger, compact=places.entries_cache).entries():
        r, found = e.receipt, projected.get(e.number, {})
        lines, parts = lines + r.lines, parts + r.parts
        seen = {
            "entered": found.get("entered", 0) + found.get("amends", 0),
            "held": sum(found.get(f, 0) for f in ("faulty", "conflict", "question")),
            "repeated": found.get("repeated", 0),
        }
        if not r.holds():
            wrong.append(f"The sums of entry {e.number} ({e.partner}/{e.name}) do not hold.")
        if seen != {"entered": r.entered, "held": r.held, "repeated": r.repeated}:
            wrong.append(f"Entry {e.number} tells otherwise of its parts than the projection: {seen}.")
    return Verdict(tuple(wrong), {"lines": lines, "parts": parts})


def _archive_passes_its_gate(_: Night, done: Done) -> Verdict:
    """No planting would pass as wild, and no repository would drop a row of the archive or refuse it; else it was not written."""
    return Verdict(done.result or ())


def _partners_are_on_time(night: Night, _: Done) -> Verdict:
    """Every partner handed something in as often as the programme expects."""
    from pipeline.overdue import late_partners

    programme = open_programme(night.root)
    entries = Ledger(programme.places.ledger, compact=programme.places.entries_cache).entries()
    late = late_partners(entries, programme.rules, night.day)
    told = tuple(
        f"{p.partner} was expected to hand something in by {p.due}; its last drop came {p.last or 'never'}."
        for p in late
    )
    return Verdict(told, {"overdue": len(late)})


def _figures_move_by_new_events(_: Night, done: Done) -> Verdict:
    """Every figure that moved has new rows, a decision, new rules or new code behind it; none moved on the same inputs."""
    told = done.result
    rows = sum(len(m.rows) for m in told.moved)
    wrong = tuple(
        f"{f.indicator} of {' '.join(v for _, v in f.scope)} ({f.id}) moved, and nothing explains it."
        for f in told.unexplained
    )
    return Verdict(wrong, {"moved": len(told.moved), "new rows behind them": rows})


STEPS: tuple[Step, ...] = (
    Step("drops", (), drops),
    Step("ledger", ("drops",), ledger, checks=(
        Check("ledger_is_unbroken", _ledger_is_unbroken, blocking=True),
        Check("partners_are_on_time", _partners_are_on_time, warning=True),
    )),
    Step("projection", ("ledger",), projection, checks=(Check("both_sums_hold", _both_sums_hold, blocking=True),)),
    Step("figures", ("projection",), figures, makes=(*GROUPS, "tables", "letters")),
    Step("archive", ("tables",), archive, checks=(Check("archive_passes_its_gate", _archive_passes_its_gate, code=KeptBack.exit_code),)),
    Step("pages", ("archive", "letters"), pages),
    Step("changed", ("pages",), changed, checks=(
        Check("figures_move_by_new_events", _figures_move_by_new_events),
    )),
)  # fmt: skip


# --- playing them ---------------------------------------------------------------------------------------------


def do(step: Step, night: Night) -> Done:
    """One step, once; what it did is said."""
    done = _mending(night, partial(step.do, night))
    night.say(f"{step.name}: {done.sentence}")
    return done


def _mending(night: Night, work: Callable[[], Did]) -> Did:
    """What the work gives; where the projection turns out to be damaged it is made anew once, and the work done again."""
    with disk.privately(), plainly():
        try:
            return work()
        except ProjectionDamaged:
            night.say("the projection is damaged: making it anew")
        run.project(night.root, night.say, rebuild=True)
        return work()


def verdicts(step: Step, night: Night, done: Done) -> Iterable[tuple[Check, Verdict]]:
    """What the step's checks find, one after the other; an alert stands as long as one does not pass."""
    for check in step.checks:
        verdict = _mending(night, partial(check.do, night, done))
        with disk.privately():
            alerts.settle(night.root, check.name, "".join(f"{w}\n" for w in verdict.wrong), night.say)
        night.say(f"{check.name}: {'passed' if not verdict.wrong else ' '.join(verdict.wrong)}")
        yield check, verdict


def refusal(check: Check, verdict: Verdict) -> Stop:
    """Why nothing may follow a blocking check that did not pass."""
    first, more = verdict.wrong[0], len(verdict.wrong) - 1
    return LedgerDamaged(
        f"{check.name}: {first}" + (f" (and {more} more)" if more else "") + " `wrackline verify` tells all."
    )


def worth_another_try(e: Stop) -> bool:
    """Whether it may be gone in a minute: another run at work, a disk that is being tidied."""
    return isinstance(e, MAY_PASS) and not isinstance(e, ProjectionDamaged)


def play(root: Path, day: dt.date | None = None, say: Say = silent, steps: Iterable[Step] = STEPS) -> int:
    """The whole night, without Dagster; gives its exit code. A Stop is raised after its alert was told.

    day: whose night it is; today by the programme's clock if not given.
    """
    programme = open_programme(root)
    night, rules = Night(root, day or run.tonight(programme), say), programme.rules.night
    worst, held = FINE, False
    try:
        for step in steps:
            for left in reversed(range(rules.retries + 1)):
                try:
                    done = do(step, night)
                    break
                except Stop as e:
                    if not left or not worth_another_try(e):
                        raise
                    say(f"{step.name}: {e} Trying again in {rules.retry_after_s} s.")
                    time.sleep(rules.retry_after_s)
            for check, verdict in verdicts(step, night, done):
                if verdict.wrong and check.blocking:
                    raise refusal(check, verdict)
                worst = worst or (check.code if verdict.wrong and not check.warning else FINE)
            held = held or any(t.counts.get("held tonight", 0) for t in done.assets.values())
    except Exception as e:  # a fault of ours must not end a night unheard either
        failed(root, night.day, str(e) if isinstance(e, Stop) else f"{type(e).__name__}: {e}", say)
        raise
    came_to_its_end(root, say)
    return worst or (HELD if held else FINE)


def failed(root: Path, day: dt.date, why: str, say: Say) -> None:
    """Tell whoever is to be told that a night did not come to its end."""
    with disk.privately():
        alerts.settle(root, FAILED, f"The night of {day} did not come to its end: {why}\n", say)


def came_to_its_end(root: Path, say: Say) -> None:
    """Let the alert of the last failed night fall."""
    alerts.settle(root, FAILED, "", say)


def _cautions(root: Path) -> list[str]:
    """What about this machine should be otherwise. It is said in the log alone: pages tell of the ledger."""
    told = []
    if hasattr(os, "geteuid") and os.geteuid() == 0:
        told.append(
            "This runs as root. It needs no such power: an ordinary user that owns the programme's folder is enough."
        )
    if mode := root.resolve().stat().st_mode & 0o007:
        told.append(
            f"Everybody on this machine may look into {root.resolve().name}/ (its mode ends in {mode:o}): `chmod o= FOLDER` shuts it."
        )
    return told


def _of_group(group: str, done: run.Published) -> Told:
    n, computed = done.groups.get(group, (0, 0))
    return Told({"figures": n, "computed anew": computed})
