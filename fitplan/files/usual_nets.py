"""The usual wiring, from what parts are: which pins a maker would join without thinking.

Ground to all; the supply through fuse, charging board and switch to the regulator where there is one, else to
the controller, or a bank's lead plugged in at both ends; its regulated rail to what is fed from it, and what
wants other volts to the regulator or bank that gives these; a motor driver to the cells ahead of the
regulator where it bears them, else to the rail, its outputs to the motors in the order of the train; every
signal pin to one of the controller's that can do it, pins of a bus to the same two. Of boards to choose from
one speaks for all: the first whose logic bears what the others send and whose pins give what hangs on them.
Nets that are written come first: what they join is not joined again, and what would be joined to that joins
the written net. Of several controllers each has its own signals and rails (`usual_boards`), from one supply
or from one each. A receiver coil is joined to the charging board.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType
from typing import TypeAlias

from fitplan.files.usual_boards import Board, boards_of, names_of
from fitplan.files.usual_charging import charging_nets
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
    homes: Mapping[str, frozenset[str]] = MappingProxyType({}),
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
    homes
        The vehicles that each need may go into, where it is told.

    Raises
    ------
    NotUsualError
        There is no controller or no supply, or not told which of several belongs to which part, or parts of
        one choice differ in their pins.
    """
    owners = [Owner(name, tuple(some)) for name, some in parts.items() if some]
    brains = _all(owners, (Controller,))
    sources = _all(owners, (CellPack, Bank))
    if not brains or not sources or (len(brains) == 1 and len(sources) > 1):
        _only(owners, (Controller,), "controller")
        _only(owners, (CellPack, Bank), "supply")
    apart = len(sources) > 1
    boards: tuple[Board, ...] = (Board(brains[0], tuple(one for one in owners if one is not brains[0])),)
    if len(brains) > 1:
        boards = boards_of(owners, brains, written, homes, all_told=apart)
    best = {board.brain.name: _agreeing(board.brain, [*board.owners]) for board in boards}
    boards = tuple(replace(board, brain=best[board.brain.name]) for board in boards)
    owners = [best.get(owner.name, owner) for owner in owners]
    if not apart:
        return tuple(_wired(owners, boards, sources[0], written, motors, leads, homes))
    found: list[UsualNet] = []
    for board in boards:
        own = [owner for owner in owners if owner is board.brain or owner in board.owners]
        if len(_all(own, (CellPack, Bank))) != 1:
            raise NotUsualError(
                f"{len(sources)} supplies ({', '.join(names_of(sources))}), not one for {board.brain.name}",
                "one supply, or one for each controller, told by `in: [...]`",
            )
        source = _only(own, (CellPack, Bank), "supply")
        found += _wired(own, (board,), source, written, motors, leads, homes)
    return tuple(_told_apart(found, written, boards))


def _all(owners: list[Owner], figures: tuple[type, ...]) -> list[Owner]:
    found = [owner for owner in owners if any(owner.part.figure(kind) is not None for kind in figures)]
    return [owner for owner in found if owner.part.figure(Charger) is None]


def _told_apart(nets: list[UsualNet], written: Sequence[Net], boards: Sequence[Board]) -> Iterator[UsualNet]:
    """Yield nets with names of their own, and one ground where a net goes from one supply to another."""
    of = {owner.name: board for board in boards for owner in (board.brain, *board.owners)}
    across = any(
        len({of[ref.owner].brain.name for ref in net.joins if ref.owner in of}) > 1 for net in written
    )
    grounds = [net for net in nets if net.role == "ground" and net.name == "ground"]
    if across and len(grounds) > 1 and not any(net.written for net in grounds):
        first = grounds[0]
        joins = tuple(dict.fromkeys(ref for net in grounds for ref in net.joins))
        nets = [
            replace(net, joins=joins) if net is first else net
            for net in nets
            if net is first or net not in grounds
        ]
    taken: dict[str, int] = {}
    for net in nets:
        taken[net.name] = 0 if net.written else taken.get(net.name, 0) + 1
        again = taken[net.name] > 1
        yield replace(net, name=f"{net.name} of {_whose(net, of)}") if again else net


def _whose(net: UsualNet, of: Mapping[str, Board]) -> str:
    return next(of[owner].brain.name for ref in net.joins if (owner := ref.rpartition(".")[0]) in of)


def _wired(
    owners: list[Owner],
    boards: Sequence[Board],
    source: Owner,
    written: Sequence[Net],
    motors: Mapping[str, BuiltIn],
    leads: Sequence[Part],
    homes: Mapping[str, frozenset[str]],
) -> Iterator[UsualNet]:
    """Yield the nets of one supply and all that hangs on it, in the order ground, supply, signals."""
    lead = next((board for board in boards if source in board.owners), boards[0])
    rest = tuple(board for board in boards if board is not lead)
    brain = lead.brain
    known = WrittenNets(written, owners)
    grounds = {owner: owner.ref(pin) for owner in owners if (pin := owner.first("ground")) is not None}
    charger = charger_between(owners, source)
    apart: list[UsualNet] = []
    if charger is not None and source in grounds:
        minus = (grounds.pop(source), charger.minus)
        apart.append(UsualNet(f"{source.name} minus", "ground", minus, meets=minus))
        grounds[charger.owner] = charger.ground
    central = tuple(grounds[owner] for owner in (brain, source) if owner in grounds)
    bare = [owner for owner in owners if all(owner is not board.brain for board in rest)]
    channels = _channels(owners)
    used = [channel for channel in channels if _written_ends(channel, known)]
    driven = _driven([channel for channel in channels if channel not in used], motors, written, homes)
    running = {(owner, letter) for owner, letter, _ in driven}
    running |= {(owner.name, pair[0].name[0]) for owner, pair in used}
    found = (
        UsualNet("ground", "ground", tuple(grounds.values()), meets=(*central, *grounds.values())),
        *apart,
        *supply_nets(bare, brain, source, leads, known, rest),
        *charging_nets(owners),
        *(net for _, _, nets in driven for net in nets),
        *(net for board in boards for net in _signals(board, owners, running, len(boards) > 1)),
    )
    yield from (left for net in found if (left := known.beside(net)) is not None)


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


def _driven(
    channels: list[_Channel],
    motors: Mapping[str, BuiltIn],
    written: Sequence[Net],
    homes: Mapping[str, frozenset[str]],
) -> list[_Driven]:
    """Return each channel of a motor driver that gets a motor: owner, letter of the channel, its two nets.

    A driver whose vehicle is told drives the motors there before others.
    """
    taken = {ref.owner for net in written for ref in net.joins}
    free = [(where, motor) for where, motor in motors.items() if where not in taken and len(motor.pins) > 1]
    many = len({motor.name for _, motor in free}) < len(free)
    given: dict[int, tuple[str, BuiltIn]] = {}
    for near in (True, False):
        for number, (owner, _) in enumerate(channels):
            there = homes.get(owner.name, frozenset())
            may = [one for one in free if not near or there == {one[0].split("/")[0]}]
            if number not in given and may:
                given[number] = may[0]
                free.remove(may[0])
    found = []
    for number in sorted(given):
        (owner, pair), (where, motor) = channels[number], given[number]
        name = where.replace("/", " ") if many else motor.name
        nets = tuple(
            UsualNet(f"{name} {end.name}", "supply", (owner.ref(out), f"{where}.{end.name}"))
            for out, end in zip(pair, motor.pins, strict=False)
        )
        found.append((owner.name, pair[0].name[0], nets))
    return found


def _signals(
    own: Board, owners: list[Owner], driven: set[tuple[str, str]], several: bool
) -> Iterator[UsualNet]:
    """Yield a net for each signal pin, to any of the controller's that can do it; pins of a bus share one.

    ``driven`` holds owner and letter of each channel that drives a motor: its signals are wanted.
    """
    brain = own.brain
    board = any_pin(brain)
    shared: dict[str, list[str]] = {"data": [], "clock": []}
    off = _off_pins(owners)
    for owner in owners:
        for pin in owner.part.pins if owner in own.owners else ():
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
            name = f"{brain.name} bus {word}" if several else f"bus {word}"
            yield UsualNet(name, "signal", (board, *refs), meets=tuple(refs))


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
