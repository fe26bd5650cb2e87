"""Faults folded into their causes: one mistake is told once, with what gets nothing by it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

from fitplan.circuit.fault_kinds import Fault, FaultKind
from fitplan.circuit.nodes import Circuit, CircuitNode
from fitplan.circuit.supply_tree import Supply
from fitplan.model.part import FEED_ROLES

_CUTS: frozenset[FaultKind] = frozenset(
    {"fed at its output", "switch open", "regulator input open", "regulator feeds nobody", "role of a net"}
)
"""What lets no current through, so that all behind it gets nothing and all ahead of it feeds nothing."""
_BY_SOURCE: frozenset[FaultKind] = frozenset({"polarity reversed", "source shorted"})
"""What makes a source useless, so that all of the train gets nothing by it."""
_OPEN_OUTPUTS: frozenset[FaultKind] = frozenset({"switch open", "regulator feeds nobody"})


def by_cause(found: list[Fault], circuit: Circuit, supply: Supply) -> list[Fault]:
    """Return faults without those that only follow from others, which tell them."""
    return _turned_or_beside(_cut_off(_paired(_one_pin_twice(found)), circuit), supply)


def _one_pin_twice(found: list[Fault]) -> list[Fault]:
    """Fold what is told of one pin in two ways into what a maker would mend."""
    kept = list(found)
    # A part fed by a signal whose two legs are exchanged.
    for one in found:
        if one.kind != "signal on ground" or len(one.owners) != 1:
            continue
        legs = next((f for f in kept if f.kind == "ground pin on signal" and f.owners == one.owners), None)
        if legs is not None:
            kept = [f for f in kept if f not in (one, legs)]
            pins = (*one.pins, *legs.pins)
            kept.append(Fault("polarity reversed", one.owners, (*one.nets, *legs.nets), pins, 1.0, 0.0))
    wrong: tuple[FaultKind, ...] = ("ground pin on plus", "ground pin on signal", "polarity reversed")
    grounds = {owner for one in kept if one.kind in wrong for owner in one.owners}
    shorted = {net for one in kept if one.kind == "outputs shorted" for net in one.nets}
    written = {net for one in kept if one.kind == "role of a net" for net in one.nets}

    def again(one: Fault) -> bool:
        match one.kind:
            case "grounds apart":
                return bool(grounds & set(one.owners))
            case "net joins nothing":
                return bool(shorted & set(one.nets))
            case "net without source" | "signal without sender":
                return bool(written & set(one.nets))
        return False

    return [one for one in kept if not again(one)]


def _paired(found: list[Fault]) -> list[Fault]:
    """Fold open inputs and supply pins into the one open output: the net between them is missing."""
    outputs = [
        one for one in found if one.kind in _OPEN_OUTPUTS and (one.kind == "switch open" or not one.nets)
    ]
    if len(outputs) != 1:
        return found
    inputs = [one for one in found if _wants_net(one, outputs[0])]
    names = tuple(dict.fromkeys(owner for one in inputs for owner in one.owners))
    if not inputs or set(names) & set(outputs[0].owners):
        return found
    labels = tuple(label for one in inputs for label in one.pins) or names
    cause = replace(outputs[0], follows=names, instead=" and ".join(labels))
    return [cause if one is outputs[0] else one for one in found if one not in inputs]


def _wants_net(one: Fault, output: Fault) -> bool:
    """Return whether a fault is the open other end; a regulator behind a regulator is not what was meant."""
    if one.kind == "regulator input open":
        return output.kind == "switch open"
    return one.kind == "part without supply" and not one.nets


def _cut_off(found: list[Fault], circuit: Circuit) -> list[Fault]:
    """Fold what gets nothing, and what feeds nothing, into what lies open between them."""
    cuts = [one for one in found if one.kind in _CUTS]
    if not cuts:
        return found
    at = {
        owner: index
        for index, one in enumerate(cuts)
        for owner in (*one.owners, *one.follows)
        if one.kind != "role of a net"
    }
    nets = {net: index for index, one in enumerate(cuts) if one.kind == "role of a net" for net in one.nets}
    folded: dict[int, list[Fault]] = {}
    kept: list[Fault] = []
    for one in found:
        if one.kind == "net without source" and set(one.owners) & set(at):
            continue
        cause = None
        if one.kind in ("part without supply", "supply feeds nobody"):
            cause = _reached(circuit, one.owners[0], at, nets)
        if cause is None:
            kept.append(one)
        else:
            folded.setdefault(cause, []).append(one)

    def told(one: Fault) -> Fault:
        following = folded.get(cuts.index(one), []) if one in cuts else []
        fed = [f.owners[0] for f in following if f.kind == "part without supply"]
        idle = [f.owners[0] for f in following if f.kind == "supply feeds nobody"]
        return replace(one, follows=(*one.follows, *fed), idle=tuple(idle)) if following else one

    return [told(one) for one in kept]


def _reached(circuit: Circuit, owner: str, at: dict[str, int], nets: dict[str, int]) -> int | None:
    """Return the nearest cause along the supply nets of an owner; None when none is reached.

    Beyond a node that something holds at its volts nothing is looked for, but along nets whose role is
    wrong: what feeds through these is seen here, and not by whoever walks along supply nets.
    """
    seen: set[tuple[str, ...]] = set()
    queue = [node for _, node in circuit.at(owner, *FEED_ROLES)]
    first = [node.nets for node in queue]
    while queue:
        node = queue.pop(0)
        if node.nets in seen or node.is_ground:
            continue
        seen.add(node.nets)
        written = next((nets[net] for net in node.nets if net in nets), None)
        if written is not None:
            return written
        others = [name for name in dict.fromkeys(net_pin.owner for net_pin in node.net_pins) if name != owner]
        cause = next((at[name] for name in others if name in at), None)
        if cause is not None:
            return cause
        if not node.givers or nets or node.nets in first:
            queue += [there for name in others for there in _feeds(circuit, name)]
    return None


def _feeds(circuit: Circuit, owner: str) -> Iterator[CircuitNode]:
    yield from (node for _, node in circuit.at(owner, *FEED_ROLES))


def _turned_or_beside(found: list[Fault], supply: Supply) -> list[Fault]:
    """Fold what only follows from sources turned round, shorted, or side by side, into these."""
    turned = {owner for one in found if one.kind in _BY_SOURCE for owner in one.owners}
    parallel = [one for one in found if one.kind in ("sources in parallel", "different volts")]
    beside = {owner for one in parallel for owner in one.owners}
    turned &= (sources := {tree.owner for tree in supply.trees})
    ruled: dict[FaultKind, Callable[[Fault], bool]] = {
        "supply feeds nobody": lambda one: bool(set(one.owners) & (turned | beside)),
        "net without source": lambda one: (
            bool(set(one.owners) & turned) or bool(turned and sources == turned)
        ),
        "grounds apart": lambda one: bool(set(one.owners) & turned),
        "part without supply": lambda one: bool(turned) and sources == turned,
        "supply pin on ground": lambda one: bool(set(one.owners) & turned),
    }

    def follows(one: Fault) -> bool:
        return one.kind in ruled and ruled[one.kind](one)

    folded = [owner for one in found if follows(one) for owner in one.owners]
    kept: list[Fault] = []
    for one in found:
        if one.kind in _BY_SOURCE and set(one.owners) & turned:
            others = tuple(dict.fromkeys(owner for owner in folded if owner not in turned))
            kept.append(replace(one, follows=others))
        elif not follows(one):
            kept.append(one)
    return kept
