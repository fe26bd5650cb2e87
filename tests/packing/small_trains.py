"""Small trains for the tests of the packing room: hollow boxes on wheels, and plain blocks to put in."""

from __future__ import annotations

from fitplan.model.needed import Need
from fitplan.model.nets import Net, PinRef
from fitplan.model.operation import Running, Track
from fitplan.model.part import Mount, Part, Pin
from fitplan.model.solids import Box, Vec
from fitplan.model.train import Train, TrainVehicle
from fitplan.model.vehicle import (
    BodySolid,
    BuiltIn,
    Coupling,
    Opening,
    Port,
    Removable,
    Vehicle,
    Wheels,
    Window,
)
from fitplan.units import PLATE, STUD


def block(part_id: str, size: Vec, *, mount: Mount | None = None, mass_g: float = 5.0, pins: int = 2) -> Part:
    """Return a part that is one box, with pins in a row on top."""
    row = tuple(
        Pin(
            f"p{i}",
            "signal",
            (min(1.0 + 2.54 * i, size[0]), size[1] / 2, size[2]),
            "+z",
            frozenset({"output"}),
        )
        for i in range(pins)
    )
    return Part(
        id=part_id,
        name=f"block {size[0]:g} × {size[1]:g} × {size[2]:g} mm",
        family="controller",
        envelope=(Box((0.0, 0.0, 0.0), size),),
        mass_g=mass_g,
        source="invented for a test",
        pins=row,
        mount=mount or Mount(),
    )


def hollow(
    name: str,
    studs_long: int,
    studs_wide: int,
    plates_high: int,
    *,
    kind: str = "wagon",
    removable: tuple[tuple[str, Box, float], ...] = (),
    windows: tuple[Window, ...] = (),
    built_in: tuple[BuiltIn, ...] = (),
) -> Vehicle:
    """Return a smooth-floored box: a plate of floor, walls one stud thick, a plate of roof that lifts off.

    Inside it is ``(studs_long − 2) × (studs_wide − 2)`` studs and ``plates_high`` plates. The underside
    stands 16 mm above the rail head.
    """
    base = 5 * PLATE
    length, width = studs_long * STUD, studs_wide * STUD
    floor, ceiling = base + PLATE, base + PLATE * (1 + plates_high)
    top = ceiling + PLATE
    body = [
        BodySolid(Box((0.0, 0.0, base), (length, width, top)), "fixed"),
        BodySolid(Box((STUD, STUD, floor), (length - STUD, width - STUD, ceiling)), "free"),
        *(BodySolid(box, "removable", brick) for brick, box, _ in removable),
        *(BodySolid(window.box, "free") for window in windows),
    ]
    ports = (
        Port(
            "front hole",
            Box((length - STUD, width / 2 - 4, floor), (length, width / 2 + 4, floor + 6.4)),
            "+x",
        ),
        Port("rear hole", Box((0.0, width / 2 - 4, floor), (STUD, width / 2 + 4, floor + 6.4)), "-x"),
    )
    return Vehicle(
        name=name,
        kind=kind,  # type: ignore[arg-type]
        studs_long=studs_long,
        studs_wide=studs_wide,
        base=base,
        top=top,
        floor_finish="smooth",
        body=tuple(body),
        layers=(),
        removables=tuple(Removable(brick, cost) for brick, _, cost in removable),
        openings=(Opening("roof", Box((STUD, STUD, ceiling), (length - STUD, width - STUD, top)), "+z"),),
        windows=windows,
        ports=ports,
        couplings=(Coupling("front", length, 10.0, 4.0), Coupling("rear", 0.0, 10.0, 4.0)),
        wheels=Wheels("axles", (24.0, length - 24.0), (False, False), 8.0),
        built_in=built_in,
        mass_g=100.0,
        mass_center=(length / 2, width / 2, 30.0),
    )


def train_of(
    vehicles: tuple[Vehicle, ...], needs: tuple[Need, ...], nets: tuple[tuple[str, tuple[str, ...]], ...] = ()
) -> Train:
    """Return a train of these vehicles; a net is its name and ``need.pin`` ends."""
    return Train(
        name="test train",
        vehicles=tuple(TrainVehicle(vehicle.name, vehicle) for vehicle in vehicles),
        needs=needs,
        nets=tuple(
            Net(name, "signal", tuple(PinRef(*end.rsplit(".", 1)) for end in ends)) for name, ends in nets
        ),
        track=Track(radius=320.0),
        running=Running(speed=300.0),
    )
