"""What each net joins, resolved to pins in their places."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from fitplan.model.built import BuiltTrain
from fitplan.model.nets import Net, PinRef
from fitplan.model.part import WIRES_OF_JOINT, Pin
from fitplan.model.placed import Placement
from fitplan.model.solids import Direction, Vec
from fitplan.model.wired import Unreached

SMALL_LOADS = frozenset({"lamp", "emitter", "ranger", "sensor", "sounder"})
"""Families whose pins carry nobody else's current (common practice, no source)."""


@dataclass(frozen=True)
class NetEnd:
    """One pin of a net where it is now: point and direction in the frame of its vehicle (mm).

    Attributes
    ----------
    wires
        How many wires the pin takes.
    others
        Further pins that the part joins with this one inside and that the net may use.
    board
        Whether the part is there to join wires: a distribution board or terminal.
    load
        In a net of ground or supply, the kind of the small load that the pin belongs to; empty for what
        feeds, switches or joins. Its pins pass on only what loads of the same kind draw.
    """

    net: str
    owner: str
    pin: str
    vehicle: str
    at: Vec
    exit: Direction
    wires: int = WIRES_OF_JOINT["solder"]
    others: tuple[NetEnd, ...] = ()
    board: bool = False
    load: str = ""

    @property
    def pins(self) -> tuple[NetEnd, ...]:
        """The pin and those joined with it, each on its own."""
        return (replace(self, others=()), *self.others)

    @property
    def places(self) -> int:
        """How many wires the pin and those joined with it take together."""
        return sum(pin.wires for pin in self.pins)


@dataclass(frozen=True)
class ResolvedNet:
    """A net with all the ends that could be found, in the order in which the user joined them."""

    net: Net
    ends: tuple[NetEnd, ...]


def resolve(built: BuiltTrain) -> tuple[tuple[ResolvedNet, ...], tuple[Unreached, ...]]:
    """Find the pin of every end of every net; what has no place or no pin is unreached."""
    nets: list[ResolvedNet] = []
    lost: list[Unreached] = []
    for net in built.train.nets:
        ends: list[NetEnd] = []
        for ref in net.joins:
            found = _ends(built, net, ref)
            if isinstance(found, Unreached):
                lost.append(found)
            else:
                ends.extend(found)
        # What a lead as bought plugs in has its ground by the same lead.
        if not net.lead:
            ends = [end for end in ends if not _is_plugged(built, end)]
        nets.append(ResolvedNet(net, tuple(dict.fromkeys(ends))))
    return _with_joined_pins(built, nets), tuple(lost)


def _with_joined_pins(built: BuiltTrain, nets: Sequence[ResolvedNet]) -> tuple[ResolvedNet, ...]:
    """Give each end the free pins that its part joins with it, the first net first.

    A net takes no more of them than it may have wires there. Ends of a net that are joined inside are one.
    """
    taken = {(end.owner, end.pin) for net in nets for end in net.ends}
    taken |= {(use.controller, use.pin) for use in built.pin_map}
    seen: set[tuple[str, str]] = set()
    found = []
    for net in nets:
        ends: dict[tuple[str, str], NetEnd] = {}
        for end in net.ends:
            pins = built.pins_of(end.owner)
            own = next(pin for pin in pins if pin.name == end.pin)
            if not own.joined:
                ends[end.owner, end.pin] = end
                continue
            key = (end.owner, f"joined {own.joined}")
            group = [
                _end_at(built, net.net, end.owner, pin)
                for pin in pins
                if pin.joined == own.joined and pin.joint != "plug"
            ]
            have = list(ends[key].pins) if key in ends else []
            if (end.owner, end.pin) not in seen:
                have.append(end)
            free = [pin for pin in group if (pin.owner, pin.pin) not in taken]
            while free and (not have or sum(pin.wires for pin in have) < len(net.ends) - 1):
                have.append(free.pop(0))
            # Where another net has all pins of the group, this one shares its own all the same.
            have = have or [end]
            taken |= {(pin.owner, pin.pin) for pin in have}
            seen |= {(pin.owner, pin.pin) for pin in have}
            ends[key] = replace(have[0], others=tuple(have[1:]))
        found.append(ResolvedNet(net.net, tuple(ends.values())))
    return tuple(found)


def _is_plugged(built: BuiltTrain, end: NetEnd) -> bool:
    return any(pin.name == end.pin and pin.joint == "plug" for pin in built.pins_of(end.owner))


def _end_at(built: BuiltTrain, net: Net, owner: str, pin: Pin) -> NetEnd:
    placement = built.placement(owner)
    if placement is not None:
        return _placed_end(net, placement, pin)
    vehicle = built.vehicle_of(owner)
    assert vehicle is not None  # what is built in is in a vehicle
    load = owner if net.role != "signal" else ""
    return NetEnd(net.name, owner, pin.name, vehicle, pin.at, pin.exit, pin.wires, load=load)


def _ends(built: BuiltTrain, net: Net, ref: PinRef) -> list[NetEnd] | Unreached:
    body = built.train.built_in(ref.owner)
    if body is not None:
        pin = _pick(body.pins, ref.pin)
        if pin is None:
            return Unreached(net.name, ref.owner, ref.pin, f"it has no pin {ref.pin}")
        return [_end_at(built, net, ref.owner, pin)]
    placement = built.placement(ref.owner)
    if placement is None:
        return Unreached(net.name, ref.owner, ref.pin, "the part has no place")
    if ref.pin == "*":
        used = [use.pin for use in built.pin_map if use.controller == ref.owner and use.net == net.name]
        names = list(dict.fromkeys(used))
        if not names:
            return Unreached(net.name, ref.owner, ref.pin, "no free pin can do what this net wants")
        return [_placed_end(net, placement, placement.part.pin(name)) for name in names]
    pin = _pick(placement.part.pins, ref.pin)
    if pin is None:
        return Unreached(net.name, ref.owner, ref.pin, f"{placement.part.name} has no pin {ref.pin}")
    return [_placed_end(net, placement, pin)]


def _pick(pins: Sequence[Pin], name: str) -> Pin | None:
    """Return the pin of this name, or else the first of this role."""
    named = next((pin for pin in pins if pin.name == name), None)
    return named or next((pin for pin in pins if pin.role == name), None)


def _placed_end(net: Net, placement: Placement, pin: Pin) -> NetEnd:
    place = placement.place
    return NetEnd(
        net.name,
        placement.need,
        pin.name,
        placement.vehicle,
        place.move(pin.at),
        place.pose.turn_direction(pin.exit),
        pin.wires,
        board=placement.part.family == "junction" and bool(pin.joined),
        load=placement.part.id if net.role != "signal" and placement.part.family in SMALL_LOADS else "",
    )
