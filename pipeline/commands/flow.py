"""Commands that move a programme on: start, take, retake, measure, rebuild, and the demo."""

import argparse
import sys
from dataclasses import asdict
from pathlib import Path

from pipeline import look, run
from pipeline.commands.common import FINE, Adder, day_named, plain_figure, say, told, took, width
from pipeline.errors import BadUsage
from pipeline.plural import n_of
from pipeline.programme import open_programme


def add(command: Adder) -> None:
    """Register them."""
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
    c = command("measure", _measure, "Bring projection, figures and letters up to what the ledger holds")
    c.add_argument(
        "--engine",
        choices=("duckdb", "spark"),
        default="duckdb",
        help="spark: measure on Spark, without a projection, and write the figures alone, into out/spark; nothing is published",
    )
    c.add_argument(
        "--segments",
        default="",
        metavar="ADDRESS",
        help="where Spark reads a copy of ledger/segments, such as s3a://bucket/segments",
    )
    c.add_argument(
        "--into", type=Path, metavar="FOLDER", help="where Spark's figures are written, instead of out/spark"
    )
    command("rebuild", _rebuild, "Make the projection anew from the ledger alone")
    c = command("pages", _pages, "Write out/pages: a site of pages that opens from disk, for inside and for the public")
    c.add_argument("--public", action="store_true", help="only the public pages: blurred, coded, without rows")
    c.add_argument("--language", default="en", metavar="CODE", help="en (if not given), es, pt, fr or nb")
    c.add_argument(
        "--day", default="", help="tell what was due on that day, such as 2025-04-18, on the inside pages alone"
    )
    c = command(
        "demo", _demo, "Play the demo: an invented programme, from its partners' files to its figures", folder=False
    )
    c.add_argument("folder", type=Path, help="a new folder for it")


def _start(args: argparse.Namespace) -> int:
    from pipeline.starter import start

    made = start(args.folder)
    told(
        args,
        {"made": made},
        f"Made {args.folder}.\n"
        + "".join(f"  {m}\n" for m in made)
        + "Fill in programme.toml, then put files into inbox/<partner>/ and run `wrackline take`.\n",
    )
    return FINE


def _take(args: argparse.Namespace) -> int:
    return took(args, run.take(args.programme, say(args)))


def _retake(args: argparse.Namespace) -> int:
    return took(args, run.retake(args.programme, args.partner, args.drop, say(args)))


def _measure(args: argparse.Namespace) -> int:
    if args.engine == "spark":
        return _measure_on_spark(args)
    if args.segments or args.into:
        raise BadUsage("--segments and --into are told to Spark: add `--engine spark`.")
    done = run.refresh(args.programme, say(args))
    from pipeline.indicators.remember import in_short

    text = f"{n_of(done.figures, 'figure')}, {in_short(done.computed)}; {n_of(done.letters, 'letter')} written. See out/, or `wrackline show`.\n"
    told(args, asdict(done), text if done.figures else "Figures are as the ledger has them already.\n")
    return FINE


def _measure_on_spark(args: argparse.Namespace) -> int:
    from pipeline.on_spark import measure_on_spark

    done = measure_on_spark(args.programme, say(args), args.segments, args.into)
    text = (
        f"{n_of(done.figures, 'figure')} by Spark as of {done.as_of}, up to entry {done.entry} of the ledger. "
        f"See {done.folder}; nothing is published.\n"
    )
    told(args, asdict(done), text)
    return FINE


def _rebuild(args: argparse.Namespace) -> int:
    run.project(args.programme, say(args), rebuild=True)
    told(args, {"rebuilt": True}, "The projection was made anew.\n")
    return FINE


def _pages(args: argparse.Namespace) -> int:
    behind = look.behind(args.programme)
    if behind:
        print(f"wrackline: {behind}", file=sys.stderr)
    day = day_named(args.day)
    if day and args.public:
        raise BadUsage("The public pages tell of today alone: leave --day or --public out.")
    made = run.pages(
        args.programme, say(args), args.language, "public" if args.public else "inside" if day else "", day
    )
    text = f"{n_of(made.files, 'file')} in out/pages, {made.written} written anew, {made.removed} taken away. Open out/pages/{'public' if args.public else 'inside'}/index.html.\n"
    text += f"No public pages: {'; '.join(made.kept_back)}.\n" if made.kept_back else ""
    if made.words:
        quoted = ", ".join(f"“{w}”" for w in made.words)
        text += f"Left out of the public pages, since nobody agreed to these words under [publishing]: figures of {quoted}.\n"
    told(args, asdict(made), text)
    return FINE


def _demo(args: argparse.Namespace) -> int:
    from pipeline.demo import choose_example, play
    from pipeline.outputs import screen
    from pipeline.outputs.layout import interval_text, value_text
    from pipeline.outputs.summary import summary

    nights = play(args.folder, say(args))
    (figures, as_of), held = look.figures(args.folder), look.held(args.folder)
    if args.json:
        told(args, {"figures": [plain_figure(f) for f in figures], "held": [asdict(h) for h in held]}, "")
        return FINE
    wide = width()
    print(screen.nights(nights, wide))
    print("HELD BY PARTNER, each row waiting for its owner\n")
    print(screen.held_causes(held, wide))
    print(summary(figures, as_of, open_programme(args.folder).rules.name, look.sites(args.folder), wide))
    example = choose_example(figures)
    if example is not None:
        e, place = (
            example.estimate,
            f"{example.of('site')}, {example.of('plot_kind')} plot, round from {example.of('survey')}",
        )
        print(f"WHERE DOES A FIGURE COME FROM?  Recruits at {place}: {value_text(e)} ({interval_text(e)}) per m2.")
        print(f"wrackline home {example.id} -p {args.folder}\n")
        print(screen.rows_home(look.lead_home(args.folder, example), limit=8, width=wide))
    return FINE
