"""Simple solids in millimetres, directions, and the 24 right-angled turnings.

Axes of a vehicle: x runs along it towards its front, y to its left, z up from the rail head (or the road).
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from typing import Literal, TypeAlias

Vec: TypeAlias = tuple[float, float, float]
Axis: TypeAlias = Literal["x", "y", "z"]
Direction: TypeAlias = Literal["+x", "-x", "+y", "-y", "+z", "-z"]
Matrix: TypeAlias = tuple[tuple[int, int, int], tuple[int, int, int], tuple[int, int, int]]

_UPWARDS: dict[Axis, Direction] = {"x": "+x", "y": "+y", "z": "+z"}
AXES: tuple[Axis, ...] = ("x", "y", "z")
DIRECTIONS: tuple[Direction, ...] = ("+x", "-x", "+y", "-y", "+z", "-z")
SIDE_NAMES: dict[Direction, str] = {
    "+x": "front", "-x": "rear", "+y": "left", "-y": "right", "+z": "up", "-z": "down",
}  # fmt: skip
"""Directions as a maker calls them: x forwards, y to the left, z up."""
ORIGIN: Vec = (0.0, 0.0, 0.0)
EDGE_WORDS = ("length", "width", "height")
"""What the edges of a box along x, y and z are called."""
WAY_WORDS: dict[Direction, str] = {
    "+x": "forwards", "-x": "backwards", "+y": "to the left", "-y": "to the right", "+z": "up", "-z": "down",
}  # fmt: skip
"""Where something moves or looks."""
PLACE_WORDS: dict[Direction, str] = {
    "+x": "at the front", "-x": "at the rear", "+y": "at the left", "-y": "at the right",
    "+z": "on top", "-z": "underneath",
}  # fmt: skip
"""On which side of a vehicle or part something is."""
_UNIT_VECTORS: dict[Direction, tuple[int, int, int]] = {
    "+x": (1, 0, 0), "-x": (-1, 0, 0),
    "+y": (0, 1, 0), "-y": (0, -1, 0),
    "+z": (0, 0, 1), "-z": (0, 0, -1),
}  # fmt: skip


def vec(numbers: Iterable[float]) -> Vec:
    """Return three numbers as a vector."""
    x, y, z = numbers
    return (x, y, z)


def unit_vector(direction: Direction) -> tuple[int, int, int]:
    """Return the unit vector of a direction."""
    return _UNIT_VECTORS[direction]


def direction_of(vector: tuple[int, int, int]) -> Direction:
    """Return the direction of an axis-parallel unit vector."""
    return next(name for name, unit in _UNIT_VECTORS.items() if unit == vector)


def axis_of(direction: Direction) -> int:
    """Return 0, 1 or 2 for a direction along x, y or z."""
    return DIRECTIONS.index(direction) // 2


def is_forward(direction: Direction) -> bool:
    """Return True for a direction in which its coordinate grows."""
    return direction[0] == "+"


def opposite(direction: Direction) -> Direction:
    """Return the direction that looks the other way."""
    x, y, z = _UNIT_VECTORS[direction]
    return direction_of((-x, -y, -z))


@dataclass(frozen=True)
class Box:
    """An axis-parallel box from its lower corner ``low`` to its upper corner ``high``, in mm."""

    low: Vec
    high: Vec

    @property
    def size(self) -> Vec:
        """Edge lengths in mm."""
        (x0, y0, z0), (x1, y1, z1) = self.low, self.high
        return (x1 - x0, y1 - y0, z1 - z0)

    @property
    def center(self) -> Vec:
        """Middle of the box."""
        (x0, y0, z0), (x1, y1, z1) = self.low, self.high
        return ((x0 + x1) / 2, (y0 + y1) / 2, (z0 + z1) / 2)

    @property
    def volume(self) -> float:
        """Volume in mm³."""
        dx, dy, dz = self.size
        return dx * dy * dz

    @property
    def bounds(self) -> Box:
        """The box itself."""
        return self

    def with_span(self, axis: int, low: float, high: float) -> Box:
        """Return the box from another ``low`` to another ``high`` along one axis."""
        lows, highs = list(self.low), list(self.high)
        lows[axis], highs[axis] = low, high
        return Box(vec(lows), vec(highs))

    def face(self, side: Direction) -> Box:
        """Return the face on one side, a box without thickness."""
        plane = plane_of(self, side)
        return self.with_span(axis_of(side), plane, plane)

    def meets(self, other: Box) -> bool:
        """Return whether it shares room with another; what merely touches does not."""
        for low, high, from_, to in zip(self.low, self.high, other.low, other.high, strict=True):
            if not (low < to - 1e-6 and from_ < high - 1e-6):
                return False
        return True


@dataclass(frozen=True)
class Cylinder:
    """A cylinder along an axis, from the middle ``start`` of its lower end face, in mm."""

    axis: Axis
    start: Vec
    length: float
    radius: float

    @property
    def bounds(self) -> Box:
        """The smallest axis-parallel box round the cylinder."""
        along = AXES.index(self.axis)
        low = [c - self.radius for c in self.start]
        high = [c + self.radius for c in self.start]
        low[along] = self.start[along]
        high[along] = self.start[along] + self.length
        return Box((low[0], low[1], low[2]), (high[0], high[1], high[2]))


@dataclass(frozen=True)
class Wedge:
    """Half of a box, cut along the plane through two opposite edges.

    The wedge is full at the faces ``base`` and ``back`` of its box (two directions on different axes) and
    thins out to the edge opposite to both: with ``u`` and ``v`` the distances from the two faces as
    shares of the box's edges, it is where ``u + v ≤ 1``.
    """

    box: Box
    base: Direction
    back: Direction

    @property
    def bounds(self) -> Box:
        """The box that the wedge is cut from."""
        return self.box


Solid: TypeAlias = Box | Cylinder | Wedge


@dataclass(frozen=True)
class Pose:
    """A right-angled turning: ``matrix @ point`` with entries −1, 0, 1 and determinant 1."""

    matrix: Matrix

    def turn(self, point: Vec) -> Vec:
        """Turn a point about the origin."""
        x, y, z = point
        a, b, c = self.matrix
        return (
            a[0] * x + a[1] * y + a[2] * z,
            b[0] * x + b[1] * y + b[2] * z,
            c[0] * x + c[1] * y + c[2] * z,
        )

    def turn_direction(self, direction: Direction) -> Direction:
        """Turn a direction."""
        x, y, z = self.turn(unit_vector(direction))
        return direction_of((round(x), round(y), round(z)))

    @property
    def name(self) -> str:
        """Where the part's own x, y and z axes point, for example ``+y-x+z``."""
        return "".join(self.turn_direction(axis) for axis in ("+x", "+y", "+z"))


@cache
def poses() -> tuple[Pose, ...]:
    """Return the 24 right-angled turnings, the identity first, in a fixed order."""
    found: list[Pose] = []
    for first in DIRECTIONS:
        for second in DIRECTIONS:
            if first[1] == second[1]:
                continue
            x, y = unit_vector(first), unit_vector(second)
            z = (
                x[1] * y[2] - x[2] * y[1],
                x[2] * y[0] - x[0] * y[2],
                x[0] * y[1] - x[1] * y[0],
            )
            found.append(Pose(((x[0], y[0], z[0]), (x[1], y[1], z[1]), (x[2], y[2], z[2]))))
    identity = next(pose for pose in found if pose.name == "+x+y+z")
    return (identity, *(pose for pose in found if pose != identity))


def pose_named(name: str) -> Pose:
    """Return the turning with this `Pose.name`.

    Raises
    ------
    KeyError
        When there is none.
    """
    return _poses_by_name()[name]


@cache
def _poses_by_name() -> dict[str, Pose]:
    return {pose.name: pose for pose in poses()}


@dataclass(frozen=True)
class Place:
    """A pose and a position: a point of the part's own frame is turned, then moved by ``offset`` (mm)."""

    pose: Pose
    offset: Vec

    def move(self, point: Vec) -> Vec:
        """Return where a point of the part's frame comes to lie."""
        x, y, z = self.pose.turn(point)
        return (x + self.offset[0], y + self.offset[1], z + self.offset[2])

    def move_solid(self, solid: Solid) -> Solid:
        """Return the solid where it comes to lie."""
        match solid:
            case Box():
                return box_between(self.move(solid.low), self.move(solid.high))
            case Cylinder():
                along: Direction = _UPWARDS[solid.axis]
                step = unit_vector(along)
                end = vec(s + solid.length * u for s, u in zip(solid.start, step, strict=True))
                turned = unit_vector(self.pose.turn_direction(along))
                forward = sum(turned) > 0
                start = self.move(solid.start if forward else end)
                axis = AXES[[abs(u) for u in turned].index(1)]
                return Cylinder(axis, start, solid.length, solid.radius)
            case Wedge():
                moved = self.move_solid(solid.box)
                assert isinstance(moved, Box)
                turn = self.pose.turn_direction
                return Wedge(moved, turn(solid.base), turn(solid.back))


def mirrored_box(box: Box, width: float) -> Box:
    """Return the image of a box, left for right, in a frame so wide (mm)."""
    low, high = box.low, box.high
    return Box((low[0], width - high[1], low[2]), (high[0], width - low[1], high[2]))


def mirrored(solid: Solid, width: float) -> Solid:
    """Return the image of a solid, left for right, in a frame so wide (mm)."""
    match solid:
        case Box():
            return mirrored_box(solid, width)
        case Cylinder():
            x, y, z = solid.start
            shift = solid.length if solid.axis == "y" else 0.0
            return Cylinder(solid.axis, (x, width - y - shift, z), solid.length, solid.radius)
        case Wedge():
            box = mirrored_box(solid.box, width)
            base, back = (opposite(side) if side[1] == "y" else side for side in (solid.base, solid.back))
            return Wedge(box, base, back)


def plane_of(box: Box, side: Direction) -> float:
    """Return the coordinate of a box's face on one side, along that side's axis."""
    return (box.high if is_forward(side) else box.low)[axis_of(side)]


def way_length(points: Iterable[Vec]) -> float:
    """Return how long a way through points is, in mm."""
    return sum(math.dist(a, b) for a, b in pairwise(points))


def box_between(one: Vec, other: Vec) -> Box:
    """Return the box that two points are opposite corners of."""
    (x0, y0, z0), (x1, y1, z1) = one, other
    return Box((min(x0, x1), min(y0, y1), min(z0, z1)), (max(x0, x1), max(y0, y1), max(z0, z1)))


def bounds_of(solids: tuple[Solid, ...]) -> Box:
    """Return the smallest axis-parallel box round all solids.

    Raises
    ------
    ValueError
        When there are none.
    """
    if not solids:
        raise ValueError("no solids to bound")
    boxes = [solid.bounds for solid in solids]
    low = vec(map(min, zip(*(box.low for box in boxes), strict=True)))
    high = vec(map(max, zip(*(box.high for box in boxes), strict=True)))
    return Box(low, high)
