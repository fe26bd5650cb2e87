"""A small plan drawn up by hand: a loco and a wagon, five parts, four wires, one crossing, one splice."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import CellPack
from fitplan.model.needed import Need
from fitplan.model.nets import Net, PinRef
from fitplan.model.operation import Running, Track
from fitplan.model.part import Clearance, Mount, Part, Pin
from fitplan.model.pins_used import PinUse
from fitplan.model.placed import Placement
from fitplan.model.plan import Plan
from fitplan.model.solids import Box, Cylinder, Place, Vec, pose_named
from fitplan.model.train import Train, TrainVehicle
from fitplan.model.vehicle import BuiltIn, Face, Vehicle, Window
from fitplan.model.ways_in import AssemblyStep
from fitplan.model.wired import Crossing, Harness, Leg, Splice, Stretch, Wire, WireEnd
from tests.packing.small_trains import hollow

FLOOR = 19.2
JOINT_STRAIGHT, JOINT_FREE = 8.0, 14.0
OUTER = 1.0


def part(
    name: str, *solids: Box | Cylinder, mount: Mount, pins: tuple[Pin, ...] = (), **more: object
) -> Part:
    return Part(name, name, "part", solids, 5.0, "invented for a test", pins=pins, mount=mount, **more)  # type: ignore[arg-type]


BOARD = part(
    "board",
    Box((0, 0, 0), (20, 10, 2)),
    Box((4, 2, 2), (10, 8, 5)),
    mount=Mount(upright=True),
    pins=(
        Pin("OUT", "signal", (20, 5, 1), "+x", frozenset({"output"})),
        Pin("GND", "ground", (0, 5, 1), "-x"),
    ),
    clearances=(Clearance("plug", "plug", Box((20, 0, 2), (24, 3, 5))),),
)
LAMP = part(
    "lamp",
    Box((0, 0, 0), (6, 6, 6)),
    mount=Mount(),
    pins=(
        Pin("IN", "signal", (6, 4, 3), "+x", wants=frozenset({"output"})),
        Pin("GND", "ground", (6, 2, 3), "+x"),
    ),
)
CELL = part(
    "cell",
    Cylinder("x", (0, 5, 5), 20, 5),
    mount=Mount(),
    pins=(Pin("minus", "ground", (0, 5, 5), "-x"),),
)
LIVE_CELL = replace(
    CELL,
    pins=(*CELL.pins, Pin("plus", "plus", (20, 5, 5), "+x")),
    electrical=(CellPack("li-ion", "18650", 1, 2500.0, 0.06, 5000.0),),
)
"""The cell with volts."""
EYE = part(
    "eye",
    Box((0, 0, 0), (5, 6, 6)),
    mount=Mount(looks="+x", lens=Box((5, 1, 1), (5, 5, 5)), needs_support=False),
)
EMITTER = part("emitter", Box((0, 0, 0), (4, 4, 4)), mount=Mount(sits="-z"))

NEEDS = (
    Need("board", (BOARD,), vehicles=("loco",)),
    Need("lamp", (LAMP,)),
    Need("cell", (CELL,)),
    Need("eye", (EYE,), looks=("wagon", "lamp hole")),
    Need("emitter", (EMITTER,), sits=("loco", "motor", "top")),
)


def loco() -> Vehicle:
    motor = BuiltIn(
        "motor",
        "motor",
        (Box((50, 28, FLOOR), (70, 38, 30)),),
        faces=(Face("top", Box((56, 30, 30), (62, 36, 30)), "+z"),),
        pins=(Pin("plus", "plus", (50, 33, 25), "-x"),),
    )
    brick = ("shelf brick", Box((64, 8, FLOOR), (72, 16, FLOOR + 9.6)), 2.0)
    return hollow("loco", 10, 6, 10, kind="loco", built_in=(motor,), removable=(brick,))


def wagon() -> Vehicle:
    window = Window("lamp hole", Box((0, 16, 32), (8, 32, 44)), "-x")
    return hollow("wagon", 10, 6, 10, windows=(window,))


def put(need: str, made: Part, vehicle: str, at: Vec, pose: str = "+x+y+z") -> Placement:
    return Placement(need, made, vehicle, Place(pose_named(pose), at), "the body")


PLACEMENTS = (
    put("board", BOARD, "loco", (20, 10, FLOOR)),
    put("cell", CELL, "loco", (16, 28, FLOOR)),
    put("emitter", EMITTER, "loco", (57, 31, 30)),
    put("lamp", LAMP, "wagon", (20, 20, FLOOR)),
    put("eye", EYE, "wagon", (10, 27, 34), "-x-y+z"),
)


def pin(owner: str, name: str, vehicle: str, at: Vec) -> WireEnd:
    return WireEnd("pin", owner, name, vehicle, at, 4.0)


SPLICE_AT = (12.0, 24.0, 21.0)
OUT_AT, BOARD_GND, CELL_GND = (40.0, 15.0, 20.2), (20.0, 15.0, 20.2), (16.0, 33.0, 24.2)
LAMP_IN, LAMP_GND = (26.0, 24.0, 22.2), (26.0, 22.0, 22.2)
S1 = WireEnd("splice", "S1", "", "loco", SPLICE_AT, 8.0)
TO_PORT = ((0.4, 24.0, 22.0),)
FROM_PORT = ((79.6, 24.0, 22.0), (40.0, 24.0, 22.0))


def wire(number: int, net: str, role: str, start: WireEnd, end: WireEnd, bends: int, *legs: Leg) -> Wire:
    """A wire of 28 AWG (0.0810 mm², Ω/m by a table: 0.2345 at 40 °C) with the usual allowances."""
    way = sum(math.dist(a, b) for leg in legs for a, b in pairwise(leg.points))
    bare = way + JOINT_STRAIGHT * (len(legs) - 1)
    splices = sum(entry.kind == "splice" for entry in (start, end))
    over = (("slack at couplings", 6.0),) if len(legs) > 1 else ()
    ends = (("stripping", 4.0 * (2 - splices)), *((("splice overlap", 8.0 * splices),) if splices else ()))
    allowances = (*over, ("not taut", round(0.04 * way, 2)), ("bends", float(bends)), *ends)
    cut = math.ceil((bare + sum(amount for _, amount in allowances)) / 5) * 5.0
    drop = round(0.010 * 0.2345 * cut / 1000, 5)
    colour = "BK" if role == "ground" else "YE"
    return Wire(
        number, net, role, colour, 28, OUTER, start, end, legs, round(bare, 2), allowances, cut, 10.0, drop
    )  # type: ignore[arg-type]


WIRES = (
    wire(
        1, "light", "signal",
        pin("board", "OUT", "loco", OUT_AT), pin("lamp", "IN", "wagon", LAMP_IN), 2,
        Leg("loco", (OUT_AT, (44.0, 15.0, 20.4), (44.0, 24.0, 22.0), *TO_PORT), leaves="rear hole"),
        Leg("wagon", (*FROM_PORT, (30.0, 24.0, 22.2), LAMP_IN), enters="front hole"),
    ),
    wire(
        2, "ground", "ground", pin("board", "GND", "loco", BOARD_GND), S1, 1,
        Leg("loco", (BOARD_GND, (16.0, 15.0, 20.4), SPLICE_AT)),
    ),
    wire(
        3, "ground", "ground", S1, pin("lamp", "GND", "wagon", LAMP_GND), 0,
        Leg("loco", (SPLICE_AT, *TO_PORT), leaves="rear hole"),
        Leg("wagon", (*FROM_PORT, (30.0, 22.0, 22.2), LAMP_GND), enters="front hole"),
    ),
    wire(
        4, "ground", "ground", pin("cell", "minus", "loco", CELL_GND), S1, 1,
        Leg("loco", (CELL_GND, (13.0, 33.0, 23.0), SPLICE_AT)),
    ),
)  # fmt: skip

HARNESS = Harness(
    wires=WIRES,
    splices=(Splice("S1", "ground", "loco", SPLICE_AT, (2, 3, 4)),),
    stretches=(
        Stretch("B1", "loco", ((12.0, 24.0, 22.0), (0.4, 24.0, 22.0)), (1, 3), 2.0, 11.6, "rear hole"),
        Stretch("B2", "wagon", ((79.6, 24.0, 22.0), (40.0, 24.0, 22.0)), (1, 3), 2.0, 39.6, "front hole"),
    ),
    crossings=(
        Crossing(
            "loco to wagon", "loco", "wagon", "rear hole", "front hole", (3, 1), 2.0,
            JOINT_STRAIGHT, JOINT_FREE, "straight level track", 16.4, False,
            pin_order=("1 ground", "2 light"),
        ),
    ),
)  # fmt: skip


def train() -> Train:
    return Train(
        name="two vehicles",
        vehicles=(TrainVehicle("loco", loco()), TrainVehicle("wagon", wagon())),
        needs=NEEDS,
        nets=(
            Net("light", "signal", (PinRef("board", "*"), PinRef("lamp", "IN"))),
            Net(
                "ground",
                "ground",
                (PinRef("board", "ground"), PinRef("lamp", "GND"), PinRef("cell", "minus")),
            ),
        ),
        track=Track(radius=320.0),
        running=Running(speed=300.0),
    )


def straight_down(number: int, need: str, vehicle: str, fall: float) -> AssemblyStep:
    return AssemblyStep(number, need, vehicle, "roof", (("-z", fall),))


STEPS = (
    straight_down(1, "board", "loco", 40.0),
    straight_down(2, "cell", "loco", 40.0),
    straight_down(3, "emitter", "loco", 30.0),
    straight_down(4, "lamp", "wagon", 40.0),
    AssemblyStep(5, "eye", "wagon", "roof", (("-z", 30.0), ("-x", 6.0))),
)


def plan() -> Plan:
    built = BuiltTrain(
        train(), PLACEMENTS, HARNESS, (PinUse("board", "OUT", "light", "lamp.IN", "output", "OUT"),)
    )
    return Plan(built, "fits", (), STEPS, (), (), ())
