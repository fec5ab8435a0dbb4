"""What most drawn programmes stand on: their rules, and the registers of two sites."""

RULES = """
[programme]
key = "drawn"
name = "Drawn"
timezone = "Europe/Lisbon"

[rules]
retention_days = [30]
first_meaningful_day = 30

[[protocol]]
key = "frames"
dated = 2025-01-01
frame = "quadrat"
placement = "random"
[[protocol.search]]
species = "Laminaria hyperborea"
stages = ["recruit", "juvenile"]
"""

# What most examples stand on: a site with a treated and a control plot, and a donor bed.
SEA = {
    "site.csv": """
        site_key   name   latitude   longitude   datum       uncertainty_m   radius_m   country
        CB         Cove   39.0       -9.0        EPSG:4326   10              200        PT
        NP         Nose   39.1       -9.1        EPSG:4326   10              200        PT
    """,
    "plot.csv": """
        site_key   plot_key   plot_kind   area_m2   control_kind   assigned_by
        CB         T1         treated     100       .              random
        CB         C1         control     100       untouched      random
        NP         T1         treated     50        .              random
    """,
    "bed.csv": """
        bed_key   species                estimated_on   fertile   estimate_method   take_limit_pct
        OLD       Laminaria hyperborea   2025-01-10     1000      belts             10
    """,
}
