"""What was found elsewhere or before serves as if it had been found here: wirings, lengths through maps."""

from __future__ import annotations

import pickle
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitplan.budget import Budget
from fitplan.routing.harness.facts import wiring_facts
from fitplan.routing.harness.finished import finish_vehicle
from fitplan.routing.harness.harness import try_vehicle, wire_train
from fitplan.routing.negotiation import tightened
from fitplan.routing.negotiation.vehicle_wiring import VehicleRouting
from fitplan.routing.negotiation.wired_before import WiredBefore
from fitplan.routing.trees import net_ways
from fitplan.routing.trees.tree_map import FAR, CostMap, TreeMap
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


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 10_000))
def test_lengths_that_were_kept_are_those_that_would_be_found(seed: int) -> None:
    """A map made again has the lengths of the first one, near and far, without a voxel looked at."""
    rng = np.random.default_rng(seed)
    free = rng.random((30, 9, 8)) < 0.8
    cost = rng.choice([1.0, 1.25, 2.5], size=free.shape)
    cells = np.argwhere(free)[[0, len(np.argwhere(free)) // 2, -1]]
    ends = [((int(x), int(y), int(z)),) for x, y, z in cells]
    ground = CostMap.of(free, cost, np.full(free.shape, 20.0))
    first = TreeMap(free, ground)
    labels = [first.flood(end, [ends[0]]) for end in ends]
    far = first.flood(ends[1], (), FAR)
    again = TreeMap(free, ground, kept=first.kept_floods())
    for end, before in zip(ends, (labels[0], far, labels[2]), strict=True):
        here = again.kernel.view(again.flood(end, [ends[0]]), again.size, np.uint32)
        assert np.array_equal(here, first.kernel.view(before, first.size, np.uint32))
    assert again.kernel.call("work_done") == 0
    assert again.kept_floods().keys() == first.kept_floods().keys()
    # What was not kept is found as before.
    assert again.flood(((3, 3, 3),), ends)
    assert again.kernel.call("work_done") >= int(free[3, 3, 3])
