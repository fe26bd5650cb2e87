"""Bends as they are told leg by leg, nets that reach one pin alone, runs from either of two rooms."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from fitplan.lattice.frame import Frame
from fitplan.model.nets import Net
from fitplan.model.solids import Box
from fitplan.model.wired import Leg
from fitplan.model.wiring_facts import HOOK_UP_DIAMETERS, NOT_BELOW_DIAMETERS
from fitplan.routing.map.ends import NetEnd, ResolvedNet
from fitplan.routing.map.narrow_places import CapacityPlace, Run, narrow_places
from fitplan.routing.map.splice_sites import in_sight
from fitplan.routing.map.topology import Reach
from fitplan.routing.negotiation.net_joining import NetJoining, NetTask
from fitplan.routing.ways.bend_room import _meeting, bends_of
from fitplan.routing.ways.taut import turning_angles


def wire(outer: float, legs: tuple[Leg, ...], start: str = "pin", end: str = "pin") -> Any:
    return SimpleNamespace(
        number=3, outer_mm=outer, legs=legs, start=SimpleNamespace(kind=start), end=SimpleNamespace(kind=end)
    )


@pytest.mark.parametrize("outer", [0.5, 0.9, 2.0])
@pytest.mark.parametrize("off", [0.98, 1.02])
def test_a_corner_within_two_diameters_of_a_pin_is_bent_by_hand(outer: float, off: float) -> None:
    """A right angle so near to the start is told as the end's own; a little farther on, as one on the way."""
    near = HOOK_UP_DIAMETERS * outer * off
    leg = Leg("a", ((0.0, 0.0, 0.0), (near, 0.0, 0.0), (near, 60.0, 0.0), (near + 60.0, 60.0, 0.0)))
    wide = NOT_BELOW_DIAMETERS * outer
    for kind, held in (("pin", True), ("splice", True), ("connector", False)):
        told = bends_of(wire(outer, (leg,), kind), leg)
        by_hand = held and off < 1
        assert told.corners == (1 if by_hand else 2)
        assert (told.tightest_mm < wide) is not by_hand
        assert (told.at_end_mm < wide) is by_hand
    # In a leg between others nothing is bent by hand.
    other = Leg("b", leg.points)
    assert bends_of(wire(outer, (other, leg, other)), leg).corners == 2


@pytest.mark.parametrize("left", [1, 2, 3])
@pytest.mark.parametrize("style", ["tree", "chain"])
def test_of_a_net_that_falls_apart_the_largest_group_is_joined(left: int, style: Any) -> None:
    """One pin alone is joined to nothing, and nothing is asked for it."""
    ends = [NetEnd("n", f"p{k}", "1", "a", (float(k), 0.0, 0.0), "+x") for k in range(4)]
    reaches = [Reach(end, ((k, 0, 0),)) for k, end in enumerate(ends)]
    asked: list[int] = []

    def lay(some: Any) -> Any:
        asked.append(len(some))
        return "no way" if len(some) == 4 else []

    joiner = SimpleNamespace(tree=lay, chain=lay, unproved=(), let_go=lambda: None, undecided=False)
    lost: list[Any] = []
    notes: Any = SimpleNamespace(
        vehicle="a", unproved=[], questions=[], over=lambda stage: False, lose=lambda *told: lost.append(told)
    )
    self: Any = SimpleNamespace(
        notes=notes, wiring=SimpleNamespace(solder=True), _joiner=lambda name, lanes: joiner, laid_by=[],
        _reached=lambda one, name, every: every[:left], _segments=lambda name, found: found,
        _for_other_styles=lambda net, lanes: ([], None, []),
        _laid=lambda *given: NetJoining._laid(self, *given),
    )  # fmt: skip
    task = NetTask(ResolvedNet(Net("n", "signal", (), style=style), tuple(ends)), [reaches])
    assert NetJoining.segments_of(self, task) == []
    assert asked == ([4, left] if left > 1 else [4])
    assert lost == []
    (question,) = notes.questions
    assert question.joined == (tuple(reaches[:left]) if style == "tree" else ())


def test_a_run_that_may_begin_in_either_of_two_rooms_wants_through_all_the_same() -> None:
    """Two runs from two rooms to a third, whose only port carries one: both ends of a split are looked at."""
    free = np.zeros((24, 12, 12), bool)
    free[:10, :5] = free[:10, 7:] = free[14:] = True
    free[10:14] = True
    gate = np.zeros_like(free)
    gate[10:14] = True
    port = CapacityPlace("port", np.argwhere(gate), 1)
    both = ((2, 2, 2), (2, 9, 2))
    for runs in (
        tuple(Run(f"r{k}", both, ((20, 6, 2 + k),), 0.8) for k in range(2)),
        tuple(Run(f"r{k}", ((20, 6, 2 + k),), both, 0.8) for k in range(2)),
    ):
        (proof,) = narrow_places(free, runs, (port,))
        assert (proof.places, proof.capacity, proof.demand) == (("port",), 1, 2)


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("lidded", [False, True])
def test_over_a_load_all_is_seen_that_has_nothing_above_it(seed: int, lidded: bool) -> None:
    """Voxel by voxel up to the top of the load's room; what a lid at the front lets see is seen as well."""
    free = np.random.default_rng(seed).random((7, 6, 8)) > 0.15
    frame = Frame((0.0, 0.0, 0.0), free.shape, 1.0)
    lid = SimpleNamespace(box=Box((6.0, 2.0, 1.0), (7.0, 5.0, 4.0)), out="+x")
    hull = Box((0.0, 0.0, 0.0), (7.0, 6.0, 6.0))
    vehicle = SimpleNamespace(openings=(lid,) if lidded else (), load_top=6.0, hull=hull)
    seen = in_sight(SimpleNamespace(free=free, frame=frame, vehicle=vehicle))  # type: ignore[arg-type]
    for x, y, z in np.ndindex(free.shape):
        above = z < 6 and free[x, y, z:6].all()
        ahead = lidded and 2 <= y < 5 and 1 <= z < 4 and free[x:6, y, z].all()
        assert seen[x, y, z] == (free[x, y, z] and (above or ahead))
    assert seen.any()


@pytest.mark.parametrize("size", [1e-6, 0.01, 0.09, 30.0])
def test_tiny_pieces_turn_as_large_ones_do(size: float) -> None:
    chain = np.array([(0.0, 0, 0), (1, 0, 0), (1, 1, 0), (2, 2, 0)]) * size
    assert turning_angles(chain) == pytest.approx([90.0, 45.0])


@pytest.mark.parametrize("turn", [40.0, 90.0, 130.0])
@pytest.mark.parametrize("gap", [0.5, 3.0])
def test_outer_pieces_meet_as_far_off_as_the_turn_says(turn: float, gap: float) -> None:
    """Equal angles at both corners: two equal sides over the inner piece, their tip where they meet."""
    half = np.radians(turn / 2)
    one, two = np.zeros(3), np.array([gap, 0.0, 0.0])
    slope = np.array([np.cos(half), np.sin(half), 0.0])
    found = _meeting(one - 5 * slope, one, two, two + 5 * slope * [1, -1, 1], 0.1)
    assert found is not None
    assert found == pytest.approx([gap / 2, gap / 2 * np.tan(half), 0.0])
