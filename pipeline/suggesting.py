"""A mapping suggested for a file of unknown shape: reads it, proposes a TOML, shows its first rows as they would be read."""

import re
import tempfile
from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from itertools import islice
from pathlib import Path

import pyarrow.parquet as pq

from pipeline import disk
from pipeline.errors import BadUsage, Stop
from pipeline.intake.mapping import parse_mapping
from pipeline.intake.names import names_of
from pipeline.intake.read import Sheet, Tally, open_sheets, rows, trimmed
from pipeline.intake.sheet import PARQUET
from pipeline.ledger.fates import parts_in
from pipeline.ledger.store import Ledger
from pipeline.plural import n_of
from pipeline.programme import Rules, open_programme
from pipeline.suggest.answers import put
from pipeline.suggest.fit import Registered
from pipeline.suggest.lexicon import Lexicon, lexicon
from pipeline.suggest.proposal import Proposal
from pipeline.suggest.propose import header_row_of, propose
from pipeline.suggest.text import plain
from pipeline.suggest.write import sheet_toml
from schemas.kinds import Kind, all_kinds

LOOKED_AT = 5_000  # rows of a sheet whose cells are looked at
SHOWN_BELOW = 64 << 20  # bytes; reading all of a larger file for its first rows would take too long


@dataclass(frozen=True)
class Shown:
    """A sheet as it would be read: parts in all, parts held, the first parts, the first faults.

    contrary: of the held ones those that say of one thing what another row of the file says otherwise.
    """

    parts: int
    held: int
    first: list[tuple[str, int, dict[str, str]]]
    faults: list[tuple[int, str, str, str]]
    contrary: int = 0


@dataclass(frozen=True)
class Suggestion:
    """What is suggested for one file: a proposal a sheet, and sentences about what could not be looked at."""

    file: str
    sheets: list[Proposal]
    said: list[str]

    def toml(self, partner: str, beside: bool = False) -> str:
        """The mapping's text. beside: the partner has one already, so only the sheets are given."""
        asks = sum(len(s.questions) for s in self.sheets)
        top = [
            f"# Suggested for {partner} from {_comment(self.file)}. Nothing is taken in by it before a person has looked:",
            f"# {n_of(asks, 'question is', 'questions are')} marked ASK. When all is right, delete `confirmed = false`, then run",
            f"# `wrackline take`; or, where the file was taken in before, `wrackline retake --partner {partner}`.",
        ]
        if beside:
            top.append(f"# {partner} has a mapping already: copy what is right to the end of partners/{partner}.toml.")
        else:
            top += ["", f'language = "{language_in(self.sheets)}"']
        notes = [
            f"# Nothing of ours was seen in: {', '.join(map(_comment, s.left))}." if s.left else "" for s in self.sheets
        ]
        texts = [
            "\n".join([*([note] if note else []), sheet_toml(s.tree, s.notes, s.questions)])
            for s, note in zip(self.sheets, notes, strict=True)
        ]
        return "\n".join(top) + "\n\n" + "\n".join(texts)


def suggest(root: Path, file: Path) -> Suggestion:
    """What is suggested for every sheet of a file that holds a table. BadUsage when nothing in it can be read."""
    if not file.is_file():
        raise BadUsage(f"{file} is no file. Name the file that is to be mapped.")
    registered = registered_in(root)
    kinds = all_kinds()
    words = lexicon(kinds)
    made, said = [], []
    with tempfile.TemporaryDirectory() as scratch:
        for n, sheet in enumerate(open_sheets(file, file.name)):
            if sheet.unreadable:
                raise BadUsage(f"{file} cannot be read: {sheet.unreadable}.")
            folder = Path(scratch) / str(n)
            folder.mkdir()
            found = suggest_sheet(sheet, file.name, kinds, words, registered, folder)
            if found is None:
                said.append(f"The sheet “{sheet.name}” holds no table.")
            else:
                made.append(found)
    if not made:
        raise BadUsage(f"{file} holds no table: no row of headings with rows below it was found.")
    return Suggestion(file.name, made, said)


def suggest_sheet(
    sheet: Sheet, name: str, kinds: Mapping[str, Kind], words: Lexicon, registered: Registered, scratch: Path
) -> Proposal | None:
    """The proposal for one sheet, None when it holds no table. scratch: an empty folder."""
    head = [list(r) for r in sheet.head]
    if not any(c.strip() for r in head for c in r):
        return None
    header_row = 1 if not sheet.has_header_row else header_row_of(head, words)
    header = [c.strip() for c in head[header_row - 1]]
    found: list[list[str]] = []
    for table in rows(sheet, header_row, len(header), Tally(), scratch):
        columns = [c.to_pylist() for c in trimmed(table).columns[1:]]
        found += [list(r) for r in islice(zip(*columns, strict=True), LOOKED_AT - len(found))]
        if len(found) >= LOOKED_AT:
            break
    if not found or sum(map(bool, header)) < 2:
        return None
    return propose(sheet.name, name, head, header_row, found, kinds, words, registered, sheet.form == PARQUET)


def registered_in(root: Path) -> Registered:
    """Sites, plots, beds, units, batches, permits and protocols that the programme knows by now; none before it projects."""
    programme = open_programme(root)
    codes: dict[str, dict[str, str]] = {}
    try:
        from pipeline.session import session

        with session(root) as (con, rules):
            for kind, column in (("site", "site_key"), ("plot", "plot_key"), ("bed", "bed_key"), ("deployment", "unit_key"),
                                 ("collection", "batch_key"), ("permit", "permit_key")):  # fmt: skip
                found = con.sql(f"select distinct {column} from {kind}_now where {column} is not null").fetchall()
                codes[kind] = {plain(c): c for (c,) in found}
            for code, name in con.sql("select site_key, name from site_now where name is not null").fetchall():
                codes["site"].setdefault(plain(name), code)
            return Registered(codes, [p.key for p in rules.protocols], names_of(rules))
    except Stop:  # nothing is projected yet
        return Registered({}, [p.key for p in programme.rules.protocols], names_of(programme.rules))


def shown(file: Path, partner: str, toml: str, rules: Rules, most: int = 5) -> Shown:
    """A file as it would be read by a mapping, were that confirmed. BadUsage when the mapping is not as it must be."""
    from pipeline.examine import examine
    from pipeline.ledger.staging import Staged

    kinds = all_kinds()
    mapping = parse_mapping(partner, toml.encode(), kinds, "the suggested mapping")
    confirmed = replace(mapping, sheets=tuple(replace(s, confirmed=True) for s in mapping.sheets))
    if file.stat().st_size > SHOWN_BELOW:
        return Shown(0, 0, [], [])
    with tempfile.TemporaryDirectory() as scratch:
        blank = Staged(Path(scratch), partner, "", file.stat().st_size, file.name, "")
        staged = examine(file, blank, confirmed, kinds, rules.timezone, names_of(rules))
        first: list[tuple[str, int, dict[str, str]]] = []
        for kind in staged.kinds:
            own = [c.name for c in kinds[kind].columns]
            of_row: Counter[int] = Counter()
            for row in pq.read_table(staged.path(kind)).slice(0, LOOKED_AT).to_pylist():
                of_row[row["row"]] += 1
                if of_row[row["row"]] <= 2 and len(of_row) <= most:
                    first.append((kind, row["row"], {c: _brief(row[c]) for c in own if row[c] is not None}))
        parts = list(parts_in(staged.parts_files(), ["fate", "identity", "content"]))
        faults = pq.read_table(staged.path("faults")).slice(0, most).to_pylist() if staged.has("faults") else []
    told = [(f["row"], f["heading"] or f["column"], f["found"], f["wanted"]) for f in faults]
    said: dict[str, set[str]] = defaultdict(set)
    good = [p for p in parts if p["fate"] == "entered" and p["identity"]]
    for p in good:
        said[p["identity"]].add(p["content"])
    contrary = sum(len(said[p["identity"]]) > 1 for p in good)
    faulty = sum(p["fate"] == "faulty" for p in parts)
    return Shown(len(parts), faulty + contrary, first, told, contrary)


def was_taken(root: Path, file: Path, partner: str) -> bool:
    """Whether the ledger holds these very bytes of that partner."""
    places = open_programme(root).places
    digest = disk.sha256_of(file)
    return any(
        (e.partner, e.drop) == (partner, digest) for e in Ledger(places.ledger, compact=places.entries_cache).entries()
    )


def _brief(value: object) -> str:
    """A value as a person writes it: decimals without the zeros behind them."""
    text = f"{value:f}" if isinstance(value, Decimal) else str(value)
    return text.rstrip("0").rstrip(".") if isinstance(value, Decimal) and "." in text else text


def answered(proposal: Proposal, path: Sequence[str], answer: str) -> None:
    """Put a person's answer where its question stands. BadUsage, in one sentence, when it cannot be taken; then nothing changed."""
    put(proposal, tuple(path), answer, all_kinds())


def language_in(sheets: Sequence[Proposal]) -> str:
    """The language of a file as mappings call it; the word lists' Norwegian is written like Bokmål."""
    told = sheets[0].language if sheets else "en"
    return {"no": "nb"}.get(told, told)


def _comment(text: str) -> str:
    return "“" + re.sub(r"\s+", " ", "".join(c if c.isprintable() else " " for c in text)) + "”"
