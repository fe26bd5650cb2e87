"""A choice whose wires do not run makes way for another."""

from __future__ import annotations

import pickle
from collections.abc import Callable
from dataclasses import replace
from typing import TypeVar

import pytest

from fitplan.model.found import Finding
from fitplan.model.needed import FixedPlace, Need
from fitplan.model.part import Part
from fitplan.model.solids import Box
from fitplan.model.train import Train
from fitplan.model.vehicle import BodySolid
from fitplan.pins.train_circuit import TrainCircuit
from fitplan.planning.run import plan_train
from fitplan.planning.what_else import ask_what_else
from fitplan.processes import Question, SecondProcess
from fitplan.surface import read_train
from fitplan.verify import verify
from tests.packing.small_trains import block, hollow, train_of

R = TypeVar("R")


class _Sent(SecondProcess):
    """Does in this process what it is asked, and keeps how many bytes would have been sent."""

    def __init__(self) -> None:
        self.sent: list[int] = []

    def put(self, work: Callable[..., R], *args: object, **kwargs: object) -> Question[R]:
        if work is ask_what_else:
            self.sent.append(len(pickle.dumps((work, args, kwargs))))
        return Question(lambda: work(*args, **kwargs))


def test_parts_behind_a_wall_without_a_hole_move_to_another_vehicle() -> None:
    """A wagon of two chambers with no hole between them: what is wired to the front goes elsewhere.

    By bodies alone the wagon takes both blocks, and no conductor crosses a coupling. The smaller one is fixed
    in the front chamber, where there is no room for the larger one beside it.
    """
    wall = BodySolid(Box((48.0, 8.0, 19.2), (56.0, 40.0, 51.2)), "fixed")
    wagon = hollow("wagon", 14, 6, 10)
    wagon = replace(wagon, body=(*wagon.body, wall))
    loco = hollow("loco", 12, 6, 10, kind="loco")
    small, large = block("small", (20.0, 26.0, 20.0)), block("large", (40.0, 26.0, 20.0))
    fixed = Need("small", (small,), pinned=FixedPlace("wagon", "+x+y+z", (62.0, 11.0, 19.2)))
    moved = Need("large", (large,))
    other = Need("lamp", (lamp := block("lamp", (10.0, 10.0, 5.0)),), vehicles=("loco",))
    train = train_of((loco, wagon), (fixed, moved, other), (("wire", ("small.p0", "large.p0")),))
    train = replace(train, catalogue={**_wires(), **{part.id: part for part in (small, large, lamp)}})
    beside = _Sent()
    plan = plan_train(train, beside=beside)
    assert not plan.built.harness.unreached
    place = plan.built.placement("large")
    assert place is not None
    assert place.vehicle == "loco"
    assert not plan.unplaced
    assert not plan.proved
    assert verify(plan).holds
    # What was wired for the first choice is not sent with the second: it has no end, and much of it no copy.
    first, second = beside.sent
    assert second < 1.2 * first


def test_what_would_tip_in_one_vehicle_moves_to_another() -> None:
    """A heavy slab has room on a ledge over a lamp only, off its middle; in the loco it lies on the floor."""
    ledge = BodySolid(Box((8.0, 8.0, 19.2), (16.0, 40.0, 44.8)), "fixed")
    wagon = hollow("wagon", 12, 6, 10)
    wagon = replace(wagon, body=(*wagon.body, ledge))
    loco = hollow("loco", 14, 6, 10, kind="loco")
    heavy, lamp = block("heavy", (76.0, 26.0, 4.0), mass_g=60.0), block("lamp", (10.0, 10.0, 5.0))
    needs = (Need("heavy", (heavy,), vehicles=("wagon", "loco")), Need("lamp", (lamp,), vehicles=("wagon",)))
    train = train_of((loco, wagon), needs, (("wire", ("heavy.p0", "lamp.p0")),))
    train = replace(train, catalogue={**_wires(), **{part.id: part for part in (heavy, lamp)}})
    plan = plan_train(train)
    place = plan.built.placement("heavy")
    assert place is not None
    assert (place.vehicle, place.steady, plan.proved) == ("loco", True, False)
    assert not any(one.subject == "support" for one in plan.findings)
    assert verify(plan).holds


@pytest.mark.parametrize(("stops", "taken"), [(0, "light"), (1, "light"), (2, "heavy")])
def test_what_would_tip_is_kept_where_all_else_is_stopped_more_often(
    stops: int, taken: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A slab that tips on a ledge is one stop; a smaller block stands, but may be stopped by its figures."""
    ledge = BodySolid(Box((8.0, 8.0, 19.2), (16.0, 40.0, 44.8)), "fixed")
    wagon = hollow("wagon", 12, 6, 10)
    wagon = replace(wagon, body=(*wagon.body, ledge))
    heavy, light = block("heavy", (76.0, 26.0, 4.0), mass_g=60.0), block("light", (20.0, 10.0, 4.0))
    lamp = block("lamp", (10.0, 10.0, 5.0))
    needs = (Need("pack", (heavy, light)), Need("lamp", (lamp,)))
    train = train_of((wagon,), needs, (("wire", ("pack.p0", "lamp.p0")),))
    train = replace(train, catalogue={**_wires(), **{part.id: part for part in (heavy, light, lamp)}})
    stop = Finding("supply", "stop", "pack", "gives too little", 1.0, 2.0, "mA", "", "")

    def stopped(_: Train, circuit: TrainCircuit) -> tuple[Finding, ...]:
        return (stop,) * stops if circuit.chosen.get("pack", heavy).id == "light" else ()

    monkeypatch.setattr("fitplan.planning.suitability.stops_of_parts", stopped)
    place = plan_train(train).built.placement("pack")
    assert place is not None
    assert place.part.id == taken


def test_what_has_no_way_into_one_vehicle_moves_to_another_before_anything_is_opened() -> None:
    """The wagon's lid is smaller than the slab, wherever it lies, and the loco's front wall is whole.

    In the wagon the slab would lie before the hole for wires. A hole in the loco is the least for any choice:
    it is not spent on that one.
    """
    loco, wagon = hollow("loco", 14, 6, 10, kind="loco"), hollow("wagon", 12, 6, 10)
    loco = replace(loco, ports=loco.ports[1:])
    (roof,) = wagon.openings
    lid = Box((8.0, 8.0, roof.box.low[2]), (32.0, 32.0, roof.box.high[2]))
    wagon = replace(wagon, openings=(replace(roof, box=lid),))
    small, slab = block("small", (10.0, 10.0, 8.0)), block("slab", (66.0, 31.0, 12.0))
    lamp = block("lamp", (10.0, 10.0, 5.0))
    needs = (
        Need("lamp", (lamp,), vehicles=("loco",)),
        Need("small", (small,), vehicles=("wagon",)),
        Need("slab", (slab,), vehicles=("wagon", "loco")),
    )
    train = train_of((wagon, loco), needs, (("a", ("lamp.p0", "small.p0")), ("b", ("small.p1", "slab.p0"))))
    catalogue = {**_wires(), **{part.id: part for part in (small, slab, lamp)}}
    plan = plan_train(replace(train, catalogue=catalogue, may_open=True))
    place = plan.built.placement("slab")
    assert place is not None
    assert plan.built.opening is not None
    assert (place.vehicle, plan.built.opening.cost, plan.built.opening.failed) == ("loco", 1.0, 0)
    assert plan.complete
    assert not plan.assembly_blocked
    assert verify(plan).holds


def _wires() -> dict[str, Part]:
    return {id_: part for id_, part in read_train("harbour-line").catalogue.items() if part.family == "wire"}
