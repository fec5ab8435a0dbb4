"""Columns of species: each distinct text of them is read once, and most batches change nothing."""

from collections.abc import Sequence

import pyarrow as pa

from pipeline.intake.angles import Unread
from pipeline.intake.names import Names
from pipeline.intake.positions import UNREAD
from pipeline.intake.reshape import Shape, hidden, source, texts_of
from schemas.kinds import Kind, all_kinds

TERM = "scientificName"


def species_kinds() -> frozenset[str]:
    """The kinds that have a column of species."""
    return frozenset(k.name for k in all_kinds().values() if any(c.term.endswith(TERM) for c in k.columns))


class Species:
    """Reads the columns of species of one part. `shape`, `why`: as those of positions."""

    def __init__(self, shape: Shape, kind: Kind, names: Names, blanks: Sequence[str]) -> None:
        self.names, self.language = names, shape.part.position.language
        self.blanks = {"", *(b.casefold() for b in blanks)}
        self.shape, self.why = shape, dict[tuple[str, str], Unread]()
        self.columns = {c.name: s for c in kind.columns if c.term.endswith(TERM) and (s := source(shape, c.name))}
        self.codes = {c: {k.casefold() for k in shape.part.codes.get(c, {})} for c in self.columns}
        self.at: dict[str, str] = {}
        for column in self.columns:
            self.shape, self.at[column] = hidden(self.shape, column)

    def __call__(self, cells: pa.Table) -> pa.Table:
        """The same rows, with accepted names in columns of their own."""
        self.why.clear()
        for column, at in self.at.items():
            written = texts_of(cells, self.columns[column])
            coded = written.dictionary_encode()
            texts = coded.dictionary.to_pylist()
            read = [self._read(column, t) for t in texts]
            made = written if read == texts else pa.array(read, pa.string()).take(coded.indices)
            there = cells.schema.get_field_index(at)
            cells = cells.set_column(there, at, made) if there >= 0 else cells.append_column(at, made)
        return cells

    def _read(self, column: str, text: str) -> str:
        """The partner's own codes come first: the cast turns them into names."""
        if text.casefold() in self.blanks or text.casefold() in self.codes[column]:
            return text
        made = self.names.read(text, self.language)
        if isinstance(made, Unread):
            self.why[column, text] = made
            return UNREAD + text
        return made
