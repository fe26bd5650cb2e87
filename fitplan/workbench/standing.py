"""What of a train stands as it was built: its own parts, wires, splices and what carries and fastens them."""

from __future__ import annotations

from dataclasses import replace

from fitplan.model.as_built import NOTHING_BUILT, Standing
from fitplan.model.built import BuiltTrain
from fitplan.model.train import Train
from fitplan.workbench.as_built import rework_of


def standing_train(built: BuiltTrain) -> BuiltTrain | None:
    """Return a train of nothing but what stands as it was built; None where nothing was.

    It is what a train takes that is bought already, and no plan: ends of wires may lie at parts that it has
    not.
    """
    before = built.train.as_built
    if before == NOTHING_BUILT:
        return None
    stands = Standing.of(before, rework_of(built))
    wires = tuple(wire for wire in built.harness.wires if wire.number in stands.wires)
    ends = {(end.owner, end.pin) for wire in wires for end in (wire.start, wire.end)}
    coupled = {end.owner for wire in wires for end in (wire.start, wire.end) if end.kind == "connector"}
    harness = replace(
        built.harness,
        wires=wires,
        splices=tuple(one for one in built.harness.splices if one.name in stands.splices),
        crossings=tuple(one for one in built.harness.crossings if one.name in coupled),
    )
    return replace(
        built,
        train=_opened_before(built.train),
        placements=tuple(one for one in built.placements if one.need in stands.parts),
        resistors=tuple(
            one for one in built.resistors if one.owner in stands.parts and (one.owner, one.pin) in ends
        ),
        fastenings=tuple(one for one in built.fastenings if one.need in stands.parts),
        harness=harness,
    )


def _opened_before(train: Train) -> Train:
    """Return the train with those bricks with holes alone that were put in before."""
    opened = {(name, hole.name) for name, hole in train.as_built.holes}
    vehicles = tuple(
        replace(
            entry,
            vehicle=replace(
                entry.vehicle,
                holes=tuple(hole for hole in entry.vehicle.holes if (entry.name, hole.name) in opened),
            ),
        )
        for entry in train.vehicles
    )
    return replace(train, vehicles=vehicles)
