"""Lay every net of a train: lanes over the couplings, then each vehicle on its own."""

from __future__ import annotations

import os
from collections.abc import Hashable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor

from fitplan.budget import UNHURRIED, Budget
from fitplan.model.as_built import BuiltWire
from fitplan.model.built import BuiltTrain
from fitplan.model.vehicle import Vehicle
from fitplan.model.wired import Unreached
from fitplan.routing.map.ends import NetEnd, ResolvedNet
from fitplan.routing.map.handedness import mirrored_end, to_be_mirrored
from fitplan.routing.map.port_room import room_behind
from fitplan.routing.map.reaches import reach_of, within_reach
from fitplan.routing.map.topology import Reach, lanes_of
from fitplan.routing.map.vehicle_map import VehicleMap
from fitplan.routing.negotiation.kept_joinings import joinings
from fitplan.routing.negotiation.kept_wires import KeptWires, kept_wires
from fitplan.routing.negotiation.lanes import NOTHING, GetOn, Lanes
from fitplan.routing.negotiation.layout import Layout, Squeeze
from fitplan.routing.negotiation.loose_ends import without_loose_ends
from fitplan.routing.negotiation.net_joining import NetTask
from fitplan.routing.negotiation.turning import with_turns
from fitplan.routing.negotiation.vehicle_wiring import VehicleRouting
from fitplan.routing.negotiation.wired_before import WiredBefore


def lay_out(
    built: BuiltTrain,
    nets: Sequence[ResolvedNet],
    diameters: Mapping[str, float],
    budget: Budget = UNHURRIED,
    *,
    before: Layout | None = None,
    only: str = "",
    trying: bool = True,
    later: frozenset[str] = frozenset(),
    known: WiredBefore | None = None,
    as_built: Sequence[BuiltWire] = (),
    get_on: GetOn = NOTHING,
) -> Layout:
    """Lay all nets, or those in one vehicle whose parts have moved.

    Parameters
    ----------
    nets
        Resolved nets.
    diameters
        Outer diameter in mm of each net's wire.
    budget
        Its clock, if it has one, cuts what matters least; `Layout.cut` names that.
    before, only
        An earlier layout, and the vehicle that alone is wired: all others are as they were.
    trying
        Whether that vehicle is only tried.
    later
        Vehicles that are not wired yet, as their parts will lie elsewhere.
    known
        What was wired before; it is looked up and added to.
    as_built
        Wires that stay as they are unless something keeps them from it.
    get_on
        How many conductors at most are given a port, by vehicle and port, beside what was found before.
    """
    known = known or WiredBefore()
    maps, images = _maps(built, nets, before, only, known)
    seen = [_as_wired(net, maps, images) for net in nets]
    layout = Layout(maps, tuple(within_reach(net, maps) for net in seen), images)
    for net in seen:
        for end in net.ends:
            if not reach_of(end, maps[end.vehicle]).voxels:
                lost = Unreached(net.net.name, end.owner, end.pin, _walled_in(end, maps[end.vehicle].vehicle))
                layout.unreached.append(lost)
                layout.troubles[end.vehicle] = (*layout.troubles.get(end.vehicle, ()), lost)
    lanes = Lanes(built.train, maps, {**known.get_on([only] if only else maps), **get_on})
    kept = kept_wires(built, as_built, layout.nets, maps, images, lanes, diameters)
    layout.kept = kept.layout
    tasks = _tasks(layout, lanes, diameters, kept)
    layout.couplings.update(lanes.couplings)
    layout.unreached.extend(lanes.unreached)
    for lost, name, port in lanes.covered:
        layout.troubles[name] = (*layout.troubles.get(name, ()), lost)
        layout.squeezes.append(Squeeze(name, (room_behind(port),)))
    work = [
        VehicleRouting(
            layout,
            vehicle,
            mine,
            diameters,
            built.train.wiring,
            budget,
            kept=tuple(kept.segments[vehicle]),
            trying=bool(only) and trying,
        )
        for vehicle, mine in tasks.items()
        if (mine or kept.segments[vehicle]) and (not only or vehicle == only) and vehicle not in later
    ]
    # Vehicles meet only at ports that are given out already; searches run outside the interpreter's lock.
    with ThreadPoolExecutor(max_workers=os.cpu_count()) as pool:
        ready = [known.wired(one, layout.couplings, one.vehicle in images) for one in work]
        asked: dict[Hashable, VehicleRouting] = {}
        for one, earlier in zip(work, ready, strict=True):
            if earlier is None or (earlier.trying and not one.trying):
                kind = known.kind(one, layout.couplings, one.vehicle in images)
                asked.setdefault(kind, one if earlier is None else earlier).layout = layout
        first = {id(one) for one in asked.values()}
        fresh = pool.map(VehicleRouting.finish, asked.values())
        for one, earlier in zip(work, ready, strict=True):
            if id(one) in first or id(earlier) in first:
                done = next(fresh)
            elif earlier is not None and earlier.trying <= one.trying:
                done = earlier
            else:  # its equal was wired a moment ago, unless that was cut short
                found = known.wired(one, layout.couplings, one.vehicle in images) or one.run()
                done = found.finish() if found.trying and not one.trying else found
            known.keep(done, layout.couplings, done.vehicle in images)
            layout.laid.extend(done.laid)
            layout.kept.wires |= {key: kept.wires[number] for key, number in done.built.items()}
            layout.pulled.update(done.pulled)
            layout.detours.update(done.detours)
            layout.unreached.extend(done.notes.unreached)
            if done.notes.unreached:
                told = layout.troubles.get(done.vehicle, ())
                layout.troubles[done.vehicle] = (*told, *done.notes.unreached)
            layout.squeezes.extend(done.squeezes)
            layout.shortages.extend(done.notes.shortages)
            layout.questions.extend(done.notes.questions)
            layout.cut |= done.notes.cut
            layout.unproved.extend(done.notes.unproved)
            layout.joiners.update(
                {(net, done.vehicle): joiner for net, joiner in done.joining.joiners.items()}
            )
            layout.grounds.update(
                {done.vehicle: done.joining.ground} if done.joining.ground is not None else {}
            )
    if not only:
        without_loose_ends(layout)
    return layout


def _walled_in(end: NetEnd, vehicle: Vehicle) -> str:
    """Return why no way begins at a pin: over a load, that its room ends lower than the pin or plug."""
    above, top = min(pin.at[2] for pin in end.pins), vehicle.hull.high[2]
    if vehicle.load_top and above >= top:
        return (
            f"its wire would begin {above:.1f} mm above the rail, and loads with their wires reach up to"
            f" {top:g} mm there (`load height` in the vehicle's file)"
        )
    return "the pin is walled in: no free way begins near it"


def _maps(
    built: BuiltTrain, nets: Sequence[ResolvedNet], before: Layout | None, only: str, known: WiredBefore
) -> tuple[dict[str, VehicleMap], frozenset[str]]:
    """Return the maps to be wired, and the vehicles whose map is that of the mirror image."""
    removed = {entry.vehicle: frozenset(entry.remove) for entry in built.rebuilds}
    maps: dict[str, VehicleMap] = {}
    images: set[str] = set()
    for entry in built.train.vehicles:
        if before is not None and entry.name != only:
            maps[entry.name] = before.maps[entry.name]
            images |= before.images & {entry.name}
            continue
        inside = tuple(place for place in built.placements if place.vehicle == entry.name)
        straps = tuple(
            brick.box for one in built.fastenings if one.vehicle == entry.name for brick in one.bricks
        )
        map_ = known.map_of(entry, inside, removed.get(entry.name, frozenset()), straps)
        middle = entry.vehicle.width / 2
        boxes = [port.box for port in entry.vehicle.ports] + [one.box for one in entry.vehicle.openings]
        aside = [box.center[1] - middle for box in boxes]
        aside += [
            pin.at[1] - middle
            for net in nets
            for end in net.ends
            for pin in end.pins
            if pin.vehicle == entry.name
        ]
        if to_be_mirrored(map_.free, aside):
            images.add(entry.name)
            map_ = known.image_of(map_)
        maps[entry.name] = map_
    return maps, frozenset(images)


def _as_wired(net: ResolvedNet, maps: Mapping[str, VehicleMap], images: frozenset[str]) -> ResolvedNet:
    """Return a net with its ends where they are in the images that are wired."""
    ends = (
        mirrored_end(end, maps[end.vehicle].vehicle.width) if end.vehicle in images else end
        for end in net.ends
    )
    return ResolvedNet(net.net, tuple(ends))


def _tasks(
    layout: Layout, lanes: Lanes, diameters: Mapping[str, float], kept: KeptWires
) -> dict[str, list[NetTask]]:
    """Return for each vehicle what is to be joined in it, net by net."""
    order = {name: number for number, name in enumerate(lanes.names)}
    found: dict[str, list[NetTask]] = {name: [] for name in lanes.names}
    for net in layout.nets:
        if standing := kept.of_net(net.net.name):
            segments = [one.segment for one in standing]
            for joining in joinings(net, segments, lanes, layout.maps, diameters[net.net.name]):
                found[joining.vehicle].append(NetTask(net, [], joining.groups))
            continue
        here: dict[str, list[list[Reach]]] = {name: [] for name in lanes.names}
        for first, last, ends in lanes_of(net, order):
            passed = lanes.names[first : last + 1]
            at_pins = {
                name: [reach_of(end, layout.maps[name]) for end in ends if end.vehicle == name]
                for name in passed
            }
            goals = {name: [reach.voxels for reach in reaches] for name, reaches in at_pins.items()}
            portals = lanes.portals(net.net.name, diameters[net.net.name], first, last, goals)
            for number, vehicle in enumerate(passed, first):
                map_ = layout.maps[vehicle]
                for portal in (portals.get(number - 1), portals.get(number)):
                    if portal is not None:
                        mouth = map_.mouth(lanes.couplings[portal].port_in(map_))
                        at_pins[vehicle].append(Reach(portal, mouth))
            joined = {name: [reaches] for name, reaches in at_pins.items()}
            if net.net.style != "home-run":
                joined = with_turns(net.net.name, diameters[net.net.name], at_pins, lanes, layout.maps)
            for vehicle, lists in joined.items():
                here[vehicle] += [reaches for reaches in lists if len(reaches) > 1]
        for vehicle, mine in here.items():
            if mine:
                found[vehicle].append(NetTask(net, mine))
    return found
