"""The fates that the judge wrote are those of a plain reading of "coming again" (design, section 2), take-in by take-in."""

from collections import defaultdict
from collections.abc import Iterable, Sequence

import kept
import pytest
from fold import last_words, taken_by
from profiles import seeds

Part = dict


class Reader:
    """Somebody who reads every take-in in turn and remembers what was said."""

    def __init__(self) -> None:
        self.current: dict[str, Part] = {}
        self.ledger = kept.Ledger()
        self.withdrawals: list[Part] = []
        self.rulings: dict[str, Part] = {}
        self.told: list[Part] = []

    def fates(self, parts: Sequence[Part], records: dict[int, int]) -> list[str]:
        """The fate of each part of one take-in, in order. records: rows of each drop, by entry."""
        said_now = defaultdict(set)
        for p in parts:
            if p["fate"] != "faulty" and not self._settled_already(p):
                said_now[p["identity"]].add(p["content"])
        fates = [self._by_what_was(p, said_now[p["identity"]]) for p in parts]
        open_ = [i for i, fate in enumerate(fates) if not fate]
        much = self._amends_much(parts, open_, records)
        for i in much:
            fates[i] = "question"
        open_ = [i for i in open_ if i not in much]
        by_thing = defaultdict(list)
        for i in open_:
            by_thing[parts[i]["identity"]].append(i)
        for alike in by_thing.values():
            outcomes = {i: self._among(parts[i], [parts[j] for j in alike]) for i in alike}
            good = [i for i in alike if outcomes[i] != "conflict"]
            first = min(good, key=lambda i: (parts[i]["partner"] != "programme", i), default=None)
            for i in alike:
                fates[i] = "conflict" if first is None else outcomes[i] if i == first else "repeated"
        return fates

    def _amends_much(self, parts: Sequence[Part], open_: list[int], records: dict[int, int]) -> set[int]:
        """Those that would amend, of drops that would amend over 30 % of their rows; one row alone may always."""
        amends = [
            i
            for i in open_
            if self._among(parts[i], [parts[j] for j in open_ if parts[j]["identity"] == parts[i]["identity"]])
            == "amends"
            and not self._only_waited(parts[i])
        ]
        much = set()
        for entry, rows in records.items():
            mine = [i for i in amends if parts[i]["entry"] == entry]
            places = {}
            for i in mine:
                places.setdefault(parts[i]["identity"], (parts[i]["sheet"], parts[i]["row"]))
            if len(set(places.values())) > max(0.3 * rows, 1):
                much |= set(mine)
        return much

    def _only_waited(self, p: Part) -> bool:
        """Whether what is said of its thing until now names a site, plot or bed that nobody had told of, and so never counted."""
        said = self.current[p["identity"]]
        known = {(q["kind"], q["key"]) for q in self.told if q["fate"] in ("entered", "amends")}
        site, plot, bed = (said.get(c) for c in ("site_key", "plot_key", "bed_key"))
        named = [("site", site)] if said["kind"] != "site" else []
        named += [("plot", f"{site} | {plot}" if plot else None)] if said["kind"] != "plot" else []
        named += [("bed", bed)] if said["kind"] != "bed" else []
        return any(n[1] and n not in known for n in named)

    def _by_what_was(self, p: Part, said_now: set[str]) -> str:
        """What it is by what was said before this take-in, "" where that depends on what others say now."""
        current = self.current.get(p["identity"])
        if p["fate"] == "faulty":
            return "faulty"
        if len(said_now) > 1 and not self._settled_already(p):
            return "conflict"
        if self._taken_back(p):
            return "question"
        before, words, ruling = self._before(p)
        own = words.get(p["partner"], set())
        mine = [
            q
            for q in before
            if (q["partner"], q["content"]) == (p["partner"], p["content"]) and q["fate"] != "question"
        ]
        given_up = bool(mine) and bool(own) and p["content"] not in own
        if current and current["content"] == p["content"]:
            return "question" if given_up else "repeated"
        if ruling and any(q["content"] == p["content"] and q["entry"] < ruling["entry"] for q in before):
            return "question"
        if given_up or (_told_by_programme(before) and any(q["fate"] in ("entered", "amends") for q in mine)):
            return "question"
        return ""

    def _settled_already(self, p: Part) -> bool:
        """Whether its partner had said the very same before a ruling that refused it, and it does not count again."""
        ruling, current = self.rulings.get(p["identity"]), self.current.get(p["identity"])
        if ruling is None or ruling["choice"] == p["content"] or (current and current["content"] == p["content"]):
            return False
        return any(
            (q["identity"], q["partner"], q["content"]) == (p["identity"], p["partner"], p["content"])
            and q["fate"] != "faulty"
            and q["entry"] < ruling["entry"]
            for q in self.told
        )

    def _among(self, p: Part, alike: Sequence[Part]) -> str:
        """What it is beside what others said last, and do not say anew now."""
        current = self.current.get(p["identity"])
        before, words, _ = self._before(p)
        tellers = {q["partner"] for q in alike}
        if p["partner"] != "programme":
            theirs = set().union(*(w for who, w in words.items() if who not in tellers))
            holder = current["partner"] if current else p["partner"]
            if not theirs and holder not in tellers:
                theirs = {current["content"]}
            if _told_by_programme(before) or theirs - {p["content"]}:
                return "conflict"
        return "amends" if current else "entered"

    def _before(self, p: Part) -> tuple[list[Part], dict[str, set[str]], Part | None]:
        """All that was told of its thing, everyone's last words, and the ruling on it."""
        before = [q for q in self.told if q["identity"] == p["identity"] and q["fate"] != "faulty"]
        ruling = self.rulings.get(p["identity"])
        words = last_words(before, self.ledger, ruling, taken_by(before, self.told, ruling)) if before else {}
        return before, words, ruling

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
        self.ledger.entries += entries
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


def _told_by_programme(before: Sequence[Part]) -> bool:
    return any(q["partner"] == "programme" and q["fate"] in ("entered", "amends", "repeated") for q in before)


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
