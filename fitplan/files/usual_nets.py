"""The usual wiring, from what parts are: which pins a maker would join without thinking.

Ground to all; the supply through fuse and switch to the regulator where there is one, else to the
controller, or a bank's lead plugged in at both ends; its regulated rail to what is fed from it, and what
wants other volts to the regulator or bank that gives these; a motor driver to the cells ahead of the
regulator where it bears them, else to the rail, its outputs to the motors in the order of the train; every
signal pin to one of the controller's that can do it, pins of a bus to the same two. Of boards to choose from
one speaks for all: the first whose logic bears what the others send and whose pins give what hangs on them.
Nets that are written come first: what they join is not joined again.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import TypeAlias

from fitplan.files.choice import nominal_volts, pins_meant
from fitplan.model.electrical import (
    Bank,
    BusDevice,
    CellPack,
    Charger,
    Controller,
    Fuse,
    Lead,
    Load,
    MotorDriver,
    Regulator,
    Switch,
)
from fitplan.model.nets import NetRole, PinRef
from fitplan.model.part import Part, Pin, PinRole
from fitplan.model.plugged import ends_at
from fitplan.model.vehicle import BuiltIn

_RAILS: tuple[tuple[PinRole, float, str], ...] = (("5v", 5.0, "five volts"), ("3v3", 3.3, "three volts"))
_TOLD_APART: frozenset[PinRole] = frozenset({"signal", "plus", "supply"})
"""Roles of which one pin is not as good as another."""
_ANY = ".*"
_SENT = frozenset({"input", "analog", "receive", "data"})
"""What a controller's pin must be able to do where the part at it sends."""
_FIVE_V = 5.0
_NEAR = 0.06
"""A supply is of a rail's volts when it is no further off than this share."""
_FRESH = 1.15
"""Fresh or full, cells give up to so many times their nominal volts (common practice, no source)."""


class NotUsualError(ValueError):
    """The usual wiring does not follow from these parts; the message says why, ``expected`` what would do."""

    def __init__(self, found: str, expected: str = "exactly one") -> None:
        super().__init__(found)
        self.expected = expected


@dataclass(frozen=True)
class UsualNet:
    """A net as it would be written: its pins as ``owner.pin``, and the id of the lead that makes it."""

    name: str
    role: NetRole
    joins: tuple[str, ...]
    lead: str = ""


@dataclass(frozen=True)
class _Owner:
    """A need with the parts that may serve it; the first speaks for all."""

    name: str
    parts: tuple[Part, ...]

    @property
    def part(self) -> Part:
        return self.parts[0]

    def ref(self, pin: Pin) -> str:
        """Return how a net names a pin: by its name, or by its role where several parts may serve.

        Where a role is that of several pins that are no one piece of copper, such as the inputs of a motor
        driver or the two ends of a switch, it tells none of them: all parts must have the pin by its name.

        Raises
        ------
        NotUsualError
            Some part has no pin of this name, and its role tells none.
        """
        if len(self.parts) == 1:
            return f"{self.name}.{pin.name}"
        if pin.role not in _TOLD_APART or all(
            sum(own.role == pin.role for own in part.pins) == 1 for part in self.parts
        ):
            return f"{self.name}.{pin.role}"
        other = next((part for part in self.parts if pin.name not in {own.name for own in part.pins}), None)
        if other is not None:
            found = f"{self.name}, of which {self.part.id} has a pin {pin.name} and {other.id} has none"
            raise NotUsualError(found, "parts whose pins have the same names")
        return f"{self.name}.{pin.name}"

    def first(self, *roles: PinRole) -> Pin | None:
        """Return the first pin of the first of these roles that there is."""
        return next((pin for role in roles for pin in self.part.pins if pin.role == role), None)


def usual_nets(
    parts: Mapping[str, list[Part]],
    joined: frozenset[PinRef] = frozenset(),
    motors: Mapping[str, BuiltIn] = MappingProxyType({}),
    leads: Sequence[Part] = (),
) -> tuple[UsualNet, ...]:
    """Return the nets that follow from what parts are, in the order ground, supply, signals.

    Parameters
    ----------
    parts
        The parts that may serve each need.
    joined
        Pins of nets that are written, by name or by role.
    motors
        Motors that the vehicles carry, by ``vehicle/name``, in the order of the train.
    leads
        Leads as bought that a bank may be plugged in by.

    Raises
    ------
    NotUsualError
        There is not exactly one controller and one supply, or parts of one choice differ in their pins.
    """
    owners = [_Owner(name, tuple(some)) for name, some in parts.items() if some]
    brain = _only(owners, (Controller,), "controller")
    owners = [_agreeing(owner, owners) if owner is brain else owner for owner in owners]
    brain = _only(owners, (Controller,), "controller")
    source = _only(owners, (CellPack, Bank), "supply")
    fresh = _Fresh(owners, joined)
    grounds = [owner.ref(pin) for owner in owners if (pin := owner.first("ground")) is not None]
    driven = _driven(owners, motors, joined)
    found = []
    for net in (
        UsualNet("ground", "ground", tuple(grounds)),
        *_supply(owners, brain, source, leads),
        *(net for _, _, nets in driven for net in nets),
        *_signals(owners, brain, {(owner, letter) for owner, letter, _ in driven}),
    ):
        left = tuple(ref for ref in net.joins if fresh(ref))
        pins = [ref for ref in left if not ref.endswith(_ANY)]
        # a lead goes from socket to socket or not at all
        if len(left) > 1 and pins and (not net.lead or left == net.joins):
            found.append(replace(net, joins=left))
    return tuple(found)


class _Fresh:
    """Tells whether a pin is in no net yet."""

    def __init__(self, owners: list[_Owner], joined: frozenset[PinRef]) -> None:
        by_name = {owner.name: owner for owner in owners}
        self._taken: set[str] = set()
        for ref in joined:
            owner = by_name.get(ref.owner)
            for pin in pins_meant(owner.part, ref.pin) if owner is not None else ():
                self._taken.add(f"{ref.owner}.{pin.name}")
                if pin.role != "signal":
                    self._taken.add(f"{ref.owner}.{pin.role}")

    def __call__(self, ref: str) -> bool:
        return ref not in self._taken


def _only(owners: list[_Owner], figures: tuple[type, ...], what: str) -> _Owner:
    found = [owner for owner in owners if any(owner.part.figure(kind) is not None for kind in figures)]
    found = [owner for owner in found if owner.part.figure(Charger) is None]
    if len(found) != 1:
        named = ", ".join(owner.name for owner in found) or "none"
        raise NotUsualError(f"{len(found)} parts that are a {what} ({named})")
    return found[0]


def _agreeing(brain: _Owner, owners: list[_Owner]) -> _Owner:
    """Return the controller with the board ahead that goes best with the others, the first of equals.

    Its logic bears what they send to it, and its pins give what hangs on them.
    """
    loads = [
        (load, owner.part.pins)
        for owner in owners
        if owner is not brain and (load := owner.part.figure(Load)) is not None
    ]
    sent = [load for load, pins in loads if any(pin.role == "signal" and pin.wants & _SENT for pin in pins)]
    hanging = [load for load, pins in loads if all(pin.role in ("signal", "ground") for pin in pins)]

    def clashes(part: Part) -> int:
        board = part.figure(Controller)
        if board is None:
            return len(loads)
        borne = [
            load.min_v <= board.logic_v <= load.max_v
            or 0 < load.logic_v <= board.logic_v * (1 + _NEAR)
            or (board.five_volt_tolerant and load.min_v <= _FIVE_V <= load.max_v)
            for load in sent
        ]
        return borne.count(False) + sum(load.peak_ma > board.pin_ma for load in hanging)

    return replace(brain, parts=tuple(sorted(brain.parts, key=clashes)))


def _supply(owners: list[_Owner], brain: _Owner, source: _Owner, leads: Sequence[Part]) -> Iterator[UsualNet]:
    """Yield the nets from the supply to the controller and to what is fed at its rails."""
    plus = source.first("plus")
    if plus is None:
        raise NotUsualError(f"no pin of {source.name} that gives plus")
    name, at, volts = f"{source.name} plus", source.ref(plus), nominal_volts(source.part)
    for kind, behind in ((Fuse, "fused"), (Switch, "switched")):
        for owner in owners:
            ends = [pin for pin in owner.part.pins if pin.role == "supply"]
            if owner.part.figure(kind) is not None and len(ends) > 1:
                yield UsualNet(name, "supply", (at, owner.ref(ends[0])))
                name, at = behind, owner.ref(ends[1])
    drivers = [(owner, figure) for owner in owners if (figure := owner.part.figure(MotorDriver)) is not None]
    bears = [owner for owner, figure in drivers if figure.min_v <= volts and volts * _FRESH <= figure.max_v]
    ahead = tuple(owner.ref(pin) for owner in bears if (pin := owner.first("supply")) is not None)
    lead = _lead_of(source, brain, leads) if at == source.ref(plus) and not ahead else None
    if lead is not None:
        yield lead
    before_regulators = at
    for owner in owners:
        regulator = owner.part.figure(Regulator)
        into, out = owner.first("supply", "raw"), owner.first("plus")
        if regulator is not None and owner not in (brain, source) and into is not None and out is not None:
            yield UsualNet(name, "supply", (at, *ahead, owner.ref(into)))
            name, at, volts, ahead = f"{owner.name} out", owner.ref(out), _given(owner, brain), ()
    rails = [(pin, usual, words) for role, usual, words in _RAILS if (pin := brain.first(role)) is not None]
    direct = next((pin for pin, usual, _ in rails if abs(volts - usual) <= _NEAR * usual), None)
    steady = source.part.figure(Bank) is not None or at != before_regulators
    fed = _fed(owners, brain, bears, volts if steady and direct is None and lead is None else 0.0)
    if direct is None:
        into = brain.first("raw", "5v")
        if into is None:
            raise NotUsualError(f"no pin of {brain.name} that takes a supply")
        yield UsualNet(name, "supply", (at, *ahead, brain.ref(into), *fed["raw"]))
    for pin, _, words in rails:
        before = (at, *ahead) if pin is direct and lead is None else ()
        yield UsualNet(words, "supply", (*before, brain.ref(pin), *fed[pin.role]))


def _given(owner: _Owner, brain: _Owner) -> float:
    """Return the volts that a regulator gives: the controller's, where one that may serve gives these."""
    outs = [figure.out_v for part in owner.parts if (figure := part.figure(Regulator)) is not None]
    controller = brain.part.figure(Controller)
    wanted = controller.logic_v if controller is not None else outs[0]
    return next((volts for volts in outs if abs(volts - wanted) <= _NEAR * wanted), outs[0])


def _lead_of(source: _Owner, brain: _Owner, leads: Sequence[Part]) -> UsualNet | None:
    """Return the net of a bank's lead that fits both sockets; None where there is none."""
    plus = source.first("plus")
    if source.part.figure(Bank) is None or plus is None or len(source.parts) > 1:
        return None
    known = [{(pin.name, pin.socket) for pin in part.pins} for part in brain.parts]
    sockets = [
        pin
        for pin in brain.part.pins
        if pin.socket and pin.role != "ground" and all((pin.name, pin.socket) in names for names in known)
    ]
    for lead in leads:
        figures = lead.figure(Lead)
        for pin in sockets:
            if figures is not None and any(ends_at(figures, plus.socket, pin.socket)):
                joins = (source.ref(plus), f"{brain.name}.{pin.name}")
                return UsualNet(f"{source.name} lead", "supply", joins, lead.id)
    return None


_Driven: TypeAlias = tuple[str, str, tuple[UsualNet, ...]]


def _driven(owners: list[_Owner], motors: Mapping[str, BuiltIn], joined: frozenset[PinRef]) -> list[_Driven]:
    """Return each channel of a motor driver that gets a motor: owner, letter of the channel, its two nets."""
    taken = {ref.owner for ref in joined}
    free = [(where, motor) for where, motor in motors.items() if where not in taken and len(motor.pins) > 1]
    many = len({motor.name for _, motor in free}) < len(free)
    channels = []
    for owner in owners:
        outputs = sorted((pin for pin in owner.part.pins if pin.role == "plus"), key=lambda pin: pin.name)
        if owner.part.figure(MotorDriver) is not None and owner.name not in taken:
            channels += [(owner, outputs[i : i + 2]) for i in range(0, len(outputs) - 1, 2)]
    found = []
    for (owner, pair), (where, motor) in zip(channels, free, strict=False):
        name = where.replace("/", " ") if many else motor.name
        nets = tuple(
            UsualNet(f"{name} {end.name}", "supply", (owner.ref(out), f"{where}.{end.name}"))
            for out, end in zip(pair, motor.pins, strict=False)
        )
        found.append((owner.name, pair[0].name[0], nets))
    return found


def _fed(
    owners: list[_Owner], brain: _Owner, bears: list[_Owner], ahead_v: float
) -> dict[PinRole, list[str]]:
    """Return for each rail of the controller, and for the raw supply of ``ahead_v``, the pins that it feeds.

    A motor driver that does not bear the cells is fed from the rail as a whole, else its logic alone. What no
    rail suits is fed ahead of the controller where the volts there are steady; 0: they are not.
    """
    rails: list[tuple[PinRole, float]] = [
        (role, volts) for role, volts, _ in _RAILS if brain.first(role) is not None
    ]
    rails.append(("raw", ahead_v))
    found: dict[PinRole, list[str]] = {role: [] for role, _ in rails}
    for owner in owners:
        load, driver = owner.part.figure(Load), owner.part.figure(MotorDriver)
        pins = [pin for role in ("supply", "5v", "3v3") for pin in owner.part.pins if pin.role == role]
        wants: list[tuple[Pin, float, float]] = []
        if driver is not None and pins:
            wants += [] if owner in bears else [(pins[0], driver.min_v, driver.max_v)]
            pins = pins[1:]
        if load is not None and pins and owner != brain:
            wants.append((pins[0], load.min_v, load.max_v))
        for pin, least, most in wants:
            role = next((role for role, volts in rails if least <= volts <= most), None)
            if role is not None:
                found[role].append(owner.ref(pin))
    return found


def _signals(owners: list[_Owner], brain: _Owner, driven: set[tuple[str, str]]) -> Iterator[UsualNet]:
    """Yield a net for each signal pin, to any of the controller's that can do it; pins of a bus share one.

    ``driven`` holds owner and letter of each channel that drives a motor: its signals are wanted.
    """
    any_pin = brain.name + _ANY
    shared: dict[str, list[str]] = {"data": [], "clock": []}
    off = _off_pins(owners)
    for owner in owners:
        for pin in owner.part.pins if owner != brain else ():
            ends = {(owner.name, pin.name[0]), (owner.name, pin.name[-1])}
            wanted = not pin.optional or (owner.name, pin.name) in off or ends & driven
            if pin.role != "signal" or not wanted:
                continue
            bus = next((word for word in shared if word in pin.wants), None)
            if bus is not None:
                shared[bus].append(owner.ref(pin))
            else:
                name = owner.name if pin.name == "IN" else f"{owner.name} {pin.name.lower()}"
                yield UsualNet(name, "signal", (any_pin, owner.ref(pin)))
    for word, refs in shared.items():
        if refs:
            yield UsualNet(f"bus {word}", "signal", (any_pin, *refs))


def _off_pins(owners: list[_Owner]) -> set[tuple[str, str]]:
    """Return owner and pin of what keeps a bus part off: needed where several have one address."""
    devices = [
        (owner.name, device) for owner in owners if (device := owner.part.figure(BusDevice)) is not None
    ]
    addresses = [device.address for _, device in devices]
    return {
        (name, device.off_pin)
        for name, device in devices
        if device.off_pin and addresses.count(device.address) > 1
    }
