"""Programmes played night by night from stored seeds, once a test run, with what each night published kept beside.

Tests that only look share them; a test that goes on with one takes a copy.
"""

import shutil
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path

import kept
import pytest
from sayings import seeded
from worlds import Night, World, hand_in, lay_out, quarrel, ruling_on, troubled_world_of

import pipeline.examine
from pipeline import run
from pipeline.ledger.entry import Entry
from pipeline.ledger.staging import Staged

OUTPUTS = ("figures.parquet", "indicators.csv")


def outputs(root: Path) -> dict[str, bytes]:
    """What is published, byte for byte."""
    return {name: (root / "out" / name).read_bytes() for name in OUTPUTS}


def play(root: Path, night: Night) -> list[Entry]:
    """Bring in what one night brings, rulings on what is held by then included; gives the entries."""
    if night.rules:
        (root / "programme.toml").write_text(night.rules, encoding="utf-8")
    hand_in(root, night.files)
    parts = kept.read(root / "ledger").parts if night.rulings else []
    held = sorted({p["identity"] for p in parts if p["fate"] in ("conflict", "question")})
    for nth, (which, answer) in enumerate(night.rulings if held else ()):
        settles = held[which % len(held)]
        said = [*sorted({p["content"] for p in parts if p["identity"] == settles and p["fate"] != "faulty"}), "none"]
        path = root / "inbox" / "programme" / f"ruling-{nth}.csv"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(ruling_on(settles, said[answer % len(said)]))
    return run.take(root).entries


@dataclass
class Journey:
    """A played programme: its folder; of each night its entries, the last entry's number and what was published."""

    root: Path
    world: World
    taken: list[list[Entry]] = field(default_factory=list)
    heads: list[int] = field(default_factory=list)
    published: list[dict[str, bytes]] = field(default_factory=list)


def journey(root: Path, world: World) -> Journey:
    """Play a world in that folder, everything brought up to date each night."""
    made = Journey(lay_out(root, world), world)
    for night in world.nights:
        made.taken.append(play(root, night))
        run.refresh(root)
        made.heads.append(run.open_ledger(run.open_programme(root).places).last_number())
        made.published.append(outputs(root))
    return made


class Journeys:
    """Journeys by seed (or "quarrel", the drawn one), each played when it is first asked for."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.played = folder, dict[int | str, Journey]()

    def of(self, which: int | str) -> Journey:
        """The journey of that seed; not to be changed."""
        if which not in self.played:
            world = quarrel() if which == "quarrel" else troubled_world_of(seeded(int(which), crowd=3))
            self.played[which] = journey(self.folder / f"programme-{which}", world)
        return self.played[which]

    @contextmanager
    def copy(self, which: int | str) -> Iterator[Path]:
        """A copy of that journey's programme, to go on with."""
        with tempfile.TemporaryDirectory() as folder:
            yield Path(shutil.copytree(self.of(which).root, Path(folder) / "programme"))


@contextmanager
def each_file_examined_once() -> Iterator[None]:
    """Keep what examining a file gave and give it again for the same bytes, name and mapping.

    Examining takes nothing else, so a world that is played twice need not wait for it twice.
    """
    examine, kept = pipeline.examine.examine, dict[tuple[str, ...], tuple[Staged, dict[str, bytes]]]()

    def again(path: Path, blank: Staged, *rest: object) -> Staged:
        asked = (blank.partner, blank.drop, blank.name, blank.used)
        if asked not in kept:
            done = examine(path, blank, *rest)
            kept[asked] = (done, {f.name: f.read_bytes() for f in done.folder.glob("*.parquet")})
            return done
        done, files = kept[asked]
        for name, data in files.items():
            (blank.folder / name).write_bytes(data)
        return replace(done, folder=blank.folder, retaken=blank.retaken)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(pipeline.examine, "examine", again)
        yield
