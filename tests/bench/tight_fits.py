"""Tight fits of real parts: catalogue parts in bodies that are cut round a packing, some made impossible."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from fitplan.budget import Budget
from fitplan.lattice.boxes import part_boxes
from fitplan.lattice.cover import cover
from fitplan.model.part import Part
from fitplan.model.solids import Box, Place
from fitplan.packing.engine.bounds import free_volume
from fitplan.packing.engine.free_offsets import union_volume
from fitplan.packing.engine.problem import (
    IntBox,
    Item,
    ItemClearance,
    PackingProblem,
    Placed,
    Shape,
    Space,
    Variant,
    anywhere,
    moved,
)
from fitplan.packing.engine.solve import solve

ORIGIN = (0.0, 0.0, 0.0)
MOST_BOXES = 12
"""Boxes of a part, so that a general solver can be asked the same."""


@dataclass(frozen=True)
class TightFit:
    """A problem of real parts; ``fits`` is True where a packing is hidden in it, None where nobody knows."""

    problem: PackingProblem
    void: float
    fits: bool | None


def shape_of(part: Part, pose: object) -> Shape:
    """Return a part in a pose, rounded outwards to tenths, with the room that it always needs."""
    place = Place(pose, ORIGIN)  # type: ignore[arg-type]

    def boxes(solids: Sequence[object]) -> list[IntBox]:
        found = part_boxes([place.move_solid(solid) for solid in solids], "outward")  # type: ignore[arg-type]
        return [tuple(box) for box in found if all(box[i] < box[i + 3] for i in range(3))]  # type: ignore[misc]

    rooms = [
        ItemClearance(box, clear_of_obstacles=clearance.kind != "lens")
        for clearance in part.clearances
        if clearance.needed == "always"
        for box in boxes([clearance.solid])
    ]
    return Shape(tuple(boxes(part.envelope)), tuple(rooms))


def shapes_of(part: Part) -> list[Shape]:
    """Return a part in all poses that its mount allows, each shape once."""
    return list(dict.fromkeys(shape_of(part, pose) for pose in part.mount.allowed_poses()))


def small_enough(parts: Sequence[Part]) -> list[Part]:
    """Return the parts of a few boxes each that are not tied to a window or a face."""
    return [
        part
        for part in parts
        if part.family != "wire"
        and part.mount.looks is None
        and part.mount.sits is None
        and len(shape_of(part, part.mount.allowed_poses()[0]).solid) <= MOST_BOXES
        and max(part.bounds.high[axis] - part.bounds.low[axis] for axis in range(3)) < 80
    ]


def problem_of(shapes: Sequence[Sequence[Shape]], space: Space) -> PackingProblem:
    """Return the problem of parts, each in some poses, in a space."""
    items = []
    for number, poses in enumerate(shapes):
        variants = [
            Variant(str(k), shape, domain)
            for k, shape in enumerate(poses)
            if (domain := anywhere(shape, space.hull))
        ]
        items.append(Item(f"p{number}", tuple(variants)))
    return PackingProblem((space,), tuple(items))


def tight_fit(parts: Sequence[Part], count: int, void: float, grown: bool, seed: int) -> TightFit:
    """Return parts in a body cut round a packing of theirs; a share of its room stays void.

    With ``void`` 1 the body is a bare box.  ``grown``: one part is 0.1 to 2 mm longer than in that packing,
    so that it may fit no more; a bare box is smaller by a step in which no packing was found quickly instead.
    """
    rng = random.Random(f"{count} {void} {seed}")
    while True:
        chosen = rng.choices(parts, k=count)
        shapes = [shapes_of(part) for part in chosen]
        packed = _squeezed(shapes, rng)
        if packed is None:
            continue
        problem, places, tighter = packed
        space = _cut(problem, places, void, rng) if void < 1 else problem.spaces[0]
        if grown and void == 1:
            space = Space((0, 0, 0, *tighter))  # type: ignore[arg-type]
        elif grown:
            victim = rng.randrange(count)
            shapes[victim] = shapes_of(_longer(chosen[victim], rng))
        made = problem_of(shapes, space)
        need = sum(min(union_volume(shape.solid) for shape in poses) for poses in shapes)
        room = free_volume(space)
        if all(item.variants for item in made.items) and need <= room:
            return TightFit(made, 1 - need / room, None if grown else True)


def _longer(part: Part, rng: random.Random) -> Part:
    """Return a part whose largest box is longer by 0.1 to 2 mm."""
    boxes = [solid for solid in part.envelope if isinstance(solid, Box)]
    if not boxes:
        return part
    largest = max(boxes, key=lambda box: box.volume)
    high = list(largest.high)
    high[rng.randrange(3)] += rng.randint(1, 20) / 10
    longer = Box(largest.low, (high[0], high[1], high[2]))
    return replace(part, envelope=tuple(longer if solid is largest else solid for solid in part.envelope))


def _squeezed(
    shapes: Sequence[Sequence[Shape]], rng: random.Random
) -> tuple[PackingProblem, dict[str, Placed], list[int]] | None:
    """Return a packing in a box that was made smaller as long as one was found quickly, and a smaller box."""
    volume = sum(min(union_volume(shape.solid) for shape in poses) for poses in shapes)
    edge = round((2.5 * volume) ** (1 / 3))
    size = [max(edge, 160), max(edge, 160), max(edge, 100)]
    best: tuple[PackingProblem, dict[str, Placed]] | None = None
    tighter = size
    for step in (0.25, 0.12, 0.05, 0.02):
        stuck = 0
        while stuck < 3:
            axis = rng.randrange(3)
            tried = list(size)
            if best is None:
                tried = [round(value * 1.2) for value in size]
            else:
                tried[axis] = round(tried[axis] * (1 - step))
            problem = problem_of(shapes, Space((0, 0, 0, tried[0], tried[1], tried[2])))
            answer = None
            if all(item.variants for item in problem.items):
                answer = solve(problem, Budget(60_000_000), seed=rng.randrange(1000), proofs=False)
            if answer is not None and answer.status == "fits":
                best, size, stuck = (problem, dict(answer.placements)), tried, 0
            elif best is None:
                size = tried
                if max(size) > 4000:
                    return None
            else:
                stuck += 1
                tighter = tried if all(item.variants for item in problem.items) else tighter
    return None if best is None else (*best, tighter)


def _cut(problem: PackingProblem, places: dict[str, Placed], void: float, rng: random.Random) -> Space:
    """Fill the room round a packing with bricks until a share of it is void."""
    hull = problem.spaces[0].hull
    solids: list[IntBox] = []
    rooms: list[IntBox] = []
    for item in problem.items:
        placed = places[item.name]
        shape = item.variants[placed.variant].shape
        solids += [moved(box, placed.offset) for box in shape.solid]
        rooms += [moved(one.box, placed.offset) for one in shape.clearances if one.clear_of_obstacles]
    clipped = [
        tuple(min(max(box[i], hull[i % 3]), hull[3 + i % 3]) for i in range(6)) for box in (*solids, *rooms)
    ]
    cuts = [
        np.unique([hull[a], hull[a + 3], *(box[a] for box in clipped), *(box[a + 3] for box in clipped)])
        for a in range(3)
    ]
    taken = np.zeros([len(cut) - 1 for cut in cuts], dtype=bool)
    for box in clipped:
        taken[
            tuple(
                slice(np.searchsorted(cuts[a], box[a]), np.searchsorted(cuts[a], box[a + 3]))
                for a in range(3)
            )
        ] = True
    covered = cover(~taken, edges=tuple(cut.astype(float) for cut in cuts))
    bricks = [tuple(int(cuts[i % 3][value]) for i, value in enumerate(box)) for box in covered or []]
    rng.shuffle(bricks)
    need = union_volume(tuple(solids))
    laid: list[IntBox] = []
    for brick in sorted(bricks, key=lambda box: -(box[3] - box[0]) * (box[4] - box[1]) * (box[5] - box[2])):
        space = Space(hull, (*laid, brick))  # type: ignore[arg-type]
        room = free_volume(space)
        if 1 - need / room >= void:
            laid.append(brick)  # type: ignore[arg-type]
    return Space(hull, tuple(laid))
