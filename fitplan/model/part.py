"""A catalogue part: the room it takes, how it may sit, where its pins are and what it does."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cached_property
from typing import Literal, TypeAlias, TypeVar

from fitplan.model.electrical import Electrical
from fitplan.model.hashed_once import HashedOnce
from fitplan.model.solids import Box, Direction, Pose, Solid, Vec, axis_of, bounds_of, is_forward, poses

Can: TypeAlias = Literal["input", "output", "pwm", "analog", "data", "clock", "receive", "send"]
"""What a signal pin can do. data and clock are the shared bus; receive and send the serial console."""
PinCare: TypeAlias = Literal["reset", "boot", "no pull-up", "not with radio", "wants pull-up"]
"""reset: restarts the board; boot: its level at the start decides how it starts; no pull-up: has none inside;
not with radio: measures nothing while the radio is on; wants pull-up: a switch to ground that needs one."""
PinRole: TypeAlias = Literal["ground", "raw", "5v", "3v3", "supply", "plus", "charge", "signal"]
"""raw: unregulated input; 5v, 3v3: regulated rails; supply: a load is fed here; plus: a source gives here;
charge: a charger takes its volts here, in place of those at its socket."""
PinJoint: TypeAlias = Literal["solder", "screw", "lever", "crimp", "header", "plug", "attached"]
"""How a wire is fastened: pad, tag or lead for soldering; a clamp; a crimped contact; pin and socket; a
lead's plug; a wire that the part comes with."""
Socket: TypeAlias = Literal["", "type A", "mini-B", "micro-B", "type C"]
"""Sockets of the Universal Serial Bus, by the names that its open standard gives them (from memory)."""
ClearanceKind: TypeAlias = Literal["plug", "lead", "lens", "air", "finger"]
AccessKind: TypeAlias = Literal["switch", "socket", "cells", "console"]

CANS: tuple[Can, ...] = ("input", "output", "pwm", "analog", "data", "clock", "receive", "send")
PIN_CARES: tuple[PinCare, ...] = ("reset", "boot", "no pull-up", "not with radio", "wants pull-up")
PIN_ROLES: tuple[PinRole, ...] = ("ground", "raw", "5v", "3v3", "supply", "plus", "charge", "signal")
FEED_ROLES: frozenset[PinRole] = frozenset({"raw", "5v", "3v3", "supply", "plus"})
"""Roles of pins that feed, or are fed."""
CLEARANCE_KINDS: tuple[ClearanceKind, ...] = ("plug", "lead", "lens", "air", "finger")
SOCKETS: tuple[Socket, ...] = ("", "type A", "mini-B", "micro-B", "type C")
PIN_JOINTS: tuple[PinJoint, ...] = ("solder", "screw", "lever", "crimp", "header", "plug", "attached")
WIRES_OF_JOINT: dict[PinJoint, int] = {
    "solder": 2, "screw": 2, "lever": 1, "crimp": 1, "header": 1, "plug": 1, "attached": 1,
}  # fmt: skip
"""How many wires a pin takes by how they are fastened there (common practice, no source)."""
ACCESS_KINDS: tuple[AccessKind, ...] = ("switch", "socket", "cells", "console")

E = TypeVar("E", bound=object)


@dataclass(frozen=True)
class Pin:
    """A connection point.

    Attributes
    ----------
    at
        Where the wire leaves, in the part's frame (mm).
    exit
        Which way the wire leaves.
    can
        For a controller's pin: what it can do.
    wants
        For any other part's signal pin: what the controller's pin at the other end must be able to do
        (all of them).
    volts
        Fixed level of a rail or signal in V; 0 when it follows the supply.
    optional
        May stay unconnected.
    joint
        How a wire is fastened there.
    wires
        How many wires it takes.
    joined
        Name of a group of pins that the part joins inside, such as the rail of a distribution board: each of
        them serves, and each wire may have one of its own. Empty: none.
    """

    name: str
    role: PinRole
    at: Vec
    exit: Direction
    can: frozenset[Can] = frozenset()
    wants: frozenset[Can] = frozenset()
    volts: float = 0.0
    optional: bool = False
    joint: PinJoint = "solder"
    wires: int = WIRES_OF_JOINT["solder"]
    joined: str = ""
    care: frozenset[PinCare] = frozenset()
    """What must be minded when it is used."""
    timer: str = ""
    """Name of the timer that drives its PWM; pins of one timer have one frequency."""
    port: str = ""
    """Name of the group of pins whose currents the chip bounds together."""
    socket: Socket = ""
    """The socket that it is a contact of, by its name in the open standard; empty: it stands alone."""
    program: str = ""
    """What a program calls it, where that is not its label; empty: `in_program` follows from the label."""

    @property
    def in_program(self) -> str:
        """What a program calls the pin: a number or an identifier.

        A label ``D7`` or ``7`` is the number 7, as boards' own headers have it (common practice, no source);
        any other stands as it is.
        """
        numbered = re.fullmatch(r"[Dd]?(\d{1,3})", self.name)
        return self.program or (str(int(numbered[1])) if numbered else self.name)


@dataclass(frozen=True)
class Clearance:
    """Room that a part needs beyond its envelope; wires may pass through lead and air, nothing else may.

    ``needed`` says when: always, or only for access while the vehicle is open (``"access"``).
    """

    name: str
    kind: ClearanceKind
    solid: Solid
    needed: Literal["always", "access"] = "always"

    @property
    def lets_wires_through(self) -> bool:
        """Whether wires may pass through this room."""
        return self.kind in ("lead", "air")


@dataclass(frozen=True)
class Access:
    """What must be reachable once the part is built in, from which side, and whether often."""

    name: str
    kind: AccessKind
    side: Direction
    often: bool


@dataclass(frozen=True)
class Mount:
    """How a part may sit.

    Attributes
    ----------
    looks
        The part's direction that must look out of a window, or None.
    lens
        The rectangle of the part's front (as a flat box in its frame) that must lie inside the window.
    sits
        The part's face that must lie on a receiver's face, or None.
    upright
        The part's z axis must point up.
    up
        If not empty: which of the part's own directions may point up.
    turnable
        False: only the pose as drawn.
    needs_support
        True when something must carry it from below.
    """

    looks: Direction | None = None
    lens: Box | None = None
    sits: Direction | None = None
    upright: bool = False
    up: tuple[Direction, ...] = ()
    turnable: bool = True
    needs_support: bool = True

    def allowed_poses(self) -> tuple[Pose, ...]:
        """Return the poses that the rules allow, before any window or face is considered."""
        if not self.turnable:
            return (poses()[0],)
        found = poses()
        if self.upright:
            found = tuple(pose for pose in found if pose.turn_direction("+z") == "+z")
        if self.up:
            found = tuple(pose for pose in found if any(pose.turn_direction(up) == "+z" for up in self.up))
        return found


@dataclass(frozen=True)
class Part(HashedOnce):
    """A component of the catalogue.

    Attributes
    ----------
    envelope
        Union of solids that the part fills, in its own frame (mm), x along its longest side by habit.
    price
        Price of one, or of one set of primary cells, in the user's currency; 0 when not given.
    source
        Where the figures come from; ``typical`` is True for outlines that the user should measure.
    """

    id: str
    name: str
    family: str
    envelope: tuple[Solid, ...]
    mass_g: float
    source: str
    clearances: tuple[Clearance, ...] = ()
    pins: tuple[Pin, ...] = ()
    mount: Mount = Mount()
    access: tuple[Access, ...] = ()
    electrical: tuple[Electrical, ...] = ()
    typical: bool = False
    price: float = 0.0
    cautions: tuple[str, ...] = ()
    """Usual cautions that apply: lithium, button-cell, primary-cells, nimh, mains-charger, soldering."""

    __hash__ = HashedOnce.hash_of_fields

    @cached_property
    def bounds(self) -> Box:
        """Smallest box round the envelope."""
        return bounds_of(self.envelope)

    def rooms_of(self, access: Access) -> tuple[Clearance, ...]:
        """Return what the part keeps clear for an access on its side; empty: nobody knows where on it it is.

        Rooms of a finger are those of a switch, rooms of a plug those of a socket; where there are none of
        that kind, all that is kept clear for access there.
        """
        axis, kind = axis_of(access.side), "plug" if access.kind in ("socket", "console") else "finger"
        there = tuple(
            clearance
            for clearance in self.clearances
            if clearance.needed == "access"
            and (
                clearance.solid.bounds.high[axis] > self.bounds.high[axis]
                if is_forward(access.side)
                else clearance.solid.bounds.low[axis] < self.bounds.low[axis]
            )
        )
        return tuple(clearance for clearance in there if clearance.kind == kind) or there

    def figure(self, kind: type[E]) -> E | None:
        """Return the part's electrical figures of a kind, or None."""
        return next((value for value in self.electrical if isinstance(value, kind)), None)

    def pin(self, name: str) -> Pin:
        """Return the pin of this name.

        Raises
        ------
        KeyError
            When there is none.
        """
        for pin in self.pins:
            if pin.name == name:
                return pin
        raise KeyError(name)
