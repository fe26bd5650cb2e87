"""What is wrong with the nets as nets: shorts, open ends, grounds apart, polarity; facts without words.

Every fault names the nets and the owners that it is about; `checks/nets.py` words them.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import combinations

from fitplan.circuit.fault_causes import by_cause
from fitplan.circuit.fault_kinds import Fault
from fitplan.circuit.idle_parts import idle_parts
from fitplan.circuit.net_ends import parts_of
from fitplan.circuit.nodes import (
    Circuit,
    CircuitNode,
    Level,
    LevelSource,
    NetPin,
    read_circuit,
    signals_given,
    signals_taken,
    wants_change,
)
from fitplan.circuit.open_ends import open_ends
from fitplan.circuit.ratings import rating_of
from fitplan.circuit.role_faults import role_faults
from fitplan.circuit.supply import build_supply
from fitplan.circuit.supply_tree import Supply
from fitplan.circuit.switch_faults import switch_faults
from fitplan.model.electrical import (
    Bank,
    CellPack,
    Charger,
    Controller,
    Fuse,
    Regulator,
    Switch,
)
from fitplan.model.part import FEED_ROLES, Part
from fitplan.model.train import Train


def net_faults(
    train: Train,
    chosen: Mapping[str, Part],
    circuit: Circuit | None = None,
    supply: Supply | None = None,
) -> tuple[Fault, ...]:
    """Return everything that is wrong with the nets of a train, worst first; nothing when it has no nets.

    Parameters
    ----------
    circuit, supply
        The nets as nodes and the supply trees, where they are known already.
    """
    if not train.nets:
        return ()
    circuit, supply = circuit or read_circuit(train, chosen), supply or build_supply(train, chosen)
    found = [
        *role_faults(circuit),
        *_shorts(circuit),
        *_grounds(train, circuit),
        *_polarity(circuit),
        *_givers(circuit),
        *_turned(circuit),
        *_signals(circuit),
        *switch_faults(circuit),
        *open_ends(train, circuit, supply, parts_of(train, chosen)),
        *idle_parts(circuit, supply),
        *volt_faults(circuit),
    ]
    found += [Fault("series of unlike cells", owners) for owners in supply.unlike]
    return tuple(dict.fromkeys(by_cause(found, circuit, supply)))


def _is_source(part: Part | None) -> bool:
    return part is not None and (part.figure(CellPack) is not None or part.figure(Bank) is not None)


def _owners(net_pins: list[NetPin]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(net_pin.owner for net_pin in net_pins))


def _labels(net_pins: list[NetPin]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(net_pin.label for net_pin in net_pins))


def _shorts(circuit: Circuit) -> Iterator[Fault]:
    """Yield sources whose plus and minus are one node."""
    for owner, part in circuit.parts.items():
        if not _is_source(part):
            continue
        plus = {node.nets: node for _, node in circuit.at(owner, "plus", "supply", "5v")}
        minus = {node.nets for _, node in circuit.at(owner, "ground")}
        for nets in plus:
            if nets in minus:
                yield Fault("source shorted", (owner,), nets, figure=2.0)


def _cell_side(circuit: Circuit, net_pin: NetPin) -> bool:
    """Return whether a minus pin is that of cells in series above others."""
    return _is_source(net_pin.part) and any(
        other.owner != net_pin.owner and _is_source(other.part) and other.pin is not None
        and other.pin.role != "ground"
        for other in circuit.node(net_pin.net.name).net_pins
    )  # fmt: skip


def _grounds(train: Train, circuit: Circuit) -> Iterator[Fault]:
    """Yield what is wrong with grounds: none at all, parts without one, grounds that never meet."""
    wired = [
        net_pin for net_pin in circuit.net_pins if net_pin.pin is not None and net_pin.pin.role == "ground"
    ]
    owners = [owner for owner, part in circuit.parts.items() if any(p.role == "ground" for p in part.pins)]
    if not wired:
        if owners:
            yield Fault("no ground", tuple(owners))
        return
    for owner in owners:
        part = circuit.parts[owner]
        pins = [pin.name for pin in part.pins if pin.role == "ground"]
        if all(pin.optional for pin in part.pins if pin.role == "ground"):
            continue
        if not any(net_pin.owner == owner for net_pin in wired):
            yield Fault("part without ground", (owner,), pins=tuple(f"{owner}.{pin}" for pin in pins))
    at: dict[str, set[tuple[str, ...]]] = {}
    for net_pin in wired:
        if not _cell_side(circuit, net_pin):
            at.setdefault(net_pin.owner, set()).add(circuit.node(net_pin.net.name).nets)
    # A part with two grounds of its own (a charger with protection) lies between them.
    bridged: dict[tuple[str, ...], set[tuple[str, ...]]] = {}
    for grounds in at.values():
        for one in grounds:
            bridged.setdefault(one, set()).update(grounds)
    seen: set[frozenset[tuple[str, ...]]] = set()
    for node in circuit.nodes:
        if node.is_ground:
            continue
        grounded = [owner for owner in _owners(list(node.net_pins)) if owner in at]
        for first, second in combinations(grounded, 2):
            if _meet(at[first], at[second], bridged):
                continue
            pair = frozenset(at[first] | at[second])
            if pair not in seen:
                seen.add(pair)
                nets = tuple(net for net in _order(train) if any(net in ground for ground in pair))
                yield Fault("grounds apart", (first, second), nets, (node.name,), 2.0)


def _order(train: Train) -> tuple[str, ...]:
    return tuple(net.name for net in train.nets)


def _meet(
    one: set[tuple[str, ...]],
    other: set[tuple[str, ...]],
    bridged: Mapping[tuple[str, ...], set[tuple[str, ...]]],
) -> bool:
    reached, queue = set(one), list(one)
    while queue:
        for ground in bridged.get(queue.pop(), ()):
            if ground not in reached:
                reached.add(ground)
                queue.append(ground)
    return bool(reached & other)


def _polarity(circuit: Circuit) -> Iterator[Fault]:
    """Yield parts whose plus and minus are exchanged, or one of them is on the wrong node."""
    for owner, part in circuit.parts.items():
        joined = [(net_pin, node) for net_pin, node in circuit.at(owner) if net_pin.pin is not None]
        feeds = [(j, c) for j, c in joined if j.pin is not None and j.pin.role in FEED_ROLES]
        grounds = [(j, c) for j, c in joined if j.pin is not None and j.pin.role == "ground"]
        wrong_feeds = [j for j, c in feeds if c.is_ground and not _all_through(part)]
        wrong_grounds = [
            j for j, c in grounds if not c.is_ground and _has_others_level(c, owner)
            and not (_is_source(part) and _cell_side(circuit, j))
        ]  # fmt: skip
        nets = tuple(dict.fromkeys(net_pin.net.name for net_pin in (*wrong_feeds, *wrong_grounds)))
        pins = _labels([*wrong_feeds, *wrong_grounds])
        source_turned = _is_source(part) and wrong_feeds and any(not c.is_ground for _, c in grounds)
        if (wrong_feeds and wrong_grounds) or source_turned:
            yield Fault("polarity reversed", (owner,), nets, pins, 1.0, 0.0)
        elif wrong_grounds:
            yield Fault("ground pin on plus", (owner,), nets, pins, 1.0, 0.0)
        elif wrong_feeds:
            yield Fault("supply pin on ground", (owner,), nets, pins, 1.0, 0.0)


def _all_through(part: Part) -> bool:
    """Return whether a part passes on what it is in: a switch may stand in the ground lead."""
    return part.figure(Switch) is not None or part.figure(Fuse) is not None or not part.electrical


def _has_others_level(node: CircuitNode, owner: str) -> bool:
    return any(giver.owner != owner for giver in node.givers)


def _givers(circuit: Circuit) -> Iterator[Fault]:
    """Yield nodes that more than one thing holds at its volts."""
    for node in circuit.nodes:
        if node.is_ground:
            continue
        givers = _apart(circuit, node.givers)
        if len(givers) < 2:
            continue
        owners = tuple(dict.fromkeys(giver.owner for giver in givers))
        pins = tuple(f"{giver.owner}.{giver.pin}" for giver in givers)
        volts = [giver.level.nominal_v for giver in givers]
        if len(owners) == 1:
            yield Fault("outputs shorted", owners, node.nets, pins, float(len(pins)))
        elif max(volts) - min(volts) > 0.05:
            yield Fault("different volts", owners, node.nets, pins, max(volts), min(volts))
        else:
            yield Fault("sources in parallel", owners, node.nets, pins, float(len(owners)))


def _turned(circuit: Circuit) -> Iterator[Fault]:
    """Yield regulators that volts reach at their output alone: exchanged, or with an input in no net."""
    for owner, part in circuit.parts.items():
        if part.figure(Regulator) is None or part.figure(Controller) is not None:
            continue
        fed = [node for _, node in circuit.at(owner, "supply", "raw") if _has_others_level(node, owner)]
        outputs = [(j, node) for j, node in circuit.at(owner, "plus") if _has_others_level(node, owner)]
        if outputs and not fed:
            pins, joined = (
                _labels([net_pin for net_pin, _ in outputs]),
                any(circuit.at(owner, "supply", "raw")),
            )
            entries = [f"{owner}.{pin.name}" for pin in part.pins if pin.role in ("supply", "raw")]
            entry = "" if joined else entries[0]
            yield Fault("fed at its output", (owner,), outputs[0][1].nets, pins, 1.0, 0.0, instead=entry)


def _apart(circuit: Circuit, givers: tuple[LevelSource, ...]) -> list[LevelSource]:
    """Return givers, one of those pins that are the same output."""
    found: list[LevelSource] = []
    for giver in givers:
        same = [
            one
            for one in found
            if one.owner == giver.owner and (one.kind != "driver" or one.pin == giver.pin)
        ]
        if not same:
            found.append(giver)
    return found


def _signals(circuit: Circuit) -> Iterator[Fault]:
    for node in circuit.nodes:
        signals = [j for j in node.net_pins if j.pin is None or j.pin.role == "signal"]
        senders = [net_pin for net_pin in signals if signals_given(net_pin) and not signals_taken(net_pin)]
        boards = [net_pin for net_pin in signals if net_pin.pin is None or net_pin.pin.can]
        takers = [net_pin for net_pin in signals if signals_taken(net_pin) and not signals_given(net_pin)]
        grounds = [j for j in node.net_pins if j.pin is not None and j.pin.role == "ground"]
        if node.is_ground:
            wrong = [net_pin for net_pin in signals if net_pin.pin is None or not net_pin.pin.optional]
            if wrong:
                yield Fault("signal on ground", _owners(wrong), node.nets, _labels(wrong), 1.0, 0.0)
            continue
        if signals and grounds and not node.givers:
            yield Fault("ground pin on signal", _owners(grounds), node.nets, _labels(grounds), 1.0, 0.0)
        if node.givers and (senders or boards):
            wrong = [*boards, *senders]
            yield Fault("output on supply", _owners(wrong), node.nets, _labels(wrong), 1.0, 0.0)
            continue
        held = [net_pin for net_pin in signals if node.givers and wants_change(net_pin)]
        if held:
            yield Fault("input held", _owners(held), node.nets, _labels(held), 1.0, 0.0)
        if len(_labels(senders)) > 1:
            pins = _labels(senders)
            yield Fault("outputs shorted", _owners(senders), node.nets, pins, float(len(pins)))
        elif senders and takers:
            pins = _labels([*takers, *senders])
            yield Fault("trigger on echo", _owners([*takers, *senders]), node.nets, pins, 2.0)
        for owner in _owners(boards):
            own = _labels([net_pin for net_pin in boards if net_pin.owner == owner])
            if len(own) > 1 and not senders:
                yield Fault("outputs shorted", (owner,), node.nets, tuple(sorted(own)), float(len(own)))


def volt_faults(circuit: Circuit) -> Iterator[Fault]:
    """Yield pins that get more volts than they stand, with fresh cells and what regulators let through."""
    for node in circuit.nodes:
        if node.is_ground:
            continue
        seen: set[str] = set()
        for net_pin in node.net_pins:
            if net_pin.part is None or net_pin.pin is None or net_pin.owner in seen:
                continue
            if net_pin.part.figure(Charger) is not None and net_pin.pin.role == "plus":
                continue
            others = [giver.level for giver in node.givers if giver.owner != net_pin.owner]
            rating = rating_of(net_pin.part, net_pin.pin)
            if rating is None or not others:
                continue
            most = max(level.most_v for level in others)
            if most > rating.most_v + 1e-6:
                seen.add(net_pin.owner)
                over = most > rating.limit_v + 1e-6
                pins = (f"{net_pin.owner}.{net_pin.pin.name}",)
                yield Fault(
                    "too many volts" if over else "volts out of range",
                    (net_pin.owner,),
                    node.nets,
                    pins,
                    round(most, 2),
                    rating.limit_v if over else rating.most_v,
                    instead=_raw_pin(circuit, net_pin, others),
                )


def _raw_pin(circuit: Circuit, net_pin: NetPin, levels: list[Level]) -> str:
    """Return the raw pin of a board that stands the volts which its rail does not; empty: none is free."""
    part = net_pin.part
    if part is None or part.figure(Controller) is None:
        return ""
    joined = {one.pin.name for one, _ in circuit.at(net_pin.owner) if one.pin is not None}
    for pin in part.pins:
        rating = rating_of(part, pin) if pin.role == "raw" and not pin.socket else None
        if pin.name in joined or rating is None:
            continue
        if all(rating.least_v <= one.nominal_v and one.most_v <= rating.most_v for one in levels):
            return f"{net_pin.owner}.{pin.name}"
    return ""
