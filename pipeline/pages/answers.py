"""The three answers of one site: did kelp come, did the units hold, what did a hectare cost. Chosen from its figures."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from pipeline.indicators.figure import Figure
from pipeline.pages.charts import Shown, shown
from pipeline.pages.told import Curve, Site, Told
from pipeline.pages.words import Words

KINDS = ("treated", "control", "reference")


@dataclass(frozen=True)
class Came:
    """Recruits at a site's last round: a density for each kind of plot, the difference, and what may be said of it.

    elsewhere: the density of the reference at another site that this one is held against; a page of one site has none.
    """

    survey: str
    densities: Sequence[tuple[str, Figure]]
    difference: Figure | None
    of_reference: Figure | None
    verdicts: Sequence[tuple[str, str, Figure]]
    said: str
    why: str
    elsewhere: Figure | None = None

    def lines(self, words: Words) -> list[Shown]:
        """The lines of the chart."""
        told = [shown(kind, words(kind), f.estimate) for kind, f in self.densities]
        if self.elsewhere is not None:
            told.append(shown("reference", words("reference"), self.elsewhere.estimate))
        if self.difference is not None:
            told.append(shown("difference", words("treated minus control"), self.difference.estimate))
        return told


@dataclass(frozen=True)
class Held:
    """Whether units held: the curve of the method with most units, and its figures at the programme's days."""

    curve: Curve | None
    figures: Sequence[Figure]


@dataclass(frozen=True)
class Price:
    """What was paid: area first, then all in all, then a hectare."""

    area: Figure | None
    in_all: Figure | None
    per_hectare: Figure | None
    trial: bool


def newest(figures: Iterable[Figure]) -> Figure | None:
    """The one of the last survey; of several protocols the one with most frames."""
    return max(figures, key=lambda f: (f.of("survey"), f.estimate.n, f.id), default=None)


def came(told: Told, site: str, words: Words) -> Came | None:
    """The first answer; None when no recruit was ever looked for in treated plots there."""
    mine = [f for f in told.by_site.get(site, []) if f.of("stage") == "recruit" and f.of("species") == told.species]
    density = [f for f in mine if f.indicator == "density"]
    last = newest(f for f in density if f.of("plot_kind") == "treated")
    if last is None:
        return None
    survey, protocol = last.of("survey"), last.of("protocol")
    here = [f for f in mine if f.of("survey") == survey and f.of("protocol") == protocol]
    kinds = [(k, f) for k in KINDS for f in here if f.indicator == "density" and f.of("plot_kind") == k]
    difference = next((f for f in here if f.indicator == "treated minus control"), None)
    reference = next((f for f in here if f.indicator == "treated over reference"), None)
    said, why = comparison(difference, words)
    far = None
    if reference is not None and all(kind != "reference" for kind, _f in kinds):
        far = newest(f for f in told.by_site.get(reference.of("against"), []) if _same_count(f, last, "reference"))
    return Came(survey, kinds, difference, reference, verdicts(told, site, words), said, why, far)


def _same_count(f: Figure, like: Figure, plot_kind: str) -> bool:
    """Whether it is a density of the same plants under the same protocol, in that kind of plot."""
    same = all(f.of(what) == like.of(what) for what in ("species", "stage", "protocol"))
    return f.indicator == "density" and f.of("plot_kind") == plot_kind and same


def comparison(difference: Figure | None, words: Words) -> tuple[str, str]:
    """What the difference's interval allows one to say, and why where that is nothing."""
    if difference is None:
        return words("cannot tell"), words("no control plot was counted beside it")
    e = difference.estimate
    if e.low is None or e.high is None:
        return words("cannot tell"), words.again(e.note)
    if e.low > 0:
        return words("more than in control"), ""
    if e.high < 0:
        return words("less than in control"), ""
    return words("cannot tell"), words("the interval of the difference holds 0")


def verdicts(told: Told, site: str, words: Words) -> list[tuple[str, str, Figure]]:
    """Of every rule of success its last verdict there: the rule, met / not met / cannot tell, and the figure."""
    last: dict[tuple[str, str, str], Figure] = {}
    for f in told.by_site.get(site, []):
        if f.indicator == "success rule":
            key = (f.of("rule"), f.of("species"), f.of("stage"))
            last[key] = max(last.get(key, f), f, key=lambda g: (g.of("survey"), g.id))
    return [(key[0], words(verdict(f)), f) for key, f in sorted(last.items())]


def verdict(f: Figure) -> str:
    """The words that a verdict's note begins with."""
    note = f.estimate.note
    return next((v for v in ("not met", "met", "cannot tell") if note.startswith(v)), "cannot tell")


def by_rule(told: Told, sites: Iterable[str], words: Words) -> list[tuple[str, list[Figure]]]:
    """Of every rule of success a sentence that names the sites by their last verdict, and the figures it rests on."""
    found: dict[str, list[tuple[str, str, Figure]]] = {}
    for key in sites:
        for rule, said, f in verdicts(told, key, words):
            found.setdefault(rule, []).append((said, key, f))
    made = []
    for rule, each in sorted(found.items()):
        parts = [
            f"{word} ({', '.join(keys)})"
            for word in (words("met"), words("not met"), words("cannot tell"))
            if (keys := [k for said, k, _ in each if said == word])
        ]
        made.append(
            (words("The programme's rule “{rule}”: {verdicts}.", rule=rule, verdicts=words("; ").join(parts)), [f for *_, f in each])
        )  # fmt: skip
    return made


def beside(told: Told, site: Site, words: Words) -> list[tuple[str, Figure | None]]:
    """What stands beside a site's answers, each with its figure if there is one. None of it is called a cause."""
    found: list[tuple[str, Figure | None]] = []
    if site.not_found_since:
        found.append((words("not found since {day}", day=words.day(site.not_found_since)), None))
    mine = told.by_site.get(site.key, [])
    half = max(
        (f for f in mine if f.indicator == "day half are gone"), key=lambda f: (f.estimate.n, f.id), default=None
    )
    if half is not None and half.estimate.state != "not estimable":
        text = words(
            "day by which half of the units were gone ({method}): {day}",
            method=words(half.of("method")),
            day=words.value(half.estimate),
        )
        found.append((text, half))
    for f in _last_of_each(f for f in mine if f.indicator == "grazers"):
        said = next((s for s in ("above", "below") if f.estimate.note.startswith(s)), "cannot tell")
        text = words("grazers ({species}, {plots} plots) against the programme's limit: {said}", species=f.of("species"),
                     plots=words(f.of("plot_kind")), said=words(said))  # fmt: skip
        found.append((text, f))
    for f in mine:
        e = f.estimate
        if f.indicator == "days above limit" and (e.value or e.value_to):
            limit = f.of("rule").removeprefix("above ").removesuffix(" degC")
            text = words(
                "days above {limit} °C in {season}: {n}",
                limit=limit,
                season=words.when(f.of("season")),
                n=words.value(e),
            )
            found.append((text, f))
    if site.losses:
        told_lost = ", ".join(f"{words(cause)} {n}" for cause, n in site.losses)
        found.append(
            (words("units told to be lost, by what their partners think took them: {losses}", losses=told_lost), None)
        )
    return found


def _last_of_each(figures: Iterable[Figure]) -> list[Figure]:
    """Of figures of one species and kind of plot the one of the last survey, treated plots before the others."""
    last: dict[tuple[str, str], Figure] = {}
    for f in figures:
        key = (f.of("species"), f.of("plot_kind"))
        last[key] = max(last.get(key, f), f, key=lambda g: (g.of("survey"), g.id))
    return [last[k] for k in sorted(last, key=lambda k: (k[0], KINDS.index(k[1]) if k[1] in KINDS else len(KINDS)))]


def fixing(code: str, words: Words) -> str:
    """A fixing as it stands in a chart or sentence: a code that says there is none is told in words."""
    return words("without a fixing") if code == "none" else words(code)


def held(told: Told, site: Site | None, key: str) -> Held:
    """The second answer, of the method with most units that were looked for; site None for all of them."""
    name = "unit retention" if key != "all" else "unit retention over sites"
    mine = [f for f in told.by_site.get(key, []) if f.indicator == name]
    most = max(mine, key=lambda f: (f.estimate.n, f.of("method")), default=None)
    if most is None:
        return Held(None, [])
    method = most.of("method")
    curve = next((c for c in site.curves if c.method == method), None) if site else None
    return Held(curve, sorted((f for f in mine if f.of("method") == method), key=lambda f: int(f.of("day"))))


def price(told: Told, site: str) -> Price:
    """The third answer: cash alone. Gifts in kind and hours stand beside it, never added."""
    mine = told.by_site.get(site, [])
    plain = {f.indicator: f for f in mine if len(f.scope) == 1}
    per_hectare = plain.get("cash per hectare")
    cautions = per_hectare.estimate.cautions if per_hectare else ()
    return Price(
        plain.get("treated area"), plain.get("cash in all"), per_hectare,
        any(c.startswith("trial cost") for c in cautions),
    )  # fmt: skip


def bands(figures: Sequence[Figure]) -> list[tuple[int, float, float]]:
    """The limits at the programme's days."""
    return [
        (int(f.of("day")), f.estimate.low, f.estimate.high)
        for f in figures if f.estimate.low is not None and f.estimate.high is not None
    ]  # fmt: skip
