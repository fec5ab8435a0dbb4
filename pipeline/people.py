"""Names behind the codes that events carry: people.toml, which is never copied into the ledger. Only who consents is named."""

import tomllib
from dataclasses import dataclass
from pathlib import Path

from pipeline.errors import BadUsage
from pipeline.toml_read import Table


@dataclass(frozen=True)
class Consenting:
    """Somebody who may be named. orcid: the address https://orcid.org/..., "" where none is told."""

    code: str
    name: str
    orcid: str


def who_may_be_named(root: Path) -> list[Consenting]:
    """Everybody of the programme's people.toml with `may_be_named = true`, by code; nobody without that file."""
    path = root / "people.toml"
    if not path.is_file():
        return []
    try:
        data = tomllib.loads(path.read_text(encoding="utf-8"))
    except (UnicodeDecodeError, tomllib.TOMLDecodeError) as e:
        raise BadUsage(f"people.toml cannot be read: {e}. Mend it there and run again.") from e
    top, found = Table(data, "people.toml"), []
    for code in sorted(data):
        person = top.table(code)
        if person.yes_no("may_be_named", False):
            orcid = person.plain_text("orcid", "").removeprefix("https://orcid.org/")
            found.append(Consenting(code, person.plain_text("name"), f"https://orcid.org/{orcid}" if orcid else ""))
    return found
