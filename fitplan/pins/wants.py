"""What the nets want of a controller's pins.

A net that ends at ``controller.*`` wants one pin that can do all that the pins at its other ends want.
Nets on a shared bus want one pin between them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, TypeAlias

from fitplan.circuit.net_ends import ResolvedEnd, ends_of, parts_of
from fitplan.model.electrical import Controller, Emitter, Load
from fitplan.model.part import CANS, Can, Part, Pin
from fitplan.model.train import Train

SHARED: tuple[Can, ...] = ("data", "clock")
"""What several nets may share one pin for: the two lines of a bus."""


_FED = ("supply", "raw", "5v", "3v3")


WantUse: TypeAlias = Literal["", "carrier", "tone"]


@dataclass(frozen=True)
class PinRequest:
    """One pin that is wanted of a controller.

    Attributes
    ----------
    nets
        The nets that will share the pin: one, or all those on a bus line; none for a pin to be kept free.
    abilities
        What the pin must be able to do, all of it.
    serves
        ``need.pin`` of every other end.
    pin
        Name of the pin that the user fixed; empty when it may be chosen.
    optional
        Every other end may stay unconnected.
    """

    controller: str
    nets: tuple[str, ...]
    abilities: frozenset[Can]
    serves: tuple[str, ...]
    pin: str = ""
    optional: bool = False
    use: WantUse = ""
    """What takes a timer for itself: the carrier of an infrared emitter, or the tone of a sounder."""
    pull_up: bool = False
    """The pin must have a pull-up inside."""
    current_ma: float = 0.0
    """What the pin feeds, at its peak."""

    @property
    def name(self) -> str:
        """The nets, or what a spare pin is kept for."""
        return ", ".join(self.nets) or f"spare {self.doing}"

    @property
    def doing(self) -> str:
        """What the pin does, in words."""
        return " and ".join(can for can in CANS if can in self.abilities) or "any signal"


def signal_pins(part: Part) -> tuple[Pin, ...]:
    """Return the pins of a controller that can be matched."""
    return tuple(pin for pin in part.pins if pin.role == "signal" and pin.can)


def controllers_of(train: Train, chosen: Mapping[str, Part]) -> dict[str, Part]:
    """Return the needs whose part has signal pins to give: controllers, and expanders on their bus."""
    return {
        name: part
        for name, part in parts_of(train, chosen).items()
        if part.figure(Controller) is not None or signal_pins(part)
    }


def wants_of(train: Train, chosen: Mapping[str, Part], controller: str) -> tuple[PinRequest, ...]:
    """Return what the nets want of one controller, in the order of the nets; bus lines merged.

    Pins that the need's own choice asks for beyond the nets come last, as wants without a net.
    """
    found: list[PinRequest] = []
    for net in train.nets:
        ends = ends_of(train, chosen, net)
        others = tuple(end for end in ends if end.owner != controller)
        for end in ends:
            if end.owner == controller and (end.wild or any(pin.can for pin in end.pins)):
                found.append(_want(end, net.name, others))
    merged = _merge_buses(found)
    need = next((entry for entry in train.needs if entry.name == controller), None)
    spare = need.choice.pins if need is not None and need.choice is not None else ()
    for can, count in spare:
        merged.extend(PinRequest(controller, (), frozenset({can}), ()) for _ in range(count))
    return tuple(merged)


def _want(end: ResolvedEnd, net: str, others: tuple[ResolvedEnd, ...]) -> PinRequest:
    abilities = frozenset(can for other in others for pin in other.pins for can in pin.wants)
    serves = tuple(other.label for other in others)
    optional = bool(others) and all(other.pins and all(p.optional for p in other.pins) for other in others)
    use: WantUse = ""
    for other in others:
        if other.part is not None and other.part.figure(Emitter) is not None:
            use = "carrier"
        elif other.part is not None and other.part.family == "sounder" and not use:
            use = "tone"
    pull_up = any("wants pull-up" in pin.care for other in others for pin in other.pins)
    pin = "" if end.wild else end.pins[0].name
    current = sum(_taken_ma(other) for other in others)
    return PinRequest(end.owner, (net,), abilities, serves, pin, optional, use, pull_up, current)


def _taken_ma(end: ResolvedEnd) -> float:
    """Return what a lamp, emitter or sounder takes from the pin itself: it has no supply pin."""
    load = end.part.figure(Load) if end.part is not None else None
    if load is None or end.part is None or any(pin.role in _FED for pin in end.part.pins):
        return 0.0
    taken = any(pin.wants & {"output", "pwm"} for pin in end.pins)
    return max(load.peak_ma, load.current_ma) if taken else 0.0


def _merge_buses(wants: list[PinRequest]) -> list[PinRequest]:
    """Return the wants with those on the same bus line (or the same fixed bus pin) made one."""
    merged: list[PinRequest] = []
    for want in wants:
        line = next((can for can in SHARED if can in want.abilities), None)
        at = None
        if line is not None:
            at = next(
                (
                    index
                    for index, other in enumerate(merged)
                    if line in other.abilities and (not other.pin or not want.pin or other.pin == want.pin)
                ),
                None,
            )
        if at is None:
            merged.append(want)
            continue
        other = merged[at]
        merged[at] = PinRequest(
            other.controller,
            (*other.nets, *(net for net in want.nets if net not in other.nets)),
            other.abilities | want.abilities,
            (*other.serves, *(label for label in want.serves if label not in other.serves)),
            other.pin or want.pin,
            other.optional and want.optional,
        )
    return merged
