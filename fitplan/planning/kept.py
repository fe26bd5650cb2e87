"""What is built already, kept unless it must go: the train that is planned, and the train that is told.

In: a train with what is built of it (`Train.as_built`). All parts are held in their places, and what is new
keeps off the wires; controller pins serve what they serve (`fitplan.pins.matching`). Where that cannot be,
some of it is released (`fitplan.planning.kept_plan`).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, pairwise

import numpy as np
from numpy.typing import NDArray

from fitplan.lattice.cover import cover
from fitplan.model.as_built import NOTHING_BUILT, AsBuilt, BuiltPart, same_point
from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import Conductor
from fitplan.model.needed import FixedPlace, Need
from fitplan.model.part import Part
from fitplan.model.proposed import Option
from fitplan.model.solids import Box, Place, bounds_of, plane_of, pose_named
from fitplan.model.train import Train

CELL_MM = 0.8
"""Room of wires that are built is kept from new parts in cells of this size."""
_THICK_MM = 1.6
MOST_SETS = 60
"""So many sets of parts that might make room are tried in a vehicle."""
Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Released:
    """What is not held to how it is built: parts by need, and vehicles whose wires may be laid anew."""

    parts: frozenset[str] = frozenset()
    vehicles: frozenset[str] = frozenset()
    everything: bool = False


NOTHING_RELEASED = Released()


def held_train(train: Train, released: Released = NOTHING_RELEASED) -> Train:
    """Return the train with all that is built fixed in it, but for what is released."""
    before = train.as_built
    if before == NOTHING_BUILT:
        return train
    if released.everything:
        return replace(train, as_built=AsBuilt(pins=before.pins))
    stay = {one.need: one for one in before.parts if one.need not in released.parts and may_stay(train, one)}
    needs = tuple(_held(need, stay[need.name]) if need.name in stay else need for need in train.needs)
    kept = replace(
        before,
        parts=tuple(stay.values()),
        released=tuple(
            wire.number for wire in before.wires if released.vehicles & {leg.vehicle for leg in wire.legs}
        ),
    )
    return replace(train, needs=needs, as_built=kept)


def told(built: BuiltTrain, train: Train) -> BuiltTrain:
    """Return a built train with the needs that its file has, and all that was built before."""
    whole = replace(built.train, needs=train.needs, as_built=train.as_built)
    return replace(built, train=whole)


def options_told(options: Sequence[Option], train: Train) -> tuple[Option, ...]:
    """Return options with how far their parts stand down the lists of the file, also those that are held."""
    found = []
    for option in options:
        places = sum(train.need(need).places_down(part_id) for need, part_id, _ in option.parts)
        more = train.weights.later_in_list * (places - option.later_in_list)
        found.append(replace(option, later_in_list=places, score=option.score + more))
    return tuple(found)


def may_stay(train: Train, one: BuiltPart) -> bool:
    """Return whether a part that is built may stay where it is, as far as the train file goes."""
    need = next((need for need in train.needs if need.name == one.need), None)
    if need is None or one.vehicle not in {entry.name for entry in train.vehicles}:
        return False
    part = next((part for part in need.candidates if part.id == one.part), None)
    if part is None or (need.vehicles and one.vehicle not in need.vehicles):
        return False
    return need.pinned is None or _as_pinned(part, need.pinned, one)


def _as_pinned(part: Part, fixed: FixedPlace, one: BuiltPart) -> bool:
    pose = pose_named(one.pose)
    if fixed.vehicle != one.vehicle or not fixed.allows(part, pose):
        return False
    if fixed.offset is not None and not same_point(fixed.offset, one.offset, 0.06):
        return False
    place = Place(pose, one.offset)
    bounds = bounds_of(tuple(place.move_solid(solid) for solid in part.envelope))
    return all(abs(plane_of(bounds, side) - plane) <= 0.06 for side, plane in fixed.planes)


def _held(need: Need, one: BuiltPart) -> Need:
    part = next(part for part in need.candidates if part.id == one.part)
    return replace(
        need,
        candidates=(part,),
        vehicles=(one.vehicle,),
        pinned=FixedPlace(one.vehicle, pose=one.pose, offset=one.offset, on=one.on),
    )


def sets_to_release(train: Train, vehicle: str) -> Iterator[tuple[str, ...]]:
    """Yield the sets of built parts in a vehicle that might make room, the smallest first."""
    there = [one.need for one in train.as_built.parts if one.vehicle == vehicle and may_stay(train, one)]
    number = 0
    for size in range(1, len(there) + 1):
        for chosen in combinations(there, size):
            number += 1
            if number > MOST_SETS:
                return
            yield chosen


def room_of_what_stays(held: Train) -> dict[str, tuple[Box, ...]]:
    """Return boxes (mm) that hold the wires which stay, and what carries parts that stay, by vehicle.

    None where no part has a place to find. Beside a part that stays nothing is kept for wires: its own end
    there.
    """
    open_ = [need for need in held.needs if held.as_built.part(need.name) is None]
    singles = (part.figure(Conductor) for part in held.catalogue.values())
    outer = {one.awg: one.outer_mm for one in singles if one is not None and one.conductors == 1}
    found = {}
    for entry in held.vehicles:
        if not any(not need.vehicles or entry.name in need.vehicles for need in open_):
            continue
        ways = [
            (np.array(leg.points, dtype=np.float64), outer.get(wire.awg, _THICK_MM) / 2)
            for wire in held.as_built.wires
            for leg in wire.legs
            if wire.number not in held.as_built.released and leg.vehicle == entry.name
        ]
        solids = [
            Place(pose_named(one.pose), one.offset).move_solid(solid)
            for need in held.needs
            if (one := held.as_built.part(need.name)) is not None and one.vehicle == entry.name
            for part in need.candidates[:1]
            for solid in (*part.envelope, *(clearance.solid for clearance in part.clearances))
        ]
        parts = [bounds_of((solid,)) for solid in solids]
        added = [
            box
            for one in held.as_built.parts
            if one.vehicle == entry.name and one.on is not None
            for box in one.on.boxes
        ]
        if boxes := (*_cells(ways, parts), *added):
            found[entry.name] = boxes
    return found


def _cells(ways: list[tuple[Floats, float]], parts: list[Box]) -> tuple[Box, ...]:
    """Return boxes over all cells that wires fill, but those that parts reach into or keep clear."""
    corners = np.array([[x, y, z] for x in (-1, 0, 1) for y in (-1, 0, 1) for z in (-1, 0, 1)])
    points = [
        (_spaced(way)[:, None] + corners * radius).reshape(-1, 3) for way, radius in ways if len(way) > 1
    ]
    if not points:
        return ()
    every = np.concatenate(points)
    low = np.floor(every.min(axis=0) / CELL_MM).astype(np.int64)
    cells = np.unique(np.floor(every / CELL_MM).astype(np.int64) - low, axis=0)
    for box in parts:
        near = (
            ((cells + low) * CELL_MM < np.array(box.high)) & ((cells + low + 1) * CELL_MM > np.array(box.low))
        ).all(axis=1)
        cells = cells[~near]
    if not len(cells):
        return ()
    mask = np.zeros(cells.max(axis=0) + 1, dtype=bool)
    mask[tuple(cells.T)] = True
    found = cover(mask) or []
    return tuple(
        Box(
            tuple(float(v) for v in (np.array(box[:3]) + low) * CELL_MM),  # type: ignore[arg-type]
            tuple(float(v) for v in (np.array(box[3:]) + low) * CELL_MM),  # type: ignore[arg-type]
        )
        for box in found
    )


def _spaced(way: Floats) -> Floats:
    pieces = [way[:1]]
    for a, b in pairwise(way):
        count = max(int(np.ceil(np.linalg.norm(b - a) / (CELL_MM / 2))), 1)
        pieces.append(a + (b - a) * (np.arange(1, count + 1) / count)[:, None])
    return np.concatenate(pieces)
