"""The bundled examples a little changed: mirrored, turned round, a brick less, other parts or supply."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace

from fitplan.model.electrical import Lead
from fitplan.model.needed import Need
from fitplan.model.nets import Net, PinRef
from fitplan.model.part import Part, Pin
from fitplan.model.plugged import ends_at, plugged
from fitplan.model.solids import Box, Cylinder, Direction, Solid, Vec, Wedge
from fitplan.model.train import Train, TrainVehicle
from fitplan.model.vehicle import Vehicle
from tests.hidden.circuits import STEP_UPS

_LEFT_RIGHT: dict[Direction, Direction] = {"+y": "-y", "-y": "+y"}
_BACK_FRONT: dict[Direction, Direction] = {"+x": "-x", "-x": "+x"}


def variants(train: Train) -> Iterator[tuple[str, Train]]:
    """Yield variants of a train with what was changed."""
    yield "as it is", train
    yield "mirrored", _let_go(_with_vehicles(train, mirrored))
    yield "turned round", _let_go(_turned(train))
    for entry in train.vehicles:
        for brick in entry.vehicle.removables:
            yield (
                f"without {brick.name} of {entry.name}",
                _with_vehicles(train, _without(brick.name)),
            )
    for need in train.needs:
        family = need.candidates[0].family
        mine = {_bare(part.id) for part in need.candidates}
        for part in train.catalogue.values():
            if part.family == family and part.id not in mine and not part.id.endswith("-plugged"):
                changed = _plugged_again(_with_part(train, need.name, part.id), need.name)
                if changed is not None:
                    yield f"{part.id} as {need.name}", changed
    for cells in ("cells-aaa-2", "cells-aa-2", "cells-18650-1"):
        for step_up in STEP_UPS:
            if (changed := _stepped_up(train, cells, step_up)) is not None:
                yield f"{cells} and {step_up}", changed


def mirrored(vehicle: Vehicle) -> Vehicle:
    """Return a vehicle with left and right exchanged."""
    width = vehicle.width

    def box(one: Box) -> Box:
        (x0, y0, z0), (x1, y1, z1) = one.low, one.high
        return Box((x0, width - y1, z0), (x1, width - y0, z1))

    def point(at: Vec) -> Vec:
        return (at[0], width - at[1], at[2])

    return body_moved(vehicle, box, point, _LEFT_RIGHT)


def turned(vehicle: Vehicle) -> Vehicle:
    """Return a vehicle drawn from its other end: the same body, its front called rear."""
    length, width = vehicle.length, vehicle.width

    def box(one: Box) -> Box:
        (x0, y0, z0), (x1, y1, z1) = one.low, one.high
        return Box((length - x1, width - y1, z0), (length - x0, width - y0, z1))

    def point(at: Vec) -> Vec:
        return (length - at[0], width - at[1], at[2])

    changed = body_moved(vehicle, box, point, {**_LEFT_RIGHT, **_BACK_FRONT})
    couplings = tuple(
        replace(one, end="rear" if one.end == "front" else "front", pivot_x=length - one.pivot_x)
        for one in reversed(vehicle.couplings)
    )
    at = tuple(length - x for x in reversed(vehicle.wheels.at))
    wheels = replace(vehicle.wheels, at=at, driven=tuple(reversed(vehicle.wheels.driven)))
    return replace(changed, couplings=couplings, wheels=wheels)


def body_moved(
    vehicle: Vehicle,
    box: Callable[[Box], Box],
    point: Callable[[Vec], Vec],
    ways: Mapping[Direction, Direction],
) -> Vehicle:
    """Return a vehicle with all that lies in it moved: its boxes, its points, and the ways things look."""

    def way(one: Direction) -> Direction:
        return ways.get(one, one)

    def solid(one: Solid) -> Solid:
        if isinstance(one, Wedge):
            return Wedge(box(one.box), way(one.base), way(one.back))
        if isinstance(one, Cylinder):
            there = box(one.bounds)
            start = list(there.center)
            start["xyz".index(one.axis)] = there.low["xyz".index(one.axis)]
            return replace(one, start=(start[0], start[1], start[2]))
        return box(one)

    return replace(
        vehicle,
        body=tuple(replace(one, solid=solid(one.solid)) for one in vehicle.body),
        layers=(),
        openings=tuple(replace(one, box=box(one.box), out=way(one.out)) for one in vehicle.openings),
        windows=tuple(replace(one, box=box(one.box), out=way(one.out)) for one in vehicle.windows),
        ports=tuple(replace(one, box=box(one.box), out=way(one.out)) for one in vehicle.ports),
        built_in=tuple(
            replace(
                one,
                solids=tuple(solid(each) for each in one.solids),
                faces=tuple(replace(face, box=box(face.box), out=way(face.out)) for face in one.faces),
                pins=tuple(replace(pin, at=point(pin.at), exit=way(pin.exit)) for pin in one.pins),
            )
            for one in vehicle.built_in
        ),
        mass_center=point(vehicle.mass_center),
    )


def _with_vehicles(train: Train, change: Callable[[Vehicle], Vehicle]) -> Train:
    return replace(
        train, vehicles=tuple(replace(entry, vehicle=change(entry.vehicle)) for entry in train.vehicles)
    )


def _turned(train: Train) -> Train:
    return replace(
        train,
        vehicles=tuple(
            TrainVehicle(entry.name, turned(entry.vehicle), not entry.turned) for entry in train.vehicles
        ),
    )


def _let_go(train: Train) -> Train:
    """Return a train whose parts are pinned to their vehicles alone: their places were the original's."""
    needs = tuple(
        replace(need, vehicles=(need.pinned.vehicle,), pinned=None) if need.pinned else need
        for need in train.needs
    )
    return replace(train, needs=needs)


def _without(brick: str) -> Callable[[Vehicle], Vehicle]:
    def change(vehicle: Vehicle) -> Vehicle:
        body = tuple(
            replace(one, state="free", removable="") if one.removable == brick else one
            for one in vehicle.body
        )
        left = tuple(one for one in vehicle.removables if one.name != brick)
        return replace(vehicle, body=body, removables=left)

    return change


def _with_part(train: Train, name: str, part_id: str) -> Train:
    part = train.catalogue[part_id]
    needs = []
    for need in train.needs:
        if need.name == name:
            # Where a pinned part lay another one may not: it finds its own place in that vehicle.
            where = (need.pinned.vehicle,) if need.pinned else need.vehicles
            need = replace(need, candidates=(part,), choice=None, pinned=None, vehicles=where)
        needs.append(need)
    return replace(train, needs=tuple(needs))


def _plugged_again(train: Train, name: str) -> Train | None:
    """Return a train with the leads of a need exchanged for such as fit its part; None where none does."""
    for number, net in enumerate(train.nets):
        if not net.lead or name not in [ref.owner for ref in net.joins]:
            continue
        # What lies at either end, as it is bought: without the plug of the lead that was there.
        ends = [train.catalogue[_bare(train.need(ref.owner).candidates[0].id)] for ref in net.joins]
        pins = [_pin_at(part, ref) for part, ref in zip(ends, net.joins, strict=True)]
        (one, other), (here, there) = ends, pins
        if here is None or there is None:
            return None
        for lead in train.catalogue.values():
            figures = lead.figure(Lead)
            if figures is None or not any(fits := ends_at(figures, here.socket, there.socket)):
                continue
            pair = (
                plugged(one, here, lead, second=not fits[0]),
                plugged(other, there, lead, second=fits[0]),
            )
            into = {ref.owner: part for ref, part in zip(net.joins, pair, strict=True)}
            needs = tuple(
                replace(need, candidates=(into[need.name],), choice=None) if need.name in into else need
                for need in train.needs
            )
            nets = (*train.nets[:number], replace(net, lead=lead.id), *train.nets[number + 1 :])
            catalogue = {**train.catalogue, **{part.id: part for part in pair}}
            train = replace(train, needs=needs, nets=nets, catalogue=catalogue)
            break
        else:
            return None
    return train


def _bare(part_id: str) -> str:
    return part_id.removesuffix("-plugged")


def _pin_at(part: Part, ref: PinRef) -> Pin | None:
    """Return the pin of a part that a net names: by its name, or the socket of that role."""
    named = [pin for pin in part.pins if pin.name == ref.pin]
    return next(iter(named or [pin for pin in part.pins if pin.role == ref.pin and pin.socket]), None)


def _stepped_up(train: Train, cells: str, step_up: str) -> Train | None:
    """Return a train whose cells give less than 5 V and feed the controller through a step-up."""
    nets = {net.name: net for net in train.nets}
    if "switched" not in nets or "five volts" not in nets or any(n.name == "step-up" for n in train.needs):
        return None
    changed = _with_part(train, "cells", cells)
    home = next(need for need in changed.needs if need.name == "cells")
    more = Need("step-up", (train.catalogue[step_up],), vehicles=home.vehicles)
    joins = {
        "switched": (PinRef("switch", "b"), PinRef("step-up", "in")),
        "five volts": (PinRef("step-up", "out"), *nets["five volts"].joins),
        "ground": (*nets["ground"].joins, PinRef("step-up", "GND")),
    }
    rewired: tuple[Net, ...] = tuple(
        replace(net, joins=joins[net.name]) if net.name in joins else net for net in changed.nets
    )
    return replace(changed, needs=(*changed.needs, more), nets=rewired)
