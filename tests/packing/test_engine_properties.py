"""Properties of the exact engine on small random problems of every kind that it takes."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from fitplan.budget import Budget
from fitplan.packing.engine.placement_check import check_placement
from fitplan.packing.engine.problem import (
    IntBox,
    Item,
    ItemClearance,
    PackingProblem,
    Placed,
    Shape,
    Space,
    Variant,
)
from fitplan.packing.engine.solve import solve
from tests.packing.engine_cases import can_pack

QUIET = settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))


@st.composite
def boxes(draw: st.DrawFn, most: int, volume: bool = True) -> IntBox:
    """Return a box within ``most`` of the origin, flat or a point where ``volume`` is not asked for."""
    low = [draw(st.integers(0, most - volume)) for _ in range(3)]
    high = [draw(st.integers(at + volume, most)) for at in low]
    return (low[0], low[1], low[2], high[0], high[1], high[2])


@st.composite
def variants(draw: st.DrawFn, spaces: int) -> Variant:
    """Return a shape of one or two boxes, perhaps with a clearance, and where it may lie."""
    solid = tuple(draw(st.lists(boxes(2), min_size=1, max_size=2)))
    rooms = tuple(ItemClearance(box, draw(st.booleans())) for box in draw(st.lists(boxes(3), max_size=1)))
    everywhere: IntBox = (-2, -2, -2, 4, 4, 4)
    domain = draw(st.one_of(st.just((everywhere,)), st.lists(boxes(3, False), min_size=1, max_size=2)))
    return Variant(
        str(draw(st.integers(0, 9))), Shape(solid, rooms), tuple(domain), draw(st.integers(0, spaces - 1))
    )


@st.composite
def problems(draw: st.DrawFn) -> PackingProblem:
    """Return a small problem: one or two spaces, up to four items, some of them identical."""
    spaces = tuple(
        Space(
            (0, 0, 0, *(draw(st.integers(2, 4)) for _ in range(3))),
            tuple(draw(st.lists(boxes(4), max_size=3))),
        )
        for _ in range(draw(st.sampled_from((1, 1, 2))))
    )
    kinds = [
        tuple(draw(st.lists(variants(len(spaces)), min_size=1, max_size=3)))
        for _ in range(draw(st.integers(1, 3)))
    ]
    chosen = [kinds[draw(st.integers(0, len(kinds) - 1))] for _ in range(draw(st.integers(1, 4)))]
    return PackingProblem(spaces, tuple(Item(f"item {k}", own) for k, own in enumerate(chosen)))


@QUIET
@given(problems())
def test_verdicts_agree_with_brute_force(problem: PackingProblem) -> None:
    """Every verdict is that of trying all places, and places pass the checker."""
    answer = solve(problem)
    assert answer.status == ("fits" if can_pack(problem) else "cannot_fit")
    if answer.status == "fits":
        assert check_placement(problem, answer.placements) == []
    else:
        assert answer.proof is not None
        assert len(answer.proof.confirmations) >= 2


def mirrored_box(box: IntBox) -> IntBox:
    """Return a box seen in a mirror across x = 0."""
    return (-box[3], box[1], box[2], -box[0], box[4], box[5])


def mirrored(problem: PackingProblem) -> PackingProblem:
    """Return a problem seen in a mirror across x = 0."""
    items = []
    for item in problem.items:
        own = []
        for variant in item.variants:
            shape = Shape(
                tuple(mirrored_box(box) for box in variant.shape.solid),
                tuple(replace(c, box=mirrored_box(c.box)) for c in variant.shape.clearances),
            )
            own.append(
                replace(variant, shape=shape, domain=tuple(mirrored_box(box) for box in variant.domain))
            )
        items.append(Item(item.name, tuple(own)))
    spaces = tuple(
        Space(mirrored_box(space.hull), tuple(mirrored_box(box) for box in space.obstacles))
        for space in problem.spaces
    )
    return PackingProblem(spaces, tuple(items))


@QUIET
@given(problems())
def test_mirror_images_agree(problem: PackingProblem) -> None:
    """A problem and its mirror image have the same verdict."""
    assert solve(problem).status == solve(mirrored(problem)).status


@QUIET
@given(problems(), st.data())
def test_removing_an_obstacle_never_spoils_a_packing(problem: PackingProblem, data: st.DataObject) -> None:
    """What fits still fits when an obstacle is taken away."""
    index = data.draw(st.integers(0, len(problem.spaces) - 1))
    space = problem.spaces[index]
    assume(space.obstacles)
    gone = data.draw(st.integers(0, len(space.obstacles) - 1))
    rest = replace(space, obstacles=space.obstacles[:gone] + space.obstacles[gone + 1 :])
    spaces = (*problem.spaces[:index], rest, *problem.spaces[index + 1 :])
    if solve(problem).status == "fits":
        assert solve(replace(problem, spaces=spaces)).status == "fits"


@QUIET
@given(problems(), st.data())
def test_enlarging_an_item_never_makes_it_fit(problem: PackingProblem, data: st.DataObject) -> None:
    """What cannot fit cannot fit with one item grown by another box either."""
    index = data.draw(st.integers(0, len(problem.items) - 1))
    extra = data.draw(boxes(3))
    item = problem.items[index]
    grown = tuple(
        replace(variant, shape=replace(variant.shape, solid=(*variant.shape.solid, extra)))
        for variant in item.variants
    )
    items = (*problem.items[:index], Item(item.name, grown), *problem.items[index + 1 :])
    if solve(problem).status == "cannot_fit":
        assert solve(replace(problem, items=items)).status == "cannot_fit"


@QUIET
@given(problems(), st.sampled_from((0, 3, 30)))
def test_more_work_never_flips_a_verdict(problem: PackingProblem, few: int) -> None:
    """A verdict that little work allows is the one that much work gives."""
    early = solve(problem, Budget(few))
    if early.status != "not_decided":
        assert solve(problem).status == early.status


def faulty(**changes: object) -> list[str]:
    """Check a packing of two unit cubes after spoiling it."""
    shape = Shape(((0, 0, 0, 1, 1, 1),), (ItemClearance((1, 0, 0, 2, 1, 1)),))
    variant = Variant("only", shape, ((0, 0, 0, 3, 3, 3),))
    problem = PackingProblem(
        (Space((0, 0, 0, 4, 4, 4), ((3, 3, 3, 4, 4, 4),)),), (Item("a", (variant,)), Item("b", (variant,)))
    )
    places = {"a": Placed(0, (0, 0, 0)), "b": Placed(0, (0, 2, 0))}
    places.update({name: Placed(*place) for name, place in changes.items()})  # type: ignore[misc]
    return check_placement(problem, places)


def test_the_checker_names_every_kind_of_fault() -> None:
    """Overlap, blocked clearance, obstacle, hull, domain, unknown variant and name: each is told apart."""
    assert faulty() == []
    assert any("overlaps a" in fault for fault in faulty(b=(0, (0, 0, 0))))
    assert any("clearance" in fault for fault in faulty(b=(0, (1, 0, 0))))
    assert any("obstacle" in fault for fault in faulty(b=(0, (3, 3, 3))))
    assert any("hull" in fault for fault in faulty(b=(0, (4, 0, 0))))
    assert any("domain" in fault for fault in faulty(b=(0, (0, 0, 4))))
    assert any("no variant" in fault for fault in faulty(b=(7, (0, 0, 0))))
    assert any("not an item" in fault for fault in faulty(c=(0, (0, 0, 0))))
