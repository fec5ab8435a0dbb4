"""Two who say different things of one shared code: who said what last decides, never whose file came first."""

import hashlib
from itertools import combinations, product

import duckdb
import pytest

from pipeline.ledger import judge, known
from warehouse.sqlfiles import text_of

# a plain reading of "each partner's own last word": a word of one's own that was given up before is asked about


def last_of(words):
    """The word that holds of all that one partner said, in order: what it once gave up does not come back by itself."""
    said, last = set(), None
    for word in words:
        if word == last or word not in said:
            last = word
        said.add(word)
    return last


class Sea:
    """A ledger of bare words: every thing is a unit, its content a letter. Judged by the real judge."""

    def __init__(self):
        self.con, self.things = duckdb.connect(), {}
        self.con.execute(
            "create table known_part (entry bigint, partner varchar, sheet varchar, row bigint, kind varchar, "
            "fate varchar, identity varchar, key varchar, content varchar)"
        )
        self.con.execute("create table entry (number bigint, partner varchar, drop varchar, retaken boolean)")
        self.con.execute("create table asked (entry bigint, identity varchar, held boolean)")
        self.con.execute("create table contradicts (entry bigint, drop varchar)")
        self.con.execute("create table ruled (identity varchar, content varchar, entry bigint)")
        self.con.execute("create table taken_back (identity varchar, partner varchar)")
        self.con.execute("create table disputed (pos int, identity varchar, content varchar)")
        self.con.execute("create table resent (pos int, entry bigint)")

    def named(self, thing):
        """The thing's identity: 32 hexadecimal digits, as the project writes them."""
        made = hashlib.sha256(thing.encode()).hexdigest()[:32]
        self.things[made] = thing
        return made

    def number(self):
        [(n,)] = self.con.sql("select coalesce(max(number), 0) + 1 from entry").fetchall()
        return n

    def says(self, partner, words, drop=None):
        """One take-in of one drop: words {thing: content}. Gives the fates by thing. drop: one read again."""
        con, n = self.con, self.number()
        name = drop or f"drop {n}"
        con.execute(
            "create or replace table part_read (pos int, partner varchar, drop_hash varchar, retaken boolean, records bigint, "
            "sheet varchar, row bigint, part int, kind varchar, fate varchar, identity varchar, key varchar, content varchar)"
        )
        rows = [(thing, word) for thing, word in sorted(words.items()) if word is not None]
        con.executemany(
            "insert into part_read values (0, ?, ?, ?, 1000000, '', ?, 1, 'deployment', 'entered', ?, ?, ?)",
            [
                (partner, name, drop is not None, at, self.named(thing), thing, word)
                for at, (thing, word) in enumerate(rows, 2)
            ]
            or [("", "", False, 0, "0" * 32, "", "")],
        )
        self.look()
        judge.judge(con)
        con.execute("insert into entry values (?, ?, ?, ?)", [n, partner, name, drop is not None])
        con.execute(
            "insert into known_part select ?, ?, p.sheet, p.row, p.kind, coalesce(j.fate, p.fate), p.identity, p.key, p.content "
            "from part_read p left join judged j on j.row = p.row where p.key <> ''",
            [n, partner],
        )
        fates = {i: why or fate for i, fate, why in con.sql("select identity, fate, why from judged").fetchall()}
        return {thing: fates.get(self.named(thing), "entered") for thing, _ in rows}

    def rules(self, choices):
        """The lead rules: {thing: content, or None for none}."""
        n = self.number()
        self.con.execute("insert into entry values (?, 'programme', ?, false)", [n, f"ruling {n}"])
        for thing, choice in choices.items():
            self.con.execute("delete from ruled where identity = ?", [self.named(thing)])
            self.con.execute("insert into ruled values (?, ?, ?)", [self.named(thing), choice, n])

    def look(self):
        """Make the tables that the judge goes by anew."""
        for view in ("part", "settled", "taken_word"):
            self.con.execute(f"drop view if exists {view}")
        for table in ("current", "told_before", "as_of", "quarrelled", "last_word"):
            self.con.execute(f"drop table if exists {table}")
        self.con.execute(known._CURRENT.replace("temp ", "") + known._LAST_WORDS.replace("temp ", ""))

    def holds(self):
        """What holds of every thing: its content, or `disputed`."""
        self.look()
        self.con.execute(
            "create or replace view registered as select distinct identity from known_part "
            "where partner = 'programme' and fate in ('entered', 'amends', 'repeated')"
        )
        quarrels = {i for i, _ in self.con.sql(text_of("in_dispute")).fetchall()}
        return {
            self.things[i]: "disputed" if i in quarrels else c
            for i, c in self.con.sql("select identity, content from current").fetchall()
        }


WORDS = [tuple(w) for n in (1, 2, 3) for w in product("xyz", repeat=n)]
THINGS = {f"{''.join(a)}-{''.join(b)}": (a, b) for a in WORDS for b in WORDS if a[0] == "x" or "x" not in a + b}


@pytest.mark.parametrize("turns", list(combinations(range(6), 3))[::3], ids=str)
def test_in_whatever_order_two_partners_speak_their_last_words_decide(turns):
    """Two partners with up to three words each, in any interleaving: what both say last holds, else it is in dispute."""
    sea, spoken = Sea(), {"club": 0, "lab": 0}
    for turn in range(6):
        partner = "club" if turn in turns else "lab"
        nth = spoken[partner]
        spoken[partner] += 1
        sea.says(
            partner,
            {t: w[nth] if nth < len(w) else None for t, both in THINGS.items() for w in [both[partner == "lab"]]},
        )
    held = sea.holds()
    for thing, (club, lab) in THINGS.items():
        expected = last_of(club) if last_of(club) == last_of(lab) else "disputed"
        assert held[thing] == expected, thing


@pytest.mark.parametrize("first", ["club", "lab"])
def test_a_word_that_both_told_is_not_amended_by_one_alone(first):
    """What two partners said alike needs both, or a ruling, to become something else."""
    sea = Sea()
    other = "lab" if first == "club" else "club"
    sea.says(first, {"U1": "x"})
    assert sea.says(other, {"U1": "x"}) == {"U1": "repeated"}
    assert sea.says(first, {"U1": "y"}) == {"U1": "other partner"}
    assert sea.holds() == {"U1": "disputed"}
    assert sea.says(other, {"U1": "y"}) == {"U1": "amends"}
    assert sea.holds() == {"U1": "y"}


def test_a_word_ruled_against_does_not_open_the_dispute_again():
    """After a ruling the same sheets may come again: what was chosen is known, what was not is asked about."""
    sea = Sea()
    sea.says("club", {"U1": "x"})
    sea.says("lab", {"U1": "y"})
    sea.rules({"U1": "y"})
    assert sea.says("club", {"U1": "x"}) == {"U1": "ruled against"}
    assert sea.says("lab", {"U1": "y"}) == {"U1": "repeated"}
    assert sea.holds() == {"U1": "y"}
    assert sea.says("lab", {"U1": "z"}) == {"U1": "amends"}
    assert sea.says("club", {"U1": "w"}) == {"U1": "other partner"}
    assert sea.holds() == {"U1": "disputed"}


def test_a_ruling_for_nothing_leaves_what_counted_as_everyones_word():
    """After `none` what counted before is known, what was refused is asked about, and a new word is a conflict."""
    sea = Sea()
    sea.says("club", {"U1": "x"})
    sea.says("lab", {"U1": "y"})
    sea.rules({"U1": None})
    assert sea.holds() == {"U1": "x"}
    assert sea.says("lab", {"U1": "y"}) == {"U1": "ruled against"}
    assert sea.says("lab", {"U1": "z"}) == {"U1": "other partner"}
    assert sea.holds() == {"U1": "disputed"}
    assert sea.says("club", {"U1": "x"}) == {"U1": "repeated"}


def test_an_old_sheet_does_not_take_back_a_word():
    """Who said x, then y, and hands in x again is asked about it, even where x still counts because another said it too."""
    sea = Sea()
    sea.says("club", {"U1": "x"})
    sea.says("lab", {"U1": "x"})
    sea.says("club", {"U1": "y"})
    assert sea.says("club", {"U1": "x"}) == {"U1": "older"}
    assert sea.holds() == {"U1": "disputed"}


def test_a_drop_read_again_speaks_for_the_day_it_came():
    """A mended mapping changes what its drop said last, also in a dispute; what a later drop said stays the last word."""
    sea = Sea()
    sea.says("club", {"U1": "x", "U2": "x"})
    sea.says("lab", {"U1": "y", "U2": "y"}, drop=None)
    assert sea.says("lab", {"U1": "x", "U2": "z"}, drop="drop 2") == {"U1": "repeated", "U2": "other partner"}
    assert sea.holds() == {"U1": "x", "U2": "disputed"}
    sea.says("lab", {"U2": "x"})
    assert sea.says("lab", {"U2": "w"}, drop="drop 2") == {"U2": "repeated"}  # history: a later drop has spoken
    assert sea.holds() == {"U1": "x", "U2": "x"}
