"""Resolve the ends of nets to the pins of the parts that were chosen."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from fitplan.model.nets import Net, PinRef
from fitplan.model.part import Part, Pin
from fitplan.model.train import Train
from fitplan.model.vehicle import BuiltIn

ANY_PIN = "*"
"""What stands for a pin that the pin matching chooses."""


@dataclass(frozen=True)
class ResolvedEnd:
    """One end of a net.

    Attributes
    ----------
    pins
        The pins that serve equally well (all ground pins of a board); empty when the pin is to be chosen
        or when the part has no such pin.
    wild
        The pin is to be chosen by the pin matching.
    """

    net: str
    owner: str
    ref: str
    pins: tuple[Pin, ...]
    part: Part | None = None
    built_in: BuiltIn | None = None
    wild: bool = False

    @property
    def label(self) -> str:
        """``owner.pin`` as it stands in the train file."""
        return f"{self.owner}.{self.ref}"


def part_of(train: Train, chosen: Mapping[str, Part], owner: str) -> Part | None:
    """Return the part chosen for a need; its first candidate when none was; None for no such need."""
    if owner in chosen:
        return chosen[owner]
    need = next((entry for entry in train.needs if entry.name == owner), None)
    return need.candidates[0] if need is not None and need.candidates else None


def parts_of(train: Train, chosen: Mapping[str, Part]) -> dict[str, Part]:
    """Return the part of every need that has one, in the order of the needs."""
    found = ((need.name, part_of(train, chosen, need.name)) for need in train.needs)
    return {name: part for name, part in found if part is not None}


def end_of(train: Train, chosen: Mapping[str, Part], net: Net, ref: PinRef) -> ResolvedEnd:
    """Return one end of a net with its pins: by the pin's name first, then by role."""
    built_in = train.built_in(ref.owner)
    part = None if built_in is not None else part_of(train, chosen, ref.owner)
    if ref.pin == ANY_PIN:
        return ResolvedEnd(net.name, ref.owner, ref.pin, (), part, built_in, wild=True)
    pins = built_in.pins if built_in is not None else part.pins if part is not None else ()
    named = tuple(pin for pin in pins if pin.name == ref.pin)
    found = named or tuple(pin for pin in pins if pin.role == ref.pin)
    return ResolvedEnd(net.name, ref.owner, ref.pin, found, part, built_in)


def ends_of(train: Train, chosen: Mapping[str, Part], net: Net) -> tuple[ResolvedEnd, ...]:
    """Return the ends of a net in the order in which it joins them."""
    return tuple(end_of(train, chosen, net, ref) for ref in net.joins)


def battery_part(built_in: BuiltIn) -> Part:
    """Return what is built in as a part, for those who ask a source for its figures."""
    assert built_in.cells is not None
    return Part(
        id=built_in.name,
        name=built_in.name,
        family="cells",
        envelope=built_in.solids,
        mass_g=built_in.mass_g,
        source="the vehicle's file",
        pins=built_in.pins,
        electrical=(built_in.cells,),
    )
