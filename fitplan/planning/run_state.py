"""One run of planning: what is planned, what it may spend, and all that was learned on the way."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from fitplan.budget import Budget, Stage
from fitplan.model.placed import Placement, Shelf
from fitplan.model.solids import Place
from fitplan.model.train import ADDED_WAGON, Train, TrainVehicle
from fitplan.model.vehicle import Vehicle
from fitplan.packing.access.disassembly import Disassembly
from fitplan.packing.access.way_in import AssemblyPlan, assembly_order, parts_that_go_in
from fitplan.packing.vehicle.pack import Packer
from fitplan.packing.vehicle.packing import Packing
from fitplan.packing.vehicle.reachable_packing import ReachablePacker
from fitplan.packing.vehicle.seats import Wanted
from fitplan.routing.negotiation.wired_before import WiredBefore

_Lie = tuple[str, str, Place, str, Shelf | None]
"""What a way in hangs on: need, part, place, what carries it, what is added under it."""
Filled = tuple[str, frozenset[str], tuple[_Lie, ...]]
"""A vehicle by name, what is taken out of it, and how its parts lie."""


@dataclass(frozen=True)
class PlanOptions:
    """What the searches may spend together, and their seed."""

    budget: Budget = field(default_factory=Budget.usual)
    seed: int = 0


class PlanningRun:
    """What all stages of one run of planning share.

    Stages are functions over it; what a stage finds out is a frozen value that is handed to the next. What is
    learned for good stays here: every answer of the packer, and the room that parts must leave.

    Attributes
    ----------
    train
        As it may be at most: with the wagon that may be added.
    added
        Names of vehicles that are in the train only when something is put into them.
    cut
        Stages that a deadline cut short.
    wired_before
        Vehicles as they were wired last.
    packer
        Remembers every answer, and what parts keep clear for wires and for each other's way in.
    """

    def __init__(self, train: Train, options: PlanOptions, added: frozenset[str] = frozenset()) -> None:
        self.train = train
        self.options = options
        self.added = added
        self.cut: set[Stage] = set()
        self.wired_before = WiredBefore()
        vehicles = {entry.name: entry.vehicle for entry in train.vehicles}
        self._orders: dict[Filled, AssemblyPlan] = {}
        self._filled: dict[Filled, Disassembly] = {}
        self._share(Packer(vehicles, options.budget, seed=options.seed))

    @classmethod
    def of(cls, train: Train, options: PlanOptions | None = None) -> PlanningRun:
        """Begin a run; where a wagon more may be, it is behind the loco: like the last, or else the spare."""
        wagons = [entry for entry in train.vehicles if entry.vehicle.kind == "wagon"]
        options = options or PlanOptions()
        wagon = wagons[-1].vehicle if wagons else train.spare_wagon
        if not train.may_add_wagon or wagon is None:
            return cls(train, options)
        extra = TrainVehicle(ADDED_WAGON, wagon)
        widened = replace(train, vehicles=(train.vehicles[0], extra, *train.vehicles[1:]))
        return cls(widened, options, frozenset({ADDED_WAGON}))

    def copy(self) -> PlanningRun:
        """Return a run that knows all that this one knows now, and goes its own way from here."""
        other = PlanningRun(self.train, self.options, self.added)
        other._share(self.packer.copy())
        return other

    def learn_from(self, other: PlanningRun) -> None:
        """Take over what another run found out of vehicles that are the same in both."""
        for entry in self.train.vehicles:
            if entry in other.train.vehicles:
                self.wired_before.learn(other.wired_before.of(entry.name))
                self.learn(other.orders(entry.name))

    def _share(self, packer: Packer) -> None:
        self.packer = packer
        self._reachable = ReachablePacker(self.train, packer, self.options.budget, self.filled)

    def train_with(self, vehicles: frozenset[str]) -> Train:
        """Return the train as it will be when these vehicles hold something."""
        left = self.added - vehicles
        if not left:
            return self.train
        return replace(self.train, vehicles=tuple(v for v in self.train.vehicles if v.name not in left))

    def pack(self, name: str, wanted: tuple[Wanted, ...]) -> Packing:
        """Pack parts into a vehicle, rebuilt where that helps; what is exchanged is got at if that can be."""
        return self._reachable.pack(name, wanted)

    def holds(self, name: str, wanted: tuple[Wanted, ...], opened: bool) -> bool:
        """Return quickly whether parts surely go into a vehicle, as it is or with its bricks out."""
        removables = self.packer.vehicle(name).removables if opened else ()
        if opened and not removables:
            return False
        return self.packer.holds(name, wanted, frozenset(brick.name for brick in removables))

    def again(self, packing: Packing) -> Packing:
        """Pack the same parts into the same vehicle anew; the old packing stands when that does not go."""
        wanted = tuple(Wanted(self.train.need(place.need), place.part) for place in packing.placements)
        fresh = self.pack(packing.vehicle, wanted)
        return fresh if fresh.holds and fresh.cost <= packing.cost else packing

    def over(self, stage: Stage) -> bool:
        """Whether a stage must be over by now; that it was cut is noted."""
        if self.options.budget.over(stage):
            self.cut.add(stage)
            return True
        return False

    def assembly(
        self, vehicle: str, placements: Sequence[Placement], removed: frozenset[str] = frozenset()
    ) -> AssemblyPlan:
        """Return the order in which parts that lie in one vehicle go in; each question is answered once."""
        key = (vehicle, removed, _lies(placements))
        if key not in self._orders:
            body = self.train.vehicle(vehicle).vehicle
            self._orders[key] = assembly_order(body, placements, removed=removed, filled=self.filled)
        return self._orders[key]

    def going_in(
        self, vehicle: str, placements: Sequence[Placement], removed: frozenset[str] = frozenset()
    ) -> frozenset[str]:
        """Return the parts of one vehicle that have a way in; their order need not be known for that."""
        known = self._orders.get((vehicle, removed, _lies(placements)))
        if known is not None:
            return frozenset(need for step in known.steps for need in step.needs)
        body = self.train.vehicle(vehicle).vehicle
        return parts_that_go_in(body, placements, removed=removed, filled=self.filled)

    def orders(self, vehicle: str) -> Mapping[Filled, AssemblyPlan]:
        """Return the orders of assembly that are known of one vehicle."""
        return {key: order for key, order in self._orders.items() if key[0] == vehicle}

    def learn(self, orders: Mapping[Filled, AssemblyPlan]) -> None:
        """Take over orders of assembly that were found elsewhere."""
        self._orders.update(orders)

    def filled(
        self, vehicle: Vehicle, placements: Sequence[Placement], removed: frozenset[str]
    ) -> Disassembly:
        """Return a vehicle filled so; what is found out about ways out of it serves all stages."""
        name = placements[0].vehicle if placements else ""
        key = (name, removed, _lies(placements))
        if key not in self._filled or self._filled[key].vehicle is not vehicle:
            self._filled[key] = Disassembly(vehicle, placements, removed)
        return self._filled[key]


def _lies(placements: Sequence[Placement]) -> tuple[_Lie, ...]:
    return tuple((one.need, one.part.id, one.place, one.carried_by, one.shelf) for one in placements)
