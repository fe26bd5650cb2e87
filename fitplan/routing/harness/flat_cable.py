"""Ribbon in place of a round bundle: whether it goes through the ports, and what it would take up."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from fitplan.model.electrical import Conductor
from fitplan.model.part import Part
from fitplan.model.plan import Crossing, Harness, Table, Wire
from fitplan.model.solids import unit_vector
from fitplan.model.train import Train
from fitplan.model.vehicle import Port
from fitplan.routing.harness.conductors import current_limit
from fitplan.routing.map.bundles import Ribbon, bundle_diameter


@dataclass(frozen=True)
class _Passage:
    """A place that wires pass together: a coupling, or a port inside a vehicle."""

    name: str
    where: str
    ports: tuple[tuple[str, Port], ...]
    wires: tuple[Wire, ...]
    diameter_mm: float


def hole_of(port: Port) -> tuple[float, float]:
    """Return width and height of a port's opening in mm."""
    axis = [abs(step) for step in unit_vector(port.out)].index(1)
    width, height = (size for number, size in enumerate(port.box.size) if number != axis)
    return width, height


def conductors_of(wires: Sequence[Wire], awg: int) -> int:
    """Return how many conductors of a gauge carry what the wires carry, several side by side if need be."""
    limit_ma = 1000.0 * current_limit(awg)
    return sum(max(1, math.ceil(wire.current_ma / limit_ma - 1e-9)) for wire in wires)


def ribbon_table(train: Train, harness: Harness) -> Table | None:
    """Return each passage of two conductors or more with every kind of ribbon, or None without any.

    Kinds are told apart by gauge and pitch; without one in the catalogue the common flat cable is taken.
    """
    passages = [entry for entry in _passages(train, harness) if len(entry.wires) >= 2]
    if not passages:
        return None
    kinds = _kinds(train.catalogue.values())
    rows = [_row(entry, awg, ribbon, sizes) for entry in passages for (awg, ribbon), sizes in kinds.items()]
    return Table(
        title="Ribbon or round bundle",
        columns=(
            "passage",
            "ports",
            "wires",
            "round bundle, mm",
            "ribbon",
            "conductors",
            "ribbon, mm",
            "goes through",
            "remark",
        ),
        rows=tuple(rows),
        note=(
            "A conductor of a ribbon is doubled where its gauge may not carry the current alone. A ribbon "
            "bends over its flat side only: over a coupling let it stand on edge, so that it follows curves."
        ),
    )


def _kinds(parts: Iterable[Part]) -> dict[tuple[int, Ribbon], list[int]]:
    """Return gauge and cross-section of each kind of ribbon in the catalogue, with the numbers on offer."""
    kinds: dict[tuple[int, Ribbon], list[int]] = {}
    for part in parts:
        conductor = part.figure(Conductor)
        if conductor is not None and conductor.conductors > 1 and conductor.pitch_mm > 0:
            key = (conductor.awg, Ribbon(conductor.pitch_mm, conductor.outer_mm))
            kinds.setdefault(key, []).append(conductor.conductors)
    return dict(sorted(kinds.items(), key=lambda item: item[0][0])) or {(28, Ribbon()): []}


def _passages(train: Train, harness: Harness) -> list[_Passage]:
    wires = {wire.number: wire for wire in harness.wires}
    found = [_crossing(train, entry, wires) for entry in harness.crossings]
    at_couplings = {(vehicle, port.name) for entry in found for vehicle, port in entry.ports}
    inner: dict[tuple[str, str], dict[int, Wire]] = {}
    for stretch in harness.stretches:
        if stretch.port and (stretch.vehicle, stretch.port) not in at_couplings:
            mine = inner.setdefault((stretch.vehicle, stretch.port), {})
            mine.update({number: wires[number] for number in stretch.wires})
    for (vehicle, name), mine in inner.items():
        through = tuple(mine.values())
        port = _port(train, vehicle, name)
        thick = bundle_diameter(wire.outer_mm for wire in through)
        found.append(_Passage(name, vehicle, ((vehicle, port),), through, thick))
    return found


def _crossing(train: Train, entry: Crossing, wires: dict[int, Wire]) -> _Passage:
    ports = (
        (entry.ahead, _port(train, entry.ahead, entry.port_ahead)),
        (entry.behind, _port(train, entry.behind, entry.port_behind)),
    )
    through = tuple(wires[number] for number in entry.wires)
    return _Passage(entry.name, f"{entry.ahead} – {entry.behind}", ports, through, entry.diameter_mm)


def _port(train: Train, vehicle: str, name: str) -> Port:
    return next(port for port in train.vehicle(vehicle).vehicle.ports if port.name == name)


def _row(entry: _Passage, awg: int, ribbon: Ribbon, sizes: Sequence[int]) -> tuple[str | float, ...]:
    conductors = conductors_of(entry.wires, awg)
    width, thickness = ribbon.size(conductors)
    shut = [
        f"{port.name} of {vehicle} ({hole_of(port)[0]:g} × {hole_of(port)[1]:g} mm)"
        for vehicle, port in entry.ports
        if not ribbon.goes_through(conductors, *hole_of(port))
    ]
    said = []
    if conductors > len(entry.wires):
        said.append(f"{conductors - len(entry.wires)} more for the current")
    if sizes and max(sizes) < conductors:
        said.append(f"several ribbons side by side: the widest has {max(sizes)}")
    elif sizes:
        said.append(f"split off one of {min(size for size in sizes if size >= conductors)}")
    if not shut:
        said.append("flatter" if thickness < entry.diameter_mm else "no flatter than the bundle")
    return (
        f"{entry.name}, {entry.where}",
        ", ".join(port.name for _, port in entry.ports),
        float(len(entry.wires)),
        round(entry.diameter_mm, 2),
        f"AWG {awg}, {ribbon.pitch:g} mm pitch",
        float(conductors),
        f"{width:.2f} × {thickness:g}",
        f"no: {', '.join(shut)}" if shut else "yes",
        "; ".join(said),
    )
