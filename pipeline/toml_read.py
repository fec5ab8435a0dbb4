"""Reading our own TOML files with messages that name the file, the key, what was found and what is wanted."""

import datetime as dt
import re
from collections.abc import Mapping
from decimal import Decimal, InvalidOperation
from typing import Any

from pipeline.errors import BadUsage

_MISSING: Any = object()
_UNPRINTABLE = re.compile(
    "[^\t\n\r\x20-\x7e\xa0-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]"
)  # XML 1.0, 2.2, without its controls


class Table:
    """A TOML table that knows where it stands and which of its keys were asked for."""

    def __init__(self, data: Mapping[str, Any], where: str) -> None:
        self.data, self.where, self.asked = data, where, set[str]()

    def _get(self, key: str, default: Any) -> Any:
        self.asked.add(key)
        if key in self.data:
            return self.data[key]
        if default is _MISSING:
            raise BadUsage(f"{self.where}: `{key}` is missing. Add it there and run again.")
        return default

    def _wrong(self, key: str, found: Any, wanted: str) -> BadUsage:
        return BadUsage(f"{self.where}: `{key}` is {found!r}; {wanted} is wanted.")

    def text(self, key: str, default: Any = _MISSING) -> str:
        """A text."""
        found = self._get(key, default)
        if not isinstance(found, str):
            raise self._wrong(key, found, "a text in quotes")
        return found

    def plain_text(self, key: str, default: Any = _MISSING) -> str:
        """A text that is published: without the control characters that no XML document may hold."""
        found = self.text(key, default)
        if odd := _UNPRINTABLE.search(found):
            raise self._wrong(key, found, f"a text without the control character U+{ord(odd[0]):04X}")
        return found

    def plain_texts(self, key: str, default: Any = _MISSING) -> list[str]:
        """A list of such texts."""
        found = self.texts(key, default)
        return [Table({key: one}, self.where).plain_text(key) for one in found]

    def one_of(self, key: str, allowed: tuple[str, ...], default: Any = _MISSING) -> str:
        """One of a few texts."""
        found = self.text(key, default)
        if found not in allowed:
            raise self._wrong(key, found, "one of " + ", ".join(f'"{a}"' for a in allowed))
        return found

    def yes_no(self, key: str, default: Any = _MISSING) -> Any:
        """true or false; the default may be anything."""
        found = self._get(key, default)
        if found is not default and not isinstance(found, bool):
            raise self._wrong(key, found, "true or false, without quotes,")
        return found

    def whole(self, key: str, default: Any = _MISSING) -> int:
        """A whole number of at least 0."""
        found = self._get(key, default)
        if not isinstance(found, int) or isinstance(found, bool) or found < 0:
            raise self._wrong(key, found, "a whole number")
        return found

    def wholes(self, key: str, default: Any = _MISSING) -> list[int]:
        """A list of whole numbers."""
        found = self._get(key, default)
        if not isinstance(found, list) or not all(isinstance(i, int) and i >= 0 for i in found):
            raise self._wrong(key, found, "a list of whole numbers, such as [14, 28]")
        return found

    def texts(self, key: str, default: Any = _MISSING) -> list[str]:
        """A list of texts; one text alone is a list of one."""
        found = self._get(key, default)
        found = [found] if isinstance(found, str) else found
        if not isinstance(found, list) or not all(isinstance(i, str) for i in found):
            raise self._wrong(key, found, 'a list of texts, such as ["a", "b"]')
        return found

    def some_of(self, key: str, allowed: tuple[str, ...]) -> list[str]:
        """A list of a few texts."""
        found = self.texts(key)
        for one in found:
            if one not in allowed:
                raise self._wrong(key, one, "each one of " + ", ".join(f'"{a}"' for a in allowed))
        return found

    def decimal(self, key: str, default: Any = _MISSING) -> Decimal:
        """A number, kept exactly as written."""
        found = self._get(key, default)
        try:
            value = Decimal(str(found))
        except InvalidOperation:
            raise self._wrong(key, found, "a number") from None
        if isinstance(found, bool) or not value.is_finite():
            raise self._wrong(key, found, "a number")
        return value

    def decimals(self) -> dict[str, Decimal]:
        """The whole table as names and numbers."""
        return {k: self.decimal(k) for k in self.data}

    def day(self, key: str, default: Any = _MISSING) -> dt.date:
        """A date, with or without quotes."""
        found = self._get(key, default)
        if isinstance(found, dt.date) and not isinstance(found, dt.datetime):
            return found
        if isinstance(found, str) and re.fullmatch(r"\d{4}-\d\d-\d\d", found):
            try:
                return dt.date.fromisoformat(found)
            except ValueError:
                pass
        raise self._wrong(key, found, "a day such as 2025-04-18")

    def table(self, key: str, default: Any = _MISSING) -> "Table":
        """A table inside this one."""
        found = self._get(key, default)
        if not isinstance(found, dict):
            raise self._wrong(key, found, f"a table [{key}]")
        return Table(found, f"{self.where}, [{key}]")

    def tables(self, key: str) -> list["Table"]:
        """A list of tables, empty when there is none."""
        found = self._get(key, [])
        if not isinstance(found, list) or not all(isinstance(i, dict) for i in found):
            raise self._wrong(key, found, f"one or more tables [[{key}]]")
        return [Table(t, f"{self.where}, [[{key}]] number {n}") for n, t in enumerate(found, 1)]

    def mapping(self, key: str) -> dict[str, str]:
        """Texts by text, empty when there is none; numbers on the right are taken as written."""
        found = self._get(key, {})
        if not isinstance(found, dict) or not all(isinstance(v, str | int | float) for v in found.values()):
            raise self._wrong(key, found, f"a table [{key}] of texts")
        return {k: str(v) for k, v in found.items()}

    def singles_and_lists(self, key: str) -> tuple[dict[str, str], dict[str, tuple[str, ...]]]:
        """A table of texts and of lists of texts, each kind apart."""
        found = self._get(key, {})
        lists = {k: v for k, v in found.items() if isinstance(v, list)} if isinstance(found, dict) else {}
        inner = Table(lists, f"{self.where}, [{key}]")
        singles = {k: v for k, v in found.items() if k not in lists} if lists else found
        return Table({key: singles}, self.where).mapping(key), {k: tuple(inner.texts(k)) for k in lists}

    def refuse_unknown(self, *also: str) -> None:
        """A key nobody asked for is a slip of the pen that would otherwise be silently ignored."""
        unknown = sorted(set(self.data) - self.asked - set(also))
        if unknown:
            known = ", ".join(sorted(self.asked | set(also)))
            raise BadUsage(f"{self.where}: `{unknown[0]}` is not known here. Known are: {known}.")
