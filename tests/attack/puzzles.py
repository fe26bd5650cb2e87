"""An attack on the exact engine: puzzles on a small grid against an integer program of a general solver.

Half of the puzzles are cut from a box, so they can be solved; in the other half an edge of one piece is a
step longer, or a cell more is shut, so that many cannot. Pieces are one box or two; some keep a room clear,
and all may be turned. The model has one 0-or-1 variable for each place of each piece, at most one piece in
each cell, and in each cell that a piece keeps clear no other; HiGHS (in scipy) solves it. It shares nothing
with the engine but the puzzle.

    python -m tests.attack.puzzles [COUNT]
"""

from __future__ import annotations

import itertools
import random
import sys
from collections import Counter
from dataclasses import dataclass

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csr_array

from fitplan.packing.engine.placement_check import check_placement
from fitplan.packing.engine.problem import IntBox, Item, ItemClearance, PackingProblem, Shape, Space, Variant
from fitplan.packing.engine.solve import solve
from tests.packing.engine_cases import cut

Cell = tuple[int, int, int]


@dataclass(frozen=True)
class Piece:
    """A piece: its solid cells, and cells that no other piece may take."""

    solid: tuple[IntBox, ...]
    clear: tuple[IntBox, ...]


@dataclass(frozen=True)
class Puzzle:
    """A box of cells, of which some are shut, and the pieces that are to go in."""

    size: Cell
    shut: tuple[IntBox, ...]
    pieces: tuple[Piece, ...]


def make_puzzle(seed: int) -> Puzzle:
    """Draw a puzzle."""
    dice = random.Random(seed)
    nx, ny, nz = (dice.randint(3, 5) for _ in range(3))
    whole: IntBox = (0, 0, 0, nx, ny, nz)
    boxes = cut([whole], dice.randint(4, 8), dice, least=1)
    dice.shuffle(boxes)
    shut = [boxes.pop() for _ in range(dice.randint(0, 2))]
    void = boxes.pop() if dice.random() < 0.6 else None
    pieces = []
    for box in boxes:
        edges = [box[axis + 3] - box[axis] for axis in range(3)]
        dice.shuffle(edges)
        pieces.append([edges])
    if dice.random() < 0.5:  # a step too much somewhere
        if void is None and dice.random() < 0.4:
            x, y, z = (dice.randrange(n) for n in (nx, ny, nz))
            shut.append((x, y, z, x + 1, y + 1, z + 1))
        else:
            dice.choice(pieces)[0][dice.randrange(3)] += 1
    return Puzzle((nx, ny, nz), tuple(shut), tuple(_piece(edges[0], dice) for edges in pieces))


def _piece(edges: list[int], dice: random.Random) -> Piece:
    x, y, z = edges
    solid: list[IntBox] = [(0, 0, 0, x, y, z)]
    if max(x, y) >= 2 and dice.random() < 0.3:  # a corner is taken off, which leaves two boxes
        notch = dice.randint(1, max(x, y) - 1)
        solid = (
            [(0, 0, 0, notch, y, z), (0, 0, 0, x, y, max(1, z - 1))]
            if x >= y
            else [(0, 0, 0, x, notch, z), (0, 0, 0, x, y, max(1, z - 1))]
        )
    clear: list[IntBox] = [(x, 0, 0, x + 1, y, z)] if dice.random() < 0.15 else []
    return Piece(tuple(solid), tuple(clear))


def _turned(box: IntBox, order: tuple[int, ...], signs: tuple[int, ...]) -> IntBox:
    low, high = [], []
    for axis in range(3):
        one, other = signs[axis] * box[order[axis]], signs[axis] * box[order[axis] + 3]
        low.append(min(one, other))
        high.append(max(one, other))
    return (low[0], low[1], low[2], high[0], high[1], high[2])


def turns(piece: Piece) -> list[Piece]:
    """Return a piece in all its different poses: proper turns only, no mirror images."""
    found = []
    for order in itertools.permutations(range(3)):
        even = order in ((0, 1, 2), (1, 2, 0), (2, 0, 1))
        for signs in itertools.product((1, -1), repeat=3):
            if (np.prod(signs) == 1) != even:
                continue
            low = [min(_turned(box, order, signs)[axis] for box in piece.solid) for axis in range(3)]
            moved = [
                tuple(
                    (b[0] - low[0], b[1] - low[1], b[2] - low[2], b[3] - low[0], b[4] - low[1], b[5] - low[2])
                    for b in (_turned(box, order, signs) for box in boxes)
                )
                for boxes in (piece.solid, piece.clear)
            ]
            found.append(Piece(moved[0], moved[1]))
    return list(dict.fromkeys(found))


def asked(puzzle: Puzzle) -> PackingProblem:
    """Return a puzzle as the engine is asked."""
    nx, ny, nz = puzzle.size
    items = []
    for number, piece in enumerate(puzzle.pieces):
        variants = tuple(
            Variant(
                str(k),
                Shape(pose.solid, tuple(ItemClearance(box) for box in pose.clear)),
                ((-9, -9, -9, 9, 9, 9),),
            )
            for k, pose in enumerate(turns(piece))
        )
        items.append(Item(f"piece {number}", variants))
    return PackingProblem((Space((0, 0, 0, nx, ny, nz), puzzle.shut),), tuple(items))


def _cells(boxes: tuple[IntBox, ...], at: Cell = (0, 0, 0)) -> set[Cell]:
    return {
        (x + at[0], y + at[1], z + at[2])
        for b in boxes
        for x in range(b[0], b[3])
        for y in range(b[1], b[4])
        for z in range(b[2], b[5])
    }


def can_be_solved(puzzle: Puzzle, seconds: float = 60.0) -> bool | None:
    """Return what the integer program says; None where the solver does not end in time."""
    nx, ny, nz = puzzle.size
    inside = _cells(((0, 0, 0, nx, ny, nz),))
    shut = _cells(puzzle.shut)
    places: list[tuple[int, set[Cell], set[Cell]]] = []
    for number, piece in enumerate(puzzle.pieces):
        for pose in turns(piece):
            for at in itertools.product(range(nx), range(ny), range(nz)):
                solid = _cells(pose.solid, at)
                clear = _cells(pose.clear, at) - solid
                if solid <= inside - shut and not clear & shut:
                    places.append((number, solid, clear & inside))
    if len({number for number, _, _ in places}) < len(puzzle.pieces):
        return False
    rows: list[tuple[list[int], list[float], float, float]] = []
    for number in range(len(puzzle.pieces)):
        own = [k for k, place in enumerate(places) if place[0] == number]
        rows.append((own, [1.0] * len(own), 1.0, 1.0))
    keeping = {number for number, _, clear in places if clear}
    for cell in inside - shut:
        lies = [k for k, (_, solid, _) in enumerate(places) if cell in solid]
        rows.append((lies, [1.0] * len(lies), 0.0, 1.0))
        for number in keeping:  # a kept cell is shared with other kept rooms, with no other piece
            kept = [k for k, place in enumerate(places) if place[0] == number and cell in place[2]]
            others = [k for k in lies if places[k][0] != number]
            if kept and others:
                rows.append((kept + others, [1.0] * (len(kept) + len(others)), 0.0, 1.0))
    where = [(r, k) for r, row in enumerate(rows) for k in row[0]]
    values = [value for row in rows for value in row[1]]
    grid = csr_array((values, ([r for r, _ in where], [k for _, k in where])), shape=(len(rows), len(places)))
    result = milp(
        np.zeros(len(places)),
        integrality=np.ones(len(places)),
        bounds=Bounds(0, 1),
        constraints=LinearConstraint(grid, [row[2] for row in rows], [row[3] for row in rows]),
        options={"time_limit": seconds},
    )
    return {0: True, 2: False}.get(int(result.status))


def attack(seed: int) -> tuple[str, str, list[str]]:
    """Return the engine's verdict, the model's, and what contradicts."""
    puzzle = make_puzzle(seed)
    problem = asked(puzzle)
    answer = solve(problem)
    model = can_be_solved(puzzle)
    bad = []
    if answer.status == "fits":
        bad += check_placement(problem, answer.placements)
        bad += ["is solved, and the model says that it cannot be"] if model is False else []
    elif answer.status == "cannot_fit":
        bad += ["is refuted, and the model solves it"] if model else []
        confirmed = answer.proof.confirmations if answer.proof is not None else ()
        bad += ["is refuted without a second confirmation"] if len(confirmed) < 2 else []
    return answer.status, {True: "solved", False: "refuted", None: "open"}[model], bad


def main(count: int) -> int:
    """Attack with so many puzzles and print the table; return the number of contradictions."""
    table: Counter[tuple[str, str]] = Counter()
    contradictions = 0
    for seed in range(count):
        engine, model, bad = attack(seed)
        table[engine, model] += 1
        contradictions += len(bad)
        for text in bad:
            print(f"puzzle {seed}: {text}", flush=True)
    print(f"{'engine':14}{'model: solved':>14}{'refuted':>10}{'open':>8}")
    for engine in ("fits", "cannot_fit", "not_decided"):
        row = [table[engine, model] for model in ("solved", "refuted", "open")]
        print(f"{engine.replace('_', ' '):14}{row[0]:14}{row[1]:10}{row[2]:8}")
    undecided = sum(n for (engine, _), n in table.items() if engine == "not_decided")
    print(f"{count} puzzles: contradictions {contradictions}; undecided {undecided / count:.1%}")
    return contradictions


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 400) > 0)
