"""All files of a site of pages, one after the other, so that a thousand sites need no more memory than one."""

from collections.abc import Iterator, Mapping

from pipeline.pages.dive_sheet import dive_sheets
from pipeline.pages.figures_page import figures_pages
from pipeline.pages.other_pages import other_pages
from pipeline.pages.partner_page import partner_pages
from pipeline.pages.programme_page import programme_pages
from pipeline.pages.report_page import report_page
from pipeline.pages.shell import Shell
from pipeline.pages.site_page import site_page
from pipeline.pages.told import Place, Told
from pipeline.pages.visible import visible
from pipeline.pages.words import Words


def pages(
    told: Told, words: Words, shown: Mapping[str, tuple[Place, str]] | None = None
) -> Iterator[tuple[str, bytes]]:
    """Path within the folder and bytes of every file. shown: for public pages, the places that may be seen (see `visible`)."""
    public = shown is not None
    shell = Shell(told if shown is None else visible(told, shown), words, public)
    yield "style.css", shell.style().encode()
    yield from programme_pages(shell)
    yield "report.html", report_page(shell)
    yield from other_pages(shell)
    for site in shell.told.sites:
        yield shell.site_page(site.key), site_page(shell, site)
    yield from figures_pages(shell)
    if not public:
        yield from partner_pages(shell)
        yield from dive_sheets(shell)
