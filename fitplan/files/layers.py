"""From layer drawings to boxes, as few as a simple merge gives."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import TypeAlias

from fitplan.model.solids import Box
from fitplan.model.vehicle import BodySolid, Layer, State
from fitplan.units import PLATE, STUD

Meaning: TypeAlias = tuple[State, str]
"""What a character stands for: the state, and the removable's name when the state is removable."""
_Patch: TypeAlias = tuple[Meaning, tuple[int, int, int, int]]
"""A rectangle of one meaning in half studs: first x and y, and those behind the last, from rear and right."""

DEFAULT_LEGEND: dict[str, Meaning] = {
    "#": ("fixed", ""),
    ".": ("free", ""),
    "-": ("outside", ""),
    "~": ("keep-clear", ""),
}
"""Characters that need no legend; a vehicle's own legend may give them another meaning."""


def body_of_layers(layers: Sequence[Layer], legend: Mapping[str, Meaning]) -> tuple[BodySolid, ...]:
    """Return boxes that fill each stud of each layer with the state that is drawn there.

    Boxes do not overlap. Studs of one meaning are merged to rectangles, and rectangles that lie exactly above
    each other in touching layers to one box.

    Parameters
    ----------
    layers
        Drawings from the bottom to the top, all rows of one length; the first row is the left side, the front
        is to the right.
    legend
        What each character stands for.
    """
    done: list[BodySolid] = []
    growing: dict[_Patch, tuple[float, float]] = {}
    smooth_tops = {round(layer.base + layer.plates * PLATE, 6) for layer in layers if layer.smooth}
    for layer in layers:
        top = round(layer.base + layer.plates * PLATE, 6)
        here: dict[_Patch, tuple[float, float]] = {}
        step = 1 if layer.halves else 2
        for meaning, cells in _patches(layer.rows, legend):
            x0, y0, x1, y1 = (step * value for value in cells)
            patch = (meaning, (x0, y0, x1, y1))
            low, high = growing.get(patch, (layer.base, layer.base))
            if high == layer.base:
                growing.pop(patch, None)
                here[patch] = (low, top)
            else:
                here[patch] = (layer.base, top)
        done.extend(_solid(patch, heights, smooth_tops) for patch, heights in growing.items())
        growing = here
    done.extend(_solid(patch, heights, smooth_tops) for patch, heights in growing.items())
    return tuple(sorted(done, key=lambda body: (body.solid.bounds.low[::-1], body.solid.bounds.high)))


def _solid(patch: _Patch, heights: tuple[float, float], smooth_tops: Collection[float]) -> BodySolid:
    (state, removable), (x0, y0, x1, y1) = patch
    half = STUD / 2
    box = Box((x0 * half, y0 * half, heights[0]), (x1 * half, y1 * half, heights[1]))
    # Studs stand on a solid's top alone, so the layer that ends there says whether it bears any.
    smooth = heights[1] in smooth_tops and state in ("fixed", "removable")
    return BodySolid(box, state, removable, smooth)


def _patches(
    rows: tuple[str, ...], legend: Mapping[str, Meaning]
) -> list[tuple[Meaning, tuple[int, int, int, int]]]:
    """Cut a drawing into rectangles of one meaning, in characters: from each corner the larger greedy one."""
    field = [[legend[character] for character in row] for row in reversed(rows)]
    taken = [[False] * len(row) for row in field]
    found: list[tuple[Meaning, tuple[int, int, int, int]]] = []
    for y, row in enumerate(field):
        for x, meaning in enumerate(row):
            if taken[y][x]:
                continue
            x1, y1 = max(
                (_grown(field, taken, x, y, lengthwise) for lengthwise in (True, False)),
                key=lambda end: (end[0] - x) * (end[1] - y),
            )
            for taken_row in taken[y:y1]:
                taken_row[x:x1] = [True] * (x1 - x)
            found.append((meaning, (x, y, x1, y1)))
    return found


def _grown(
    field: list[list[Meaning]], taken: list[list[bool]], x: int, y: int, lengthwise: bool
) -> tuple[int, int]:
    """Return the end of the rectangle that grows from a corner first one way and then the other."""
    meaning = field[y][x]

    def open_(x0: int, x1: int, y0: int, y1: int) -> bool:
        return all(field[j][i] == meaning and not taken[j][i] for j in range(y0, y1) for i in range(x0, x1))

    x1, y1 = x + 1, y + 1
    for along in (lengthwise, not lengthwise):
        if along:
            while x1 < len(field[y]) and open_(x1, x1 + 1, y, y1):
                x1 += 1
        else:
            while y1 < len(field) and open_(x, x1, y1, y1 + 1):
                y1 += 1
    return x1, y1
