"""What planning finds out: places, harness, pin map, findings, and the Plan that holds them all.

Points are in the frame of the vehicle that is named beside them, in mm.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias

from fitplan.model.as_built import NO_REWORK, Rework
from fitplan.model.buying import Article, Asked
from fitplan.model.meter import NO_METER, MeterPlan
from fitplan.model.part import Part, Pin
from fitplan.model.solids import Box, Direction, Place, Solid, Vec, bounds_of
from fitplan.model.train import Need, NetRole, Train
from fitplan.model.vehicle import OPEN_SIDES, Hole, built_in_name
from fitplan.model.wider_window import WiderWindow
from fitplan.model.wiring_facts import NO_FACTS, WiringFacts
from fitplan.model.work import NO_WORK, WorkPlan

Verdict: TypeAlias = Literal["fits", "fits after a rebuild", "cannot fit", "not decided"]
Severity: TypeAlias = Literal["stop", "caution", "note"]
SEVERITIES: tuple[Severity, ...] = ("stop", "caution", "note")


ShelfKind: TypeAlias = Literal["pad", "plates", "bracket", "clip", "bridge", "hanger", "block"]
"""pad: foam or tape alone; plates: a stack under the part; bracket: a stack with a plate on top that reaches
under the part; clip: a tile on a side stud that the part lies against; bridge: a plate over two stacks;
hanger: a stack from the roof with a plate below that reaches under the part; block: printed or glued, no
studs."""
SHELF_WORDS: dict[ShelfKind, str] = {
    "pad": "a pad",
    "plates": "plates under it",
    "bracket": "a bracket",
    "clip": "a tile on a side stud",
    "bridge": "a plate over two stacks",
    "hanger": "a plate that hangs from the roof",
    "block": "a printed block",
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
        made = ", ".join(name if count == 1 else f"{count} {name}" for name, count in counted.items())
        return made if self.kind in ("pad", "block") else f"{SHELF_WORDS[self.kind]}: {made}"


NOTHING = "nothing"
"""What is said to carry a part that has nothing under it."""
ITS_MOUNT = "its mount"
"""What is said to carry a part that wants no support and has nothing close under it."""


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

    @property
    def solids(self) -> tuple[Solid, ...]:
        """What the part fills, in its vehicle's frame (mm)."""
        return tuple(self.place.move_solid(solid) for solid in self.part.envelope)

    @property
    def bounds(self) -> Box:
        """The smallest box round it, in its vehicle's frame (mm)."""
        return bounds_of(self.solids)


@dataclass(frozen=True)
class Fastening:
    """What keeps a part from sliding or tipping where it lies.

    Attributes
    ----------
    ways
        Directions in which it holds; empty: against tipping.
    bricks
        Bricks on studs beside the part, one for each way; of a strap its two stacks, and last the plate over
        the part. A strap holds ``+z``, too.
    tape_mm
        Length of double-sided tape under the part, `TAPE_WIDTH` wide; 0 where bricks hold it.
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
            counted = (f"{names.count(name)} {name}" for name in dict.fromkeys(names))
            where = "as a strap over it" if "+z" in self.ways else "at its sides"
            return f"{' and '.join(counted)} {where}"
        return f"{self.tape_mm:.0f} mm of double-sided tape under it"


TAPE_WIDTH = 12.0
"""Width of double-sided tape, in mm (common practice, no source)."""
TAPE_MM2_PER_G = 5.7
"""Tape that holds a gram for good: 57 cm² a kilogram, a usual rule for foam tape (from memory)."""


@dataclass(frozen=True)
class FitPlace:
    """Where a part of a fit row would lie: the part that is asked about, or one that must sit there anyway.

    ``shelf`` and ``steady`` say what carries it, as in a `Placement`.
    """

    need: str
    part_id: str
    place: Place
    shelf: Shelf | None = None
    steady: bool = True


@dataclass(frozen=True)
class FitRow:
    """Whether this part fits into this vehicle, beside what must sit there.

    ``missing_mm`` along ``axis`` is what was short in the pose that came closest; 0 when it fits.
    ``proof`` says what the verdict rests on; ``places`` where all would lie, when it fits.
    """

    need: str
    part_id: str
    vehicle: str
    verdict: Verdict
    reason: str
    proof: str
    missing_mm: float = 0.0
    axis: str = ""
    pose: str = ""
    remove: tuple[str, ...] = ()
    cost: float = 0.0
    places: tuple[FitPlace, ...] = ()


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


@dataclass(frozen=True)
class LeastOpening:
    """The least that must be opened in bodies before all wires can run, wherever parts lie.

    Attributes
    ----------
    holes, remove
        Holes with the vehicle that they are in, and removable bricks as (vehicle, name).
    cost, least
        What it costs, and the lower bound that is proved: with anything cheaper no place of the parts lets
        the wires through. Where the two are one, it is the least.
    proof
        Why the wires do not get through as it is, and how that was confirmed; empty where it is not proved.
    planned
        Whether the plan has it. Otherwise no more is said than that nothing cheaper can do.
    """

    holes: tuple[tuple[str, Hole], ...]
    remove: tuple[tuple[str, str], ...]
    cost: float
    least: float
    proof: str
    planned: bool = False

    @property
    def words(self) -> str:
        """What is opened, in words."""
        said = [f"take {name} out of {vehicle}" for vehicle, name in self.remove]
        said += [
            f"take out of {vehicle} {hole.name}"
            for vehicle, hole in self.holes
            if hole.kind != "gap of a brick"
        ]
        return "; ".join(said)


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


@dataclass(frozen=True)
class Harness:
    """All that is wired."""

    wires: tuple[Wire, ...] = ()
    splices: tuple[Splice, ...] = ()
    stretches: tuple[Stretch, ...] = ()
    crossings: tuple[Crossing, ...] = ()
    unreached: tuple[Unreached, ...] = ()
    facts: WiringFacts = NO_FACTS


@dataclass(frozen=True)
class PinUse:
    """One row of the pin map: a controller's pin, the net on it, and what it does there."""

    controller: str
    pin: str
    net: str
    serves: str
    """``need.pin`` at the other end."""
    does: str
    program: str = ""
    """What a program calls the pin; empty: nothing but its label is known."""


@dataclass(frozen=True)
class Resistor:
    """A resistor in series with a part on a controller's pin: ``ohm`` from series E24.

    ``owner`` and ``pin`` say what it protects, ``net`` in which net; ``power_w`` is the heat that it gives
    off, ``rated_w`` what it is rated for; ``place`` is the lead that it is soldered into, or its board.
    """

    owner: str
    pin: str
    net: str
    ohm: float
    current_ma: float
    power_w: float
    rated_w: float
    place: Literal["lead", "board"]

    @property
    def words(self) -> str:
        """Its value and the power that it is rated for: ``resistor 270 Ω, 0.25 W``."""
        value = f"{self.ohm / 1000:g} kΩ" if self.ohm >= 1000 else f"{self.ohm:g} Ω"
        return f"resistor {value}, {self.rated_w:g} W"


@dataclass(frozen=True)
class Finding:
    """One result of a check.

    ``figure`` stands against ``limit`` in ``unit``; ``remedy`` says what to do; ``source`` where the limit
    comes from. All of them are always given.
    """

    subject: str
    severity: Severity
    where: str
    message: str
    figure: float
    limit: float
    unit: str
    remedy: str
    source: str
    add: tuple[Asked, ...] = ()
    """Things to have for what the remedy says, where it asks for any; of alternatives the first."""


@dataclass(frozen=True)
class Table:
    """A table that a check adds to the report: header and rows of text or numbers."""

    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str | float, ...], ...]
    note: str = ""


@dataclass(frozen=True)
class Curve:
    """A named line of a plot."""

    name: str
    x: tuple[float, ...]
    y: tuple[float, ...]


@dataclass(frozen=True)
class Plot:
    """A plot that a check adds to the report; axis labels carry their unit; ``limits`` are level lines."""

    title: str
    x_label: str
    y_label: str
    curves: tuple[Curve, ...]
    limits: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True)
class Outcome:
    """What one check returns."""

    subject: str
    findings: tuple[Finding, ...]
    tables: tuple[Table, ...] = ()
    plots: tuple[Plot, ...] = ()


@dataclass(frozen=True)
class Option:
    """A choice of parts and vehicles, with what it costs in each respect; lower is better in all.

    ``chosen`` marks the one that the plan follows; the others are not dominated by any.
    """

    parts: tuple[tuple[str, str, str], ...]
    """(need, part id, vehicle)."""
    vehicles_opened: int
    wagons_added: int
    conductors_across: int
    bricks_removed: float
    wire_mm: float
    mass_off_balance_g: float
    score: float
    chosen: bool = False
    shut_in: int = 0
    """Parts that cannot be exchanged without taking out more than the user allows."""


@dataclass(frozen=True)
class BuiltTrain:
    """A placed and wired train: what checks read."""

    train: Train
    placements: tuple[Placement, ...]
    harness: Harness
    pin_map: tuple[PinUse, ...]
    rebuilds: tuple[Rebuild, ...] = ()
    exchanged: tuple[Exchanged, ...] = ()
    fastenings: tuple[Fastening, ...] = ()
    resistors: tuple[Resistor, ...] = ()
    """What is soldered between controller pins and what they feed."""
    opening: LeastOpening | None = None
    """Where wires find no way through a body: the least that must be opened."""

    def placement(self, need: str) -> Placement | None:
        """Return where a need's part lies, or None when it was not placed."""
        return next((entry for entry in self.placements if entry.need == need), None)

    def pins_of(self, owner: str) -> tuple[Pin, ...]:
        """Return the pins of a need's part or of ``vehicle/built-in``; none where it has no place."""
        there = self.train.built_in(owner)
        if there is not None:
            return there.pins
        placement = self.placement(owner)
        return placement.part.pins if placement is not None else ()

    def vehicle_of(self, owner: str) -> str | None:
        """Return the vehicle that a need's part or ``vehicle/built-in`` is in; None where it has no place."""
        named = built_in_name(owner)
        if named is not None:
            return named[0]
        placement = self.placement(owner)
        return placement.vehicle if placement is not None else None

    def taken_out(self, vehicle: str) -> frozenset[str]:
        """Return the names of the bricks that a rebuild takes out of a vehicle."""
        return frozenset(name for one in self.rebuilds if one.vehicle == vehicle for name in one.remove)

    def need_of(self, placement: Placement) -> Need:
        """Return the need that a placement serves."""
        return self.train.need(placement.need)


@dataclass(frozen=True)
class Plan:
    """Everything that was found out about a train."""

    built: BuiltTrain
    verdict: Verdict
    fit: tuple[FitRow, ...]
    assembly: tuple[AssemblyStep, ...]
    assembly_blocked: tuple[str, ...]
    """Which part blocks which when there is no order."""
    options: tuple[Option, ...]
    outcomes: tuple[Outcome, ...]
    unplaced: tuple[tuple[str, str], ...] = ()
    """(need, why) for parts without a place."""
    seed: int = 0
    proved: bool = True
    """Whether it is proved that no other choice of parts and vehicles costs less."""
    cut_short: tuple[str, ...] = ()
    """Stages that a deadline cut short; what they left open is not decided."""
    meter: MeterPlan = NO_METER
    """What is measured before and at the first switching on."""
    buying: tuple[Article, ...] = ()
    """What must be had to build it, by where one buys it."""
    wider_windows: tuple[WiderWindow, ...] = ()
    """What bricks must go round a window so that a part without a place looks out of it."""
    work: WorkPlan = NO_WORK
    """What is done at the bench, step by step."""
    rework: Rework = NO_REWORK
    """What is not as it was built, where something was."""

    @property
    def findings(self) -> tuple[Finding, ...]:
        """All findings, stops first, then cautions, then notes."""
        every = [finding for outcome in self.outcomes for finding in outcome.findings]
        return tuple(sorted(every, key=lambda finding: SEVERITIES.index(finding.severity)))

    @property
    def works(self) -> bool:
        """True when all of it can be built and run: all placed, wired, assembled, and nothing a stop."""
        return (
            self.complete
            and not self.assembly_blocked
            and not any(finding.severity == "stop" for finding in self.findings)
        )

    @property
    def unreached(self) -> tuple[Unreached, ...]:
        """Pins that no wire reaches though their part has a place, and nets that are not laid."""
        lost = {need for need, _ in self.unplaced}
        return tuple(entry for entry in self.built.harness.unreached if entry.owner not in lost)

    @property
    def complete(self) -> bool:
        """True when every part has a place and every net is wired."""
        return not self.unplaced and not self.built.harness.unreached
