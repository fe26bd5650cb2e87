"""Vehicles laid loosely before the whole train is wired: nothing in one hangs on another, so side by side.

What is done in a second process comes back with all that was learned there: the train is then wired with it.
"""

from __future__ import annotations

import pickle
from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property, lru_cache
from typing import TypeAlias

from fitplan.budget import Stage
from fitplan.kernels import reused_memory
from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import Conductor
from fitplan.model.pins_used import PinUse
from fitplan.model.train import Train
from fitplan.model.wired import Harness
from fitplan.packing.access.way_in import AssemblyPlan
from fitplan.packing.vehicle.packing import Packing
from fitplan.planning.blocked_ports import with_blocked_ports
from fitplan.planning.run_state import Filled, PlanningRun
from fitplan.planning.vehicle_places import (
    PlacedVehicle,
    better_layout,
    finish,
    likelier_layout,
    place_vehicle,
)
from fitplan.processes import Question, SecondProcess, put, shared_out
from fitplan.routing.harness.gauges import NetLoad
from fitplan.routing.harness.harness import WiredTrain, wire_train
from fitplan.routing.negotiation.wired_before import WiredBefore

ToBeOpened: TypeAlias = Callable[[BuiltTrain, Mapping[str, float]], frozenset[str] | None]
"""Tells of a train with wires of some diameters (mm) by net which vehicles will be opened, whatever is
chosen, if its wires do not run; none: any of them; None: nothing will be opened."""


def nothing_to_be_opened(_built: BuiltTrain, _diameters: Mapping[str, float]) -> None:
    """Say of every train that nothing will be opened."""


def something_else_opened(_built: BuiltTrain, _diameters: Mapping[str, float]) -> frozenset[str]:
    """Say of every train that something will be opened, and not where."""
    return frozenset()


@dataclass(frozen=True)
class Places:
    """Places that hold without wires: what wires are tried with first.

    Attributes
    ----------
    tipping
        Vehicles in which something would tip where it lies.
    loose
        The first loose layouts of these vehicles, where one of them stands.
    never_in
        Parts that no straight moves bring into their vehicle, wherever they would lie in it and were they
        alone.
    """

    train: Train
    packings: tuple[Packing, ...]
    pin_map: tuple[PinUse, ...]
    tipping: frozenset[str] = frozenset()
    loose: Mapping[str, tuple[Packing | None, ...]] = field(default_factory=dict)
    never_in: frozenset[str] = frozenset()

    @property
    def built(self) -> BuiltTrain:
        """The train with these places and no wires."""
        placements = tuple(place for packing in self.packings for place in packing.placements)
        rebuilds = tuple(packing.rebuild for packing in self.packings if packing.rebuild is not None)
        return BuiltTrain(self.train, placements, Harness(), self.pin_map, rebuilds)

    @property
    def tipping_anyhow(self) -> frozenset[str]:
        """Vehicles in which something tips in every layout that was asked for."""
        return self.tipping - self.loose.keys()


@dataclass(frozen=True)
class LaidLoosely:
    """One vehicle laid loosely.

    Attributes
    ----------
    placed
        Where its wires like it; None when nothing was found, or when that was left to the deadline.
    late
        Where straight lines like it, when it was left to the deadline.
    to_be_opened
        Whether it will be opened: then it is not laid loosely.
    wired_before, orders, cut
        What was learned in another process: how it is wired, orders of assembly, stages cut short.
    """

    name: str
    placed: PlacedVehicle | None = None
    late: Packing | None = None
    to_be_opened: bool = False
    wired_before: WiredBefore = field(default_factory=WiredBefore)
    orders: Mapping[Filled, AssemblyPlan] = field(default_factory=dict)
    cut: frozenset[Stage] = frozenset()

    @property
    def packing(self) -> Packing | None:
        """How it is to be wired with the whole train; None: as it is packed."""
        if self.late is not None:
            return self.late
        return self.placed.packing if self.placed is not None and not any(self.placed.faults) else None


class LooseVehicles:
    """Lays vehicles of one train loosely, each when it is asked for.

    Parameters
    ----------
    run
        It learns how vehicles are wired, and nothing else that matters.
    wrong
        Vehicles in which something must lie elsewhere.
    asked
        Vehicles that are laid loosely: they are not wired yet.
    """

    def __init__(
        self,
        run: PlanningRun,
        places: Places,
        currents: Mapping[str, NetLoad],
        wrong: frozenset[str],
        asked: frozenset[str],
    ) -> None:
        self.run, self._places, self._currents = run, places, currents
        self._wrong, self._asked = wrong, asked

    def elsewhere(self) -> LooseVehicles:
        """Return the same with a run of its own."""
        return LooseVehicles(self.run.copy(), self._places, self._currents, self._wrong, self._asked)

    def to_be_opened(self, asked: ToBeOpened) -> frozenset[str]:
        """Return which vehicles will be opened."""
        if asked is nothing_to_be_opened:
            return frozenset()
        built, wired = self._wired
        return asked(built, wired.diameters) or frozenset()

    @cached_property
    def _wired(self) -> tuple[BuiltTrain, WiredTrain]:
        """The train with nothing wired in what is laid loosely."""
        run, built = self.run, self._places.built
        budget, known = run.options.budget, run.wired_before
        return built, wire_train(built, self._currents, budget, known, later=self._asked)

    @property
    def gauges(self) -> Mapping[str, Conductor] | None:
        """What each net is wired with in what was laid here; None where nothing was."""
        return self._wired[1].gauges if "_wired" in self.__dict__ else None

    def lay(self, name: str) -> LaidLoosely:
        """Return a vehicle laid where its wires like it; where nothing is wrong its wiring is finished, too.

        The exact search knows no wires. Where it has blocked none and nothing tips, its places stay if
        nothing is wrong with them and the vehicle's wires are no longer.
        """
        run, (built, wired) = self.run, self._wired
        packing = next(one for one in self._places.packings if one.vehicle == name)
        if run.over("places laid loosely"):
            return LaidLoosely(name, late=packing)
        first = self._places.loose.get(name, ())
        if name not in self._wrong and run.over("places compared by their wires"):
            return LaidLoosely(name, late=likelier_layout(run, built, packing, first))
        lay = place_vehicle if name in self._wrong else better_layout
        found = lay(run, built, wired, packing, first)
        if found is not None and not any(found.faults):
            finish(run, built, wired, found.packing)
        return LaidLoosely(name, found)

    def lay_elsewhere(self, name: str) -> LaidLoosely:
        """Return the same with all that is learned of it."""
        found, run = self.lay(name), self.run
        known, orders = run.wired_before.of(name), run.orders(name)
        return replace(found, wired_before=known, orders=orders, cut=frozenset(run.cut))


def laid_loosely(
    run: PlanningRun,
    places: Places,
    currents: Mapping[str, NetLoad],
    beside: SecondProcess | None,
    given_out: Callable[[], None],
    to_be_opened: ToBeOpened = nothing_to_be_opened,
) -> tuple[dict[str, LaidLoosely], Mapping[str, Conductor] | None]:
    """Lay the parts of each vehicle loosely, where its wires like them, before the whole train is wired.

    Returns the vehicles, and what each net was wired with in them; None where none was wired.

    Parameters
    ----------
    beside
        Where some of them are laid.
    given_out
        Called when no more will be asked there.
    to_be_opened
        Tells which vehicles will be opened; these are not laid.
    """
    built = places.built
    wrong = asked = frozenset[str]()
    if not run.over("places laid loosely"):
        wrong = with_blocked_ports(built) | places.tipping
        asked = frozenset(place.vehicle for place in built.placements)
    # Those with most wires take longest: begun first, they keep nobody waiting at the end.
    ends = Counter(built.vehicle_of(end.owner) for net in built.train.nets for end in net.joins)
    names = [packing.vehicle for packing in places.packings if packing.vehicle in asked]
    names.sort(key=lambda name: -ends[name])
    here = LooseVehicles(run, places, currents, wrong, asked)
    shut = here.to_be_opened(to_be_opened) if names else frozenset[str]()
    names = [name for name in names if name not in shut]
    said = b""
    if beside is not None and len(names) > 1:
        said = pickle.dumps(here.elsewhere(), pickle.HIGHEST_PROTOCOL)

    def there(some: tuple[str, ...]) -> Question[list[LaidLoosely]]:
        return put(beside, _laid_elsewhere, said, some)

    found = shared_out(beside, names, here.lay, there, given_out)
    for one in found:
        run.wired_before.learn(one.wired_before)
        run.learn(one.orders)
        run.cut |= one.cut
    opened = (LaidLoosely(name, to_be_opened=True) for name in shut)
    return {one.name: one for one in (*found, *opened)}, here.gauges


@lru_cache(maxsize=1)
def _heard(said: bytes) -> LooseVehicles:
    heard: LooseVehicles = pickle.loads(said)
    return heard


def _laid_elsewhere(said: bytes, names: tuple[str, ...]) -> list[LaidLoosely]:
    """Lay some vehicles in another process, which remembers from one question to the next."""
    vehicles = _heard(said)
    with reused_memory():
        return [vehicles.lay_elsewhere(name) for name in names]
