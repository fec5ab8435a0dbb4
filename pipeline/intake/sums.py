"""Rows that are sums or means of others, by the one word that stands where a thing is named: “Total”, “Suma”, “Gjennomsnitt”.

Such a row would enter as a frame, unit or species of its own and be counted beside those it sums up. Nobody but its owner
knows that it is none, so it is held; only the very word counts, whatever its case, accents and the colon behind it. Words
that also name a place between others are left alone: es *media*, pt *média* and fr *moyenne* of a shore are its middle. No species is
called so.
"""

import pyarrow as pa
import pyarrow.compute as pc

from pipeline.faults import Fault
from pipeline.intake.months import bare
from pipeline.intake.plain import why_not
from pipeline.intake.positions import UNREAD
from pipeline.intake.reshape import Shape
from schemas.kinds import Kind

# cells that name what a row speaks of; of a site that nobody knows the row waits
NAMES = ("frame_key", "plant_no", "unit_key", "plot_key", "visit_key", "batch_key", "bed_key", "record_key", "species")
_WORDS = frozenset(
    """total|totals|grand total|subtotal|subtotals|sub total|sub totals|sum|sums|sum total|total sum|mean|means|average|averages|avg
    suma|suma total|total general|total parcial|totales|subtotales|sumatoria|sumatorio|promedio|promedios
    soma|soma total|total geral|totais|subtotais|somatorio|somatoria
    somme|somme totale|total partiel|totaux|sous total|sous totaux
    totalt|totalsum|delsum|sum totalt|i alt|til sammen|tilsammen|gjennomsnitt|gjsnitt|gj snitt|σ|∑""".replace(
        "\n    ", "|"
    ).split("|")
)
_OF_SPECIES = _WORDS | {"media", "moyenne", "snitt"}
_BEGINS = (
    r"^\W*(?i:to|su|gr|m[eéo]|av|pr|so|de|i\W|ti|gj|sn)\D*$|[σΣ∑]"  # of all distinct cells, so that few are looked at
)
_LONGEST = 24

LIKE_A_SUM = why_not(
    "looks like a sum", "the name of one thing; this row looks like a sum or mean of others",
    "Take the row out of the table, or ask the programme to name how such rows begin in `skip_rows_starting` of your mapping. "
    "If it is no sum, give what is called so another name.",
)  # fmt: skip
COLUMN_LIKE_A_SUM = why_not(
    "looks like a sum", "the name of one thing; this column looks like a sum or mean of others",
    "Take the column out of the table, or ask the programme to name it in `but_not` of your mapping. "
    "If it is no sum, give it another heading.",
)  # fmt: skip


def is_sum(text: str, column: str) -> bool:
    """Whether a cell of that column of ours is nothing but a word for a sum or a mean."""
    said = " ".join(bare(text.removeprefix(UNREAD)).replace("-", " ").rstrip(" :=").split())
    return said in (_OF_SPECIES if column == "species" else _WORDS)


def sums_among(typed: pa.Table, shape: Shape, kind: Kind, stated: frozenset[str], sheet: str) -> list[Fault]:
    """A fault for every line with such a word in place of a name.

    typed: what the cast gave. stated: columns that the mapping itself fills with one text, which somebody meant so.
    """
    faults = []
    for column in (c.name for c in kind.columns if c.name in NAMES and c.type == "text" and c.name not in stated):
        cells = typed.column(column)
        if cells.null_count == len(cells) or not pc.any(found := _may_be(cells)).as_py():
            continue
        raw = f"raw.{column}" if f"raw.{column}" in typed.column_names else column  # in the partner's own words, too
        some = typed.select(["row"]).append_column("said", cells.cast(pa.string()))
        some = some.append_column("raw", typed.column(raw).cast(pa.string())).filter(found)
        of_heading = shape.part.wide is not None and column in shape.part.wide.told
        code, wanted, advice = COLUMN_LIKE_A_SUM if of_heading else LIKE_A_SUM
        heading = shape.part.headings.get(column, "")
        faults += [
            Fault(sheet, line, shape.first, kind.name, column, heading, code, text.removeprefix(UNREAD), wanted, advice)
            for line, said, text in zip(*(c.to_pylist() for c in some.columns), strict=True)
            if text is not None and is_sum(said, column) and is_sum(text, column)
        ]
    return faults


def _may_be(cells: pa.ChunkedArray) -> pa.ChunkedArray | pa.Array:
    """Which cells may be such words; of a dictionary array each distinct text is looked at once."""
    if not pa.types.is_dictionary(cells.type):
        return pc.fill_null(_begins(cells), False)
    whole = cells.combine_chunks()
    return pc.fill_null(_begins(whole.dictionary).take(whole.indices), False)


def _begins(texts: pa.ChunkedArray | pa.Array) -> pa.ChunkedArray | pa.Array:
    short = pc.less_equal(pc.utf8_length(texts), _LONGEST)
    return pc.and_(short, pc.match_substring_regex(texts, _BEGINS))
