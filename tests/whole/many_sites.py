"""A programme of many small sites, all different, and who opens which of its ledger's files."""

import ctypes
import os
import struct
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from pipeline import run
from pipeline.starter import start

SPECIES = "Saccharina latissima"
SURVEY = "visit_key,happened,site_key,plot_key,frame_key,frame_type,placement,area_m2,protocol,species,stage,count\n"
ROUND = "2025-09-01"
TREATED, CONTROL = 6, 3  # frames in a plot: of five or fewer the spread is taken from other sites too


def site_name(n: int) -> str:
    """What a site is called."""
    return f"S{n:03}"


def surveyed(n: int, plot: str, frame: int, count: int) -> str:
    """A row of a survey: recruits in one frame of a site."""
    site = site_name(n)
    return f"V-{site},{ROUND},{site},{plot},{frame},quadrat,random,0.25,quadrats,{SPECIES},recruit,{count}\n"


def recruits(n: int, plot: str, frame: int) -> int:
    """How many recruits are found there: other numbers at every site."""
    return (2 * n + 5 * frame) if plot == "T1" else (n * (frame + 2) * (frame + 1)) % 37


def first_night(root: Path, sites: int) -> None:
    """Two plots a site, frames in both, six bags looked at once, one bill; everything taken in and published."""
    start(root)
    (root / "inbox/club").mkdir()
    every = range(1, sites + 1)
    plots = [(n, p, f) for n in every for p, k in (("T1", TREATED), ("C1", CONTROL)) for f in range(k)]
    files = {
        "programme/site.csv": "site_key,name,latitude,longitude,datum,uncertainty_m,radius_m,country\n"
        + "".join(f"{site_name(n)},Site {n},{36 + n / 40:.3f},-9.0,EPSG:4326,5,80,PT\n" for n in every),
        "programme/plot.csv": "site_key,plot_key,plot_kind,area_m2,control_kind,assigned_by\n"
        + "".join(
            f"{site_name(n)},T1,treated,{50 + n},,\n{site_name(n)},C1,control,50,untouched,random\n" for n in every
        ),
        "club/deployment.csv": "unit_key,method,site_key,plot_key,happened\n"
        + "".join(f"{site_name(n)}-{u},spore bag,{site_name(n)},T1,2025-04-01\n" for n in every for u in range(6)),
        "club/check.csv": "site_key,unit_key,happened,state,search_time_min\n"
        + "".join(looked_at(n, "2025-04-25", gone=n % 4) for n in every),
        "club/visit.csv": "visit_key,site_key,happened,outcome\n"
        + "".join(f"V-{site_name(n)},{site_name(n)},{ROUND},found\n" for n in every),
        "club/survey.csv": SURVEY + "".join(surveyed(n, p, f, recruits(n, p, f)) for n, p, f in plots),
        "club/cost.csv": "record_key,happened,form,amount,currency,category,phase,for_kind,for_key\n"
        + "".join(f"bill-{n},2025-04-01,cash,{900 + 13 * n},EUR,boat,deploy,site,{site_name(n)}\n" for n in every),
    }
    for name, text in files.items():
        (root / "inbox" / name).write_text(text)
    run.run_all(root)


def looked_at(n: int, day: str, gone: int) -> str:
    """Rows of a check: a site's six bags, so many of them gone."""
    site = site_name(n)
    return "".join(f"{site},{site}-{u},{day},{'absent' if u < gone else 'attached'},10\n" for u in range(6))


@contextmanager
def opened(folder: Path) -> Iterator[set[str]]:
    """Names of the files below a folder that any process opens while the block runs, as the system tells (Linux)."""
    libc = ctypes.CDLL(None, use_errno=True)
    told, fd = set[str](), libc.inotify_init1(os.O_NONBLOCK)
    assert fd >= 0, os.strerror(ctypes.get_errno())
    try:
        for place in (folder, *(p for p in folder.rglob("*") if p.is_dir())):
            assert libc.inotify_add_watch(fd, bytes(place), 0x20) >= 0, os.strerror(ctypes.get_errno())  # IN_OPEN
        yield told
        while events := _events(fd):
            told |= events
    finally:
        os.close(fd)


def _events(fd: int) -> set[str]:
    try:
        data, at, names = os.read(fd, 1 << 16), 0, set[str]()
    except BlockingIOError:
        return set()
    while at < len(data):
        _, mask, _, length = struct.unpack_from("iIII", data, at)
        assert not mask & 0x4000, "so many files were opened that the system stopped counting"
        if not mask & 0x40000000:  # a folder, looked through for names
            names.add(data[at + 16 : at + 16 + length].rstrip(b"\0").decode())
        at += 16 + length
    return names or {""}


can_see = sys.platform == "linux"
