"""What is known of a harness beside its wires: room for bends, what ports carry, pins, splices, styles.

Routing finds these figures out, checks word them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias

from fitplan.model.nets import WiringStyle
from fitplan.model.solids import Vec

NOT_BELOW_DIAMETERS = 6.0
"""Bend radius over outer diameter that is not to be undercut (NASA-STD-8739.4)."""

HOOK_UP_DIAMETERS = 2.0
"""Bend radius over outer diameter of single insulated wires (IPC/WHMA-A-620, Table 14-1)."""

Through: TypeAlias = Literal["goes through", "cannot", "not decided"]


@dataclass(frozen=True)
class LegBends:
    """The corners of a wire in one vehicle.

    Attributes
    ----------
    wire, outer_mm
        Its number and its outer diameter.
    tightest_mm
        Least radius that a corner on the way has room for, as far as `NOT_BELOW_DIAMETERS` asks for it.
    at
        Point of that corner in the vehicle's frame (mm).
    at_end_mm
        The same for corners close to a pin or a splice.
    """

    wire: int
    vehicle: str
    outer_mm: float
    corners: int
    tightest_mm: float
    at: Vec
    at_end_mm: float


@dataclass(frozen=True)
class PortLoad:
    """What goes through a port.

    Attributes
    ----------
    width_mm, height_mm
        Of its opening; where something stands in it or close behind it, of the largest rectangle that is left
        for those of the wires that fill what is left for them most; 0 where none is.
    bundle_mm
        Diameter of a round bundle of its wires.
    through
        Whether the wires go through it together; ``proof`` when they cannot.
    share
        Least share of these sides that they are known to go through, in twentieths; inf when none is. Of
        several rectangles that are left each has this share of its own sides.
    """

    vehicle: str
    port: str
    width_mm: float
    height_mm: float
    wires: tuple[int, ...]
    bundle_mm: float
    through: Through
    proof: str
    share: float


@dataclass(frozen=True)
class Shortage:
    """Home runs that want more places than there are: the rest meet in a splice."""

    net: str
    owner: str
    pin: str
    vehicle: str
    wanted: int
    places: int
    board: bool
    """Whether it is a distribution board."""


@dataclass(frozen=True)
class StyleCost:
    """What a net takes in one style.

    Attributes
    ----------
    copper_mm
        All ways together, joints over couplings on straight track included.
    joints
        Soldered or crimped: each end of a wire at a pin or in a connector, and each splice once.
    across
        Conductors over couplings, all couplings together.
    reason
        Why it cannot be done; empty when it can.
    """

    style: WiringStyle
    copper_mm: float = 0.0
    joints: int = 0
    across: int = 0
    reason: str = ""


@dataclass(frozen=True)
class NetStyles:
    """A net of three pins or more, how it is planned, and what each style takes."""

    net: str
    pins: int
    style: WiringStyle
    costs: tuple[StyleCost, ...]


@dataclass(frozen=True)
class Trunk:
    """A net of ground or supply in a vehicle whose small loads hang off a trunk.

    Attributes
    ----------
    branches
        The loads, in groups that are chained: of one kind, or alone.
    copper_mm, strung_mm
        Voxel ways of the net as it is planned, and of a tree through the pins of the loads: a shortest
        one where they are few.
    branched
        False where no splice had room for it, so that the net does run through pins of loads.
    """

    net: str
    vehicle: str
    branches: tuple[tuple[str, ...], ...]
    copper_mm: float
    strung_mm: float
    branched: bool = True


@dataclass(frozen=True)
class Unproved:
    """A tree of many pins in a vehicle that is not proved to be the shortest, and what every tree takes.

    ``cost_mm`` and ``least_mm`` count splices, further wires at a pin and the liking for floors, as trees do.
    """

    net: str
    vehicle: str
    pins: int
    cost_mm: float
    least_mm: float


@dataclass(frozen=True)
class WiringFacts:
    """All that checks are told of a harness beside its wires.

    ``hidden_splices`` are names of splices that have no opening straight ahead; ``alike`` are two nets and
    the colour that both have where they meet, because colours ran out.
    """

    bends: tuple[LegBends, ...] = ()
    ports: tuple[PortLoad, ...] = ()
    shortages: tuple[Shortage, ...] = ()
    hidden_splices: tuple[str, ...] = ()
    styles: tuple[NetStyles, ...] = ()
    trunks: tuple[Trunk, ...] = ()
    alike: tuple[tuple[str, str, str], ...] = ()
    unproved: tuple[Unproved, ...] = ()


NO_FACTS = WiringFacts()
"""What is known of a harness that nobody has looked at."""
