"""The frame of every page: templates, how a thing's page is called, how a figure is linked and shown."""

import hashlib
import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined

from pipeline.indicators.catalogue import CATALOGUE
from pipeline.indicators.figure import Figure
from pipeline.pages.told import Place, Told
from pipeline.pages.words import Words

BUT = "all but "  # how the phases begin that a sum leaves some out of
OURS = {
    "against", "plot_kind", "stage", "method", "fixing", "phase", "key", "placed", "step", "form", "substrate",
    "category", "material",
}  # fmt: skip
DAYS = {"survey", "since", "cohort", "event", "season"}


@cache
def _templates() -> Environment:
    """Everything that a template prints is escaped: a site may be called <script>."""
    return Environment(
        loader=PackageLoader("pipeline.pages"), autoescape=True, undefined=StrictUndefined, trim_blocks=True,
        lstrip_blocks=True, auto_reload=False,
    )  # fmt: skip


def file_name(key: str) -> str:
    """A name that every disk takes and no two keys share: letters and digits of the key, and its hash unless it is
    plain capitals and digits."""
    clean = re.sub(r"[^A-Za-z0-9-]+", "-", key).strip("-")[:40]
    if clean == key and (key.isupper() or key.isdigit()):
        return clean
    return f"{clean or 'x'}-{hashlib.sha256(key.encode()).hexdigest()[:6]}"


def title_of(f: Figure) -> str:
    """What a figure is a value of."""
    return CATALOGUE[f.indicator].title


@dataclass(frozen=True)
class Shell:
    """What every page needs: the values told, the language, and which of the two builds it is for."""

    told: Told
    words: Words
    public: bool

    def figures_page(self, f: Figure) -> str:
        """The page that tells of a figure in full, beside others of its site, topic and round."""
        of = f.of("site") or "all"
        topic = self.told.topics.get(f.indicator, "figures").replace("_", "-")
        parts = [file_name(of) if of != "all" else "all", topic, f.of("survey") or f.of("season")]
        return "figures/" + "_".join(p for p in parts if p) + ".html"

    def link(self, f: Figure, root: str) -> str:
        """The way to a figure from a page whose way to the first page is `root`."""
        return f"{root}{self.figures_page(f)}#f-{f.id}"

    def site_page(self, key: str) -> str:
        """A site's page."""
        return f"sites/{file_name(key)}.html"

    def name_of(self, key: str) -> str:
        """The file of a partner's page."""
        return f"{file_name(key)}.html"

    def anchor(self, name: str) -> str:
        """Where a name stands within a page."""
        return "n-" + file_name(name)

    def degrees(self, place: Place) -> tuple[str, str]:
        """Latitude and longitude in degrees, to a metre, or as coarse as the place is blurred for the public."""
        step = place.blur.partition(".")[2] if self.public and place.blur != "none" else "0000"
        return f"{place.latitude:.{len(step) + 1}f}", f"{place.longitude:.{len(step) + 1}f}"

    def has_page(self, partner: str) -> bool:
        """Whether a partner has a page of its own; the programme has none."""
        return any(p.name == partner for p in self.told.partners)

    def title_of(self, f: Figure) -> str:
        """See `title_of`."""
        return title_of(f)

    def scope_words(self, f: Figure) -> list[tuple[str, str]]:
        """What a figure is of: names and values as people read them."""
        return [(self.words(k.replace("_", " ")), self.value_of(k, v)) for k, v in f.scope]

    def topic_of(self, f: Figure) -> str:
        """The topic of a figure in words."""
        return self.words(self.told.topics.get(f.indicator, "figures").replace("_", " "))

    def value_of(self, what: str, value: str) -> str:
        """One of the values that tell figures apart: words of ours in this language, days as written there, names as they are."""
        if value == "all":
            return self.words("all sites") if what == "site" else self.words("all")
        if value.startswith(BUT):
            return self.words("all but {phases}", phases=", ".join(map(self.words, value[len(BUT) :].split(", "))))
        if what in DAYS:
            return self.words.when(value)
        return self.words(value) if what in OURS else value

    def page(self, template: str, path: str, **values: Any) -> bytes:
        """A page's bytes."""
        root = "../" * path.count("/")
        text = (
            _templates()
            .get_template(template)
            .render(
                told=self.told,
                _=self.words,
                w=self.words,
                public=self.public,
                root=root,
                shell=self,
                path=path,
                **values,
            )
        )
        return text.encode()

    def style(self) -> str:
        """The style sheet, for pages that carry it in themselves."""
        return _templates().get_template("style.css").render()


def in_order(figures: Iterable[Figure]) -> list[Figure]:
    """Figures as a reader looks for them: by title, then by what they are of, days in order."""
    return sorted(figures, key=lambda f: (title_of(f), int(f.of("day") or 0), f.scope))
