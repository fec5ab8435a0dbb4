"""What a partner's mapping says about the file itself. Whatever it says holds; the rest is found."""

import codecs
from dataclasses import dataclass

from pipeline.errors import BadUsage
from pipeline.toml_read import Table


@dataclass(frozen=True)
class Stated:
    """What the mapping says of reading; nothing said is "", None or ().

    encoding, delimiter, quote   of a text file; delimiter may be "spaces" or "wide spaces".
    sheets              patterns of the names of a workbook's sheets that are meant.
    unit_row            whether the row below the headings holds units.
    skip_rows_starting  rows whose first filled cell begins so are sums or notes, not records.
    merged              headings whose merged cells speak for every row they cover.
    """

    encoding: str = ""
    delimiter: str = ""
    quote: str | None = None
    sheets: tuple[str, ...] = ()
    unit_row: bool | None = None
    skip_rows_starting: tuple[str, ...] = ()
    merged: tuple[str, ...] = ()

    @property
    def dialect(self) -> tuple[str, str, str | None]:
        """What must be known before a text file is opened."""
        return self.encoding, self.delimiter, self.quote


NOTHING = Stated()


def stated_in(t: Table) -> Stated:
    """What a [[sheet]] table says. BadUsage when an encoding is not known or a mark is no single character."""
    encoding, delimiter = t.text("encoding", ""), t.text("delimiter", "")
    quote = t.text("quote", "") if "quote" in t.data else None
    if encoding and not _decodes(encoding):
        raise BadUsage(f'{t.where}: `encoding` is {encoding!r}; one such as "utf-8", "cp1252" or "utf-16" is wanted.')
    if delimiter not in ("spaces", "wide spaces") and (len(delimiter) > 1 or delimiter in ("\r", "\n", '"')):
        raise BadUsage(f'{t.where}: `delimiter` is {delimiter!r}; one character is wanted, "spaces" or "wide spaces".')
    if quote is not None and (len(quote) > 1 or (quote and quote in (delimiter, "\r", "\n"))):
        raise BadUsage(f'{t.where}: `quote` is {quote!r}; one character is wanted, or "" if cells are not quoted.')
    return Stated(
        encoding=encoding,
        delimiter=delimiter,
        quote=quote,
        sheets=tuple(t.texts("sheets", [])),
        unit_row=t.yes_no("unit_row", None),
        skip_rows_starting=tuple(t.texts("skip_rows_starting", [])),
        merged=tuple(t.texts("merged", [])),
    )


def _decodes(encoding: str) -> bool:
    """Whether Python knows it as an encoding of text."""
    try:
        return bool(codecs.lookup(encoding)._is_text_encoding) and isinstance(b"".decode(encoding), str)
    except (LookupError, AttributeError, ValueError):
        return False
