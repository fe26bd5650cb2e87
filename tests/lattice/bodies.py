"""Small vehicles for the tests of the lattice."""

from fitplan.model.solids import Box, Cylinder
from fitplan.model.vehicle import BodySolid, BuiltIn, Port, Removable, Vehicle, Wheels

SHELL = (
    BodySolid(Box((0, 0, 16), (64, 32, 54.4)), "fixed"),
    BodySolid(Box((8, 8, 19.2), (56, 24, 51.2)), "free"),
)
WALL = BodySolid(Box((24, 8, 19.2), (32, 24, 28.8)), "removable", "inner wall")
BARREL = (
    BodySolid(Cylinder("x", (0, 16, 35.2), 64, 16), "fixed"),
    BodySolid(Cylinder("x", (8, 16, 35.2), 48, 12.5), "free"),
)


def vehicle(
    body: tuple[BodySolid, ...] = (*SHELL, WALL),
    finish: str = "smooth",
    built_in: tuple[BuiltIn, ...] = (),
    ports: tuple[Port, ...] = (),
) -> Vehicle:
    """A box 8 × 4 studs and 12 plates high, closed all round, with an inner wall that may come out."""
    names = {entry.removable: None for entry in body if entry.removable}
    return Vehicle(
        name="box wagon", kind="wagon", studs_long=8, studs_wide=4, base=16.0, top=54.4,
        floor_finish=finish, body=body, layers=(), removables=tuple(Removable(name, 1.0) for name in names),
        openings=(), windows=(), ports=ports, couplings=(),
        wheels=Wheels("axles", (16, 48), (False, False), 8),
        built_in=built_in, mass_g=80, mass_center=(32, 16, 30),
    )  # fmt: skip
