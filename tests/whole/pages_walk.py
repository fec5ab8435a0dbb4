"""Walks a folder of pages in Debian's chromium as a reader would, with axe-core at hand."""

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

CHROMIUM = shutil.which("chromium") or ""
WHY = "no /usr/bin/chromium here: `apt-get install -y chromium` brings it (`.ci/run` does)"
SIZES = {"phone": (390, 844), "laptop": (1366, 768)}


def has_browser() -> bool:
    """Whether a browser is there. On a machine of CI its absence is a failure, not a reason to skip."""
    return bool(CHROMIUM) or bool(os.environ.get("CI"))


@contextmanager
def browser() -> Iterator[object]:
    """Chromium without a window."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as play:
        shown = play.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        try:
            yield shown
        finally:
            shown.close()


def opened(shown: object, folder: Path, name: str, size: str) -> tuple[object, list[str], list[str]]:
    """A page at that size, and what it asked for outside its folder, and what its console said in error."""
    width, height = SIZES[size]
    page = shown.new_page(viewport={"width": width, "height": height})
    outside: list[str] = []
    errors: list[str] = []
    page.on("request", lambda r: outside.append(r.url) if not r.url.startswith((folder.as_uri(), "data:")) else None)
    page.on("console", lambda m: errors.append(m.text) if m.type == "error" else None)
    page.on("pageerror", lambda e: errors.append(str(e)))
    page.goto((folder / name).as_uri())
    return page, outside, errors
