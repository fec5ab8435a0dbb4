"""All files of a site of pages, one after the other, so that a thousand sites need no more memory than one."""

from collections import defaultdict
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache, partial
from hashlib import sha256
from importlib.metadata import version
from pathlib import Path

from pipeline.indicators.figure import Figure
from pipeline.pages.dive_sheet import dive_sheet, gpx
from pipeline.pages.figures_page import figures_page
from pipeline.pages.narrow import of_figures, of_site
from pipeline.pages.other_pages import other_pages
from pipeline.pages.partner_page import partner_pages
from pipeline.pages.programme_page import programme_pages
from pipeline.pages.report_page import report_page
from pipeline.pages.shell import Shell, file_name
from pipeline.pages.site_page import site_page
from pipeline.pages.told import Behind, Place, Told
from pipeline.pages.visible import visible
from pipeline.pages.words import Words

CODE = ("pages", "indicators/catalogue", "tongue.py")  # what, beside its values, a page is made by
LIBRARIES = ("jinja2", "babel", "pyproj")
AT_ONCE = 100  # pages of figures of which the rows behind are fetched together


@dataclass(frozen=True)
class File:
    """One file: its path within the folder, the hash of all that goes into it ("": not told), and how it is made."""

    path: str
    made_of: str
    make: Callable[[], bytes]


def pages(
    told: Told,
    words: Words,
    shown: Mapping[str, tuple[Place, str]] | None = None,
    agreed: Collection[str] = (),
    behind: Callable[[Sequence[Figure]], Behind] = lambda _: Behind(),
) -> Iterator[File]:
    """Every file. shown, agreed: for public pages, the places that may be seen and partners' words that may be read (see `visible`).

    behind: gives what stands behind figures, of some pages at a time; public pages tell of no rows.
    """
    public = shown is not None
    shell = Shell(told if shown is None else visible(told, shown, words=agreed), words, public)
    yield File("style.css", "", lambda: shell.style().encode())
    for path, data in programme_pages(shell):
        yield File(path, "", partial(bytes, data))
    yield File("report.html", "", partial(report_page, shell))
    for path, data in other_pages(shell):
        yield File(path, "", partial(bytes, data))
    for site in shell.told.sites:
        mine = replace(shell, told=of_site(shell.told, site))
        made_of, name = _hash(mine), file_name(site.key)
        yield File(shell.site_page(site.key), made_of, partial(site_page, mine, site))
        if not public:
            yield File(f"dives/{name}.html", made_of, partial(dive_sheet, mine, site))
            if site.place is not None:
                yield File(f"dives/{name}.gpx", made_of, partial(gpx, mine, site))
    if not public:
        for path, data in partner_pages(shell):
            yield File(path, "", partial(bytes, data))
    by_path: dict[str, list[Figure]] = defaultdict(list)
    for f in shell.told.figures:
        by_path[shell.figures_page(f)].append(f)
    paths = sorted(by_path)
    for first in range(0, len(paths), AT_ONCE):
        some = paths[first : first + AT_ONCE]
        found = Behind() if public else behind([f for path in some for f in by_path[path]])
        for path in some:
            mine = replace(shell, told=of_figures(shell.told, by_path[path], found))
            yield File(path, _hash(mine), partial(figures_page, mine, path))


def _hash(shell: Shell) -> str:
    """Of all that a page is made of: values (each is frozen and tells itself in full), language, build and code."""
    return sha256(f"{_code()}{shell.words.language}{shell.public}{shell.told!r}".encode()).hexdigest()


@cache
def _code() -> str:
    """The hash of everything that makes pages of values."""
    base, digest = Path(__file__).parent.parent, sha256(" ".join(map(version, LIBRARIES)).encode())
    for told in CODE:
        place = base / told
        for path in (
            [place] if place.is_file() else sorted(p for p in place.rglob("*") if p.suffix != ".pyc" and p.is_file())
        ):
            digest.update(path.relative_to(base).as_posix().encode() + path.read_bytes())
    return digest.hexdigest()
