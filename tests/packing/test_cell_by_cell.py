"""What the engine counts and checks in whole numbers, and what seats allow, beside every cell and tenth."""

from __future__ import annotations

import random
from dataclasses import replace
from itertools import product

import pytest

from fitplan.model.part import Mount
from fitplan.model.solids import DIRECTIONS, Box, Direction, Place, axis_of, opposite, plane_of, poses
from fitplan.model.vehicle import Face, Window
from fitplan.packing.engine.bounds import _free_volume_by_slices, free_volume
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
from fitplan.packing.vehicle.lowering import LoweredPart
from fitplan.packing.vehicle.seats import _at_window, on_face
from tests.packing.small_trains import block

Cell = tuple[int, int, int]


def cells_of(*boxes: IntBox) -> set[Cell]:
    return {
        cell
        for box in boxes
        for cell in product(range(box[0], box[3]), range(box[1], box[4]), range(box[2], box[5]))
    }


def some_box(dice: random.Random, low: int, high: int, most: int) -> IntBox:
    at = [dice.randint(low, high) for _ in range(3)]
    end = [one + dice.randint(1, most) for one in at]
    return (at[0], at[1], at[2], end[0], end[1], end[2])


def some_space(dice: random.Random, walls: bool = False) -> Space:
    obstacles = tuple(some_box(dice, -2, 7, 4) for _ in range(dice.randint(0, 4)))
    more = tuple(some_box(dice, -2, 7, 3) for _ in range(dice.randint(0, 2))) if walls else None
    return Space(some_box(dice, -1, 1, 7), obstacles, walls=more)


@pytest.mark.parametrize("seed", range(60))
def test_free_volume_is_the_number_of_free_cells(seed: int) -> None:
    """Obstacles that overlap each other and reach out of the hull count once, and only within."""
    space = some_space(random.Random(seed))
    free = cells_of(space.hull) - cells_of(*space.obstacles)
    assert free_volume(space) == len(free)
    assert _free_volume_by_slices(space) == len(free)


def shifted(boxes: tuple[IntBox, ...], by: Cell) -> set[Cell]:
    return {(x + by[0], y + by[1], z + by[2]) for x, y, z in cells_of(*boxes)}


def said_of(problem: PackingProblem, placed: dict[str, Placed], partial: bool) -> set[str]:
    """Everything that is wrong with a packing, asked cell by cell."""
    found, laid = set(), []
    known = {item.name: item for item in problem.items}
    found |= {f"{name} is not an item of the problem" for name in placed if name not in known}
    for name, item in known.items():
        if name not in placed:
            found |= set() if partial else {f"{name} is not placed"}
            continue
        number, at = placed[name].variant, placed[name].offset
        if number not in range(len(item.variants)):
            found.add(f"{name} has no variant {number}")
            continue
        variant = item.variants[number]
        space = problem.spaces[variant.space]
        if not any(all(box[i] <= at[i] <= box[i + 3] for i in range(3)) for box in variant.domain):
            found.add(f"{name} lies outside its domain at {at}")
        solid, room = shifted(variant.shape.solid, at), set()
        if not solid <= cells_of(space.hull):
            found.add(f"{name} reaches outside {space.name or 'the hull'}")
        if solid & cells_of(*space.obstacles):
            found.add(f"{name} overlaps an obstacle")
        for clearance in variant.shape.clearances:
            kept = shifted((clearance.box,), at)
            room |= kept
            walls = space.obstacles if space.walls is None else space.walls
            if clearance.clear_of_obstacles and kept & cells_of(*walls):
                found.add(f"a clearance of {name} overlaps an obstacle")
        for other, home, its, its_room in laid:
            if home != variant.space:
                continue
            if solid & its:
                found.add(f"{name} overlaps {other}")
            if solid & its_room or room & its:
                found.add(f"{name} and {other} block each other's clearance")
        laid.append((name, variant.space, solid, room))
    return found


@pytest.mark.parametrize("seed", range(150))
def test_what_is_wrong_with_a_packing_is_what_its_cells_say(seed: int) -> None:
    """Two spaces, three items of one or two boxes with clearances, some left out or unknown."""
    dice = random.Random(seed)
    spaces = (some_space(dice), replace(some_space(dice, walls=True), name="the van"))

    def variant(number: int) -> Variant:
        solid = tuple(some_box(dice, 0, 2, 2) for _ in range(dice.randint(1, 2)))
        rooms = [some_box(dice, -1, 2, 2) for _ in range(dice.randint(0, 2))]
        kept = tuple(ItemClearance(box, dice.random() < 0.6) for box in rooms)
        return Variant(str(number), Shape(solid, kept), (some_box(dice, -1, 2, 4),), dice.randint(0, 1))

    items = tuple(Item(name, tuple(variant(k) for k in range(2))) for name in ("a", "b", "c"))
    problem = PackingProblem(spaces, items)
    names = [
        name for name in ("a", "b", "c", *(["stranger"] if seed % 5 == 0 else [])) if dice.random() < 0.85
    ]
    placed = {
        name: Placed(
            dice.choice([-1, 0, 0, 1, 1, 2]) if seed % 3 == 0 else dice.randint(0, 1),
            (dice.randint(-1, 4), dice.randint(-1, 4), dice.randint(-1, 4)),
        )
        for name in names
    }
    for partial in (False, True):
        assert set(check_placement(problem, placed, partial=partial)) == said_of(problem, placed, partial)


TOUCH = Box((1.0, 2.0, 0.0), (8.0, 3.4, 0.0))


@pytest.mark.parametrize("out", DIRECTIONS)
def test_what_sits_on_a_face_has_its_middle_over_it_in_every_tenth(out: Direction) -> None:
    """On faces of six directions, turned towards them: each limit is kept, and a tenth beyond it is not."""
    flat = Box((30.0, 21.05, 33.0), (37.2, 28.0, 39.93))
    level = [list(flat.low), list(flat.high)]
    level[0][axis_of(out)] = level[1][axis_of(out)] = plane_of(flat, out)
    face = Face("eye", Box(tuple(level[0]), tuple(level[1])), out)  # type: ignore[arg-type]
    part = block("emitter", (9.0, 5.0, 4.3), mount=Mount(sits="-z", lens=TOUCH))
    along, met = axis_of(out), 0
    for pose in poses():
        found = on_face(part, pose, face, "outward")
        if pose.turn_direction("-z") != opposite(out):
            assert found is None
            continue
        assert found is not None
        met += 1

        def over(offset: list[float], pose: object = pose) -> bool:
            middle = Place(pose, tuple(offset)).move_solid(TOUCH).bounds.center  # type: ignore[arg-type]
            return all(
                face.box.low[i] - 1e-9 <= middle[i] <= face.box.high[i] + 1e-9 for i in range(3) if i != along
            )

        for limit, step in ((found[:3], -0.1), (found[3:], 0.1)):
            offset = [value / 10 for value in limit]
            assert over(offset)
            body = Place(pose, tuple(offset)).move_solid(part.bounds).bounds  # type: ignore[arg-type]
            gap = (plane_of(body, opposite(out)) - plane_of(face.box, out)) * (1 if out[0] == "+" else -1)
            assert -1e-9 <= gap < 0.1
            for axis in {0, 1, 2} - {along}:
                beyond = [value + step * (i == axis) for i, value in enumerate(offset)]
                assert not over(beyond)
    assert met == 4


@pytest.mark.parametrize("out", DIRECTIONS)
def test_what_looks_out_has_its_lens_in_the_window_in_every_tenth(out: Direction) -> None:
    """Each limit keeps the lens in the outline and its front in the wall, and a tenth beyond does not."""
    window = Window("gap", Box((30.0, 21.05, 33.0), (47.2, 42.0, 49.93)), out)
    lens = Box((12.0, 2.0, 1.0), (12.0, 8.0, 5.5))
    part = block("ranger", (12.0, 10.0, 7.0), mount=Mount(looks="+x", lens=lens))
    met = 0
    for pose in poses():
        found = _at_window(part, pose, window, "outward")
        if pose.turn_direction("+x") != out:
            assert found is None
            continue
        assert found is not None
        met += 1
        for limit, step in ((found[:3], -0.1), (found[3:], 0.1)):
            for axis in (None, 0, 1, 2):
                offset = tuple(value / 10 + step * (i == axis) for i, value in enumerate(limit))
                seen = Place(pose, offset).move_solid(lens).bounds  # type: ignore[arg-type]
                kept = [
                    window.box.low[i] - 1e-9 <= seen.low[i] and seen.high[i] <= window.box.high[i] + 1e-9
                    for i in range(3)
                ]
                assert kept == [i != axis for i in range(3)]
    assert met == 4


def test_a_part_that_is_let_down() -> None:
    """All of it goes down alike, and its lowest point is that of its lowest box."""
    part = LoweredPart(
        "p", ((0, 0, 7, 4, 4, 9), (0, 0, 5, 2, 2, 8)), ((0, 0, 9, 4, 4, 20),), 6, True, ((0, 0, 5, 2, 2, 8),)
    )
    assert part.bottom == 5
    down = part.lowered(4)
    assert (down.bottom, down.lowest_drop) == (1, 2)
    assert down.boxes == ((0, 0, 3, 4, 4, 5), (0, 0, 1, 2, 2, 4))
    assert (down.clearances, down.soles) == (((0, 0, 5, 4, 4, 16),), ((0, 0, 1, 2, 2, 4),))
