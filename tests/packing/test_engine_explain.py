"""Explanations: the smallest set that cannot be placed, and by how much a single item misses."""

import itertools

import pytest
from hypothesis import HealthCheck, given, settings

from fitplan.budget import Budget
from fitplan.packing.engine.infeasible_subset import infeasible_subset, shortfalls
from fitplan.packing.engine.problem import Item, PackingProblem, Shape, Space, Variant, anywhere, blocks
from fitplan.packing.engine.solve import solve
from tests.packing.engine_cases import can_pack
from tests.packing.test_engine_properties import problems

HULL = (0, 0, 0, 40, 20, 10)


def explained(problem):
    """Solve and explain."""
    return infeasible_subset(problem, solve(problem))


def test_three_that_fit_two_at_a_time_are_named_together():
    """Three blocks of which any two fit are the smallest set; the small one beside them is not in it."""
    problem = blocks([(20, 20, 9), (20, 20, 9), (20, 20, 9), (1, 1, 1)], Space(HULL))
    found = explained(problem)
    assert found.items == ("block 1", "block 2", "block 3")
    assert found.smallest
    assert "without any one of them the others fit" in found.text


def test_a_long_item_is_told_how_much_it_misses():
    """A bar of 43 in a hull of 40 misses 3 units along x, against the hull."""
    shape = Shape(((0, 0, 0, 43, 5, 5),))
    item = Item("bar", (Variant("lying", shape, anywhere(shape, HULL)),))
    found = explained(PackingProblem((Space(HULL),), (item,)))
    assert found.items == ("bar",)
    assert (found.misses[0].missing, found.misses[0].axis, found.misses[0].against) == (3, "x", ())


def test_the_obstacle_that_is_in_the_way_is_named():
    """A block 10 tall under a beam 8 above the floor misses 2 units along z, against the beam."""
    beam = (0, 0, 8, 40, 20, 10)
    shape = Shape(((0, 0, 0, 30, 15, 10),))
    item = Item("block", (Variant("upright", shape, anywhere(shape, HULL)),))
    found = explained(PackingProblem((Space(HULL, (beam,)),), (item,)))
    assert (found.misses[0].missing, found.misses[0].axis) == (2, "z")
    assert found.misses[0].against == (beam,)
    assert "2 units are missing along z" in found.text


def test_a_mount_is_not_stretched():
    """An item that must sit at one point misses by what is in the way there, whatever a move would save."""
    shape = Shape(((0, 0, 0, 10, 10, 5),))
    item = Item("sensor", (Variant("flush", shape, ((0, 0, 0, 0, 0, 0),)),))
    problem = PackingProblem((Space(HULL, ((7, 0, 0, 9, 20, 10),)),), (item,))
    assert [(miss.missing, miss.axis, miss.low_end) for miss in shortfalls(problem, item)] == [
        (3, "x", False)
    ]


@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
@given(problems())
def test_a_smallest_set_is_smallest(problem):
    """By brute force: the set cannot be placed, and each set with one item less can."""
    found = explained(problem)
    if not found.items:
        return
    assert found.smallest
    assert not can_pack(problem.only(found.items))
    for fewer in itertools.combinations(found.items, len(found.items) - 1):
        assert can_pack(problem.only(fewer))


@pytest.mark.parametrize("steps", [0, 10_000])
def test_what_fits_or_is_open_is_said_so(steps):
    """There is no set to name where everything fits or nothing was decided."""
    problem = blocks([(7, 5, 3)] * 20, Space((0, 0, 0, 15, 14, 13)))
    answer = solve(problem, Budget(steps))
    found = infeasible_subset(problem, answer)
    assert found.items == ()
    assert found.text == ("All items were placed." if answer.status == "fits" else answer.gap)
