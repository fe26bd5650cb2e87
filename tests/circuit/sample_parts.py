"""Small invented parts and trains for the tests of circuit, pins and checks."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from fitplan.model.electrical import (
    Bank,
    CellPack,
    Controller,
    Electrical,
    Emitter,
    Fuse,
    Load,
    MotorDriver,
    Ranger,
    Regulator,
    SeriesResistor,
    Switch,
)
from fitplan.model.needed import Choice, Need
from fitplan.model.nets import Net, NetRole, PinRef
from fitplan.model.operation import Running, Track
from fitplan.model.part import Can, Mount, Part, Pin, PinRole
from fitplan.model.solids import Box
from fitplan.model.train import Train, TrainVehicle
from fitplan.model.vehicle import BodySolid, Coupling, Vehicle, Wheels

PLAIN_MOUNT = Mount()
BOGIES = Wheels("bogies", (40.0, 136.0), (True, False), 8.5, 24.0)
COMMON_CURVE = Track(radius=320.0)
SLOW = Running(speed=300.0)
LINEAR_5V = Regulator("linear", 5.0, 6.0, 12.0, 500.0, dropout_v=1.0, quiescent_ma=5.0, theta_ja=136.0)
STEP_UP_5V = Regulator("step-up", 5.0, 1.0, 5.0, 600.0, efficiency=0.85, quiescent_ma=1.0, start_v=1.2)


def cans(*abilities: Can) -> frozenset[Can]:
    return frozenset(abilities)


def pin(
    name: str, role: PinRole = "signal", can: Iterable[Can] = (), wants: Iterable[Can] = (), at: float = 0.0
) -> Pin:
    return Pin(name, role, (at, 0.0, 0.0), "+z", frozenset(can), frozenset(wants))


def part(
    id: str,
    *electrical: Electrical,
    pins: Iterable[Pin] = (),
    size: tuple[float, float, float] = (20.0, 10.0, 5.0),
    family: str = "part",
    mass: float = 5.0,
    mount: Mount = PLAIN_MOUNT,
    price: float = 0.0,
    cautions: tuple[str, ...] = (),
) -> Part:
    return Part(
        id,
        id.replace("-", " "),
        family,
        (Box((0.0, 0.0, 0.0), size),),
        mass,
        "invented",
        pins=tuple(pins),
        mount=mount,
        electrical=electrical,
        price=price,
        cautions=cautions,
    )


def board(
    id: str = "board",
    plain: int = 4,
    pwm: int = 2,
    logic: float = 5.0,
    regulator: Regulator | None = LINEAR_5V,
    current: float = 20.0,
    peak: float = 40.0,
    tolerant: bool = True,
    brown_out: float = 4.3,
    size: tuple[float, float, float] = (45.0, 18.0, 6.0),
) -> Part:
    """A controller with D0, D1 for the console, then plain pins, then pins with PWM, and a bus."""
    both = cans("input", "output")
    signals = [pin("D0", can=both | {"receive"}), pin("D1", can=both | {"send"})]
    signals += [pin(f"D{2 + i}", can=both) for i in range(plain)]
    signals += [pin(f"D{2 + plain + i}", can=both | {"pwm"}) for i in range(pwm)]
    signals += [pin("A4", can=both | {"analog", "data"}), pin("A5", can=both | {"analog", "clock"})]
    power = [pin("GND", "ground"), pin("VIN", "raw"), pin("5V", "5v"), pin("3V3", "3v3")]
    figures = Controller(logic, current, peak, brown_out, 20.0, 500.0, regulator, tolerant, ("D0", "D1"))
    return part(id, figures, pins=power + signals, size=size, family="controller", mass=7.0)


def ranger(
    id: str = "ranger", current: float = 15.0, half_angle: float = 15.0, method: str = "sound"
) -> Part:
    pins = [
        pin("VCC", "supply"),
        pin("TRIG", wants=cans("output")),
        pin("ECHO", wants=cans("input")),
        pin("GND", "ground"),
    ]
    looks = Mount(looks="+x", lens=Box((12.0, 8.0, 4.0), (12.0, 36.0, 16.0)), needs_support=False)
    figures = Ranger("light" if method == "light" else "sound", half_angle, 20.0, 4000.0, 60.0)
    load = Load(4.5, 5.5, current, current * 2, 5.0)
    return part(id, figures, load, pins=pins, size=(12.0, 45.0, 20.0), family="ranger", mass=9.0, mount=looks)


def emitter(current: float = 10.0) -> Part:
    pins = [pin("IN", wants=cans("pwm")), pin("GND", "ground")]
    return part(
        "emitter",
        Emitter(940.0, 17.0, 4000.0),
        Load(1.2, 5.5, current, current),
        SeriesResistor(1.3, 0.0, current, "lead"),
        pins=pins,
        size=(5.0, 5.0, 8.0),
        family="emitter",
        mass=0.5,
        mount=Mount(sits="-z", needs_support=False),
    )


def lamp(current: float = 8.0) -> Part:
    pins = [pin("IN", wants=cans("output")), pin("GND", "ground")]
    series = SeriesResistor(2.0, 0.0, current, "lead")
    return part(
        "lamp", Load(1.8, 5.5, current, current), series, pins=pins, family="lamp", size=(5.0, 5.0, 8.0)
    )


def cells(
    count: int = 4,
    chemistry: str = "alkaline",
    capacity: float = 2500.0,
    ohm: float = 0.15,
    price: float = 3.0,
    protected: bool = False,
    max_ma: float = 2000.0,
    size: str = "AA",
) -> Part:
    kind = {"alkaline": "alkaline", "nimh": "nimh"}.get(chemistry, "li-ion")
    cautions = ("lithium",) if kind == "li-ion" else ("primary-cells",) if kind == "alkaline" else ()
    return part(
        f"{count}-{size.lower()}-{kind}",
        CellPack(kind, size, count, capacity, ohm, max_ma, protected),  # type: ignore[arg-type]
        pins=[pin("plus", "plus"), pin("minus", "ground")],
        size=(58.0, 15.0 * count, 16.0),
        family="cells",
        mass=24.0 * count,
        price=price,
        cautions=cautions,
    )


def bank(off_below: float = 60.0, capacity: float = 5000.0) -> Part:
    return part(
        "bank",
        Bank(5.0, capacity, 3.7, 0.85, 2000.0, off_below),
        pins=[pin("plus", "plus"), pin("minus", "ground")],
        size=(95.0, 25.0, 25.0),
        family="bank",
        mass=110.0,
    )


def step_up(regulator: Regulator = STEP_UP_5V) -> Part:
    pins = [pin("in", "supply"), pin("out", "plus"), pin("GND", "ground")]
    return part("step-up", regulator, pins=pins, family="regulator", size=(17.0, 11.0, 5.0), mass=2.0)


def switch() -> Part:
    pins = [pin("a", "supply"), pin("b", "supply")]
    return part("switch", Switch(300.0, 12.0), pins=pins, family="switch", size=(9.0, 4.0, 4.0), mass=1.0)


def fuse(hold: float = 500.0, trip: float = 1000.0) -> Part:
    pins = [pin("a", "supply"), pin("b", "supply")]
    return part("fuse", Fuse(hold, trip, 0.3, True), pins=pins, family="switch", size=(7.0, 5.0, 2.0))


def driver() -> Part:
    pins = [
        pin("VM", "supply"),
        pin("GND", "ground"),
        pin("OUT1", "plus"),
        pin("OUT2", "plus"),
        pin("PWM", wants=cans("pwm")),
        pin("DIR", wants=cans("output")),
    ]
    return part("driver", MotorDriver(2.7, 10.0, 1000.0, 2000.0, 0.5, 1, 100.0), pins=pins, family="driver")


def box(x0: float, y0: float, z0: float, x1: float, y1: float, z1: float) -> Box:
    return Box((x0, y0, z0), (x1, y1, z1))


def vehicle(
    name: str = "shunter",
    studs: tuple[int, int] = (22, 6),
    body: tuple[BodySolid, ...] = (),
    wheels: Wheels = BOGIES,
    mass: float = 300.0,
    center: tuple[float, float, float] = (88.0, 24.0, 30.0),
    **more: object,
) -> Vehicle:
    """A body that is a tray: a floor and four walls round free room, unless a body is given."""
    long, wide = studs[0] * 8.0, studs[1] * 8.0
    tray = (
        BodySolid(box(8, 8, 19.2, long - 8, wide - 8, 67.2), "free"),
        BodySolid(box(0, 0, 16, long, wide, 19.2), "fixed"),
        BodySolid(box(0, 0, 19.2, long, 8, 67.2), "fixed"),
        BodySolid(box(0, wide - 8, 19.2, long, wide, 67.2), "fixed"),
        BodySolid(box(0, 8, 19.2, 8, wide - 8, 67.2), "fixed"),
        BodySolid(box(long - 8, 8, 19.2, long, wide - 8, 67.2), "fixed"),
    )
    values: dict[str, object] = {
        "kind": "loco",
        "base": 16.0,
        "top": 67.2,
        "floor_finish": "smooth",
        "layers": (),
        "removables": (),
        "openings": (),
        "windows": (),
        "ports": (),
        "couplings": (Coupling("front", studs[0] * 8.0 - 8.0, 10.0, 4.0), Coupling("rear", 8.0, 10.0, 4.0)),
        "built_in": (),
    }
    values.update(more)
    return Vehicle(
        name=name,
        studs_long=studs[0],
        studs_wide=studs[1],
        body=body or tray,
        wheels=wheels,
        mass_g=mass,
        mass_center=center,
        **values,  # type: ignore[arg-type]
    )


def net(name: str, role: NetRole, *joins: str, current: float = 0.0) -> Net:
    refs = tuple(PinRef(*join.rsplit(".", 1)) for join in joins)
    return Net(name, role, refs, current_ma=current)


def need(name: str, one: Part, *others: Part, choice: Choice | None = None, duty: float = 1.0) -> Need:
    return Need(name, (one, *others), choice=choice, duty=duty)


def train(
    needs: Iterable[Need],
    nets: Iterable[Net],
    vehicles: Iterable[TrainVehicle] = (),
    track: Track = COMMON_CURVE,
    running: Running = SLOW,
    catalogue: Mapping[str, Part] | None = None,
) -> Train:
    every = tuple(vehicles) or (TrainVehicle("shunter", vehicle()),)
    return Train(
        "test train", every, tuple(needs), tuple(nets), track, running, catalogue=dict(catalogue or {})
    )


def shuttle(
    brain: Part | None = None,
    supply: Part | None = None,
    emitter_ma: float = 10.0,
    raw: bool = True,
    running: Running = SLOW,
    catalogue: Mapping[str, Part] | None = None,
) -> Train:
    """The common train: cells at the raw pin, a board, two rangers, an emitter and a lamp."""
    brain = brain or board()
    supply = supply or cells()
    needs = [
        need("brain", brain),
        need("cells", supply),
        need("front eyes", ranger()),
        need("rear eyes", ranger()),
        need("emitter", emitter(emitter_ma)),
        need("lamp", lamp()),
    ]
    nets = [
        net("ground", "ground", "cells.minus", "brain.ground", "front eyes.GND", "rear eyes.GND"),
        net("battery", "supply", "cells.plus", "brain.raw" if raw else "brain.5v"),
        net("front trigger", "signal", "brain.*", "front eyes.TRIG"),
        net("front echo", "signal", "brain.*", "front eyes.ECHO"),
        net("rear trigger", "signal", "brain.*", "rear eyes.TRIG"),
        net("rear echo", "signal", "brain.*", "rear eyes.ECHO"),
        net("emitter", "signal", "brain.*", "emitter.IN"),
        net("lamp", "signal", "brain.*", "lamp.IN"),
    ]
    if raw:
        nets.append(net("five volts", "supply", "brain.5v", "front eyes.VCC", "rear eyes.VCC"))
    else:
        nets[1] = net("battery", "supply", "cells.plus", "brain.5v", "front eyes.VCC", "rear eyes.VCC")
    return train(needs, nets, running=running, catalogue=catalogue)
