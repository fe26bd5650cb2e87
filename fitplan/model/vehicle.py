"""A vehicle: what its body is made of, where it opens, looks out, lets wires through and rolls.

Frame of a vehicle, in mm: x = 0 at the rear end of the footprint and grows towards the front, y = 0 at the
right side and grows to the left, z = 0 at the rail head (or the road) and grows upwards.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias

from fitplan.model.electrical import CellPack
from fitplan.model.hashed_once import HashedOnce
from fitplan.model.part import Pin
from fitplan.model.solids import Axis, Box, Direction, Solid, Vec, axis_of, plane_of
from fitplan.units import PLATE, STUD

State: TypeAlias = Literal["fixed", "removable", "keep-clear", "free", "outside"]
"""fixed and removable are solid; keep-clear, free and outside are clear.

Nothing may be put into keep-clear (moving links, wheels); parts go into free only; outside is the clear
space round the body inside its bounding box, where nothing is to be put but light and sound pass.
"""
STATES: tuple[State, ...] = ("fixed", "removable", "keep-clear", "free", "outside")


@dataclass(frozen=True)
class Removable:
    """A brick or group of bricks that may come out in a rebuild, at a cost (the user's own scale)."""

    name: str
    cost: float


@dataclass(frozen=True)
class BodySolid:
    """A solid of the body in one state; what is drawn later replaces what was drawn before."""

    solid: Solid
    state: State
    removable: str = ""
    """Name of the `Removable` when the state is removable."""
    smooth: bool = False
    """Its upward faces bear no studs (tiles, panels), whatever the floor finish says."""


@dataclass(frozen=True)
class Layer:
    """A layer drawing: one character a stud, first row the left side, front to the right.

    ``base`` is the height of its underside above the rail head in mm, ``plates`` its height in plates.
    ``smooth``: its upward faces bear no studs. ``halves``: one character half a stud, along and across.
    """

    name: str
    base: float
    plates: int
    rows: tuple[str, ...]
    smooth: bool = False
    halves: bool = False


@dataclass(frozen=True)
class Opening:
    """Where the model is opened: what lifts off, as the box of the way that becomes clear, and which way.

    ``box`` is the lid's own room; parts pass through it against ``out`` when they go in. ``often``: may be
    opened in everyday use (to change cells); otherwise only when building.
    """

    name: str
    box: Box
    out: Direction
    often: bool = True


OPEN_SIDES: dict[Direction, str] = {
    "+z": "the open top",
    "+x": "the open front",
    "-x": "the open rear",
    "+y": "the open left side",
    "-y": "the open right side",
    "-z": "the open underside",
}
"""Ways in where no brick is, by the direction in which they lead out: names of openings that nobody opens."""

LOAD_HEIGHT = 96.0
"""How high (mm above the rail head) loads may stand where a body is open at the top, unless its file says
otherwise: ten bricks, common practice, no source."""


def open_side(vehicle: Vehicle, name: str) -> Opening | None:
    """Return the open side of this name as an opening over the whole hull; None for any other name."""
    if any(opening.name == name for opening in vehicle.openings):
        return None
    return next((Opening(name, vehicle.hull, out) for out, side in OPEN_SIDES.items() if side == name), None)


@dataclass(frozen=True)
class Window:
    """A gap that a sensor looks through: a flat or thick box in the wall, and the direction it looks out.

    ``open_share`` is the share of its area that bars or a grille leave open.
    """

    name: str
    box: Box
    out: Direction
    open_share: float = 1.0


OPEN_ENDS: dict[Direction, str] = {"+x": "open front", "-x": "open rear"}
"""Ports where no brick is and none is drawn, by the end of the vehicle's own frame that they lead out of."""
LIES_WITHIN = 9.6
"""So far (mm) above the floor of an open end wires are reckoned to leave it: a brick, as they lie on the deck
(common practice, no source)."""


@dataclass(frozen=True)
class Port:
    """A hole for wires: its box in the wall and the direction from inside to outside."""

    name: str
    box: Box
    out: Direction

    @property
    def is_open_end(self) -> bool:
        """Whether it is no hole in a wall, but an end where no brick is."""
        return self.name == OPEN_ENDS.get(self.out)

    @property
    def mouth(self) -> Vec:
        """Where wires are reckoned to leave it: the middle of its outer end, of an open end low down."""
        axis = axis_of(self.out)
        point = list(self.box.center)
        if self.is_open_end:
            point[2] = self.box.low[2] + min(self.box.size[2], LIES_WITHIN) / 2
        point[axis] = plane_of(self.box, self.out)
        return (point[0], point[1], point[2])

    @property
    def opening(self) -> tuple[float, float]:
        """Width and height of the hole, across the way through it (mm)."""
        axis = axis_of(self.out)
        width, height = (size for number, size in enumerate(self.box.size) if number != axis)
        return width, height


@dataclass(frozen=True)
class Zone:
    """A box in which a train keeps parts or wires out of a vehicle.

    Attributes
    ----------
    parts, only
        Whether any part may be there; where not, these needs may all the same.
    wires
        Whether wires may be there.
    """

    name: str
    box: Box
    parts: bool = True
    only: tuple[str, ...] = ()
    wires: bool = True

    def shuts_out(self, need: str) -> bool:
        """Return whether the part of a need has to stay out."""
        return not self.parts and need not in self.only


HoleKind: TypeAlias = Literal["brick with a hole", "brick left out", "gap of a brick"]
"""A brick with a round hole along the grid in place of a whole one; bricks left out; or what a removable
brick leaves open in an end wall."""


@dataclass(frozen=True)
class Hole:
    """What is opened in a body, so that wires get through a wall that has no port.

    Attributes
    ----------
    name
        What a rebuild takes out for it; the name of the port, too, when it leads out.
    box
        What becomes clear: through a brick with a hole the square within the round of the hole.
    axis
        Along which wires pass it.
    out
        Through an end wall the way out; None between two rooms of the body.
    bricks, cost
        How many bricks are exchanged or left out, and what that costs on the scale of removable bricks.
    """

    name: str
    kind: HoleKind
    box: Box
    axis: Axis
    out: Direction | None
    bricks: int
    cost: float


Parted: TypeAlias = Literal["daily", "storage", "never"]
"""How often a coupling is opened: in everyday use, to put the train away, or never."""
PARTED: tuple[Parted, ...] = ("daily", "storage", "never")


@dataclass(frozen=True)
class Coupling:
    """A coupling at an end: its pivot on the vehicle (x, z in mm, on the middle line).

    ``length`` is from the end of the footprint to the middle of the closed coupling, in mm. ``parted`` says
    how often it is opened; None: not said.
    """

    end: Literal["front", "rear"]
    pivot_x: float
    height: float
    length: float
    parted: Parted | None = None


@dataclass(frozen=True)
class Wheels:
    """Rigid axles or bogie pivots: positions along x in mm; with bogies the axle base of each bogie."""

    kind: Literal["axles", "bogies"]
    at: tuple[float, ...]
    driven: tuple[bool, ...]
    wheel_radius: float
    bogie_wheelbase: float = 0.0


@dataclass(frozen=True)
class Face:
    """A named face of something built in: a flat box and the direction that it looks."""

    name: str
    box: Box
    out: Direction


def built_in_name(owner: str) -> tuple[str, str] | None:
    """Return the vehicle and the name that ``vehicle/built-in`` stands for; None for the name of a need."""
    vehicle, slash, name = owner.partition("/")
    return (vehicle, name) if slash else None


@dataclass(frozen=True)
class BuiltIn:
    """What is in the vehicle already: motor, signal receiver; its solids are fixed, its pins can be wired."""

    name: str
    kind: str
    solids: tuple[Solid, ...]
    faces: tuple[Face, ...] = ()
    pins: tuple[Pin, ...] = ()
    """Pins in the vehicle's frame."""
    mass_g: float = 0.0
    stall_ma: float = 0.0
    current_ma: float = 0.0
    cells: CellPack | None = None
    """Cells that the vehicle carries for its own motor."""


Kind: TypeAlias = Literal["loco", "wagon", "railcar", "road"]
KINDS: tuple[Kind, ...] = ("loco", "wagon", "railcar", "road")


@dataclass(frozen=True)
class Vehicle(HashedOnce):
    """A vehicle as its file describes it.

    Attributes
    ----------
    length, width
        Footprint in mm along x and y; ``top`` is the highest point of the body above the rail head.
    load_top
        How high loads may stand where the body is open at the top; 0: no higher than the body. The free space
        up there is part of ``body``.
    floor_finish
        ``studded``: studs stand proud on every level upward face of bricks under free space, on upper decks
        as on the floor, but on what is drawn as smooth.
    body
        Layers' boxes and solids in drawing order.
    mass_g, mass_center
        Mass without what is to be built in, and its centre of gravity (mm).
    """

    name: str
    kind: Kind
    studs_long: int
    studs_wide: int
    base: float
    top: float
    floor_finish: Literal["studded", "smooth"]
    body: tuple[BodySolid, ...]
    layers: tuple[Layer, ...]
    removables: tuple[Removable, ...]
    openings: tuple[Opening, ...]
    windows: tuple[Window, ...]
    ports: tuple[Port, ...]
    couplings: tuple[Coupling, ...]
    wheels: Wheels
    built_in: tuple[BuiltIn, ...]
    mass_g: float
    mass_center: tuple[float, float, float]
    characters: tuple[tuple[str, str], ...] = ()
    """Legend of the layer drawings: character and what it stands for."""
    load_top: float = 0.0
    rounded: float = 0.0
    """How far (mm) solids may have been rounded outwards when the body was drawn from a mesh; 0: exact."""
    zones: tuple[Zone, ...] = ()
    """Where the train file lets no parts, or no wires, be."""
    holes: tuple[Hole, ...] = ()
    """What planning has opened: drawn last, as removable bricks, and with the ports that they make
    (`fitplan.model.holes`). None as read from a file."""

    __hash__ = HashedOnce.hash_of_fields

    @property
    def length(self) -> float:
        """Footprint along x in mm."""
        return self.studs_long * STUD

    @property
    def width(self) -> float:
        """Footprint along y in mm."""
        return self.studs_wide * STUD

    @property
    def size_words(self) -> str:
        """Footprint and height of the body, as one who builds it reads them."""
        plates = round((self.top - self.base) / PLATE)
        return f"{self.studs_long} × {self.studs_wide} studs, {plates} plates high"

    @property
    def hull(self) -> Box:
        """The box of the footprint from the underside of the body to its top, or to that of loads on it."""
        return Box((0.0, 0.0, self.base), (self.length, self.width, max(self.top, self.load_top)))

    @property
    def outline(self) -> Box:
        """The box of the footprint from the underside of the body to the top of its bricks."""
        return Box((0.0, 0.0, self.base), (self.length, self.width, self.top))

    def port(self, name: str) -> Port | None:
        """Return the port of this name; None where there is none."""
        return next((one for one in self.ports if one.name == name), None)
