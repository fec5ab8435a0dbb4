"""The fates that the judge wrote are those of a plain reading of "coming again" (design, section 2), take-in by take-in."""

from collections import defaultdict
from collections.abc import Iterable, Sequence

import kept
import pytest
from fold import last_words
from profiles import seeds

Part = dict


class Reader:
    """Somebody who reads every take-in in turn and remembers what was said."""

    def __init__(self) -> None:
        self.current: dict[str, Part] = {}
        self.entries: list[Part] = []
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
        before = [q for q in self.told if q["identity"] == p["identity"] and q["fate"] != "faulty"]
        ruling = self.rulings.get(p["identity"])
        words = last_words(before, self.entries, ruling)
        own = words.pop(p["partner"], set())
        mine = [
            q
            for q in before
            if (q["partner"], q["content"]) == (p["partner"], p["content"]) and q["fate"] != "question"
        ]
        registered = any(q["partner"] == "programme" and q["fate"] in ("entered", "amends", "repeated") for q in before)
        given_up = mine and own and p["content"] not in own
        if current and current["content"] == p["content"]:
            return "question" if given_up else "repeated"
        if ruling and any(q["content"] == p["content"] and q["entry"] < ruling["entry"] for q in before):
            return "question"
        if given_up or (registered and any(q["fate"] in ("entered", "amends") for q in mine)):
            return "question"
        if met:
            return "repeated"
        if p["partner"] != "programme":
            theirs = set().union(*words.values()) or (
                {current["content"]} if current and current["partner"] != p["partner"] else set()
            )
            if registered or theirs - {p["content"]}:
                return "conflict"
        return "amends" if current else "entered"

    def _taken_back(self, p: Part) -> bool:
        ruling = self.rulings.get(p["identity"])
        return any(
            (w["withdraws_kind"], w["withdraws_key"]) == (p["kind"], p["key"])
            and w["partner"] in (p["partner"], "programme")
            and not (ruling and ruling["choice"] != "none" and ruling["entry"] > w["entry"])
            for w in self.withdrawals
        )

    def remember(self, parts: Iterable[Part], entries: Iterable[Part]) -> None:
        """What the take-in leaves behind."""
        self.entries += entries
        for p in parts:
            self.told.append(p)
            if p["fate"] in ("entered", "amends"):
                self.current[p["identity"]] = p
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


@pytest.mark.parametrize("seed", [*seeds(4), "quarrel"])
def test_fates_are_those_of_a_plain_reading(journeys, seed):
    """Entered, amends, repeated, conflict or question: each part of each take-in got the fate that the design gives it."""
    journey = journeys.of(seed)
    ledger, reader = kept.read(journey.root / "ledger"), Reader()
    for entries in journey.taken:
        here = [p for p in ledger.parts if p["entry"] in {e.number for e in entries}]
        expected = reader.fates(here, {e.number: e.receipt.records for e in entries})
        assert [(p["entry"], p["row"], p["fate"]) for p in here] == [
            (p["entry"], p["row"], fate) for p, fate in zip(here, expected, strict=True)
        ]
        reader.remember(here, [e for e in ledger.entries if e["number"] in {x.number for x in entries}])
