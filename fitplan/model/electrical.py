"""What a part does electrically: one small value per kind of figure; a part may carry several.

Volts in V, currents in mA, resistances in Ω, powers in W, angles in degrees, lengths in mm.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias

Chemistry: TypeAlias = Literal["alkaline", "nimh", "li-ion"]
RegulatorKind: TypeAlias = Literal["linear", "step-up", "step-down", "step-up-down"]


@dataclass(frozen=True)
class CellPack:
    """Cells in series, as held in a holder, a block or a pouch.

    ``capacity_mah`` is the typical capacity of one cell at a light load; ``resistance_ohm`` is of one cell.
    """

    chemistry: Chemistry
    cell_size: str
    cells: int
    capacity_mah: float
    resistance_ohm: float
    max_ma: float
    protected: bool = False
    cell_mass_g: float = 0.0
    cells_per_unit: int = 1
    """Elementary cells inside one ``cell`` (six in a 9 V block)."""
    charge_ma: float = 0.0
    """Largest charging current; 0: half the capacity in an hour for li-ion, a tenth for NiMH."""

    @property
    def elements(self) -> int:
        """Elementary cells in series."""
        return self.cells * self.cells_per_unit


@dataclass(frozen=True)
class Bank:
    """A USB bank: li-ion cells with their own step-up and switch."""

    out_v: float
    capacity_mah: float
    cell_v: float
    efficiency: float
    max_ma: float
    off_below_ma: float
    """Load below which it may switch itself off (common practice, no standard)."""


@dataclass(frozen=True)
class Regulator:
    """A voltage regulator as a part of its own, or the one on a controller board."""

    kind: RegulatorKind
    out_v: float
    in_min_v: float
    in_max_v: float
    max_ma: float
    dropout_v: float = 0.0
    efficiency: float = 1.0
    quiescent_ma: float = 0.0
    start_v: float = 0.0
    start_ma: float = 0.0
    theta_ja: float = 0.0
    """Junction to ambient, °C/W; 0 when unknown."""
    in_limit_v: float = 0.0
    """Absolute maximum at its input; 0: no more than ``in_max_v``."""
    in_max_ma: float = 0.0
    """Largest current into a switching one, which bounds its output at low input volts; 0: not stated."""


@dataclass(frozen=True)
class Controller:
    """A controller board: its logic level, what it draws, and where it gives up."""

    logic_v: float
    current_ma: float
    peak_ma: float
    brown_out_v: float
    pin_ma: float
    out_ma: float
    """What its regulated output pin can feed to others."""
    regulator: Regulator | None = None
    five_volt_tolerant: bool = True
    serial_pins: tuple[str, ...] = ()
    rail_max_v: float = 0.0
    """Most volts at its regulated rail, fed from outside; 0: a tenth above the rail's own."""
    rail_limit_v: float = 0.0
    """Absolute maximum at that rail; 0: no more than ``rail_max_v``."""
    chip_ma: float = 0.0
    """Largest current of all its signal pins together; 0: not stated."""
    tone_timer: str = ""
    """The timer that the usual tone call takes."""
    usb_ma: float = 0.0
    """What may flow in through its USB socket; what it does not draw it passes on; 0: not stated."""
    usb_drop_v: float = 0.0
    """Volts lost between that socket and its regulated rail, in a diode or switch."""
    clock_timer: str = ""
    """The timer that keeps the time: its frequency cannot be changed."""
    pin_limit_v: float = 0.0
    """Absolute maximum at a signal pin; 0: 0.3 V above the logic level, 5.5 V when it stands 5 V."""
    port_ma: float = 0.0
    """Largest current of the signal pins of one port together; 0: not stated."""
    low_rail_ma: float = 0.0
    """What a rail below its own, 3.3 V beside 5 V, can feed to others; 0: as much as ``out_ma``."""


@dataclass(frozen=True)
class Load:
    """Something that is fed: the voltage range at its supply pin and what it draws."""

    min_v: float
    max_v: float
    current_ma: float
    peak_ma: float
    logic_v: float = 0.0
    """Level that its signal outputs swing to; 0 for its supply."""
    limit_v: float = 0.0
    """Absolute maximum at its supply pin; 0: no more than ``max_v``."""
    signal_max_v: float = 0.0
    """Most volts at its signal inputs; 0: 0.3 V above its supply."""


@dataclass(frozen=True)
class Ranger:
    """A distance or presence sensor that looks out along its lens."""

    method: Literal["sound", "light"]
    half_angle_deg: float
    blind_mm: float
    reach_mm: float
    cycle_ms: float


@dataclass(frozen=True)
class Emitter:
    """An infrared emitter that talks to a receiver."""

    wavelength_nm: float
    half_angle_deg: float
    reach_mm: float


@dataclass(frozen=True)
class MotorDriver:
    """A motor driver: supply range, continuous and peak current, on-resistance."""

    min_v: float
    max_v: float
    continuous_ma: float
    peak_ma: float
    on_ohm: float
    channels: int
    theta_ja: float = 0.0
    limit_v: float = 0.0
    """Absolute maximum of the motor volts; 0: no more than ``max_v``."""
    signal_max_v: float = 0.0
    """Most volts at its signal inputs; 0: as those of its logic supply, or 5.5 V."""


@dataclass(frozen=True)
class Charger:
    """A charger for cells in series, with or without protection.

    ``cell_pins`` go to the cells; what the train draws passes its other pins, and with them the protection.
    """

    in_v: float
    charge_ma: float
    protected: bool
    chemistry: Chemistry = "li-ion"
    cells: int = 1
    balances: bool = False
    """Levels cells in series against each other."""
    cell_pins: tuple[str, ...] = ()


@dataclass(frozen=True)
class Coil:
    """A receiver coil with its board: what it gives a charger while it lies over a sender."""

    out_v: float
    max_ma: float
    reach_mm: float
    """So far from the sender it still gives that."""


@dataclass(frozen=True)
class Conductor:
    """A wire from the spool: gauge (AWG), conductors side by side, outer diameter of one in mm."""

    awg: int
    conductors: int
    outer_mm: float
    strands: int
    pitch_mm: float = 0.0
    """Spacing in a ribbon; 0 for a single wire."""


LeadEnd: TypeAlias = Literal["type A", "mini-B", "micro-B", "type C", "socket", "pin", "bare"]
"""What is at a lead's end: a plug of the Universal Serial Bus, a socket for a pin, a pin, or bare wire."""
Leaves: TypeAlias = Literal["straight", "up", "down", "left", "right"]


@dataclass(frozen=True)
class Lead:
    """A lead as it is bought, ready-made: what is at its ends, its cable, and the lengths that it is sold in.

    The first two solids of its part are the bodies at its ends, each drawn with x = 0 at the mating face and
    x growing backwards along a straight plug. ``lengths_mm`` are those of the cable between the bodies.
    ``leaves`` says where the cable leaves the second body, seen from a socket that faces the front.
    """

    first: LeadEnd
    second: LeadEnd
    lengths_mm: tuple[float, ...]
    awg: int
    outer_mm: float
    bend_mm: float
    """Least radius of a bend, to the middle line."""
    leaves: Leaves = "straight"


OwnEnd: TypeAlias = Literal["bare", "socket", "pin"]


@dataclass(frozen=True)
class OwnLeads:
    """Leads that a part comes with, one at each pin whose joint is ``attached``; all of one kind."""

    length_mm: float
    end: OwnEnd
    awg: int
    outer_mm: float
    bend_mm: float = 4.0
    """Least radius of a bend, to the middle line."""


@dataclass(frozen=True)
class Connector:
    """A connector of a pair: cavities, the gauges it takes, its current limit per cavity.

    ``sockets``: it is a row of pins to both sides, which sockets of single leads as bought go onto.
    """

    cavities: int
    awg_min: int
    awg_max: int
    max_ma: float
    keyed: bool
    sockets: bool = False


@dataclass(frozen=True)
class Switch:
    """A switch in the supply line."""

    max_ma: float
    max_v: float


@dataclass(frozen=True)
class Fuse:
    """A fuse in the supply line: what it carries for good, and what makes it open or trip."""

    hold_ma: float
    trip_ma: float
    resistance_ohm: float = 0.0
    resettable: bool = False
    max_v: float = 0.0
    """Most volts that it breaks; 0: not stated."""


@dataclass(frozen=True)
class SeriesResistor:
    """What a part on a signal pin needs so that no more than its current flows: a resistor in series.

    ``forward_v`` is the drop of a diode, ``own_ohm`` the resistance of a coil; ``place`` says whether the
    resistor is on the part's board already or has to be soldered into its lead.
    """

    forward_v: float
    own_ohm: float
    current_ma: float
    place: Literal["lead", "board"]


@dataclass(frozen=True)
class BusDevice:
    """A part on the shared bus: its address, whether a program can change it, and its pull-ups in Ω.

    One whose address changes is told it by a pin that keeps it off, so that all but one need that pin.
    """

    address: str
    changes: bool = False
    off_pin: str = ""
    pull_up_ohm: float = 0.0
    """0: it has none."""


Electrical: TypeAlias = (
    CellPack | Bank | Regulator | Controller | Load | Ranger | Emitter | MotorDriver | Charger | Coil
    | Conductor | Lead | OwnLeads | Connector | Switch | Fuse | SeriesResistor | BusDevice
)  # fmt: skip
