"""What a page is made of: frozen values that the joiner fills from the session's views and the published figures."""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

from pipeline.indicators.figure import Figure
from pipeline.pages.given import Given


@dataclass(frozen=True)
class Place:
    """A position on WGS 84 in degrees, how far off it may be in metres, and how it is blurred when published."""

    latitude: float
    longitude: float
    uncertainty_m: float | None = None
    blur: str = "none"


@dataclass(frozen=True)
class Strip:
    """Land: cells side by side of one row of a mask, in degrees; west may lie beyond 180."""

    south: float
    north: float
    west: float
    east: float


@dataclass(frozen=True)
class Plot:
    """A part of a site as registered; area in m2."""

    key: str
    kind: str
    area_m2: float
    paired_with: str = ""
    control_kind: str = ""
    assigned_by: str = ""
    depth_m: float | None = None
    substrate: str = ""


@dataclass(frozen=True)
class Unit:
    """One unit or lot put down, and the last that was seen of it.

    gone_by: the day, counted from putting down, by which it was found gone; None where it never was: an absence after
    a weak search, such as in bad visibility, does not make it gone.
    """

    key: str
    method: str
    plot: str
    fixing: str
    down_on: dt.date
    pieces: int
    place: Place | None
    depth_m: float | None
    last_state: str
    last_on: dt.date | None
    gone_by: int | None = None
    retrieve_by: dt.date | None = None

    @property
    def may_be_there(self) -> bool:
        """Whether nobody found it gone or brought it home."""
        return self.gone_by is None and self.last_state != "retrieved"


@dataclass(frozen=True)
class Happening:
    """One line of a site's timeline: a day, what was done, and what came of it in words.

    aside: what stays inside: reasons in a partner's own words, keys of units.
    """

    day: dt.date
    what: str
    told: str
    partner: str = ""
    aside: str = ""


@dataclass(frozen=True)
class Visit:
    """How a site was found, or not, on one day."""

    day: dt.date
    outcome: str
    why: str
    visibility_m: float | None
    marks: str = ""


@dataclass(frozen=True)
class FrameCount:
    """Plants of one species and stage in one frame; area in m2."""

    round_on: dt.date
    plot_kind: str
    plot: str
    species: str
    stage: str
    protocol: str
    near_units: bool
    count: int
    area_m2: float


@dataclass(frozen=True)
class Curve:
    """Turnbull's curve of one method: mass of being lost in (q, p], p infinite where it never was seen to go."""

    method: str
    q: tuple[float, ...]
    p: tuple[float, ...]
    mass: tuple[float, ...]
    units: int


@dataclass(frozen=True)
class Warm:
    """One day of one logger: mean temperature in degC."""

    logger: str
    day: dt.date
    mean: float


@dataclass(frozen=True)
class Due:
    """What is wanted by a day: a check, a survey, gear brought home, a report, a partner's file; the figure that says so.

    when: "overdue", "soon" (in the month from tonight on) or "later"; a page of one site need not know tonight's date.
    short: the same where there is little room, if it can be said in fewer words.
    """

    day: dt.date
    site: str
    what: str
    told: str
    figure: str = ""
    when: str = "later"
    short: str = ""


@dataclass(frozen=True)
class Row:
    """One row of one drop that said an event: what it is, what it says, where it stands."""

    identity: str
    kind: str
    key: str
    says: str
    partner: str
    file: str
    sheet: str
    row: int
    receipt: int


@dataclass(frozen=True)
class Span:
    """Rows of one file that a figure rests on: how many they are, and from which to which in every run of them."""

    partner: str
    file: str
    sheet: str
    receipt: int
    count: int
    runs: tuple[tuple[int, int], ...]


def runs_of(numbers: Iterable[int]) -> tuple[tuple[int, int], ...]:
    """Numbers as runs, each from its first to its last, in order."""
    runs: list[tuple[int, int]] = []
    for n in sorted(set(numbers)):
        if runs and n == runs[-1][1] + 1:
            runs[-1] = (runs[-1][0], n)
        else:
            runs.append((n, n))
    return tuple(runs)


@dataclass(frozen=True)
class Behind:
    """What stands behind some figures: rows by their place in order, of each figure (by its id) its own places, and files of very many."""

    rows: Mapping[int, Row] = field(default_factory=dict)
    places: Mapping[str, tuple[int, ...]] = field(default_factory=dict)
    spans: Mapping[str, Sequence[Span]] = field(default_factory=dict)


@dataclass(frozen=True)
class Site:
    """A site as registered, with everything that was told of it."""

    key: str
    name: str
    place: Place | None
    radius_m: float
    country: str = ""
    habitat: str = ""
    marks: str = ""
    depth: str = ""
    depth_datum: str = ""
    not_found_since: dt.date | None = None
    plots: Sequence[Plot] = ()
    units: Sequence[Unit] = ()
    visits: Sequence[Visit] = ()
    happenings: Sequence[Happening] = ()
    frames: Sequence[FrameCount] = ()
    curves: Sequence[Curve] = ()
    warmth: Sequence[Warm] = ()
    media: Sequence[tuple[dt.date, str]] = ()
    losses: Sequence[tuple[str, int]] = ()


@dataclass(frozen=True)
class Bed:
    """A donor bed and its newest estimate."""

    key: str
    species: str
    place: Place | None
    estimated_on: dt.date
    estimate: str
    limit: str
    cuttings: Sequence[Happening] = ()


@dataclass(frozen=True)
class Partner:
    """What one partner brought, and what of it is open. words: (sort, how many rows), in order.

    held: file, rows, and why by language.
    """

    name: str
    drops: Sequence[tuple[int, dt.date, str]]
    rows: Sequence[tuple[str, int]]
    sites: Sequence[str]
    held: Sequence[tuple[str, int, Mapping[str, str]]]
    waiting: int
    given: Given = field(default_factory=Given)


@dataclass(frozen=True)
class Permit:
    """A permit as its paper states it."""

    key: str
    authority: str
    activity: str
    valid_from: dt.date
    valid_to: dt.date
    report_due: dt.date | None


@dataclass(frozen=True)
class Arrived:
    """One entry of the last night: a drop with what became of its rows, or what else was written down."""

    number: int
    on: dt.date
    partner: str
    name: str
    entered: int
    amended: int
    held: int


@dataclass(frozen=True)
class Moved:
    """A figure that is another than at the last building: its texts of then and of now."""

    figure: str
    before: str
    now: str


@dataclass(frozen=True)
class Target:
    """What a protocol searches for."""

    protocol: str
    frame: str
    placement: str
    species: str
    stages: tuple[str, ...]
    smallest_cm: str


@dataclass(frozen=True)
class Told:
    """All that pages are made of. trial_below_m2: under this area a price is a trial's. stages: length rules in words.

    as_of: the last day anything is told of, None where nothing is. today: the day whose night it is. species: whose recruits are
    shown. land: of the map of sites, None where none is drawn. receipt: 0 on pages that do not speak of the whole ledger.
    behind: on a page that tells figures in full, nothing elsewhere.
    """

    name: str
    as_of: dt.date | None
    receipt: int
    currency: str
    trial_below_m2: float
    retention_days: tuple[int, ...]
    figures: Sequence[Figure]
    topics: Mapping[str, str]
    sites: Sequence[Site]
    beds: Sequence[Bed] = ()
    partners: Sequence[Partner] = ()
    permits: Sequence[Permit] = ()
    due: Sequence[Due] = ()
    arrived: Sequence[Arrived] = ()
    moved: Sequence[Moved] = ()
    targets: Sequence[Target] = ()
    stages: Sequence[str] = ()
    held: int = 0
    waiting: int = 0
    behind: Behind = field(default_factory=Behind)
    species: str = ""
    today: dt.date = dt.date.min
    land: Sequence[Strip] | None = None

    @cached_property
    def by_site(self) -> dict[str, list[Figure]]:
        """Figures by the site they are of, "all" for those over sites, "" for those of no site."""
        found: dict[str, list[Figure]] = {}
        for f in self.figures:
            found.setdefault(f.of("site"), []).append(f)
        return found

    @cached_property
    def due_at(self) -> dict[str, list[Due]]:
        """What is due by site, "" for what is of none."""
        found: dict[str, list[Due]] = {}
        for d in self.due:
            found.setdefault(d.site, []).append(d)
        return found

    @cached_property
    def by_id(self) -> dict[str, Figure]:
        """Figures by their id."""
        return {f.id: f for f in self.figures}


def species_shown(figures: Sequence[Figure]) -> str:
    """The species that recruits are shown of: the one with most densities of recruits, the first by name among equals."""
    counts: dict[str, int] = {}
    for f in figures:
        if f.indicator == "density" and f.of("stage") == "recruit":
            counts[f.of("species")] = counts.get(f.of("species"), 0) + 1
    return min(counts, key=lambda s: (-counts[s], s), default="")
