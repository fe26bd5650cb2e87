"""How a vehicle is wired, found in another process: carried over, it serves as if it had been found here."""

from __future__ import annotations

import pickle
from dataclasses import replace

import pytest

from fitplan.budget import Budget
from fitplan.routing.harness.facts import wiring_facts
from fitplan.routing.harness.finished import finish_vehicle
from fitplan.routing.harness.harness import try_vehicle, wire_train
from fitplan.routing.negotiation import tightened
from fitplan.routing.negotiation.vehicle_wiring import VehicleRouting
from fitplan.routing.negotiation.wired_before import WiredBefore
from fitplan.routing.trees import net_ways
from tests.routing.test_tries import _built
from tests.routing.test_twins import SteadyLoad


@pytest.mark.parametrize("finished", [False, True])
def test_what_is_carried_over_is_not_worked_out_again(
    monkeypatch: pytest.MonkeyPatch, finished: bool
) -> None:
    """Wires and facts are the same; of what was finished no way, tree or shortest way is asked again."""
    built = _built(6)
    loads = {net.name: SteadyLoad() for net in built.train.nets}
    whole = wire_train(built, loads)
    facts = wiring_facts(replace(built, harness=whole.harness), whole.layout)
    there = WiredBefore()
    later = wire_train(built, loads, known=there, later=frozenset({"v"}))
    try_vehicle(built, later, "v", known=there)
    if finished:
        finish_vehicle(built, later, "v", Budget.usual(), there)
    here = WiredBefore()
    here.learn(pickle.loads(pickle.dumps(there.of("v"))))
    assert len(here.tight) == (len(whole.harness.wires) if finished else 0)

    def never(*asked: object, **more: object) -> None:
        raise AssertionError("it is known already")

    monkeypatch.setattr(VehicleRouting, "run", never)
    if finished:
        for owner, name in ((tightened, "_told"), (tightened, "_tight"), (net_ways, "TreeMap")):
            monkeypatch.setattr(owner, name, never)
        monkeypatch.setattr(VehicleRouting, "finish", never)
    after = wire_train(built, loads, known=here)
    assert after.harness == whole.harness
    assert wiring_facts(replace(built, harness=after.harness), after.layout) == facts
    assert not here.of("w").tight
