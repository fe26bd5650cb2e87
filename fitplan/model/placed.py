"""What is placed: parts, what carries and fastens them, what bricks come out for them.

Points are in the frame of the vehicle that is named beside them, in mm.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Literal, TypeAlias

from fitplan.model.part import Part
from fitplan.model.solids import Box, Direction, Place, Solid, bounds_of

ShelfKind: TypeAlias = Literal["pad", "plates", "bracket", "clip", "bridge", "hanger", "block", "wall"]
"""pad: foam or tape alone; plates: a stack under the part; bracket: a stack with a plate on top that reaches
under the part; clip: a tile on a side stud that the part lies against; bridge: a plate over two stacks;
hanger: a stack from the roof with a plate below that reaches under the part; block: printed or glued, no
studs; wall: foam tape between its side and a wall; plain tape where it is flush."""
SHELF_WORDS: dict[ShelfKind, str] = {
    "pad": "a pad",
    "plates": "plates under it",
    "bracket": "a bracket",
    "clip": "a tile on a side stud",
    "bridge": "a plate over two stacks",
    "hanger": "a plate that hangs from the roof",
    "block": "a printed block",
    "wall": "tape on the wall beside it",
}


@dataclass(frozen=True)
class Piece:
    """One piece of a shelf: a brick, plate or tile with its size in studs, a pad, or a block."""

    name: str
    box: Box

    @property
    def words(self) -> str:
        """Its name; with its size in mm where the name does not say it."""
        if self.name == "pad":
            return f"a pad of foam or tape, {min(self.box.size):.1f} mm"
        if self.name == "block":
            return f"a block to print, {' × '.join(f'{edge:.1f}' for edge in self.box.size)} mm"
        return self.name


@dataclass(frozen=True)
class Shelf:
    """What is added to carry a part.

    Attributes
    ----------
    pieces
        From below upwards; last what lies between them and the part: the studs of the last, a pad of foam.
    studs
        On how many studs of the body it stands.
    steady
        False: the part's middle is not over it, so that the part must be fixed against tipping.
    """

    kind: ShelfKind
    pieces: tuple[Piece, ...]
    studs: int
    steady: bool = True

    @property
    def cost(self) -> int:
        """How many pieces it takes, pads not counted."""
        return sum(piece.name not in ("pad", "studs") for piece in self.pieces)

    @property
    def boxes(self) -> tuple[Box, ...]:
        """The boxes of all pieces."""
        return tuple(piece.box for piece in self.pieces)

    @property
    def parts(self) -> tuple[Piece, ...]:
        """The pieces that must be at hand: all but studs, which come with the piece below."""
        return tuple(piece for piece in self.pieces if piece.name != "studs")

    @property
    def words(self) -> str:
        """What it is and what it is made of."""
        counted: dict[str, int] = {}
        for piece in self.parts:
            counted[piece.words] = counted.get(piece.words, 0) + 1
        made = ", ".join(
            name if count == 1 else f"{count} × {name.removeprefix('a ')}" for name, count in counted.items()
        )
        return made if self.kind in ("pad", "block") else f"{SHELF_WORDS[self.kind]}: {made}"


NOTHING = "nothing"
"""What is said to carry a part that has nothing under it."""
ITS_MOUNT = "its mount"
"""What is said to carry a part that wants no support and has nothing close under it."""
STUCK_TO, STUCK_SO = " is stuck to ", ": nothing else holds it"
"""What stands before and behind the place where such a part is stuck, in what is told of it."""


@dataclass(frozen=True)
class Placement:
    """Where a part has come to lie.

    ``carried_by`` says what carries it: a body, a part, its mount, what is to be added (`SHELF_WORDS`), or
    `NOTHING`.
    ``steady`` is False where its middle does not lie over that, so that it must be fixed against tipping.
    """

    need: str
    part: Part
    vehicle: str
    place: Place
    carried_by: str
    shelf: Shelf | None = None
    steady: bool = True

    @cached_property
    def solids(self) -> tuple[Solid, ...]:
        """What the part fills, in its vehicle's frame (mm)."""
        return tuple(self.place.move_solid(solid) for solid in self.part.envelope)

    @cached_property
    def bounds(self) -> Box:
        """The smallest box round it, in its vehicle's frame (mm)."""
        return bounds_of(self.solids)


@dataclass(frozen=True)
class Fastening:
    """What keeps a part from sliding or tipping where it lies.

    Attributes
    ----------
    ways
        Directions in which it holds; none need be named where tape keeps it from tipping.
    bricks
        Bricks on studs beside the part, one for each way; of a strap its two stacks, and last the plate over
        the part, before it the pad with which it presses a part that would tip. A strap holds ``+z``, too.
    tape_mm
        Length of double-sided tape under the part, `TAPE_WIDTH` wide; 0 where bricks hold it. One strip holds
        a part every way, so no part has two.
    """

    need: str
    vehicle: str
    ways: tuple[Direction, ...]
    bricks: tuple[Piece, ...] = ()
    tape_mm: float = 0.0

    @property
    def words(self) -> str:
        """What it is made of."""
        if self.bricks:
            names = [brick.words for brick in self.bricks]
            counted = (
                name if name.startswith("a ") else f"{names.count(name)} {name}"
                for name in dict.fromkeys(names)
            )
            where = "as a strap over it" if "+z" in self.ways else "at its sides"
            return f"{' and '.join(counted)} {where}"
        return f"{self.tape_mm:.0f} mm of double-sided tape under it"


TAPE_WIDTH = 12.0
"""Width of double-sided tape, in mm (common practice, no source)."""
TAPE_MM2_PER_G = 5.7
"""Tape that holds a gram for good: 57 cm² a kilogram, a usual rule for foam tape (from memory)."""


@dataclass(frozen=True)
class Rebuild:
    """Bricks to take out of a vehicle and plates to add; ``least`` is a proved lower bound of the cost."""

    vehicle: str
    remove: tuple[str, ...]
    shelves: tuple[Shelf, ...]
    cost: float
    least: float
    carried: str
    """Whether what stays is still carried, or that the model cannot know."""
