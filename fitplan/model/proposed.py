"""What is answered and proposed: verdicts, what fits where, choices, the least that must be opened."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias

from fitplan.model.placed import Shelf
from fitplan.model.solids import Place
from fitplan.model.vehicle import Hole

Verdict: TypeAlias = Literal["fits", "fits after a rebuild", "cannot fit", "not decided"]
HOLDING: tuple[Verdict, ...] = ("fits", "fits after a rebuild")
"""Verdicts by which all that was asked about has its place."""


@dataclass(frozen=True)
class FitPlace:
    """Where a part of a fit row would lie: the part that is asked about, or one that must sit there anyway.

    ``shelf`` and ``steady`` say what carries it, as in a `Placement`.
    """

    need: str
    part_id: str
    place: Place
    shelf: Shelf | None = None
    steady: bool = True


@dataclass(frozen=True)
class FitRow:
    """Whether this part fits into this vehicle, beside what must sit there.

    ``missing_mm`` along ``axis`` is what was short in the pose that came closest; 0 when it fits.
    ``proof`` says what the verdict rests on; ``places`` where all would lie, when it fits.
    """

    need: str
    part_id: str
    vehicle: str
    verdict: Verdict
    reason: str
    proof: str
    missing_mm: float = 0.0
    axis: str = ""
    pose: str = ""
    remove: tuple[str, ...] = ()
    cost: float = 0.0
    places: tuple[FitPlace, ...] = ()


@dataclass(frozen=True)
class LeastOpening:
    """The least that must be opened in bodies before all wires can run, wherever parts lie.

    Attributes
    ----------
    holes, remove
        Holes with the vehicle that they are in, and removable bricks as (vehicle, name).
    cost, least
        What it costs, and the lower bound that is proved: with anything cheaper no place of the parts lets
        the wires through. Where the two are one, it is the least.
    proof
        Why the wires do not get through as it is, and how that was confirmed; empty where it is not proved.
    planned
        Whether the plan has it. Otherwise no more is said than that nothing cheaper can do.
    failed
        With so many openings, this one first, the train was planned, and not all wires ran in any.
    """

    holes: tuple[tuple[str, Hole], ...]
    remove: tuple[tuple[str, str], ...]
    cost: float
    least: float
    proof: str
    planned: bool = False
    failed: int = 0

    @property
    def words(self) -> str:
        """What is opened, in words."""
        said = [f"take {name} out of {vehicle}" for vehicle, name in self.remove]
        said += [
            f"take out of {vehicle} {hole.name}"
            for vehicle, hole in self.holes
            if hole.kind != "gap of a brick"
        ]
        return "; ".join(said)


@dataclass(frozen=True)
class Option:
    """A choice of parts and vehicles, with what it costs in each respect; lower is better in all.

    ``chosen`` marks the one that the plan follows; the others are not dominated by any.
    """

    parts: tuple[tuple[str, str, str], ...]
    """(need, part id, vehicle)."""
    vehicles_opened: int
    wagons_added: int
    conductors_across: int
    bricks_removed: float
    wire_mm: float
    mass_off_balance_g: float
    score: float
    chosen: bool = False
    shut_in: int = 0
    """Parts that cannot be exchanged without taking out more than the user allows."""
    unfused_across: int = 0
    """Conductors that cross couplings between cells and their fuse."""
    later_in_list: int = 0
    """How many candidates stand ahead of the parts in the lists of their needs, all lists together."""
