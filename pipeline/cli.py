"""`wrackline`: flags in, the function of the same name in `run.py`, text or JSON out, an exit code for each outcome."""

import argparse
import json
import sys
from collections.abc import Callable, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline import look, run
from pipeline.errors import BadUsage, LedgerDamaged, Stop
from pipeline.programme import open_programme

if TYPE_CHECKING:
    from pipeline.indicators.figure import Figure

FINE, HELD = 0, 3

ABOUT = """From partners' spreadsheets of kelp restoration to honest numbers, each traceable to its row.

A programme is a folder. Partners' files lie in its inbox; every night `take` reads what is new,
`measure` makes the figures, and `show` and `home` tell what they are and where they came from."""

CODES = """exit codes: 0 fine   2 the command or one of the programme's own files is not as it must be
            3 fine, but parts are held: see the letters   4 the ledger is damaged   5 another run is at work"""


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; gives its exit code."""
    argv = sys.argv[1:] if argv is None else argv
    args = _parser().parse_args(argv or ["--help"])
    try:
        done: int = args.do(args)
        return done
    except Stop as e:
        print(f"wrackline: {e}", file=sys.stderr)
        return e.exit_code
    except BrokenPipeError:
        sys.stderr.close()
        return FINE


def _parser() -> argparse.ArgumentParser:
    shape = argparse.RawDescriptionHelpFormatter
    parser = argparse.ArgumentParser(prog="wrackline", description=ABOUT, epilog=CODES, formatter_class=shape)
    commands = parser.add_subparsers(title="commands", metavar="COMMAND", dest="command", required=True)

    def command(
        name: str, do: Callable[[argparse.Namespace], int], says: str, folder: bool = True
    ) -> argparse.ArgumentParser:
        made = commands.add_parser(
            name,
            help=says.split(". ", maxsplit=1)[0].rstrip("."),
            description=says,
            epilog=CODES,
            formatter_class=shape,
        )
        if folder:
            made.add_argument(
                "-p",
                "--programme",
                type=Path,
                default=Path(),
                metavar="FOLDER",
                help="the programme's folder (this one if not given)",
            )
        made.add_argument("--json", action="store_true", help="for programs: one JSON text instead of tables")
        if name in ("settle", "dismiss"):
            made.add_argument("--by", required=True, help="who decides")
        if name in ("settle", "dismiss", "withdraw"):
            made.add_argument("--reason", required=True)
        made.set_defaults(do=do)
        return made

    c = command("start", _start, "Make a programme's folder, with a programme.toml to fill in", folder=False)
    c.add_argument("folder", type=Path)
    command("take", _take, "Take in every file of the inboxes that is not known yet. Files stay where they are.")
    c = command(
        "retake",
        _retake,
        "Read kept drops again under their partner's mended mapping. What changes becomes amendments.",
    )
    c.add_argument("--partner", default="", help="only this partner's drops")
    c.add_argument("--drop", default="", help="only the drop whose hash begins so")
    command("measure", _measure, "Bring projection, figures and letters up to what the ledger holds")
    c = command("show", _show, "Show the three answers for every site, or one figure in full")
    c.add_argument("figure", nargs="?", default="", help="a figure's id, or the beginning of it")
    c.add_argument("--all", action="store_true", help="every figure, a line each")
    c = command("home", _home, "Lead a figure home: to every drop, sheet and row it rests on")
    c.add_argument("figure", help="a figure's id, or the beginning of it")
    c = command("evidence", _evidence, "Make a programme of only the rows a figure rests on; it gives the same figure")
    c.add_argument("figure", help="a figure's id, or the beginning of it")
    c.add_argument("folder", type=Path, help="a new folder for it")
    c = command("held", _held, "List what is held, by partner and cause")
    c.add_argument("--rows", action="store_true", help="every held part, with its name")
    command("waiting", _waiting, "List conflicts and questions that wait for a ruling, and what was said")
    c = command("settle", _settle, "Put a ruling on a conflict or question")
    c.add_argument("identity", help="as `waiting` shows it, or the beginning of it")
    c.add_argument("choice", help="what counts, as `waiting` shows it, or the beginning of it; or: none")
    c = command("dismiss", _dismiss, "Close a held part for good")
    c.add_argument("part", help="its name, as `held --rows` shows it")
    c = command("withdraw", _withdraw, "Take an event back in its partner's name. The history stays.")
    c.add_argument("partner")
    c.add_argument("kind")
    c.add_argument("key", help="as `home` shows it")
    command("standing", _standing, "List what waits or carries a caution, and why")
    c = command("verify", _verify, "Look at every byte of the ledger, and at its end")
    c.add_argument("--light", action="store_true", help="names and sizes of files, not their bytes")
    command("rebuild", _rebuild, "Make the projection anew from the ledger alone")
    c = command("columns", _columns, "Print a kind's columns; without a kind, the kinds", folder=False)
    c.add_argument("kind", nargs="?", default="")
    c.add_argument("--table-schema", action="store_true", help="as a Frictionless Table Schema")
    command(
        "catalogue", _catalogue, "Print what each indicator means, how it is made and what it cannot say", folder=False
    )
    c = command(
        "demo", _demo, "Play the demo: an invented programme, from its partners' files to its figures", folder=False
    )
    c.add_argument("folder", type=Path, help="a new folder for it")
    return parser


def _say(args: argparse.Namespace) -> run.Say:
    """Progress for a person at a terminal; silence in a pipe or beside JSON."""
    if args.json or not sys.stderr.isatty():
        return run.silent
    return lambda text: print(f"  {text}", file=sys.stderr)


def _told(args: argparse.Namespace, plain: Any, text: str) -> None:
    print(
        json.dumps(plain, indent=1, sort_keys=True, default=str, ensure_ascii=False) if args.json else text,
        end="\n" if args.json else "",
    )


def _start(args: argparse.Namespace) -> int:
    from pipeline.starter import start

    made = start(args.folder)
    _told(
        args,
        {"made": made},
        f"Made {args.folder}.\n"
        + "".join(f"  {m}\n" for m in made)
        + "Fill in programme.toml, then put files into inbox/<partner>/ and run `wrackline take`.\n",
    )
    return FINE


def _took(args: argparse.Namespace, took: run.TakeIn) -> int:
    from pipeline.outputs import screen

    if took.entries and any(e.drop for e in took.entries):
        text = screen.receipts(took.entries)
    else:
        text = f"Nothing new in {took.looked_at} files.\n"
    _told(
        args, {"looked_at": took.looked_at, "entries": [{"number": e.number, **asdict(e)} for e in took.entries]}, text
    )
    return HELD if took.held else FINE


def _take(args: argparse.Namespace) -> int:
    return _took(args, run.take(args.programme, _say(args)))


def _retake(args: argparse.Namespace) -> int:
    return _took(args, run.retake(args.programme, args.partner, args.drop, _say(args)))


def _measure(args: argparse.Namespace) -> int:
    done = run.refresh(args.programme, _say(args))
    text = f"{done.figures} figures, {len(done.computed)} of them computed anew, {done.letters} letters written. See out/, or `wrackline show`.\n"
    _told(args, asdict(done), text if done.figures else "Figures are as the ledger has them already.\n")
    return FINE


def _find(args: argparse.Namespace) -> "Figure":
    found = [f for f in look.published(args.programme) if args.figure and f.id.startswith(args.figure)]
    if len(found) != 1:
        why = "no figure's id begins so" if not found else f"{len(found)} figures' ids begin so"
        raise BadUsage(f"{args.figure!r}: {why}. `wrackline show --all` lists them.")
    return found[0]


def _show(args: argparse.Namespace) -> int:
    from pipeline.outputs import screen

    figures, as_of = look.published(args.programme), look.published_as_of(args.programme)
    behind = look.behind(args.programme)
    if behind:
        print(f"wrackline: {behind}", file=sys.stderr)
    if args.figure:
        f = _find(args)
        _told(args, _plain(f), screen.one_figure(f, as_of))
    elif args.all:
        rows = [
            [
                f.id,
                f.indicator,
                " ".join(v for _, v in f.scope),
                screen.value_text(f.estimate),
                screen.interval_text(f.estimate),
                f.estimate.unit,
            ]
            for f in figures
        ]
        _told(
            args,
            [_plain(f) for f in figures],
            "\n".join(screen.table(["figure", "indicator", "of", "value", "interval", "unit"], rows, (3, 4))) + "\n",
        )
    else:
        _told(
            args,
            [_plain(f) for f in figures],
            screen.summary(figures, as_of, open_programme(args.programme).rules.name),
        )
    return FINE


def _plain(f: "Figure") -> dict[str, Any]:
    return {"id": f.id, "indicator": f.indicator, **dict(f.scope), **asdict(f.estimate)}


def _home(args: argparse.Namespace) -> int:
    from pipeline.outputs import screen

    homes = look.lead_home(args.programme, _find(args))
    _told(args, [asdict(h) for h in homes], screen.rows_home(homes))
    return FINE


def _evidence(args: argparse.Namespace) -> int:
    figure = _find(args)
    same = look.evidence(args.programme, figure, args.folder)
    told = "the same figure" if same else "ANOTHER figure: please report this"
    _told(args, {"figure": figure.id, "same": same}, f"Made {args.folder} of only those rows; it gives {told}.\n")
    return FINE if same else 1


def _held(args: argparse.Namespace) -> int:
    from pipeline.outputs import screen

    if args.rows:
        parts = look.held_rows(args.programme)
        lines = screen.table(
            ["part", "partner", "file", "row", "kind", "why"],
            [[h.name, h.partner, h.file, str(h.row), h.kind, h.why] for h in parts],
            (3,),
        )
        _told(args, [asdict(h) for h in parts], "\n".join(lines) + "\n")
        return HELD if parts else FINE
    rows = look.held(args.programme)
    names = ("partner", "file", "kind", "column", "why", "for_instance", "parts")
    _told(
        args,
        [dict(zip(names, r, strict=True)) for r in rows],
        screen.held_parts(rows) if rows else "Nothing is held.\n",
    )
    return HELD if rows else FINE


def _waiting(args: argparse.Namespace) -> int:
    from pipeline.outputs import screen

    said = look.waiting(args.programme)
    rows = [[q.identity[:8], q.kind, q.key, q.content[:8], q.said_as, q.partner, q.file, str(q.row)] for q in said]
    names = ("waits", "kind", "key", "said", "as", "partner", "file", "row")
    text = (
        "\n".join(screen.table(names, rows, (7,)))
        + "\n\nTo rule: wrackline settle WAITS SAID --by NAME --reason TEXT\n"
    )
    _told(args, [asdict(q) for q in said], text if rows else "Nothing waits for a ruling.\n")
    return HELD if rows else FINE


def _settle(args: argparse.Namespace) -> int:
    from pipeline.settle import settle

    return _took(args, settle(args.programme, args.identity, args.choice, args.by, args.reason))


def _dismiss(args: argparse.Namespace) -> int:
    from pipeline.settle import dismiss

    return _took(args, dismiss(args.programme, args.part, args.by, args.reason))


def _withdraw(args: argparse.Namespace) -> int:
    from pipeline.settle import withdraw

    return _took(args, withdraw(args.programme, args.partner, args.kind, args.key, args.reason))


def _standing(args: argparse.Namespace) -> int:
    from pipeline.outputs import screen

    rows = look.standing(args.programme)
    names = ("kind", "effect", "rule", "for_instance", "events")
    text = (
        "\n".join(screen.table(names, [[*r[:4], str(r[4])] for r in rows], (4,))) + "\n"
        if rows
        else "Every event stands without caution.\n"
    )
    _told(args, [dict(zip(names, r, strict=True)) for r in rows], text)
    return FINE


def _verify(args: argparse.Namespace) -> int:
    verdict = look.verify(args.programme, args.light, _tick(args))
    lines = [f"Looked at {verdict.entries} entries, {verdict.drops} drops and {verdict.segments} segments."]
    lines += [f"WRONG: {w}" for w in verdict.wrong] + [f"Note: {n}." for n in verdict.notes]
    lines += [] if verdict.wrong else ["The ledger is whole."]
    _told(args, asdict(verdict), "\n".join(lines) + "\n")
    return LedgerDamaged.exit_code if verdict.wrong else FINE


def _tick(args: argparse.Namespace) -> Callable[[int, int], None]:
    """A running count on a terminal."""
    if args.json or not sys.stderr.isatty():
        return lambda *_: None
    return lambda done, of: print(
        f"\r  {done} of {of} files", end="\n" if done == of else "", file=sys.stderr, flush=True
    )


def _rebuild(args: argparse.Namespace) -> int:
    run.project(args.programme, _say(args), rebuild=True)
    _told(args, {"rebuilt": True}, "The projection was made anew.\n")
    return FINE


def _columns(args: argparse.Namespace) -> int:
    from pipeline.outputs import forms, screen
    from schemas.kinds import all_kinds

    kinds = all_kinds()
    if not args.kind:
        rows = [[k.name, " | ".join(k.key), k.doc] for k in kinds.values()]
        _told(
            args,
            {k.name: k.doc for k in kinds.values()},
            "\n".join(screen.table(["kind", "key", "meaning"], rows)) + "\n",
        )
        return FINE
    if args.kind not in kinds:
        raise BadUsage(f"{args.kind!r} is no kind. The kinds are: {', '.join(kinds)}.")
    args.json = args.json or args.table_schema
    _told(args, forms.table_schema(kinds[args.kind]), forms.columns_text(kinds[args.kind]))
    return FINE


def _catalogue(args: argparse.Namespace) -> int:
    from pipeline.indicators.catalogue import CATALOGUE
    from pipeline.outputs import screen

    _told(args, [asdict(i) for i in CATALOGUE.values()], screen.catalogue())
    return FINE


def _demo(args: argparse.Namespace) -> int:
    from pipeline.demo import choose_example, play
    from pipeline.outputs import screen

    nights = play(args.folder, _say(args))
    figures, held = look.published(args.folder), look.held(args.folder)
    if args.json:
        _told(args, {"figures": [_plain(f) for f in figures], "held": held}, "")
        return FINE
    print(screen.nights(nights))
    print(
        f"HELD BY PARTNER, each row waiting for its owner; the letters in {args.folder}/out/letters tell how to mend it\n"
    )
    print(screen.held_parts(held))
    print(screen.summary(figures, look.published_as_of(args.folder), open_programme(args.folder).rules.name))
    example = choose_example(figures)
    if example is not None:
        e, place = (
            example.estimate,
            f"{example.of('site')}, {example.of('plot_kind')} plot, round from {example.of('survey')}",
        )
        print(
            f"WHERE DOES A FIGURE COME FROM?  Recruits at {place}: {screen.value_text(e)} ({screen.interval_text(e)}) per m2."
        )
        print(f"wrackline home {example.id} -p {args.folder}\n")
        print(screen.rows_home(look.lead_home(args.folder, example), limit=8))
    return FINE


if __name__ == "__main__":
    sys.exit(main())
