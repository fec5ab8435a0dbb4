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


def main() -> None:
    """Build inside and public pages twice, and say wall and computing time, files, bytes and the peak of memory."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sites", type=int, default=1000)
    sites = parser.parse_args().sites
    with tempfile.TemporaryDirectory() as folder:
        root = Path(folder) / "many"
        first_night(root, sites)
        for what in ("first", "again"):
            wall, cpu = time.monotonic(), time.process_time()
            made = run.pages(root)
            wall, cpu = time.monotonic() - wall, time.process_time() - cpu
            print(
                f"{what}: {sites} sites, {made.files} files, {made.written} written, {wall:.1f} s, {cpu:.1f} s computing"
            )
        files = [p.stat().st_size for p in (root / "out/pages").rglob("*.html")]
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(f"{sum(files) / 1e6:.0f} MB, largest page {max(files) / 1e3:.0f} kB, peak {peak:.0f} MB")


if __name__ == "__main__":
    main()
