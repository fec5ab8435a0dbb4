"""What is held, in dispute or waiting, and what that does to frames: small drawn tables in, rows out."""

import pytest

from pipeline import look, run

KELP = "Laminaria hyperborea"
HEAD = "visit_key   happened   site_key   plot_key   frame_key   frame_type   placement   protocol   species   stage   plant_no   length_cm   count   area_m2\n"
UNIT = "unit_key   method   site_key   plot_key   happened   fixing\n"


def frame(key, stage, count, *, plant=".", length=".", area="0.25", species=KELP):
    """One drawn row of a frame."""
    return f"D1   2025-06-01   CB   T1   {key}   quadrat   random   frames   {species}   {stage}   {plant}   {length}   {count}   {area}\n"


def counts(programme):
    """(frame, stage, count) of every count."""
    return programme.ask("select frame_key, stage, cast(count as int) from frame_count order by all")


@pytest.mark.parametrize(
    ("rows", "known"),
    [
        ([frame(1, "recruit", 3)], [("1", "juvenile", 0), ("1", "recruit", 3)]),
        ([frame(1, "recruit", 3), frame(1, "juvenile", "many")], [("1", "recruit", 3)]),
        ([frame(1, "recruit", 3), frame(1, "smal", 2)], [("1", "recruit", 3)]),
        ([frame(1, "recruit", 3), frame(1, "juvenile", 2, area=".")], [("1", "recruit", 3)]),
        ([frame(1, "recruit", 3), frame(1, "juvenile", 2), frame(1, "juvenile", 4)], [("1", "recruit", 3)]),
        ([frame(1, "recruit", 3), frame(1, "canopy", "many")], [("1", "juvenile", 0), ("1", "recruit", 3)]),
        ([frame(1, "recruit", 1, plant=1), frame(1, "recruit", "one", plant=2)], [("1", "juvenile", 0)]),
        ([frame(1, "recruit", 3), frame(1, "recruit", "x", species="Alaria esculenta")], [("1", "juvenile", 0), ("1", "recruit", 3)]),
        ([frame(1, "recruit", 3), frame(2, "juvenile", "many")], [("1", "juvenile", 0), ("1", "recruit", 3)]),
    ],
    ids=["all there", "held", "held, its stage unread", "waits", "in dispute", "held, of another stage", "a plant held",
         "held, of another species", "held, of another frame"],
)  # fmt: skip
def test_what_a_frame_does_not_tell(programme, rows, known):
    """Where a row of a frame does not count, what it may be of is unknown there: neither zero nor a part of the sum."""
    programme.take({"club/survey.csv": HEAD + "".join(rows)})
    assert counts(programme) == known


def test_a_frame_that_is_held_whole_is_told_of(programme):
    """A frame whose only row is held makes no figure smaller in silence: the round's densities say that a row is held."""
    rows = [frame(n, "recruit", 3) for n in range(1, 4)]
    programme.take({"club/survey.csv": HEAD + "".join(rows) + frame(4, "recruit", "many")})
    run.run_all(programme.root)
    found = [f for f in look.published(programme.root) if f.indicator == "density" and f.of("stage") == "recruit"]
    assert [f.estimate.n for f in found] == [3]
    assert "rows of these dives that are held: 1" in found[0].estimate.cautions


def test_a_mended_row_ends_the_doubt(programme):
    """Once the held row is mended and handed in, its frame tells all again, and nothing is held."""
    programme.take({"club/survey.csv": HEAD + frame(1, "recruit", 3) + frame(1, "juvenile", "many")})
    assert [row[1:] for row in programme.held()] == [("survey", "count", "not whole", 1)]
    programme.take({"club/survey.csv": HEAD + frame(1, "recruit", 3) + frame(1, "juvenile", "5")})
    assert (counts(programme), programme.held()) == ([("1", "juvenile", 5), ("1", "recruit", 3)], [])


def test_a_file_of_the_same_name_closes_only_what_it_mends(programme):
    """Next month's file under the same name has nothing in common with this one, so what this one left held stays so."""
    programme.take({"club/survey.csv": HEAD + frame(1, "recruit", 3) + frame(1, "smal", "2")})
    programme.take({"club/survey.csv": HEAD + frame(8, "recruit", 3) + frame(8, "juvenile", "2")})
    assert len(programme.held()) == 1
    programme.take({"club/survey.csv": HEAD + frame(8, "recruit", 3) + frame(8, "canopy", "1")})
    assert len(programme.held()) == 1


def test_a_file_without_any_name_is_closed_by_the_rows_in_its_place(programme):
    """Of a file in which no row could be named, the row handed in again in the same place is the mended one."""
    bad = frame(1, "recruit", 3).replace("CB   T1   1", "CB   T1   .")
    programme.take({"club/survey.csv": HEAD + bad})
    assert len(programme.held()) == 1
    programme.take({"club/survey.csv": HEAD + frame(1, "recruit", 3)})
    assert programme.held() == []


def unit(fixing):
    """One drawn unit."""
    return UNIT + f"B1   spore bag   CB   T1   2025-03-01   {fixing}\n"


def disputes(programme):
    """Units in dispute, and what of their parts is held."""
    return programme.ask("select count(*) from in_dispute"), {q.partner for q in look.waiting(programme.root)}


def test_a_dispute_lasts_while_both_say_the_same_again(programme):
    """Two partners who contradict each other and hand in the same files again, changed elsewhere, still contradict."""
    programme.take({"club/deployment.csv": unit("bolt")})
    programme.take({"lab/deployment.csv": unit("glue")})
    programme.take({"club/deployment.csv": unit("bolt") + "B2   spore bag   CB   T1   2025-03-01   bolt\n"})
    assert disputes(programme) == ([(1,)], {"club", "lab"})


@pytest.mark.parametrize(("who", "says"), [("club", "glue"), ("lab", "bolt")])
def test_a_dispute_ends_when_one_gives_in(programme, who, says):
    """A dispute ends when one partner hands in what the other says; then that counts."""
    programme.take({"club/deployment.csv": unit("bolt")})
    programme.take({"lab/deployment.csv": unit("glue")})
    programme.take({f"{who}/deployment.csv": unit(says)})
    assert disputes(programme) == ([(0,)], set())
    assert programme.ask("select fixing from deployment_now") == [(says,)]


def test_a_dispute_goes_on_with_a_third_word(programme):
    """A partner who changes its word to something else again has not agreed."""
    programme.take({"club/deployment.csv": unit("bolt")})
    programme.take({"lab/deployment.csv": unit("glue")})
    programme.take({"club/deployment.csv": unit("tie")})
    assert disputes(programme)[0] == [(1,)]
    assert programme.ask("select fixing from deployment_now") == []


def test_a_row_broken_later_is_held_though_an_older_word_stands(programme):
    """A row that was good and is faulty now shows as held, and what it said before still counts."""
    programme.take({"club/survey.csv": HEAD + frame(1, "recruit", 3)})
    programme.take({"club/survey.csv": HEAD + frame(1, "recruit", "many")})
    assert [row[1:] for row in programme.held()] == [("survey", "count", "not whole", 1)]
    assert ("1", "recruit", 3) in counts(programme)


def test_a_withdrawn_row_handed_in_again_leaves_its_frame_as_it_was(programme):
    """Whether a row is taken back before or after it is handed in again, its frame tells the same."""
    rows = HEAD + frame(1, "recruit", 3) + frame(1, "juvenile", 2)
    back = f"withdraws_kind   withdraws_key   reason   happened\nsurvey   D1 | T1 | 1 | {KELP} | juvenile   slip   2025-06-02"
    programme.take({"club/survey.csv": rows})
    programme.take({"club/withdrawal.csv": back})
    programme.take({"club/again.csv": rows + frame(2, "recruit", 1)})
    assert [c for c in counts(programme) if c[0] == "1"] == [("1", "juvenile", 0), ("1", "recruit", 3)]


def test_a_withdrawn_row_is_told_beside_its_figure(programme):
    """A figure says how many rows of its dives were withdrawn, and leads home to them."""
    programme.take({"club/survey.csv": HEAD + frame(1, "recruit", 3) + frame(1, "juvenile", 2)})
    back = f"withdraws_kind   withdraws_key   reason   happened\nsurvey   D1 | T1 | 1 | {KELP} | juvenile   slip   2025-06-02"
    programme.take({"club/withdrawal.csv": back})
    run.refresh(programme.root)
    figure = next(f for f in look.published(programme.root) if f.indicator == "density" and f.of("stage") == "juvenile")
    assert "rows of these dives that were withdrawn: 1" in figure.estimate.cautions
    assert [(h.row, h.key) for h in look.lead_home(programme.root, figure) if h.role == "left out"] == [
        (3, f"D1 | T1 | 1 | {KELP} | juvenile")
    ]


@pytest.mark.parametrize(("stage", "beside"), [("juvenile", {"juvenile"}), ("", {"juvenile", "recruit"})])
def test_a_withdrawn_row_reaches_only_what_it_may_have_counted_in(programme, stage, beside):
    """A row taken back stands beside the figures of its own stage; where its stage was never told, beside all of them."""
    told = HEAD + frame(1, "recruit", 3) + frame(1, "juvenile", 2) + frame(1, stage or ".", 1) * (not stage)
    programme.take({"club/survey.csv": told})
    key = f"D1 | T1 | 1 | {KELP} | {stage}".rstrip(" |")
    back = f"withdraws_kind   withdraws_key   reason   happened\nsurvey   {key}   slip   2025-06-02"
    programme.take({"club/withdrawal.csv": back})
    run.refresh(programme.root)
    said = {f.of("stage"): f for f in look.published(programme.root) if f.indicator == "density" and f.of("survey")}
    assert {"juvenile", "recruit"} <= set(said)
    warned = {s for s, f in said.items() if "rows of these dives that were withdrawn: 1" in f.estimate.cautions}
    assert warned == beside
    led = {s for s, f in said.items() if any(h.role == "left out" for h in look.lead_home(programme.root, f))}
    assert led == beside


def test_a_word_against_a_register_waits_to_be_seen(programme):
    """What a partner says against the programme's register counts for nothing, and is listed until somebody settles it."""
    site = "site_key   name   latitude   longitude   datum   uncertainty_m   radius_m   country\nCB   Cove   39.0   -9.0   EPSG:4326   10   900   PT"
    programme.take({"club/site.csv": site})
    assert programme.ask("select cast(radius_m as int) from site_now where site_key = 'CB'") == [(200,)]
    assert [h.fate for h in look.held_rows(programme.root)] == ["conflict"]
    assert {q.partner for q in look.waiting(programme.root)} == {"club", "programme"}


EITHER = """
[[sheet]]
[[sheet.part]]
kind = "visit"
only_if = "Dive"
columns = { visit_key = "Dive", happened = "Date", site_key = "Place" }
fixed = { outcome = "found" }
[[sheet.part]]
kind = "check"
only_if = "Bag"
columns = { visit_key = "Dive", happened = "Date", unit_key = "Bag", state = "Found" }
"""


def test_a_row_that_says_nothing_is_held(programme):
    """A row of which every part is left out is held with the headings it could have filled; a blank row is none."""
    programme.partner("club", EITHER)
    [entry] = programme.take({
        "club/log.csv": """
            Date         Place   Dive   Bag   Found
            2025-03-01   CB      D1     B1    attached
            2025-03-02   CB      .      .     attached
            .            .       .      .     .
            2025-03-03   CB      D3     .     .
        """
    })  # fmt: skip
    assert programme.faults(entry) == [(3, "", "says nothing", "")]
    [fault] = programme.segment(entry, "fault")
    assert "“Dive” or “Bag”" in fault["wanted"]
    r = entry.receipt
    assert (r.records, r.blank, r.parts, r.held) == (3, 1, 4, 1)
