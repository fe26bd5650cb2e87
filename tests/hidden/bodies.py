"""Varies the bodies of drawn trains as makers build them: more holes than one at an end, and what is no way.

What lies in a hidden plan stays where it is. Ends with a coupling become longer; there stand motors,
receivers, posts and pockets behind holes, an inner wall with two openings, or a wall that must be opened.
Lids are small, bricks come out that are of no use. Whatever is drawn so, `oracle` shows the plan in it anew.
"""

from __future__ import annotations

import random
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from fitplan.files.train_track import LEAST_SHARE
from fitplan.model.operation import Track
from fitplan.model.part import Part
from fitplan.model.solids import Box, Direction, Place, bounds_of
from fitplan.model.train import Train, TrainVehicle
from fitplan.model.vehicle import BodySolid, Opening, Removable, Vehicle, built_in_name
from fitplan.units import STUD
from tests.hidden.ends import FLOOR, Carried, End, draw_end
from tests.hidden.trains import POWER_MM, SIGNAL_MM, Hidden, draws
from tests.hidden.variants import body_moved

TRIES = 6
"""So many bodies are drawn round one plan."""
MOST_PRICE = 3.0
_SIDES: tuple[Direction, Direction] = ("+x", "-x")


@dataclass
class _Opened:
    """What the hidden plan opens, while a train is varied."""

    price: float = 0.0


def varied_draws(seed: int, difficulty: int, catalogue: Mapping[str, Part]) -> Iterator[Hidden]:
    """Yield trains with varied bodies; the same seed gives the same, and the plans of `draws`."""
    for number, hidden in enumerate(draws(seed, difficulty, catalogue)):
        for attempt in range(TRIES):
            rng = random.Random(f"bodies {difficulty} {seed} {number} {attempt}")
            yield _varied(rng, hidden)


def _varied(rng: random.Random, hidden: Hidden) -> Hidden:
    train = hidden.train
    wanted = rng.random() < 0.4  # to be opened somewhere
    spent = _Opened()
    closed: list[TrainVehicle] = []
    opened: list[TrainVehicle] = []
    places = dict(hidden.places)
    through: dict[tuple[str, Direction], Mapping[str, Box]] = {}
    gates: dict[tuple[str, Direction], Mapping[str, Box]] = {}
    for number, entry in enumerate(train.vehicles):
        ends: dict[Direction, End] = {}
        for side in _SIDES:
            towards = number - 1 if (side == "+x") != entry.turned else number + 1
            if not 0 <= towards < len(train.vehicles) or not entry.vehicle.ports:
                continue
            carried = _carried(hidden, min(number, towards))
            may = MOST_PRICE - spent.price if wanted and rng.random() < 0.6 else 0.0
            ends[side] = draw_end(rng, entry.vehicle, side, carried, may)
            spent.price += ends[side].price
        back = ends["-x"].longer if "-x" in ends else 0.0
        body = _lengthened(entry.vehicle, ends)
        mine = {need: place for need, (home, place) in places.items() if home == entry.name}
        for need, place in mine.items():
            x, y, z = place.offset
            places[need] = (entry.name, Place(place.pose, (round(x + back, 1), y, z)))
        boxes = [
            bounds_of(tuple(places[need][1].move_solid(one) for one in catalogue_part(train, need).envelope))
            for need in mine
        ]
        body = _second_openings(rng, body)
        body = _spare_bricks(rng, body, boxes)
        body = _lids(rng, body, boxes)
        after = body
        for end in ends.values():
            body, after = end.shut(body), end.open(after)
        closed.append(replace(entry, vehicle=body))
        opened.append(replace(entry, vehicle=after))
        through |= {(entry.name, side): end.through for side, end in ends.items()}
        gates |= {(entry.name, side): end.gates for side, end in ends.items()}
    guides = max(max(entry.vehicle.wheels.at) - min(entry.vehicle.wheels.at) for entry in closed)
    track = Track(radius=max(320.0, LEAST_SHARE * guides))
    asked = replace(
        train,
        name=train.name.replace("hidden", "varied"),
        vehicles=tuple(closed),
        track=track,
        may_open=wanted,
    )
    return replace(
        hidden,
        train=asked,
        places=places,
        open_train=replace(asked, vehicles=tuple(opened)),
        price=spent.price,
        through=through,
        gates=gates,
    )


def catalogue_part(train: Train, need: str) -> Part:
    """Return the part that serves a need."""
    return train.need(need).candidates[0]


def _carried(hidden: Hidden, coupling: int) -> list[Carried]:
    """Return the nets over the coupling behind a vehicle, with the diameters of their conductors."""
    order = {entry.name: number for number, entry in enumerate(hidden.train.vehicles)}
    found = []
    for net in hidden.train.nets:
        at = []
        for ref in net.joins:
            built_in = built_in_name(ref.owner)
            at.append(order[built_in[0] if built_in else hidden.places[ref.owner][0]])
        if min(at) <= coupling < max(at):
            found.append(Carried(net.name, SIGNAL_MM if net.role == "signal" else POWER_MM))
    return found


def _lengthened(vehicle: Vehicle, ends: Mapping[Direction, End]) -> Vehicle:
    """Return a vehicle with its ends moved out by whole studs; its ports are gone, and nothing else."""
    front, back = (ends[side].longer if side in ends else 0.0 for side in _SIDES)
    length = vehicle.length + front + back

    def box(one: Box) -> Box:
        (x0, y0, z0), (x1, y1, z1) = one.low, one.high
        return Box((round(x0 + back, 4), y0, z0), (round(x1 + back, 4), y1, z1))

    made = body_moved(vehicle, box, lambda at: (at[0] + back, at[1], at[2]), {})
    whole, cavity, tiled = (bounds_of((one.solid,)) for one in vehicle.body[:3])
    spans = [(0.0, length), (STUD, length - STUD), (0.0, length)]
    first = tuple(
        replace(old, solid=Box((x0, *box.low[1:]), (x1, *box.high[1:])))
        for old, box, (x0, x1) in zip(vehicle.body, (whole, cavity, tiled), spans, strict=False)
    )
    gone = {port.name for port in vehicle.ports}
    holes = [bounds_of((BodySolid(box(port.box), "free").solid,)) for port in vehicle.ports]
    kept = tuple(one for one in made.body[3:] if not (one.state == "free" and one.solid in holes))
    assert len(made.body) - 3 - len(kept) == len(gone)
    roof = tuple(
        replace(one, box=Box((STUD, *one.box.low[1:]), (length - STUD, *one.box.high[1:])))
        if one.name == "roof"
        else one
        for one in made.openings
    )
    more = [one for end in ends.values() for one in end.solids(length)]
    return replace(
        made,
        studs_long=round(length / STUD),
        body=(*first, *kept, *more),
        openings=roof,
        ports=tuple(port for end in ends.values() for port in end.ports(length)),
        built_in=(*made.built_in, *(one for end in ends.values() for one in end.built_in(length))),
        couplings=tuple(
            replace(one, pivot_x=length if one.end == "front" else 0.0) for one in made.couplings
        ),
        wheels=replace(made.wheels, at=(24.0, length - 24.0)),
        mass_center=(length / 2, *vehicle.mass_center[1:]),
    )


def _second_openings(rng: random.Random, vehicle: Vehicle) -> Vehicle:
    """Return a vehicle whose necks have a second, smaller opening beside the one that wires pass."""
    cavity = bounds_of((vehicle.body[1].solid,))
    more = []
    for one in vehicle.body[3:]:
        box = bounds_of((one.solid,))
        across = box.size[1] > cavity.size[1] - 0.1 and box.high[2] > cavity.high[2] - 0.1
        if one.state == "fixed" and across and box.low[0] > cavity.low[0] and rng.random() < 0.7:
            wide, high = rng.choice((1.6, 3.2, 4.8)), rng.choice((1.6, 3.2, 4.8))
            y = round(rng.uniform(cavity.low[1], cavity.high[1] - wide), 1)
            z = round(FLOOR + rng.choice((0.0, 0.0, 9.6)), 1)
            if z + high < cavity.high[2]:
                gap = Box((box.low[0], y, z), (box.high[0], y + wide, round(z + high, 1)))
                more.append(BodySolid(gap, "free"))
    return replace(vehicle, body=(*vehicle.body, *more))


def _spare_bricks(rng: random.Random, vehicle: Vehicle, boxes: Sequence[Box]) -> Vehicle:
    """Return a vehicle with removable bricks that nothing is gained by: beside parts, and in its walls."""
    cavity = bounds_of((vehicle.body[1].solid,))
    bricks: list[tuple[str, Box, float]] = []
    for number in range(rng.randint(0, 2)):
        x = STUD * rng.randint(1, vehicle.studs_long - 2)
        y = rng.choice((cavity.low[1], cavity.high[1] - STUD))
        box = Box((x, y, FLOOR), (x + STUD, y + STUD, FLOOR + 9.6))
        in_way = [*boxes, *(bounds_of((one.solid,)) for one in vehicle.body[3:])]
        in_way += [bounds_of(one.solids) for one in vehicle.built_in]
        if not any(_near(box, other, 2.0) for other in in_way):
            bricks.append((f"spare brick {number + 1}", box, float(rng.randint(1, 2))))
    if cavity.low[1] >= STUD and rng.random() < 0.5:
        x, row = STUD * rng.randint(2, vehicle.studs_long - 4), vehicle.base + 9.6
        y = rng.choice((0.0, vehicle.width - STUD))
        box = Box((x, y, row), (x + 2 * STUD, y + STUD, round(row + 9.6, 1)))
        if not any(_near(box, opening.box, 0.0) for opening in vehicle.openings):
            bricks.append(("brick of the side wall", box, float(rng.randint(1, 3))))
    return replace(
        vehicle,
        body=(*vehicle.body, *(BodySolid(box, "removable", name) for name, box, _ in bricks)),
        removables=(*vehicle.removables, *(Removable(name, cost) for name, _, cost in bricks)),
    )


def _lids(rng: random.Random, vehicle: Vehicle, boxes: Sequence[Box]) -> Vehicle:
    """Return a vehicle with a large lid and a small one in place of one over all of it."""
    roof = next(one for one in vehicle.openings if one.name == "roof")
    if rng.random() < 0.4 or not boxes:
        return vehicle
    low, high = roof.box.low, roof.box.high
    last = max(box.high[0] for box in boxes)
    cut = min(STUD * -(-(last + 2.0) // STUD), high[0])
    if rng.random() < 0.4:  # whatever lies behind it goes in under the large lid, and then aside
        cut = STUD * (last // STUD)
    large = replace(roof, name="large lid", box=Box(low, (cut, high[1], high[2])))
    lids: list[Opening] = [large]
    long = STUD * rng.randint(1, 3)
    if cut + STUD + long <= high[0]:
        x = cut + STUD * rng.randint(1, int((high[0] - cut - long) // STUD))
        wide = STUD * rng.randint(1, 2)
        y = round(rng.uniform(low[1], high[1] - wide), 1)
        small = Box((x, y, low[2]), (x + long, y + wide, high[2]))
        lids.append(replace(roof, name="small lid", box=small, often=rng.random() < 0.5))
    rng.shuffle(lids)
    return replace(vehicle, openings=(*lids, *(one for one in vehicle.openings if one is not roof)))


def _near(one: Box, other: Box, by: float) -> bool:
    return all(one.low[k] < other.high[k] + by and other.low[k] < one.high[k] + by for k in range(3))
