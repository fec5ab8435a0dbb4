"""What makes two parts say the same thing: identity (which thing) and content (what is said of it).

Both are the first 128 bits of a SHA-256, in hex, over plain texts, which SQL makes: computed once when a part is read, stored,
and never computed again by newer code.
"""

from collections.abc import Collection, Iterable

from schemas.kinds import Kind

UNNAMED = "cannot name"
MARKS = ("|", "\x1f")  # between the cells of a key, and of a content
SHARED = "programme"  # whose name stands in the identity of codes that all partners share


HASHED = 32  # hex digits of a hash that are kept


def _hash(text: str) -> str:
    return f"left(sha256({text}), {HASHED})"


def key_sql(kind: Kind, full: Collection[str] = (), blank: Collection[str] = ()) -> str:
    """The key as people read and write it: its columns joined by ' | ', null when there is none.

    Blanks in the middle are kept; those at the end are left off, since a cell that ends in a blank is read without it.
    full: columns filled in every row, whose cells hold none of MARKS and end in no blank: the same text is made with less
    work. blank: columns that are null in every row.
    """
    columns = list(kind.key)
    while columns and columns[-1] in blank:
        columns.pop()
    needed = [c for c in kind.key if kind.column(c).required or c == "visit_key"] or list(kind.key)
    if columns and set(columns) | set(needed) <= set(full) and not kind.keyed_by_content:
        return "concat(" + ", ' | ', ".join(f'"{c}"' for c in columns) + ")"
    cells = ", ".join(
        f'cast("{c}" as varchar)' if c in full else f"replace(coalesce(cast(\"{c}\" as varchar), ''), '|', '/')"
        for c in kind.key
    )
    joined = f"rtrim(concat_ws(' | ', {cells}), ' |')"
    missing = " or ".join(f'"{c}" is null' for c in needed)
    if kind.keyed_by_content:  # things nobody can name are told apart by what is said of them
        missing += "".join(f" or lower(cast(\"{c}\" as varchar)) = '{UNNAMED}'" for c in kind.key)
    return f"case when {missing} then null else {joined} end"


def content_text_sql(fields: Iterable[str], full: Collection[str] = (), said: Collection[str] = ()) -> str:
    """The typed values in our units, to be hashed: named fields in the order of their names, blanks left out.

    fields: the kind's columns; one that is blank in every row may be left out, it changes nothing. full: as in `key_sql`.
    said: those of which `said.<field>` holds what `beginning` gives and the value, used where all fields are full.
    """
    named = sorted(fields)
    if named and set(named) <= set(full):
        begins = {f: beginning(f, named).replace(MARKS[1], "' || chr(31) || '") for f in named}
        return "concat(" + ", ".join(f'"said.{f}"' if f in said else f"'{begins[f]}', \"{f}\"" for f in named) + ")"
    cells = {f: f'cast("{f}" as varchar)' for f in named}
    told = (
        ", ".join(f"'{f}=' || " + (c if f in full else f"replace({c}, chr(31), ' ')") for f, c in cells.items()) or "''"
    )
    return f"concat_ws(chr(31), {told})"


def beginning(field: str, fields: Iterable[str]) -> str:
    """What stands before a field's value in a content of these fields."""
    return f"{field}=" if field == min(fields) else f"{MARKS[1]}{field}="


def identity_sql(kind: str, shared: bool, partner: str, key: str) -> str:
    """Hash of (partner, kind, key). `partner` and `key` are SQL; shared kinds belong to the whole programme."""
    owner = f"'{SHARED}'" if shared else partner
    told = f"concat_ws(chr(31), {owner}, '{kind}', {key})"
    return f"case when {key} is null then null else {_hash(told)} end"


def ordinal_identity_sql(kind: str, partner: str, content: str, ordinal: str) -> str:
    """Identity of a part without a key: its content and its ordinal among equal rows of the same drop."""
    return _hash(f"concat_ws(chr(31), {partner}, '{kind}', {content}, cast({ordinal} as varchar))")
