"""What gear came home and what is still out, and what was found of lots: from the views, and home again."""

from collections import defaultdict
from decimal import Decimal

from pipeline.groups.group import Question, rows
from pipeline.groups.units import watched
from pipeline.indicators.catalogue.gear import ENTRIES
from pipeline.indicators.figure import Figure
from pipeline.indicators.gear import Cautions, Gear, gear
from pipeline.indicators.lots import NAME as LOTS
from pipeline.indicators.lots import LotLook, lots
from pipeline.indicators.remember import Memory
from pipeline.programme import Rules
from warehouse.views import Views

__all__ = ["ENTRIES", "behind", "figures", "missing"]


def figures(con: Views, rules: Rules, memory: Memory) -> list[Figure]:
    """Gear by site, method, material and in all; lots by site, method and day. Sums only: nothing worth remembering."""
    return [*gear(_gear(con), _left_out(con), _unnamed(con)), *lots(_looks(con))]


def _gear(con: Views) -> list[Gear]:
    return [
        Gear(
            site, method, material, bool(due), int(put), int(home), int(found), int(there), kg or Decimal(0), int(unweighed),
            int(in_part), int(uncounted), int(undated),
        )
        for site, method, material, due, put, home, found, there, kg, unweighed, in_part, uncounted, undated in rows(
            con,
            "select site_key, method, material, due, pieces, retrieved, recovered, in_place, out_kg, out_unweighed, in_part, "
            "uncounted, out_undated from gear_input order by all",
        )
    ]  # fmt: skip


def _left_out(con: Views) -> Cautions:
    """Of what stands beside retention only that which leaves out units matters here."""
    found: dict[tuple[str, str], list[tuple[str, int]]] = defaultdict(list)
    for site, method, what, times in rows(
        con,
        "select site_key, method, what, times from retention_caution where what like 'units%left out%' order by all",
    ):
        found[site, method].append((what, int(times)))
    return found


def _unnamed(con: Views) -> int:
    [(n,)] = rows(con, "select coalesce(sum(times), 0) from gear_unnamed")
    return int(n)


def _looks(con: Views) -> list[LotLook]:
    return [
        LotLook(site, method, day, int(n), int(down), int(pieces), int(found or 0), None if area is None else float(area), *map(int, rest))
        for site, method, day, n, down, pieces, found, area, *rest in rows(
            con,
            "select site_key, method, day, lots, lots_down, pieces, found, area_m2, without_area, too_many, uncounted, youngest, "
            "oldest from lot_input order by all",
        )
    ]  # fmt: skip


_HERE = "($site is null or site_key = $site) and ($method is null or method = $method)"
_OF = f"{_HERE} and ($material is null or coalesce(lower(trim(material)), 'not told') = $material)"


def behind(figure: Figure) -> list[Question]:
    """What was put down and whatever was seen of it; beside it the dives at its sites, and what the last day was known by."""
    if figure.indicator == LOTS:
        looked = f"select unit_key from lot_look where {_HERE.replace('$method is null or ', '')} and day = cast($survey as date)"
        lot = f"select unit_key from deployment_stands where {_HERE.replace('$method is null or ', '')} and unit_count > 1"
        return [
            Question("counted", "deployment", f"select identity from deployment_stands where unit_key in ({looked})"),
            Question("counted", "check", f"select identity from check_stands where unit_key in ({looked}) and happened = cast($survey as date)"),
            Question("beside", "deployment", f"select identity from deployment_stands where unit_key in ({lot})"),
            Question("beside", "visit", "select identity from visit_now where site_key = $site"),
        ]  # fmt: skip
    counted = f"select unit_key from deployment_stands where {_OF}"
    sites = f"select site_key from deployment_now where {_OF}"
    return [
        Question("counted", "deployment", f"select identity from deployment_stands where {_OF}"),
        Question("beside", "deployment", f"select identity from deployment_now where {_HERE}"),
        Question("counted", "loss", "select identity from loss_stands where lower(unit_key) = 'cannot name' and gear_recovered"),
        *watched(counted, f"select unit_key from deployment_now where {_OF}", sites),
        *_last_day(),
    ]  # fmt: skip


def _last_day() -> list[Question]:
    """A row of the last day on which anything happened: what is due is due as of it."""
    return [
        Question(
            "beside", kind,
            f"select min(k.identity) as identity from {kind}_now k join as_of a on k.happened = a.happened having count(*) > 0",
        )
        for kind in ("visit", "check", "survey", "deployment", "loss", "cost", "collection", "handling", "treatment", "reading")
    ]  # fmt: skip


def missing(figure: Figure) -> str:
    """Rows in dispute about what was put down there."""
    return f"""
    select p.entry, p.sheet, p.row, p.part from part p
    join in_dispute q on q.identity = p.identity
    where p.identity in (
        select d.identity from deployment_said d cross join as_of a where {_HERE} and d.happened <= a.happened)"""
