"""What is wired: wires, splices, stretches, crossings, and what no wire reaches.

Points are in the frame of the vehicle that is named beside them, in mm.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from fitplan.model.nets import NetRole
from fitplan.model.solids import Box, Vec
from fitplan.model.wiring_facts import NO_FACTS, WiringFacts


@dataclass(frozen=True)
class WireEnd:
    """An end of a wire: a pin, a splice, or a cavity of a coupling connector."""

    kind: Literal["pin", "splice", "connector"]
    owner: str
    pin: str
    vehicle: str
    at: Vec
    strip_mm: float


@dataclass(frozen=True)
class Leg:
    """A wire's way inside one vehicle: its taut corner points, and the ports it enters and leaves by."""

    vehicle: str
    points: tuple[Vec, ...]
    enters: str = ""
    leaves: str = ""


@dataclass(frozen=True)
class Detour:
    """By how many mm a wire is longer in a vehicle than its shortest way alone would be, and why.

    ``shortest`` are the corner points of that way, in the wire's order.
    """

    vehicle: str
    why: str
    more_mm: float
    shortest: tuple[Vec, ...]


@dataclass(frozen=True)
class BoughtLead:
    """A lead as it is bought that serves as a wire.

    Attributes
    ----------
    length_mm
        The stock length that is bought.
    fold
        The room that its surplus lies in, folded to and fro, in the frame of ``vehicle``; None: no surplus,
        or none that has room.
    shortened
        There is no room for its surplus: it is cut and joined again.
    own
        It is no lead that is bought, but one that the part ``part_id`` comes with.
    """

    part_id: str
    length_mm: float
    vehicle: str
    fold: Box | None = None
    shortened: bool = False
    own: bool = False


@dataclass(frozen=True)
class Wire:
    """One insulated length.

    ``sleeved``: it bears sleeves with its number, as its colour does not tell it from others that it meets;
    ``detours`` say where, why and by how much the way is longer than its shortest one alone would be;
    ``bare_mm`` is the way alone; ``allowances`` name what is added; ``cut_mm`` is what to cut, rounded up.
    """

    number: int
    net: str
    role: NetRole
    colour: str
    awg: int
    outer_mm: float
    start: WireEnd
    end: WireEnd
    legs: tuple[Leg, ...]
    bare_mm: float
    allowances: tuple[tuple[str, float], ...]
    cut_mm: float
    current_ma: float
    drop_v: float
    detours: tuple[Detour, ...] = ()
    sleeved: bool = False
    lead: BoughtLead | None = None
    """The lead as bought that it is; None: cut from the spool."""
    inside: int = 0
    """Number of the wire in whose jacket it runs, as the return of a lead does; 0: it has its own way."""

    @property
    def label(self) -> str:
        """Its number and its net, as findings name it."""
        return f"wire {self.number} ({self.net})"


@dataclass(frozen=True)
class Splice:
    """A soldered junction of one net."""

    name: str
    net: str
    vehicle: str
    at: Vec
    wires: tuple[int, ...]


@dataclass(frozen=True)
class Stretch:
    """A stretch of a bundle: wires that share a way; ``port`` when the stretch goes through one."""

    name: str
    vehicle: str
    points: tuple[Vec, ...]
    wires: tuple[int, ...]
    diameter_mm: float
    length_mm: float
    port: str = ""

    @property
    def conductors(self) -> int:
        """How many conductors run in it."""
        return len(self.wires)


@dataclass(frozen=True)
class PairDrawnIn:
    """A connector that is drawn into a vehicle behind its port: the pair's box in that vehicle's frame.

    ``more_mm`` is what each wire gets on either side, so that the pair can be drawn out to be parted.
    """

    vehicle: str
    box: Box
    more_mm: float


@dataclass(frozen=True)
class Crossing:
    """What crosses the coupling between two vehicles, and how long the wires over it must be."""

    name: str
    ahead: str
    behind: str
    port_ahead: str
    port_behind: str
    wires: tuple[int, ...]
    diameter_mm: float
    straight_mm: float
    free_mm: float
    governing: str
    """The pose of track that asks for the greatest length."""
    sag_above_rail_mm: float
    clip: bool
    connector: str = ""
    pin_order: tuple[str, ...] = ()
    pair: PairDrawnIn | None = None
    """Where the connector lies when the gap does not take it; None: in the gap."""
    beside: tuple[int, ...] = ()
    """Those of the wires, the last, that are leads as bought and pass its connector by in one piece."""

    @property
    def conductors(self) -> int:
        """How many conductors cross; a lead as bought counts as one."""
        return len(self.wires)

    @property
    def joined(self) -> tuple[int, ...]:
        """The wires that meet in its connector, or would."""
        return tuple(number for number in self.wires if number not in self.beside)


@dataclass(frozen=True)
class Unreached:
    """A net, or a pin of a net, that no wire reaches, and why.

    ``undecided``: none was found, and none is proved impossible.
    """

    net: str
    owner: str
    pin: str
    reason: str
    undecided: bool = False

    @property
    def where(self) -> str:
        """Its pin; the vehicle alone where nothing there is reached; the net where it has no owner."""
        return ".".join(word for word in (self.owner, self.pin) if word) if self.owner else self.net


@dataclass(frozen=True)
class Harness:
    """All that is wired."""

    wires: tuple[Wire, ...] = ()
    splices: tuple[Splice, ...] = ()
    stretches: tuple[Stretch, ...] = ()
    crossings: tuple[Crossing, ...] = ()
    unreached: tuple[Unreached, ...] = ()
    facts: WiringFacts = NO_FACTS
