"""Two who say different things of one shared code: who said what last decides, never whose file came first."""

import hashlib
from itertools import combinations, product

import duckdb
import pytest

from pipeline import look, settle
from pipeline.errors import BadUsage
from pipeline.ledger import judge, known, returned
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
            "create or replace table part_loaded (pos int, partner varchar, drop_hash varchar, retaken boolean, records bigint, "
            "sheet varchar, row bigint, part int, kind varchar, fate varchar, identity varchar, key varchar, content varchar)"
        )
        con.execute("create or replace view good_lying as select * from part_loaded where false")
        con.execute("create or replace view part_read as select * from part_loaded")
        rows = [(thing, word) for thing, word in sorted(words.items()) if word is not None]
        said = [(at, self.named(thing), thing, word) for at, (thing, word) in enumerate(rows, 2)]
        con.execute(
            "insert into part_loaded select 0, ?, ?, ?, 1000000, '', unnest(?), 1, 'deployment', 'entered', unnest(?), unnest(?), "
            "unnest(?)",
            [partner, name, drop is not None, *map(list, zip(*said or [(0, "0" * 32, "", "")], strict=True))],
        )
        self.look()
        con.execute("drop table if exists mended")
        returned.load_mended(con, [])
        con.execute("create or replace temp table only_waited (identity varchar)")
        judge.judge(con, 0, lambda: None)
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
        quarrels = {i for i, _ in self.con.sql(text_of("differing")).fetchall()}
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


# --- several drops of one night -------------------------------------------------------------------------------

HEAD = "unit_key   method   site_key   plot_key   happened\n"


def units(**methods):
    """A drawn sheet of units put down at the cove: units(U1="spore bag")."""
    return HEAD + "\n".join(f"{u}   {m}   CB   T1   2025-03-01" for u, m in methods.items())


NOW = "select unit_key, method from deployment_now order by all"
MORE = {f"V{n}": "spore bag" for n in range(10)}


def test_partners_who_agree_on_one_night_are_heard(programme):
    """Two who said alike, or quarrelled, and hand in one new word on the same night have said it: it counts."""
    programme.take({"club/a.csv": units(U1="spore bag", **MORE), "school/a.csv": units(U1="spore bag")})
    programme.take({"club/b.csv": units(U1="seeded line"), "school/b.csv": units(U1="seeded line")})
    assert ("U1", "seeded line") in programme.ask(NOW)
    assert look.waiting(programme.root) == []
    programme.take({"club/c.csv": units(U2="spore bag"), "school/c.csv": units(U2="transplant")})
    programme.take({"club/d.csv": units(U2="seeded line"), "school/d.csv": units(U2="seeded line")})
    assert ("U2", "seeded line") in programme.ask(NOW)


def test_a_word_of_the_programme_counts_beside_a_partners(programme):
    """What the programme amends is amended, whoever says the same on that night."""
    programme.take({"club/a.csv": units(U1="spore bag", **MORE), "school/a.csv": units(U1="spore bag")})
    programme.take({"club/b.csv": units(U1="seeded line"), "programme/deployment.csv": units(U1="seeded line")})
    assert ("U1", "seeded line") in programme.ask(NOW)


def test_a_small_file_that_is_asked_about_does_not_hide_a_big_one(programme):
    """The same amendments in a file that amends much and in one that does not enter by the second, whichever is read first."""
    known = {f"U{n}": "spore bag" for n in range(1, 22)}
    programme.take({"club/a.csv": units(**known)})
    new = {"U1": "transplant", "U2": "transplant"}
    small, big = programme.take(
        {"club/small.csv": units(**new, U99="spore bag"), "club/big.csv": units(**{**known, **new})}
    )
    assert {("U1", "transplant"), ("U2", "transplant")} <= set(programme.ask(NOW))
    assert {small.receipt.amended, big.receipt.amended} == {0, 2}


def test_a_word_taken_back_binds_nobody(programme):
    """Who withdrew its word has none: the other may amend, and a dispute with it ends."""
    back = "happened   withdraws_kind   withdraws_key   reason\n2025-04-01   deployment   U1   slip"
    programme.take({"club/a.csv": units(U1="spore bag", **MORE)})
    programme.take({"school/a.csv": units(U1="transplant")})
    assert ("U1", "spore bag") not in programme.ask(NOW)
    programme.take({"school/withdrawal.csv": back})
    assert ("U1", "spore bag") in programme.ask(NOW)
    programme.take({"club/b.csv": units(U1="seeded line")})
    assert ("U1", "seeded line") in programme.ask(NOW)


def test_what_no_last_word_settles_stays_open(programme):
    """Of two who differ on one night one withdraws: the other's word never entered, so it stays held until it is said again."""
    back = "happened   withdraws_kind   withdraws_key   reason\n2025-04-01   deployment   U1   slip"
    programme.take({"club/a.csv": units(U1="spore bag"), "school/a.csv": units(U1="transplant")})
    programme.take({"school/withdrawal.csv": back})
    assert programme.ask(NOW) == []
    assert [h.partner for h in look.held_rows(programme.root) if h.partner == "club"] == ["club"]
    programme.take({"club/b.csv": units(U1="spore bag", U2="spore bag")})
    assert ("U1", "spore bag") in programme.ask(NOW)
    assert [h for h in look.held_rows(programme.root) if h.partner == "club"] == []


def test_what_counts_by_a_ruling_can_be_withdrawn(programme):
    """An event that never entered but was ruled right is withdrawn by its key like any other."""
    programme.take({"club/a.csv": units(U1="spore bag"), "school/a.csv": units(U1="transplant")})
    programme.ask(NOW)
    chosen = next(q for q in look.waiting(programme.root) if q.partner == "club")
    with pytest.raises(BadUsage, match="who decided it and why"):
        settle.settle(programme.root, chosen.identity, chosen.content, "mb", " ")
    settle.settle(programme.root, chosen.identity, chosen.content, "mb", "their dive log says so")
    assert programme.ask(NOW) == [("U1", "spore bag")]
    settle.withdraw(programme.root, "club", "deployment", "U1", "never put down", "mb")
    assert programme.ask(NOW) == []
