"""What is written of a mesh is read again before it is written: a file that fitplan refuses helps nobody."""

from __future__ import annotations

import tempfile
from dataclasses import replace
from pathlib import Path
from typing import Protocol

from fitplan.errors import ContradictionError, InputError, Mistake
from fitplan.files.read import read_vehicle
from fitplan.files.vehicle_file import MOST_LONG, MOST_WIDE
from fitplan.model.vehicle import Vehicle

_CLOSE = 0.01
"""Lengths in mm by which a file may round."""


class Drawn(Protocol):
    """A vehicle with its text."""

    @property
    def vehicle(self) -> Vehicle:
        """The vehicle."""

    @property
    def sidecar(self) -> bool:
        """Whether a sidecar belongs to it."""

    def text(self, sidecar_name: str = "") -> str:
        """Return the vehicle file."""

    def sidecar_bytes(self) -> bytes:
        """Return the sidecar."""


def written(made: Drawn, mesh: Path, output: Path) -> tuple[tuple[Path, bytes], ...]:
    """Return the files of a vehicle made from a mesh, by path, once they were read back.

    Raises
    ------
    InputError
        When what was made of the mesh is no vehicle that may be read: too wide, too high, names too long.
    ContradictionError
        When it reads back as another vehicle.
    """
    long, wide = made.vehicle.studs_long, made.vehicle.studs_wide
    if long > MOST_LONG or wide > MOST_WIDE:
        most = f"at most {MOST_LONG} × {MOST_WIDE} studs"
        raise InputError([Mistake(mesh, 0, 0, f"a vehicle of {long} × {wide} studs", most)])
    sidecar = output.with_suffix(".npz")
    files = [(output, made.text(sidecar.name).encode())]
    if made.sidecar:
        files.insert(0, (sidecar, made.sidecar_bytes()))
    with tempfile.TemporaryDirectory(prefix="fitplan-") as name:
        for path, data in files:
            (Path(name) / path.name).write_bytes(data)
        try:
            again = read_vehicle(Path(name) / output.name)
        except InputError as error:
            raise InputError(
                replace(mistake, path=mesh, line=0, column=0) for mistake in error.mistakes
            ) from None
    if differences := _differences(made.vehicle, again):
        raise ContradictionError(f"{mesh}: the vehicle file reads back with other {', '.join(differences)}")
    return tuple(files)


def _solids(vehicle: Vehicle) -> int:
    """Return how many solids a body has; open room beside and above them is worked out anew by the reader."""
    return sum(entry.state != "free" for entry in vehicle.body)


def _differences(vehicle: Vehicle, again: Vehicle) -> list[str]:
    """Return the words for what two vehicles differ in."""
    pairs: list[tuple[str, object, object]] = [
        (
            "footprint",
            (vehicle.studs_long, vehicle.studs_wide, vehicle.floor_finish),
            (again.studs_long, again.studs_wide, again.floor_finish),
        ),
        ("body", _solids(vehicle), _solids(again)),
        (
            "removable bricks",
            sorted(entry.name for entry in vehicle.removables),
            sorted(entry.name for entry in again.removables),
        ),
        ("built-in things", [b.name for b in vehicle.built_in], [b.name for b in again.built_in]),
    ]
    for word in ("openings", "windows", "ports"):
        pairs.append(
            (
                word,
                [(entry.name, entry.out) for entry in getattr(vehicle, word)],
                [(entry.name, entry.out) for entry in getattr(again, word)],
            )
        )
    found = [word for word, one, other in pairs if one != other]
    if abs(vehicle.base - again.base) > _CLOSE or abs(vehicle.top - again.top) > _CLOSE:
        found.append("heights")
    if len(vehicle.wheels.at) != len(again.wheels.at):
        found.append("wheels")
    return found
