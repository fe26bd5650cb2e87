"""Whether a step of work says only what its kind of step has to say: a cut names no splice, a lid no wire."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields
from types import MappingProxyType

from fitplan.model.built import BuiltTrain
from fitplan.model.work import Act, Lifted, WorkStep

_HAS: Mapping[Act, frozenset[str]] = MappingProxyType(
    {
        "cut": frozenset({"wires"}),
        "splice": frozenset({"wires", "ends", "splice", "opening", "blind"}),
        "join": frozenset({"parts", "wires", "ends", "joint", "opening", "blind"}),
        "plug": frozenset({"parts", "wires", "ends", "joint"}),
        "crimp": frozenset({"wires", "ends", "joint", "crossing"}),
        "house": frozenset({"wires", "ends", "joint", "crossing"}),
        "take out": frozenset({"bricks"}),
        "open": frozenset({"opening"}),
        "thread": frozenset({"parts", "wires", "ends", "port", "hole", "opening", "blind"}),
        "place": frozenset({"parts", "opening", "lifted"}),
        "fasten": frozenset({"parts", "opening"}),
        "measure": frozenset({"readings"}),
        "couple": frozenset({"wires", "crossing"}),
        "close": frozenset({"opening"}),
        "run": frozenset(),
    }
)
"""What each kind of step has beside its number, its spot and its vehicle."""
_ALWAYS = frozenset({"number", "act", "spot", "vehicle"})


def said_amiss(step: WorkStep, built: BuiltTrain) -> tuple[str, ...]:
    """Return what a step says that steps of its kind do not, a part of a sentence each."""
    found: list[str] = []
    for field in fields(step):
        value = getattr(step, field.name)
        if field.name not in _HAS[step.act] | _ALWAYS and value != field.default:
            found.append(f"to {step.act}, and tells of {field.name}")
        if isinstance(value, tuple) and len(set(value)) != len(value):
            found.append(f"names one of its {field.name} twice")
    if step.opening and step.spot != "inside":
        found.append(f"names {step.opening}, and is done outside")
    # Coupled trains, sources and the first run are of no one vehicle.
    nowhere = not step.vehicle and step.spot != "table" and step.act not in ("measure", "couple", "run")
    if nowhere or (step.vehicle and step.spot == "table"):
        found.append("is on the table and in a vehicle, or in neither")
    if step.act == "thread" and bool(step.port) == (step.hole is not None):
        found.append("leads through a port and a hole, or through neither")
    if step.act == "thread" and step.port and step.parts:
        found.append("to thread, and tells of parts")
    found += [
        f"wire {one.end[0]} hangs from {one.held or 'nothing'}, which does not hold it"
        for one in step.lifted
        if one.held not in _holding(one, step, built)
    ]
    return tuple(found)


def _holding(lifted: Lifted, step: WorkStep, built: BuiltTrain) -> set[str]:
    """Return all that may hold the far end of wires that hang: pins and splices at their ends, ports."""
    there = [entry.vehicle for entry in built.train.vehicles if entry.name == step.vehicle]
    held = {port.name for vehicle in there for port in vehicle.ports}
    for wire in built.harness.wires:
        if wire.number in lifted.wires:
            for end in (wire.start, wire.end):
                held.add(f"{end.owner}.{end.pin}" if end.kind == "pin" else end.owner)
    return held
