"""What was wired already is taken up only where nothing has changed: one change at a time."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, field, replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from fitplan.model.nets import Net
from fitplan.model.solids import Box
from fitplan.routing.map.ends import NetEnd, ResolvedNet
from fitplan.routing.map.topology import Portal, Reach, Segment
from fitplan.routing.negotiation import wired_before
from fitplan.routing.negotiation.detours import (
    ROOM_TO_BEND,
    STRAIGHT,
    TOLD_MM,
    detour_of,
    is_straight,
    liking,
)
from fitplan.routing.negotiation.layout import LaidSegment, Pulled
from fitplan.routing.negotiation.net_joining import NetTask
from fitplan.routing.negotiation.wired_before import MOST_KEPT, WiredBefore

HERE, THERE = (
    NetEnd("n", owner, "p", vehicle, (0.0, 0.0, 0.0), "+x") for owner, vehicle in (("one", "a"), ("two", "b"))
)
PORTAL, OTHER = Portal("n", 0, 1), Portal("n", 1, 1)
NET = Net("n", "signal", ())


@dataclass(frozen=True)
class Passed:
    """Names of the ports at a coupling."""

    ahead: str = "a"
    one: str = "rear"
    two: str = "front"

    @property
    def port_ahead(self) -> Any:
        return SimpleNamespace(name=self.one)

    @property
    def port_behind(self) -> Any:
        return SimpleNamespace(name=self.two)


@dataclass
class Work:
    """A vehicle at work, as far as it is remembered."""

    tasks: tuple[NetTask, ...]
    diameters: dict[str, float]
    kept: tuple[Any, ...] = ()
    vehicle: str = "a"
    layout: Any = field(default_factory=lambda: SimpleNamespace(maps={}))
    map: Any = None
    cut_short: bool = False
    trying: bool = False


def task(net: Net = NET, ends: tuple[NetEnd, ...] = (HERE, THERE), **more: Any) -> NetTask:
    lanes = [[Reach(HERE, ((1, 2, 3),)), Reach(PORTAL, ((9, 2, 3),))]]
    return NetTask(ResolvedNet(net, ends), **{"lanes": lanes, **more})


def work(*tasks: NetTask, diameter: float = 1.2, kept: tuple[Any, ...] = ()) -> Any:
    return Work(tasks or (task(),), {"n": diameter}, kept)


@pytest.fixture
def before(monkeypatch: pytest.MonkeyPatch) -> WiredBefore:
    """A memory whose maps are counted and not made."""
    made = iter(range(1000))
    fake = SimpleNamespace(of=lambda name, *rest: SimpleNamespace(name=name, number=next(made)))
    monkeypatch.setattr(wired_before, "VehicleMap", fake)
    monkeypatch.setattr(
        wired_before, "mirrored_map", lambda map_: SimpleNamespace(name=map_.name, number=-1 - map_.number)
    )
    # No vehicle is another's equal here.
    monkeypatch.setattr(wired_before, "Names", SimpleNamespace(of=lambda *rest: None))
    monkeypatch.setattr(wired_before, "question_of", lambda *rest: object())
    return WiredBefore()


@dataclass(frozen=True)
class Body:
    """A vehicle, as far as it is remembered."""

    name: str


def entry(name: str = "a") -> Any:
    return SimpleNamespace(name=name, vehicle=Body(name))


def inside(x: float = 0.0, part: str = "lamp", shelf: str = "") -> Any:
    return (SimpleNamespace(need="eye", part=SimpleNamespace(id=part), place=(x, 0.0), shelf=shelf),)


def test_a_vehicle_is_wired_once_until_something_of_it_changes(before: WiredBefore) -> None:
    """Each change alone is a vehicle that was not wired; what only others know of changes nothing."""
    couplings: Any = {PORTAL: Passed(), OTHER: Passed("b")}
    before.map_of(entry(), inside(), frozenset())
    done = work()
    before.keep(done, couplings, False)
    assert done.layout.maps == {"a": None}
    assert before.wired(work(), couplings, False) is done
    moved = replace(HERE, at=(0.0, 0.0, 1.0))
    kept = (SimpleNamespace(wire=1, segment=Segment("n", "a", HERE, PORTAL), points=((0.0, 0.0, 0.0),)),)
    other = [[Reach(HERE, ((1, 2, 3),)), Reach(PORTAL, ((9, 2, 4),))]]
    changed = [
        work(diameter=1.3),
        work(kept=kept),
        work(task(replace(NET, style="chain"))),
        work(task(ends=(moved, THERE))),
        work(task(ends=(HERE, replace(THERE, pin="q")))),
        work(task(ends=(HERE, replace(THERE, vehicle="c")))),
        work(task(ends=(HERE, replace(THERE, wires=1)))),
        work(task(ends=(HERE, replace(THERE, board=True)))),
        work(task(lanes=other)),
        work(task(groups=((Reach(HERE, ((1, 2, 3),)),), (Reach(PORTAL, ((9, 2, 3),)),)))),
        work(task(), task()),
    ]
    for one in changed:
        assert before.wired(one, couplings, False) is None
    assert before.wired(work(), couplings, True) is None
    for passed in (Passed("b"), Passed(one="hole"), Passed(two="hole")):
        assert before.wired(work(), {**couplings, PORTAL: passed}, False) is None
    # Where an end of another vehicle is, and couplings that are not passed here, are nothing to it.
    far = work(task(ends=(HERE, replace(THERE, at=(5.0, 5.0, 5.0), exit="-z"))))
    assert before.wired(far, couplings, False) is done
    assert before.wired(work(), {PORTAL: Passed()}, False) is done
    assert before.wired(work(), {**couplings, OTHER: Passed("c")}, False) is done
    # Portals of groups count like those of lanes.
    lone = task(lanes=[], groups=((Reach(PORTAL, ((9, 2, 3),)),), (Reach(HERE, ((1, 2, 3),)),)))
    before.keep(work(lone), couplings, False)
    assert before.wired(work(lone), {**couplings, PORTAL: Passed("b")}, False) is None
    before.map_of(entry(), inside(1.0), frozenset())
    assert before.wired(work(), couplings, False) is None
    before.map_of(entry(), inside(), frozenset())
    assert before.wired(work(), couplings, False) is done


def test_maps_are_made_once_for_what_lies_in_a_vehicle(before: WiredBefore) -> None:
    """A part moved, exchanged, on a shelf, a brick out or a strap: another map. The last few are kept."""
    straps = (Box((0.0, 0.0, 0.0), (1.0, 1.0, 1.0)),)
    first: Any = before.map_of(entry(), inside(), frozenset())
    assert before.map_of(entry(), inside(), frozenset()) is first
    other: Any = before.map_of(entry("b"), inside(), frozenset())
    assert other is not first
    states: list[tuple[Any, ...]] = [
        (inside(1.0), frozenset()),
        (inside(part="cell"), frozenset()),
        (inside(shelf="pad"), frozenset()),
        (inside(), frozenset({"lid"})),
        (inside(), frozenset(), straps),
    ]
    for state in states:
        assert before.map_of(entry(), inside(), frozenset()) is first
        new: Any = before.map_of(entry(), *state)
        assert new is not first
        assert before.map_of(entry(), *state) is new
    # The map of the mirror image is that of the map asked for last, and is kept beside it.
    image: Any = before.image_of(new)
    assert image.number == -1 - new.number
    assert before.image_of(new) is image
    assert before.map_of(entry("b"), inside(), frozenset()) is other
    # Two are kept: what was asked for before them is made anew.
    assert MOST_KEPT == 2
    for x in (7.0, 8.0):
        before.map_of(entry(), inside(x), frozenset())
    assert before.map_of(entry(), *states[-1]) is not new


# -- what a detour costs, and why ----------------------------------------------------------------------------


def map_of(cost: np.ndarray) -> Any:
    return SimpleNamespace(cost=cost, frame=SimpleNamespace(pitch=0.8))


def pulled(length: float, end: float = 40.0) -> Pulled:
    return Pulled(((0.0, 0.0, 0.0), (end, 0.0, 0.0)), length, length, ())


@pytest.mark.parametrize("seed", range(8))
def test_a_way_costs_its_steps_at_the_mean_of_what_both_ends_cost(seed: int) -> None:
    """Step by step: along axes, across faces and corners of voxels."""
    rng = np.random.default_rng(seed)
    cost = rng.uniform(1.0, 2.0, (12, 12, 12)).astype(np.float32)
    steps = rng.integers(0, 2, (10, 3))
    voxels = np.concatenate([[(0, 0, 0)], np.cumsum(steps, axis=0)]).astype(np.int32)
    wanted = sum(
        0.8 * float(np.linalg.norm(two - one)) * (float(cost[tuple(one)]) + float(cost[tuple(two)])) / 2
        for one, two in itertools.pairwise(voxels)
    )
    assert liking(voxels, map_of(cost)) == pytest.approx(wanted)


def test_why_a_wire_is_longer_than_it_need_be() -> None:
    """For a bend, for others, or for a floor that it likes better; less than a tenth of a mm is not told."""
    cost = np.ones((12, 12, 12), np.float32)
    cost[:, 1] = 3.0
    straight = np.array([(k, 0, 0) for k in range(11)], np.int32)
    aside = np.array([(k, int(0 < k < 10), 0) for k in range(11)], np.int32)

    def laid(voxels: np.ndarray, shut: int = 0) -> LaidSegment:
        return LaidSegment(Segment("n", "a", HERE, PORTAL), voxels, (), np.zeros((shut, 3), np.int32))

    def why(way: np.ndarray, short: np.ndarray, more: float, shut: int = 0) -> Any:
        told: Any = (SimpleNamespace(voxels=short), pulled(40.0))
        return detour_of(laid(way, shut), pulled(40.0 + more), told, map_of(cost))

    assert why(straight, straight, TOLD_MM * 0.99) is None
    assert why(straight, straight, -1.0) is None
    told = why(straight, aside, 2.0)
    assert (told.why, told.more_mm, told.shortest) == ("along floors and corners", 2.0, pulled(40.0).points)
    assert why(aside, straight, 2.0).why == "beside and round other wires"
    assert why(straight, straight, 2.0).why == "along floors and corners"
    assert why(aside, straight, 2.0, shut=1).why == ROOM_TO_BEND
    assert is_straight(pulled(40.0 * STRAIGHT))
    assert not is_straight(pulled(40.0 * STRAIGHT + 1e-6))
