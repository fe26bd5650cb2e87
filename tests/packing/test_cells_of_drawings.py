"""Cells of layer drawings: each is what its letter says, and boxes of cells hold just those cells."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from fitplan.files.layers import DEFAULT_LEGEND, body_of_layers
from fitplan.model.solids import Box, Vec
from fitplan.model.vehicle import BodySolid, BuiltIn, Layer, Removable, Vehicle
from fitplan.packing.vehicle.stud_cells import (
    BRICK,
    CLEAR,
    HARD,
    OUTSIDE,
    REMOVABLE,
    StudCells,
    without_bricks,
)
from fitplan.units import PLATE, STUD
from tests.packing.small_trains import hollow

BASE, LONG, WIDE = 16.0, 6, 4
MEANINGS = {**DEFAULT_LEGEND, "g": ("removable", "grille")}
KINDS = {"#": BRICK, ".": CLEAR, "g": REMOVABLE, "-": OUTSIDE, "~": HARD}
LETTERS = [letter for letter in KINDS if letter in MEANINGS]


def drawn(dice: random.Random, heights: tuple[int, ...]) -> Vehicle:
    """A vehicle of layers so many plates high, with a letter drawn by lot for each stud."""
    layers, base = [], BASE
    for n, plates in enumerate(heights):
        rows = tuple("".join(dice.choice(LETTERS) for _ in range(LONG)) for _ in range(WIDE))
        layers.append(Layer(f"layer {n}", base, plates, rows))
        base += plates * PLATE
    return replace(
        hollow("v", LONG, WIDE, 4),
        base=BASE,
        top=base,
        layers=tuple(layers),
        body=body_of_layers(layers, MEANINGS),
        removables=(Removable("grille", 1.0),),
        openings=(),
        ports=(),
    )


def letters(vehicle: Vehicle) -> dict[tuple[int, int, int], str]:
    """Each cell's letter; rows are drawn from the left side, the last row along y = 0."""
    found, k = {}, 0
    for layer in vehicle.layers:
        for level in range(layer.plates):
            for j, row in enumerate(reversed(layer.rows)):
                for i, letter in enumerate(row):
                    found[i, j, k + level] = letter
        k += layer.plates
    return found


@pytest.mark.parametrize("seed", range(6))
def test_each_cell_is_what_its_letter_says(seed: int) -> None:
    """But bricks of the lowest plate, which stay."""
    vehicle = drawn(random.Random(seed), ((1, 3, 1), (2, 2), (1, 1, 1, 3))[seed % 3])
    cells = StudCells.of(vehicle)
    assert cells is not None
    there = letters(vehicle)
    assert cells.kinds.shape == (LONG, WIDE, max(k for *_, k in there) + 1)
    for at, letter in there.items():
        kind = HARD if letter == "#" and at[2] == 0 else KINDS[letter]
        assert cells.kinds[at] == kind, (at, letter)
        assert cells.names[at] == ("grille" if letter == "g" else "")


@pytest.mark.parametrize(("over", "more"), [(-3.2, 0), (0.0, 0), (0.1, 1), (3.2, 1), (3.3, 2), (9.6, 3)])
def test_over_an_open_deck_loads_have_cells_of_their_own(over: float, more: int) -> None:
    vehicle = drawn(random.Random(1), (1, 3))
    cells = StudCells.of(replace(vehicle, load_top=vehicle.top + over))
    assert cells is not None
    assert cells.kinds.shape[2] == 4 + more


def test_layers_with_a_gap_between_have_no_cells() -> None:
    vehicle = drawn(random.Random(1), (1, 3))
    first, second = vehicle.layers
    assert StudCells.of(replace(vehicle, layers=(first, replace(second, base=second.base + PLATE)))) is None
    assert StudCells.of(replace(vehicle, layers=())) is None
    assert StudCells.of(replace(vehicle, layers=(second, first))) is not None


@pytest.mark.parametrize("built_in", [False, True])
def test_bricks_that_something_else_stands_in_stay(built_in: bool) -> None:
    """A motor, or a solid drawn beside the layers, within one stud of the second plate."""
    letter = (
        Layer("floor", BASE, 1, ("#" * LONG,) * WIDE),
        Layer("wall", BASE + PLATE, 3, ("#" * LONG,) * WIDE),
    )
    plain = drawn(random.Random(1), (1, 3))
    plain = replace(plain, layers=letter, body=body_of_layers(letter, MEANINGS))
    box = Box((9.0, 9.0, BASE + PLATE + 0.5), (12.0, 15.0, BASE + PLATE + 3.0))
    motor = BuiltIn("motor", "motor", (box,))
    made = (
        replace(plain, built_in=(motor,))
        if built_in
        else replace(plain, body=(*plain.body, BodySolid(box, "fixed")))
    )
    cells = StudCells.of(made)
    assert cells is not None
    hard = {tuple(at) for at in zip(*(cells.kinds == HARD).nonzero(), strict=True)}
    assert {at for at in hard if at[2] > 0} == {(1, 1, 1)}


@pytest.mark.parametrize("seed", range(5))
def test_boxes_hold_just_the_cells_that_they_are_made_of(seed: int) -> None:
    """Each cell's middle is in one box, and no box is larger than its cells together."""
    dice = random.Random(seed)
    cells = StudCells.of(drawn(random.Random(1), (1, 3, 1)))
    assert cells is not None
    every = [(i, j, k) for i in range(LONG) for j in range(WIDE) for k in range(5)]
    chosen = frozenset(dice.sample(every, 45))
    boxes = cells.boxes(chosen)
    for at in every:
        x, y, z = ((at[0] + 0.5) * STUD, (at[1] + 0.5) * STUD, BASE + (at[2] + 0.5) * PLATE)
        held = sum(
            all(a < v < b for a, v, b in zip(box.low, (x, y, z), box.high, strict=True)) for box in boxes
        )
        assert held == (at in chosen)
    assert sum(box.volume for box in boxes) == pytest.approx(45 * STUD * STUD * PLATE)
    whole = cells.boxes(frozenset(every))
    assert len(whole) == 1
    corner: Vec = (LONG * STUD, WIDE * STUD, BASE + 5 * PLATE)
    assert whole[0] == Box((0.0, 0.0, BASE), corner)


def test_without_some_bricks_their_cells_are_clear_and_what_is_drawn_in_stays() -> None:
    letter = (
        Layer("floor", BASE, 1, ("#" * LONG,) * WIDE),
        Layer("wall", BASE + PLATE, 3, ("#" * LONG,) * WIDE),
    )
    plain = drawn(random.Random(1), (1, 3))
    solid = BodySolid(Box((9.0, 9.0, BASE + PLATE + 0.5), (12.0, 15.0, BASE + PLATE + 3.0)), "fixed")
    plain = replace(plain, layers=letter, body=(*body_of_layers(letter, MEANINGS), solid))
    cells = StudCells.of(plain)
    assert cells is not None
    gone = cells.boxes(frozenset({(4, 2, 2), (4, 2, 3), (1, 1, 2)}))
    made = without_bricks(plain, gone)
    assert made.body[-1] == solid
    after = StudCells.of(made)
    assert after is not None
    clear = {tuple(at) for at in zip(*(after.kinds == CLEAR).nonzero(), strict=True)}
    assert clear == {(4, 2, 2), (4, 2, 3), (1, 1, 2)}


def test_a_loose_brick_drawn_as_a_solid_may_come_out() -> None:
    """A removable brick that ends within a layer: its whole cells come out by its name, a fixed one never."""
    rows = ("#" * LONG,) * WIDE
    layers = (Layer("frame", BASE, 1, rows), Layer("wall", BASE + PLATE, 3, rows))
    brick = Box((STUD, STUD, BASE + PLATE), (2 * STUD, 2 * STUD, BASE + 3 * PLATE))
    plain = replace(
        hollow("v", LONG, WIDE, 4),
        base=BASE,
        top=BASE + 4 * PLATE,
        layers=layers,
        removables=(Removable("grille", 1.0),),
        openings=(),
        ports=(),
    )
    for solid, kind, name in (
        (BodySolid(brick, "removable", "grille"), REMOVABLE, "grille"),
        (BodySolid(brick, "fixed"), HARD, ""),
    ):
        cells = StudCells.of(replace(plain, body=(*body_of_layers(layers, MEANINGS), solid)))
        assert cells is not None
        for k in (1, 2):
            assert (cells.kinds[1, 1, k], cells.names[1, 1, k]) == (kind, name)
        assert cells.kinds[1, 1, 3] == BRICK
        assert cells.kinds[2, 1, 1] == BRICK
