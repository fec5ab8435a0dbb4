"""The hidden page of lists, a named range each, and the formulas by which boxes choose from them."""

import re
from collections.abc import Sequence

from openpyxl import Workbook
from openpyxl.utils import get_column_letter
from openpyxl.workbook.defined_name import DefinedName

from pipeline.blanks.boxes import Box, Lists

FIRST = 3  # row of the first word; above it the page's own line and the lists' names


class Page:
    """Lays lists out on a page, each once, and names them."""

    def __init__(self, book: Workbook, title: str, mark: str, lists: Lists) -> None:
        self.book, self.lists, self.named = book, lists, dict[tuple[str, ...], str]()
        self.sheet = book.create_sheet(title)
        self.sheet.sheet_state = "hidden"
        self.sheet.cell(1, 1, mark)
        self.columns = 0

    def source(self, box: Box, place: str) -> str:
        """The formula of the list that a box is chosen from, "" when there is none. place: the cell that names the place.

        Of a list by place, the words of that place; all of them while the place is blank or unknown.
        """
        if box.sort == "" or not (words := list(box.words or self.lists.plain.get(box.offered, ()))):
            return ""
        every = self._range(words, box.offered)
        pairs = self.lists.by_place.get(box.offered, ())
        if not (box.of and place and pairs):
            return every
        places, first = self._pairs(pairs, box.offered)
        here = f"MATCH({place},{places},0)-1,0,COUNTIF({places},{place})"
        return f"IF(COUNTIF({places},{place})=0,{every},OFFSET({first},{here}))"

    def _range(self, words: Sequence[str], hint: str) -> str:
        key = tuple(words)
        if key not in self.named:
            self.named[key] = self._name(words, hint or "words")
        return self.named[key]

    def _pairs(self, pairs: Sequence[tuple[str, str]], hint: str) -> tuple[str, str]:
        """The range of the places of a list, and its first word's cell: words of one place stand together."""
        key = ("\n", hint)
        if key not in self.named:
            self.named[key] = self._name([place for place, _ in pairs], f"{hint}_at")
            self.named["\n\n", hint] = self._name([word for _, word in pairs], f"{hint}_of", alone=True)
        return self.named[key], self.named["\n\n", hint]

    def _name(self, words: Sequence[str], hint: str, alone: bool = False) -> str:
        """A column of words with a name; alone: the name is of its first cell."""
        self.columns += 1
        name = f"{re.sub(r'[^a-z_]', '_', hint.casefold())}_{self.columns}"
        self.sheet.cell(2, self.columns, name)
        for n, word in enumerate(words):
            cell = self.sheet.cell(FIRST + n, self.columns, word)
            cell.data_type, cell.number_format = "s", "@"
        letter, last = get_column_letter(self.columns), FIRST if alone else FIRST + len(words) - 1
        where = f"'{self.sheet.title}'!${letter}${FIRST}" + ("" if alone else f":${letter}${last}")
        self.book.defined_names[name] = DefinedName(name, attr_text=where)
        return name
