"""What a partner's page says beside what is open: what it gave, how complete and how soon, and how its reports compare."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from pipeline.indicators.estimate import Estimate


@dataclass(frozen=True)
class Looks:
    """Looks at units known to be there, in rounds in which this partner and others looked at one site.

    mine, others: the share that called them missing; others are all of them together. mine_seen_by_others,
    mine_seen_again: units that this partner did not find and others, or itself, saw later; others_seen_by_mine: the reverse.
    """

    mine: Estimate
    others: Estimate
    mine_seen_by_others: int = 0
    mine_seen_again: int = 0
    others_seen_by_mine: int = 0


@dataclass(frozen=True)
class Compared:
    """Counts of one species and stage in one plot and round: this partner's density over that of all others there."""

    site: str
    plot: str
    round_on: dt.date
    species: str
    stage: str
    mine: int
    others: int
    ratio: Estimate


@dataclass(frozen=True)
class Given:
    """Of one partner. Rows are counted once a file, however often it was read.

    mended_days: the middle of the days from a row's being held to its being taken in. filled: of each kind its statements,
    the columns this partner uses, and the share of their cells that are filled. delay: middle, least and most days from
    what happened to its file. rhythm: asked for every so many days, since when, the longest time between two files.
    """

    rows: int = 0
    taken: int = 0
    held: int = 0
    still_open: int = 0
    mended_days: float | None = None
    statements: int = 0
    remarked: Sequence[tuple[str, int]] = ()
    dives: int = 0
    dives_told: int = 0
    dives_seen: int = 0
    filled: Sequence[tuple[str, int, int, float]] = ()
    delay: tuple[float, int, int] | None = None
    rhythm: tuple[int, dt.date, int] | None = None
    looks: Looks | None = None
    counts: Sequence[Compared] = ()
