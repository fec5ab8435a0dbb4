"""What the terminal shows of a suggested mapping: a line a column, the questions, the first rows as they would be read."""

from collections.abc import Mapping, Sequence
from textwrap import shorten

from pipeline.outputs.layout import WIDTH, paragraph, plain, table
from pipeline.plural import n_of

BRIEF = 60


def columns_told(
    where: str, kinds: Sequence[str], fed: Mapping[str, Sequence[tuple[str, str]]], why: Mapping[tuple[str, str], str],
    left: Sequence[str], asks: Sequence[str], width: int = WIDTH,
) -> str:  # fmt: skip
    """One sheet. fed: heading -> (kind, column) it feeds; why: what speaks for that, by kind and column."""
    lines = [f"{where}: {' and '.join(kinds)}".upper(), ""]
    rows = [
        [plain(heading), ", ".join(dict.fromkeys(c for _, c in feeds)), shorten(plain(why.get(feeds[0], "")), BRIEF, placeholder=" ...")]
        for heading, feeds in fed.items()
    ]  # fmt: skip
    lines += table(["their heading", "our column", "because"], rows, (), width)
    if left:
        lines += ["", *paragraph("not ours", ", ".join(left), 12, width)]
    lines += [""] * bool(asks)
    for n, ask in enumerate(asks, 1):
        lines += paragraph(f"  ask {n}", ask, 9, width)
    return "\n".join(lines) + "\n"


def first_rows(
    parts: int, held: int, first: Sequence[tuple[str, int, Mapping[str, str]]], faults: Sequence[tuple[int, str, str, str]],
    width: int = WIDTH, contrary: int = 0,
) -> str:  # fmt: skip
    """The first rows as they would be read, and the first that would be held. contrary: those held because two of them differ."""
    lines = [f"AS IT WOULD BE READ: {n_of(parts, 'part')}, {held} of them held", ""]
    if contrary:
        told = f"{n_of(contrary, 'part says', 'parts say')} of one thing what another row of this file says otherwise: held until one is mended"
        lines += paragraph("  of them", told, 10, width)
    if parts:
        lines += paragraph(
            "  but",
            "what others told otherwise is found when the file is taken in; `wrackline try` tells it before",
            10,
            width,
        )
    for kind, row, cells in first:
        lines += paragraph(f"  row {row}", f"{kind}: " + ", ".join(f"{c} {v}" for c, v in cells.items()), 10, width)
    for row, heading, found, wanted in faults:
        lines += paragraph(f"  row {row}", f"held: {heading} holds “{found}”; {wanted} is wanted", 10, width)
    return "\n".join(lines) + "\n"
