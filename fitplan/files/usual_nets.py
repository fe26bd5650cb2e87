"""The usual wiring, from what parts are: which pins a maker would join without thinking.

Ground to all; the supply through fuse, charging board and switch to the regulator where there is one, else to
the controller, or a bank's lead plugged in at both ends; its regulated rail to what is fed from it, and what
wants other volts to the regulator or bank that gives these; a motor driver to the cells ahead of the
regulator where it bears them, else to the rail, its outputs to the motors in the order of the train; every
signal pin to one of the controller's that can do it, pins of a bus to the same two. Of boards to choose from
one speaks for all: the first whose logic bears what the others send and whose pins give what hangs on them.
Nets that are written come first: what they join is not joined again, and what would be joined to that joins
the written net.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType
from typing import TypeAlias

from fitplan.files.usual_owners import NotUsualError, Owner, UsualNet, WrittenNets, any_pin
from fitplan.files.usual_supply import NEAR, charger_between, supply_nets
from fitplan.model.electrical import Bank, BusDevice, CellPack, Charger, Controller, Load, MotorDriver
from fitplan.model.nets import Net
from fitplan.model.part import Part, Pin
from fitplan.model.vehicle import BuiltIn

_SENT = frozenset({"input", "analog", "receive", "data"})
"""What a controller's pin must be able to do where the part at it sends."""
_FIVE_V = 5.0


def usual_nets(
    parts: Mapping[str, list[Part]],
    written: Sequence[Net] = (),
    motors: Mapping[str, BuiltIn] = MappingProxyType({}),
    leads: Sequence[Part] = (),
) -> tuple[UsualNet, ...]:
    """Return the nets that follow from what parts are, in the order ground, supply, signals.

    Parameters
    ----------
    parts
        The parts that may serve each need.
    written
        The nets that are written; what joins one of them comes back as its further pins.
    motors
        Motors that the vehicles carry, by ``vehicle/name``, in the order of the train.
    leads
        Leads as bought that a bank may be plugged in by.

    Raises
    ------
    NotUsualError
        There is not exactly one controller and one supply, or parts of one choice differ in their pins.
    """
    owners = [Owner(name, tuple(some)) for name, some in parts.items() if some]
    brain = _only(owners, (Controller,), "controller")
    owners = [_agreeing(owner, owners) if owner is brain else owner for owner in owners]
    brain = _only(owners, (Controller,), "controller")
    source = _only(owners, (CellPack, Bank), "supply")
    known = WrittenNets(written, owners)
    grounds = {owner: owner.ref(pin) for owner in owners if (pin := owner.first("ground")) is not None}
    charger = charger_between(owners, source)
    apart: list[UsualNet] = []
    if charger is not None and source in grounds:
        minus = (grounds.pop(source), charger.minus)
        apart.append(UsualNet(f"{source.name} minus", "ground", minus, meets=minus))
        grounds[charger.owner] = charger.ground
    central = tuple(grounds[owner] for owner in (brain, source) if owner in grounds)
    channels = _channels(owners)
    used = [channel for channel in channels if _written_ends(channel, known)]
    driven = _driven([channel for channel in channels if channel not in used], motors, written)
    running = {(owner, letter) for owner, letter, _ in driven}
    running |= {(owner.name, pair[0].name[0]) for owner, pair in used}
    found = (
        UsualNet("ground", "ground", tuple(grounds.values()), meets=(*central, *grounds.values())),
        *apart,
        *supply_nets(owners, brain, source, leads, known),
        *(net for _, _, nets in driven for net in nets),
        *_signals(owners, brain, running),
    )
    return tuple(left for net in found if (left := known.beside(net)) is not None)


def _only(owners: list[Owner], figures: tuple[type, ...], what: str) -> Owner:
    found = [owner for owner in owners if any(owner.part.figure(kind) is not None for kind in figures)]
    found = [owner for owner in found if owner.part.figure(Charger) is None]
    if len(found) != 1:
        named = ", ".join(owner.name for owner in found) or "none"
        raise NotUsualError(f"{len(found)} parts that are a {what} ({named})")
    return found[0]


def _agreeing(brain: Owner, owners: list[Owner]) -> Owner:
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
            or 0 < load.logic_v <= board.logic_v * (1 + NEAR)
            or (board.five_volt_tolerant and load.min_v <= _FIVE_V <= load.max_v)
            for load in sent
        ]
        return borne.count(False) + sum(load.peak_ma > board.pin_ma for load in hanging)

    return replace(brain, parts=tuple(sorted(brain.parts, key=clashes)))


_Channel: TypeAlias = tuple[Owner, tuple[Pin, Pin]]
"""A motor driver and the two outputs of a channel."""
_Driven: TypeAlias = tuple[str, str, tuple[UsualNet, ...]]


def _channels(owners: list[Owner]) -> list[_Channel]:
    found = []
    for owner in owners:
        if owner.part.figure(MotorDriver) is not None:
            outputs = sorted((pin for pin in owner.part.pins if pin.role == "plus"), key=lambda pin: pin.name)
            found += [(owner, (outputs[i], outputs[i + 1])) for i in range(0, len(outputs) - 1, 2)]
    return found


def _written_ends(channel: _Channel, known: WrittenNets) -> bool:
    owner, pair = channel
    return any(known.of(f"{owner.name}.{pin.name}") is not None for pin in pair)


def _driven(channels: list[_Channel], motors: Mapping[str, BuiltIn], written: Sequence[Net]) -> list[_Driven]:
    """Return each channel of a motor driver that gets a motor: owner, letter of the channel, its two nets."""
    taken = {ref.owner for net in written for ref in net.joins}
    free = [(where, motor) for where, motor in motors.items() if where not in taken and len(motor.pins) > 1]
    many = len({motor.name for _, motor in free}) < len(free)
    found = []
    for (owner, pair), (where, motor) in zip(channels, free, strict=False):
        name = where.replace("/", " ") if many else motor.name
        nets = tuple(
            UsualNet(f"{name} {end.name}", "supply", (owner.ref(out), f"{where}.{end.name}"))
            for out, end in zip(pair, motor.pins, strict=False)
        )
        found.append((owner.name, pair[0].name[0], nets))
    return found


def _signals(owners: list[Owner], brain: Owner, driven: set[tuple[str, str]]) -> Iterator[UsualNet]:
    """Yield a net for each signal pin, to any of the controller's that can do it; pins of a bus share one.

    ``driven`` holds owner and letter of each channel that drives a motor: its signals are wanted.
    """
    board = any_pin(brain)
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
                yield UsualNet(name, "signal", (board, owner.ref(pin)))
    for word, refs in shared.items():
        if refs:
            yield UsualNet(f"bus {word}", "signal", (board, *refs), meets=tuple(refs))


def _off_pins(owners: list[Owner]) -> set[tuple[str, str]]:
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
