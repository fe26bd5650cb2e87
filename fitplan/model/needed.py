"""What must be built in: parts by name or by choice, where they may sit, what is liked of their places."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias

from fitplan.model.forms import stem_of
from fitplan.model.part import Can, Part
from fitplan.model.placed import Shelf
from fitplan.model.solids import Direction, Pose, Vec, axis_of

PartSide: TypeAlias = Literal["+x", "-x", "+y", "-y", "+z", "-z", "plug"]
"""A side of a part: a direction of its own frame, or that of the first socket that a plug goes into."""


@dataclass(frozen=True)
class Choice:
    """What is asked of a part that is chosen from the catalogue.

    Attributes
    ----------
    family
        Catalogue family, for example ``controller`` or ``cells``.
    parts
        If not empty: only these ids.
    pins
        How many signal pins that can do this are needed, beyond what the nets already ask.
    out_v, min_hours
        For a supply: volts that must arrive and hours that it must last; 0 when not asked.
    """

    family: str
    parts: tuple[str, ...] = ()
    pins: tuple[tuple[Can, int], ...] = ()
    out_v: float = 0.0
    min_hours: float = 0.0


@dataclass(frozen=True)
class Exchange:
    """What may be opened and taken out to get at a part that is exchanged, plugged in or switched often.

    Attributes
    ----------
    openings
        Names of the openings that may be opened; empty, or none of them in the part's vehicle: those that
        open often.
    parts_out, bricks_out
        How many other parts, and how many removable bricks, may come out before it.
    wanted
        The part itself must come out, whether the catalogue counts it among what is exchanged or not.
    """

    openings: tuple[str, ...] = ()
    parts_out: int = 0
    bricks_out: int = 0
    wanted: bool = False


@dataclass(frozen=True)
class FixedPlace:
    """Where a user has fixed a part, wholly or in some respects; the search finds what is left open.

    Attributes
    ----------
    vehicle
        The vehicle that it is in.
    pose, offset
        Its pose by name, and where its own origin lies in the vehicle's frame (mm); None: left open.
    towards
        Sides of the part and where each points in the vehicle.
    planes
        A side of the box round the part as it lies, and the plane of that side in the vehicle's frame (mm).
    on
        What carries it there already, as it is built; None: nothing that was added.
    """

    vehicle: str
    pose: str | None = None
    offset: Vec | None = None
    towards: tuple[tuple[PartSide, Direction], ...] = ()
    planes: tuple[tuple[Direction, float], ...] = ()
    on: Shelf | None = None

    @property
    def is_whole(self) -> bool:
        """Whether nothing is left open: such a place stands above the rules of the part's mount."""
        return self.pose is not None and self.offset is not None

    @property
    def fixes_height(self) -> bool:
        """Whether it may not be let down onto what is below it."""
        return self.offset is not None or any(axis_of(side) == 2 for side, _ in self.planes)

    def allows(self, part: Part, pose: Pose) -> bool:
        """Return whether a part may be turned so."""
        return (self.pose is None or pose.name == self.pose) and all(
            side is not None and pose.turn_direction(side) == way
            for side, way in ((self._side(part, name), way) for name, way in self.towards)
        )

    def _side(self, part: Part, name: PartSide) -> Direction | None:
        if name != "plug":
            return name
        return next((access.side for access in part.access if access.kind in ("console", "socket")), None)


@dataclass(frozen=True)
class Need:
    """One thing that must be built in.

    Attributes
    ----------
    candidates
        The parts that may serve, best first; one when it was asked by name.
    vehicles
        Names of the vehicles that it may go into, preferred first; empty: any (the loco first, then the
        nearest wagons).
    looks
        (vehicle, window) that its lens must look out of, or None.
    sits
        (vehicle, built-in, face) that it must lie on, or None.
    pinned
        Where the user has fixed it, or None.
    """

    name: str
    candidates: tuple[Part, ...]
    choice: Choice | None = None
    vehicles: tuple[str, ...] = ()
    looks: tuple[str, str] | None = None
    sits: tuple[str, str, str] | None = None
    pinned: FixedPlace | None = None
    duty: float = 1.0
    """Share of the running time in which it draws its current."""
    exchange: Exchange = Exchange()

    @property
    def is_held(self) -> bool:
        """Whether a window, a face or a fixed height says how high it lies: it is not let down."""
        return bool(self.looks or self.sits or (self.pinned is not None and self.pinned.fixes_height))

    def others(self, part_id: str) -> tuple[Part, ...]:
        """Return the candidates but one."""
        return tuple(part for part in self.candidates if part.id != part_id)

    def places_down(self, part_id: str) -> int:
        """Return how many candidates stand ahead of a part in the list; forms of one part stand in one place.

        Raises StopIteration for what is no candidate.
        """
        stems = list(dict.fromkeys(stem_of(one.id) for one in self.candidates))
        return stems.index(stem_of(next(one.id for one in self.candidates if one.id == part_id)))

    @property
    def bound_to(self) -> str:
        """The vehicle that a window, a face or a fixed place binds it to; empty when nothing does."""
        if self.pinned is not None:
            return self.pinned.vehicle
        return next((place[0] for place in (self.looks, self.sits) if place is not None), "")


PreferenceKind: TypeAlias = Literal["near", "far from", "same side as", "reachable from", "hidden"]
PREFERENCES: tuple[PreferenceKind, ...] = ("near", "far from", "same side as", "reachable from", "hidden")


@dataclass(frozen=True)
class Preference:
    """What is liked of a part's place: in one vehicle before all costs, inside it against mm of wire.

    ``of`` is a need; ``other`` a need, ``vehicle/built-in``, an opening for *reachable from*, or empty.
    """

    of: str
    kind: PreferenceKind
    other: str = ""
