"""How text is laid out: numbers in few digits, tables that fit the screen, labelled paragraphs. Text in, text out."""

from collections.abc import Sequence
from itertools import zip_longest
from textwrap import wrap

from pipeline.indicators.estimate import Estimate

WIDTH = 120  # columns where nobody says how wide the screen is
LEAST = 12  # a column of text is not made narrower than this before numbers are told on two lines


def number(value: float) -> str:
    """Three significant digits, grouped, never in powers of ten: 0.0123, 4.57, 1,230."""
    if value == 0:
        return "0"
    size = abs(value)
    if size >= 1000:
        return f"{float(f'{value:.3g}'):,.0f}"
    text = f"{float(f'{value:.3g}'):.10f}".rstrip("0").rstrip(".")
    return text


def value_text(e: Estimate) -> str:
    """The estimate in one cell: a value, bounds, or a refusal."""
    if e.state == "estimated" and e.value is not None:
        return number(e.value)
    if e.state == "bounded" and e.value_from is not None and e.value_to is not None:
        return f"{number(e.value_from)} to {number(e.value_to)}"
    if e.state == "bounded" and e.value_from is not None:
        return f"at least {number(e.value_from)}"
    return "not estimable"


def interval_text(e: Estimate) -> str:
    """The 95 % interval in one cell, or a dash."""
    if e.low is None or e.high is None:
        return "-"
    return f"{number(e.low)} to {number(e.high)}"


def ranges(numbers: Sequence[int]) -> str:
    """Whole numbers in order, runs of three or more as a range: 1,4-7,9."""
    runs: list[list[int]] = []
    for n in sorted(set(numbers)):
        if runs and n == runs[-1][-1] + 1:
            runs[-1].append(n)
        else:
            runs.append([n])
    return ",".join(f"{r[0]}-{r[-1]}" if len(r) > 2 else ",".join(map(str, r)) for r in runs)


def plain(text: str) -> str:
    """A partner's own text without line breaks and control characters: it can neither fake a row nor move the cursor."""
    return "".join(c if c.isprintable() else " " for c in text)


def paragraph(label: str, text: str, indent: int, width: int = WIDTH) -> list[str]:
    """A label, and the text beside it over as many lines as it takes."""
    first, *more = wrap(plain(text), width - indent) or [""]
    return [f"{label:<{indent}}{first}".rstrip(), *(" " * indent + m for m in more)]


def table(
    headings: Sequence[str], rows: Sequence[Sequence[str]], right: Sequence[int] = (), width: int = WIDTH
) -> list[str]:
    """Aligned columns, two spaces apart, no wider than `width`: what does not fit goes on in a line below.

    right: the columns that are flush right. They hold numbers, which are parted at blanks at most, never cut.
    """
    clean = [[plain(c) for c in r] for r in (headings, *rows)]
    widths = _widths(clean, set(right), width - 2 * (len(headings) - 1))

    def lines(cells: Sequence[str]) -> list[str]:
        parted = [
            [c] if len(c) <= w else wrap(c, w, break_long_words=i not in right, break_on_hyphens=False)
            for i, (c, w) in enumerate(zip(cells, widths, strict=True))
        ]
        return [_line(beside, widths, right) for beside in zip_longest(*parted, fillvalue="")]

    head, *told = map(lines, clean)
    return [*head, _line(["-" * w for w in widths], widths, ()), *(line for row in told for line in row)]


def _line(cells: Sequence[str], widths: Sequence[int], right: Sequence[int]) -> str:
    put = [c.rjust(w) if i in right else c.ljust(w) for i, (c, w) in enumerate(zip(cells, widths, strict=True))]
    return "  ".join(put).rstrip()


def _widths(rows: Sequence[Sequence[str]], right: set[int], room: int) -> list[int]:
    """Each column as wide as its widest cell; then, as long as there is no room for that, the widest give way.

    Text gives way first, down to its longest word; then numbers, parted at blanks; last of all words are cut.
    """
    columns = list(zip(*rows, strict=True))
    widths = [max(map(len, c)) for c in columns]
    words = [max((len(w) for cell in c for w in cell.split()), default=0) for c in columns]
    text = [w if i in right else max(words[i], min(w, LEAST)) for i, w in enumerate(widths)]
    cut = [w if i in right else min(w, LEAST) for i, w in enumerate(words)]
    for floors in (text, words, cut):
        while sum(widths) > room and any(w > f for w, f in zip(widths, floors, strict=True)):
            at = max((i for i, f in enumerate(floors) if widths[i] > f), key=lambda i: widths[i])
            widths[at] -= 1
    return widths
