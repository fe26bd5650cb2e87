"""Wires cut long enough for what comes out: the way out is replayed with every wire on, what lacks is added.

A loop longer than `MOST_LOOP_MM` finds no room beside its part (common practice, no source): such a wire
stays as it is, and the finding says to plug or unsolder it.
"""

from __future__ import annotations

from dataclasses import replace

from fitplan.checks.lift_out import short_wires
from fitplan.model.built import BuiltTrain
from fitplan.routing.harness.wires import lengthened

MOST_LOOP_MM = 60.0


def with_lifting_loops(built: BuiltTrain) -> BuiltTrain:
    """Return the train with a longer service loop on each wire that would hold a part back on its way out."""
    lacking: dict[int, float] = {}
    for entry in built.exchanged:
        for one in short_wires(built, entry):
            lacking[one.wire.number] = max(lacking.get(one.wire.number, 0.0), one.missing)
    if not lacking:
        return built
    step = built.train.wiring.allowances.rounding
    wires = tuple(
        lengthened(wire, "service loop", lacking[wire.number], step, than_cut=True)
        if 0.0 < lacking.get(wire.number, 0.0) <= MOST_LOOP_MM
        else wire
        for wire in built.harness.wires
    )
    return replace(built, harness=replace(built.harness, wires=wires))
