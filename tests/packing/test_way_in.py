"""The order in which parts go in, and what blocks what."""

from __future__ import annotations

import itertools
import random
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from fitplan.model.part import Mount, Part
from fitplan.model.placed import Placement
from fitplan.model.solids import Box, Cylinder, Place, Solid, Vec, pose_named
from fitplan.model.train import TrainVehicle
from fitplan.model.vehicle import BodySolid, BuiltIn, Opening, Vehicle
from fitplan.packing.access.slide import forbidden_offsets, rows_of, slide_out
from fitplan.packing.access.way_in import AssemblyPlan, assembly_order
from fitplan.verify.assembly import check_assembly
from fitplan.verify.result import Tally
from fitplan.verify.scene import Site, standing

from .small_trains import hollow

FLOOR = 19.2
"""Top of the floor of a `hollow` vehicle in mm; its inside starts at x = y = 8."""


def times_opened(plan: AssemblyPlan) -> int:
    """How often an opening is opened along the steps, neighbours through the same one counted once."""
    names = [step.opening for step in plan.steps]
    return sum(1 for i, name in enumerate(names) if i == 0 or names[i - 1] != name)


def part(*solids: Solid) -> Part:
    return Part("p", "part", "controller", solids, 5.0, "invented for a test", (), (), Mount())


def put(need: str, made: Part, at: Vec, pose: str = "+x+y+z", on: str = "the body") -> Placement:
    return Placement(need, made, "wagon", Place(pose_named(pose), at), on)


def replay(vehicle: Vehicle, placements: Sequence[Placement], plan: AssemblyPlan) -> list[str]:
    """What the independent checker finds wrong with an order of assembly."""
    entry = TrainVehicle("wagon", vehicle)
    site = Site(entry, frozenset(), tuple(standing(placement) for placement in placements))
    sheet = Tally()
    check_assembly(site, plan.steps, plan.blocked, sheet)
    return [problem.message for problem in sheet.report().problems]


def order(vehicle: Vehicle, placements: Sequence[Placement]) -> AssemblyPlan:
    return assembly_order(vehicle, placements)


def test_what_stands_below_goes_in_first() -> None:
    """Of three blocks on top of each other under a roof the lowest goes in first, each straight down."""
    vehicle = hollow("wagon", 8, 6, 12)
    cube = part(Box((0, 0, 0), (10, 10, 10)))
    placements = [
        put(name, cube, (10, 10, FLOOR + 10 * i), on=on) for i, (name, on) in enumerate(("b-", "cb", "ac"))
    ]
    plan = order(vehicle, placements)
    assert [step.need for step in plan.steps] == ["b", "c", "a"]
    assert all(len(step.moves) == 1 and step.moves[0][0] == "-z" for step in plan.steps)
    assert plan.blocked == ()
    assert times_opened(plan) == 1
    assert replay(vehicle, placements, plan) == []


def under_a_ledge(width: float) -> tuple[Vehicle, list[Placement]]:
    """A block that lies under a ledge of the body beside the roof opening."""
    made = hollow("wagon", 10, 6, 6)
    (roof,) = made.openings
    low, high = roof.box.low, roof.box.high
    narrow = Opening("hatch", Box((40.0, low[1], low[2]), high), "+z")
    vehicle = replace(made, openings=(narrow,))
    return vehicle, [put("block", part(Box((0, 0, 0), (width, 12, 8))), (10, 10, FLOOR))]


def test_a_part_under_a_ledge_goes_in_by_two_moves() -> None:
    """Down through the hatch and along the floor; 32.3 mm are longer than the hatch with all its play.

    32.1 mm pass a hatch of 32 mm only with the play of real bricks: nothing is proved of them.
    """
    vehicle, placements = under_a_ledge(30.0)
    plan = order(vehicle, placements)
    (step,) = plan.steps
    assert [way for way, _ in step.moves] == ["-z", "-x"]
    assert step.moves[1][1] == pytest.approx(30.0)
    assert step.opening == "hatch"
    assert replay(vehicle, placements, plan) == []
    vehicle, placements = under_a_ledge(32.1)
    plan = order(vehicle, placements)
    assert plan.steps == ()
    (told,) = plan.blocked
    assert told.startswith("no way in by straight moves through hatch was found for block")
    vehicle, placements = under_a_ledge(32.3)
    (told,) = order(vehicle, placements).blocked
    assert told.startswith("block has no way in by straight moves through hatch even when it is alone")


def test_three_moves_over_a_wall_under_a_ledge() -> None:
    """A block behind a low wall under a ledge goes down, over the wall and down; a high wall keeps it out."""
    vehicle, placements = under_a_ledge(20.0)
    wall = BodySolid(Box((32, 8, FLOOR), (34, 40, FLOOR + 5)), "fixed")
    vehicle = replace(vehicle, body=(*vehicle.body, wall))
    plan = order(vehicle, placements)
    (step,) = plan.steps
    assert [way for way, _ in step.moves] == ["-z", "-x", "-z"]
    assert replay(vehicle, placements, plan) == []
    higher = BodySolid(Box((32, 8, FLOOR), (34, 40, FLOOR + 12)), "fixed")
    blocked = replace(vehicle, body=(*vehicle.body, higher))
    assert order(blocked, placements).steps == ()


def pinwheel() -> list[Placement]:
    """Three bars in a triangle of steps, each with an arm over the next: none lifts before another.

    Seen from above they lie side by side along x in a shaft that leaves no room sideways; each is an L whose
    arm lies over the foot of the next, and the third's arm, on a post, over the first's.
    """
    a = part(Box((0, 0, 0), (16, 10, 4)), Box((12, 0, 4), (16, 10, 8)), Box((12, 0, 8), (24, 10, 12)))
    b = part(Box((0, 0, 0), (16, 10, 4)), Box((8, 0, 4), (16, 10, 24)), Box((8, 0, 20), (16, 32, 24)))
    c = part(
        Box((0, 0, 0), (32, 20, 4)),
        Box((0, 10, 4), (4, 20, 20)),
        Box((0, -12, 16), (4, 20, 20)),
    )
    return [
        put("a", a, (8, 8, FLOOR)),
        put("b", b, (24.0, 8, FLOOR)),
        put("c", c, (8, 20, FLOOR)),
    ]


def test_three_parts_that_hold_each_other_go_in_as_one() -> None:
    """Each of three lies under an arm of another, in a shaft without room sideways: they are one step."""
    vehicle = hollow("wagon", 6, 6, 9)
    placements = pinwheel()
    plan = order(vehicle, placements)
    (step,) = plan.steps
    assert set(step.needs) == {"a", "b", "c"}
    assert plan.blocked == ()
    assert replay(vehicle, placements, plan) == []
    # Without any one of them the other two come out one by one.
    for gone in range(3):
        rest = [placement for i, placement in enumerate(placements) if i != gone]
        freed = order(vehicle, rest)
        assert [len(step.needs) for step in freed.steps] == [1, 1]
        assert replay(vehicle, rest, freed) == []


def test_parts_beside_a_held_group_still_get_their_order() -> None:
    """A block on top of three that hold each other goes in last, by itself."""
    vehicle = hollow("wagon", 6, 6, 12)
    placements = [*pinwheel(), put("lid", part(Box((0, 0, 0), (8, 8, 8))), (20, 20, FLOOR + 20))]
    plan = order(vehicle, placements)
    assert [len(step.needs) for step in plan.steps] == [3, 1]
    assert plan.steps[1].need == "lid"
    assert replay(vehicle, placements, plan) == []


def two_rooms() -> tuple[Vehicle, list[Placement]]:
    made = hollow("wagon", 12, 6, 6)
    wall = BodySolid(Box((44, 8, FLOOR), (52, 40, FLOOR + 19.2)), "fixed")
    top = made.top
    openings = (
        Opening("front roof", Box((52, 8, top - 3.2), (88, 40, top)), "+z", often=False),
        Opening("rear roof", Box((8, 8, top - 3.2), (44, 40, top)), "+z", often=True),
    )
    vehicle = replace(made, body=(*made.body, wall), openings=openings)
    cube = part(Box((0, 0, 0), (8, 8, 8)))
    placements = [
        put(f"{side} {i}", cube, (x, 12, FLOOR + 8 * (i // 2)), on=f"{side} {i - 2}")
        for i, (side, x) in enumerate((("rear", 10), ("front", 60)) * 2)
    ]
    return vehicle, placements


def test_each_opening_is_opened_once_when_that_can_be() -> None:
    """Four cubes in two rooms under two roofs take two openings, not four."""
    vehicle, placements = two_rooms()
    plan = order(vehicle, placements)
    assert times_opened(plan) == 2
    assert replay(vehicle, placements, plan) == []


def test_a_lid_takes_its_own_bricks_along_but_not_what_is_built_in() -> None:
    """Bricks in the opening's box are off while it is open; something built in there is not."""
    vehicle = hollow("wagon", 8, 6, 6)
    placements = [put("block", part(Box((0, 0, 0), (20, 20, 8))), (12, 12, FLOOR))]
    assert len(order(vehicle, placements).steps) == 1
    roof = vehicle.openings[0].box
    bar = BuiltIn("bar", "bar", (Box((8, 20, roof.low[2]), (56, 24, roof.high[2])),))
    barred = replace(vehicle, built_in=(bar,))
    plan = order(barred, placements)
    assert plan.steps == ()
    assert "the body is in the way" in plan.blocked[0]


def test_a_brick_that_is_out_opens_the_way() -> None:
    """A beam across the roof keeps a block in; taken out by a rebuild, it does not."""
    beam = ("beam", Box((8, 20, 35), (56, 24, 38.4)), 1.0)
    vehicle = hollow("wagon", 8, 6, 6, removable=(beam,))
    placements = [put("block", part(Box((0, 0, 0), (40, 30, 8))), (12, 9, FLOOR))]
    kept_in = assembly_order(vehicle, placements)
    assert kept_in.steps == ()
    assert "the body is in the way" in kept_in.blocked[0]
    (step,) = assembly_order(vehicle, placements, removed=frozenset({"beam"})).steps
    assert step.vehicle == "wagon"
    assert step.moves == (("-z", pytest.approx(22.4)),)


def random_packing(seed: int) -> tuple[Vehicle, list[Placement]]:
    """Blocks, cylinders and L-shapes dropped at random places into a hollow wagon, none over another."""
    dice = random.Random(seed)
    vehicle = hollow("wagon", 9, 7, 14)
    free = np.zeros((56, 40, 45), dtype=bool)
    placements: list[Placement] = []
    for number in range(9):
        size = [dice.randint(4, 16) for _ in range(3)]
        kind = dice.choice(("box", "cylinder", "L"))
        made: Part
        if kind == "box":
            made = part(Box((0, 0, 0), (size[0], size[1], size[2])))
        elif kind == "cylinder":
            size[1] = size[2] = min(size[1], size[2])
            made = part(Cylinder("x", (0, size[1] / 2, size[1] / 2), size[0], size[1] / 2))
        else:
            made = part(Box((0, 0, 0), (size[0], size[1], 2)), Box((0, 0, 0), (2, size[1], size[2])))
        for _ in range(30):
            x, y, z = (dice.randrange(free.shape[i] - size[i] + 1) for i in range(3))
            spots = [slice(x, x + size[0]), slice(y, y + size[1]), slice(z, z + size[2])]
            if kind == "L":
                cells = np.zeros_like(free)
                cells[spots[0], spots[1], z : z + 2] = True
                cells[x : x + 2, spots[1], spots[2]] = True
            else:
                cells = np.zeros_like(free)
                cells[tuple(spots)] = True
            if not (free & cells).any():
                free |= cells
                placements.append(put(f"part {number}", made, (8 + x, 8 + y, FLOOR + z)))
                break
    return vehicle, placements


@pytest.mark.parametrize("seed", range(12))
def test_random_packings_are_taken_apart_and_replayed(seed: int) -> None:
    """Every order claimed for seeded packings is replayed by the checker; what is left in is named."""
    vehicle, placements = random_packing(seed)
    plan = order(vehicle, placements)
    assert replay(vehicle, placements, plan) == []
    stepped = {step.need for step in plan.steps}
    left = {placement.need for placement in placements} - stepped
    assert bool(left) == bool(plan.blocked)
    assert all(any(name in text for text in plan.blocked) for name in left)


def mirrored(vehicle: Vehicle, placement: Placement) -> Placement:
    """The same part seen in a mirror across the vehicle's length."""
    solids: list[Solid] = []
    for solid in (placement.place.move_solid(solid) for solid in placement.part.envelope):
        if isinstance(solid, Cylinder):
            x = vehicle.length - solid.start[0] - solid.length
            solids.append(replace(solid, start=(x, *solid.start[1:])))
        else:
            low, high = solid.bounds.low, solid.bounds.high
            solids.append(Box((vehicle.length - high[0], *low[1:]), (vehicle.length - low[0], *high[1:])))
    return put(placement.need, part(*solids), (0, 0, 0))


@pytest.mark.parametrize("seed", range(6))
def test_mirror_images_come_apart_alike(seed: int) -> None:
    """Seen in a mirror the same parts of a packing come out, and the same are held in."""
    vehicle, placements = random_packing(seed)
    image = [mirrored(vehicle, placement) for placement in placements]
    plan, other = order(vehicle, placements), order(vehicle, image)
    assert {step.need for step in plan.steps} == {step.need for step in other.steps}
    assert times_opened(plan) == times_opened(other)
    assert set(plan.blocked) == set(other.blocked)


def test_one_move_agrees_with_brute_force() -> None:
    """For seeded boxes, a part slides out upwards exactly when no box stands over it, asked unit by unit."""
    dice = random.Random(5)
    for _ in range(200):
        mover = [dice.randrange(0, 5) for _ in range(3)]
        own = (*mover, *(low + dice.randint(1, 4) for low in mover))
        others = []
        for _ in range(3):
            low = [dice.randrange(0, 9) for _ in range(3)]
            others.append((*low, *(value + dice.randint(1, 4) for value in low)))

        def meets(lift: int, box: tuple[int, ...], own: tuple[int, ...] = own) -> bool:
            at = (own[0], own[1], own[2] + lift, own[3], own[4], own[5] + lift)
            return all(at[i] < box[i + 3] and box[i] < at[i + 3] for i in range(3))

        free = not any(meets(lift, box) for lift in range(20) for box in others)
        moves = slide_out(forbidden_offsets(rows_of([own]), rows_of(others)), "+z", 20, 1)
        assert (moves is not None) is free


def slides_by_brute_force(own: tuple[int, ...], others: list[tuple[int, ...]], most: int) -> bool:
    """Breadth-first over single units, with at most so many straight moves, the last one upwards."""

    def meets(at: tuple[int, int, int]) -> bool:
        low = [own[i] + at[i] for i in range(3)]
        high = [own[i + 3] + at[i] for i in range(3)]
        return any(all(low[i] < box[i + 3] and box[i] < high[i] for i in range(3)) for box in others)

    if meets((0, 0, 0)):
        return False
    ways = [(1, 0, 0), (-1, 0, 0), (0, 1, 0), (0, -1, 0), (0, 0, 1), (0, 0, -1)]
    reached = {(0, 0, 0)}
    for number in range(most):
        if any(not any(meets((x, y, z + k)) for k in range(14)) for x, y, z in reached):
            return True
        if number == most - 1:
            break
        further = set(reached)
        for at in reached:
            for way in ways:
                here = at
                while True:
                    here = (here[0] + way[0], here[1] + way[1], here[2] + way[2])
                    if max(map(abs, here)) > 13 or meets(here):
                        break
                    further.add(here)
        reached = further
    return False


@pytest.mark.parametrize("most", [2, 3])
def test_several_moves_agree_with_brute_force(most: int) -> None:
    """For seeded boxes in a walled pit, two and three moves reach exactly what unit steps reach."""
    dice = random.Random(most)
    walls = [
        (-3, -3, -1, 9, 9, 0),
        (-3, -3, 0, 0, 9, 9),
        (6, -3, 0, 9, 9, 9),
        (-3, -3, 0, 9, 0, 9),
        (-3, 6, 0, 9, 9, 9),
    ]
    outcomes = set()
    for _ in range(60):
        low = [dice.randrange(0, 5) for _ in range(3)]
        own = (*low, *(min(value + dice.randint(1, 2), 6) for value in low))
        others = list(walls)
        for _ in range(5):
            spot = [dice.randrange(0, 5) for _ in range(3)]
            others.append((*spot, *(value + dice.randint(1, 3) for value in spot)))
        expected = slides_by_brute_force(own, others, most)
        found = slide_out(forbidden_offsets(rows_of([own]), rows_of(others)), "+z", 20, most)
        assert (found is not None) is expected
        outcomes.add(expected)
    assert outcomes == {True, False}


Cell = tuple[int, int, int]
STEPS = ((1, 0, 0), (-1, 0, 0), (0, 1, 0), (0, -1, 0), (0, 0, 1), (0, 0, -1))


def full_of_polycubes(seed: int, size: Cell = (4, 3, 3)) -> list[set[Cell]]:
    """A cavity cut at random into connected pieces of up to ten cells; some hold each other in."""
    dice = random.Random(seed)
    left = {(x, y, z) for x in range(size[0]) for y in range(size[1]) for z in range(size[2])}
    pieces: list[set[Cell]] = []
    while left:
        piece = {min(left)}
        for _ in range(dice.randint(3, 9)):
            edge = sorted(
                cell
                for x, y, z in piece
                for dx, dy, dz in STEPS
                if (cell := (x + dx, y + dy, z + dz)) in left - piece
            )
            if edge:
                piece.add(dice.choice(edge))
        pieces.append(piece)
        left -= piece
    return pieces


def lifts_out(piece: set[Cell], others: set[Cell], size: Cell) -> bool:
    """Whether a piece leaves an open box by at most two moves and a lift, tried cell by cell."""

    def free(at: Cell) -> bool:
        for x, y, z in ((x + at[0], y + at[1], z + at[2]) for x, y, z in piece):
            if (x, y, z) in others or z < 0:
                return False
            if z < size[2] and not (0 <= x < size[0] and 0 <= y < size[1]):
                return False
        return True

    reached = {(0, 0, 0)}
    for number in range(3):
        if any(all(free((x, y, z + lift)) for lift in range(size[2] + 1)) for x, y, z in reached):
            return True
        if number == 2:
            return False
        further = set(reached)
        for at in reached:
            for step in STEPS:
                here = at
                while free(here := (here[0] + step[0], here[1] + step[1], here[2] + step[2])):
                    if max(map(abs, here)) > size[2]:
                        break
                    further.add(here)
        reached = further
    return False


def polycubes(
    seed: int, size: Cell = (4, 3, 3)
) -> tuple[dict[str, set[Cell]], list[Placement], AssemblyPlan]:
    """A full cavity, its pieces as parts, and their order of assembly."""
    pieces = {f"piece {number}": cells for number, cells in enumerate(full_of_polycubes(seed, size))}
    vehicle = hollow("wagon", size[0] + 2, size[1] + 2, 9)  # 28.8 mm high: three cells of 8 mm and some air
    placements = [
        put(
            name,
            part(
                *(Box((8 * x, 8 * y, 8 * z), (8 * x + 8, 8 * y + 8, 8 * z + 8)) for x, y, z in sorted(cells))
            ),
            (8, 8, FLOOR),
        )
        for name, cells in pieces.items()
    ]
    plan = order(vehicle, placements)
    return pieces, placements, plan


@pytest.mark.parametrize("seed", range(16))
def test_full_cavities_of_polycubes_agree_with_brute_force(seed: int) -> None:
    """What is said to come out does, cell by cell and in the checker; what is held in does not."""
    size = (4, 3, 3)
    pieces, placements, plan = polycubes(seed, size)
    vehicle = hollow("wagon", size[0] + 2, size[1] + 2, 9)
    assert replay(vehicle, placements, plan) == []
    left = dict(pieces)
    for step in reversed(plan.steps):
        cells = set().union(*(left.pop(name) for name in step.needs))
        if step.together:
            assert not any(
                lifts_out(left_cells, cells.union(*left.values()) - left_cells, size)
                for left_cells in (pieces[name] for name in step.needs)
            )
        assert lifts_out(cells, set().union(*left.values()), size)
    for count in range(1, len(left) + 1):
        for names in itertools.combinations(left, count):
            cells = set().union(*(left[name] for name in names))
            others = set().union(*(other for key, other in left.items() if key not in names))
            assert not (lifts_out(cells, others, size) and comes_apart([left[name] for name in names]))
    assert all(any(name in text for text in plan.blocked) for name in left)
    assert bool(left) == bool(plan.blocked)


def comes_apart(pieces: list[set[Cell]]) -> bool:
    """Whether pieces slide off each other one after the other, each straight away, with nothing around."""
    if len(pieces) < 2:
        return True
    for number, piece in enumerate(pieces):
        rest = [other for i, other in enumerate(pieces) if i != number]
        taken = set().union(*rest)
        for dx, dy, dz in STEPS:
            if not any((x + i * dx, y + i * dy, z + i * dz) in taken for x, y, z in piece for i in range(9)):
                return comes_apart(rest)
    return False


def shaft(length: float, width: float, height: int) -> Vehicle:
    """A wagon whose cavity, from x = y = 8, is a shaft of the given size, open above."""
    made = hollow("wagon", 8, 8, height)
    low, high = FLOOR, made.openings[0].box.low[2]
    walls = (
        BodySolid(Box((8 + length, 8, low), (56, 56, high)), "fixed"),
        BodySolid(Box((8, 8 + width, low), (8 + length, 56, high)), "fixed"),
    )
    box = made.openings[0].box
    lid = Opening("roof", Box((8, 8, box.low[2]), (8 + length, 8 + width, box.high[2])), "+z")
    return replace(made, body=(*made.body, *walls), openings=(lid,))


def hooks() -> list[Placement]:
    """Two parts side by side, each with an arm over the foot of the other."""
    one = part(Box((0, 0, 0), (10, 10, 4)), Box((6, 0, 4), (10, 5, 12)), Box((6, 0, 12), (16, 5, 16)))
    two = part(Box((10, 0, 0), (20, 10, 4)), Box((10, 5, 4), (14, 10, 12)), Box((4, 5, 12), (14, 10, 16)))
    return [put("one", one, (8, 8, FLOOR)), put("two", two, (8, 8, FLOOR))]


def test_two_parts_that_hold_each_other_go_in_as_one() -> None:
    """In a shaft neither lifts alone: they are put together outside, then go down as one."""
    vehicle = shaft(20, 10, 12)
    plan = order(vehicle, hooks())
    (step,) = plan.steps
    assert set(step.needs) == {"one", "two"}
    assert [way for way, _ in step.moves] == ["-z"]
    (joined,) = step.together
    assert joined.moves[-1][0][1] in "xy"
    assert plan.blocked == ()
    assert replay(vehicle, hooks(), plan) == []
    alone = AssemblyPlan((replace(step, together=()),), (joined.need,))
    assert any(f"into {joined.need}" in text for text in replay(vehicle, hooks(), alone))
    wrong = AssemblyPlan((replace(step, together=(replace(joined, moves=(("+z", 30.0),)),)),), ())
    assert replay(vehicle, hooks(), wrong) != []


def test_a_part_on_two_that_go_in_as_one_goes_in_after_them() -> None:
    """What lies on top of one of the two comes out first and goes in last."""
    vehicle = shaft(20, 10, 16)
    placements = [*hooks(), put("lid", part(Box((0, 0, 0), (8, 8, 4))), (9, 9, FLOOR + 16), on="one")]
    plan = order(vehicle, placements)
    assert [len(step.needs) for step in plan.steps] == [2, 1]
    assert replay(vehicle, placements, plan) == []


def test_a_group_that_is_too_wide_for_the_opening_is_named() -> None:
    """Each hook alone passes a hatch of 17 mm; both as one are 20 mm wide: none comes out."""
    vehicle = shaft(20, 10, 12)
    box = vehicle.openings[0].box
    hatch = replace(vehicle.openings[0], box=Box(box.low, (25.0, *box.high[1:])))
    plan = order(replace(vehicle, openings=(hatch,)), hooks())
    assert plan.steps == ()
    assert plan.blocked == (
        "one and two hold each other in: by straight moves none comes out before another, nor as one",
        "two must come out before one can",
        "one must come out before two can",
    )
