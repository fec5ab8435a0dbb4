"""A number and its noun, for people: 1 row, 2 rows, 1 entry, 2 entries."""


def n_of(count: int, noun: str, many: str = "") -> str:
    """The count, grouped by thousands, and the noun in its number. many: where the plural is not just an s more."""
    return f"{count:,} {noun if count == 1 else many or noun + 's'}"
