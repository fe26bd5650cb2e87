"""How parts come in and out: the steps of assembly, and how what is exchanged is come by."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

from fitplan.model.needed import Need
from fitplan.model.solids import Direction
from fitplan.model.vehicle import OPEN_SIDES

Moves: TypeAlias = tuple[tuple[Direction, float], ...]
"""Straight moves one after the other: directions, with mm."""


@dataclass(frozen=True)
class SubassemblyPart:
    """A part that is put to others outside the vehicle, by these moves, so that they go in as one."""

    need: str
    moves: Moves


@dataclass(frozen=True)
class AssemblyStep:
    """One straight move (or several) that brings a part in; steps are in order of assembly.

    ``together``: parts that are put to it beforehand, outside, one after the other, because none of them can
    go in alone.
    """

    number: int
    need: str
    vehicle: str
    opening: str
    moves: Moves
    """Directions in which the part travels on its way in, with mm."""
    together: tuple[SubassemblyPart, ...] = ()

    @property
    def needs(self) -> tuple[str, ...]:
        """All parts that go in by this step."""
        return (self.need, *(entry.need for entry in self.together))


@dataclass(frozen=True)
class WayOut:
    """How parts come out (several: as one), or how a finger or plug gets back out: through an opening.

    Without an opening the way is clear while everything is closed. ``parts`` is empty for a finger or plug.
    """

    parts: tuple[str, ...]
    opening: str
    moves: Moves


@dataclass(frozen=True)
class Exchanged:
    """What is exchanged, plugged in or switched, and how it is come by once everything is built in.

    Attributes
    ----------
    access, cells
        The part's own name for it, and whether it is exchanged by taking the part out.
    often
        Whether it is reached in everyday use; otherwise only when building, through any opening.
    reached
        False: by no opening that may be opened for it, whatever is taken out.
    bricks
        Removable bricks that come out first.
    first
        What must come out before, in order; nothing of it can be spared.
    last
        The way of the part itself (of cells), or of the finger or plug; None when it is not reached.
    """

    need: str
    vehicle: str
    access: str
    often: bool
    reached: bool
    cells: bool = False
    bricks: tuple[str, ...] = ()
    first: tuple[WayOut, ...] = ()
    last: WayOut | None = None

    @property
    def parts_out(self) -> tuple[str, ...]:
        """The other parts that come out, in order."""
        ways = (*self.first, *([self.last] if self.last else []))
        return tuple(part for way in ways for part in way.parts if part != self.need)

    @property
    def itself(self) -> bool:
        """Whether the part itself comes out."""
        return self.last is not None and self.need in self.last.parts

    @property
    def openings(self) -> tuple[str, ...]:
        """The openings that are opened, in order; open sides need no opening."""
        ways = (*self.first, *([self.last] if self.last else []))
        names = (way.opening for way in ways if way.opening not in ("", *OPEN_SIDES.values()))
        return tuple(dict.fromkeys(names))

    def within(self, need: Need) -> bool:
        """Return whether no more comes out than the user allows."""
        return (
            self.reached
            and len(self.parts_out) <= need.exchange.parts_out
            and len(self.bricks) <= need.exchange.bricks_out
        )
