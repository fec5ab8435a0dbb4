"""The Ulvetangen Dykkelag: Norwegian, tabs, decimal commas, days as 01.05.2022, UTF-8; one row a frame, a column a stage.

Its first mapping is wrong: recruits are read from the column of juveniles and the other way round. No row is refused,
so the site's figures are wrong until the mended mapping is put in place and the kept files are taken in again.
"""

from dataclasses import replace

from seeds_demo.coast import OARWEED, SUGAR, ULVETANGEN
from seeds_demo.desk import Desk
from seeds_demo.dice import Dice
from seeds_demo.diving import Told
from seeds_demo.forms import Form, Hand, Part, Values
from seeds_demo.growth import TARGETS

_DIVE = {"happened": "Dato", "site_key": "Lokalitet", "dive_number": "Dykk nr"}
_FRAME = {**_DIVE, "recorded_by": "Fører", "plot_key": "Felt", "frame_key": "Rute", "area_m2": "Areal m2"}
_COLUMN = {
    (SUGAR, "recruit"): "Spirer", (SUGAR, "juvenile"): "Ungplanter", (SUGAR, "sub-canopy"): "Halvvoksne",
    (SUGAR, "canopy"): "Voksne", (OARWEED, "canopy"): "Stortare voksne",
}  # fmt: skip
_SWAPPED = {"Spirer": "Ungplanter", "Ungplanter": "Spirer"}

DIVES = Form(
    "dykk {years}.txt",
    (
        Part(
            "visit",
            {**_DIVE, "outcome": "Funnet", "why": "Årsak", "team": "Dykkere", "bottom_time_min": "Bunntid (min)",
             "visibility_m": "Sikt (m)", "water_temp_degc": "Vann (°C)", "recorded_by": "Fører"},
        ),
    ),
    "dykk*.txt",
)  # fmt: skip
FRAMES = Form(
    "ruter {years}.txt",
    tuple(
        Part(
            "survey",
            {**_FRAME, "count": _COLUMN[species, stage]},
            fixed={"species": species, "stage": stage, "frame_type": "quadrat", "placement": "random", "protocol": "quadrats"},
        )
        for species, stage in TARGETS
    ),
    "ruter*.txt",
)  # fmt: skip
CHECKS = Form(
    "sjekk {years}.txt",
    (
        Part(
            "check",
            {**_DIVE, "unit_key": "Merke", "state": "Tilstand", "search_time_min": "Letetid (min)",
             "count_found": "Steiner", "area_searched_m2": "Areal lett (m2)", "retrieved_whole": "Hel", "recorded_by": "Fører"},
        ),
    ),
    "sjekk*.txt",
)  # fmt: skip
BAGS = Form(
    "poser.txt",
    (
        Part(
            "deployment",
            {"unit_key": "Merke", "method": "Metode", "site_key": "Lokalitet", "plot_key": "Felt", "down_at": "Satt ut",
             "unit_count": "Antall", "fixing": "Feste", "batch_key": "Parti", "permit_key": "Tillatelse",
             "mass_kg": "Masse (kg)", "material": "Materiale", "retrieve_by": "Hentes innen"},
        ),
    ),
)  # fmt: skip
LOST = Form(
    "tapt {years}.txt",
    (
        Part(
            "loss",
            {"unit_key": "Merke", "happened": "Dato", "how_known": "Hvordan", "cause": "Årsak", "cause_basis": "Sikkerhet",
             "gear_recovered": "Utstyr berget", "mass_kg": "Masse (kg)"},
        ),
    ),
    "tapt*.txt",
)  # fmt: skip
GROUND = Form(
    "rydding.txt",
    (
        Part(
            "treatment",
            {"happened": "Dato", "site_key": "Lokalitet", "plot_key": "Felt", "action": "Tiltak", "area_m2": "Areal (m2)",
             "amount": "Mengde", "amount_unit": "Enhet", "species": "Art", "effort_person_min": "Personminutter",
             "disposal": "Videre", "permit_key": "Tillatelse"},
        ),
    ),
)  # fmt: skip
SPENDING = Form(
    "utgifter {years}.txt",
    (
        Part(
            "cost",
            {"happened": "Dato", "form": "Form", "amount": "Beløp", "currency": "Valuta", "category": "Kategori",
             "phase": "Fase", "for_kind": "Gjelder", "for_key": "Hvilken", "share_key": "Deles etter",
             "valued_by": "Verdsatt av", "people": "Personer"},
        ),
    ),
    "utgifter*.txt",
)  # fmt: skip

HAND = Hand(
    ULVETANGEN,
    "Ulvetangen Dykkelag skriver norsk: tabulator, desimalkomma, dag.måned.år. Én rad er én rute, med en kolonne per størrelse.",
    (DIVES, FRAMES, CHECKS, BAGS, LOST, GROUND, SPENDING),
    language="nb",
    delimiter="\t",
    decimal=",",
    dates="DMY.",
    words={
        "why": {"mark buoy gone, searched 25 min": "blåsa borte, lette i 25 min", "swell rising, turned back": "sjøen økte, snudde"},
        "material": {"cotton and jute": "bomull og jute", "local stone": "lokal stein"},
        "amount_unit": {"animals": "dyr"},
        "disposal": {"composted ashore": "kompostert på land"},
        "category": {"boat fuel": "drivstoff", "boat hire": "båtleie", "divers": "dykkere", "skipper and crane": "skipper og kran",
                     "planting crew": "utsettingslag", "grazer work": "fjerning av kråkeboller", "new fixing plate": "ny festeplate"},
        "outcome": {"found": "ja", "not found": "nei", "aborted": "avbrutt"},
        "state": {"attached": "sitter", "torn": "revet", "empty": "tom", "absent": "borte",
                  "not searched": "ikke lett", "retrieved": "hentet"},
        "retrieved_whole": {"yes": "ja", "no": "nei"},
        "gear_recovered": {"yes": "ja", "no": "nei"},
        "method": {"spore bag": "sporepose", "seeded gravel": "sådd grus"},
        "fixing": {"bolt": "bolt", "glue": "lim", "tie": "strips", "none": "ingen"},
        "how_known": {"witnessed": "sett", "adrift": "i drift", "ashore": "i fjæra", "missed": "savnet"},
        "cause": {"storm": "storm", "fixing failed": "festet løsnet", "unknown": "ukjent"},
        "cause_basis": {"seen": "sett", "supposed": "antatt"},
        "action": {"grazers removed": "kråkeboller fjernet"},
        "form": {"cash": "penger", "in kind": "naturalia", "hours": "timer"},
        "phase": {"prepare": "forberedelse", "deploy": "utsetting", "monitor": "oppfølging"},
        "for_kind": {"site": "lokalitet", "plot": "felt", "deployment": "pose", "visit": "dykk"},
    },
)  # fmt: skip


def wrong_hand() -> Hand:
    """The same partner as the first mapping understands it: two columns swapped."""

    def swap(part: Part) -> Part:
        heading = part.columns["count"]
        return replace(part, columns={**part.columns, "count": _SWAPPED.get(heading, heading)})

    wrong = replace(FRAMES, parts=tuple(map(swap, FRAMES.parts)))
    return replace(HAND, forms=tuple(wrong if f is FRAMES else f for f in HAND.forms))


def write(told: Told, desk: Desk) -> None:
    """All of a site's rows. How long a bag was looked for is now and then forgotten."""
    dice = Dice("forgotten", told.site.index)
    for row in told.visits:
        desk.put(HAND, DIVES, row, row["happened"])
    for frame in told.frames:
        look = frame.look
        base = {
            "happened": look.day, "site_key": look.site, "dive_number": look.number, "plot_key": frame.plot,
            "frame_key": frame.key, "area_m2": frame.area_m2, "recorded_by": look.by,
        }  # fmt: skip
        parts: list[Values | None] = [{**base, "count": frame.counts[target]} for target in TARGETS]
        desk.put(HAND, FRAMES, parts, look.day)
        night = desk.night_of(look.day)
        if frame.counts[SUGAR, "recruit"] != frame.counts[SUGAR, "juvenile"]:
            desk.mended_parts[ULVETANGEN, FRAMES.named(night)] += 2
    for _, row in told.checks:
        forgotten = row["state"] == "absent" and "search_time_min" in row and dice.chance(0.1)
        desk.put(HAND, CHECKS, {**row, "search_time_min": None} if forgotten else row, row["happened"])
    for form, rows in ((BAGS, told.deployments), (LOST, told.losses), (GROUND, told.treatments)):
        for row in rows:
            desk.put(HAND, form, row, row.get("happened") or row["down_at"].date())
