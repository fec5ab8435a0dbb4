"""The demo: an invented programme's files arrive over some nights, as partners' files do, and become figures."""

import shutil
from pathlib import Path

import seeds_demo
from pipeline import run
from pipeline.errors import BadUsage
from pipeline.indicators.figure import Figure
from pipeline.ledger.entry import Entry

FILES = Path(seeds_demo.__file__).parent / "files"


def play(folder: Path, say: run.Say = run.silent, files: Path = FILES) -> list[tuple[str, list[Entry]]]:
    """Make `folder` anew and play every night of `files` in it: gives what each night's take-in did.

    Before the last night's figures the mended mappings are put in place and the drops read under the wrong ones
    are taken again. BadUsage when the folder holds anything but an earlier demo.
    """
    if folder.exists() and any(folder.iterdir()):
        if not (folder / "demo").is_file():
            raise BadUsage(f"{folder} is not empty and no earlier demo. Name a new folder.")
        shutil.rmtree(folder)
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "demo").write_text("Made by `wrackline demo`; it may be made anew at any time.\n")
    for name in ("programme.toml", "people.toml"):
        shutil.copyfile(files / name, folder / name)
    shutil.copytree(files / "partners", folder / "partners")
    nights = []
    for night in sorted(p for p in files.iterdir() if p.name.startswith("night-")):
        shutil.copytree(night, folder / "inbox", dirs_exist_ok=True)
        say(night.name)
        nights.append((night.name, run.take(folder, say).entries))
    mended = files / "mended"
    if mended.is_dir():
        shutil.copytree(mended, folder / "partners", dirs_exist_ok=True)
        say("reading again under mended mappings")
        nights.append(("mended mapping", run.retake(folder, say=say).entries))
    run.refresh(folder, say)
    return nights


def choose_example(figures: list[Figure]) -> Figure | None:
    """A figure to lead home for the newcomer: the last treated density of recruits that has an interval."""
    fit = [
        f for f in figures
        if f.indicator == "density" and f.of("plot_kind") == "treated" and f.of("stage") == "recruit" and f.estimate.low
    ]  # fmt: skip
    return max(fit, key=lambda f: f.of("survey"), default=None)
