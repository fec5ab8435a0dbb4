"""A fault in a partner's data is a value: it says where, what was found, what was wanted and what to do."""

from dataclasses import asdict, dataclass


@dataclass(frozen=True)
class Fault:
    """One reason why one part was held, in words its partner understands.

    sheet, row  where, as the partner's own program shows it: row 1 is the first line of the sheet.
    part        which part of the row, counted from 1, when a row yields several.
    kind        kind of event the part would have been; "" when the row could not be read at all.
    column      our column; heading: the partner's own heading, "" when the value came from the mapping.
    code        short stable name of the sort of fault.
    found, wanted, advice  plain text; advice says what to do to this cell.
    """

    sheet: str
    row: int
    part: int
    kind: str
    column: str
    heading: str
    code: str
    found: str
    wanted: str
    advice: str

    def as_dict(self) -> dict[str, object]:
        """The fault as plain values, for Parquet and JSON."""
        return asdict(self)
