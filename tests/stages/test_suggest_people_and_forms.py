"""Suggestions for sheets that name people, for forms whose headings are questions, and for rows that tell of two days."""

import pytest

from pipeline.suggest.fit import Registered
from pipeline.suggest.lexicon import lexicon
from pipeline.suggest.propose import propose
from schemas.kinds import all_kinds

KNOWN = Registered({"site": {"cb": "CB"}, "plot": {"t1": "T1"}}, protocols=("frames",))


@pytest.fixture(scope="module")
def proposed():
    """proposed(rows, name) gives the proposal for a drawn sheet: headings first."""
    kinds = all_kinds()
    words = lexicon(kinds)

    def proposing(table, name="sheet.csv"):
        rows = [[c.strip() for c in line.split("|")] for line in table.strip().splitlines()]
        return propose("", name, rows, 1, rows[1:], kinds, words, KNOWN)

    return proposing


@pytest.mark.parametrize(
    ("did", "wrote"),
    [
        ("Checked by", "Typed by"), ("Sjekket av", "Ført av"), ("Revisó", "Anotó"), ("Verificado por", "Registado por"),
        ("Contrôlé par", "Saisi par"), ("Found by", "Scribe"),
    ],
)  # fmt: skip
def test_who_did_it_is_not_who_wrote_it_down(proposed, did, wrote):
    """Who checked feeds nothing of ours, with or without a column that tells who wrote it down."""
    rows = (
        "Date|Site|Bag|State|{}\n2025-06-01|CB|CB-1|torn|{}\n2025-06-02|CB|CB-2|attached|{}\n2025-06-03|CB|CB-3|torn|{}"
    )
    alone = proposed(rows.format(did, "Isla", "Pete", "Isla"), "bag checks.csv")
    assert did in alone.left
    both = proposed(rows.format(f"{did}|{wrote}", "Isla|Morag", "Pete|Morag", "Isla|Morag"), "bag checks.csv")
    assert did in both.left
    assert both.tree["columns"]["recorded_by"] == wrote


def test_questions_of_a_form_name_species_and_stage(proposed):
    """A form's questions are wide columns of species and stage; when it was sent and from which address feed nothing."""
    p = proposed(
        """
        Timestamp|Email|Date of your dive|Which reef?|Plot|Quadrat|How many young bull kelp did you count?|How many purple urchins did you see?
        2025-06-01 18:00|a@b.org|2025-06-01|CB|T1|1|3|10
        2025-06-02 18:00|a@b.org|2025-06-01|CB|T1|2|0|12
        2025-06-03 18:00|c@b.org|2025-06-03|CB|T1|1|5|1
        """
    )
    [part] = p.parts()
    assert (part["kind"], part["columns"]["happened"], part["wide"]["cell"]) == ("survey", "Date of your dive", "count")
    assert part["codes"]["species"] == {
        "bull kelp": "Nereocystis luetkeana",
        "purple urchins": "Strongylocentrotus purpuratus",
    }
    assert part["codes"]["stage"] == {"young": "juvenile"}
    assert {"Timestamp", "Email"} <= set(p.left)


def test_lots_put_down_and_looked_at_are_two_kinds(proposed):
    """A row that tells of a lot put down and of the same lot looked at later is a deployment and a check, each with its day."""
    p = proposed(
        """
        Lot|Put out on|Plot|Depth (m)|Pieces put out|Batch|Looked at on|Pieces found|State
        G-1|12/02/2025|T1|6.5|120|KRV-1|14/04/2025|98|attached
        G-2|13/02/2025|T1|7.5|120|KRV-1|14/04/2025|80|attached
        G-3|13/02/2025|T1|7.5|120|KRV-1|15/04/2025|0|absent
        """,
        "gravel.csv",
    )
    by_kind = {part["kind"]: part["columns"] for part in p.parts()}
    assert set(by_kind) == {"deployment", "check"}
    assert (by_kind["deployment"]["happened"], by_kind["check"]["happened"]) == ("Put out on", "Looked at on")
    assert (by_kind["deployment"]["unit_count"], by_kind["check"]["count_found"]) == ("Pieces put out", "Pieces found")
    assert by_kind["deployment"]["unit_key"] == by_kind["check"]["unit_key"] == "Lot"


def test_cover_stands_beside_counts(proposed):
    """Headings that say percent are cover, those beside them that do not are counts."""
    p = proposed(
        """
        Date|Site|Plot|Quadrat|Sugar kelp|Cuvie|Furbelows|Turf %
        2025-06-01|CB|T1|1|3|10|0|40
        2025-06-01|CB|T1|2|0|12|1|35
        """
    )
    assert [part["wide"]["cell"] for part in p.parts()] == ["count", "cover_pct"]
    assert p.parts()[1]["wide"]["headings"] == ["Turf %"]


@pytest.mark.parametrize(
    ("heading", "unit"), [("Effort (person minutes)", None), ("Person hours", "h"), ("Persontimer", "h")]
)
def test_hours_in_a_heading_are_a_unit(proposed, heading, unit):
    """A heading that says hours says that its minutes are hours."""
    p = proposed(f"Date|Site|Plot|Action|Area (m2)|{heading}\n2025-06-01|CB|T1|urchins crushed|100|4.5\n"
                 f"2025-06-02|CB|T1|urchins crushed|100|3.5", "urchin removal.csv")  # fmt: skip
    assert p.tree["columns"]["effort_person_min"] == heading
    assert p.tree.get("units", {}).get("effort_person_min") == unit
