"""The fates that the judge wrote are those of a plain reading of "coming again" (design, section 2), take-in by take-in."""

from collections import defaultdict
from collections.abc import Iterable, Sequence

import kept
import pytest
from profiles import seeds

Part = dict


class Reader:
    """Somebody who reads every take-in in turn and remembers what was said."""

    def __init__(self) -> None:
        self.current: dict[str, Part] = {}
        self.versions: dict[str, set[str]] = defaultdict(set)
        self.withdrawals: list[Part] = []
        self.rulings: dict[str, Part] = {}
        self.told: list[Part] = []

    def fates(self, parts: Sequence[Part], records: dict[int, int]) -> list[str]:
        """The fate of each part of one take-in, in order. records: rows of each drop, by entry."""
        said_now = defaultdict(set)
        for p in parts:
            if p["fate"] != "faulty":
                said_now[p["identity"]].add(p["content"])
        met: set[tuple[str, str]] = set()
        fates = []
        for p in parts:
            fates.append(self._fate(p, said_now[p["identity"]], (p["identity"], p["content"]) in met))
            met.add((p["identity"], p["content"]))
        for entry, rows in records.items():
            mine = [i for i, p in enumerate(parts) if p["entry"] == entry and fates[i] == "amends"]
            if len(mine) > max(0.3 * rows, 1):  # one row alone may always amend
                for i in mine:
                    fates[i] = "question"
        return fates

    def _fate(self, p: Part, said_now: set[str], met: bool) -> str:
        current = self.current.get(p["identity"])
        if p["fate"] == "faulty":
            return "faulty"
        if len(said_now) > 1:
            return "conflict"
        if self._taken_back(p):
            return "question"
        if current and current["content"] == p["content"]:
            return "repeated"
        if p["content"] in self.versions[p["identity"]]:
            return "question"
        if met:
            return "repeated"
        if current is None:
            return "entered"
        return "amends" if p["partner"] in (current["partner"], "programme") else "conflict"

    def _taken_back(self, p: Part) -> bool:
        ruling = self.rulings.get(p["identity"])
        return any(
            (w["withdraws_kind"], w["withdraws_key"]) == (p["kind"], p["key"])
            and w["partner"] in (p["partner"], "programme")
            and not (ruling and ruling["choice"] != "none" and ruling["entry"] > w["entry"])
            for w in self.withdrawals
        )

    def remember(self, parts: Iterable[Part]) -> None:
        """What the take-in leaves behind."""
        for p in parts:
            self.told.append(p)
            if p["fate"] in ("entered", "amends"):
                self.current[p["identity"]] = p
                self.versions[p["identity"]].add(p["content"])
                if p["kind"] == "withdrawal":
                    self.withdrawals.append(p)
                if p["kind"] == "ruling":
                    self._heed(p)

    def _heed(self, ruling: Part) -> None:
        """What a ruling chose is current until something newer enters; with an older ruling's choice it is over."""
        settled = ruling["settles"]
        entered = [p for p in self.told if p["identity"] == settled and p["fate"] in ("entered", "amends")]
        chosen = [p for p in self.told if (p["identity"], p["content"]) == (settled, ruling["choice"])]
        self.rulings[settled] = ruling
        self.current.pop(settled, None)
        if chosen or entered:
            self.current[settled] = chosen[0] if chosen else entered[-1]


@pytest.mark.parametrize("seed", seeds(4))
def test_fates_are_those_of_a_plain_reading(journeys, seed):
    """Entered, amends, repeated, conflict or question: each part of each take-in got the fate that the design gives it."""
    journey = journeys.of(seed)
    parts, reader = kept.read(journey.root / "ledger").parts, Reader()
    for entries in journey.taken:
        here = [p for p in parts if p["entry"] in {e.number for e in entries}]
        expected = reader.fates(here, {e.number: e.receipt.records for e in entries})
        assert [(p["entry"], p["row"], p["fate"]) for p in here] == [
            (p["entry"], p["row"], fate) for p, fate in zip(here, expected, strict=True)
        ]
        reader.remember(here)
