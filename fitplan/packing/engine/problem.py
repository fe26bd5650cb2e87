"""What the exact engine is asked and what it answers, in whole numbers of any unit.

The engine knows no trains: a *space* is a hull with obstacles, an *item* is one thing to be placed in one
of several *variants* (a turned pose with the offsets that it may take).  Everything is a union of boxes
``(x0, y0, z0, x1, y1, z1)`` with whole-number corners, so that "overlaps" has one exact meaning: two boxes
overlap when they share an interior point; faces that touch do not.  The bridge from trains uses tenths of
a millimetre; puzzles use their own unit.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, fields
from functools import cached_property
from typing import Literal, TypeAlias

import numpy as np
from numpy.typing import NDArray

IntBox: TypeAlias = tuple[int, int, int, int, int, int]
"""``(x0, y0, z0, x1, y1, z1)``; solid boxes have positive edges, boxes of offsets may be flat or a point."""

Offset: TypeAlias = tuple[int, int, int]

Status: TypeAlias = Literal["fits", "cannot_fit", "not_decided"]


@dataclass(frozen=True)
class ItemClearance:
    """Room that an item needs beyond its envelope.

    It must stay clear of other items' envelopes, and of obstacles when ``clear_of_obstacles``; it may
    overlap other clearances and may reach outside the hull.
    """

    box: IntBox
    clear_of_obstacles: bool = True


@dataclass(frozen=True)
class Shape:
    """A union of solid boxes (which may overlap one another) with clearances, in one turned pose."""

    solid: tuple[IntBox, ...]
    clearances: tuple[ItemClearance, ...] = ()

    def __hash__(self) -> int:
        """Return a hash that is worked out once: a shape is asked about again and again."""
        return self._hash

    def __getstate__(self) -> dict[str, object]:
        """Return what another process gets, where all is worked out anew."""
        return {"solid": self.solid, "clearances": self.clearances}

    @cached_property
    def _hash(self) -> int:
        return hash((self.solid, self.clearances))

    @cached_property
    def bounds(self) -> IntBox:
        """Smallest box around the solid boxes."""
        return bounds_of(self.solid)


@dataclass(frozen=True)
class Variant:
    """One way in which an item may lie.

    Attributes
    ----------
    key
        Names the pose to the caller; the engine hands it back.
    shape
        The turned shape at the origin.
    domain
        Allowed offsets: a union of closed boxes, often flat, a line or a point.  The hull of the space
        restricts them further, so a domain may be generous (see `anywhere`).
    space
        Index into `PackingProblem.spaces`.
    cost
        Variants of lower cost are tried first; the sum of costs is kept low but not proved least.
    """

    key: str
    shape: Shape
    domain: tuple[IntBox, ...]
    space: int = 0
    cost: int = 0


@dataclass(frozen=True)
class Item:
    """One thing to be placed; items whose variants are equal are recognised as identical."""

    name: str
    variants: tuple[Variant, ...]


@dataclass(frozen=True)
class Space:
    """Room to place things in: inside the hull and outside the obstacles (which may overlap each other).

    Attributes
    ----------
    walls
        What clearances must keep off; None: all obstacles. Open air within the hull that no solid may enter
        is an obstacle and no wall.

    Raises
    ------
    ValueError
        When the hull or an obstacle has no volume.
    """

    hull: IntBox
    obstacles: tuple[IntBox, ...] = ()
    name: str = ""
    walls: tuple[IntBox, ...] | None = None

    def __post_init__(self) -> None:
        _expect_volume("hull", self.hull)
        for box in (*self.obstacles, *(self.walls or ())):
            _expect_volume("obstacle", box)

    def __hash__(self) -> int:
        """Return a hash that is worked out once: a space is asked about again and again."""
        return self._hash

    def __getstate__(self) -> dict[str, object]:
        """Return what another process gets, where the same words have other hashes."""
        return {one.name: getattr(self, one.name) for one in fields(self)}

    @cached_property
    def _hash(self) -> int:
        return hash((self.hull, self.obstacles, self.name, self.walls))

    @property
    def off_limits(self) -> tuple[IntBox, ...]:
        """What clearances must keep off."""
        return self.obstacles if self.walls is None else self.walls

    @cached_property
    def obstacle_rows(self) -> NDArray[np.int32]:
        """The obstacles, (n, 6)."""
        return np.array(self.obstacles, dtype=np.int32).reshape(-1, 6)

    @cached_property
    def off_limits_rows(self) -> NDArray[np.int32]:
        """What clearances must keep off, (n, 6)."""
        return np.array(self.off_limits, dtype=np.int32).reshape(-1, 6)


@dataclass(frozen=True)
class PackingProblem:
    """Spaces and all the items that must go into them together.

    Raises
    ------
    ValueError
        When names repeat, a solid box has no volume, a domain box is turned inside out, or a
        variant names a space that is not there.
    """

    spaces: tuple[Space, ...]
    items: tuple[Item, ...]

    def __post_init__(self) -> None:
        names = [item.name for item in self.items]
        if len(set(names)) != len(names):
            raise ValueError("two items share a name")
        for item in self.items:
            for variant in item.variants:
                if not 0 <= variant.space < len(self.spaces):
                    raise ValueError(f"{item.name}: no space {variant.space}")
                if not variant.shape.solid:
                    raise ValueError(f"{item.name}: a shape needs a solid box")
                for box in variant.shape.solid:
                    _expect_volume(item.name, box)
                for clearance in variant.shape.clearances:
                    _expect_volume(item.name, clearance.box)
                if any(box[i] > box[i + 3] for box in variant.domain for i in range(3)):
                    raise ValueError(f"{item.name}: a domain box is turned inside out")

    def only(self, names: Iterable[str]) -> PackingProblem:
        """Return the problem with just the named items."""
        wanted = set(names)
        return PackingProblem(self.spaces, tuple(item for item in self.items if item.name in wanted))


@dataclass(frozen=True)
class Placed:
    """Where one item lies: which of its variants, and the offset of that variant's shape."""

    variant: int
    offset: Offset


@dataclass(frozen=True)
class Proof:
    """Why nothing fits.

    Attributes
    ----------
    kind
        Short name of the argument: ``no place``, ``volume``, ``weights``, ``search`` …
    text
        The argument in one or two plain sentences.
    confirmations
        The independent ways in which it was confirmed, each as a phrase; never empty in an answer that
        says *cannot fit*.
    items
        Names of the items that the argument speaks of (they need not be a smallest set; see `explain`).
    """

    kind: str
    text: str
    confirmations: tuple[str, ...]
    items: tuple[str, ...] = ()


@dataclass(frozen=True)
class Answer:
    """What the engine found.

    Attributes
    ----------
    status
        ``fits`` with ``placements`` that the independent checker passed; ``cannot_fit`` with a confirmed
        ``proof``; ``not_decided`` with the ``gap``.
    placements
        Item name to place, for all items; empty unless it fits.
    gap
        For *not decided*: what is left open, in one sentence.
    unconfirmed
        For *not decided*: a proof that no second way has confirmed yet.
    best
        For *not decided*: the most items placed together that were found, as places.
    steps
        Work done by each search, by name: the same in every run that comes to the same verdict.
    work
        Steps of the budget that it took.
    late
        Whether it is open because a deadline was reached.
    """

    status: Status
    placements: Mapping[str, Placed] = field(default_factory=dict)
    proof: Proof | None = None
    gap: str = ""
    unconfirmed: Proof | None = None
    best: Mapping[str, Placed] = field(default_factory=dict)
    steps: Mapping[str, int] = field(default_factory=dict)
    work: int = 0
    late: bool = False


def bounds_of(boxes: Iterable[IntBox]) -> IntBox:
    """Return the smallest box around some boxes (at least one)."""
    x0, y0, z0, x1, y1, z1 = zip(*boxes, strict=True)
    return (min(x0), min(y0), min(z0), max(x1), max(y1), max(z1))


def moved(box: IntBox, offset: Offset) -> IntBox:
    """Return a box moved by an offset."""
    x, y, z = offset
    return (box[0] + x, box[1] + y, box[2] + z, box[3] + x, box[4] + y, box[5] + z)


def anywhere(shape: Shape, hull: IntBox) -> tuple[IntBox, ...]:
    """Return the offsets that keep a shape's solid inside a hull; empty when the hull is too small."""
    bounds = shape.bounds
    low = [hull[i] - bounds[i] for i in range(3)]
    high = [hull[i + 3] - bounds[i + 3] for i in range(3)]
    if any(a > b for a, b in zip(low, high, strict=True)):
        return ()
    return ((low[0], low[1], low[2], high[0], high[1], high[2]),)


def block(name: str, size: tuple[int, int, int], space: Space, index: int = 0) -> Item:
    """Return a plain block that may lie in any of its turned poses anywhere in one space."""
    variants = []
    for turned in sorted(set(itertools.permutations(size))):
        x, y, z = turned
        shape = Shape(((0, 0, 0, x, y, z),))
        domain = anywhere(shape, space.hull)
        if domain:
            variants.append(Variant("×".join(map(str, turned)), shape, domain, index))
    return Item(name, tuple(variants))


def blocks(sizes: Iterable[tuple[int, int, int]], space: Space) -> PackingProblem:
    """Return the problem of packing plain blocks, freely turned, into one space."""
    return PackingProblem(
        (space,), tuple(block(f"block {k + 1}", size, space) for k, size in enumerate(sizes))
    )


def _expect_volume(what: str, box: IntBox) -> None:
    x0, y0, z0, x1, y1, z1 = box
    if not (x0 < x1 and y0 < y1 and z0 < z1):
        raise ValueError(f"{what}: box {box} has no volume")
