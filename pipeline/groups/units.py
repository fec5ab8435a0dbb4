"""Where the rows are that tell what became of units: shared by the groups that rest on them."""

from pipeline.groups.group import Question


def watched(counted: str, units: str, sites: str) -> list[Question]:
    """Looks at units, and the dives at their sites. counted, units, sites: SQL that gives unit_key, unit_key and site_key."""
    return [
        Question("counted", "check", f"select identity from check_stands where unit_key in ({counted})"),
        Question("counted", "loss", f"select identity from loss_stands where unit_key in ({counted})"),
        Question("beside", "check", f"select identity from check_now where unit_key in ({units})"),
        Question("beside", "loss", f"select identity from loss_now where unit_key in ({units})"),
        Question("beside", "visit", f"select identity from visit_now where site_key in ({sites})"),
        # dives that nobody told of are known by what was counted and looked at on them
        Question("beside", "survey", f"select identity from survey_now where site_key in ({sites})"),
        Question(
            "beside",
            "check",
            f"""select c.identity from check_now c left join deployment_now d on d.unit_key = c.unit_key
            where coalesce(c.site_key, d.site_key) in ({sites})""",
        ),
        Question("beside", "deployment", f"select identity from deployment_now where site_key in ({sites})"),
    ]
