"""A plan of a train that was opened for its wires, told as a rebuild of the train as it was.

Searches work on bodies in which holes are clear already. What is told is the train with these holes as
removable bricks, and a rebuild that takes them out: the same bodies, so whatever reads rebuilds knows them.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TypeAlias

from fitplan.checks.gaps import bricked_ports, bricks_that_stay
from fitplan.model.built import BuiltTrain
from fitplan.model.holes import opened
from fitplan.model.placed import Rebuild
from fitplan.model.proposed import LeastOpening, Option, Verdict
from fitplan.model.train import Train
from fitplan.packing.vehicle.body_support import UNKNOWN, carrying
from fitplan.planning.least_opening import OpeningSearch

MOST_OPENINGS = 6
"""So many openings are planned with until one holds."""
MOST_AT_HOME = 3
"""So many of them count on the parts to stay in the vehicles that were chosen for them."""
OpenedSo: TypeAlias = tuple[str, tuple[str, ...], tuple[str, ...]]
MOST_LOOKED_AT = 100
"""So many sets are looked at for them: what is not among these opens nothing where wires did not run."""
_PLACES_OF_ONE = 2
"""So many places of a set of holes are planned with before a dearer set is."""


@dataclass(frozen=True)
class Proposed:
    """What may be opened.

    Attributes
    ----------
    at_home
        Whether it is meant for the parts in the vehicles that were chosen for them.
    """

    opening: LeastOpening
    at_home: bool


def openings(search: OpeningSearch, failed: set[OpenedSo], blamed: Iterable[str] = ()) -> Iterator[Proposed]:
    """Yield what may be opened, each set of holes in the places that are liked best.

    First what is likely to do for the parts where they were put, the cheapest first; then what is likely to
    do wherever they are, then whatever is not proved to be in vain.

    Parameters
    ----------
    failed
        What was opened in single vehicles when their wires did not run: who asks adds to it, and such sets
        are passed over.
    blamed
        Vehicles in which wires did not run before: where parts stay, something is opened in each, or in
        those of them whose rooms are in the way. Ports of the others were given out to nets that led nowhere.
    """
    blamed = frozenset(blamed)
    shut: set[OpenedSo] = {(name, (), ()) for name in blamed & search.likely_at_home.in_the_way or blamed}
    told: list[LeastOpening] = []
    for among in (search.likely_at_home, search.likely, search):
        before = len(told)
        for chosen in itertools.islice(among.sets(), MOST_LOOKED_AT if among.at_home else None):
            if among.at_home and len(told) - before >= MOST_AT_HOME:
                break
            for choice in range(_PLACES_OF_ONE if chosen.kinds else 1):
                there = search.least(chosen, choice=choice, among=among)
                if there is None or there in told or not (there.holes or there.remove):
                    continue
                opened_now = {opened_so(there, vehicle) for vehicle in search.vehicles}
                if choice == 0 and opened_now & (failed | shut if among.at_home else failed):
                    break
                # Another place of the same holes is of no use to a vehicle in which none is opened.
                if any(not (holes or bricks) for _, holes, bricks in opened_now & failed):
                    break
                told.append(there)
                yield Proposed(there, among.at_home)


def first_opened(search: OpeningSearch) -> frozenset[str]:
    """Return the vehicles in which the cheapest set of a search opens something."""
    first = next(search.sets(), None)
    if first is None or (told := search.least(first)) is None:
        return frozenset()
    return frozenset(name for name, _ in (*told.holes, *told.remove))


def opened_so(opening: LeastOpening, vehicle: str) -> OpenedSo:
    """Return what an opening opens in one vehicle: holes by kind, and bricks."""
    holes = [f"{hole.kind}, {hole.out or hole.axis}" for name, hole in opening.holes if name == vehicle]
    bricks = [brick for name, brick in opening.remove if name == vehicle]
    return vehicle, tuple(sorted(holes)), tuple(sorted(bricks))


def blamed_for(built: BuiltTrain) -> set[str]:
    """Return the vehicles in which wires did not run.

    Where a net is parted, its ends beyond are lost as well, in vehicles that are not to blame: the ports at
    which it stops tell of the vehicle that is, or else what is told of it first.
    """
    vehicles = {entry.name for entry in built.train.vehicles}
    lost: dict[str, list[str]] = {}
    for one in built.unreached:
        lost.setdefault(one.net, []).append(one.owner)
    found = {owner for owners in lost.values() for owner in owners if owner in vehicles}
    for owners in lost.values():
        if not vehicles & set(owners) and (home := built.vehicle_of(owners[0])) is not None:
            found.add(home)
    return found


def opened_before(train: Train) -> OpenedTrain | None:
    """Return the train with what was opened in it when it was built; None where nothing of that is left."""
    if not train.may_open:
        return None
    bodies = {entry.name: entry.vehicle for entry in train.vehicles}
    holes = tuple((name, hole) for name, hole in train.as_built.holes if name in bodies)
    costs = {(name, brick.name): brick.cost for name, body in bodies.items() for brick in body.removables}
    remove = tuple(one for one in train.as_built.bricks_out if one in costs)
    if not holes and not remove:
        return None
    cost = sum(hole.cost for _, hole in holes) + sum(costs[one] for one in remove)
    return OpenedTrain(train, LeastOpening(holes, remove, cost, 0.0, "", planned=True))


def opened_at_ports(train: Train, built: BuiltTrain) -> OpenedTrain | None:
    """Return a train with the bricks out that fill ports which its wires pass; None where none does.

    A port is drawn open for wires whatever stands in it. None, too, where without these bricks the body does
    not hold together.

    Parameters
    ----------
    built
        The train as it was planned with these bricks in.
    """
    costs: dict[tuple[str, str], float] = {}
    for entry in built.train.vehicles:
        ports = bricked_ports(built, entry, bricks_that_stay(built, entry))
        out = frozenset(brick for port in ports for brick in port.bricks)
        if out and not carrying(entry.vehicle, out).holds:
            return None
        costs |= {(entry.name, one.name): one.cost for one in entry.vehicle.removables if one.name in out}
    if not costs:
        return None
    return OpenedTrain(train, LeastOpening((), tuple(sorted(costs)), sum(costs.values()), 0.0, ""))


def opened_train(train: Train, opening: LeastOpening, *, told: bool) -> Train:
    """Return a train with what a least opening opens in it.

    Parameters
    ----------
    told
        Bricks are still in their places and holes are bricks, as a rebuild takes them out. Otherwise all of
        it is clear already.
    """
    entries = []
    for entry in train.vehicles:
        holes = [hole for vehicle, hole in opening.holes if vehicle == entry.name]
        out = {name for vehicle, name in opening.remove if vehicle == entry.name and not told}
        body = entry.vehicle
        if out:
            body = replace(
                body,
                body=tuple(
                    replace(solid, state="free", removable="") if solid.removable in out else solid
                    for solid in body.body
                ),
                removables=tuple(brick for brick in body.removables if brick.name not in out),
            )
        entries.append(replace(entry, vehicle=opened(body, holes, told=told)) if out or holes else entry)
    return replace(train, vehicles=tuple(entries))


@dataclass(frozen=True)
class OpenedTrain:
    """The train before it was opened, and what was opened in it.

    ``at_home``: it was opened for the parts in the vehicles that were chosen for them.
    """

    before: Train
    opening: LeastOpening
    at_home: bool = False

    @property
    def cost(self) -> float:
        """What the opening costs: the same for every choice of parts in the opened train."""
        return self.opening.cost

    def told(self, built: BuiltTrain) -> BuiltTrain:
        """Return what was built in the opened train as a rebuild of the train before."""
        opening = self.opening
        known = {entry.name: entry for entry in opened_train(self.before, opening, told=True).vehicles}
        entries = tuple(known.get(entry.name, entry) for entry in built.train.vehicles)
        train = replace(built.train, vehicles=entries)
        rebuilds = {one.vehicle: one for one in built.rebuilds}
        costs = self._costs()
        for name, (out, cost) in costs.items():
            old = rebuilds.get(name)
            if old is None:
                there = [place for place in built.placements if place.vehicle == name]
                shelves = tuple(place.shelf for place in there if place.shelf is not None)
                old = Rebuild(name, (), shelves, 0.0, 0.0, UNKNOWN)
            # The bound is one of the whole train: it is the vehicle's own where no other is opened.
            least = old.least + (opening.least if len(costs) == 1 else 0.0)
            remove = (*old.remove, *out)
            rebuilds[name] = replace(old, remove=remove, cost=old.cost + cost, least=least)
        order = [entry.name for entry in entries]
        return replace(
            built,
            train=train,
            rebuilds=tuple(sorted(rebuilds.values(), key=lambda one: order.index(one.vehicle))),
            opening=replace(opening, planned=True),
        )

    def _costs(self) -> dict[str, tuple[list[str], float]]:
        """Return by vehicle what a rebuild takes out for it, and its cost."""
        found: dict[str, tuple[list[str], float]] = {}
        bricks = {
            (entry.name, brick.name): brick.cost
            for entry in self.before.vehicles
            for brick in entry.vehicle.removables
        }
        taken = [(vehicle, name, bricks[vehicle, name]) for vehicle, name in self.opening.remove]
        taken += [
            (vehicle, hole.name, hole.cost)
            for vehicle, hole in self.opening.holes
            if hole.kind != "gap of a brick"
        ]
        for vehicle, name, cost in taken:
            out, before = found.get(vehicle, ([], 0.0))
            found[vehicle] = ([*out, name], before + cost)
        return found

    def verdict(self, verdict: Verdict) -> Verdict:
        """Return the verdict on the train before, of that on the opened one."""
        return "fits after a rebuild" if verdict == "fits" else verdict

    def options(self, options: Sequence[Option]) -> tuple[Option, ...]:
        """Return options with what the opening costs, which any of them needs."""
        weight = self.before.weights.bricks_removed
        return tuple(
            replace(
                option,
                bricks_removed=option.bricks_removed + self.cost,
                score=option.score + weight * self.cost,
            )
            for option in options
        )
