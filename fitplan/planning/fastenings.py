"""What keeps parts from sliding off a deck and from tipping: bricks on studs, a strap over it, or tape."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from itertools import islice

import numpy as np

from fitplan.checks.on_additions import PAST_MIDDLE, past_middle
from fitplan.checks.support import is_light, sliding_ways, tape_needed, tips, unsupported
from fitplan.checks.toppling import topples
from fitplan.lattice.cover import TENTHS
from fitplan.model.built import BuiltTrain
from fitplan.model.placed import NOTHING, Fastening, Piece, Placement
from fitplan.model.solids import Box, Direction
from fitplan.packing.access.disassembly import part_rows, rows_at
from fitplan.packing.access.slide import Rows
from fitplan.packing.vehicle.pressed import presses_placed
from fitplan.packing.vehicle.side_bricks import side_bricks, stacks_beside
from fitplan.packing.vehicle.straps import Strap, straps
from fitplan.planning.everyday_ways import rows_of_everyday_ways
from fitplan.planning.filled_room import rows_of_additions, rows_of_boxes, rows_of_wires
from fitplan.routing.negotiation.detours import without_barred_ways

MOST_PROPS = 100
"""So many stacks are looked at on each side of a load that would topple."""


def with_fastenings(built: BuiltTrain) -> BuiltTrain:
    """Return the train with what must be fastened fastened; what is too heavy for tape stays a finding.

    Bricks that room was kept for stay as they are.
    """
    found: list[Fastening] = []
    kept = [entry for entry in built.fastenings if entry.bricks]
    for placement in built.placements:
        mine = [entry for entry in kept if entry.need == placement.need]
        kept = [entry for entry in kept if entry not in mine]
        so_far = replace(built, fastenings=(*found, *kept))
        ways = tuple(sliding_ways(built, placement))
        if mine:
            ways = tuple(way for way in ways if way not in mine[0].ways)
        elif tips(placement) and is_light(placement):
            mine.append(Fastening(placement.need, placement.vehicle, (), tape_mm=tape_needed(placement)))
        elif tips(placement) and placement.carried_by != NOTHING and (over := _strapped(so_far, placement)):
            mine.append(over)
            ways = tuple(way for way in ways if way not in over.ways)
        if not mine and (beside := _propped(so_far, placement)):
            mine.append(beside)
            ways = tuple(way for way in ways if way not in beside.ways)
        if ways:
            mine += _against_sliding(replace(built, fastenings=(*found, *mine, *kept)), placement, ways)
        mine += _against_toppling(replace(built, fastenings=(*found, *mine, *kept)), placement)
        if _at_its_edge(built, placement) and not any("+z" in one.ways for one in mine):
            over = _strapped(replace(built, fastenings=(*found, *mine, *kept)), placement)
            mine += [over] if over is not None else []
        found += _taped_once(mine)
    done = replace(built, fastenings=tuple(found))
    bricks: dict[str, list[Box]] = {}
    for one in done.fastenings:
        bricks.setdefault(one.vehicle, []).extend(brick.box for brick in one.bricks)
    wires = tuple(without_barred_ways(wire, bricks) for wire in built.harness.wires)
    return replace(done, harness=replace(built.harness, wires=wires))


def _at_its_edge(built: BuiltTrain, placement: Placement) -> bool:
    """Return whether a heavy part rests on pads or plates that end just under its middle."""
    return not is_light(placement) and past_middle(built, placement) < PAST_MIDDLE


def _taped_once(fastenings: list[Fastening]) -> Iterator[Fastening]:
    """Yield what holds a part, its tape only once: the same strip holds it every way."""
    tapes = [one for one in fastenings if one.tape_mm]
    ways = dict.fromkeys(way for tape in tapes for way in tape.ways)
    for one in fastenings:
        if not one.tape_mm:
            yield one
        elif one is tapes[0]:
            yield replace(one, ways=tuple(ways))


def _propped(built: BuiltTrain, placement: Placement) -> Fastening | None:
    """Return bricks as high as a heavy load's middle on each side to which it would topple; None: no room."""
    over = () if is_light(placement) else topples(built, placement)
    vehicle, removed = built.train.vehicle(placement.vehicle).vehicle, built.taken_out(placement.vehicle)
    around, bricks = _around(built, placement) if over else rows_of_boxes(()), list[Piece]()

    def aside(stack: tuple[Piece, ...]) -> float:
        """How far from the load's middle: there it holds best, and wires come together at its ends."""
        ends = zip(stack[0].box.center[:2], placement.bounds.center[:2], strict=True)
        return sum(abs(one - other) for one, other in ends)

    for one in over:
        top = math.ceil((placement.bounds.low[2] + one.height) * TENTHS)
        solid = np.concatenate([around, rows_of_boxes(brick.box for brick in bricks)])
        stacks = stacks_beside(vehicle, removed, placement, one.way, solid, least_top=top)
        found = min(islice(stacks, MOST_PROPS), key=aside, default=())
        if not found:
            return None
        bricks += found
    props = Fastening(placement.need, placement.vehicle, tuple(one.way for one in over), tuple(bricks))
    stands = over and not topples(replace(built, fastenings=(*built.fastenings, props)), placement)
    return props if stands else None


def _against_toppling(built: BuiltTrain, placement: Placement) -> Iterator[Fastening]:
    """Yield tape under what stands on a small foot, or a strap where tape is not enough, if there is room."""
    if not topples(built, placement):
        return
    tape = Fastening(placement.need, placement.vehicle, (), tape_mm=tape_needed(placement))
    taped = any(one.need == placement.need and one.tape_mm for one in built.fastenings)
    if not taped:
        yield tape
        built = replace(built, fastenings=(*built.fastenings, tape))
    if not is_light(placement) and topples(built, placement) and (over := _strapped(built, placement)):
        yield over


def standing_badly(built: BuiltTrain) -> tuple[Placement, ...]:
    """Return what would tip where it lies, or topple in running, and can neither be taped nor strapped.

    So does what rests on pads or plates that end just under its middle.
    """
    heavy = [placement for placement in built.placements if not is_light(placement)]
    edges = [placement for placement in heavy if _at_its_edge(built, placement)]
    if not edges and not unsupported(built) and not any(topples(built, placement) for placement in heavy):
        return ()
    fastened = with_fastenings(built)
    tipping = unsupported(fastened)
    strapped = {entry.need for entry in fastened.fastenings if "+z" in entry.ways}
    return tuple(
        placement
        for placement in heavy
        if placement in tipping
        or (placement in edges and placement.need not in strapped)
        or any(one.at_g < one.running_g for one in topples(fastened, placement))
    )


def _against_sliding(
    built: BuiltTrain, placement: Placement, ways: tuple[Direction, ...]
) -> Iterator[Fastening]:
    vehicle = built.train.vehicle(placement.vehicle).vehicle
    removed = built.taken_out(placement.vehicle)
    around = _around(built, placement)
    bricks: list[Piece] = []
    held: list[Direction] = []
    for way in ways:
        mine = rows_of_boxes(brick.box for brick in bricks)
        stack = side_bricks(vehicle, removed, placement, way, np.concatenate([around, mine]))
        if stack:
            bricks += stack
            held.append(way)
    if bricks:
        yield Fastening(placement.need, placement.vehicle, tuple(held), tuple(bricks))
    left = tuple(way for way in ways if way not in held)
    if left and not is_light(placement):
        done = (Fastening(placement.need, placement.vehicle, tuple(held), tuple(bricks)),) if bricks else ()
        over = _strapped(replace(built, fastenings=(*built.fastenings, *done)), placement, left)
        if over is not None:
            yield over
            left = tuple(way for way in left if way not in over.ways)
    if left:
        yield Fastening(placement.need, placement.vehicle, left, tape_mm=tape_needed(placement))


def _strapped(
    built: BuiltTrain, placement: Placement, wanted: tuple[Direction, ...] = ()
) -> Fastening | None:
    """Return the cheapest strap over a part; None where there is no room for one that holds a wanted way."""
    return next(strapped_in_turn(built, placement, wanted), None)


def strapped_in_turn(
    built: BuiltTrain, placement: Placement, wanted: tuple[Direction, ...] = ()
) -> Iterator[Fastening]:
    """Yield straps of plates over a part that have room and hold a wanted way, the cheapest first.

    Over a part that rests on one side only, those that press it down onto what carries it.
    """
    vehicle = built.train.vehicle(placement.vehicle).vehicle
    removed, around = built.taken_out(placement.vehicle), _around(built, placement)
    inside = [one for one in built.placements if one.vehicle == placement.vehicle]
    others = np.concatenate(
        [np.zeros((0, 6), dtype=np.int64)] + [part_rows(p) for p in inside if p != placement]
    )

    def presses(over: Strap) -> bool:
        return presses_placed(vehicle, removed, placement, others, over)

    pressing = presses if tips(placement) else None
    for bricks, ways in straps(vehicle, removed, placement, around, wanted, pressing):
        yield Fastening(placement.need, placement.vehicle, ways, bricks)


def _around(built: BuiltTrain, placement: Placement) -> Rows:
    """Return what a brick may not run into: other parts and their rooms, wires, and ways in everyday use."""
    vehicle = placement.vehicle
    inside = {one.need: one for one in built.placements if one.vehicle == vehicle}
    found = [rows_of_wires(built, vehicle), rows_of_additions(built, vehicle)]
    for one in inside.values():
        found.append(rows_at(one.place, [entry.solid for entry in one.part.clearances]))
        if one.need != placement.need:
            found.append(part_rows(one))
    # Bricks are pressed on last, and stay on when something else is exchanged.
    found.append(rows_of_everyday_ways(built, vehicle))
    return np.concatenate(found)
