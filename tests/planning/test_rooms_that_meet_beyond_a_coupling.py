"""A wagon that a whole wall parts lengthwise, a port to each room: what is in both meets in the loco alone.

Ports and rooms are wide enough for all wires, and the wall is whole: that a plan exists, and that each net in
both rooms takes two conductors over the coupling, follows from the drawing.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from fitplan.model.needed import FixedPlace, Need
from fitplan.model.solids import Box
from fitplan.model.train import Train, TrainVehicle
from fitplan.model.vehicle import BodySolid, Port
from fitplan.planning.run import plan_train
from fitplan.surface import read_train
from fitplan.units import STUD
from fitplan.verify import verify
from tests.packing.small_trains import block, hollow, train_of

NETS = {
    "one in each": ((("a", ("one.p0", "right.p0", "left.p0")),), 2),
    "several": ((("a", ("one.p0", "right.p0", "right.p1", "left.p0")), ("b", ("one.p1", "left.p1"))), 3),
    "more in the loco": ((("a", ("left.p0", "one.p0", "right.p0", "one.p1", "left.p1")),), 2),
}
"""By kind: nets, and how many conductors they take over the coupling."""


def _train(nets: tuple[tuple[str, tuple[str, ...]], ...], *, turned: bool) -> Train:
    loco, wagon = hollow("loco", 14, 6, 8, kind="loco"), hollow("wagon", 18, 7, 8)
    floor, top = wagon.ports[0].box.low[2], wagon.top - 3.2
    holes = [
        Port(name, Box((wagon.length - STUD, y, floor), (wagon.length, y + 6.4, floor + 6.4)), "+x")
        for name, y in (("right hole", 12.0), ("left hole", 36.0))
    ]
    wall = BodySolid(Box((STUD, 26.4, floor), (wagon.length - STUD, 29.6, top)), "fixed")
    shut = BodySolid(wagon.ports[0].box, "fixed")
    clear = [BodySolid(port.box, "free") for port in holes]
    opened = BodySolid(loco.ports[1].box, "free")
    wagon = replace(wagon, body=(*wagon.body, shut, *clear, wall), ports=tuple(holes))
    loco = replace(loco, body=(*loco.body, opened), ports=loco.ports[1:])
    one, small = block("one", (20.0, 20.0, 12.0)), block("small", (20.0, 10.0, 8.0))
    needs = (
        Need("one", (one,), vehicles=("loco",)),
        Need("right", (small,), pinned=FixedPlace("wagon", "+x+y+z", (60.0, 12.0, floor))),
        Need("left", (small,), pinned=FixedPlace("wagon", "+x+y+z", (40.0, 34.0, floor))),
    )
    train = train_of((loco, wagon), needs, nets)
    if turned:
        train = replace(train, vehicles=tuple(TrainVehicle(v.name, v, turned=True) for v in (wagon, loco)))
    wires = {k: part for k, part in read_train("harbour-line").catalogue.items() if k.startswith("wire-")}
    return replace(train, catalogue={**wires, "one": one, "small": small})


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize("kind", list(NETS))
@pytest.mark.parametrize("style", ["tree", "chain"])
def test_both_rooms_are_reached(kind: str, style: str, *, turned: bool) -> None:
    """Each by its own port."""
    nets, conductors = NETS[kind]
    train = _train(nets, turned=turned)
    train = replace(train, nets=tuple(replace(net, style=style) for net in train.nets))  # type: ignore[arg-type]
    plan = plan_train(train)
    assert plan.complete, [lost.reason for lost in plan.unreached]
    assert not verify(plan).problems
    assert sum(crossing.conductors for crossing in plan.built.harness.crossings) == conductors
