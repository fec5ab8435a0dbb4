"""`make fuzz-check`: bytes nobody wrote on purpose, through the reader: no crash, no hang, no lost record.

    python tests/whole/fuzz_reader.py --seconds 600 [--seed 7] [--once 7:123]

Half of the files are made of the corpus by changing bytes, lines, delimiters, encodings and what is packed in workbooks.
Of these must hold: nothing is raised, every line is counted once, every record is kept once and makes a part, and a
text's records are those that Python's csv module finds in it. The other half are tables that are known, written in a
way drawn by lot: every row must come out as it went in, under its own number. A finding is printed with its seed.
"""

import argparse
import csv
import io
import random
import shutil
import signal
import sys
import tempfile
import time
import zipfile
from dataclasses import dataclass
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent / "corpus"))

from corpus import Case, all_cases, examined, table

from pipeline.intake.dialect import SPACES, WIDE
from pipeline.intake.finding import find_sheets
from pipeline.intake.mapping import parse_mapping
from pipeline.ledger.fates import parts_in
from pipeline.ledger.records import rows_of
from pipeline.ledger.staging import Staged
from schemas.kinds import all_kinds

SLOW = {"one endless line", "one endless cell", "twenty thousand columns", "a cell in the farthest corner",
        "one text in half a million cells", "a cell repeated for ever", "three hundred sheets"}  # fmt: skip
LONGEST = 180  # seconds one small file may take on a busy machine: workbooks have 20 of computing
SIGNS = [b'"', b"'", b"\\", b",", b";", b"\t", b"|", b"\n", b"\r", b"\r\n", b"\0", b" ", b"\xef\xbb\xbf", b"\xff\xfe", b"=", b"#N/A",
         b"\xe9", b"\xc3", b"\x80", b"sep=;\n", b"Total", b"\xe2\x80\xa8", b"\x85", b"\x1a", b"<", b"&", b"9" * 30]  # fmt: skip
MAPPING = """
[[sheet]]
kind = "visit"
[sheet.columns]
visit_key = "Dive"
site_key = "Site"
happened = "Date"
outcome = "Outcome"
remarks = "Remarks"
"""


class Finding(Exception):
    """Something that must hold does not."""


@dataclass
class Counts:
    """How many files were tried, and how many of them could be read."""

    files: int = 0
    read: int = 0
    findings: int = 0


def fuzz(seconds: float, seed: int, say=print) -> Counts:
    """Try files for so long; every finding is told."""
    counts, end = Counts(), time.monotonic() + seconds
    cases = [c for c in all_cases() if c.told["name"] not in SLOW]
    contents = {c.name: c.content() for c in cases}
    signal.signal(signal.SIGALRM, _too_slow)
    while time.monotonic() < end:
        counts.files += 1
        try:
            counts.read += one(f"{seed}:{counts.files}", cases, contents)
        except Exception as e:
            counts.findings += 1
            say(f"--once {seed}:{counts.files}  {type(e).__name__}: {str(e)[:600]}")
    return counts


def one(seed: str, cases: list[Case], contents: dict[str, bytes], keep: Path | None = None) -> bool:
    """One file, the same for the same seed; True when it could be read. keep: where to leave it."""
    dice, folder = random.Random(seed), Path(tempfile.mkdtemp(prefix="fuzz-"))
    signal.alarm(LONGEST)
    try:
        if dice.random() < 0.5:
            case = dice.choice(cases)
            data = changed(dice, contents[case.name], contents[dice.choice(cases).name])
            if keep:
                keep.write_bytes(data)
            staged = examined(data, case.file, case.mapping, all_kinds(), folder)
            balances(staged)
            if not staged.unreadable:
                nothing_lost(staged, data, case, folder)
        else:
            rows, data = drawn(dice)
            if keep:
                keep.write_bytes(data)
            staged = examined(data, "dives.csv", MAPPING, all_kinds(), folder)
            balances(staged)
            comes_out(staged, rows)
        return not staged.unreadable
    finally:
        signal.alarm(0)
        shutil.rmtree(folder, ignore_errors=True)


def _too_slow(*_: object) -> None:
    raise Finding(f"it took longer than {LONGEST} seconds")


# --- what must hold -----------------------------------------------------------------------------------------


def balances(staged: Staged) -> None:
    """Every line is counted once, every record kept once, and each makes a part."""
    if staged.lines != staged.furniture + staged.blank + staged.records:
        raise Finding(f"{staged.lines} lines are not {staged.furniture} + {staged.blank} + {staged.records}")
    kept = [(r["sheet"], r["row"]) for r in table(staged, "records")]
    if len(kept) != len(set(kept)) or len(kept) != staged.records:
        raise Finding(f"{staged.records} records, {len(kept)} kept, {len(set(kept))} of them different")
    parts = {(p["sheet"], p["row"]) for p in parts_in(staged.parts_files(), ["sheet", "row"])}
    if parts != set(kept):
        raise Finding(f"records without a part: {sorted(set(kept) - parts)[:5]}")


def kept_rows(staged: Staged) -> dict[int, list[str]]:
    """The cells of every row that was kept, of whatever sheet."""
    path = staged.path("records")
    return {n: cells for s in staged.sheets for n, cells in rows_of(path, s.name).items()} if path.exists() else {}


def nothing_lost(staged: Staged, data: bytes, case: Case, folder: Path) -> None:
    """A text's records are those that Python's csv module finds, cell by cell; of other files every row is accounted for."""
    (folder / "again").write_bytes(data)
    kinds = all_kinds()
    found = find_sheets(folder / "again", case.file, parse_mapping("club", case.mapping.encode(), kinds), kinds)
    sheet, _, _ = found[0]
    if sheet.form != "text":
        if sheet.form == "workbook" and sum(s.height for s, _, _ in found) != staged.lines:
            raise Finding(f"{staged.lines} lines of {sum(s.height for s, _, _ in found)} rows")
        return
    if sheet.delimiter in (SPACES, WIDE):
        return
    lines = (line.replace("\0", "") for line in io.StringIO(data.decode(sheet.encoding, "replace"), newline=""))
    quoting = csv.QUOTE_MINIMAL if sheet.quote else csv.QUOTE_NONE
    reader = csv.reader(lines, delimiter=sheet.delimiter, quotechar=sheet.quote or None,
                        escapechar=sheet.escape or None, quoting=quoting, strict=True)  # fmt: skip
    rows = list(reader)
    if len(rows) != staged.lines:
        raise Finding(f"{staged.lines} lines of {len(rows)} rows")
    header_row = staged.sheets[0].header_row
    kept = kept_rows(staged)
    filled = [n for n, r in enumerate(rows, 1) if n > header_row and any(c.strip() for c in r)]
    missing = [n for n in filled if n not in kept]
    if len(missing) != staged.furniture - header_row:
        raise Finding(f"rows {missing[:5]} are lost, and {staged.furniture - header_row} are furniture")
    for n, cells in kept.items():
        wanted = (rows[n - 1] + [""] * len(cells))[: len(cells)]
        if [c or "" for c in cells] != wanted:
            raise Finding(f"row {n} is {cells} instead of {wanted}")


def comes_out(staged: Staged, rows: dict[int, list[str]]) -> None:
    """Every row of a known table comes out under its number, cell by cell."""
    if staged.unreadable:
        raise Finding(f"a good table is {staged.unreadable}")
    kept = kept_rows(staged)
    if kept.keys() != rows.keys():
        raise Finding(
            f"rows lost {sorted(rows.keys() - kept.keys())[:5]}, too many {sorted(kept.keys() - rows.keys())[:5]}"
        )
    for n, cells in rows.items():
        if [c.strip() for c in kept[n][: len(cells)]] != [c.strip() for c in cells]:
            raise Finding(f"row {n} is {kept[n]} instead of {cells}")


# --- files --------------------------------------------------------------------------------------------------


def changed(dice: random.Random, data: bytes, other: bytes) -> bytes:
    """The bytes with a few changes."""
    if data[:2] == b"PK" and dice.random() < 0.7:
        return _repacked(dice, data)
    for _ in range(dice.randint(1, 4)):
        data = dice.choice(CHANGES)(dice, data, other)
    return data[: 1 << 20]


def _repacked(dice: random.Random, data: bytes) -> bytes:
    """A workbook with something changed inside one of its parts."""
    out = io.BytesIO()
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as src, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as dst:
            names = src.namelist()
            chosen = dice.choice([n for n in names if "sheet" in n or "content" in n or "workbook" in n] or names)
            for name in names:
                content = src.read(name)
                if name == chosen:
                    for _ in range(dice.randint(1, 3)):
                        content = dice.choice(CHANGES)(dice, content, content)
                if name != chosen or dice.random() < 0.97:
                    dst.writestr(zipfile.ZipInfo(name), content, zipfile.ZIP_DEFLATED)
    except (zipfile.BadZipFile, NotImplementedError, EOFError, ValueError):
        return data
    return out.getvalue()


def _flip(dice, data, other):
    at = dice.randrange(len(data) + 1)
    return data[:at] + bytes([dice.randrange(256)]) + data[at + 1 :]


def _insert(dice, data, other):
    at = dice.randrange(len(data) + 1)
    return data[:at] + dice.choice(SIGNS) * dice.choice((1, 1, 1, 2, 50)) + data[at:]


def _delete(dice, data, other):
    at, many = dice.randrange(len(data) + 1), dice.choice((1, 1, 2, 10, 200))
    return data[:at] + data[at + many :]


def _cut(dice, data, other):
    return data[: dice.randrange(len(data) + 1)]


def _lines(dice, data, other):
    lines = data.splitlines(keepends=True)
    if lines:
        at = dice.randrange(len(lines))
        how = dice.randrange(4)
        if how == 0:
            lines.insert(dice.randrange(len(lines)), lines[at])
        elif how == 1:
            del lines[at]
        elif how == 2:
            dice.shuffle(lines)
        else:
            lines = lines + lines[1:] * dice.choice((1, 40))
    return b"".join(lines)


def _delimiter(dice, data, other):
    return data.replace(
        dice.choice((b",", b";", b"\t", b"|")), dice.choice((b",", b";", b"\t", b"|", b"^", b":", b"  ", b""))
    )


def _ends(dice, data, other):
    return data.replace(b"\n", dice.choice((b"\r\n", b"\r", b"\n\n", b"\n \n", b"")), dice.choice((-1, 1, 2)))


def _encoding(dice, data, other):
    text = data.decode("utf-8", "replace")
    return text.encode(
        dice.choice(("utf-16", "utf-16-le", "utf-16-be", "cp1252", "utf-8-sig", "utf-32", "mac_roman")), "replace"
    )


def _splice(dice, data, other):
    return data[: dice.randrange(len(data) + 1)] + other[dice.randrange(len(other) + 1) :]


CHANGES = [_flip, _insert, _delete, _cut, _lines, _delimiter, _ends, _encoding, _splice]

SITES = [
    "CB",
    "Cove, north",
    "Praia do Açúcar",
    "Évora; sul",
    "Øya",
    "North | South",
    "'t Rif",
    'the "big" rock',
    '5" pipe',
    "São João",
]
REMARKS = [
    "",
    "calm",
    "swell, 2 m",
    "seen at 09:30",
    "two\nlines",
    "=1+1",
    "c. 20 plants; all small",
    " spaced ",
    "#3",
    "l'été",
    "a^b~c",
]


def drawn(dice: random.Random) -> tuple[dict[int, list[str]], bytes]:
    """A table of dives written in a way drawn by lot: its rows by number, and the file."""
    delimiter = dice.choice([",", ";", "\t", "|"])
    encoding = dice.choice(["utf-8", "utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"])
    quoting = dice.choice([csv.QUOTE_MINIMAL, csv.QUOTE_ALL])
    end = dice.choice(["\n", "\r\n", "\r"])
    plain = (
        dice.random() < 0.5 or end == "\r"
    )  # csv.writer does not quote other line ends than its own; half without what makes the quick reader decline
    out = io.StringIO(newline="")
    writer = csv.writer(out, delimiter=delimiter, quoting=quoting, lineterminator=end)
    rows: dict[int, list[str]] = {}
    at = 0
    for _ in range(dice.choice((0, 0, 1, 3))):
        writer.writerow(["Dive club", *[""] * 4])
        at += 1
    headings = ["Dive", "Site", "Date", "Outcome", "Remarks"]
    writer.writerow(headings)
    at += 1
    for n in range(dice.choice((1, 2, 5, 30, 200))):
        if not plain and dice.random() < 0.1:
            (writer.writerow if dice.random() < 0.5 else lambda _: out.write(end))([""] * 5)
            at += 1
        remark = dice.choice(REMARKS).replace("\n", " " if plain else "\n")
        row = [
            f"D{n}",
            dice.choice(SITES),
            f"2025-{dice.randint(1, 12):02}-{dice.randint(1, 28):02}",
            dice.choice(["found", "aborted"]),
            remark,
        ]
        if not plain and dice.random() < 0.05:
            row = row[:4]
        writer.writerow(row)
        at += 1
        rows[at] = row
    return rows, out.getvalue().encode(encoding)


def main() -> None:
    """Fuzz for as long as asked; ends with 1 when anything was found."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seconds", type=float, default=60)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--once", default="", help="a finding's seed, such as 1:123; leaves the file as found.bin")
    args = parser.parse_args()
    if args.once:
        cases = [c for c in all_cases() if c.told["name"] not in SLOW]
        one(args.once, cases, {c.name: c.content() for c in cases}, Path("found.bin"))
        return
    counts = fuzz(args.seconds, args.seed)
    print(f"{counts.files} files, {counts.read} of them read, {counts.findings} findings (seed {args.seed})")
    raise SystemExit(bool(counts.findings))


if __name__ == "__main__":
    main()
