"""What of a train is built already: places, pins, wires with their ways, and splices.

A plan that knows it keeps all of it unless something must go, and says what is new, moved, unsoldered or cut
again (`Rework`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal, TypeAlias

from fitplan.model.measured import Measured, as_measured_id
from fitplan.model.part import Part
from fitplan.model.placed import Shelf
from fitplan.model.solids import Place, Vec, pose_named
from fitplan.model.vehicle import Hole

HAIR_MM = 0.02
"""Points that lie no farther apart are the same: places are written to a hundredth of a millimetre."""

Change: TypeAlias = Literal[
    "new", "moved", "exchanged", "taken out", "unsoldered", "unplugged", "cut again", "soldered again",
    "built anew", "left at home",
]  # fmt: skip
REWORK: tuple[Change, ...] = (
    "moved", "exchanged", "taken out", "unsoldered", "unplugged", "cut again", "soldered again",
    "built anew",
)  # fmt: skip
"""What undoes work that was done, in the order in which it is told.

What is new undoes nothing, nor does what stays in a vehicle that is left at home."""
Thing: TypeAlias = Literal["part", "wire", "splice", "pin", "addition"]
"""An addition is what carries a part, told by the part's need."""


@dataclass(frozen=True)
class BuiltPart:
    """A need's part where it lies: its pose by name, and its own origin in the vehicle's frame (mm).

    ``on`` is what was added for it; None where it lies on the body or on another part.
    """

    need: str
    part: str
    vehicle: str
    pose: str
    offset: Vec
    on: Shelf | None = None


@dataclass(frozen=True)
class BuiltPin:
    """The pin of a controller that serves a net."""

    controller: str
    net: str
    pin: str


@dataclass(frozen=True)
class BuiltEnd:
    """An end of a wire: ``owner.pin``, a splice by its name, or a connector and its cavity."""

    kind: Literal["pin", "splice", "connector"]
    owner: str
    pin: str = ""


@dataclass(frozen=True)
class BuiltLeg:
    """A wire's way in one vehicle: corner points (mm), and the ports that it enters and leaves by."""

    vehicle: str
    points: tuple[Vec, ...]
    enters: str = ""
    leaves: str = ""


@dataclass(frozen=True)
class BuiltWire:
    """A wire as it was cut and laid."""

    number: int
    net: str
    colour: str
    awg: int
    cut_mm: float
    start: BuiltEnd
    end: BuiltEnd
    legs: tuple[BuiltLeg, ...]
    second: int = 0
    """The number of the other conductor of a lead that plugs in; 0: it has none."""


@dataclass(frozen=True)
class BuiltSplice:
    """A soldered junction in a vehicle."""

    name: str
    net: str
    vehicle: str
    at: Vec


@dataclass(frozen=True)
class AsBuilt:
    """All that is built; nothing by default."""

    parts: tuple[BuiltPart, ...] = ()
    pins: tuple[BuiltPin, ...] = ()
    wires: tuple[BuiltWire, ...] = ()
    splices: tuple[BuiltSplice, ...] = ()
    holes: tuple[tuple[str, Hole], ...] = ()
    """What was opened in bodies for wires, with the vehicle that each is in."""
    bricks_out: tuple[tuple[str, str], ...] = ()
    """Removable bricks that came out for wires, as (vehicle, name)."""
    released: tuple[int, ...] = ()
    """Numbers of wires that need not stay, while a plan is searched for; none in a plan."""

    @property
    def highest(self) -> int:
        """The highest number on a label; 0 where no wire is built."""
        return max((number for one in self.wires for number in (one.number, one.second)), default=0)

    def part(self, need: str) -> BuiltPart | None:
        """Return where a need's part lies; None where it is not built."""
        return next((one for one in self.parts if one.need == need), None)

    def splice(self, name: str) -> BuiltSplice | None:
        """Return a splice by its name; None where there is none."""
        return next((one for one in self.splices if one.name == name), None)


NOTHING_BUILT = AsBuilt()


def as_measured(there: AsBuilt, measured: Measured, parts: Mapping[str, Part]) -> AsBuilt:
    """Return what is built with its wires as long as they were measured, and ending where pins truly lie.

    Parameters
    ----------
    parts
        By id, as they were measured: where an outline is another than was planned with, so are its pins,
        and wires that are joined to them end there.
    """
    lengths = {one.number: one.cut_mm for one in measured.wires}
    grown = {one.need: one for one in there.parts if measured.date(f"outline of {as_measured_id(one.part)}")}
    if not lengths and not grown:
        return there

    def end_at(end: BuiltEnd, points: tuple[Vec, ...]) -> tuple[Vec, ...]:
        """Return a leg's points with the first one, and its lead-out, moved along with the pin there."""
        one = grown.get(end.owner) if end.kind == "pin" else None
        part = parts.get(as_measured_id(one.part)) if one is not None else None
        pin = next((pin for pin in part.pins if pin.name == end.pin), None) if part is not None else None
        if one is None or pin is None or (pin.socket and as_measured_id(one.part) != one.part):
            return points  # a lead that is plugged in ends at its own plug
        x, y, z = Place(pose_named(one.pose), one.offset).move(pin.at)
        by = (x - points[0][0], y - points[0][1], z - points[0][2])
        moved = [(round(p[0] + by[0], 4), round(p[1] + by[1], 4), round(p[2] + by[2], 4)) for p in points[:2]]
        return (*moved[: 2 if len(points) > 2 else 1], *points[2 if len(points) > 2 else 1 :])

    def wire(one: BuiltWire) -> BuiltWire:
        legs = list(one.legs)
        legs[0] = replace(legs[0], points=end_at(one.start, legs[0].points))
        legs[-1] = replace(legs[-1], points=end_at(one.end, legs[-1].points[::-1])[::-1])
        return replace(one, cut_mm=lengths.get(one.number, one.cut_mm), legs=tuple(legs))

    return replace(there, wires=tuple(map(wire, there.wires)))


@dataclass(frozen=True)
class Reworked:
    """One thing that is not as it was built: what happens to it, where, and why."""

    change: Change
    thing: Thing
    name: str
    """A need, a wire's number, a splice, or ``controller.pin``."""
    vehicle: str
    words: str
    why: str = ""
    must: bool = False
    """Whether what is built and the train as it is now leave no other choice."""


@dataclass(frozen=True)
class Rework:
    """What a plan changes of what is built.

    Attributes
    ----------
    kept_parts, kept_wires
        How many stay as they are.
    least
        No plan of this train undoes fewer things: so many must go, whatever is done.
    least_moved
        Of these, parts that must make room: fewer were refuted by the exact search.
    """

    changes: tuple[Reworked, ...] = ()
    kept_parts: int = 0
    kept_wires: int = 0
    least: int = 0
    least_moved: int = 0

    @property
    def undone(self) -> int:
        """How many things that were built are undone."""
        return sum(one.change in REWORK for one in self.changes)

    @property
    def proved(self) -> bool:
        """Whether no plan undoes less."""
        return self.undone <= self.least


NO_REWORK = Rework()


@dataclass(frozen=True)
class Standing:
    """What stays as it was built: wires by number, parts by need with what carries them, splices by name."""

    wires: frozenset[int] = frozenset()
    parts: frozenset[str] = frozenset()
    splices: frozenset[str] = frozenset()

    @classmethod
    def of(cls, before: AsBuilt, rework: Rework) -> Standing:
        """Return what a plan leaves of what was built; nothing of a new train."""
        undone = {(one.thing, one.name) for one in rework.changes}
        wires = [one for one in before.wires if ("wire", str(one.number)) not in undone]
        return cls(
            frozenset(number for one in wires for number in (one.number, one.second) if number),
            frozenset(
                one.need for one in before.parts if not undone & {("part", one.need), ("addition", one.need)}
            ),
            frozenset(one.name for one in before.splices if ("splice", one.name) not in undone),
        )


def same_point(one: Sequence[float], other: Sequence[float], hair_mm: float = HAIR_MM) -> bool:
    """Return whether two points are the same but for rounding."""
    return all(abs(a - b) <= hair_mm for a, b in zip(one, other, strict=True))
