"""Which columns a blank sheet of our own has, a kind, in the order in which they are filled in; what kinds are called."""

# A ruling is made by a command, which asks what it must know.
TITLES = {
    "site": "Sites", "plot": "Plots", "bed": "Donor beds", "permit": "Permits", "collection": "Cuttings",
    "handling": "Keeping of tissue", "deployment": "Units put down", "treatment": "Ground prepared", "visit": "Dives",
    "survey": "Frames counted", "check": "Units looked at", "loss": "Units lost", "reading": "Readings of loggers",
    "cost": "Costs", "withdrawal": "Taken back",
}  # fmt: skip

_DIVE = ("happened", "site_key", "dive_number")
_NOTES = ("recorded_by", "remarks")
FIELD = {
    "site": ("site_key", "name", "latitude", "longitude", "datum", "uncertainty_m", "radius_m", "country", "sensitive",
             "depth_min_m", "depth_max_m", "depth_datum", "habitat", "marks", "remarks"),
    "plot": ("site_key", "plot_key", "plot_kind", "area_m2", "paired_with", "control_kind", "assigned_by", "depth_m",
             "substrate", "remarks"),
    "bed": ("bed_key", "species", "estimated_on", "latitude", "longitude", "datum", "uncertainty_m", "fertile", "fertile_low",
            "fertile_high", "adults", "estimate_method", "take_limit_pct", "limit_source", "rest_days", "sensitive", "remarks"),
    "permit": ("permit_key", "authority", "holder", "activity", "valid_from", "valid_to", "species", "quota", "quota_unit",
               "conditions", "report_due", "remarks"),
    "collection": ("batch_key", "bed_key", "cut_from", "cut_to", "species", "plants_cut", "blades_cut", "fertile_mass_kg",
                   "cut_height_cm", "parents", "depth_m", "water_temp_degc", "permit_key", *_NOTES),
    "handling": ("batch_key", "step", "started_at", "ended_at", "parent_batches", "temp_min_degc", "temp_max_degc", "vessel",
                 "place", *_NOTES),
    "deployment": ("unit_key", "method", "site_key", "plot_key", "down_at", "unit_count", "fixing", "batch_key", "latitude",
                   "longitude", "datum", "uncertainty_m", "depth_m", "mass_kg", "material", "retrieve_by", "permit_key", *_NOTES),
    "treatment": ("happened", "site_key", "plot_key", "action", "area_m2", "amount", "amount_unit", "species",
                  "effort_person_min", "disposal", "permit_key", *_NOTES),
    "visit": (*_DIVE, "outcome", "why", "team", "bottom_time_min", "visibility_m", "water_temp_degc", "surge", "current",
              "max_depth_m", "supervisor", *_NOTES),
    "survey": (*_DIVE, "plot_key", "frame_key", "frame_type", "placement", "area_m2", "protocol", "species", "stage", "count",
               "count_qualifier", "cover_pct", "length_cm", "fertile_count", *_NOTES),
    "check": (*_DIVE, "unit_key", "state", "search_time_min", "area_searched_m2", "count_found", "retrieved_whole",
              "new_fixing", *_NOTES),
    "loss": ("happened", "unit_key", "how_known", "last_seen", "cause", "cause_basis", "gear_recovered", "mass_kg",
             "latitude", "longitude", *_NOTES),
    "reading": ("logger_key", "at", "quantity", "value", "unit", "site_key", "depth_m", "flag", "remarks"),
    "cost": ("happened", "form", "amount", "currency", "category", "phase", "for_kind", "for_key", "share_key", "paid_by",
             "valued_by", "people", "invoice_ref", "remarks"),
    "withdrawal": ("happened", "withdraws_kind", "withdraws_key", "reason", "recorded_by"),
}  # fmt: skip

# Words that are usual where others may stand too.
OFFERED = {
    "method": ("spore bag", "seeded gravel", "seeded line", "transplant"),
    "surge": ("none", "slight", "strong"),
    "current": ("none", "slight", "strong"),
    "datum": ("EPSG:4326",),
    "unit": ("degC", "lux", "dbar"),
    "quota_unit": ("plants", "blades", "kg", "units"),
    "amount_unit": ("animals", "kg"),
}  # fmt: skip
READ_AS_WRITTEN = ("datum", "unit", "currency")  # words that are the same in every language
ROUGH = ("count", "latitude", "longitude")  # read as “about 20” or 39° 02.5' N too
TO_COME = ("retrieve_by", "valid_to", "valid_from", "report_due")  # days that may lie ahead
DESCRIBED = {  # where a kind speaks to the programme rather than to whoever fills in
    "plot_kind": "", "control_kind": "", "method": "", "amount_unit": "", "quota_unit": "", "surge": "", "current": "", "stage": "",
    "count_qualifier": "", "how_known": "", "cause_basis": "", "unit": "", "flag": "", "form": "",  # their words are told anyhow
    "sensitive": "How the place is blurred when published.",
    "share_key": "How a shared cost is parted.",
    "recorded_by": "Code of the person who wrote it down.",
    "withdraws_key": "Its key, parts joined by ' | ', as the letter about it shows.",
}  # fmt: skip
EXAMPLES = {
    "site_key": "NP", "plot_key": "T1", "frame_key": "1", "unit_key": "NP-001", "batch_key": "B25-01", "bed_key": "OLD",
    "dive_number": 1, "team": 2, "count": 7, "unit_count": 1, "plants_cut": 12, "currency": "EUR", "recorded_by": "mb",
    "country": "GB", "latitude": "51.2040", "longitude": "-4.6710", "datum": "EPSG:4326", "value": "11.5", "unit": "degC",
    "logger_key": "L-07", "permit_key": "2025/114",
}  # fmt: skip
