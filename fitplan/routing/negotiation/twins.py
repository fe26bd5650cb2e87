"""Equal vehicles of a train: how one of them is wired holds for the others, told with their names.

Equal are bodies, places of parts, and what nets join inside and through which ports they leave; names of
vehicles, parts and nets, and where in the train the vehicle runs, make no difference to its ways. Wires that
are built already stay where they are in one vehicle only: a vehicle with such has no equal.
"""

from __future__ import annotations

import re
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, replace

from fitplan.model.placed import Placement
from fitplan.model.vehicle import built_in_name
from fitplan.routing.map.ends import NetEnd
from fitplan.routing.map.topology import Node, Portal, Reach, SpliceSpot
from fitplan.routing.negotiation.layout import CouplingPorts
from fitplan.routing.negotiation.net_joining import NetTask
from fitplan.routing.negotiation.vehicle_wiring import VehicleRouting


@dataclass(frozen=True)
class Names:
    """What equal vehicles call differently, in the same order in each; ``number``: place in the train."""

    vehicle: str
    number: int
    nets: tuple[str, ...]
    needs: tuple[str, ...]
    portals: tuple[Portal, ...]

    @classmethod
    def of(
        cls, work: VehicleRouting, inside: Sequence[Placement], couplings: Mapping[Portal, CouplingPorts]
    ) -> Names:
        """Return the names in a vehicle that is to be wired.

        Parameters
        ----------
        couplings
            The ports that portals pass.
        """
        here = portals_of(work)
        return cls(
            vehicle=work.vehicle,
            number=list(work.layout.maps).index(work.vehicle),
            nets=tuple(task.net.net.name for task in work.tasks),
            needs=tuple(place.need for place in inside),
            portals=tuple(portal for portal in couplings if portal in here),
        )

    @property
    def every(self) -> tuple[str, ...]:
        """All of them."""
        return (self.vehicle, *self.nets, *self.needs)


def portals_of(work: VehicleRouting) -> frozenset[Portal]:
    """Return the portals by which the nets of a vehicle may leave it."""
    return frozenset(
        reach.node
        for task in work.tasks
        for lane in (*task.lanes, *task.groups)
        for reach in lane
        if isinstance(reach.node, Portal)
    )


def question_of(
    work: VehicleRouting, names: Names, couplings: Mapping[Portal, CouplingPorts], image: bool
) -> Hashable:
    """Return what the wiring of a vehicle hangs on beside its body and how its parts lie; without names.

    Parameters
    ----------
    couplings
        The ports that portals pass.
    image
        Whether the vehicle is wired as its mirror image.
    """
    nets = {name: number for number, name in enumerate(names.nets)}
    needs = {name: number for number, name in enumerate(names.needs)}
    portals = {portal: number for number, portal in enumerate(names.portals)}

    def owner(name: str) -> Hashable:
        inside = built_in_name(name)
        return needs[name] if inside is None else inside[1]

    def node(one: Node) -> Hashable:
        match one:
            case NetEnd():
                others = tuple(node(other) for other in one.others)
                return (owner(one.owner), one.pin, one.at, one.exit, one.wires, others, one.board, one.load)
            case Portal():
                return portals[one]
            case SpliceSpot():
                return (nets[one.net], one.voxel)

    def reach(one: Reach) -> Hashable:
        return (node(one.node), one.voxels, one.wires)

    def ends(task: NetTask) -> Hashable:
        order = list(work.layout.maps)
        return tuple(
            node(end)
            if end.vehicle == names.vehicle
            else (order.index(end.vehicle) < names.number, end.places, end.board)
            for end in task.net.ends
        )

    tasks = tuple(
        (
            replace(task.net.net, name="", joins=()),
            ends(task),
            tuple(tuple(reach(one) for one in lane) for lane in task.lanes),
            work.diameters[task.net.net.name],
        )
        for task in work.tasks
    )
    passed = tuple(
        (nets[portal.net], portal.coupling - names.number, couplings[portal].port_in(work.map).name)
        for portal in names.portals
    )
    return (image, tasks, passed)


def retell(done: VehicleRouting, names: Names, work: VehicleRouting, own: Names) -> VehicleRouting:
    """Fill the wiring of a vehicle with that of an equal one, told with its own names; return it.

    Parameters
    ----------
    done, names
        The vehicle that is wired, and its names.
    work, own
        The other, and its names.
    """
    called = dict(zip(names.every, own.every, strict=True))
    word = re.compile("|".join(rf"(?<!\w){re.escape(name)}(?!\w)" for name in sorted(called, key=len)[::-1]))
    portals = dict(zip(names.portals, own.portals, strict=True))

    def owner(name: str) -> str:
        inside = built_in_name(name)
        if inside is None or inside[0] != names.vehicle:
            return called.get(name, name)
        return f"{own.vehicle}/{inside[1]}"

    def node(one: Node) -> Node:
        match one:
            case NetEnd():
                return end(one)
            case Portal():
                return portals[one]
            case SpliceSpot():
                return replace(one, net=called[one.net], vehicle=own.vehicle)

    def end(one: NetEnd) -> NetEnd:
        return replace(
            one,
            net=called[one.net],
            owner=owner(one.owner),
            vehicle=own.vehicle,
            others=tuple(end(other) for other in one.others),
        )

    def reaches(some: Sequence[Reach]) -> tuple[Reach, ...]:
        return tuple(replace(one, node=node(one.node)) for one in some)

    for laid in done.laid:
        before = laid.segment
        segment = replace(
            before,
            net=called[before.net],
            vehicle=own.vehicle,
            start=node(before.start),
            end=node(before.end),
        )
        told = replace(laid, segment=segment)
        work.laid.append(told)
        work.pulled[id(told)] = done.pulled[id(laid)]
        if id(laid) in done.detours:
            work.detours[id(told)] = done.detours[id(laid)]
    work.squeezes = [replace(one, vehicle=own.vehicle) for one in done.squeezes]
    notes, have = work.notes, done.notes
    notes.unreached = [
        replace(
            one,
            net=called[one.net],
            owner=owner(one.owner),
            reason=word.sub(lambda found: called[found.group()], one.reason),
        )
        for one in have.unreached
    ]
    notes.shortages = [
        replace(one, net=called[one.net], owner=owner(one.owner), vehicle=own.vehicle)
        for one in have.shortages
    ]
    notes.unproved = [replace(one, net=called[one.net], vehicle=own.vehicle) for one in have.unproved]
    joiners = work.joining.joiners
    for name, joiner in done.joining.joiners.items():
        joiners[called[name]] = joiner.told_of(called[name], work.map)
    notes.questions = [
        replace(
            one,
            vehicle=own.vehicle,
            joiner=one.joiner.told_of(called[one.joiner.net], work.map),
            joined=reaches(one.joined),
            every=reaches(one.every),
            home=None if one.home is None else reaches([one.home])[0],
            others=reaches(one.others),
        )
        for one in have.questions
    ]
    work.joining.ground = done.joining.ground
    work.trying = done.trying
    return work
