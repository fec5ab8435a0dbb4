"""Small random programmes as partner files: who hands in which file on which night, and nights of contradiction."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from hypothesis import strategies as st
from sayings import PARTNERS, SHARED, SITES, SPECIES, Dice, Row, on, rows_of, seeded

# One partner writes its surveys its own way: other headings, day first, decimal comma, semicolons.
LAB_HEADINGS = {
    "visit_key": "Dykk", "happened": "Dato", "site_key": "Sted", "plot_key": "Felt", "frame_key": "Rute",
    "frame_type": "Type", "placement": "Lagt", "area_m2": "Areal", "protocol": "Protokoll", "species": "Art",
    "stage": "Stadium", "plant_no": "Plante", "length_cm": "Lengde", "count": "Antall",
}  # fmt: skip
LAB_MAPPING = (
    'decimal = ","\ndates = "DMY"\n[codes.stage]\n"liten" = "recruit"\n[[sheet]]\nfiles = ["survey*"]\n'
    'kind = "survey"\n[sheet.columns]\n' + "".join(f'{ours} = "{theirs}"\n' for ours, theirs in LAB_HEADINGS.items())
)


@dataclass(frozen=True)
class File:
    """What a partner hands in: rows of one kind."""

    partner: str
    name: str
    rows: tuple[Row, ...]

    def to_bytes(self) -> bytes:
        """The file as its partner writes it."""
        kind = self.rows[0].kind
        columns = list(dict.fromkeys(c for r in self.rows for c, _ in r.cells))
        if (self.partner, kind) == ("lab", "survey"):
            columns = list(LAB_HEADINGS)
            lines = [";".join(LAB_HEADINGS.values())]
            lines += [";".join(_norwegian(c, dict(r.cells).get(c, "")) for c in columns) for r in self.rows]
        else:
            lines = [",".join(columns)] + [",".join(dict(r.cells).get(c, "") for c in columns) for r in self.rows]
        return ("\n".join(lines) + "\n").encode()


def _norwegian(column: str, text: str) -> str:
    if column == "happened":
        return ".".join(reversed(text.split("-")))
    if column in ("area_m2", "length_cm"):
        return text.replace(".", ",")
    return "liten" if text == "recruit" else text


@dataclass(frozen=True)
class Night:
    """What comes in between two runs: files, new rules ("": as before), rulings as (which held thing, which answer)."""

    files: tuple[File, ...] = ()
    rules: str = ""
    rulings: tuple[tuple[int, int], ...] = ()


@dataclass(frozen=True)
class World:
    """A programme: its first rules, and its nights."""

    rules: str
    nights: tuple[Night, ...]

    @property
    def files(self) -> tuple[File, ...]:
        """Every file, in the order they come in."""
        return tuple(f for n in self.nights for f in n.files)


# --- rules --------------------------------------------------------------------------------------------------


def rules_of(d: Dice) -> str:
    """A programme.toml: every limit that a view reads takes several values, some exactly met by what is said."""
    late = on(d.pick((0, 15, 40)))
    text = f"""
[programme]
key = "world"
name = "World"
timezone = "Europe/Oslo"
currency = "EUR"
[rules]
treated_area_rule = "{d.pick(("plot area", "area per unit"))}"
area_per_unit_m2 = {d.pick(("1", "2.5"))}
retention_days = [15, 40]
survey_round_days = {d.pick((7, 1, 19))}
first_meaningful_day = 40
least_search_min = {d.pick((0, 5))}
least_visibility_m = {d.pick((0, 3))}
[limits]
most_hours_to_release = 24
take_limit_pct = 10
[limits.lowest_cut_cm]
"{SPECIES[0]}" = 8
"""
    for protocol, dated, stages in (("P1", on(0), ("recruit", "juvenile")), ("P2", late, ("recruit", "any"))):
        searched = SPECIES if protocol == "P1" and d.once_in(2) else SPECIES[:1]
        text += f'[[protocol]]\nkey = "{protocol}"\ndated = {dated}\nframe = "quadrat"\nplacement = "random"\n'
        for species in searched:
            listed = ", ".join(f'"{s}"' for s in stages)
            text += f'[[protocol.search]]\nspecies = "{species}"\nstages = [{listed}]\nsmallest_cm = 2.5\n'
    for stage, low, high in (("recruit", 0, 5), ("juvenile", 5, 40)):
        text += f'[[stage]]\nspecies = "{SPECIES[0]}"\nstage = "{stage}"\nfrom_cm = {low}\nto_cm = {high}\n'
    for currency, day, per_unit in (("NOK", 0, "11.5"), ("NOK", 21, "12"), ("USD", d.pick((7, 41)), "1.1")):
        text += f'[[rate]]\ncurrency = "{currency}"\ndated = {on(day)}\nper_unit = {per_unit}\nsource = "a bank"\n'
    return text


# --- files and nights ---------------------------------------------------------------------------------------


def files_of(d: Dice, rows: Iterable[Row]) -> list[File]:
    """The rows in files of one partner and kind; some stand in two files, some registers come from two partners."""
    said, groups = list(rows), dict[tuple[str, str, int], list[Row]]()
    for row in said:
        part = int(d.once_in(15 * d.crowd)) if row.partner != "programme" else 0
        groups.setdefault((row.partner, row.kind, part), []).append(row)
    for _ in d.many(0, 4):  # a cumulative sheet, or two partners who both keep the register
        row = d.pick(said)
        other = d.pick(PARTNERS) if row.kind in SHARED else row.partner
        groups.setdefault((other, row.kind, 1), []).append(replace(row, partner=other))
    return [File(partner, f"{kind}-{part}.csv", tuple(rows)) for (partner, kind, part), rows in groups.items()]


def shared_out(d: Dice, files: Sequence[File], most: int) -> tuple[Night, ...]:
    """The files in some order over up to `most` nights, each of which brings something."""
    left, order = list(files), []
    while left:
        order.append(left.pop(d.whole(0, len(left) - 1)))
    nights: list[list[File]] = [[] for _ in range(d.whole(1, most))]
    for f in order:
        d.pick(nights).append(f)
    return tuple(Night(tuple(n)) for n in nights if n)


def world_of(d: Dice) -> World:
    """A world without contradiction, its files over up to three nights."""
    return World(rules_of(d), shared_out(d, files_of(d, rows_of(d)), 3))


def troubled_world_of(d: Dice) -> World:
    """A world whose nights also bring amendments, contradictions, old versions, rulings and new rules."""
    calm = world_of(d)
    nights = [*calm.nights, Night()]
    f, row = d.pick(calm.files), 0
    for _ in d.many(1, 4):
        if d.once_in(2):  # else more about the same thing
            f = d.pick(calm.files)
            row = d.whole(0, len(f.rows) - 1)
        at = d.whole(0, len(nights) - 1)
        trouble = _trouble(d, f, row, len(nights[at].files))
        nights[at] = replace(nights[at], files=(*nights[at].files, trouble))
    for _ in d.many(0, 3):
        at = d.whole(1, len(nights) - 1)
        nights[at] = replace(nights[at], rulings=(*nights[at].rulings, (d.whole(0, 2), d.whole(0, 3))))
    if d.once_in(3):
        nights[-1] = replace(nights[-1], rules=rules_of(d))
    return World(calm.rules, tuple(nights))


# What another telling of a row may say, by kind: a column and its other values.
OTHERWISE = {
    "site": ("radius_m", ("900",)), "plot": ("area_m2", ("33", "77")), "bed": ("fertile", ("90", "")),
    "collection": ("plants_cut", ("6", "40")), "handling": ("temp_max_degc", ("17",)),
    "deployment": ("plot_key", ("T1", "C1", "X9")), "visit": ("outcome", ("aborted", "found")),
    "survey": ("count", ("2", "0", "", "many")), "check": ("state", ("attached", "absent", "retrieved")),
    "loss": ("how_known", ("adrift", "witnessed", "missed")), "treatment": ("area_m2", ("9",)),
    "cost": ("amount", ("71.5", "8")), "withdrawal": ("reason", ("really",)), "permit": ("holder", ("lab",)),
}  # fmt: skip


def _trouble(d: Dice, f: File, at: int, nth: int) -> File:
    """A file again, with one row told otherwise or moved to another day, or as it was before; perhaps by another."""
    row, how = f.rows[at], d.pick(("otherwise", "otherwise", "another day", "as it was"))
    if how == "otherwise":
        column, values = OTHERWISE[row.kind]
        row = row.but(**{column: d.pick(values), **({"why": "dark"} if row.kind == "visit" else {})})
    elif how == "another day" and "happened" in dict(row.cells):
        row = row.but(happened=d.day())
    rows = (*f.rows[:at], row, *f.rows[at + 1 :])
    partner = d.pick((f.partner, f.partner, *PARTNERS, "programme"))
    if d.once_in(3):  # a short file: that one row amends all of it
        rows = (row,)
    return File(partner, f"{row.kind}-again{nth}.csv", tuple(replace(r, partner=partner) for r in rows))


@st.composite
def worlds(draw: st.DrawFn, made: Callable[[Dice], Any] = world_of) -> Any:
    """Hypothesis as the dice."""
    return made(Dice(lambda low, high: draw(st.integers(low, high))))


def quarrel() -> World:
    """A drawn world for what dice seldom throw.

    A batch of mixed tissue over two sites; a quarrel that ends when one gives in; absences in murky water and on the day of a
    sighting; takings-back in a file of the same night as what they take back, of which some are recorded first; and
    frames of which a row is held, waits or is in dispute.
    """

    def row(partner: str, kind: str, **cells: str) -> Row:
        return Row(partner, kind, tuple(cells.items()))

    def down(partner: str, unit: str, site: str, batch: str, fixing: str) -> Row:
        return row(partner, "deployment", unit_key=unit, method="spore bag", happened=on(7), site_key=site, plot_key="T1",
                   batch_key=batch, fixing=fixing)  # fmt: skip

    sites = [row("programme", "site", site_key=s, name=s, latitude="60.1", longitude="5.1", datum="EPSG:4326",
                 uncertainty_m="10", radius_m="200", country="NO") for s in SITES[:2]]  # fmt: skip
    plots = [row("programme", "plot", site_key=s, plot_key="T1", plot_kind="treated", area_m2="20") for s in SITES[:2]]
    bed = row("programme", "bed", bed_key="D1", species=SPECIES[0], estimated_on=on(0), fertile="200")
    cut = row("club", "collection", batch_key="B1", bed_key="D1", species=SPECIES[0], plants_cut="5", happened=on(0))
    split = row("club", "handling", batch_key="M2", step="split", started_at=f"{on(7)} 09:00", parent_batches="B1")
    bill = row("club", "cost", happened=on(0), form="cash", amount="100", currency="EUR", category="boat", phase="collect",
               for_kind="collection", for_key="B1")  # fmt: skip
    units = (down("club", "U1", "CB", "B1; M2", "bolt"), down("club", "U2", "HP", "B1", "bolt"))
    murky = row("club", "visit", visit_key="V1", site_key="CB", happened=on(20), outcome="found", visibility_m="2")
    looks = [row(partner, "check", visit_key=dive, happened=on(day), unit_key=unit, state=state) for partner, dive, day, unit, state in (
        ("club", "V1", 20, "U1", "absent"), ("club", "V2", 30, "U2", "attached"), ("lab", "V3", 30, "U2", "absent"))]  # fmt: skip
    slips = [row("club", "check", visit_key=f"V{n}", happened=on(41), unit_key="U1", state="torn") for n in range(4, 9)]
    back = [row("club", "withdrawal", withdraws_kind="check", withdraws_key=s.key_text, reason="a slip", happened=on(41))
            for s in slips]  # fmt: skip
    frames = _frames_in_doubt()
    first = [tuple(sites), tuple(plots), (bed,), (cut,), (split,), (bill,), units, (murky,), tuple(looks[:2]), (looks[2],),
             tuple(back), *((s,) for s in slips)]  # fmt: skip
    nights = [
        (
            *(File(rows[0].partner, f"{rows[0].kind}-{n}.csv", rows) for n, rows in enumerate(first)),
            File("club", "frames.csv", frames),
            File("club", "more.csv", frames[5:7]),
        ),
        (
            File("lab", "deployment-0.csv", (down("lab", "U2", "HP", "B1", "glue"),)),
            File("club", "more.csv", (frames[5], frames[6].but(stage="canopy"))),
        ),
        (
            File("club", "deployment-0.csv", (units[0], down("club", "U2", "HP", "B1", "glue"))),
            File("programme", "plot-again.csv", (plots[1].but(area_m2="77", happened=on(60)),)),
            File(
                "club",
                "check-ahead.csv",
                (row("club", "check", visit_key="V10", happened="2090-01-01", unit_key="U1", state="torn"),),
            ),
        ),
    ]
    return World(rules_of(seeded(6)), tuple(Night(files) for files in nights))


def _frames_in_doubt() -> tuple[Row, ...]:
    """Frames of one dive, each with a row that counts and one that does not."""

    def count(frame: str, **cells: str) -> Row:
        told = {"visit_key": "V9", "happened": on(60), "site_key": "CB", "plot_key": "T1", "frame_key": frame, "frame_type": "quadrat",
                "placement": "random", "area_m2": "0.25", "protocol": "P1", "species": SPECIES[0], "count": "2", **cells}  # fmt: skip
        return Row("club", "survey", tuple(told.items()))

    return (
        count("1", stage="recruit"), count("1", stage="juvenile", count="many"),
        count("2", plant_no="1", length_cm="3", count="1"), count("2", plant_no="2", length_cm="long", count="1"),
        count("3", stage="juvenile", area_m2=""), count("3", stage="recruit"), count("3", stage="smal"),
        count("4", stage="recruit"), count("4", stage="juvenile"), count("4", stage="juvenile", count="3"),
        count("5", stage="recruit"), count("5", stage="canopy", placement="fixed"),
        count("6", plant_no="1", length_cm="2", count="1"), count("6", plant_no="2", length_cm="3", count="1"),
        count("6", plant_no="2", length_cm="3", count="one"), count("7", stage="juvenile", area_m2=""), count("7", stage="recruit"),
    )  # fmt: skip


# --- the folder ---------------------------------------------------------------------------------------------


def lay_out(root: Path, world: World) -> Path:
    """An empty programme's folder with the world's first rules and mappings."""
    (root / "partners").mkdir(parents=True)
    (root / "inbox").mkdir()
    (root / "programme.toml").write_text(world.rules, encoding="utf-8")
    (root / "partners" / "lab.toml").write_text(LAB_MAPPING, encoding="utf-8")
    return root


def hand_in(root: Path, files: Iterable[File], beside: str = "") -> None:
    """Lay files into their partners' inboxes; `beside` is put after their names."""
    for f in files:
        path = root / "inbox" / f.partner / f"{f.name.removesuffix('.csv')}{beside}.csv"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(f.to_bytes())


def ruling_on(settles: str, choice: str) -> bytes:
    """A ruling as the programme's lead hands it in."""
    return f"happened,settles,choice,decided_by,reason\n{on(120)},{settles},{choice},lead,heard both\n".encode()
