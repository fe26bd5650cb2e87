"""What a controller's pins give: each pin, the pins of one port together, and all of the chip."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from fitplan.checks.sources import BOARD
from fitplan.circuit.net_ends import ends_of
from fitplan.circuit.supply_tree import Supply
from fitplan.model.electrical import Controller
from fitplan.model.found import Finding
from fitplan.model.part import Part
from fitplan.model.train import Train
from fitplan.pins.matching import PinMatch

SUBJECT = "pins"
_FROM_THE_RAIL = "switch it with a transistor and feed it from the rail, or raise its series resistor"
_BY_TRANSISTOR = (
    "use one on a board with its own transistor (sounder-board), fed from the rail; or solder a resistor in "
    "its lead and write its figures 'series' in its part file"
)
_LESS = "feed lamps from the rail and switch them with transistors, or let them draw less"


@dataclass(frozen=True)
class PinDraw:
    """What hangs on one pin of a controller and draws its current from it (mA, everything at its peak)."""

    controller: str
    pin: str
    net: str
    owners: tuple[str, ...]
    peak_ma: float


def pin_draws(
    train: Train, chosen: Mapping[str, Part], supply: Supply, match: PinMatch
) -> tuple[PinDraw, ...]:
    """Return the pins that feed something, in the order of the nets; ``*`` stands for one not matched."""
    nets = {net.name: net for net in train.nets}
    found: dict[tuple[str, str, str], list[tuple[str, float]]] = {}
    for tree in supply.trees:
        for fed in tree.root.everything():
            for end in ends_of(train, chosen, nets[fed.signal]) if fed.signal else ():
                if end.part is None or end.part.figure(Controller) is None:
                    continue
                pin = end.pins[0].name if end.pins else match.pin(end.owner, fed.signal) or "*"
                key = (end.owner, pin, fed.signal)
                found.setdefault(key, []).append((fed.owner, fed.peak_ma))
    order = list(nets)
    rows = sorted(found.items(), key=lambda entry: order.index(entry[0][2]))
    return tuple(
        PinDraw(*key, tuple(owner for owner, _ in drawn), sum(current for _, current in drawn))
        for key, drawn in rows
    )


def current_faults(
    train: Train, chosen: Mapping[str, Part], supply: Supply, match: PinMatch
) -> Iterator[Finding]:
    """Yield pins, ports and chips that are asked for more than they give."""
    draws = pin_draws(train, chosen, supply, match)
    for draw in draws:
        figures = _figures(chosen, draw.controller)
        if draw.peak_ma > figures.pin_ma:
            sounding = any(chosen[owner].family == "sounder" for owner in draw.owners)
            several = len(draw.owners) > 1
            yield _too_much(
                f"{draw.controller} ({draw.net})",
                f"{' and '.join(draw.owners)} draw{'' if several else 's'} {draw.peak_ma:g} mA "
                f"{'together ' if several else ''}from a pin that gives {figures.pin_ma:g} mA",
                draw.peak_ma,
                figures.pin_ma,
                _BY_TRANSISTOR
                if sounding
                else "give each a net and a pin of its own, or switch them with a transistor"
                if several
                else _FROM_THE_RAIL,
            )
    for owner in dict.fromkeys(draw.controller for draw in draws):
        figures, mine = _figures(chosen, owner), [draw for draw in draws if draw.controller == owner]
        together = sum(draw.peak_ma for draw in mine)
        if figures.chip_ma and together > figures.chip_ma:
            yield _too_much(
                owner,
                f"the pins of {owner} are asked for {together:.0f} mA together; its chip gives "
                f"{figures.chip_ma:g} mA",
                together,
                figures.chip_ma,
                _LESS,
            )
        elif figures.port_ma:
            yield from _ports(chosen[owner], owner, figures, mine)


def _ports(part: Part, owner: str, figures: Controller, draws: list[PinDraw]) -> Iterator[Finding]:
    port_of = {pin.name: pin.port for pin in part.pins if pin.port}
    for port in dict.fromkeys(port_of.values()):
        mine = [draw for draw in draws if port_of.get(draw.pin) == port]
        together = sum(draw.peak_ma for draw in mine)
        if together > figures.port_ma:
            pins = ", ".join(draw.pin for draw in mine)
            yield _too_much(
                owner,
                f"{pins} of {owner} belong to one port and are asked for {together:.0f} mA together; it "
                f"gives {figures.port_ma:g} mA",
                together,
                figures.port_ma,
                f"write * for some of their pins, so that another port takes them; or {_LESS}",
            )


def _figures(chosen: Mapping[str, Part], owner: str) -> Controller:
    figures = chosen[owner].figure(Controller)
    assert figures is not None
    return figures


def _too_much(where: str, says: str, figure: float, limit: float, remedy: str) -> Finding:
    return Finding(SUBJECT, "stop", where, says, round(figure, 1), limit, "mA", remedy, BOARD)
