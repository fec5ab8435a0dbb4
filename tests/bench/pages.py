"""Times the pages of a programme of many sites: python tests/bench/pages.py [--sites 1000]. Never part of the tests."""

import argparse
import resource
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent / "whole"))

from many_sites import first_night

from pipeline import run

BILL = (
    "record_key,happened,form,amount,currency,category,phase,for_kind,for_key\n"
    "late-bill,2015-04-02,cash,70,EUR,boat,deploy,site,S001\n"
)


def main() -> None:
    """Build inside and public pages, again without news, and after one bill of one site: wall and computing time, files, memory."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sites", type=int, default=1000)
    sites = parser.parse_args().sites
    with tempfile.TemporaryDirectory() as folder:
        root = Path(folder) / "many"
        first_night(root, sites)
        for what in ("first", "again", "one site's bill"):
            if what not in ("first", "again"):
                (root / "inbox/club/cost2.csv").write_text(BILL)
                run.run_all(root)
            wall, cpu = time.monotonic(), time.process_time()
            made = run.pages(root)
            wall, cpu = time.monotonic() - wall, time.process_time() - cpu
            print(
                f"{what}: {sites} sites, {made.files} files, {made.rendered} made, {made.written} written, {wall:.1f} s, {cpu:.1f} s computing"
            )
        files = [p.stat().st_size for p in (root / "out/pages").rglob("*.html")]
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(f"{sum(files) / 1e6:.0f} MB, largest page {max(files) / 1e3:.0f} kB, peak {peak:.0f} MB")


if __name__ == "__main__":
    main()
