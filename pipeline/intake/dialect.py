"""How a text file parts its cells. The delimiter is the one that makes an even table; a library proposes odd ones.

Certain things first: a line `sep=;`, then comma, semicolon, tab and bar. Only where none of them makes a table are
others looked at: `^`, `~`, `:`, what clevercsv proposes, runs of spaces. A mark other than the double quotation mark
is taken only where the file shows it holding cells together.
"""

import csv
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import islice

from pipeline.intake.limits import LONGEST_CELL
from pipeline.intake.sheet import HEAD, Unreadable

USUAL = ",;\t|"
ODD = "^~:!#"
SPACES, WIDE = "spaces", "wide spaces"  # one or more in a row; two or more, where single ones stand inside cells
_STATED = re.compile(r'^"?sep=(.)"?$')
_GAPS = {SPACES: re.compile(r"[ \t]+"), WIDE: re.compile(r"(?: {2,}| *\t) *")}
_NUMBER = re.compile(r"[-+]?[\d.,' ]*\d[\d.,' ]*%?")
_APOSTROPHED = re.compile(r"(?:^|[,;\t|])\s*'[^'\n]*'\s*(?=[,;\t|\r\n]|$)", re.MULTILINE)
_NAMES = {",": "comma", ";": "semicolon", "\t": "tab", "|": "bar", SPACES: "spaces", WIDE: "runs of spaces"}


@dataclass(frozen=True)
class Dialect:
    """What parts cells (one character, SPACES or WIDE), what holds a cell together ("" for nothing), what escapes that."""

    delimiter: str
    quote: str = '"'
    escape: str = ""


@dataclass(frozen=True)
class Found:
    """A dialect, the first records read by it, and why it was taken."""

    dialect: Dialect
    head: list[list[str]]
    why: str


Lines = Callable[[], Iterator[str]]  # the lines of a file from its start, as often as asked


def records(lines: Iterator[str], dialect: Dialect) -> Iterator[list[str]]:
    """Every record, blank lines as empty lists. Unreadable names the row where a quotation mark goes wrong."""
    if gap := _GAPS.get(dialect.delimiter):
        for line in lines:
            yield gap.split(line.strip()) if line.strip() else []
        return
    csv.field_size_limit(LONGEST_CELL)
    done = 0
    reader = csv.reader(
        lines, delimiter=dialect.delimiter, quotechar=dialect.quote or None, escapechar=dialect.escape or None,
        quoting=csv.QUOTE_MINIMAL if dialect.quote else csv.QUOTE_NONE, strict=True,
    )  # fmt: skip
    try:
        for record in reader:
            yield record
            done += 1
    except csv.Error as e:
        long = f", or a cell is longer than {LONGEST_CELL:,} characters" if "larger than field limit" in str(e) else ""
        why = f"in row {done + 1} a quotation mark is opened and never closed, or closed too early{long}"
        raise Unreadable(why) from e


def find_dialect(lines: Lines, delimiter: str = "", quote: str | None = None) -> Found:
    """The dialect of a text file and its first records. delimiter, quote: what the mapping says already, which holds.

    Unreadable when a quotation mark goes wrong near the top under every dialect.
    """
    if delimiter and quote is not None:
        stated = Dialect(delimiter, quote)
        return Found(stated, list(islice(records(lines(), stated), HEAD)), "the mapping says so")
    top = list(islice(lines(), HEAD))
    if not delimiter and top and (said := _STATED.match(top[0].strip("\ufeff\r\n"))):
        return _best(lines, [said.group(1)], quote, top, "its first line says so")
    found = _best(
        lines, [delimiter] if delimiter else list(USUAL), quote, top, "the mapping says so" if delimiter else ""
    )
    if delimiter or _is_sure(found.head):
        return found
    sample = "".join(top)[:4000]
    for other in dict.fromkeys([*ODD, *_proposed(sample), WIDE, SPACES]):
        odd = _try(lines, Dialect(other, '"' if quote is None else quote))
        if odd is not None and _is_clear(odd.head, '"' in sample and other in _GAPS):
            return Found(odd.dialect, odd.head, f"{told(other)} part every row alike")
    return found


def told(delimiter: str) -> str:
    """A delimiter in words."""
    return _NAMES.get(delimiter, f"“{delimiter}”")


def _best(lines: Lines, delimiters: list[str], quote: str | None, top: list[str], why: str) -> Found:
    """The dialect that makes the evenest table, the double quotation mark where two are alike."""
    text = "".join(top)
    plain = ways = [Dialect(d, '"' if quote is None else quote) for d in delimiters]
    if quote is None and len(_APOSTROPHED.findall(text)) >= 2 and '"' not in text:
        ways = [Dialect(d, "'") for d in delimiters] + ways
    tried = [f for f in (_try(lines, d) for d in ways) if f is not None]
    torn = len(tried) < len(ways)
    if quote is None and ('\\"' in text or (torn and all(_evenness(f.head) == 0 for f in tried))):
        tried += [f for f in (_try(lines, Dialect(d, '"', "\\")) for d in delimiters) if f is not None]
    if not tried or (torn and all(_evenness(f.head) == 0 for f in tried)):
        list(islice(records(lines(), plain[0]), HEAD))  # says where
        raise Unreadable("a quotation mark is opened and never closed, or closed too early")
    best = max(tried, key=lambda f: (_evenness(f.head), _clean(f.head)))
    others = ", ".join(told(f.dialect.delimiter) for f in tried if f.dialect.delimiter != best.dialect.delimiter)
    by_itself = f"{told(best.dialect.delimiter)} makes the evenest table" + (f" ({others} tried)" if others else "")
    return Found(best.dialect, best.head, why or by_itself)


def _try(lines: Lines, dialect: Dialect) -> Found | None:
    try:
        return Found(dialect, list(islice(records(lines(), dialect), HEAD)), "")
    except Unreadable:
        return None


def _widths(head: list[list[str]]) -> list[int]:
    return [len(r) for r in head if any(c.strip() for c in r)]


def _evenness(head: list[list[str]]) -> int:
    """How much a delimiter makes a table: the rows that share the commonest width, when that is over one cell."""
    many = [w for w in _widths(head) if w > 1]
    return max((many.count(w) for w in set(many)), default=0)


def _clean(head: list[list[str]]) -> tuple[float, int]:
    """Where two are as even: the fewer cells in which the other would part something, then the wider table."""
    cells = [c for r in head for c in r if c.strip()]
    odd = sum(any(d in c for d in USUAL) and not _NUMBER.fullmatch(c.strip()) for c in cells)
    return -odd / max(len(cells), 1), max(_widths(head), default=0)


def _is_sure(head: list[list[str]]) -> bool:
    """Whether most rows have one width of several cells, and the first of these holds words, as headings do."""
    widths = _widths(head)
    many = [w for w in widths if w > 1]
    if not many or _evenness(head) * 2 <= len(widths):
        return False
    common = max(sorted(set(many)), key=many.count)
    first = next(r for r in head if len(r) == common)
    return not any(_NUMBER.fullmatch(c.strip()) for c in first)


def _is_clear(head: list[list[str]], quoted: bool) -> bool:
    """Whether an odd delimiter can be taken: from the headings on every row is as wide, and headings are words."""
    rows = [r for r in head if any(c.strip() for c in r)]
    first = next((i for i, r in enumerate(rows) if len(r) > 1), len(rows))
    body = rows[first:]
    words = body and all(c.strip() and not _NUMBER.fullmatch(c.strip()) for c in body[0])
    return bool(words) and not quoted and len(body) >= 3 and len({len(r) for r in body}) == 1 and first <= len(body)


def _proposed(sample: str) -> list[str]:
    """What clevercsv makes of it, when that is a sign that could be a delimiter at all."""
    from clevercsv.detect import Detector

    try:
        found = Detector().detect(sample)
    except Exception:  # whatever a hostile sample does to it: it only proposes
        return []
    sign = (found.delimiter if found else "") or ""
    return [sign] if len(sign) == 1 and not sign.isalnum() and not sign.isspace() and sign not in "\"'.-/_\\" else []
