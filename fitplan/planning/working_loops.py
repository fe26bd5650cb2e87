"""Wires cut long enough to be joined outside, where their part can only be joined beside its vehicle.

An order of work is looked for first; only what no order helps is lengthened, and by no more than lies beside
a part (`MOST_LOOP_MM`).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from fitplan.model.built import BuiltTrain
from fitplan.model.ways_in import AssemblyStep
from fitplan.packing.access.disassembly import Disassembly, Filling
from fitplan.planning.lifting_loops import MOST_LOOP_MM
from fitplan.routing.harness.wires import lengthened
from fitplan.workbench.as_built import staying
from fitplan.workbench.order_of_work import OrderOfWork

_ROUNDS = 3


def with_working_loops(
    built: BuiltTrain,
    assembly: Sequence[AssemblyStep],
    filled: Filling = Disassembly,
    late: Callable[[], bool] = lambda: False,
) -> tuple[BuiltTrain, OrderOfWork]:
    """Return the train with a longer service loop on wires that hang too short, and its order of work.

    Parameters
    ----------
    late
        Tells whether no better order than that of assembly is to be looked for any more.
    """
    order = OrderOfWork(built, assembly, filled, late)
    step = built.train.wiring.allowances.rounding
    kept = staying(built)  # what is joined already need not be joined again
    for _ in range(_ROUNDS):
        lacking = {
            number: lack
            for number, lack in order.short
            if lack <= MOST_LOOP_MM
            and number not in kept
            and all(wire.lead is None for wire in built.harness.wires if wire.number == number)
        }
        if not lacking:
            break
        wires = tuple(
            lengthened(wire, "service loop", lacking[wire.number], step, than_cut=True)
            if wire.number in lacking
            else wire
            for wire in built.harness.wires
        )
        built = replace(built, harness=replace(built.harness, wires=wires))
        order = order.with_wires_of(built)
    return built, order
