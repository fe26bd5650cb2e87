"""Say why items do not fit: the smallest set of them that cannot be placed, and what a single one lacks."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal, TypeAlias

import numpy as np

from fitplan.budget import QUESTION, Budget
from fitplan.packing.engine.free_offsets import free_pieces, union_volume
from fitplan.packing.engine.problem import (
    Answer,
    IntBox,
    Item,
    PackingProblem,
    Shape,
    Space,
    Variant,
    anywhere,
    bounds_of,
    moved,
)
from fitplan.packing.engine.solve import solve

Axis: TypeAlias = Literal["x", "y", "z"]
AXES: tuple[Axis, Axis, Axis] = ("x", "y", "z")


@dataclass(frozen=True, order=True)
class Shortfall:
    """By how much one variant of an item misses its space.

    Attributes
    ----------
    missing
        Units by which the shape is too long along the axis: were it shorter by so much at one end, and all
        else the same, it would have a place.
    variant, axis
        The variant's index in its item, and the axis of the space.
    low_end
        Whether it is the low end that would have to go.
    offset
        Where the shortened shape lies.
    against
        What the rest would run into there: obstacles, or the hull where there is none.
    """

    missing: int
    variant: int
    axis: Axis
    low_end: bool
    offset: tuple[int, int, int]
    against: tuple[IntBox, ...]


@dataclass(frozen=True)
class InfeasibleSubset:
    """Why items cannot be placed together.

    Attributes
    ----------
    text
        Plain sentences.
    items
        The items that cannot be placed together.
    smallest
        True when without any one of them the rest was placed; False when the search for the smallest set
        used up its budget.
    misses
        For a single item: by how much the variant misses that misses least; empty for more.
    work
        Steps of the budget that it took.
    """

    text: str
    items: tuple[str, ...]
    smallest: bool
    misses: tuple[Shortfall, ...] = ()
    work: int = 0


def infeasible_subset(
    problem: PackingProblem, answer: Answer, budget: Budget = QUESTION, *, seed: int = 0
) -> InfeasibleSubset:
    """Find the smallest set of items that cannot be placed together, by leaving out one after the other.

    Parameters
    ----------
    budget
        For the whole explanation; when it is used up, the set is the smallest known so far.
    """
    if answer.status == "fits":
        return InfeasibleSubset("All items were placed.", (), True)
    if answer.status == "not_decided" or answer.proof is None:
        return InfeasibleSubset(answer.gap, (), False)
    kept = [item for item in problem.items if item.name in answer.proof.items] or list(problem.items)
    kept, smallest, work = _smallest(problem, kept, budget, seed)
    names = tuple(item.name for item in kept)
    if len(kept) > 1:
        return InfeasibleSubset(_together(names, smallest), names, smallest, work=work)
    misses = shortfalls(problem, kept[0], budget, only_least=True)
    return InfeasibleSubset(_alone(kept[0], misses), names, smallest, misses, work)


def _smallest(
    problem: PackingProblem, items: list[Item], budget: Budget, seed: int
) -> tuple[list[Item], bool, int]:
    """Drop items while the rest still cannot be placed; True when each of those left is needed; and steps."""
    kept, smallest, work = list(items), True, 0
    # Small items are the likeliest not to matter.
    for item in sorted(items, key=_volume):
        rest = [other for other in kept if other is not item]
        if not rest:
            continue
        if budget.used_up(work):
            return kept, False, work
        left = budget.less(work).part(1 / len(items))
        answer = solve(PackingProblem(problem.spaces, tuple(rest)), left, seed=seed)
        work += answer.work
        if answer.status == "cannot_fit":
            kept = rest
        elif answer.status == "not_decided":
            smallest = False
    return kept, smallest, work


def _volume(item: Item) -> int:
    return max((union_volume(variant.shape.solid) for variant in item.variants), default=0)


def _together(names: Sequence[str], smallest: bool) -> str:
    text = f"{' + '.join(names)} cannot be placed together"
    if not smallest:
        return f"{text}; whether fewer of them can was not settled."
    if len(names) == 2:
        return f"{text}; each of them alone fits."
    return f"{text}; without any one of them the others fit."


def _alone(item: Item, misses: Sequence[Shortfall]) -> str:
    if not misses:
        return f"{item.name} has no place of its own, in no pose and however short along one axis."
    least = misses[0]
    what = "the hull" if not least.against else f"{len(least.against)} obstacle(s), first {least.against[0]}"
    key = item.variants[least.variant].key
    return (
        f"{item.name} has no place of its own: in its nearest pose ({key}) {least.missing} units are missing "
        f"along {least.axis}, against {what}."
    )


def shortfalls(
    problem: PackingProblem, item: Item, budget: Budget = QUESTION, *, only_least: bool = False
) -> tuple[Shortfall, ...]:
    """Return by how much each variant of an item misses its empty space, the least first.

    A variant that needs to be shorter along two axes at once is left out, and so are those for which a
    deadline leaves no time; with ``only_least`` all but the first of those that would be returned.
    """
    found: list[Shortfall] = []
    seen: set[tuple[Shape, tuple[IntBox, ...], int]] = set()
    for index, variant in enumerate(item.variants):
        mark = (variant.shape, variant.domain, variant.space)
        if mark in seen or budget.late:
            continue
        seen.add(mark)
        best = min(found, default=None) if only_least else None
        before = best
        for axis, low_end in itertools.product(range(3), (False, True)):
            most = most_cut(variant.shape, axis, low_end)
            if best is not None:
                most = min(most, best.missing - 1)
            best = _least_cut(problem, index, variant, axis, low_end, most) or best
        if best is not None and best is not before:
            found.append(best)
    return tuple(sorted(found)[: 1 if only_least else None])


def _least_cut(
    problem: PackingProblem, index: int, variant: Variant, axis: int, low_end: bool, most: int
) -> Shortfall | None:
    """Return the least length, up to the most, to take off one end so that a shape has a place."""
    space = problem.spaces[variant.space]
    low, high = 0, most
    if high < 1 or _place(problem, shortened(variant, space, axis, low_end, high)) is None:
        return None
    while high - low > 1:
        middle = (low + high) // 2
        if _place(problem, shortened(variant, space, axis, low_end, middle)) is None:
            low = middle
        else:
            high = middle
    offset = _place(problem, shortened(variant, space, axis, low_end, high))
    if offset is None:
        return None
    solid = [moved(box, offset) for box in variant.shape.solid]
    rooms = [moved(c.box, offset) for c in variant.shape.clearances if c.clear_of_obstacles]
    met = (*_overlapped(solid, space.obstacles), *_overlapped(rooms, space.off_limits))
    return Shortfall(high, index, AXES[axis], low_end, offset, tuple(dict.fromkeys(met)))


def _place(problem: PackingProblem, variant: Variant) -> tuple[int, int, int] | None:
    pieces = free_pieces(variant, problem)
    if not len(pieces):
        return None
    x, y, z = min(tuple(row) for row in pieces[:, :3].tolist())
    return (x, y, z)


def shortened(variant: Variant, space: Space, axis: int, low_end: bool, length: int) -> Variant:
    """Take a length off one end of a shape, the room that it keeps clear of obstacles included.

    Where the domain ended at the hull it now reaches further, by what was taken off the solid itself.
    """
    bounds, whole = variant.shape.bounds, _whole(variant.shape)
    least = whole[axis] + length if low_end else whole[axis]
    most = whole[axis + 3] if low_end else whole[axis + 3] - length
    shorter = max(least - bounds[axis], 0) if low_end else max(bounds[axis + 3] - most, 0)

    def clip(box: IntBox) -> IntBox | None:
        edges = list(box)
        edges[axis], edges[axis + 3] = max(box[axis], least), min(box[axis + 3], most)
        return None if edges[axis] >= edges[axis + 3] else _as_box(edges)

    solid = tuple(cut for box in variant.shape.solid if (cut := clip(box)) is not None)
    rooms = tuple(
        replace(room, box=cut)
        for room in variant.shape.clearances
        if (cut := clip(room.box) if room.clear_of_obstacles else room.box) is not None
    )
    ends = [space.hull[i] - bounds[i] for i in range(3)] + [
        space.hull[i + 3] - bounds[i + 3] for i in range(3)
    ]
    # A shape that is longer than the hull has no offset at all: then any that keeps the rest inside will do.
    domain = [_reach(box, ends, axis, low_end, shorter) for box in variant.domain]
    shape = Shape(solid, rooms)
    return replace(variant, shape=shape, domain=tuple(domain) or anywhere(shape, space.hull))


def most_cut(shape: Shape, axis: int, low_end: bool) -> int:
    """Return how much can be taken off one end at the most, so that some of the solid is left."""
    bounds, whole = shape.bounds, _whole(shape)
    return (bounds[axis + 3] - whole[axis] if low_end else whole[axis + 3] - bounds[axis]) - 1


def _whole(shape: Shape) -> IntBox:
    """Return the smallest box round a shape and the room that it keeps clear of obstacles."""
    return bounds_of([*shape.solid, *(room.box for room in shape.clearances if room.clear_of_obstacles)])


def _reach(box: IntBox, ends: list[int], axis: int, low_end: bool, length: int) -> IntBox:
    edges = list(box)
    if low_end and box[axis] <= ends[axis]:
        edges[axis] -= length
    elif not low_end and box[axis + 3] >= ends[axis + 3]:
        edges[axis + 3] += length
    return _as_box(edges)


def _as_box(edges: Sequence[int]) -> IntBox:
    x0, y0, z0, x1, y1, z1 = edges
    return (x0, y0, z0, x1, y1, z1)


def _overlapped(boxes: Sequence[IntBox], obstacles: tuple[IntBox, ...]) -> tuple[IntBox, ...]:
    """Return those obstacles that overlap some of the boxes."""
    own, others = np.array(boxes).reshape(-1, 1, 6), np.array(obstacles).reshape(1, -1, 6)
    apart = (own[..., :3] >= others[..., 3:]) | (others[..., :3] >= own[..., 3:])
    hit = np.any(~apart.any(axis=2), axis=0)
    return tuple(obstacle for obstacle, met in zip(obstacles, hit.tolist(), strict=True) if met)
