"""What is wrong with a train when it is switched on, and whether the plan says so.

The nets and parts of a plan are taken as a circuit and its node volts worked out (`nodes`). A source whose
plus and minus are one piece of copper, or two that hold one piece; a part that gets nothing, the wrong way
round or more volts than it bears; a switch that interrupts nothing; outputs that drive against each other;
signals on a ground or a supply; nets that join nothing; parts and sources left out of everything: of each a
stop must stand in the plan.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import permutations

import networkx as nx

from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import (
    CellPack,
    Charger,
    Controller,
    Fuse,
    Load,
    MotorDriver,
    Ranger,
    Regulator,
    Switch,
)
from fitplan.model.found import Finding
from fitplan.model.part import Part, Pin
from fitplan.verify.nodes import Branch, NodalNetwork, Node, parts_of, pins_at, switched_on
from fitplan.verify.result import Tally

_SUBJECTS = ("nets", "supply", "pins", "safety")
_HELD = ("source", "regulator")
_LIVE_V = 0.4
"""Above this something counts as fed; below it, as not."""
_STARVED = 0.8
"""A regulator that gives less than this share of its volts lacks them at its input."""

Wrong = tuple[str, tuple[str, ...], str]
"""Where, names of which a stop must name one, and what is wrong."""
_IDLE, _UNFED = "feeds nothing", ("is fed by nothing", "is given no volts")
_FOLLOWING = (_IDLE, *_UNFED)
"""What may follow from a regulator that is wrong itself, of which a stop stands."""


def check_switched_on(built: BuiltTrain, findings: tuple[Finding, ...], sheet: Tally) -> None:
    """Check that all that is wrong with the nets as a circuit is told as a stop."""
    if not built.train.nets:
        return
    told = [
        f"{one.where}\n{one.message}"
        for one in findings
        if one.severity == "stop" and one.subject in _SUBJECTS
    ]
    bench, parts = switched_on(built), parts_of(built)
    sheet.count("pins of the circuit", len(bench.joined))
    sheet.count("branches of the circuit", len(bench.branches))
    every = list(dict.fromkeys(_wrong(built, bench, parts)))
    is_told = {one: any(name and name in text for name in one[1] for text in told) for one in every}
    own = [one for one in every if one[2] not in _FOLLOWING]
    causes = {name for one in own if is_told[one] for name in one[1]}
    wrong_itself = {name for one in own for name in one[1]}
    causes |= {
        name
        for name, fed in _starved(bench)
        if name not in wrong_itself and any(one in text for one in (name, *fed) for text in told)
    }
    dead, idle = _behind(bench, causes)
    # A part of which is told that it has no place is no part of what is switched on.
    homeless = {one.where for one in findings if one.severity == "stop" and one.subject == "places"}
    absent = {name for name in homeless if built.placement(name) is None}
    for one in every:
        where, names, message = one
        if set(names) <= absent:
            continue
        follows = (message in _UNFED and set(names) & dead) or (message == _IDLE and set(names) & idle)
        if not is_told[one] and not follows:
            sheet.problem("circuit", where, f"{message}, and no stop says so")


def _starved(bench: NodalNetwork) -> Iterator[tuple[str, set[str]]]:
    """Yield regulators that give far less than they should, and what they feed."""
    piece, at = _on_copper(bench)
    for branch in bench.branches:
        figures = branch.figures
        if figures is None or branch.high not in bench.joined:
            continue
        if bench.across(branch) < _STARVED * figures.out_v:
            yield branch.owner, at[piece[branch.high]]


def _on_copper(bench: NodalNetwork) -> tuple[dict[Node, int], dict[int, set[str]]]:
    """Return the number of each pin's piece of copper, and the owners at each piece."""
    piece = _pieces(bench.copper())
    at: dict[int, set[str]] = {}
    for owner, name in bench.joined:
        if (number := piece.get((owner, name))) is not None:
            at.setdefault(number, set()).add(owner)
    return piece, at


def _behind(bench: NodalNetwork, causes: set[str]) -> tuple[set[str], set[str]]:
    """Return what hangs behind regulators that are wrong themselves, and the sources that lead to a cause."""
    piece, at = _on_copper(bench)
    regulators = [branch for branch in bench.branches if branch.kind == "regulator"]

    def reached(first: list[int]) -> set[str]:
        """Return the owners at pieces of copper, and at those that regulators there give volts to."""
        seen, queue = set(first), list(first)
        while queue:
            number = queue.pop()
            for one in regulators:
                entered, given = piece.get(one.input or one.low, -1), piece.get(one.high, -1)
                if entered == number and given not in seen:
                    seen.add(given)
                    queue.append(given)
        return {owner for number in seen for owner in at.get(number, ())}

    dead = reached([piece[one.high] for one in regulators if one.owner in causes and one.high in piece])
    sources = [branch for branch in bench.branches if branch.kind == "source" and branch.high in piece]
    return dead, {one.owner for one in sources if reached([piece[one.high]]) & causes}


def _wrong(built: BuiltTrain, bench: NodalNetwork, parts: dict[str, Part]) -> Iterator[Wrong]:
    copper = bench.copper()
    yield from _left_out(built, bench, parts)
    yield from _roles(built, parts)
    yield from _held(bench, parts, copper)
    yield from _fed(bench, parts)
    yield from _volts(bench, parts)
    yield from _interrupters(bench, parts)
    yield from _signals(built, bench, parts, copper)


def _left_out(built: BuiltTrain, bench: NodalNetwork, parts: dict[str, Part]) -> Iterator[Wrong]:
    """Yield parts without a wire or a ground, nets that join nothing, sources that feed nobody."""
    joined = {owner for owner, _ in bench.joined} | {owner for _, owner in bench.open_ends}
    for owner, part in parts.items():
        if owner not in joined:
            if part.pins:
                yield owner, (owner,), "is in no net"
            continue
        grounds = [pin for pin in part.pins if pin.role == "ground"]
        if any(not pin.optional for pin in grounds) and not any(
            (owner, pin.name) in bench.joined for pin in grounds
        ):
            yield owner, (owner,), "has no ground"
        if part.figure(Regulator) is not None and part.figure(Controller) is None:
            there = {pin.role for pin in part.pins if (owner, pin.name) in bench.joined}
            if "plus" in there and not there & {"supply", "raw"}:
                yield owner, (owner,), "has its output in a net and its input in none"
        if part.figure(MotorDriver) is not None:
            for pin in part.pins:
                if pin.role == "supply" and not pin.optional and (owner, pin.name) not in bench.joined:
                    yield owner, (owner,), f"has its supply pin {pin.name} open"
            inputs = [pin for pin in part.pins if _takes(pin) and not pin.optional]
            open_ones = [pin for pin in inputs if (owner, pin.name) not in bench.joined]
            if inputs and open_ones == inputs:
                yield owner, (owner,), "is told nothing: every one of its inputs is open"
        for pin in part.pins:
            if pin.wants and not pin.optional and (owner, pin.name) not in bench.joined:
                yield owner, (owner,), f"has its pin {pin.name} open"
    for net in built.train.nets:
        if len({ref.owner for ref in net.joins}) < 2:
            yield net.name, (net.name, *(ref.owner for ref in net.joins)), "joins nothing"
    # A source beside a stronger one feeds nothing either; that two hold one piece of copper is said then.
    crowded = any("give volts to one" in message for *_, message in _held(bench, parts, bench.copper()))
    for branch in bench.branches:
        wired = branch.owner in joined
        if branch.kind == "source" and wired and not crowded and abs(bench.current_ma(branch)) < 0.05:
            yield branch.owner, (branch.owner,), _IDLE


def _roles(built: BuiltTrain, parts: dict[str, Part]) -> Iterator[Wrong]:
    """Yield nets that join one kind of pins alone, and bear the role of another."""
    for net in built.train.nets:
        kinds = set()
        for ref in net.joins:
            pins = () if ref.pin == "*" else pins_at(built, parts, ref)
            roles = {pin.role for pin in pins} or {"signal"}
            kinds |= {role if role in ("ground", "signal") else "supply" for role in roles}
        apart = len({ref.owner for ref in net.joins}) > 1
        if apart and len(kinds) == 1 and net.role != "ground" and net.role not in kinds:
            names = (net.name, *(ref.owner for ref in net.joins))
            yield net.name, names, f"is no {net.role}: it joins pins of another kind alone"


def _pack(parts: dict[str, Part], owner: str) -> tuple[str, str, float] | None:
    pack = parts[owner].figure(CellPack) if owner in parts else None
    return (pack.chemistry, pack.cell_size, pack.capacity_mah) if pack is not None else None


def _held(bench: NodalNetwork, parts: dict[str, Part], copper: nx.Graph[Node]) -> Iterator[Wrong]:
    """Yield what is shorted, and copper that two things hold at their volts."""
    piece = _pieces(copper)
    by_piece: dict[int, dict[str, Branch]] = {}
    for branch in bench.branches:
        if branch.kind not in _HELD or (branch.kind == "regulator" and branch.volts <= 0):
            continue
        if piece[branch.high] == piece[branch.low] and branch.volts > 0:
            yield branch.owner, (branch.owner,), "has its plus and minus on one conductor"
        elif (holders := by_piece.setdefault(piece[branch.high], {})) is not None:
            # A board's rail may be reached by two of its own ways in; they are one output.
            holders.setdefault(branch.owner, branch)
    for holders in by_piece.values():
        if len(holders) > 1:
            owners = tuple(holders)
            yield " and ".join(owners), owners, "give volts to one conductor"
    packs = [branch for branch in bench.branches if branch.kind == "source"]
    for below, above in permutations(packs, 2):
        one, other = (_pack(parts, branch.owner) for branch in (below, above))
        if piece[below.high] == piece[above.low] and one and other and one != other:
            owners = (below.owner, above.owner)
            yield " and ".join(owners), owners, "are unlike cells in series"
    for branch in bench.branches:
        if branch.kind == "output" and abs(bench.current_ma(branch)) > 500:
            yield branch.owner, (branch.owner,), "has two outputs on one conductor"


def _pieces(copper: nx.Graph[Node]) -> dict[Node, int]:
    return {node: number for number, piece in enumerate(nx.connected_components(copper)) for node in piece}


def _fed(bench: NodalNetwork, parts: dict[str, Part]) -> Iterator[Wrong]:
    """Yield parts that get no volts, or get them the wrong way round."""
    best: dict[str, float] = {}
    for branch in bench.branches:
        if branch.kind != "load" or branch.owner not in parts:
            continue
        # A charging board whose pin beside the socket is left open is fed through the socket, when it is.
        if parts[branch.owner].pin(branch.high[1]).role == "charge" and branch.high not in bench.joined:
            continue
        across = bench.across(branch)
        if across < -_LIVE_V:
            yield branch.owner, (branch.owner,), f"gets {across:.1f} V, the wrong way round"
        best[branch.owner] = max(best.get(branch.owner, 0.0), abs(across))
    for owner, volts in best.items():
        if volts < _LIVE_V and any(node[0] == owner for node in bench.joined):
            yield owner, (owner,), _UNFED[0]


def _volts(bench: NodalNetwork, parts: dict[str, Part]) -> Iterator[Wrong]:
    """Yield pins that get more than their absolute maximum."""
    for (owner, name), nets in bench.joined.items():
        part = parts.get(owner)
        grounds = [pin.name for pin in part.pins if pin.role == "ground"] if part is not None else []
        if part is None or not grounds:
            continue
        limit = _limit(part, part.pin(name))
        volts = bench.volts[owner, name] - bench.volts.get((owner, grounds[0]), 0.0)
        grounded = any(node[0] == owner and node[1] in grounds for node in bench.joined)
        if limit and grounded and volts > limit + 0.02:
            message = f"gets {volts:.2f} V and bears {limit:g} V"
            yield f"{owner}.{name}", (owner, *nets), message


def _limit(part: Part, pin: Pin) -> float:
    """Return the most volts that a supply pin bears; 0 where nothing is stated."""
    if pin.role in ("ground", "plus", "signal"):
        return 0.0
    controller, load, charger = part.figure(Controller), part.figure(Load), part.figure(Charger)
    driver = part.figure(MotorDriver)
    if controller is not None:
        inner = controller.regulator
        rail = {"5v": 5.0, "3v3": 3.3}.get(pin.role, 0.0)
        if pin.role == "raw" or (inner is not None and rail > inner.out_v + 0.5):
            return max(inner.in_limit_v, inner.in_max_v) if inner is not None else 0.0
        if inner is not None and rail and rail < inner.out_v - 0.5:
            return 1.1 * rail  # a rail below the board's own, which only gives
        return max(controller.rail_limit_v, controller.rail_max_v, 1.1 * rail)
    if charger is not None:
        return 1.1 * charger.in_v if pin.role == "charge" else 0.0
    if (regulator := part.figure(Regulator)) is not None:
        return max(regulator.in_limit_v, regulator.in_max_v)
    if driver is not None and pin.name == "VM":
        return max(driver.limit_v, driver.max_v)
    if load is not None:
        return max(load.limit_v, load.max_v)
    return 0.0


def _interrupters(bench: NodalNetwork, parts: dict[str, Part]) -> Iterator[Wrong]:
    """Yield switches and fuses that are joined at one end, or whose ends are joined without them."""
    for owner, part in parts.items():
        if part.figure(Switch) is None and part.figure(Fuse) is None:
            continue
        wired = [node for node in bench.joined if node[0] == owner]
        if len(wired) == 1:
            yield owner, (owner,), "is joined at one end only"
        elif wired:
            # Beside another of its kind it interrupts with it, which is no stop.
            kind = Switch if part.figure(Switch) is not None else Fuse
            alike = frozenset(name for name, other in parts.items() if other.figure(kind) is not None)
            apart = bench.copper(without=alike | {owner})
            if any(nx.has_path(apart, wired[0], node) for node in wired[1:]):
                yield owner, (owner,), "interrupts nothing"


def _signals(
    built: BuiltTrain, bench: NodalNetwork, parts: dict[str, Part], copper: nx.Graph[Node]
) -> Iterator[Wrong]:
    """Yield signals that stand where they cannot, or drive against each other."""
    piece = _pieces(copper)
    held = {
        piece[branch.high] for branch in bench.branches if branch.kind in _HELD and branch.volts > _LIVE_V
    }
    grounds = {piece[("", net.name)] for net in built.train.nets if net.role == "ground"}
    by_piece: dict[int, list[tuple[str, Pin | None]]] = {}
    nets_of: dict[int, list[str]] = {}
    for net in built.train.nets:
        number = piece.get(("", net.name))
        if number is None:
            continue
        nets_of.setdefault(number, []).append(net.name)
        there = by_piece.setdefault(number, [])
        for ref in net.joins:
            pins: tuple[Pin | None, ...] = (None,) if ref.pin == "*" else pins_at(built, parts, ref)
            there += [(ref.owner, pin) for pin in pins]
    for number, ends in by_piece.items():
        nets = tuple(nets_of[number])
        where = " and ".join(nets)
        yield from _one_signal(where, nets, ends, number in grounds, number in held)
        if number in held and number not in grounds:
            for owner, pin in ends:
                if pin is not None and owner in parts and _wants_change(parts[owner], pin):
                    yield where, (owner,), f"holds {pin.name} of {owner} at one level for good"
    for net in built.train.nets:
        at = piece.get(("", net.name), -1)
        ends = by_piece.get(at, [])
        names = (net.name, *(owner for owner, _ in ends))
        if not ends or at in held or at in grounds:
            continue
        if net.role == "signal" and not _driven(built, ends):
            yield net.name, names, "is driven by nothing"
        elif net.role == "supply" and not any(_gives(built, parts, owner, pin) for owner, pin in ends):
            yield net.name, names, _UNFED[1]


def _one_signal(
    where: str, nets: tuple[str, ...], ends: list[tuple[str, Pin | None]], ground: bool, held: bool
) -> Iterator[Wrong]:
    boards = [(owner, pin) for owner, pin in ends if pin is None or (pin.role == "signal" and pin.can)]
    sends = [(o, p) for o, p in ends if p is not None and _sends(p) and not _takes(p)]
    takes = [(o, p) for o, p in ends if p is not None and _takes(p) and not _sends(p)]
    owners = tuple(dict.fromkeys(owner for owner, _ in (*boards, *sends, *takes)))
    names = (*nets, *owners)
    if ground:
        if any(pin is None or (pin.role == "signal" and not pin.optional) for _, pin in ends):
            yield where, names, "is a ground and holds a signal"
        return
    if held:
        if boards or sends:
            yield where, names, "is a supply and holds a signal that is sent"
        return
    if owners and any(pin is not None and pin.role == "ground" for _, pin in ends):
        yield where, (*nets, *(owner for owner, _ in ends)), "is a signal and holds a ground"
    if len({(owner, pin.name) for owner, pin in sends if pin is not None}) > 1:
        yield where, names, "is driven by two parts"
    elif sends and takes:
        yield where, names, "joins what one part sends to what it takes"
    own = {(owner, pin.name if pin is not None else "*") for owner, pin in boards}
    if len(own) > 1 and len({owner for owner, _ in own}) == 1 and not sends:
        yield where, names, "is driven by two pins of one board"


def _gives(built: BuiltTrain, parts: dict[str, Part], owner: str, pin: Pin | None) -> bool:
    """Return whether an end gives volts at times: a driver's output, or something built in."""
    driven = owner in parts and parts[owner].figure(MotorDriver) is not None
    return built.train.built_in(owner) is not None or (driven and pin is not None and pin.role == "plus")


def _sends(pin: Pin) -> bool:
    return bool(pin.wants & {"input", "analog", "receive"})


def _takes(pin: Pin) -> bool:
    return bool(pin.wants & {"output", "pwm", "send"})


def _driven(built: BuiltTrain, ends: list[tuple[str, Pin | None]]) -> bool:
    return any(
        pin is None or pin.can or _sends(pin) or pin.role != "signal" or built.train.built_in(owner)
        for owner, pin in ends
    )


def _wants_change(part: Part, pin: Pin) -> bool:
    """Return whether nothing happens at an input whose level stays: of a driver or a lamp it may."""
    if pin.role != "signal" or part.figure(MotorDriver) is not None or part.family == "lamp":
        return False
    timed = bool(pin.wants & {"pwm", "send", "data", "clock"})
    return timed or (part.figure(Ranger) is not None and "output" in pin.wants and not pin.optional)
