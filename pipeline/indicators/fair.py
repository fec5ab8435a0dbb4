"""Whether densities may be compared: the same kind and size of frame, stages judged alike, plants named to one rank."""

from collections.abc import Mapping
from decimal import Decimal

from pipeline.indicators.cells import Around, Cell, Frames, Plants, Rows, laid

# Sizes of frame further apart than this see clumps differently: common practice, no source.
ALIKE = Decimal("1.1")
NOT_TO_SPECIES = ("", "sp", "sp.", "spp", "spp.", "cf.", "aff.")
WIDE_RANKS = ("ales", "aceae", "phyceae")  # endings of orders, families and classes of algae (ICN, articles 16 to 18)


def unfair(arms: Mapping[str, Cell], frames: Frames, around: Around) -> str:
    """Why these cells (by what they are called) cannot be compared fairly, or "". Every cell has frames."""
    return (
        _frames(arms, frames, around)
        or _stages({name: _found(cell, around) for name, cell in arms.items()}, arms)
        or _ranks({name: _found(cell, around) for name, cell in arms.items()}, arms)
    )


def _frames(arms: Mapping[str, Cell], frames: Frames, around: Around) -> str:
    sorts = {name: around.frames_of[laid(cell)][0] for name, cell in arms.items()}
    if len(set(sorts.values())) > 1:
        return "frames differ: " + ", ".join(f"{name} {' and '.join(told)}" for name, told in sorts.items())
    sizes = {name: frame_size(frames[cell]) for name, cell in arms.items()}
    if max(sizes.values()) > min(sizes.values()) * ALIKE:
        told = ", ".join(f"{name} {float(size):.3g} m2" for name, size in sizes.items())
        return f"frames differ in size: {told} on average"
    return ""


def frame_size(rows: Rows) -> Decimal:
    """The mean area of the frames in m2."""
    return rows.area_m2 / rows.n


def _found(cell: Cell, around: Around) -> list[Plants]:
    """Plants of the cell's stage in its frames, of every species."""
    return [p for p in around.plants.get(laid(cell), []) if "any" in (p.stage, cell.stage) or p.stage == cell.stage]


def _stages(found: Mapping[str, list[Plants]], arms: Mapping[str, Cell]) -> str:
    """Stages told by length in one arm and by eye in another are not the same stages; not told is not known to differ."""
    bases = {name: sorted({p.basis for p in found[name] if p.basis and p.name == arms[name].species}) for name in arms}
    told = {name: basis for name, basis in bases.items() if basis}
    if len({tuple(basis) for basis in told.values()}) > 1:
        return "stages were judged differently: " + ", ".join(
            f"{name} by {' and '.join(basis)}" for name, basis in told.items()
        )
    return ""


def _ranks(found: Mapping[str, list[Plants]], arms: Mapping[str, Cell]) -> str:
    """Plants told only as of a genus, order or family may be of the species: its density may be short in that arm."""
    for name, cell in arms.items():
        wider = sorted({p.name for p in found[name] if _may_be(p.name, cell.species)})
        if wider:
            return (
                f"in the {name} frames some plants are called only {', '.join(wider)}, which may be {cell.species}: "
                "only what is named to the same rank can be compared"
            )
    return ""


def _may_be(name: str, species: str) -> bool:
    """Whether plants of that name may be of the species though not called so."""
    genus, _, rest = name.partition(" ")
    if name == species:
        return False
    if not rest and genus.endswith(WIDE_RANKS):
        return True
    return genus == species.partition(" ")[0] and rest.partition(" ")[0] in NOT_TO_SPECIES
