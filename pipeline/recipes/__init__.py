"""Recipes for running every night by itself: templates, filled in for one programme and printed or written."""

import sys
from pathlib import Path
from string import Template

from pipeline import disk
from pipeline.errors import BadUsage
from pipeline.programme import open_programme

FILES = {
    "cron": ("wrackline.cron",),
    "systemd": ("wrackline-night.service", "wrackline-night.timer", "wrackline.env"),
    "container": ("Containerfile", "container-night.sh"),
    "dagster": ("dagster.yaml", "workspace.yaml", "wrackline-dagster.service"),
}


def recipe(root: Path, which: str) -> dict[str, str]:
    """The files of a recipe by name, filled in for the programme at `root`. BadUsage when there is no such recipe."""
    if which not in FILES:
        raise BadUsage(f"{which!r} is no recipe. There are: {', '.join(FILES)}.")
    rules = open_programme(root).rules
    programme = root.resolve()
    for path in (programme, Path(sys.executable)):
        if any(not c.isprintable() or c in "\"'\\%$ \t" for c in str(path)):
            raise BadUsage(f"{path} has a blank or a sign that system files take for their own. Use a plainer path.")
    given = {
        "programme": str(programme),
        "python": sys.executable,
        "hour": str(rules.night.at.hour),
        "minute": str(rules.night.at.minute),
        "time": f"{rules.night.at:%H:%M}",
        "zone": str(rules.zone),
        "dagster": str(programme / "warehouse" / "dagster"),
    }
    here = Path(__file__).parent
    return {name: Template((here / f"{name}.tmpl").read_text()).substitute(given) for name in FILES[which]}


def write(root: Path, which: str, folder: Path) -> list[Path]:
    """Write a recipe's files into a folder; gives where. BadUsage when one is there and says otherwise."""
    made = recipe(root, which)
    for name, text in made.items():
        if (folder / name).exists() and (folder / name).read_text() != text:
            raise BadUsage(
                f"{folder / name} is there already and says otherwise. Name another folder, or move it away."
            )
    disk.make_folder(folder)
    for name, text in made.items():
        disk.replace(folder / name, text.encode())
    return [folder / name for name in made]
