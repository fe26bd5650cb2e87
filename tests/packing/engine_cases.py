"""Cases for the exact engine: puzzles, seeded guillotine cuts, and all packings by brute force."""

from __future__ import annotations

import itertools
import random

from fitplan.packing.engine.problem import IntBox, PackingProblem, Shape, Space, anywhere, blocks, moved

Size = tuple[int, int, int]

SLOTHOUBER_GRAATSMA: list[Size] = [(1, 2, 2)] * 6 + [(1, 1, 1)] * 3
CONWAY: list[Size] = [(1, 2, 4)] * 13 + [(2, 2, 2), (1, 2, 2)] + [(1, 1, 3)] * 3


def cube(edge: int) -> Space:
    """Return an empty cube."""
    return Space((0, 0, 0, edge, edge, edge))


def cut(boxes: list[IntBox], pieces: int, rng: random.Random, least: int = 5) -> list[IntBox]:
    """Cut boxes by planes from side to side until there are so many pieces."""
    boxes = list(boxes)
    while len(boxes) < pieces:
        sizes = [(b[3] - b[0]) * (b[4] - b[1]) * (b[5] - b[2]) for b in boxes]
        index = rng.choices(range(len(boxes)), sizes)[0]
        box = boxes[index]
        edges = [box[axis + 3] - box[axis] for axis in range(3)]
        axis = rng.choices(range(3), edges)[0]
        low = max(least, round(edges[axis] * 0.25))
        if edges[axis] - low < low:
            continue
        at = box[axis] + rng.randint(low, edges[axis] - low)
        first, second = list(box), list(box)
        first[axis + 3] = second[axis] = at
        boxes[index] = (first[0], first[1], first[2], first[3], first[4], first[5])
        boxes.append((second[0], second[1], second[2], second[3], second[4], second[5]))
    return boxes


def turned_sizes(boxes: list[IntBox], rng: random.Random) -> list[Size]:
    """Return the sizes of boxes, each turned and all shuffled."""
    sizes = []
    for box in boxes:
        edges = [box[axis + 3] - box[axis] for axis in range(3)]
        rng.shuffle(edges)
        sizes.append((edges[0], edges[1], edges[2]))
    rng.shuffle(sizes)
    return sizes


def can_pack(problem: PackingProblem) -> bool:
    """Try every place of every item on the unit grid; exact where all corners are whole numbers."""
    cells = {}
    for index, space in enumerate(problem.spaces):
        for cell in _cells(space.hull):
            cells[(index, *cell)] = len(cells)
    choices: list[list[tuple[int, int]]] = []
    for item in problem.items:
        own: set[tuple[int, int]] = set()
        for variant in item.variants:
            space = problem.spaces[variant.space]
            solid_rock = _mask(space.obstacles, cells, variant.space)
            for offset in _offsets(variant.domain):
                solid = [moved(box, offset) for box in variant.shape.solid]
                if any(not _inside(box, space.hull) for box in solid):
                    continue
                room = [moved(c.box, offset) for c in variant.shape.clearances]
                strict = [moved(c.box, offset) for c in variant.shape.clearances if c.clear_of_obstacles]
                filled = _mask(solid, cells, variant.space)
                kept = _mask(room, cells, variant.space)
                if filled & solid_rock or _mask(strict, cells, variant.space) & solid_rock:
                    continue
                own.add((filled, kept))
        choices.append(sorted(own))
    choices.sort(key=len)

    def place(at: int, filled: int, kept: int) -> bool:
        if at == len(choices):
            return True
        return any(
            place(at + 1, filled | solid, kept | room)
            for solid, room in choices[at]
            if not solid & (filled | kept) and not room & filled
        )

    return place(0, 0, 0)


def _cells(box: IntBox) -> itertools.product[tuple[int, ...]]:
    return itertools.product(*(range(box[axis], box[axis + 3]) for axis in range(3)))


def _mask(boxes: object, cells: dict[tuple[int, ...], int], space: int) -> int:
    mask = 0
    for box in boxes:  # type: ignore[attr-defined]
        for cell in _cells(box):
            bit = cells.get((space, *cell))
            if bit is not None:
                mask |= 1 << bit
    return mask


def _offsets(domain: tuple[IntBox, ...]) -> set[tuple[int, int, int]]:
    found = set()
    for box in domain:
        found.update(itertools.product(*(range(box[axis], box[axis + 3] + 1) for axis in range(3))))
    return found


def _inside(box: IntBox, hull: IntBox) -> bool:
    return all(box[i] >= hull[i] and box[i + 3] <= hull[i + 3] for i in range(3))


def l_cavity(rng: random.Random) -> tuple[Space, list[IntBox]]:
    """Return an L-shaped cavity and boxes that fill it."""
    x, y, z = (rng.randint(45, 110) for _ in range(3))
    a, b = rng.randint(x // 3, 2 * x // 3), rng.randint(y // 3, 2 * y // 3)
    space = Space((0, 0, 0, x, y, z), ((a, b, 0, x, y, z),), "L")
    return space, [(0, 0, 0, x, b, z), (0, b, 0, a, y, z)]


def u_cavity(rng: random.Random) -> tuple[Space, list[IntBox]]:
    """Return a U-shaped cavity and boxes that fill it."""
    x, y, z = (rng.randint(45, 110) for _ in range(3))
    a, c = sorted(rng.sample(range(x // 4, 3 * x // 4), 2))
    b = rng.randint(y // 3, 2 * y // 3)
    space = Space((0, 0, 0, x, y, z), ((a, b, 0, c, y, z),), "U")
    return space, [(0, 0, 0, x, b, z), (0, b, 0, a, y, z), (c, b, 0, x, y, z)]


def box_cavity(rng: random.Random) -> tuple[Space, list[IntBox]]:
    """Return a plain box as a cavity."""
    x, y, z = (rng.randint(40, 120) for _ in range(3))
    hull = (0, 0, 0, x, y, z)
    return Space(hull, (), "box"), [hull]


def hidden_cut(pieces: int, seed: int, shape: str = "box") -> PackingProblem:
    """Return a seeded cut of a cavity whose pieces were turned and shuffled; it fits."""
    rng = random.Random(f"{shape} {pieces} {seed}")
    space, boxes = {"box": box_cavity, "L": l_cavity, "U": u_cavity}[shape](rng)
    return blocks(turned_sizes(cut(boxes, pieces, rng), rng), space)


def free_item_domain(shape: Shape, space: Space) -> tuple[IntBox, ...]:
    """Return all offsets inside a space's hull."""
    return anywhere(shape, space.hull)
