"""The order of work where a part has no way in: it is wired beside its vehicle, as far as it can be."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fitplan.model.built import BuiltTrain
from fitplan.model.needed import FixedPlace, Need
from fitplan.model.placed import Placement
from fitplan.model.solids import Box, Place, pose_named
from fitplan.model.vehicle import BodySolid, Port
from fitplan.model.ways_in import AssemblyStep
from fitplan.model.wired import Harness
from fitplan.planning.run import plan_train
from fitplan.surface import read_train
from fitplan.verify import verify
from fitplan.workbench.work_search import WorkSearch
from tests.packing.small_trains import block, hollow, train_of


@pytest.mark.parametrize("far", [40.0, 64.0])
def test_what_is_shut_out_is_joined_beside(far: float) -> None:
    """A lid over one of two parts that are joined: the other is never joined inside, where it is not."""
    wagon = hollow("wagon", 16, 6, 9)
    roof = wagon.openings[0]
    small = Box((8.0, 8.0, roof.box.low[2]), (40.0, 40.0, roof.box.high[2]))
    wagon = replace(wagon, openings=(replace(roof, name="small lid", box=small),))
    board, eye = block("board", (24.0, 24.0, 8.0), pins=3), block("eye", (40.0, 20.0, 14.0), pins=3)
    needs = (
        Need("board", (board,), pinned=FixedPlace("wagon", "+x+y+z", (10.0, 10.0, 19.2))),
        Need("eye", (eye,), pinned=FixedPlace("wagon", "+x+y+z", (far, 12.0, 19.2))),
    )
    train = train_of((wagon,), needs, tuple((f"w{n}", (f"board.p{n}", f"eye.p{n}")) for n in range(3)))
    wires = {k: part for k, part in read_train("harbour-line").catalogue.items() if k.startswith("wire-")}
    plan = plan_train(replace(train, catalogue={**wires, "board": board, "eye": eye}))
    assert plan.assembly_blocked
    joined = [step for step in plan.work.steps if step.act == "join" and step.parts == ("eye",)]
    assert {step.spot for step in joined} == {"beside"}
    assert sum(len(step.ends) for step in joined) == 3
    assert verify(plan).problems == ()


@pytest.mark.parametrize(("aside", "ways"), [(0.0, {"roof", "the open front"}), (10.0, {"roof"})])
def test_nothing_goes_in_by_a_gap_that_wants_more_moves_than_a_lid(aside: float, ways: set[str]) -> None:
    """A small part in line with a wide port slides out by it in one move; beside that it is lifted out."""
    wagon = hollow("wagon", 16, 6, 9)
    port = Port("wide", Box((120.0, 16.0, 19.2), (128.0, 32.0, 28.8)), "+x")
    wagon = replace(wagon, body=(*wagon.body, BodySolid(port.box, "free")), ports=(port,))
    lamp = block("lamp", (9.0, 6.0, 6.0))
    place = Placement("lamp", lamp, "wagon", Place(pose_named("+x+y+z"), (40.0, 18.0 + aside, 19.2)), "")
    built = BuiltTrain(train_of((wagon,), (Need("lamp", (lamp,)),)), (place,), Harness(), ())
    step = AssemblyStep(1, "lamp", "wagon", "roof", (("-z", 30.0),))
    search = WorkSearch(built, "wagon", (step,))
    found = list(search._coming_out([("lamp",)], frozenset({"lamp"}), frozenset()))
    assert {opening for _, opening, _, _ in found} == ways
    assert all(len(moves) == 1 for _, _, moves, _ in found)
    assert {opening: lids for _, opening, _, lids in found} == {
        way: frozenset({"roof"} if way != "roof" else ()) for way in ways
    }
