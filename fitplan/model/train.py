"""A train: vehicles in running order, what must be built in, what is wired to what, track and running."""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import dataclass, field
from typing import Literal, TypeAlias

from fitplan.model.as_built import NOTHING_BUILT, AsBuilt
from fitplan.model.measured import NOTHING_MEASURED, Measured
from fitplan.model.part import Can, Part
from fitplan.model.solids import Direction, Pose, Vec
from fitplan.model.vehicle import PARTED, BuiltIn, Parted, Vehicle, built_in_name

NetRole: TypeAlias = Literal["ground", "supply", "signal"]
WiringStyle: TypeAlias = Literal["tree", "home-run", "chain"]
PartSide: TypeAlias = Literal["+x", "-x", "+y", "-y", "+z", "-z", "plug"]
"""A side of a part: a direction of its own frame, or that of the first socket that a plug goes into."""


@dataclass(frozen=True)
class TrainVehicle:
    """A vehicle in its place in the train; ``turned``: its own front looks backwards."""

    name: str
    vehicle: Vehicle
    turned: bool = False

    def in_train(self, start: float, point: Vec) -> Vec:
        """Return a point of the vehicle's frame in the train's frame on straight track (mm).

        ``start`` is the vehicle's entry in `Train.starts`; y counts from the middle of the track.
        """
        x, y, z = point
        if self.turned:
            x, y = self.vehicle.length - x, self.vehicle.width - y
        return (start + x, y - self.vehicle.width / 2, z)

    def coupling_length(self, end: Literal["ahead", "behind"]) -> float:
        """Return how far the coupling at an end of the train's order reaches, in mm; 0 when there is none."""
        own = "front" if (end == "ahead") != self.turned else "rear"
        return next((entry.length for entry in self.vehicle.couplings if entry.end == own), 0.0)

    def coupling_parted(self, end: Literal["ahead", "behind"]) -> Parted | None:
        """Return how often the coupling at an end of the train's order is opened, where its file says so."""
        own = "front" if (end == "ahead") != self.turned else "rear"
        return next((entry.parted for entry in self.vehicle.couplings if entry.end == own), None)


@dataclass(frozen=True)
class Choice:
    """What is asked of a part that is chosen from the catalogue.

    Attributes
    ----------
    family
        Catalogue family, for example ``controller`` or ``cells``.
    parts
        If not empty: only these ids.
    pins
        How many signal pins that can do this are needed, beyond what the nets already ask.
    out_v, min_hours
        For a supply: volts that must arrive and hours that it must last; 0 when not asked.
    """

    family: str
    parts: tuple[str, ...] = ()
    pins: tuple[tuple[Can, int], ...] = ()
    out_v: float = 0.0
    min_hours: float = 0.0


@dataclass(frozen=True)
class Exchange:
    """What may be opened and taken out to get at a part that is exchanged, plugged in or switched often.

    Attributes
    ----------
    openings
        Names of the openings that may be opened; empty, or none of them in the part's vehicle: those that
        open often.
    parts_out, bricks_out
        How many other parts, and how many removable bricks, may come out before it.
    wanted
        The part itself must come out, whether the catalogue counts it among what is exchanged or not.
    """

    openings: tuple[str, ...] = ()
    parts_out: int = 0
    bricks_out: int = 0
    wanted: bool = False


@dataclass(frozen=True)
class FixedPlace:
    """Where a user has fixed a part, wholly or in some respects; the search finds what is left open.

    Attributes
    ----------
    vehicle
        The vehicle that it is in.
    pose, offset
        Its pose by name, and where its own origin lies in the vehicle's frame (mm); None: left open.
    towards
        Sides of the part and where each points in the vehicle.
    planes
        A side of the box round the part as it lies, and the plane of that side in the vehicle's frame (mm).
    """

    vehicle: str
    pose: str | None = None
    offset: Vec | None = None
    towards: tuple[tuple[PartSide, Direction], ...] = ()
    planes: tuple[tuple[Direction, float], ...] = ()

    @property
    def is_whole(self) -> bool:
        """Whether nothing is left open: such a place stands above the rules of the part's mount."""
        return self.pose is not None and self.offset is not None

    @property
    def fixes_height(self) -> bool:
        """Whether it may not be let down onto what is below it."""
        return self.offset is not None or any(side[1] == "z" for side, _ in self.planes)

    def allows(self, part: Part, pose: Pose) -> bool:
        """Return whether a part may be turned so."""
        return (self.pose is None or pose.name == self.pose) and all(
            side is not None and pose.turn_direction(side) == way
            for side, way in ((self._side(part, name), way) for name, way in self.towards)
        )

    def _side(self, part: Part, name: PartSide) -> Direction | None:
        if name != "plug":
            return name
        return next((access.side for access in part.access if access.kind in ("console", "socket")), None)


@dataclass(frozen=True)
class Need:
    """One thing that must be built in.

    Attributes
    ----------
    candidates
        The parts that may serve, best first; one when it was asked by name.
    vehicles
        Names of the vehicles that it may go into, preferred first; empty: any (the loco first, then the
        nearest wagons).
    looks
        (vehicle, window) that its lens must look out of, or None.
    sits
        (vehicle, built-in, face) that it must lie on, or None.
    pinned
        Where the user has fixed it, or None.
    """

    name: str
    candidates: tuple[Part, ...]
    choice: Choice | None = None
    vehicles: tuple[str, ...] = ()
    looks: tuple[str, str] | None = None
    sits: tuple[str, str, str] | None = None
    pinned: FixedPlace | None = None
    duty: float = 1.0
    """Share of the running time in which it draws its current."""
    exchange: Exchange = Exchange()

    @property
    def is_held(self) -> bool:
        """Whether a window, a face or a fixed height says how high it lies: it is not let down."""
        return bool(self.looks or self.sits or (self.pinned is not None and self.pinned.fixes_height))

    @property
    def bound_to(self) -> str:
        """The vehicle that a window, a face or a fixed place binds it to; empty when nothing does."""
        if self.pinned is not None:
            return self.pinned.vehicle
        return next((place[0] for place in (self.looks, self.sits) if place is not None), "")


@dataclass(frozen=True)
class PinRef:
    """One end of a net.

    ``owner`` is a need's name, or ``vehicle/built-in``. ``pin`` is a pin's name, a role (``ground``,
    ``raw``, ``5v`` …: the part's pins of that role), or ``*``: any signal pin that can do what the other
    ends want, to be chosen by the pin matching.
    """

    owner: str
    pin: str


@dataclass(frozen=True)
class Net:
    """Pins that are joined.

    ``current_ma`` is the user's own figure for the gauge; 0: computed from the loads.
    """

    name: str
    role: NetRole
    joins: tuple[PinRef, ...]
    style: WiringStyle = "tree"
    current_ma: float = 0.0
    lead: str = ""
    """Id of the lead as bought that plugs its two ends together, ground with it; empty: wires."""


@dataclass(frozen=True)
class Track:
    """The sharpest curve (radius to the middle of the track), gradient and clearances, in mm and per cent."""

    radius: float
    reverse_curve: bool = False
    gradient_percent: float = 0.0
    gauge: float = 38.0
    structure_half_width: float = 40.0
    """Clear half width beside the track's middle line on straight track."""
    structure_height: float = 120.0
    adhesion: float = 0.25
    """Most pull or brake of a driven wheel over its load: steel on dry steel (Koffman, 1948)."""
    least_straight: float = 128.0
    """Shortest straight between curves of opposite hand, where no reverse curve is allowed (mm): one piece of
    common straight track, 16 studs (common practice, no source)."""


@dataclass(frozen=True)
class Running:
    """How the train runs: mm/s, mm/s², seconds, °C."""

    speed: float
    deceleration: float = 600.0
    reading_interval_s: float = 0.1
    command_delay_s: float = 0.15
    temperature_c: float = 20.0
    trip_distance: float = 0.0
    """Distance at which the user's program stops; 0: to be proposed."""
    margin: float = 20.0
    hours: float = 2.0
    push_pull: bool | None = None
    """Whether it runs both ways; None: that is not said."""
    reads: Literal["front", "alternating", "all"] = "front"
    reading_order: tuple[str, ...] = ()
    """Needs of the rangers in the order in which they are read, again and again; empty: as ``reads`` says."""
    median: int = 1
    """The program follows the median of so many readings: an odd number."""
    frame_interval_s: float = 0.1
    """From one infrared frame of a command to its repetition (common practice, no source)."""
    lost_frames: int = 1
    """How many frames one after the other are reckoned lost (common practice, no source)."""
    coupling_play: float = 1.0
    """How far each coupling gives between pull and push, in mm (common practice, no source)."""
    speed_in_curves: float = 0.0
    """Speed at which the program runs about curves; 0: no slower than elsewhere."""

    @property
    def curve_speed(self) -> float:
        """Speed about curves."""
        return min(self.speed_in_curves or self.speed, self.speed)


@dataclass(frozen=True)
class Weights:
    """What one unit of each cost weighs when choices are compared; compared in this order by default."""

    vehicles_opened: float = 1000.0
    wagons_added: float = 500.0
    conductors_across: float = 50.0
    bricks_removed: float = 20.0
    wire_metres: float = 5.0
    mass_off_balance: float = 0.1


@dataclass(frozen=True)
class Allowances:
    """What is added to a bare way, in mm; all of it common practice, no source.

    Attributes
    ----------
    lead_out
        At each pin, and at a connector's cavity: a straight piece before the way begins. 0 as a rule, since
        the way itself begins at the pin, along its exit.
    slack_share
        Share of the bare way, as a wire that is taped down is never taut.
    per_bend
        At each turn by more than `bend_from_deg` degrees.
    bend_from_deg
        See above.
    strip
        Insulation taken off at a pin or cavity; the copper is part of the cut length.
    splice_overlap
        At a splice: bared copper that lies alongside the other wires.
    service_loop
        At an end whose part has to come out again.
    rounding
        Cut lengths are rounded up to a multiple of this.
    """

    lead_out: float = 0.0
    slack_share: float = 0.04
    per_bend: float = 1.0
    bend_from_deg: float = 30.0
    strip: float = 4.0
    splice_overlap: float = 8.0
    service_loop: float = 25.0
    rounding: float = 5.0

    def __post_init__(self) -> None:
        """Refuse negative figures and a rounding step of nothing."""
        for name in ("lead_out", "slack_share", "per_bend", "strip", "splice_overlap", "service_loop"):
            if not getattr(self, name) >= 0:
                raise ValueError(f"the allowance {name} is at least 0, not {getattr(self, name)}")
        if not self.rounding > 0:
            raise ValueError(f"lengths are rounded up to a positive step, not {self.rounding}")


@dataclass(frozen=True)
class Slack:
    """What is added to the longest distance over a coupling, and what is kept below.

    Attributes
    ----------
    share, least
        Slack as a share of the longest distance, but at least so many mm (common practice, no source).
    above_rail
        The wires stay at least so far above the rail head, in mm (common practice, no source).
    """

    share: float = 0.1
    least: float = 6.0
    above_rail: float = 4.0


SPOOL_COLOURS = ("BK", "BN", "RD", "OG", "YE", "GN", "BU", "VT", "GY", "WH", "PK", "GD", "TQ", "SR")
"""Colours that a wire may have, by the letter codes of IEC 60757 (from memory, not confirmed). Green and
yellow together mark protective earth and are never given out."""


@dataclass(frozen=True)
class Spool:
    """Wire of one colour that the user owns; ``metres`` of it, inf when not said; ``awg`` 0: of any gauge."""

    colour: str
    metres: float = math.inf
    awg: int = 0


Tool: TypeAlias = Literal["soldering iron", "crimping tool", "heat gun", "meter"]
TOOLS: tuple[Tool, ...] = ("soldering iron", "crimping tool", "heat gun", "meter")
"""Tools that a harness is made with."""


@dataclass(frozen=True)
class OnHand:
    """What the user has already.

    Attributes
    ----------
    parts
        Ids of the catalogue, and how many of each lie in the drawer.
    tools
        Tools at hand.
    """

    parts: tuple[tuple[str, int], ...] = ()
    tools: tuple[Tool, ...] = TOOLS

    def count(self, part: str) -> int:
        """Return how many of a part there are."""
        return dict(self.parts).get(part, 0)


@dataclass(frozen=True)
class Wiring:
    """What the user decides about the harness.

    ``drop_limit_v`` is the largest drop there and back in a ground or supply net, in V (common practice, no
    source).
    """

    signal_wire: str = "wire-awg28"
    power_wire: str = "wire-awg24"
    style: WiringStyle = "tree"
    coupling_connector: str = ""
    """Catalogue id of the connector pair at each coupling; empty: wires run through."""
    drop_limit_v: float = 0.15
    allowances: Allowances = Allowances()
    coupling_slack: Slack = Slack()
    spools: tuple[Spool, ...] = ()
    """Colours at hand; none named: all of `SPOOL_COLOURS`."""
    leads: tuple[str, ...] = ()
    """Ids of ready-made single leads, taken for wires whose ends they fit, the first that does."""
    solder: bool = True
    """False: nothing may need a soldering iron."""


@dataclass(frozen=True)
class SourceFile:
    """A file that a train was read from: its name as seen from the train file, and its SHA-256."""

    name: str
    digest: str


PreferenceKind: TypeAlias = Literal["near", "far from", "same side as", "reachable from", "hidden"]
PREFERENCES: tuple[PreferenceKind, ...] = ("near", "far from", "same side as", "reachable from", "hidden")


@dataclass(frozen=True)
class Preference:
    """What is liked of a part's place: in one vehicle before all costs, inside it against mm of wire.

    ``of`` is a need; ``other`` a need, ``vehicle/built-in``, an opening for *reachable from*, or empty.
    """

    of: str
    kind: PreferenceKind
    other: str = ""


@dataclass(frozen=True)
class Train:
    """A whole train as its file describes it."""

    name: str
    vehicles: tuple[TrainVehicle, ...]
    needs: tuple[Need, ...]
    nets: tuple[Net, ...]
    track: Track
    running: Running
    weights: Weights = Weights()
    wiring: Wiring = Wiring()
    owned: OnHand = OnHand()
    preferences: tuple[Preference, ...] = ()
    """In the order of importance."""
    may_add_wagon: bool = False
    may_open: bool = False
    """Where wires find no way through a body, holes may be opened in it."""
    catalogue: dict[str, Part] = field(default_factory=dict, compare=False)
    """Every part that the files could refer to, by id."""
    source: str = ""
    files: tuple[SourceFile, ...] = ()
    """What it was read from, the catalogue that comes with fitplan as one."""
    measured: Measured = NOTHING_MEASURED
    """What was measured of it, and put in the place of typical figures."""
    as_built: AsBuilt = NOTHING_BUILT
    """What of it is built already, to be kept unless it must go."""

    def starts(self) -> dict[str, float]:
        """Return for each vehicle the train coordinate (mm) of its rearmost end on straight track.

        The train's frame: x = 0 at the front end of the leading vehicle's footprint, growing forwards;
        y to the left from the middle of the track; z up from the rail head.
        """
        found: dict[str, float] = {}
        x = 0.0
        for number, entry in enumerate(self.vehicles):
            if number:
                x -= self.vehicles[number - 1].coupling_length("behind") + entry.coupling_length("ahead")
            x -= entry.vehicle.length
            found[entry.name] = x
        return found

    def vehicle(self, name: str) -> TrainVehicle:
        """Return the vehicle of this name.

        Raises
        ------
        KeyError
            When there is none.
        """
        for entry in self.vehicles:
            if entry.name == name:
                return entry
        raise KeyError(name)

    def parted(self, ahead: str, behind: str) -> Parted:
        """Return how often the coupling of two vehicles is opened: the oftener of what both say."""
        said = [
            self.vehicle(ahead).coupling_parted("behind"), self.vehicle(behind).coupling_parted("ahead")
        ]  # fmt: skip
        return min((one for one in said if one is not None), key=PARTED.index, default="storage")

    def pair_at(self, ahead: str, behind: str) -> str:
        """Return the connector pair at a coupling; empty where wires run through."""
        return "" if self.parted(ahead, behind) == "never" else self.wiring.coupling_connector

    def joins_others(self, net: str, owner: str, placed: Collection[str]) -> bool:
        """Return whether a net joins an owner to something that has a place: a need's part, or a built-in."""
        ends = next((one.joins for one in self.nets if one.name == net), ())
        return any(
            end.owner != owner and (end.owner in placed or self.built_in(end.owner) is not None)
            for end in ends
        )

    def built_in(self, owner: str) -> BuiltIn | None:
        """Return what ``vehicle/built-in`` names; None where that is nothing, or the name of a need."""
        named = built_in_name(owner)
        every = ((entry.name, there) for entry in self.vehicles for there in entry.vehicle.built_in)
        return next((there for vehicle, there in every if (vehicle, there.name) == named), None)

    def need(self, name: str) -> Need:
        """Return the need of this name.

        Raises
        ------
        KeyError
            When there is none.
        """
        for entry in self.needs:
            if entry.name == name:
                return entry
        raise KeyError(name)
