"""What a mapping's “*” took for wide columns, said to their owner: a sum or a temperature may be among them."""

from collections.abc import Mapping, Sequence

from pipeline.intake.names import Names
from pipeline.intake.reshape import Shape
from pipeline.intake.sheet import Sheet
from pipeline.intake.species import TERM
from pipeline.plural import n_of
from schemas.kinds import Kind

ALL = "*"
LISTED = 40  # headings of one sort that are named


def notes_on_starred(sheet: Sheet, shapes: Sequence[Shape], kinds: Mapping[str, Kind], names: Names) -> list[str]:
    """A sentence for each part whose wide columns are all that are named nowhere else, and one for those of no known species."""
    where = f"Sheet “{sheet.name}”: " if sheet.name else ""
    notes = []
    for shape in shapes:
        wide, kind = shape.part.wide, kinds[shape.part.kind]
        if wide is None or ALL not in wide.headings or not shape.groups:
            continue
        titles = " and ".join(kind.column(c).title.lower() for c in wide.told)
        taken = [shape.header[at] for group in shape.groups.values() for at in group.cells.values()]
        notes.append(
            f"{where}{n_of(len(taken), 'column was', 'columns were')} taken for a {titles} each, as all that the mapping "
            f"names nowhere else: {_listed(taken)}."
        )
        strange = _strange(shape, kind, names)
        if strange:
            notes.append(
                f"{where}CAUTION: {n_of(len(strange), 'of these is', 'of these are')} no species that the programme's list "
                f"knows, and entered as written: {_listed(strange)}. If one is a sum, a temperature or a note, tell the "
                "programme: it names such columns under `but_not`."
            )
    return notes


def _strange(shape: Shape, kind: Kind, names: Names) -> list[str]:
    """Headings of which the text enters as a species that neither the list nor the partner's own words know."""
    wide, language = shape.part.wide, shape.part.position.language
    columns = [c for c in (wide.told if wide else ()) if kind.column(c).term.endswith(TERM)]
    own = {word.casefold() for c in columns for word in shape.part.codes.get(c, {})}
    return [
        shape.header[at]
        for at, group in shape.groups.items()
        if any(_is_strange(group.told[c], language, names) for c in columns if group.told[c].casefold() not in own)
    ]


def _is_strange(text: str, language: str, names: Names) -> bool:
    """A name that enters as it is written, though nobody knows it; one that is asked about is held anyway."""
    return names.read(text, language) == text and not names.knows(text, language)


def _listed(headings: Sequence[str]) -> str:
    more = f" and {len(headings) - LISTED} more" if len(headings) > LISTED else ""
    return ", ".join(f"“{h}”" for h in headings[:LISTED]) + more
