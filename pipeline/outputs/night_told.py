"""What a night changed, in words: the same sections as one text and as one page, so that they cannot differ."""

import re
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from itertools import zip_longest
from urllib.parse import quote

from pipeline.changed import Changed
from pipeline.indicators.figure import Figure
from pipeline.moved import Moved, News
from pipeline.outputs.layout import interval_text, paragraph, plain, ranges, table, value_text
from pipeline.outputs.letter_places import letter_place
from pipeline.plural import n_of

LISTED = 100  # of one section; the rest are counted
CAUSES = 40  # of figures that moved
FILES = 4  # named behind one figure; the rest are counted


@dataclass(frozen=True)
class Section:
    """A heading ("" where it goes on), a sentence, and a table if there is anything to list. right: columns flush right.

    links: for each row where its first cell leads, "" for nowhere.
    """

    title: str
    says: str
    headings: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()
    right: tuple[int, ...] = ()
    links: tuple[str, ...] = ()


def title(c: Changed) -> str:
    """The first line."""
    return f"{plain(c.programme)}: what changed in the night of {c.day}"


def sections(c: Changed) -> list[Section]:
    """Everything there is to say, in order of what asks for somebody first."""
    told = (_drops(c), _open(c), _unexplained(c), *_moved(c), _appeared(c), _remarks(c), _partners(c), _looks(c))
    return [s for s in told if s]


def as_text(c: Changed) -> str:
    """The text of the night."""
    lines = [title(c), ""]
    for s in sections(c):
        lines += [s.title.upper()] if s.title else []
        lines += paragraph("", s.says, 0)
        if s.rows:
            lines += ["", *table(s.headings, s.rows[:LISTED], s.right)]
            lines += [f"... and {len(s.rows) - LISTED} more"] if len(s.rows) > LISTED else []
        lines.append("")
    return "\n".join(lines)


def as_page(c: Changed) -> str:
    """The page of the night: one file that loads nothing. Everything that people wrote is escaped."""
    told = "\n".join(_section(s) for s in sections(c))
    return f"""<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{escape(title(c))}</title>
<style>{STYLE}</style>
</head>
<body>
<main>
<h1>{escape(plain(c.programme))}</h1>
<p class="day">What changed in the night of <time datetime="{c.day}">{c.day}</time>. The same as text: <a href="changed.txt">changed.txt</a>.</p>
{told}
</main>
</body>
</html>
"""


STYLE = """
:root { color-scheme: light dark; }
body { font: 1rem/1.5 system-ui, sans-serif; margin: 0; }
main { max-width: 72rem; margin: 0 auto; padding: 1rem; }
h1 { margin-bottom: 0; }
.day { margin-top: 0; }
h2 { margin: 2rem 0 0; border-bottom: 1px solid; }
.scroll { overflow-x: auto; }
table { border-collapse: collapse; font-size: 0.9rem; }
th, td { text-align: left; vertical-align: top; padding: 0.3rem 1rem 0.3rem 0; border-bottom: 1px solid color-mix(in srgb, currentColor 25%, transparent); }
.n { text-align: right; font-variant-numeric: tabular-nums; }
"""


def _section(s: Section) -> str:
    heading = f"<h2>{escape(s.title)}</h2>\n" if s.title else ""
    lines = [f"<section>\n{heading}<p>{_commands(escape(plain(s.says)))}</p>"]
    if s.rows:
        marks = ['class="n"' if i in s.right else "" for i in range(len(s.headings))]
        head = "".join(f'<th scope="col" {m}>{escape(h)}</th>' for h, m in zip(s.headings, marks, strict=True))
        lines.append(f'<div class="scroll" tabindex="0"><table>\n<thead><tr>{head}</tr></thead>\n<tbody>')
        for row, link in zip_longest(s.rows[:LISTED], s.links[:LISTED], fillvalue=""):
            cells = [escape(plain(c)) for c in row]
            cells[0] = f'<a href="{escape(quote(link))}">{cells[0]}</a>' if link else cells[0]
            lines.append("<tr>" + "".join(f"<td {m}>{c}</td>" for c, m in zip(cells, marks, strict=True)) + "</tr>")
        lines.append("</tbody></table></div>")
        lines += [f"<p>... and {len(s.rows) - LISTED} more</p>"] if len(s.rows) > LISTED else []
    return "\n".join([*lines, "</section>"])


def _commands(text: str) -> str:
    return re.sub("`([^`]+)`", r"<code>\1</code>", text)


# --- sections -------------------------------------------------------------------------------------------------


def _drops(c: Changed) -> Section:
    drops = [e for e in c.entries if e.drop]
    says = f"{n_of(len(drops), 'drop')} came in." if drops else "Nothing came in."
    says += " The programme's rules changed." if c.other_rules else ""
    says += " Wrackline itself is another version." if c.other_code else ""
    says += " A drop's original bytes were erased, on record." if any(e.redacts for e in c.entries) else ""
    rows = tuple(
        (
            f"{e.partner}/{e.name}" + (" (read again)" if e.retaken else ""),
            *(f"{n:,}" for n in (e.receipt.entered - e.receipt.amended, e.receipt.amended, e.receipt.repeated, e.receipt.held)),
            f"not readable: {e.unreadable}" if e.unreadable else "",
        )
        for e in drops
    )  # fmt: skip
    heads = ("drop", "entered", "amended", "known already", "held", "")
    return Section(
        "New drops",
        says,
        heads,
        rows,
        (1, 2, 3, 4),
        tuple(letter_place(e.partner, e.number, e.name).removeprefix("out/") for e in drops),
    )


def _open(c: Changed) -> Section:
    says = f"Of what came in this night {n_of(c.held_tonight, 'statement was', 'statements were')} held when it was taken in. "
    says += (
        f"Open now, of all nights: {c.held:,} held and {n_of(c.waiting, 'thing waits', 'things wait')} for a ruling."
    )
    if c.held_tonight:
        says += " What was mended or settled since is no longer open."
    if c.held or c.waiting:
        says += " `wrackline held` and `wrackline waiting` list them; the partners' letters and pages tell them."
    return Section("Held and waiting", says)


def _unexplained(c: Changed) -> Section | None:
    if not c.unexplained:
        return None
    says = f"{n_of(len(c.unexplained), 'figure')} moved, and nothing new explains it. Please look: this should not be."
    return Section(
        "Moved without a reason",
        says,
        ("figure", "what", "of"),
        tuple((f.id, f.indicator, _of(f)) for f in c.unexplained),
    )


def _moved(c: Changed) -> list[Section]:
    """A table for each cause, those that moved most figures first."""
    if not c.moved:
        return [
            Section(
                "Figures that moved",
                "No figure moved."
                if c.base
                else "Nothing was published before this day, and what is run again on one day is told together.",
            )
        ]
    by_cause: dict[str, list[Moved]] = defaultdict(list)
    for m in c.moved:
        by_cause[_by(m)].append(m)
    says = f"{n_of(len(c.moved), 'figure')} moved. `wrackline home` leads from each to all its rows."
    says += f" Only the first {CAUSES} causes are told." if len(by_cause) > CAUSES else ""
    causes = sorted(by_cause.items(), key=lambda told: (-len(told[1]), told[0]))[:CAUSES]
    return [Section("Figures that moved", says), *(_of_cause(cause, moved) for cause, moved in causes)]


def _of_cause(cause: str, moved: Sequence[Moved]) -> Section:
    rows = tuple((m.figure.id, m.figure.indicator, _of(m.figure), _number(m, before=True), _number(m)) for m in moved)
    return Section("", f"By {cause}:", ("figure", "what", "of", "before", "now"), rows)


def _appeared(c: Changed) -> Section:
    says = f"There are {n_of(c.figures, 'figure')} now; {sum(c.appeared.values()):,} are new and {sum(c.gone.values()):,} are no more."
    names = sorted({*c.appeared, *c.gone})
    rows = tuple((name, f"{c.appeared.get(name, 0):,}", f"{c.gone.get(name, 0):,}") for name in names)
    return Section("New figures", says, ("indicator", "new", "no more"), rows, (1, 2))


def _remarks(c: Changed) -> Section | None:
    if not c.remarks:
        return None
    rows = tuple((r.effect, f"{r.events:,}", r.kind, r.rule, r.why) for r in c.remarks)
    says = "Of what entered, this waits or stands with a caution; one instance of each."
    return Section("Cautions", says, ("effect", "events", "kind", "rule", "for instance"), rows, (1,))


def _partners(c: Changed) -> Section | None:
    if not c.partners:
        return None
    rows = tuple(
        (p.partner, str(p.due), str(p.last) if p.last else "never", f"every {n_of(p.every_days, 'day')}")
        for p in c.partners
    )
    says = "By the programme's own rhythm something was expected of:"
    return Section("Expected and not yet here", says, ("partner", "expected by", "last drop", "rhythm"), rows)


def _looks(c: Changed) -> Section | None:
    if not c.looks:
        return None
    says = "Due when conditions and the supervisor allow: whether anybody dives is for people to say."
    return Section(
        "Looks planned for a day that is past",
        says,
        ("site", "look", "planned for"),
        tuple((x.site, x.what, str(x.due)) for x in c.looks),
    )


def _of(f: Figure) -> str:
    return " ".join(v for _, v in f.scope)


def _number(m: Moved, before: bool = False) -> str:
    e = m.before if before else m.figure.estimate
    between = interval_text(e)
    return value_text(e) + (f" ({between})" if between != "-" else "")


def _by(m: Moved) -> str:
    if not m.rows:
        return m.why or ("rows that were not looked for" if not m.looked_into else "nothing that was found")
    by_file: dict[tuple[str, str, str], list[News]] = defaultdict(list)
    for n in m.rows:
        by_file[n.partner, n.file, n.kind].append(n)
    told = [f"{_kind(rows)} in {partner}/{file}, {_rows(rows)}" for (partner, file, _), rows in by_file.items()]
    return "; ".join(told[:FILES]) + (f"; and {n_of(len(told) - FILES, 'more file')}" if len(told) > FILES else "")


def _kind(rows: Sequence[News]) -> str:
    return rows[0].kind if any(n.fate != "faulty" for n in rows) else f"held {rows[0].kind}".strip()


def _rows(rows: Sequence[News]) -> str:
    told = ranges([n.row for n in rows]).split(",")
    return f"row{'s' if len(rows) > 1 else ''} " + ", ".join(told[:6]) + (" ..." if len(told) > 6 else "")
