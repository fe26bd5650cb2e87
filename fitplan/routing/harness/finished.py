"""What a try of one vehicle leaves out, worked out for what is kept before the whole train is wired."""

from __future__ import annotations

from fitplan.budget import Budget
from fitplan.model.built import BuiltTrain
from fitplan.routing.harness.harness import WiredTrain, lay_out_vehicle
from fitplan.routing.negotiation.tightened import tightened
from fitplan.routing.negotiation.wired_before import WiredBefore


def finish_vehicle(
    built: BuiltTrain, wired: WiredTrain, vehicle: str, budget: Budget, known: WiredBefore
) -> None:
    """Work out what a try leaves out, as far as it hangs on one vehicle alone; ``known`` keeps it.

    Bounds of unproved trees, comparisons with shortest ways and other styles of wiring: when the train is
    wired with that vehicle as it lies, they need not be asked for again. For the parameters see
    `try_vehicle`.
    """
    layout = lay_out_vehicle(built, wired, vehicle, budget, known, trying=False)
    tightened(layout, wired.diameters, budget, known)
    for question in layout.questions:
        if not budget.over("styles of wiring"):
            question.ask()
