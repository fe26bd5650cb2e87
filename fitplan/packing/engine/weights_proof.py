"""Proof by weights: weigh each cell of the cavity, and compare what the items cover with what is there.

Where every item covers at least its own least weight wherever it lies, and these least weights add up to
more than all the cells hold together, the items cannot be packed.  Colourings in two colours, counts of
cells by residues, and the argument that a harmonic brick fills only multiples of itself (de Bruijn, *Filling
boxes with bricks*, Amer. Math. Monthly 76, 1969, 37–40) are of this kind.  The weights here depend on the
residues of a cell's coordinates; a linear programme finds them, and they are then turned into whole numbers
and summed exactly, so that nothing rests on the programme's arithmetic.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Generator, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from fitplan.packing.engine.problem import Proof
from fitplan.packing.engine.search_fill import FillProblem

MOST_CELLS = 64_000
MOST_COLUMNS = 4_000
MODULI = (2, 3, 4, 5, 6)


@dataclass(frozen=True)
class Weights:
    """A weighting by residues that proves that items cannot be packed.

    ``values`` is ``(modulus, modulus, modulus) int64``; ``least`` is the least weight of each kind of item,
    ``need`` what all items cover at least, ``room`` what all free cells weigh.
    """

    modulus: int
    values: NDArray[np.int64]
    least: tuple[int, ...]
    need: int
    room: int


Steps: TypeAlias = Generator[int, None, "Weights | None"]
"""Yields steps that were done, a little at a time, and returns what was found."""

PIVOT_SHARE = 4
"""Numbers of a table that are worked through in one step."""


def weights_proof(plain: FillProblem, moduli: Sequence[int] = MODULI) -> Proof | None:
    """Return a proof by weights that plain blocks do not fit, or None when none was found."""
    return next((found for found in weights_search(plain, moduli) if isinstance(found, Proof)), None)


def weights_search(plain: FillProblem, moduli: Sequence[int] = MODULI) -> Iterator[int | Proof]:
    """Look for a proof by weights a little at a time: yields the steps just done, and the proof when found."""
    if math.prod(plain.size) > MOST_CELLS:
        return
    free = free_cells(plain)
    counts = [len(kind.names) for kind in plain.kinds]
    longest = max(max(block) for block in plain.blocks)
    for modulus in moduli:
        if modulus > longest:
            continue
        found = yield from find_weights(free, plain.blocks, counts, modulus)
        if found is not None and _holds(free, plain.blocks, counts, found):
            text = (
                "Give the cell at (x, y, z) a whole weight by the remainders of x, y and z "
                f"divided by {modulus}. "
                f"Wherever they lie, the {sum(counts)} items cover at least {found.need}; "
                f"all free cells together weigh {found.room}."
            )
            ways = (
                "least weights summed over the residues of every pose",
                "least weights summed cell by cell over every place in the cavity",
            )
            yield Proof("weights", text, ways, tuple(name for kind in plain.kinds for name in kind.names))
            return


def free_cells(plain: FillProblem) -> NDArray[np.bool_]:
    """Return the unit cells of the cavity, ``(x, y, z) bool``, True where free."""
    free = np.ones(plain.size, dtype=bool)
    for x0, y0, z0, x1, y1, z1 in plain.obstacles:
        free[x0:x1, y0:y1, z0:z1] = False
    return free


def find_weights(
    free: NDArray[np.bool_], blocks: list[tuple[int, ...]], counts: list[int], modulus: int
) -> Steps:
    """Look for weights by residues that prove that the blocks cannot be packed."""
    residues = np.indices(free.shape) % modulus
    classes = (residues[0] * modulus + residues[1]) * modulus + residues[2]
    room = np.bincount(classes[free], minlength=modulus**3)
    columns: list[tuple[int, NDArray[np.int64]]] = []
    for kind, block in enumerate(blocks):
        vectors: set[bytes] = set()
        for turned in sorted(set(itertools.permutations(block))):
            yield 4 * free.size
            where = np.argwhere(_places(free, turned)) % modulus
            for start in np.unique(where, axis=0) if len(where) else ():
                vectors.add(_class_counts(start.tolist(), turned, modulus).tobytes())
        columns += [(kind, np.frombuffer(vector, dtype=np.int64)) for vector in sorted(vectors)]
    if not columns or len(columns) > MOST_COLUMNS:
        return None
    matrix = np.zeros((len(blocks) + modulus**3, len(columns)))
    for place, (kind, vector) in enumerate(columns):
        matrix[kind, place] = 1
        matrix[len(blocks) :, place] = vector
    limits = np.concatenate([counts, room]).astype(float)
    prices = yield from _dual(matrix, limits)
    if prices is None or prices @ limits > sum(counts) - 1e-7:
        return None
    # Turn the prices into small whole numbers; the sums below are exact whatever was rounded.
    for scale in _scales(prices[len(blocks) :]):
        values = np.rint(prices[len(blocks) :] * scale).astype(np.int64)
        least = tuple(
            min(int(values @ vector) for kind, vector in columns if kind == wanted)
            for wanted in range(len(blocks))
        )
        need = sum(count * weight for count, weight in zip(counts, least, strict=True))
        if need > int(values @ room):
            return Weights(modulus, values.reshape((modulus,) * 3), least, need, int(values @ room))
    return None


def _places(free: NDArray[np.bool_], block: tuple[int, ...]) -> NDArray[np.bool_]:
    """Return where the low corner of a block may lie, ``(x, y, z) bool``."""
    if any(edge > length for edge, length in zip(block, free.shape, strict=True)):
        return np.zeros((0, 0, 0), dtype=bool)
    sums = _window_sums(free.astype(np.int64), block)
    return np.asarray(sums == math.prod(block))


def _window_sums(values: NDArray[np.int64], block: tuple[int, ...]) -> NDArray[np.int64]:
    sums = np.pad(values, ((1, 0), (1, 0), (1, 0))).cumsum(0).cumsum(1).cumsum(2)
    for axis, edge in enumerate(block):
        upper = np.take(sums, range(edge, sums.shape[axis]), axis=axis)
        sums = upper - np.take(sums, range(sums.shape[axis] - edge), axis=axis)
    return sums


def _class_counts(start: list[int], block: tuple[int, ...], modulus: int) -> NDArray[np.int64]:
    lines = [
        np.bincount((start[axis] + np.arange(block[axis])) % modulus, minlength=modulus) for axis in range(3)
    ]
    counts: NDArray[np.int64] = np.einsum("i,j,k->ijk", *lines).astype(np.int64).ravel()
    return counts


def _scales(prices: NDArray[np.float64]) -> list[int]:
    bottoms = [Fraction(float(price)).limit_denominator(64).denominator for price in prices]
    exact = math.lcm(*bottoms)
    return [scale for scale in dict.fromkeys((exact, 12, 60, 840, 10_000)) if scale <= 1_000_000]


def _holds(free: NDArray[np.bool_], blocks: list[tuple[int, ...]], counts: list[int], found: Weights) -> bool:
    """Confirm weights a second way: every place in the cavity, cell by cell, in whole numbers."""
    x, y, z = np.indices(free.shape) % found.modulus
    field = np.where(free, found.values[x, y, z], 0)
    if bool((field < 0).any()):
        return False
    need = 0
    for block, count in zip(blocks, counts, strict=True):
        least: list[int] = []
        for turned in sorted(set(itertools.permutations(block))):
            where = _places(free, turned)
            if where.any():
                least.append(int(_window_sums(field, turned)[where].min()))
        if not least:
            return True
        need += count * min(least)
    return need > int(field.sum())


def _dual(
    matrix: NDArray[np.float64], limits: NDArray[np.float64]
) -> Generator[int, None, NDArray[np.float64] | None]:
    """Return the prices of ``max sum(x), matrix x <= limits, x >= 0`` by the simplex method.

    The largest reduced cost enters; after a while the least index does (Bland 1977), which cannot cycle.
    """
    rows, columns = matrix.shape
    table = np.hstack([matrix, np.eye(rows), limits[:, None]])
    costs = np.concatenate([-np.ones(columns), np.zeros(rows + 1)])
    basis = list(range(columns, columns + rows))
    for turn in range(3_000):
        yield 10_000 + table.size // PIVOT_SHARE
        reduced = costs[:-1]
        if turn < 1_000:
            enter = int(np.argmin(reduced))
        else:
            negative = np.flatnonzero(reduced < -1e-9)
            enter = int(negative[0]) if len(negative) else int(np.argmin(reduced))
        if reduced[enter] > -1e-9:
            return np.asarray(np.maximum(costs[columns : columns + rows], 0.0))
        column = table[:, enter]
        usable = column > 1e-9
        if not usable.any():
            return None
        ratios = np.full(rows, np.inf)
        ratios[usable] = table[usable, -1] / column[usable]
        least = ratios.min()
        leave = min(np.flatnonzero(ratios <= least + 1e-12).tolist(), key=lambda row: basis[row])
        table[leave] /= table[leave, enter]
        for row in np.flatnonzero(np.abs(table[:, enter]) > 1e-12).tolist():
            if row != leave:
                table[row] -= table[row, enter] * table[leave]
        costs -= costs[enter] * table[leave]
        basis[leave] = enter
    return None
