"""The supply as is usual: from cells or a bank through fuse, switch and regulator to the controller's rails.

A charging board with protection lies between cells and switch, at plus and at minus: what the train draws
passes it, and the cells can be charged while the train is off.

What of it is written is followed as it is written: links in their written order, and a regulator or a rail
whose net is written feeds there.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from fitplan.files.choice import nominal_volts
from fitplan.files.usual_boards import Board
from fitplan.files.usual_owners import NotUsualError, Owner, UsualNet, WrittenNets
from fitplan.model.electrical import (
    Bank,
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
from fitplan.model.part import Part, Pin, PinRole
from fitplan.model.plugged import ends_at

_RAILS: tuple[tuple[PinRole, float, str], ...] = (("5v", 5.0, "five volts"), ("3v3", 3.3, "three volts"))
NEAR = 0.06
"""A supply is of a rail's volts when it is no further off than this share."""
_FRESH = 1.15
"""Fresh or full, cells give up to so many times their nominal volts (common practice, no source)."""


def supply_nets(
    owners: list[Owner],
    brain: Owner,
    source: Owner,
    leads: Sequence[Part],
    written: WrittenNets,
    others: Sequence[Board] = (),
) -> Iterator[UsualNet]:
    """Yield the nets from the supply to the controller and to what is fed at its rails.

    Parameters
    ----------
    owners
        All parts but other controllers.
    others
        Other controllers with what is wired to them: they are fed where the first one is.
    """
    plus = source.first("plus")
    if plus is None:
        raise NotUsualError(f"no pin of {source.name} that gives plus")
    name, at, volts = f"{source.name} plus", source.ref(plus), nominal_volts(source.part)
    charger = charger_between(owners, source)
    ahead, aside = _regulators(owners, {brain, source, charger.owner if charger else source}, brain, written)
    takers = {owner.ref(into) for owner, into, _ in ahead[:1]}
    if not ahead and (raw := brain.first("raw", "5v")) is not None:
        takers = {brain.ref(raw)}
    hanging = _hanging_chargers(owners, source)
    for near, far, behind in _in_line(owners, at, takers, written, charger):
        yield UsualNet(name, "supply", (at, near, *hanging), meets=(at, near))
        name, at, hanging = behind, far, []
    boosted = charger.owner.part.figure(Regulator) if charger else None
    volts = boosted.out_v if boosted is not None else volts
    drivers = [(owner, figure) for owner in owners if (figure := owner.part.figure(MotorDriver)) is not None]
    bears = [owner for owner, figure in drivers if figure.min_v <= volts and volts * _FRESH <= figure.max_v]
    beside = hanging + [owner.ref(pin) for owner in bears if (pin := owner.first("supply")) is not None]
    beside += [ref for owner, into, _ in aside if written.of(ref := owner.ref(into)) is None]
    lead = _lead_of(source, brain, leads) if at == source.ref(plus) and not beside and not ahead else None
    if lead is not None:
        yield lead
    before_regulators = at
    for owner, into, out in ahead:
        yield UsualNet(name, "supply", (at, *beside, owner.ref(into)), meets=(at, owner.ref(into)))
        name, at, volts, beside = f"{owner.name} out", owner.ref(out), _given(owner, brain), []
    rails = [(pin, usual, words) for role, usual, words in _RAILS if (pin := brain.first(role)) is not None]
    direct = _direct_rail([(pin, usual) for pin, usual, _ in rails], brain, at, volts, written)
    steady = source.part.figure(Bank) is not None or at != before_regulators
    theirs = {owner.name for board in others for owner in board.owners}
    mine = [owner for owner in owners if owner.name not in theirs]
    fed = _fed(mine, brain, bears, volts if steady and direct is None and lead is None else 0.0)
    further = [_further(board, bears, direct.role if direct is not None else None, volts) for board in others]
    if direct is None and lead is None:
        raw = brain.first("raw", "5v")
        if raw is None:
            raise NotUsualError(f"no pin of {brain.name} that takes a supply")
        into_board = brain.ref(raw)
        yield UsualNet(
            name, "supply", (at, *beside, into_board, *fed["raw"], *_flat(further)), meets=(at, into_board)
        )
    for pin, _, words in rails:
        rail = brain.ref(pin)
        if pin is not direct or lead is not None:
            yield UsualNet(words, "supply", (rail, *fed[pin.role]), meets=(rail,))
            continue
        if written.of(at) is not None:
            yield UsualNet(name, "supply", (at, *beside), meets=(at,))
            beside = []
        joins = (at, *beside, rail, *fed[pin.role], *_flat(further))
        yield UsualNet(words, "supply", joins, meets=(rail, at))
    for one in further:
        yield from one.rails


@dataclass(frozen=True)
class _Further:
    """What of another controller joins the net that feeds the first one, and the nets of its other rails."""

    fed: tuple[str, ...]
    rails: tuple[UsualNet, ...]


def _flat(further: Sequence[_Further]) -> list[str]:
    return [ref for one in further for ref in one.fed]


def _further(board: Board, bears: list[Owner], role: PinRole | None, volts: float) -> _Further:
    """Return how another controller is fed: at the rail of this role if its volts suit, else at its raw pin.

    With none of both it is left over.
    """
    brain, fed = board.brain, _fed(list(board.owners), board.brain, bears, 0.0)
    figure = brain.part.figure(Controller)
    suits = figure is not None and (role != "3v3" or abs(figure.logic_v - volts) <= NEAR * volts)
    pin = brain.first(role) if role is not None and suits else None
    nets = [
        UsualNet(
            f"{words} of {brain.name}", "supply", (brain.ref(rail), *fed[rail.role]), meets=(brain.ref(rail),)
        )
        for one, _, words in _RAILS
        if (rail := brain.first(one)) is not None and rail is not pin
    ]
    if pin is not None:
        return _Further((brain.ref(pin), *fed[pin.role]), tuple(nets))
    raw = brain.first("raw") or (brain.first("5v") if role is None else None)
    return _Further((brain.ref(raw),) if raw is not None else (), tuple(nets))


@dataclass(frozen=True)
class ChargerBetween:
    """A charging board that what the train draws passes: its pins, as nets name them.

    ``cell`` and ``minus`` go to the cells, ``out`` and ``ground`` to the train.
    """

    owner: Owner
    cell: str
    minus: str
    out: str
    ground: str


def charger_between(owners: list[Owner], source: Owner) -> ChargerBetween | None:
    """Return the one charging board that is made to lie between cells and train; None where there is none."""
    found = []
    for owner in owners:
        ends = [_ends_of(part) for part in owner.parts]
        if ends[0] is None or ends != ends[:1] * len(ends):
            continue
        if owner is source or source.part.figure(CellPack) is None:
            continue
        cell, train = ({role: f"{owner.name}.{pin}" for role, pin in of.items()} for of in ends[0])
        if {"supply", "ground"} <= set(cell) and {"plus", "ground"} <= set(train):
            found.append(
                ChargerBetween(owner, cell["supply"], cell["ground"], train["plus"], train["ground"])
            )
    return found[0] if len(found) == 1 else None


def _ends_of(part: Part) -> tuple[dict[PinRole, str], dict[PinRole, str]] | None:
    """Return the pins of a charging board to the cells and to the train, by roles; None of any other."""
    figures = part.figure(Charger)
    if figures is None:
        return None
    cell, train = (
        {pin.role: pin.name for pin in reversed(part.pins) if (pin.name in figures.cell_pins) is at}
        for at in (True, False)
    )
    return cell, train


def _hanging_chargers(owners: list[Owner], source: Owner) -> list[str]:
    """Return the pins of charging boards that hang at the cells: what the train draws passes them by."""
    return [
        owner.ref(pin)
        for owner in owners
        if (figures := owner.part.figure(Charger)) is not None and source.part.figure(CellPack) is not None
        if owner is not source and owner.first("plus") is None
        for pin in owner.part.pins
        if pin.role == "supply" and pin.name in figures.cell_pins
    ]


def _in_line(
    owners: list[Owner], at: str, takers: set[str], written: WrittenNets, charger: ChargerBetween | None
) -> Iterator[tuple[str, str, str]]:
    """Yield each link from the supply on: its near end, its far end, a name for what follows.

    Fuses, a charging board and switches, in this order but for what is written: there as it is strung.
    One whose ends both stand in nets of which neither leads on from the supply switches something else.
    ``takers`` are what the supply leads to.
    """
    fuses, switches = (
        [
            ((owner.ref(ends[0]), owner.ref(ends[1])), behind)
            for owner in owners
            if owner.part.figure(kind) is not None
            and len(ends := [pin for pin in owner.part.pins if pin.role == "supply"]) > 1
        ]
        for kind, behind in ((Fuse, "fused"), (Switch, "switched"))
    )
    between = [((charger.cell, charger.out), f"{charger.owner.name} out")] if charger is not None else []
    left = [*fuses, *between, *switches]
    while left:
        link = min(left, key=lambda one: not any(written.together(at, end) for end in one[0]))
        left.remove(link)
        (near, far), behind = link
        nets = [written.of(near), written.of(far)]
        if link in between:  # which of its ends is which does not depend on what is written
            yield near, far, behind
            at = far
            continue
        if any(net is not None and net.role != "supply" for net in nets):
            continue
        if written.together(at, far) or (nets[0] is not None and nets[1] is None):
            near, far = (near, far) if written.together(at, near) else (far, near)
        elif None not in nets and not written.together(at, near):
            leads_on = [any(written.together(end, taker) for taker in takers) for end in (near, far)]
            if written.of(at) is not None or not any(leads_on):
                continue
            near, far = (near, far) if leads_on[1] else (far, near)
        yield near, far, behind
        at = far


_Regulators = list[tuple[Owner, Pin, Pin]]
"""Regulators with the pin that takes and the pin that gives."""


def _regulators(
    owners: list[Owner], others: set[Owner], brain: Owner, written: WrittenNets
) -> tuple[_Regulators, _Regulators]:
    """Return the regulators ahead of the controller, and those that are written to feed something else.

    ``others`` are no regulators of their own.
    """
    found = [
        (owner, into, out)
        for owner in owners
        if owner.part.figure(Regulator) is not None and owner not in others
        if (into := owner.first("supply", "raw")) is not None and (out := owner.first("plus")) is not None
    ]
    aside = []
    for owner, into, out in found:
        net = written.of(owner.ref(out))
        if net is not None and all(ref.owner != brain.name for ref in net.joins):
            aside.append((owner, into, out))
    if len(aside) == len(found):  # then the one that gives the controller's volts feeds it as well
        controller = brain.part.figure(Controller)
        wanted = controller.logic_v if controller is not None else 0.0
        suited = [one for one in aside if abs(_given(one[0], brain) - wanted) <= NEAR * wanted]
        aside = [one for one in aside if one not in suited[:1]]
    return [one for one in found if one not in aside], aside


def _direct_rail(
    rails: list[tuple[Pin, float]], brain: Owner, at: str, volts: float, written: WrittenNets
) -> Pin | None:
    """Return the rail of the controller that the supply itself is, past the board's own regulator."""
    joined = next((pin for pin, _ in rails if written.together(at, brain.ref(pin))), None)
    raw = brain.first("raw")
    if joined is not None or (raw is not None and written.of(brain.ref(raw)) is not None):
        return joined
    return next((pin for pin, usual in rails if abs(volts - usual) <= NEAR * usual), None)


def _given(owner: Owner, brain: Owner) -> float:
    """Return the volts that a regulator gives: the controller's, where one that may serve gives these."""
    outs = [figure.out_v for part in owner.parts if (figure := part.figure(Regulator)) is not None]
    controller = brain.part.figure(Controller)
    wanted = controller.logic_v if controller is not None else outs[0]
    return next((volts for volts in outs if abs(volts - wanted) <= NEAR * wanted), outs[0])


def _lead_of(source: Owner, brain: Owner, leads: Sequence[Part]) -> UsualNet | None:
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


def _fed(owners: list[Owner], brain: Owner, bears: list[Owner], ahead_v: float) -> dict[PinRole, list[str]]:
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
