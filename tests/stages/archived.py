"""A small programme with something of everything that an archive must tell apart, drawn for the tests of archives."""

from pathlib import Path

from pipeline import run

RULES = """
[programme]
key = "drawn"
name = "Drawn"
timezone = "Europe/Lisbon"

[[protocol]]
key = "frames"
dated = 2025-01-01
frame = "quadrat"
placement = "random"
[[protocol.search]]
species = "Saccharina latissima"
stages = ["recruit", "juvenile"]
[[protocol.search]]
species = "Laminaria hyperborea"
stages = ["juvenile"]

[publishing]
licence = "CC-BY-4.0"
title = "Drawn"
abstract = "A drawn programme."
organisation = "Drawn kelp"
email = "data@drawn.example"

[[publishing.partner]]
name = "club"
agreed = 2025-01-01
licence = "CC-BY-4.0"
rights_holder = "The Drawn Club"

[[publishing.partner]]
name = "lab"
agreed = 2025-01-01
licence = "CC-BY-NC-4.0"

[[publishing.person]]
code = "mb"
role = "processor"
"""
ORIGIN = """
[[publishing.origin]]
species = "Saccharina latissima"
natural = "native"
planted = "{planted}"
dispersal_m = 500
"""
PEOPLE = """
[mb]
name = "Mora Blau"
may_be_named = true
orcid = "0000-0000-0000-0002"
[xx]
name = "Nobody Tellable"
"""
SEA = {
    "programme/site.csv": """
        site_key   name        latitude     longitude    datum       uncertainty_m   radius_m   country   sensitive   depth_min_m   depth_max_m
        CB         Quillmere   39.0123457   -9.0765432   EPSG:4326   10              200        PT        0.01        4             9
        NP         Nose        39.5         -9.25431     EPSG:4326   10              200        PT        none        3             8
        WH         Whisper     38.7654321   -9.1234567   EPSG:4326   10              200        PT        withheld    3             8
    """,
    "programme/plot.csv": """
        site_key   plot_key   plot_kind   area_m2   control_kind   assigned_by   distance_planted_m
        CB         T1         treated     100       .              .             .
        CB         C1         control     100       untouched      random        .
        CB         C2         control     100       untouched      random        800
        CB         R1         reference   100       .              .             .
        NP         T1         treated     50        .              .             .
        WH         T1         treated     50        .              .             .
    """,
    "programme/bed.csv": """
        bed_key   species                estimated_on   fertile   estimate_method   latitude    longitude    datum       uncertainty_m
        OLD       Saccharina latissima   2025-01-10     1000      belts             39.7123456  -9.3123456   EPSG:4326   20
    """,
    "club/collection.csv": """
        batch_key   bed_key   species                plants_cut   happened     recorded_by
        B1          OLD       Saccharina latissima   40           2025-02-27   mb
    """,
    "club/deployment.csv": """
        unit_key   method        site_key   plot_key   happened     batch_key   depth_m   latitude     longitude    datum       uncertainty_m
        CB-1       spore bag     CB         T1         2025-03-01   B1          6         39.0131313   -9.0747474   EPSG:4326   5
        NP-1       spore bag     NP         T1         2025-03-02   B1          .         39.50123     -9.25321     EPSG:4326   5
        WH-1       spore bag     WH         T1         2025-03-02   B1          .         .            .            .           .
    """,
    "club/check.csv": """
        visit_key   site_key   unit_key   state      happened     search_time_min
        V1          CB         CB-1       attached   2025-04-01   5
    """,
    "club/visit.csv": """
        visit_key   site_key   happened     outcome     team   bottom_time_min   water_temp_degc   visibility_m   weather          remarks
        V1          CB         2025-04-01   found       2      40                13.5              6              Fog over Xanadu   told Nobody Tellable
    """,
    "club/survey.csv": """
        visit_key   site_key   plot_key   frame_key   frame_type   placement   area_m2   protocol   species                stage      count   count_qualifier   happened     recorded_by   cover_pct   length_cm
        V0          CB         T1         1           quadrat      random      0.25      frames     Saccharina latissima   juvenile   2       .                 2025-02-01   mb            .           .
        V1          CB         T1         1           quadrat      random      0.25      frames     Saccharina latissima   recruit    7       .                 2025-04-01   mb            12.5        .
        V1          CB         T1         1           quadrat      random      0.25      frames     Saccharina latissima   juvenile   0       .                 2025-04-01   mb            .           .
        V1          CB         T1         2           quadrat      random      0.25      frames     Saccharina latissima   recruit    0       .                 2025-04-01   mb            .           .
        V1          CB         T1         3           quadrat      random      0.25      frames     Saccharina cf. latissima   recruit   1    .                 2025-04-01   xx            .           .
        V1          CB         C1         1           quadrat      random      0.25      frames     Saccharina latissima   juvenile   1       .                 2025-04-01   mb            .           .
        V1          CB         C2         1           quadrat      random      0.25      frames     Saccharina latissima   juvenile   1       about             2025-04-01   mb            .           .
        V1          CB         R1         1           quadrat      random      0.25      frames     Saccharina latissima   juvenile   9       at least          2025-04-01   mb            .           .
        V1          CB         R1         1           quadrat      random      0.25      frames     Laminaria hyperborea   juvenile   3       .                 2025-04-01   mb            .           33.5
        V1          CB         R1         2           quadrat      random      0.25      frames     Saccharina latissima   juvenile   .       present           2025-04-01   mb            .           .
        V1          CB         R1         3           quadrat      random      0.25      frames     Ecklonia radiata       juvenile   4       .                 2025-04-01   mb            .           .
        V2          NP         T1         1           quadrat      random      0.25      frames     Saccharina latissima   recruit    5       at most           2025-04-02   mb            .           .
        V3          WH         T1         1           quadrat      random      0.25      frames     Saccharina latissima   recruit    6       .                 2025-04-02   mb            .           .
    """,
    "lab/survey.csv": """
        visit_key   site_key   plot_key   frame_key   frame_type   placement   area_m2   protocol   species                stage      count   happened
        L1          NP         T1         9           quadrat      random      0.25      frames     Saccharina latissima   recruit    3       2025-05-02
    """,
}  # fmt: skip


def fill(
    programme,
    planted: str = "lost here",
    rules: str = "",
    sea: dict[str, str] = SEA,
    dated: str = "2025-01-01",
    words: str = "",
) -> Path:
    """Take a sea in and write an archive; gives its folder. rules: more of them; dated: the protocol's day; words: of [publishing]."""
    (programme.root / "people.toml").write_text(PEOPLE, encoding="utf-8")
    own = RULES.replace("dated = 2025-01-01", f"dated = {dated}").replace("[publishing]\n", f"[publishing]\n{words}")
    programme.rules(own + (ORIGIN.format(planted=planted) if planted else "") + rules)
    for name, table in sea.items():
        programme.put(*name.split("/", 1), table)
    run.take(programme.root)
    run.archive(programme.root)
    return programme.root / "out" / "archive"
