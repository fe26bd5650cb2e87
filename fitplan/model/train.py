"""A train: vehicles in running order, what must be built in, what is wired to what, track and running."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field
from typing import Literal

from fitplan.model.as_built import NOTHING_BUILT, AsBuilt
from fitplan.model.measured import NOTHING_MEASURED, Measured
from fitplan.model.needed import Need, Preference
from fitplan.model.nets import Net
from fitplan.model.on_hand import ONLY_TOOLS, OnHand
from fitplan.model.operation import Running, Track
from fitplan.model.part import Part
from fitplan.model.solids import Direction, Vec
from fitplan.model.vehicle import PARTED, BuiltIn, Parted, Port, Vehicle, built_in_name
from fitplan.model.wiring import USUAL_WIRING, Wiring

ADDED_WAGON = "added wagon"
"""Name of a wagon that is proposed beside those of the train."""


@dataclass(frozen=True)
class TrainVehicle:
    """A vehicle in its place in the train; ``turned``: its own front looks backwards."""

    name: str
    vehicle: Vehicle
    turned: bool = False

    def in_train(self, start: float, point: Vec) -> Vec:
        """Return a point of the vehicle's frame in the train's frame on straight track (mm).

        ``start`` is the vehicle's entry in `Train.starts`; y counts from the middle of the track.
        """
        x, y, z = point
        if self.turned:
            x, y = self.vehicle.length - x, self.vehicle.width - y
        return (start + x, y - self.vehicle.width / 2, z)

    def towards(self, end: Literal["ahead", "behind"]) -> Direction:
        """Return the direction of the vehicle's own frame that leads to an end of the train's order."""
        return "+x" if (end == "ahead") != self.turned else "-x"

    def ports_at(self, end: Literal["ahead", "behind"]) -> tuple[Port, ...]:
        """Return the ports that lead out at an end of the train's order."""
        return tuple(port for port in self.vehicle.ports if port.out == self.towards(end))

    def coupling_length(self, end: Literal["ahead", "behind"]) -> float:
        """Return how far the coupling at an end of the train's order reaches, in mm; 0 when there is none."""
        own = "front" if (end == "ahead") != self.turned else "rear"
        return next((entry.length for entry in self.vehicle.couplings if entry.end == own), 0.0)

    def coupling_parted(self, end: Literal["ahead", "behind"]) -> Parted | None:
        """Return how often the coupling at an end of the train's order is opened, where its file says so."""
        own = "front" if (end == "ahead") != self.turned else "rear"
        return next((entry.parted for entry in self.vehicle.couplings if entry.end == own), None)


@dataclass(frozen=True)
class Weights:
    """What one unit of each cost weighs when choices are compared; compared in this order by default."""

    vehicles_opened: float = 1000.0
    wagons_added: float = 500.0
    conductors_across: float = 50.0
    bricks_removed: float = 20.0
    wire_metres: float = 5.0
    mass_off_balance: float = 0.1
    unfused_across: float = 25.0
    """A conductor that crosses a coupling ahead of the fuse, beside what it weighs as a conductor."""
    later_in_list: float = 1.0
    """A part one place further down the list of what may serve a need."""


@dataclass(frozen=True)
class SourceFile:
    """A file that a train was read from: its name as seen from the train file, and its SHA-256."""

    name: str
    digest: str


@dataclass(frozen=True)
class LeftAside:
    """Parts of a need's list that are not chosen from, as they are wired otherwise than those that are.

    Attributes
    ----------
    parts
        Their ids.
    why
        What stood against them, or that others did as well; empty while the train is only read.
    """

    need: str
    parts: tuple[str, ...]
    why: str = ""


@dataclass(frozen=True)
class Train:
    """A whole train as its file describes it."""

    name: str
    vehicles: tuple[TrainVehicle, ...]
    needs: tuple[Need, ...]
    nets: tuple[Net, ...]
    track: Track
    running: Running
    weights: Weights = Weights()
    wiring: Wiring = USUAL_WIRING
    owned: OnHand = ONLY_TOOLS
    preferences: tuple[Preference, ...] = ()
    """In the order of importance."""
    may_add_wagon: bool = False
    spare_wagon: Vehicle | None = None
    """The wagon that may be added where the train has none to copy."""
    may_open: bool = False
    """Where wires find no way through a body, holes may be opened in it."""
    catalogue: dict[str, Part] = field(default_factory=dict, compare=False)
    """Every part that the files could refer to, by id."""
    source: str = ""
    files: tuple[SourceFile, ...] = ()
    """What it was read from, the catalogue that comes with fitplan as one."""
    measured: Measured = NOTHING_MEASURED
    """What was measured of it, and put in the place of typical figures."""
    as_built: AsBuilt = NOTHING_BUILT
    """What of it is built already, to be kept unless it must go."""
    left_aside: tuple[LeftAside, ...] = ()
    """Parts of its lists that are not chosen from."""

    def starts(self) -> dict[str, float]:
        """Return for each vehicle the train coordinate (mm) of its rearmost end on straight track.

        The train's frame: x = 0 at the front end of the leading vehicle's footprint, growing forwards;
        y to the left from the middle of the track; z up from the rail head.
        """
        found: dict[str, float] = {}
        x = 0.0
        for number, entry in enumerate(self.vehicles):
            if number:
                x -= self.vehicles[number - 1].coupling_length("behind") + entry.coupling_length("ahead")
            x -= entry.vehicle.length
            found[entry.name] = x
        return found

    def vehicle(self, name: str) -> TrainVehicle:
        """Return the vehicle of this name.

        Raises
        ------
        KeyError
            When there is none.
        """
        for entry in self.vehicles:
            if entry.name == name:
                return entry
        raise KeyError(name)

    def parted(self, ahead: str, behind: str) -> Parted:
        """Return how often the coupling of two vehicles is opened: the oftener of what both say."""
        said = [
            self.vehicle(ahead).coupling_parted("behind"), self.vehicle(behind).coupling_parted("ahead")
        ]  # fmt: skip
        return min((one for one in said if one is not None), key=PARTED.index, default="storage")

    def pair_at(self, ahead: str, behind: str) -> str:
        """Return the connector pair at a coupling; empty where wires run through."""
        return "" if self.parted(ahead, behind) == "never" else self.wiring.coupling_connector

    def joins_others(self, net: str, owner: str, placed: Collection[str]) -> bool:
        """Return whether a net joins an owner to something that has a place: a need's part, or a built-in."""
        ends = next((one.joins for one in self.nets if one.name == net), ())
        return any(
            end.owner != owner and (end.owner in placed or self.built_in(end.owner) is not None)
            for end in ends
        )

    def built_in(self, owner: str) -> BuiltIn | None:
        """Return what ``vehicle/built-in`` names; None where that is nothing, or the name of a need."""
        named = built_in_name(owner)
        every = ((entry.name, there) for entry in self.vehicles for there in entry.vehicle.built_in)
        return next((there for vehicle, there in every if (vehicle, there.name) == named), None)

    def need(self, name: str) -> Need:
        """Return the need of this name.

        Raises
        ------
        KeyError
            When there is none.
        """
        for entry in self.needs:
            if entry.name == name:
                return entry
        raise KeyError(name)
