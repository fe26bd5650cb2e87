"""Ribbon in place of a round bundle: whether it goes through the ports, and what it would take up."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from fitplan.model.copper import current_limit
from fitplan.model.electrical import Conductor
from fitplan.model.found import Table
from fitplan.model.part import Part
from fitplan.model.train import Train
from fitplan.model.vehicle import Port
from fitplan.model.wired import Crossing, Harness, Wire


@dataclass(frozen=True)
class Ribbon:
    """A flat cable: conductors side by side.

    Attributes
    ----------
    pitch, thickness
        In mm; 1.27 and 0.9 are the common flat cable (common practice, no source).
    """

    pitch: float = 1.27
    thickness: float = 0.9

    def size(self, conductors: int) -> tuple[float, float]:
        """Return width and thickness in mm of a cable with so many conductors."""
        return conductors * self.pitch, self.thickness

    def goes_through(self, conductors: int, width: float, height: float) -> bool:
        """Tell whether the cable lies flat in a rectangular hole, either way round."""
        long, short = max(width, height), min(width, height)
        return conductors * self.pitch <= long + 1e-9 and self.thickness <= short + 1e-9


@dataclass(frozen=True)
class _Passage:
    """A place that wires pass together: a coupling, or a port inside a vehicle."""

    name: str
    where: str
    ports: tuple[tuple[str, Port], ...]
    wires: tuple[Wire, ...]
    diameter_mm: float


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
    told = {(one.vehicle, one.port): (one.width_mm, one.height_mm) for one in harness.facts.ports}
    rows = [
        _row(entry, awg, ribbon, sizes, told) for entry in passages for (awg, ribbon), sizes in kinds.items()
    ]
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
    for load in harness.facts.ports:
        if (load.vehicle, load.port) not in at_couplings:
            through = tuple(wires[number] for number in load.wires)
            port = _port(train, load.vehicle, load.port)
            found.append(_Passage(load.port, load.vehicle, ((load.vehicle, port),), through, load.bundle_mm))
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


def _row(
    entry: _Passage,
    awg: int,
    ribbon: Ribbon,
    sizes: Sequence[int],
    told: Mapping[tuple[str, str], tuple[float, float]],
) -> tuple[str | float, ...]:
    """Return a row; ``told`` is what of ports is left beside what stands close behind them."""
    conductors = conductors_of(entry.wires, awg)
    width, thickness = ribbon.size(conductors)
    left = [(vehicle, port, told.get((vehicle, port.name), port.opening)) for vehicle, port in entry.ports]
    shut = [
        f"{port.name} of {vehicle} ({width_mm:g} × {height_mm:g} mm)"
        for vehicle, port, (width_mm, height_mm) in left
        if not ribbon.goes_through(conductors, width_mm, height_mm)
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
