"""A hand-made plan of a three-vehicle train: what the report's tests read, made without any solver.

All names take a ``tag``, so that the same train can be had with hostile names.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import replace
from functools import cache

from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import (
    CellPack,
    Conductor,
    Connector,
    Controller,
    Emitter,
    Load,
    Ranger,
    Regulator,
)
from fitplan.model.found import Curve, Finding, Outcome, Plot, Table
from fitplan.model.meter import NO_METER
from fitplan.model.needed import Choice, Need
from fitplan.model.nets import Net, NetRole, PinRef
from fitplan.model.operation import Running, Track
from fitplan.model.part import Access, Clearance, Mount, Part, Pin
from fitplan.model.pins_used import PinUse
from fitplan.model.placed import Piece, Placement, Rebuild, Shelf
from fitplan.model.plan import Plan
from fitplan.model.proposed import FitRow, Option
from fitplan.model.solids import Box, Cylinder, Place, Solid, Vec, pose_named
from fitplan.model.train import Train, TrainVehicle
from fitplan.model.vehicle import (
    BodySolid,
    BuiltIn,
    Coupling,
    Face,
    Kind,
    Layer,
    Opening,
    Port,
    Removable,
    State,
    Vehicle,
    Wheels,
    Window,
)
from fitplan.model.ways_in import AssemblyStep
from fitplan.model.wired import Crossing, Harness, Leg, Splice, Stretch, Unreached, Wire, WireEnd
from fitplan.model.wiring import Wiring
from fitplan.units import PLATE, STUD
from fitplan.workbench.order_of_work import OrderOfWork

BASE = 16.0
STATE_OF: dict[str, State] = {"#": "fixed", ".": "free", "-": "outside", "~": "keep-clear", "g": "removable"}


def _layers(drawings: list[tuple[str, int, list[str]]]) -> tuple[Layer, ...]:
    found, base = [], BASE
    for name, plates, rows in drawings:
        found.append(Layer(name, round(base, 4), plates, tuple(rows)))
        base += plates * PLATE
    return tuple(found)


def _body(layers: tuple[Layer, ...], removable: str) -> tuple[BodySolid, ...]:
    found: list[BodySolid] = []
    for layer in layers:
        low, high = layer.base, round(layer.base + layer.plates * PLATE, 4)
        for number, row in enumerate(layer.rows):
            y = (len(layer.rows) - 1 - number) * STUD
            start = 0
            while start < len(row):
                end = start
                while end < len(row) and row[end] == row[start]:
                    end += 1
                state = STATE_OF[row[start]]
                name = removable if state == "removable" else ""
                box = Box((start * STUD, y, low), (end * STUD, y + STUD, high))
                found.append(BodySolid(box, state, name))
                start = end
    return tuple(found)


def _vehicle(
    name: str,
    kind: Kind,
    long: int,
    drawings: list[tuple[str, int, list[str]]],
    removable: str,
    **more: object,
) -> Vehicle:
    layers = _layers(drawings)
    top = layers[-1].base + layers[-1].plates * PLATE
    solids = more.pop("solids", ())
    assert isinstance(solids, tuple)
    values: dict[str, object] = {
        "openings": (
            Opening("roof", Box((STUD, STUD, top - PLATE), ((long - 1) * STUD, 5 * STUD, top)), "+z"),
        ),
        "windows": (),
        "built_in": (),
        "mass_g": 260.0,
        "mass_center": (long * STUD / 2, 24.0, 30.0),
        "ports": (
            Port("front wire hole", Box((long * STUD - STUD, 8.0, 22.4), (long * STUD, 16.0, 28.8)), "+x"),
            Port("rear wire hole", Box((0.0, 8.0, 22.4), (STUD, 16.0, 28.8)), "-x"),
        ),
        "couplings": (
            Coupling("front", long * STUD - 8.0, 10.0, 4.0),
            Coupling("rear", 8.0, 10.0, 4.0),
        ),
        "wheels": Wheels("bogies", (36.0, long * STUD - 36.0), (kind == "loco",) * 2, 8.5, 24.0),
    }
    values.update(more)
    return Vehicle(
        name=name,
        kind=kind,
        studs_long=long,
        studs_wide=6,
        base=BASE,
        top=top,
        floor_finish="studded",
        body=_body(layers, removable) + solids,
        layers=layers,
        removables=(Removable(removable, 2.0),) if removable else (),
        characters=(("#", "fixed"), (".", "free"), ("g", removable or "removable")),
        **values,  # type: ignore[arg-type]
    )


def _hollow(long: int, front: str = "#", rear: str = "#") -> list[str]:
    middle = rear + "." * (long - 2) + front
    return ["#" * long, middle, middle, middle, middle, "#" * long]


def _shunter(tag: str) -> Vehicle:
    gap = ["#" * 22, *(["#" + "." * 20 + "."] * 4), "#" * 22]
    grille = ["#" * 22, *(["g" + "." * 21] * 4), "#" * 22]
    cab = [
        "-" * 5 + "#" * 7 + "-" * 10,
        *(["-" * 5 + "#.....#" + "-" * 10] * 4),
        "-" * 5 + "#" * 7 + "-" * 10,
    ]
    drawings = [
        ("frame", 1, ["#" * 22] * 6),
        ("floor", 1, ["#" * 22] * 6),
        ("engine room", 4, gap),
        ("engine room, upper", 3, grille),
        ("deck", 1, ["#" * 22, *(["#" * 6 + "....." + "#" * 11] * 4), "#" * 22]),
        ("cab", 6, cab),
        ("cab roof", 1, ["-" * 5 + "#" * 7 + "-" * 10] * 6),
    ]
    motor = BuiltIn(
        f"motor{tag}",
        "motor",
        (Box((16.0, 16.0, 22.4), (48.0, 40.0, 35.2)),),
        mass_g=60.0,
        stall_ma=900.0,
        current_ma=200.0,
    )
    receiver = BuiltIn(
        f"receiver{tag}",
        "receiver",
        (Box((56.0, 16.0, 22.4), (72.0, 32.0, 38.4)),),
        faces=(Face("eye", Box((60.0, 20.0, 38.4), (68.0, 28.0, 38.4)), "+z"),),
        mass_g=20.0,
    )
    return _vehicle(
        f"Quay shunter{tag}",
        "loco",
        22,
        drawings,
        f"rear grille{tag}",
        built_in=(motor, receiver),
        windows=(Window(f"front gap{tag}", Box((168.0, 8.0, 22.4), (176.0, 40.0, 35.2)), "+x"),),
        solids=(
            BodySolid(Box((168.0, 8.0, 22.4), (176.0, 16.0, 28.8)), "free"),
            BodySolid(Box((0.0, 8.0, 22.4), (8.0, 16.0, 28.8)), "free"),
            BodySolid(Box((90.0, 18.0, 40.0), (98.0, 30.0, 44.8)), "keep-clear"),
        ),
    )


def _ice_wagon(tag: str) -> Vehicle:
    drawings = [
        ("frame", 1, ["#" * 24] * 6),
        ("floor", 1, ["#" * 24] * 6),
        ("box", 12, _hollow(24)),
        ("roof", 1, ["#" * 24] * 6),
    ]
    holes = tuple(BodySolid(Box((x, 8.0, 22.4), (x + 8.0, 16.0, 28.8)), "free") for x in (0.0, 184.0))
    return _vehicle(f"Ice wagon{tag}", "wagon", 24, drawings, "", solids=holes)


def _brake_van(tag: str) -> Vehicle:
    drawings = [
        ("frame", 1, ["#" * 20] * 6),
        ("floor", 1, ["#" * 20] * 6),
        ("walls", 9, ["#" * 20, *(["." + "." * 18 + "#"] * 4), "#" * 20]),
        ("roof", 1, ["#" * 20] * 6),
    ]
    vault = BodySolid(Cylinder("x", (48.0, 24.0, 51.2), 48.0, 6.0), "fixed")
    hole = BodySolid(Box((152.0, 8.0, 22.4), (160.0, 16.0, 28.8)), "free")
    return replace(
        _vehicle(
            f"Brake van{tag}",
            "wagon",
            20,
            drawings,
            "",
            solids=(hole, vault),
            windows=(Window(f"rear gap{tag}", Box((0.0, 8.0, 22.4), (8.0, 40.0, 51.2)), "-x"),),
        ),
        top=57.2,
    )


def catalogue(tag: str = "") -> dict[str, Part]:
    """The parts of the sample train by id."""
    row = [("GND", "ground"), ("VIN", "raw"), ("5V", "5v")] + [(f"D{n}", "signal") for n in range(2, 10)]
    controller = Part(
        "controller-compact-5v",
        f"Compact 5 V controller, 18 × 45 mm{tag}",
        "controller",
        (
            Box((0.0, 0.0, 0.0), (45.0, 18.0, 1.6)),
            Box((-1.0, 5.0, 1.6), (8.0, 13.0, 5.6)),
            Box((20.0, 6.0, 1.6), (28.0, 12.0, 2.8)),
        ),
        7.0,
        f"outline typical, measure yours; currents from memory{tag}",
        clearances=(Clearance("USB plug", "plug", Box((-20.0, 4.0, 0.6), (-1.0, 14.0, 6.6)), "access"),),
        pins=tuple(
            Pin(
                name,
                role,
                (10.0 + 2.54 * n, 1.3, 1.6),
                "+z",  # type: ignore[arg-type]
                frozenset({"input", "output", "pwm"}) if role == "signal" else frozenset(),
            )
            for n, (name, role) in enumerate(row)
        ),
        mount=Mount(upright=True),
        access=(Access("USB socket", "console", "-x", False),),
        electrical=(
            Controller(5.0, 20.0, 40.0, 4.3, 20.0, 500.0, Regulator("linear", 5.0, 6.0, 12.0, 500.0, 1.0)),
        ),
        typical=True,
        price=4.5,
        cautions=("soldering",),
    )
    ranger = Part(
        "ranger-two-eyed",
        f"Two-eyed ranger{tag}",
        "ranger",
        (
            Box((0.0, 0.0, 0.0), (5.0, 32.0, 16.0)),
            Cylinder("x", (5.0, 8.0, 8.0), 8.0, 7.0),
            Cylinder("x", (5.0, 24.0, 8.0), 8.0, 7.0),
        ),
        9.0,
        "outline typical, measure yours",
        pins=tuple(
            Pin(name, role, (0.0, 12.0 + 2.54 * n, 1.0), "-x")  # type: ignore[arg-type]
            for n, (name, role) in enumerate(
                [("VCC", "supply"), ("TRIG", "signal"), ("ECHO", "signal"), ("GND", "ground")]
            )
        ),
        mount=Mount(looks="+x", upright=True),
        typical=True,
        price=2.0,
        electrical=(Ranger("sound", 15.0, 20.0, 2000.0, 60.0), Load(4.5, 5.5, 15.0, 30.0, 5.0)),
    )
    emitter = Part(
        "emitter-5mm",
        f"Infrared emitter, 5 mm{tag}",
        "emitter",
        (Cylinder("z", (2.9, 2.9, 0.0), 8.6, 2.9),),
        0.4,
        "outline typical",
        pins=(Pin("IN", "signal", (1.6, 2.9, 8.6), "+z"), Pin("GND", "ground", (4.2, 2.9, 8.6), "+z")),
        electrical=(Emitter(940.0, 20.0, 300.0),),
        price=0.3,
    )
    cells = Part(
        "cells-4xaa-block",
        f"Four AA cells, two by two{tag}",
        "cells",
        (Box((0.0, 0.0, 0.0), (62.0, 31.0, 30.0)),),
        120.0,
        "IEC 60086-2 cells; holder typical, measure yours",
        pins=(Pin("plus", "plus", (62.0, 6.0, 15.0), "+x"), Pin("minus", "ground", (62.0, 25.0, 15.0), "+x")),
        access=(Access("cells", "cells", "+z", True),),
        typical=True,
        price=3.0,
        cautions=("primary-cells",),
        electrical=(CellPack("alkaline", "AA", 4, 2400.0, 0.15, 1000.0, cell_mass_g=23.0),),
    )
    lamp = Part(
        "lamp-tail",
        f"Tail lamp, 3 mm{tag}",
        "lamp",
        (Cylinder("x", (0.0, 2.0, 2.0), 6.0, 2.0),),
        0.3,
        "typical",
        pins=(Pin("IN", "signal", (6.0, 1.0, 2.0), "+x"), Pin("GND", "ground", (6.0, 3.0, 2.0), "+x")),
        electrical=(Load(1.8, 5.5, 10.0, 10.0),),
        price=0.2,
    )
    found = {part.id: part for part in (controller, ranger, emitter, cells, lamp)}
    found["wire-awg28"] = Part(
        "wire-awg28",
        "Wire AWG 28",
        "wire",
        (Box((0.0, 0.0, 0.0), (1.0, 1.0, 1.0)),),
        0.0,
        "typical",
        electrical=(Conductor(28, 1, 1.2, 7),),
    )
    found["connector-8-keyed"] = Part(
        "connector-8-keyed",
        f"Keyed crimp connector, 8 cavities{tag}",
        "connector",
        (Box((0.0, 0.0, 0.0), (22.0, 6.0, 8.0)),),
        1.0,
        "typical",
        price=0.6,
        electrical=(Connector(8, 22, 28, 2000.0, True),),
    )
    return found


COLOURS = {"ground": "BK", "five volts": "RD"}
SIGNALS = ["YE", "GN", "BU", "VT", "OG", "WH"]


class _Harness:
    """Draws plain right-angled wires between the placed pins."""

    def __init__(self, train: Train, placements: dict[str, Placement]) -> None:
        self.train, self.placements = train, placements
        self.wires: list[Wire] = []
        self.order = [entry.name for entry in train.vehicles]
        self.taken: dict[str, int] = {}

    def pin(self, owner: str, pin: str) -> WireEnd:
        placement = self.placements[owner]
        at = placement.place.move(placement.part.pin(pin).at)
        return WireEnd("pin", owner, pin, placement.vehicle, tuple(round(v, 3) for v in at), 3.0)  # type: ignore[arg-type]

    def _port(self, vehicle: str, towards: str) -> Port:
        ahead = self.order.index(towards) < self.order.index(vehicle)
        entry = self.train.vehicle(vehicle)
        wanted = "+x" if ahead != entry.turned else "-x"
        return next(port for port in entry.vehicle.ports if port.out == wanted)

    def wire(self, net: str, role: NetRole, colour: str, start: WireEnd, end: WireEnd, awg: int) -> None:
        """Draw a wire, in pieces from plug to plug when the couplings have connectors."""
        first, last = self.order.index(start.vehicle), self.order.index(end.vehicle)
        if not self.train.wiring.coupling_connector:
            self._piece(net, role, colour, start, end, awg)
            return
        step = 1 if last >= first else -1
        begin = start
        for place in range(first, last, step):
            coupling = f"C{max(place, place + step)}"
            cavity = self.taken[coupling] = self.taken.get(coupling, 0) + 1
            halves = []
            for here, there in ((place, place + step), (place + step, place)):
                port = self._port(self.order[here], self.order[there])
                at = (port.box.center[0], port.box.center[1], 25.6)
                halves.append(WireEnd("connector", coupling, str(cavity), self.order[here], at, 4.0))
            self._piece(net, role, colour, begin, halves[0], awg)
            begin = halves[1]
        self._piece(net, role, colour, begin, end, awg)

    def _piece(self, net: str, role: NetRole, colour: str, start: WireEnd, end: WireEnd, awg: int) -> Wire:
        first, last = self.order.index(start.vehicle), self.order.index(end.vehicle)
        step = 1 if last >= first else -1
        chain = [self.order[n] for n in range(first, last + step, step)]
        legs, bare = [], 0.0
        number = len(self.wires) + 1
        lane = 23.6 + 0.7 * (number % 7)
        for place, name in enumerate(chain):
            points: list[Vec] = []
            enters = leaves = ""
            if place == 0:
                points += [start.at]
            else:
                port = self._port(name, chain[place - 1])
                enters = port.name
                points += [(port.box.center[0], port.box.center[1] - 3 + number % 7, lane)]
            target: Vec
            if place == len(chain) - 1:
                target = end.at
            else:
                port = self._port(name, chain[place + 1])
                leaves = port.name
                target = (port.box.center[0], port.box.center[1] - 3 + number % 7, lane)
            here = points[-1]
            side = 9.0 + number % 7
            for corner in ((here[0], side, here[2]), (here[0], side, lane), (target[0], side, lane), target):
                if math.dist(points[-1], corner) > 0.01:
                    points.append(tuple(round(v, 3) for v in corner))  # type: ignore[arg-type]
            bare += sum(math.dist(a, b) for a, b in itertools.pairwise(points))
            legs.append(Leg(name, tuple(points), enters, leaves))
        bare = round(bare, 2)
        allowances = [("lead-out", 6.0), ("stripping", start.strip_mm + end.strip_mm)]
        if len(chain) > 1:
            allowances.append(("coupling slack", 24.0 * (len(chain) - 1)))
        cut = math.ceil((bare + sum(v for _, v in allowances)) / 5) * 5.0
        outer = 1.6 if awg == 24 else 1.2
        wire = Wire(
            number,
            net,
            role,
            colour,
            awg,
            outer,
            start,
            end,
            tuple(legs),
            bare,
            tuple(allowances),
            cut,
            120.0 if role != "signal" else 10.0,
            0.012 if role != "signal" else 0.001,
        )
        self.wires.append(wire)
        return wire


@cache
def sample_plan(tag: str = "", connector: bool = True, wagons: int = 0) -> Plan:
    """Return the sample plan, made once; ``tag`` is put behind every name and free text.

    ``wagons`` more stand between the second vehicle and the last.
    """
    parts = catalogue(tag)
    shunter, ice, van = f"shunter{tag}", f"ice wagon{tag}", f"brake van{tag}"
    vehicles = (
        TrainVehicle(shunter, _shunter(tag)),
        TrainVehicle(ice, _ice_wagon(tag), True),
        *(TrainVehicle(f"wagon {place}", _ice_wagon(tag)) for place in range(wagons)),
        TrainVehicle(van, _brake_van(tag)),
    )
    brain, front, rear = f"brain{tag}", f"front eyes{tag}", f"rear eyes{tag}"
    emit, cells, lamp = f"emitter{tag}", f"cells{tag}", f"tail lamp{tag}"
    needs = (
        Need(brain, (parts["controller-compact-5v"],), Choice("controller")),
        Need(front, (parts["ranger-two-eyed"],), looks=(shunter, f"front gap{tag}")),
        Need(rear, (parts["ranger-two-eyed"],), looks=(van, f"rear gap{tag}")),
        Need(emit, (parts["emitter-5mm"],), sits=(shunter, f"receiver{tag}", "eye")),
        Need(cells, (parts["cells-4xaa-block"],), Choice("cells", min_hours=2.0)),
        Need(lamp, (parts["lamp-tail"],), duty=0.5),
    )
    nets = (
        Net(f"ground{tag}", "ground", (PinRef(cells, "minus"), PinRef(brain, "GND"))),
        Net(f"raw{tag}", "supply", (PinRef(cells, "plus"), PinRef(brain, "VIN"))),
    )
    train = Train(
        f"Harbour line{tag}",
        vehicles,
        needs,
        nets,
        Track(320.0, True, 2.0),
        Running(400.0, trip_distance=160.0),
        wiring=Wiring(coupling_connector="connector-8-keyed" if connector else ""),
        catalogue=parts,
    )

    def at(pose: str, offset: Vec) -> Place:
        return Place(pose_named(pose), offset)

    plate = Piece("plate 3 × 6", Box((112.0, 8.0, 28.0), (160.0, 32.0, 31.2)))
    shelf = Shelf("plates", (plate,), 18)
    placements = (
        Placement(cells, parts["cells-4xaa-block"], ice, at("+x+y+z", (20.0, 8.2, 24.1)), "body"),
        Placement(
            brain, parts["controller-compact-5v"], shunter, at("+x+y+z", (110.0, 10.0, 31.2)), "shelf", shelf
        ),
        Placement(front, parts["ranger-two-eyed"], shunter, at("+x+y+z", (160.5, 8.0, 24.1)), "body"),
        Placement(rear, parts["ranger-two-eyed"], van, at("-x-y+z", (15.0, 40.0, 24.1)), "body"),
        Placement(emit, parts["emitter-5mm"], shunter, at("+x+y+z", (61.1, 21.1, 38.4)), f"receiver{tag}"),
        Placement(lamp, parts["lamp-tail"], van, at("-x+y-z", (8.0, 22.0, 46.0)), "body"),
    )
    maker = _Harness(train, {placement.need: placement for placement in placements})
    splices: list[Splice] = []

    def splice(name: str, net: str, vehicle: str, where: Vec) -> WireEnd:
        splices.append(Splice(name, net, vehicle, where, ()))
        return WireEnd("splice", name, "", vehicle, where, 8.0)

    pin = maker.pin
    ground, raw, five = f"ground{tag}", f"raw{tag}", f"five volts{tag}"
    g1 = splice("S1", ground, shunter, (104.0, 12.0, 30.0))
    g2 = splice("S2", ground, van, (40.0, 12.0, 30.0))
    p1 = splice("S3", five, shunter, (100.0, 14.0, 32.0))
    maker.wire(ground, "ground", "BK", pin(cells, "minus"), g1, 24)
    maker.wire(ground, "ground", "BK", g1, pin(brain, "GND"), 24)
    maker.wire(ground, "ground", "BK", g1, pin(front, "GND"), 28)
    maker.wire(ground, "ground", "BK", g1, pin(emit, "GND"), 28)
    maker.wire(ground, "ground", "BK", g1, g2, 28)
    maker.wire(ground, "ground", "BK", g2, pin(rear, "GND"), 28)
    maker.wire(ground, "ground", "BK", g2, pin(lamp, "GND"), 28)
    maker.wire(raw, "supply", "RD", pin(cells, "plus"), pin(brain, "VIN"), 24)
    maker.wire(five, "supply", "BN", pin(brain, "5V"), p1, 28)
    maker.wire(five, "supply", "BN", p1, pin(front, "VCC"), 28)
    maker.wire(five, "supply", "BN", p1, pin(rear, "VCC"), 28)
    maker.wire(f"front trigger{tag}", "signal", "YE", pin(brain, "D2"), pin(front, "TRIG"), 28)
    maker.wire(f"front echo{tag}", "signal", "GN", pin(brain, "D3"), pin(front, "ECHO"), 28)
    maker.wire(f"rear trigger{tag}", "signal", "BU", pin(brain, "D4"), pin(rear, "TRIG"), 28)
    maker.wire(f"rear echo{tag}", "signal", "VT", pin(brain, "D5"), pin(rear, "ECHO"), 28)
    maker.wire(f"command{tag}", "signal", "OG", pin(brain, "D6"), pin(emit, "IN"), 28)
    maker.wire(f"tail{tag}", "signal", "WH", pin(brain, "D7"), pin(lamp, "IN"), 28)
    wires = tuple(maker.wires)
    joined = tuple(
        replace(s, wires=tuple(w.number for w in wires if s.name in (w.start.owner, w.end.owner)))
        for s in splices
    )
    crossings, stretches = [], []
    names = [entry.name for entry in vehicles]
    for number, (ahead, behind) in enumerate(itertools.pairwise(names), 1):
        over = [w for w in wires if {ahead, behind} <= {leg.vehicle for leg in w.legs}]
        ends = [
            (w, e) for w in wires for e in (w.start, w.end) if (e.owner, e.vehicle) == (f"C{number}", ahead)
        ]
        over += [w for w, _ in ends]
        order = tuple(f"{e.pin} {w.net}" for w, e in ends)
        crossings.append(
            Crossing(
                f"C{number}",
                ahead,
                behind,
                "rear wire hole",
                "front wire hole",
                tuple(w.number for w in over),
                4.32,
                24.0,
                31.5,
                "reverse curve",
                12.4,
                number == 2,
                "connector-8-keyed" if connector else "",
                order,
            )
        )
        entry = train.vehicle(ahead).vehicle
        stretches.append(
            Stretch(
                f"B{number}",
                ahead,
                ((4.0, 12.0, 25.0), (entry.length - 10, 12.0, 25.0)),
                tuple(w.number for w in over),
                4.32,
                entry.length - 14,
                "rear wire hole",
            )
        )
    harness = Harness(wires, joined, tuple(stretches), tuple(crossings))
    pin_map = (
        PinUse(brain, "GND", ground, f"{cells}.minus", "ground"),
        PinUse(brain, "VIN", raw, f"{cells}.plus", "takes 6 V from the cells"),
        PinUse(brain, "5V", five, f"{front}.VCC", "feeds 5 V"),
        PinUse(brain, "D2", f"front trigger{tag}", f"{front}.TRIG", "output"),
        PinUse(brain, "D3", f"front echo{tag}", f"{front}.ECHO", "input"),
        PinUse(brain, "D4", f"rear trigger{tag}", f"{rear}.TRIG", "output"),
        PinUse(brain, "D5", f"rear echo{tag}", f"{rear}.ECHO", "input"),
        PinUse(brain, "D6", f"command{tag}", f"{emit}.IN", "pwm"),
        PinUse(brain, "D7", f"tail{tag}", f"{lamp}.IN", "output"),
    )
    built = BuiltTrain(
        train,
        placements,
        harness,
        pin_map,
        (
            Rebuild(
                shunter, (f"rear grille{tag}",), (shelf,), 2.0, 2.0, "what stays is still carried by the deck"
            ),
        ),
    )
    fit = (
        FitRow(
            brain,
            "controller-compact-5v",
            shunter,
            "fits after a rebuild",
            "room in the engine room",
            "placed",
            pose="+x+y+z",
            remove=(f"rear grille{tag}",),
            cost=2.0,
        ),
        FitRow(brain, "controller-compact-5v", ice, "fits", "room in the box", "placed", pose="+x+y+z"),
        FitRow(
            cells,
            "cells-4xaa-block",
            shunter,
            "cannot fit",
            "the clear height is too low in every pose",
            "exhaustive: no pose has a clear place in exact millimetres",
            7.6,
            "height",
            "+x+y+z",
        ),
        FitRow(cells, "cells-4xaa-block", ice, "fits", "room in the box", "placed", pose="+x+y+z"),
        FitRow(
            cells,
            "cells-4xaa-block",
            van,
            "not decided",
            "0.4 mm between the two roundings",
            "",
            0.4,
            "width",
            "+x+y+z",
        ),
    )
    steps = tuple(
        AssemblyStep(number, placement.need, placement.vehicle, "roof", (("-z", 40.0),))
        for number, placement in enumerate(placements, 1)
    )
    chosen = tuple((p.need, p.part.id, p.vehicle) for p in placements)
    other = tuple((need, part, ice if need == brain else vehicle) for need, part, vehicle in chosen)
    options = (
        Option(chosen, 3, 0, 15, 2.0, sum(w.cut_mm for w in wires), 14.0, 3712.5, True),
        Option(other, 3, 0, 19, 0.0, sum(w.cut_mm for w in wires) + 640.0, 9.0, 3950.0),
    )
    hours = tuple(round(0.25 * n, 2) for n in range(21))
    outcomes = (
        Outcome(
            "power",
            (
                Finding(
                    "power",
                    "caution",
                    brain,
                    f"the cells reach the regulator's least input after 4.1 h{tag}",
                    6.0,
                    6.1,
                    "V",
                    f"change the cells after 4 h{tag}",
                    "drop-out of the linear regulator",
                ),
                Finding(
                    "power",
                    "note",
                    cells,
                    f"the current stays far below what the cells give{tag}",
                    104.5,
                    1000.0,
                    "mA",
                    f"nothing to do{tag}",
                    "from memory, not confirmed",
                ),
            ),
            (
                Table(
                    "Power budget",
                    ("load", "current (mA)", "duty", "share (mA)"),
                    (
                        (brain, 20.0, 1.0, 20.0),
                        (front, 15.0, 1.0, 15.0),
                        (rear, 15.0, 1.0, 15.0),
                        (lamp, 10.0, 0.5, 5.0),
                    ),
                    f"at 5 V{tag}",
                ),
            ),
            (
                Plot(
                    "Voltage at the controller",
                    "hours (h)",
                    "voltage (V)",
                    (
                        Curve("at the cells", hours, tuple(6.4 - 0.22 * h - 0.01 * h * h for h in hours)),
                        Curve(
                            f"at the controller{tag}", hours, tuple(5.0 - 0.05 * max(0, h - 4) for h in hours)
                        ),
                    ),
                    (("least input", 6.0), ("brown-out", 4.3)),
                ),
            ),
        ),
        Outcome(
            "stopping",
            (
                Finding(
                    "stopping",
                    "stop",
                    shunter,
                    f"the train needs longer to stop than the trip distance{tag}",
                    233.3,
                    160.0,
                    "mm",
                    f"let the program stop at 260 mm, or run at 300 mm/s{tag}",
                    "uniform deceleration, any textbook of mechanics",
                ),
            ),
            (),
            (
                Plot(
                    "Stopping way over speed",
                    "speed (mm/s)",
                    "way (mm)",
                    (
                        Curve(
                            "stopping way",
                            tuple(float(v) for v in range(0, 601, 50)),
                            tuple(v * 0.25 + v * v / 1200 for v in range(0, 601, 50)),
                        ),
                    ),
                    (("trip distance", 160.0),),
                ),
            ),
        ),
    )
    work = OrderOfWork(built, steps)
    return Plan(
        built,
        "fits after a rebuild",
        fit,
        work.assembly,
        (),
        options,
        outcomes,
        (),
        0,
        work=work.plan(NO_METER),
    )


sample_plan_anew = sample_plan.__wrapped__
"""The sample plan made once more: what is compared with it owes nothing to what is kept of the first."""


def broken_plan(tag: str = "") -> Plan:
    """Return a plan in which a part has no place and a pin of another is not reached."""
    plan = sample_plan(tag)
    built = replace(
        plan.built,
        placements=plan.built.placements[:-1],
        harness=replace(
            plan.built.harness,
            unreached=(
                Unreached(f"tail{tag}", f"brain{tag}", "A0", "no port"),
                Unreached(f"tail{tag}", f"tail lamp{tag}", "IN", "the part has no place"),
            ),
        ),
    )
    return replace(
        plan,
        built=built,
        verdict="cannot fit",
        unplaced=((f"tail lamp{tag}", f"too long by 2.0 mm{tag}"),),
        assembly=plan.assembly[:-1],
        assembly_blocked=(f"cells{tag} is under brain{tag}",),
    )


def refused_plan() -> Plan:
    """Return a plan in which a slab that is too long and too wide for the brake van has no place."""
    plan = sample_plan()
    train = plan.built.train
    slab = Part(
        "slab",
        "Slab, 170 × 60 × 8 mm",
        "sensor",
        (Box((0.0, 0.0, 0.0), (170.0, 60.0, 8.0)),),
        9.0,
        "invented",
    )
    name = train.vehicles[-1].name
    row = FitRow("slab", "slab", name, "cannot fit", "too long and too wide", "every pose was tried", 12.0)
    row = replace(row, axis="width", pose="+x+y+z")
    return replace(
        plan,
        built=replace(plan.built, train=replace(train, needs=(*train.needs, Need("slab", (slab,))))),
        verdict="cannot fit",
        fit=(*plan.fit, row),
        unplaced=(("slab", "too long and too wide"),),
    )


HOSTILE = (
    "<script>alert(1)</script>",
    "=1+1",
    "\"'`&amp;</title></script><!--",
    "שלום \u202eabc",
    "🚂🧊",
    "long" * 2500,
    "a\x00b\x1b[31m\ud800\r\nc",
    "{{ 7*7 }} ${x} %s \\",
)


def solids_of(placement: Placement) -> tuple[Solid, ...]:
    """Return the solids of a placed part in its vehicle's frame."""
    return tuple(placement.place.move_solid(solid) for solid in placement.part.envelope)
