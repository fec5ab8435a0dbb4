"""Standing: what the whole ledger makes of events, as drawn examples that a diver could check by hand."""

import datetime as dt
from decimal import Decimal

import pytest

from pipeline import run
from pipeline.run import Asked
from schemas.kinds import all_kinds
from warehouse.sqlfiles import FOLDER, references

KELP = "Laminaria hyperborea"

DOWN = """
    unit_key   method      site_key   plot_key   happened     fixing
    B1         spore bag   CB         T1         2025-03-01   bolt
    B2         spore bag   CB         T1         2025-03-01   bolt
"""
VISIT = """
    visit_key   site_key   happened     outcome     why
    D1          CB         2025-03-20   found       .
    D2          CB         2025-03-27   not found   swell
"""
CUT = """
    batch_key   bed_key   species                plants_cut   happened     cut_height_cm   cut_from           cut_to
    N1          OLD       Laminaria hyperborea   60           2025-03-01   12              2025-03-01 08:00   2025-03-01 09:00
    N2          OLD       Laminaria hyperborea   40           2025-03-02   12              .                  .
"""

# rule file -> drawn files, and every (kind, key, effect, rule) that the file's rule says of them: some events it
# speaks of, and beside each some that it leaves alone.
EXAMPLES = {
    "200_rule_unknown": (
        {
            "club/deployment.csv": """
                unit_key   method      site_key   plot_key   happened     permit_key
                B1         spore bag   CB         T1         2025-03-01   .
                B2         spore bag   CB         T9         2025-03-01   .
                B3         spore bag   NP         C1         2025-03-01   .
                B4         spore bag   ZZ         T1         2025-03-01   .
                B5         spore bag   CB         T1         2025-03-01   P-7
            """,
            "club/collection.csv": """
                batch_key   bed_key   species                plants_cut   happened
                N1          OLD       Laminaria hyperborea   5            2025-03-01
                N2          NEW       Laminaria hyperborea   5            2025-03-01
            """,
        },
        [
            ("collection", "N2", "waits", "unknown bed"),
            ("deployment", "B2", "waits", "unknown plot"),
            ("deployment", "B3", "waits", "unknown plot"),
            ("deployment", "B4", "waits", "unknown plot"),
            ("deployment", "B4", "waits", "unknown site"),
            ("deployment", "B5", "caution", "unknown permit"),
        ],
    ),
    "201_rule_unknown_batch": (
        {
            "club/collection.csv": CUT,
            "lab/handling.csv": """
                batch_key   step      started_at         parent_batches
                M1          merge     2025-03-01 12:00   N1; N2
                M2          culture   2025-03-02 12:00   .
            """,
            "club/deployment.csv": """
                unit_key   method      site_key   plot_key   happened     batch_key
                B1         spore bag   CB         T1         2025-03-03   N1; N2
                B2         spore bag   CB         T1         2025-03-03   M1
                B3         spore bag   CB         T1         2025-03-03   .
                B4         spore bag   CB         T1         2025-03-03   N1;N9
                B5         spore bag   CB         T1         2025-03-03   M2
            """,
        },
        [("deployment", "B4", "caution", "unknown batch"), ("deployment", "B5", "caution", "unknown batch")],
    ),
    "210_rule_never_deployed": (
        {
            "club/deployment.csv": DOWN,
            "club/check.csv": """
                visit_key   site_key   happened     unit_key   state
                D1          CB         2025-03-20   B1         attached
                D1          CB         2025-03-20   B9         attached
            """,
            "club/loss.csv": """
                happened     unit_key      how_known
                2025-03-21   B2            ashore
                2025-03-21   B8            ashore
                2025-03-21   cannot name   ashore
            """,
        },
        [("check", "D1 | B9", "waits", "never deployed"), ("loss", "B8 | 2025-03-21", "waits", "never deployed")],
    ),
    "211_rule_seen_before_down": (
        {
            "club/deployment.csv": DOWN,
            "club/check.csv": """
                visit_key   site_key   happened     unit_key   state
                D1          CB         2025-02-28   B1         attached
                D2          CB         2025-03-01   B1         attached
                D1          CB         2025-02-28   B2         absent
            """,
        },
        [
            ("check", "D1 | B1", "waits", "seen before it was put down"),
            ("check", "D1 | B2", "waits", "seen before it was put down"),
        ],
    ),
    "212_rule_lost_before_down": (
        {
            "club/deployment.csv": DOWN,
            "club/loss.csv": """
                happened     unit_key   how_known
                2025-02-28   B1         ashore
                2025-03-01   B2         ashore
            """,
        },
        [("loss", "B1 | 2025-02-28", "waits", "lost before it was put down")],
    ),
    "213_rule_seen_again": (
        {
            "club/deployment.csv": DOWN,
            "club/loss.csv": """
                happened     unit_key   how_known
                2025-03-10   B1         missed
                2025-03-10   B2         missed
            """,
            "club/check.csv": """
                visit_key   site_key   happened     unit_key   state
                D1          CB         2025-03-20   B1         torn
                D1          CB         2025-03-20   B2         not searched
                D0          CB         2025-03-05   B2         attached
            """,
        },
        [("loss", "B1 | 2025-03-10", "caution", "lost unit seen again")],
    ),
    "214_rule_absence_unproved": (
        {
            "club/deployment.csv": DOWN,
            "club/visit.csv": VISIT,
            "club/check.csv": """
                visit_key   site_key   happened     unit_key   state          search_time_min
                D1          CB         2025-03-20   B1         absent         10
                D2          CB         2025-03-27   B1         absent         10
                D2          CB         2025-03-27   B2         not searched   .
            """,
            "school/check.csv": """
                visit_key   site_key   happened     unit_key   state    search_time_min
                D2          CB         2025-03-27   B2         absent   10
            """,
        },
        [("check", "D2 | B1", "waits", "absent where the site was not found")],
    ),
    "215_rule_absence_without_effort": (
        {
            "club/deployment.csv": DOWN,
            "club/check.csv": """
                visit_key   site_key   happened     unit_key   state      search_time_min   area_searched_m2
                D1          CB         2025-03-20   B1         absent     .                 .
                D1          CB         2025-03-20   B2         absent     .                 20
                D2          CB         2025-03-27   B1         absent     0                 .
                D2          CB         2025-03-27   B2         attached   .                 .
            """,
        },
        [("check", "D1 | B1", "caution", "absence without effort")],
    ),
    "216_rule_unit_in_dispute": (
        {
            "club/deployment.csv": DOWN,
            "school/deployment.csv": """
                unit_key   method          site_key   plot_key   happened
                B1         seeded gravel   NP         T1         2025-03-02
            """,
            "club/check.csv": """
                visit_key   site_key   happened     unit_key   state
                D1          CB         2025-03-20   B1         attached
                D1          CB         2025-03-20   B2         attached
            """,
        },
        [("check", "D1 | B1", "waits", "unit in dispute")],
    ),
    "220_rule_count_without_area": (
        {
            "club/survey.csv": """
                visit_key   happened     site_key   plot_key   frame_key   frame_type     placement   protocol   species                stage     count   area_m2
                D1          2025-06-01   CB         T1         1           quadrat        random      frames     Laminaria hyperborea   recruit   3       0.25
                D1          2025-06-01   CB         T1         2           quadrat        random      frames     Laminaria hyperborea   recruit   3       .
                D1          2025-06-01   CB         T1         3           quadrat        random      frames     Laminaria hyperborea   recruit   .       .
                D1          2025-06-01   CB         T1         4           timed search   random      frames     Laminaria hyperborea   recruit   3       .
            """,
        },
        [("survey", f"D1 | T1 | 2 | {KELP} | recruit", "waits", "count without area")],
    ),
    "221_rule_protocol": (
        {
            "club/survey.csv": """
                visit_key   happened     site_key   plot_key   frame_key   frame_type   placement   protocol   species                stage     count   area_m2
                D1          2025-06-01   CB         T1         1           quadrat      random      frames     Laminaria hyperborea   recruit   3       0.25
                D1          2025-06-01   CB         T1         2           quadrat      random      belts      Laminaria hyperborea   recruit   3       0.25
                D0          2024-12-31   CB         T1         3           quadrat      random      frames     Laminaria hyperborea   recruit   3       0.25
            """,
        },
        [
            ("survey", f"D0 | T1 | 3 | {KELP} | recruit", "waits", "protocol"),
            ("survey", f"D1 | T1 | 2 | {KELP} | recruit", "waits", "protocol"),
        ],
    ),
    "222_rule_rough_count": (
        {
            "club/survey.csv": """
                visit_key   happened     site_key   plot_key   frame_key   frame_type   placement   protocol   species                stage     count   area_m2   count_qualifier
                D1          2025-06-01   CB         T1         1           quadrat      random      frames     Laminaria hyperborea   recruit   3       0.25      exact
                D1          2025-06-01   CB         T1         2           quadrat      random      frames     Laminaria hyperborea   recruit   30      0.25      about
                D1          2025-06-01   CB         T1         3           quadrat      random      frames     Laminaria hyperborea   recruit   99      0.25      at least
                D1          2025-06-01   CB         T1         4           quadrat      random      frames     Laminaria hyperborea   recruit   4       0.25      .
            """,
        },
        [
            ("survey", f"D1 | T1 | 2 | {KELP} | recruit", "caution", "rough count"),
            ("survey", f"D1 | T1 | 3 | {KELP} | recruit", "caution", "rough count"),
        ],
    ),
    "227_rule_count_bound": (
        {
            "club/survey.csv": """
                visit_key   happened     site_key   plot_key   frame_key   frame_type   placement   protocol   species                stage     count   area_m2
                D1          2025-06-01   CB         T1         1           quadrat      random      frames     Laminaria hyperborea   recruit   3       0.25
                D1          2025-06-01   CB         T1         2           quadrat      random      frames     Laminaria hyperborea   recruit   <5      0.25
                D1          2025-06-01   CB         T1         3           quadrat      random      frames     Laminaria hyperborea   recruit   20-30   0.25
                D1          2025-06-01   CB         T1         4           quadrat      random      frames     Laminaria hyperborea   recruit   x       0.25
                D1          2025-06-01   CB         T1         5           quadrat      random      frames     Laminaria hyperborea   recruit   -       0.25
            """,
        },
        [("survey", f"D1 | T1 | {n} | {KELP} | recruit", "caution", "count is a bound") for n in (2, 3, 4)],
    ),
    "223_rule_plot_role": (
        {
            "programme/plot roles.csv": """
                site_key   plot_key   plot_kind   area_m2   control_kind   assigned_by   role_from    role_to
                CB         C2         control     50        untouched      random        2025-02-01   2025-06-01
            """,
            "club/survey.csv": """
                visit_key   happened     site_key   plot_key   frame_key   frame_type   placement   protocol   species                stage     count   area_m2
                D0          2025-01-31   CB         C2         1           quadrat      random      frames     Laminaria hyperborea   recruit   3       0.25
                D1          2025-06-01   CB         C2         1           quadrat      random      frames     Laminaria hyperborea   recruit   3       0.25
                D2          2025-06-02   CB         C2         1           quadrat      random      frames     Laminaria hyperborea   recruit   3       0.25
                D2          2025-06-02   CB         T1         1           quadrat      random      frames     Laminaria hyperborea   recruit   3       0.25
            """,
        },
        [("survey", f"{d} | C2 | 1 | {KELP} | recruit", "waits", "outside the role of the plot") for d in ("D0", "D2")],
    ),
    "224_rule_frame_twofold": (
        {
            "club/survey.csv": """
                visit_key   happened     site_key   plot_key   frame_key   frame_type   placement   protocol   species                stage      count   area_m2
                D1          2025-06-01   CB         T1         1           quadrat      random      frames     Laminaria hyperborea   recruit    3       0.25
                D1          2025-06-01   CB         T1         1           quadrat      random      other      Laminaria hyperborea   juvenile   3       0.50
                D1          2025-06-01   CB         T1         2           quadrat      random      frames     Laminaria hyperborea   recruit    3       0.25
                D1          2025-06-01   CB         T1         2           quadrat      at unit     frames     Laminaria hyperborea   juvenile   3       0.25
                D1          2025-06-01   CB         C1         2           quadrat      fixed       frames     Laminaria hyperborea   juvenile   3       0.25
            """,
        },
        [("survey", f"D1 | T1 | 2 | {KELP} | {stage}", "waits", "frame told in two ways") for stage in ("juvenile", "recruit")],
    ),
    "225_rule_other_than_plants": (
        {
            "club/survey.csv": """
                visit_key   happened     site_key   plot_key   frame_key   frame_type   placement   protocol   species                stage     count   area_m2   counted_as
                D1          2025-06-01   CB         T1         1           quadrat      random      frames     Laminaria hyperborea   recruit   3       0.25      plant
                D1          2025-06-01   CB         T1         2           quadrat      random      frames     Laminaria hyperborea   recruit   3       0.25      frond
                D1          2025-06-01   CB         T1         3           quadrat      random      frames     Laminaria hyperborea   recruit   0       0.25      frond
                D1          2025-06-01   CB         T1         4           quadrat      random      frames     Laminaria hyperborea   recruit   3       0.25      .
            """,
        },
        [("survey", f"D1 | T1 | 2 | {KELP} | recruit", "caution", "other than plants counted")],
    ),
    "226_rule_other_frame": (
        {
            "club/survey.csv": """
                visit_key   happened     site_key   plot_key   frame_key   frame_type   placement   protocol   species                stage     count   area_m2
                D1          2025-06-01   CB         T1         1           quadrat      random      frames     Laminaria hyperborea   recruit   3       0.25
                D1          2025-06-01   CB         T1         2           quadrat      chosen      frames     Laminaria hyperborea   recruit   3       0.25
                D1          2025-06-01   CB         T1         3           belt         random      frames     Laminaria hyperborea   recruit   3       9
            """,
        },
        [
            ("survey", f"D1 | T1 | {n} | {KELP} | recruit", "caution", "laid otherwise than the protocol says")
            for n in (2, 3)
        ],
    ),
    # one minute of latitude is about 1852 m (the sea mile); the site reaches 200 + 10 m
    "230_rule_position": (
        {
            "club/deployment.csv": """
                unit_key   method      site_key   plot_key   happened     latitude    longitude   uncertainty_m
                B1         spore bag   CB         T1         2025-03-01   39.00200    -9          5
                B2         spore bag   CB         T1         2025-03-01   39.00190    -9          5
                B3         spore bag   CB         T1         2025-03-01   39.00200    -9          20
                B4         spore bag   CB         T1         2025-03-01   39.01667    -9          5
                B5         spore bag   CB         T1         2025-03-01   .           .           .
            """,
        },
        [
            ("deployment", "B1", "caution", "position beyond the site"),
            ("deployment", "B4", "caution", "position beyond the site"),
        ],
    ),
    "231_rule_datum_assumed": (
        {
            "programme/site more.csv": """
                site_key   name   latitude   longitude   datum       uncertainty_m   radius_m   country
                OA         Oar    39.2       -9.0        .           10              200        PT
                OB         Orb    39.3       -9.0        EPSG:4258   10              200        PT
            """,
        },
        [("site", "OA", "caution", "datum assumed")],
    ),
    # the bed OLD has about 1000 fertile plants and a limit of 10 % a year
    "240_rule_bed_share": (
        {
            "club/collection.csv": """
                batch_key   bed_key   species                plants_cut   happened
                N1          OLD       Laminaria hyperborea   60           2025-03-01
                N2          OLD       Laminaria hyperborea   40           2025-03-02
                N3          OLD       Laminaria hyperborea   1            2025-03-03
                N4          OLD       Laminaria hyperborea   100          2026-03-03
            """,
        },
        [("collection", "N3", "caution", "beyond the share of the bed")],
    ),
    "241_rule_share_not_known": (
        {
            "programme/bed more.csv": """
                bed_key   species                estimated_on   adults
                OPEN      Laminaria hyperborea   2025-01-10     .
                SOME      Laminaria hyperborea   2025-01-10     500
            """,
            "programme/bed of blades.csv": """
                bed_key   species                estimated_on   blades
                LEAF      Laminaria hyperborea   2025-01-10     900
            """,
            "club/collection.csv": """
                batch_key   bed_key   species                plants_cut   happened
                N4          LEAF      Laminaria hyperborea   1            2025-03-01
                N1          OPEN      Laminaria hyperborea   1            2025-03-01
                N2          SOME      Laminaria hyperborea   1            2025-03-01
                N3          OLD       Laminaria hyperborea   1            2025-03-01
            """,
        },
        [("collection", "N1", "caution", "share not known")],
    ),
    # the rules say: not below 10 cm
    "242_rule_cut_too_low": (
        {
            "club/collection.csv": """
                batch_key   bed_key   species                plants_cut   happened     cut_height_cm
                N1          OLD       Laminaria hyperborea   1            2025-03-01   9.9
                N2          OLD       Laminaria hyperborea   1            2025-03-01   10
                N3          OLD       Laminaria hyperborea   1            2025-03-01   .
                N4          OLD       Saccorhiza polyschides   1          2025-03-01   5
            """,
        },
        [("collection", "N1", "caution", "cut too low")],
    ),
    # the rules say: 48 hours from the end of cutting
    "243_rule_too_long": (
        {
            "club/collection.csv": CUT,
            "lab/handling.csv": """
                batch_key   step      started_at         parent_batches
                K1          culture   2025-03-01 12:00   N1
            """,
            "club/deployment.csv": """
                unit_key   method      site_key   plot_key   down_at            opened_at          batch_key
                B1         spore bag   CB         T1         2025-03-03 10:00   .                  N1
                B2         spore bag   CB         T1         2025-03-03 09:00   .                  N1
                B3         spore bag   CB         T1         2025-03-03 08:00   2025-03-03 10:00   N1
                B4         spore bag   CB         T1         2025-03-09 10:00   .                  K1
                B5         spore bag   CB         T1         2025-03-09 10:00   .                  N2
                B6         spore bag   CB         T1         2025-03-09         .                  N1
            """,
        },
        [("deployment", "B1", "caution", "too long to release"), ("deployment", "B3", "caution", "too long to release")],
    ),
    # the rules say: 15 degC
    "244_rule_too_warm": (
        {
            "club/collection.csv": CUT,
            "lab/handling.csv": """
                batch_key   step      started_at         temp_max_degc
                N1          carry     2025-03-01 12:00   15.1
                N2          carry     2025-03-02 12:00   15
                N2          culture   2025-03-02 15:00   18
            """,
            "club/deployment.csv": """
                unit_key   method      site_key   plot_key   happened     batch_key   boat_temp_degc
                B1         spore bag   CB         T1         2025-03-03   N1          12
                B2         spore bag   CB         T1         2025-03-03   N2          12
                B3         spore bag   CB         T1         2025-03-03   N2          16
                B4         spore bag   CB         T1         2025-03-03   .           .
            """,
        },
        [("deployment", "B1", "caution", "too warm"), ("deployment", "B3", "caution", "too warm")],
    ),
    "245_rule_cold_chain": (
        {
            "club/collection.csv": CUT,
            "lab/handling.csv": """
                batch_key   step    started_at
                N1          hold    2025-03-01 12:00
                N2          clean   2025-03-02 12:00
            """,
            "club/deployment.csv": """
                unit_key   method      site_key   plot_key   happened     batch_key
                B1         spore bag   CB         T1         2025-03-03   N1
                B2         spore bag   CB         T1         2025-03-03   N2
                B3         spore bag   CB         T1         2025-03-03   .
            """,
        },
        [("deployment", "B2", "caution", "gap in the cold chain")],
    ),
    # a first night and a later one; N3 is late and goes beyond, N4 is late under a permit with room, N5 came in its turn
    "246_rule_quota_told_late": (
        [
            {
                "programme/permit.csv": """
                    permit_key   authority   holder   activity   valid_from   valid_to     quota   quota_unit
                    P-1          Harbour     All      collect    2025-01-01   2025-12-31   10      plants
                    P-2          Harbour     All      collect    2025-01-01   2025-12-31   99      plants
                    P-3          Harbour     All      collect    2025-01-01   2025-12-31   10      plants
                """,
                "club/collection.csv": """
                    batch_key   bed_key   species                plants_cut   happened     permit_key
                    N1          OLD       Laminaria hyperborea   8            2025-03-09   P-1
                    N2          OLD       Laminaria hyperborea   8            2025-03-09   P-2
                    N6          OLD       Laminaria hyperborea   8            2025-03-09   P-3
                """,
            },
            {
                "school/collection.csv": """
                    batch_key   bed_key   species                plants_cut   happened     permit_key
                    N3          OLD       Laminaria hyperborea   3            2025-03-01   P-1
                    N4          OLD       Laminaria hyperborea   3            2025-03-01   P-2
                    N5          OLD       Laminaria hyperborea   3            2025-03-10   P-3
                """,
            },
        ],
        [("collection", "N3", "caution", "quota passed by a late word")],
    ),
    "250_rule_cost_target": (
        {
            "club/deployment.csv": DOWN,
            "club/cost.csv": """
                record_key   happened     form    amount   currency   category   phase     for_kind     for_key   share_key
                R1           2025-03-01   cash    100      EUR        boat       deploy    site         CB        .
                R2           2025-03-01   cash    100      EUR        boat       deploy    plot         CB | T1   .
                R3           2025-03-01   cash    100      EUR        boat       deploy    deployment   B1        .
                R4           2025-03-01   cash    100      EUR        boat       deploy    .            .         area
                R5           2025-03-01   hours   10       .          diving     deploy    .            .         area
                R6           2025-03-01   cash    100      EUR        boat       deploy    deployment   B9        .
                R7           2025-03-01   cash    100      NOK        boat       deploy    .            .         area
                R8           2025-03-02   cash    100      NOK        boat       deploy    .            .         area
                R9           2025-03-02   cash    100      GBP        boat       deploy    site         CB        .
            """,
        },
        [
            ("cost", "R6", "waits", "cost has no place yet"),
            ("cost", "R7", "waits", "cost has no rate"),
            ("cost", "R9", "waits", "cost has no rate"),
        ],
    ),
    "260_rule_dated_ahead": (
        {
            "club/deployment.csv": """
                unit_key   method      site_key   plot_key   happened
                B1         spore bag   CB         T1         2025-03-01
                B2         spore bag   CB         T1         2095-03-01
            """,
            "programme/permit.csv": """
                permit_key   authority   holder   activity   valid_from   valid_to     happened
                P-9          Fishery     club     collect    2095-01-01   2096-01-01   2095-01-01
            """,
        },
        [("deployment", "B2", "waits", "dated ahead")],
    ),
}  # fmt: skip

LIMITS = """
[limits]
most_hours_to_release = 48
warmest_degc = 15
[limits.lowest_cut_cm]
"Laminaria hyperborea" = 10
[[rate]]
currency = "NOK"
dated = 2025-03-02
per_unit = 11.5
source = "drawn"
"""


def test_every_rule_has_an_example():
    """The list above has one example for each rule file of the warehouse."""
    assert set(EXAMPLES) == {p.stem for p in FOLDER.glob("*_rule_*.sql")}


@pytest.mark.parametrize("rule", EXAMPLES)
def test_rules(new_programme, rules, rule, monkeypatch):
    """A rule speaks of exactly the events it should, and leaves those beside them alone."""
    files, says = EXAMPLES[rule]
    programme = new_programme(rules=rules + LIMITS)
    for night, handed_in in enumerate(files if isinstance(files, list) else [files]):
        later = dt.datetime.now(dt.UTC) + dt.timedelta(days=night)
        monkeypatch.setattr(run, "this_instant", lambda later=later: later)
        for entry in programme.take(handed_in):
            assert [f for f in programme.faults(entry) if f[2] != "conflict"] == []
    named = {r for *_, r in says}
    assert [told for told in programme.standing() if told[3] in named] == says


def test_every_reference_is_looked_up():
    """A column that names a site, plot or bed makes an event wait while it is unknown, a permit gives a caution."""
    targets = {(r.kind, r.column): r.target for r in references(all_kinds())}
    assert set(targets.values()) == {"site", "plot", "bed", "permit"}
    for kind in ("deployment", "survey", "treatment"):
        assert (targets[kind, "site_key"], targets[kind, "plot_key"]) == ("site", "plot")
    assert (targets["collection", "bed_key"], targets["collection", "permit_key"]) == ("bed", "permit")


def test_what_waits_stands_once_the_register_comes(programme):
    """An event that names an unknown plot waits, and stands as soon as the plot is told of: nothing is handed in again."""
    programme.take({"club/deployment.csv": DOWN.replace("T1", "T7")})
    assert programme.ask("select unit_key from deployment_stands") == []
    programme.take({"programme/plot late.csv": "site_key   plot_key   plot_kind   area_m2\nCB   T7   treated   20"})
    assert programme.ask("select unit_key from deployment_stands order by all") == [("B1",), ("B2",)]
    assert programme.standing() == []


# --- the lives of units --------------------------------------------------------------------------------------

# Statistics 1.1, row by row: what the dive log says of one unit, put down on day 0, and its (l, r], misses and whether
# the interval is refused. Days: D7 is a dive on day 7.
LIVES = {
    "seen attached, at any later date": (["D7 attached", "D30 attached"], (30, None, 0, "")),
    "searched for, absent": (["D7 attached", "D30 absent"], (7, 30, 0, "")),
    "absent on the first dive": (["D7 absent"], (0, 7, 0, "")),
    "absent twice: the first counts": (["D7 attached", "D30 absent", "D60 absent"], (7, 30, 0, "")),
    "never looked for": ([], (0, None, 0, "")),
    "not on the search list": (["D7 attached", "D30 not searched"], (7, None, 0, "")),
    "site not found": (["D7 attached", "N30 absent"], (7, None, 0, "")),
    "visibility too poor": (["D7 attached", "M30 absent"], (7, None, 0, "")),
    "searched too briefly": (["D7 attached", "D30 absent briefly"], (7, None, 0, "")),
    "recorded absent, later seen attached": (["D7 absent", "D30 attached"], (30, None, 1, "")),
    "seen again, then gone": (["D7 absent", "D30 attached", "D60 absent"], (30, 60, 1, "")),
    "missed twice before it was seen": (["D7 absent", "D14 absent", "D30 attached"], (30, None, 2, "")),
    "told as missed, later seen attached": (["D7 lost missed", "D30 attached"], (30, None, 1, "")),
    "told as missed": (["D7 attached", "D30 lost missed"], (7, 30, 0, "")),
    "planned retrieval, unit attached": (["D7 attached", "D30 retrieved"], (30, None, 0, "")),
    "absence before the retrieval": (["D7 absent", "D30 retrieved"], (30, None, 1, "")),
    "retrieval trip finds it gone": (["D7 attached", "D30 absent"], (7, 30, 0, "")),
    "found adrift": (["D7 attached", "D20 lost adrift"], (7, 20, 0, "")),
    "found ashore before it was missed": (["D7 attached", "D20 lost ashore", "D30 absent"], (7, 20, 0, "")),
    "missed before it was found ashore": (["D7 attached", "D30 absent", "D40 lost ashore"], (7, 30, 0, "")),
    "finder cannot name the unit": (["D7 attached", "D20 lost ashore nameless"], (7, None, 0, "")),
    "attached but empty": (["D7 attached", "D30 empty"], (30, None, 0, "")),
    "attached but torn": (["D7 attached", "D30 torn"], (30, None, 0, "")),
    "loss itself witnessed": (["D7 attached", "D20 lost witnessed"], (20, 20, 0, "")),
    "removed by a third party": (["D7 attached", "D20 lost ashore removed"], (7, 20, 0, "")),
    "seen and missed on one day": (["D7 attached", "E7 absent"], (7, None, 1, "")),
    "found ashore, later seen attached": (
        ["D20 lost ashore", "D30 attached"], (30, 20, 0, "found off before the day last seen"),
    ),
    "seen and found adrift on one day": (["D30 attached", "D30 lost adrift"], (30, 30, 0, "")),
    "absent before it was seen to go": (["D7 attached", "D20 absent", "D30 lost witnessed"], (30, 30, 1, "")),
    "seen to go, later seen attached": (
        ["D20 lost witnessed", "D30 attached"], (30, None, 0, "seen after being seen to go"),
    ),
    "absent on the day it was put down": (["D0 absent"], (0, 0, 0, "")),
    "looked for before it was put down": (
        ["D-3 attached", "D7 attached"], (7, None, 0, "looked for before being put down"),
    ),
}  # fmt: skip


def lives_drawn():
    """The drawn files of all lives at once: a unit each, its dives its own."""
    first = dt.date(2025, 3, 1)
    down = ["unit_key   method      site_key   plot_key   happened   unit_count"]
    visits = ["visit_key   site_key   happened   outcome   why   visibility_m"]
    checks = ["visit_key   site_key   happened   unit_key   state   search_time_min"]
    losses = ["unit_key   happened   how_known   cause   remarks"]
    for n, (told, _) in enumerate(LIVES.values()):
        down.append(f"U{n:02d}   spore bag   CB   T1   {first}   .")
        for saying in told:
            dive, what, *more = saying.split(" ", 2)
            day = first + dt.timedelta(days=int(dive[1:]))
            if what == "lost":
                how, *rest = more[0].split()
                unit, cause = (
                    "cannot name" if "nameless" in rest else f"U{n:02d}",
                    "removed by person" if "removed" in rest else ".",
                )
                losses.append(f"{unit}   {day}   {how}   {cause}   life {n}")
                continue
            outcome, why = ("not found", "no mark") if dive[0] == "N" else ("found", ".")
            visits.append(f"U{n:02d}-{dive}   CB   {day}   {outcome}   {why}   {0.5 if dive[0] == 'M' else 6}")
            minutes = "." if "absent" not in saying else 2 if "briefly" in saying else 15
            state = "not searched" if saying.endswith("not searched") else what
            checks.append(f"U{n:02d}-{dive}   CB   {day}   U{n:02d}   {state}   {minutes}")
    names = ("deployment", "visit", "check", "loss")
    return {f"club/{k}.csv": "\n".join(v) for k, v in zip(names, (down, visits, checks, losses), strict=True)}


@pytest.fixture(scope="module")
def lives(new_programme, rules):
    """(l, r, misses, unresolved) of every drawn unit."""
    programme = new_programme(rules=rules.replace("[rules]", "[rules]\nleast_search_min = 5\nleast_visibility_m = 1"))
    for entry in programme.take(lives_drawn()):
        assert programme.faults(entry) == []
    found = programme.ask("select unit_key, l, r, misses, unresolved from unit_life")
    return {unit: tuple(life) for unit, *life in found}


@pytest.mark.parametrize("life", LIVES)
def test_unit_lives(lives, life):
    """Each row of the coding table gives its interval: last seen, first searched for and absent, in days of being down."""
    number = list(LIVES).index(life)
    assert lives[f"U{number:02d}"] == LIVES[life][1]


def test_lots_have_no_life(programme):
    """An untagged lot of many pieces is never a unit with a life of its own."""
    programme.take({
        "club/deployment.csv": """
            unit_key   method            site_key   plot_key   happened     unit_count
            B1         spore bag         CB         T1         2025-03-01   1
            G1         seeded gravel     CB         T1         2025-03-01   300
        """
    })  # fmt: skip
    assert programme.ask("select unit_key from unit_life") == [("B1",)]


# --- frames and their zeros ----------------------------------------------------------------------------------

HEAD = "visit_key   happened   site_key   plot_key   frame_key   frame_type   placement   protocol   species   stage   count   area_m2   cover_pct   length_cm"

# what was written of frame 1 (species, stage, count), and what the protocol's two stages then are: None is unknown
FRAMES = {
    "both stages counted": ([(KELP, "recruit", 3), (KELP, "juvenile", 1)], (3, 1)),
    "a counted zero": ([(KELP, "recruit", 0), (KELP, "juvenile", 0)], (0, 0)),
    "one stage written": ([(KELP, "recruit", 3)], (3, 0)),
    "nothing of the list found": ([(".", ".", 0)], (0, 0)),
    "another species only": ([("Saccorhiza polyschides", "canopy", 2)], (0, 0)),
    "a stage that was not counted": ([(KELP, "recruit", 3), (KELP, "juvenile", ".")], (3, None)),
    "nothing was counted": ([(KELP, "recruit", ".")], None),
    "stages not told apart": ([(KELP, "any", 4)], (None, None)),
    "stages not told apart, none found": ([(KELP, "any", 0)], (0, 0)),
    "a stage beside some not told apart": ([(KELP, "recruit", 3), (KELP, "any", 4)], (None, None)),
    "no stage and no length": ([(KELP, ".", 2)], (None, None)),
}  # fmt: skip


@pytest.fixture(scope="module")
def frames(new_programme):
    """What the protocol's stages are in each drawn frame: {frame: {stage: count}}."""
    rows = [
        f"D1   2025-06-01   CB   T1   {n}   quadrat   random   frames   {species}   {stage}   {count}   0.25   .   ."
        for n, (written, _) in enumerate(FRAMES.values())
        for species, stage, count in written
    ]
    programme = new_programme()
    [entry] = programme.take({"club/survey.csv": "\n".join([HEAD, *rows])})
    assert programme.faults(entry) == []
    found = programme.ask("select frame_key, stage, cast(count as int) from frame_count")
    return {name: {stage: count for frame, stage, count in found if frame == str(n)} for n, name in enumerate(FRAMES)}


@pytest.mark.parametrize("frame", FRAMES)
def test_zeros(frames, frame):
    """A zero is made for a stage of the protocol that nobody wrote, in a frame that was counted, and nowhere else."""
    wanted = zip(("recruit", "juvenile"), FRAMES[frame][1] or (None, None), strict=True)
    assert frames[frame] == {stage: count for stage, count in wanted if count is not None}


def test_frames_that_make_no_zero(programme):
    """A frame beyond known plots, by time, without area or under no protocol makes no zero, nor does cover alone."""
    rows = [
        "D1   2025-06-01   CB   T1   1   quadrat        random   frames   Laminaria hyperborea   recruit   3   0.25   .    .",
        "D1   2025-06-01   CB   T9   2   quadrat        random   frames   Laminaria hyperborea   recruit   3   0.25   .    .",
        "D1   2025-06-01   CB   T1   3   timed search   random   frames   Laminaria hyperborea   recruit   3   0.25   .    .",
        "D1   2025-06-01   CB   T1   4   quadrat        random   frames   Laminaria hyperborea   recruit   3   .      .    .",
        "D1   2025-06-01   CB   T1   5   quadrat        random   others   Laminaria hyperborea   recruit   3   0.25   .    .",
        "D1   2025-06-01   CB   T1   6   quadrat        random   frames   Laminaria hyperborea   recruit   .   0.25   40   .",
        "D1   2025-06-01   CB   T1   7   points         random   frames   Laminaria hyperborea   recruit   3   .      .    .",
    ]
    programme.take({"club/survey.csv": "\n".join([HEAD, *rows])})
    assert programme.ask("select distinct frame_key from frame_count") == [("1",)]


def test_stage_by_length(new_programme, rules):
    """Where only a length was written, the programme's rule gives the stage: from its lower limit up to, not including, the upper."""
    rule = '[[stage]]\nspecies = "Laminaria hyperborea"\nstage = "{}"\nfrom_cm = {}\nto_cm = {}\n'
    programme = new_programme(rules=rules + rule.format("recruit", 0.5, 5) + rule.format("juvenile", 5, 20))
    rows = [
        f"D1   2025-06-01   CB   T1   1   quadrat   random   frames   {KELP}   .   1   0.25   .   {cm}   {n}"
        for n, cm in enumerate((0.5, 4.999, 5, 19.99), 1)
    ]
    programme.take({"club/survey.csv": "\n".join([HEAD + "   plant_no", *rows])})
    assert programme.ask("select stage, cast(count as int) from frame_count order by all") == [
        ("juvenile", 2),
        ("recruit", 2),
    ]


def test_a_changed_rule_of_stages_stands_beside_what_it_touched(new_programme, rules):
    """Where another rule told stages by length before, a caution says so beside rounds with such plants, and beside no other."""
    rule = '[[stage]]\nspecies = "Laminaria hyperborea"\nstage = "{}"\nfrom_cm = {}\nto_cm = {}\n'
    programme = new_programme(rules=rules + rule.format("recruit", 0.5, 5) + rule.format("juvenile", 5, 20))
    by_length = f"D1   2025-06-01   CB   T1   1   quadrat   random   frames   {KELP}   .   1   0.25   .   4   1"
    by_eye = f"D2   2025-07-01   CB   T1   1   quadrat   random   frames   {KELP}   recruit   1   0.25   .   4   1"
    programme.take({"club/survey.csv": "\n".join([HEAD + "   plant_no", by_length, by_eye])})
    asked = "select round_on, why from density_caution where why like 'stages of%' order by all"
    assert programme.ask(asked) == []
    programme.rules(rules + rule.format("recruit", 0.5, 3) + rule.format("juvenile", 3, 20))
    programme.take({})
    today = dt.datetime.now(dt.UTC).date()
    why = (
        f"stages of Laminaria hyperborea are told by a rule for lengths that was changed on {today}, after these dives"
    )
    assert programme.ask(asked) == [(dt.date(2025, 6, 1), why)]
    programme.rules(rules + rule.format("recruit", 0.5, 3) + rule.format("juvenile", 3, 20) + "\n# mended\n")
    programme.take({})
    assert programme.ask(asked) == [(dt.date(2025, 6, 1), why)]


def test_fixed_frames_count_once_a_round(programme):
    """A fixed frame counted twice within a week stands once, the last time; frames laid anew are new samples."""
    rows = [
        f"{dive}   2025-06-0{day}   CB   T1   {frame}   quadrat   {how}   frames   {KELP}   recruit   {count}   0.25   .   ."
        for dive, day, frame, how, count in [
            ("D1", 1, "F", "fixed", 3),
            ("D2", 4, "F", "fixed", 5),
            ("D1", 1, "1", "random", 7),
            ("D2", 4, "1", "random", 9),
        ]
    ]
    programme.take({"club/survey.csv": "\n".join([HEAD, *rows])})
    found = programme.ask("select frame_key, cast(count as int) from frame_count where stage = 'recruit' order by all")
    assert found == [("1", 7), ("1", 9), ("F", 5)]
    assert programme.ask("select distinct round_on from survey_round") == [(dt.date(2025, 6, 1),)]


def test_frames_at_units_stand_apart(programme):
    """Frames laid at units give a density near units and never one of the plot."""
    rows = [
        f"D1   2025-06-01   CB   T1   {frame}   quadrat   {how}   frames   {KELP}   recruit   {count}   0.25   .   ."
        for frame, how, count in [("1", "random", 1), ("2", "at unit", 9)]
    ]
    programme.take({"club/survey.csv": "\n".join([HEAD, *rows])})
    found = programme.ask("select placed, cast(count as int) from density_input where stage = 'recruit' order by all")
    assert found == [("near units", 9), ("plot", 1)]


# --- areas and money -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(("rule", "area"), [("plot area", 100), ("area per unit", 9)])
def test_treated_area(new_programme, rules, rule, area):
    """A plot planted twice counts its area once; by units, each counts the stated area, and never more than the plot."""
    programme = new_programme(
        rules=rules.replace("[rules]", f'[rules]\ntreated_area_rule = "{rule}"\narea_per_unit_m2 = 3')
    )
    programme.take(
        {"club/deployment.csv": DOWN + "    B3         spore bag   CB         T1         2026-03-01   bolt\n"}
    )
    assert programme.ask("select site_key, area_m2 from treated_area") == [("CB", Decimal(area))]


# --- as of ---------------------------------------------------------------------------------------------------


def test_as_of_what_had_happened(programme):
    """As of a day in the sea, later events are not there, and lives are as they were known of that day."""
    programme.take({
        "club/deployment.csv": DOWN,
        "club/check.csv": """
            visit_key   site_key   happened     unit_key   state
            D1          CB         2025-03-20   B1         attached
            D2          CB         2025-04-20   B1         absent
        """,
    })  # fmt: skip
    lives = "select unit_key, l, r from unit_life order by all"
    assert programme.ask(lives, Asked(happened=dt.date(2025, 2, 1))) == []
    assert programme.ask(lives, Asked(happened=dt.date(2025, 3, 20))) == [("B1", 19, None), ("B2", 0, None)]
    assert programme.ask(lives) == [("B1", 19, 50), ("B2", 0, None)]


def test_as_of_what_was_recorded(programme):
    """As of an entry, amendments, withdrawals and registers that came later are not yet known."""
    programme.take({"club/deployment.csv": DOWN.replace("T1", "T7")})
    before = programme.ledger.last_number()
    programme.take({"programme/plot late.csv": "site_key   plot_key   plot_kind   area_m2\nCB   T7   treated   20"})
    amended = programme.ledger.last_number()
    programme.take(
        {
            "club/withdrawal.csv": "happened   withdraws_kind   withdraws_key   reason\n2025-03-02   deployment   B2   slip"
        }
    )
    stands = "select unit_key from deployment_stands order by all"
    assert programme.ask(stands, Asked(entry=before)) == []
    assert programme.ask(stands, Asked(entry=amended)) == [("B1",), ("B2",)]
    assert programme.ask(stands) == [("B1",)]
    assert [effect for _, _, effect, _ in programme.standing(Asked(entry=before))] == ["waits", "waits"]
    assert programme.standing() == []


def test_as_of_a_day_before_a_register_was_amended(programme):
    """A register amended from some day on is known as of an earlier day as it was then."""
    bed = "bed_key   species   estimated_on   fertile   estimate_method\nOLD   Laminaria hyperborea   2025-08-01   400   belts"
    programme.take({"programme/bed new.csv": bed})
    known = "select fertile from bed_now"
    assert programme.ask(known) == [(400,)]
    assert programme.ask(known, Asked(happened=dt.date(2025, 8, 1))) == [(400,)]
    assert programme.ask(known, Asked(happened=dt.date(2025, 7, 31))) == [(1000,)]
    assert programme.ask(known, Asked(happened=dt.date(2025, 1, 9))) == []


def test_as_of_a_day_and_an_entry(programme):
    """Both times are asked together: what had happened by a day, as it was told by an entry."""
    visit = "visit_key   site_key   happened     outcome   visibility_m\n"
    rows = [f"D{i}   CB   2025-03-0{i}   found   {i}\n" for i in range(1, 5)]
    programme.take({"club/visit.csv": visit + "".join(rows)})
    first = programme.ledger.last_number()
    programme.take({"club/visit.csv": visit + "".join(rows).replace("found   1", "found   9")})
    now = "select visit_key, cast(visibility_m as int) from visit_now order by all"
    day = dt.date(2025, 3, 2)
    assert programme.ask(now, Asked(day, first)) == [("D1", 1), ("D2", 2)]
    assert programme.ask(now, Asked(day)) == [("D1", 9), ("D2", 2)]
    assert programme.ask(now, Asked(entry=first))[0] == ("D1", 1)


def test_latest_day_is_the_last_that_happened(programme):
    """Without a day asked for, the views are as of the last day anything happened: no ruling, register or slip ahead."""
    programme.take({
        "club/deployment.csv": DOWN,
        "lab/deployment.csv": DOWN.replace("B1", "B7").replace("B2", "B8").replace("2025-03-01", "2095-03-01"),
        "programme/plot.csv": "site_key   plot_key   plot_kind   area_m2   happened\nNP   T9   treated   20   2025-12-01",
        "club/withdrawal.csv": "happened   withdraws_kind   withdraws_key   reason\n2026-01-01   deployment   B2   slip",
    })  # fmt: skip
    assert programme.ask("select happened from as_of") == [(dt.date(2025, 3, 1),)]
    assert programme.ask("select count(*) from plot_now where plot_key = 'T9'") == [(1,)]
