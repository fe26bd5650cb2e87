"""Fuses: one behind all cells, that holds what the train draws and trips before its path suffers."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping

from fitplan.checks.wire import single_limit
from fitplan.circuit.currents import short_circuit_ma
from fitplan.circuit.fuses import FuseWish, PathRating, fuse_at_minus, fuses_behind, wish_for, with_kind
from fitplan.circuit.supply_tree import SupplyTree
from fitplan.model.buying import Asked
from fitplan.model.electrical import CellPack, Conductor, Connector, Fuse
from fitplan.model.found import Finding, Severity
from fitplan.model.part import Part
from fitplan.model.train import Train
from fitplan.model.wired import Harness

SUBJECT = "safety"
DEFERS = "the makers' data sheets and local rules go before"


def fuse_limits(
    train: Train, chosen: Mapping[str, Part], tree: SupplyTree, harness: Harness, trip_factor: float = 1.0
) -> Iterator[Finding]:
    """Check what limits the current when the supply is shorted behind its first wire.

    A harness without wires is read as one of the wires that the train file asks for.
    """
    shorted = short_circuit_ma(tree)
    wish = wish_for(tree, _path(train, harness, tree, trip_factor), train.catalogue)
    weakest = wish.weakest
    source = f"wire table of a handbook; a fuse protects the path behind it: common practice; {DEFERS}"
    fuses = fuses_behind(tree.root)
    pack = tree.source
    if not fuses:
        at_minus = fuse_at_minus(train, chosen, tree)
        if at_minus:
            yield _in_the_minus(tree, at_minus, source)
            return
        if shorted <= weakest.most_ma:
            return
        severity: Severity = "caution"
        if isinstance(pack, CellPack) and pack.chemistry == "li-ion" and not pack.protected:
            severity = "stop"
        elif isinstance(pack, CellPack) and pack.chemistry == "alkaline":
            severity = "note"
        yield Finding(
            SUBJECT,
            severity,
            tree.owner,
            f"a short behind {tree.owner} drives up to {shorted / 1000:.0f} A through {weakest.name}",
            round(shorted),
            round(weakest.most_ma),
            "mA",
            _proposal(tree, wish),
            source,
            add=_fuses(wish),
        )
        return
    for owner, figures in fuses:
        if not wish.held_by(figures):
            asked = wish.hold_ma if figures.resettable else max(wish.hold_ma, wish.start_ma)
            yield Finding(
                SUBJECT,
                "stop",
                owner,
                f"{with_kind('fuse', owner) if len(fuses) > 1 else 'the fuse'} behind {tree.owner} holds "
                f"{figures.hold_ma:.0f} mA and trips in running: the train's own peak is {_least(asked)} mA",
                figures.hold_ma,
                round(asked, 1),
                "mA",
                f"leave it out: {' and '.join(one for one, _ in fuses if one != owner)} protects the path"
                if any(wish.held_by(other) for _, other in fuses)
                else _proposal(tree, wish, owner),
                source,
                add=() if any(wish.held_by(other) for _, other in fuses) else _fuses(wish),
            )
    owner, figures = min(fuses, key=lambda one: one[1].trip_ma)
    bad = figures.trip_ma > weakest.most_ma
    yield Finding(
        SUBJECT,
        "caution" if bad else "note",
        owner,
        f"the fuse behind {tree.owner} trips at {figures.trip_ma:.0f} mA; {weakest.name} bears "
        f"{weakest.most_ma:.0f} mA",
        figures.trip_ma,
        round(weakest.most_ma),
        "mA",
        _proposal(tree, wish, owner) if bad else "nothing to do",
        source,
        # The one that is asked for in place of a fuse that trips in running is had once.
        add=_fuses(wish) if bad and any(wish.held_by(other) for _, other in fuses) else (),
    )


def _in_the_minus(tree: SupplyTree, owner: str, source: str) -> Finding:
    """Word a fuse that lies where a short may pass it by, and whose volts nothing reckons with."""
    return Finding(
        SUBJECT,
        "caution",
        owner,
        f"{owner} lies in the minus of {tree.owner}: a short from plus to another ground, such as the "
        "shield of a plugged-in USB lead, passes it by",
        0.0,
        1.0,
        "fuses",
        f"put it into the lead from the plus of {tree.owner}, ahead of everything",
        source,
    )


def _path(train: Train, harness: Harness, tree: SupplyTree, trip_factor: float) -> Iterator[PathRating]:
    """Yield wires and contacts that the whole current of a source passes."""
    first = {tree.root.net, *(link.below.net for link in tree.root.links if link.kind == "through")}
    awgs = [wire.awg for wire in harness.wires if wire.net in first]
    if not awgs:
        figures = train.catalogue.get(train.wiring.power_wire)
        conductor = figures.figure(Conductor) if figures is not None else None
        awgs = [conductor.awg if conductor is not None else 24]
    thinnest = max(awgs)
    yield PathRating(f"AWG {thinnest}", trip_factor * single_limit(thinnest))
    pair = train.catalogue.get(train.wiring.coupling_connector)
    contact = pair.figure(Connector) if pair is not None else None
    if contact is not None and len(train.vehicles) > 1:
        yield PathRating("a contact of the coupling connector", contact.max_ma)


def _least(ma: float) -> int:
    """Return whole milliamperes that are enough: rounded down they read as what a fuse holds already."""
    return math.ceil(round(ma, 3))


def _proposal(tree: SupplyTree, wish: FuseWish, instead_of: str = "") -> str:
    """Word which fuse is wanted: beside the source, or in the place of one that does not do."""
    most = wish.weakest.most_ma
    if not wish.possible:
        return (
            f"no fuse fits: it would have to hold {_least(wish.hold_ma)} mA and trip below the {most:.0f} "
            "mA that "
            f"{wish.weakest.name} bears; first use what bears more there, or loads that draw less"
        )
    asked = f"holds {_least(wish.hold_ma)} mA or more, trips at {most:.0f} mA or less"
    words = f"exchange {instead_of} for a fuse" if instead_of else f"put a fuse next to {tree.owner}"
    if not wish.fitting:
        fuse = wish.later.figure(Fuse) if wish.later is not None else None
        if wish.later is None or fuse is None:
            return f"{words} that {asked}: the catalogue has none"
        return (
            f"{words} that {asked}: the catalogue has none; {wish.later.id} does once {wish.weakest.name} "
            f"bears {fuse.trip_ma:.0f} mA"
        )
    part = wish.fitting[0]
    fuse = part.figure(Fuse)
    assert fuse is not None
    lost = fuse.resistance_ohm * wish.hold_ma / 1000
    added = "" if instead_of else "; add it to the needs and to the nets"
    return f"{words} that {asked}: {part.id}, which costs {lost:.2f} V at peak{added}"


def _fuses(wish: FuseWish) -> tuple[Asked, ...]:
    """Return the fuse that is to be had; none where none fits."""
    if not wish.possible:
        return ()
    if wish.fitting:
        return (Asked(wish.fitting[0].name),)
    return (Asked(f"fuse that holds {_least(wish.hold_ma)} mA and trips at {wish.weakest.most_ma:.0f} mA"),)
